"""Part of a control's movement does nothing, because the demand reaches the limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Setting,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.travel._scales import channel_scales, first_beyond_full

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from prebind import ChannelPath, Path
    from prebind.rule import Example, Position

_LEAST = 0.001  # percent: below it, rounding


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/3/travel_percent", {"low": 100, "high": 160}),
        why="160 % of travel against a limit of 150 %: the last of the right rudder is lost.",
        at="/channels/3/travel_percent",
        says=("channel 4", "yaw-stick", "93.8 %", "10 %", "150 %"),
        word="caution",
    )
    yield fails(
        replace("/mixes/0/rate_percent", {"low": 100, "high": 100}),
        replace("/mixes/2/rate_percent", {"low": -100, "high": -100}),
        start="glider",
        why="Full pitch and full yaw together ask a tail surface for over 200 %.",
        at="/mixes/0/rate_percent",
        says=("channel 4", "together", "69 %"),
        word="notice",
    )
    yield fails(
        replace("/transmitter/controls/cut-switch/positions", ["cut", "run"]),
        put("/channels/0/travel_percent", {"low": 100, "high": 160}),
        why="While the switch rests, the throttle is cut: it is judged where it runs.",
        at="/channels/0/travel_percent",
        says=("channel 1", "throttle-stick", "93.8 %"),
        word="caution",
    )
    yield passes(
        put("/channels/3/travel_percent", {"low": 100, "high": 150}),
        why="150 % is just the limit.",
    )
    yield passes(
        replace("/mixes/0/rate_percent", {"low": 80, "high": 80}),
        replace("/mixes/2/rate_percent", {"low": -75, "high": -75}),
        start="glider",
        why="Pitch, yaw and roll together lose 23.2 %, and only in the corner of all sticks.",
    )


@rule(
    "travel/clipped",
    word="caution",
    title="Part of a control's movement does nothing",
    each="channels",
    safety=(
        "Near the end of the stick the model stops answering, and a pilot who needs the last of "
        "it, in a stall or a gust, has none left. Reduce travel, rates or mixes until the whole "
        "movement counts."
    ),
    remedy=(
        "Reduce the travel, rate, sub-trim or mix that drives the channel into the limit, and set "
        "the surface's throw on the linkage."
    ),
    bench=(
        "Propeller off. Move the control slowly from end to end: the surface must follow until "
        "the very end."
    ),
    source="common practice, no source",
    settings={
        "several_lost_percent": Setting(
            25.0, "what several controls together may lose at the limit, in % of output", least=0
        )
    },
    examples=_examples,
)
def clipped(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """A radio cuts off what goes beyond its limit, and does not say so.

    Then the control's last part is dead, and a mix that was meant to be there in full is not.
    That the corners of several sticks meet the limit is usual, as long as little is lost.
    """
    sticks = [c for c in channel.controls if path.control(c).continuous]
    if not sticks:
        return NOT_APPLICABLE
    if channel.reach.cut.percent <= _LEAST or channel.free is None:
        return PASS
    alone = [fail for control in sticks if (fail := _judge_alone(channel, control, path))]
    if alone:
        return max(alone, key=lambda fail: float(fail.evidence["lost_percent"]))
    cut = channel.free.cut
    if cut.percent <= settings["several_lost_percent"]:
        return PASS
    return Fail(
        f"Several controls together ask channel {channel.number} for "
        f"{cut.percent:.3g} % more than the limit of {_limit(path):g} %, and that is lost.",
        at=first_beyond_full(channel_scales(channel, path)) or _first_mix(channel) or channel.at,
        word="notice",
        evidence={
            "lost_percent": round(cut.percent, 1),
            "limit_percent": _limit(path),
            "controls": dict(cut.controls),
        },
    )


def _judge_alone(channel: ChannelPath, control: str, path: Path) -> Fail | None:
    # An override that holds while all rests is let go, or the control would not be judged at all.
    asked = {name for it in channel.overrides for name in path.depends(it.when)}
    rest = path.rest(control, *(name for name in asked if not path.control(name).continuous))
    reach = channel.reach_where(fix=rest, overrides=False)
    if reach is None or reach.cut.percent <= _LEAST:
        return None
    lost = reach.cut.percent
    start = _begins(channel, control, {**rest, **reach.cut.controls}, path)
    beyond = first_beyond_full(channel_scales(channel, path, control))
    return Fail(
        f"From {start:.3g} % of {control} on, channel {channel.number} does not move any more: "
        f"{lost:.3g} % is asked for beyond the limit of {_limit(path):g} %, and lost.",
        at=beyond or _offset(channel) or _first_mix(channel) or channel.at,
        evidence={
            "control": control,
            "from_percent": round(start, 1),
            "lost_percent": round(lost, 1),
            "limit_percent": _limit(path),
            "controls": dict(reach.cut.controls),
        },
    )


def _begins(channel: ChannelPath, control: str, worst: Mapping[str, Position], path: Path) -> float:
    """Where the control meets the limit, on its way from rest to the worst end, by bisection."""
    free, lost = float(path.rest()[control]), float(worst[control])
    while abs(lost - free) > 0.01:
        middle = (free + lost) / 2
        at = path.situation({**worst, control: middle})
        if at.channels[channel.number].clipped_percent > _LEAST:
            lost = middle
        else:
            free = middle
    return lost


def _limit(path: Path) -> float:
    return path.setup.transmitter.output.limit_percent


def _offset(channel: ChannelPath) -> str | None:
    return f"{channel.at}/subtrim_percent" if channel.entry.subtrim_percent else None


def _first_mix(channel: ChannelPath) -> str | None:
    return next((f"{mix.at}/rate_percent" for mix in channel.mixes), None)
