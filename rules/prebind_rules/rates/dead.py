"""In some position of the switches a primary axis does not move at all."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.model import LowHigh
from prebind.rule import (
    AXES_OF,
    NOT_APPLICABLE,
    PASS,
    PRIMARY,
    Answer,
    Fail,
    Place,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
    spoken,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import ChannelPath, Path
    from prebind.model import Channel, Input
    from prebind.rule import Controls, Example

_LEAST_US = 1e-6  # less is rounding


def _axes(path: Path) -> Iterator[Place]:
    """Roll, pitch and yaw, each with the channels of primary functions that turn the model so."""
    primary = [c for c in path.channels if c.function in PRIMARY]
    for axis in ("roll", "pitch", "yaw"):
        channels = [c for c in primary if axis in AXES_OF.get(c.function, ())]
        if channels:
            yield Place(channels[0].at, (axis, channels))


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/2/rates/1/rate_percent", 0),
        why="A rate left at 0: at the flick of a switch the elevator is gone.",
        at="/channels/2/rates/1/rate_percent",
        says=("pitch", "rate-switch at soft"),
    )
    yield fails(
        replace("/inputs/2/rates/0/rate_percent", 0),
        start="glider",
        why="Both halves of the tail lose their yaw.",
        at="/inputs/2/rates/0/rate_percent",
        says=("yaw",),
    )
    yield passes(
        replace("/channels/2/rates/1/rate_percent", 0),
        remove("/channels/2/rates/0/when"),
        why="The rate of 0 never holds: the one before it always does.",
    )
    yield passes(
        put("/channels/1/rates", [{"rate_percent": 0}]),
        put("/channels/1/control", "roll-stick"),
        start="glider",
        why="One aileron stands still, but the other still rolls the model.",
    )


@rule(
    "rates/dead",
    word="warning",
    title="In some position of the switches a primary axis does not move",
    each=_axes,
    safety=(
        "The stick moves and the model does not answer: at the flick of a switch it is out of "
        "control. Try every position of every switch, with the propeller off, before you fly."
    ),
    remedy="Give the rate, curve, travel or mix that is 0 its value, or take the position away.",
    bench=(
        "Propeller off. Put the switches in the position named and move the stick from end to end: "
        "the surface must follow."
    ),
    source="common practice, no source",
    examples=_examples,
)
def dead(place: Place, path: Path, settings: Settings) -> Answer:
    """A rate of 0 is easily left behind when a switch gets its second position.

    An axis is dead where none of its surfaces answers to the stick; overrides do not count.
    """
    axis, channels = place.entry
    driven = [_Driven(channel, _stick(channel, axis, path)) for channel in channels]
    responses = [each.channel.response(each.stick) for each in driven]
    if any(response.sure_least for response in responses):
        return PASS
    answers = [response.least for response in responses]
    if not any(answers):
        return NOT_APPLICABLE
    still = [least.controls for least in answers if least and not least.percent]
    if len(still) < len(channels):
        return PASS
    together = {control: at for where in reversed(still) for control, at in where.items()}
    for where in (together, *still):
        if not any(_moves(each, where, path) for each in driven):
            return _fail(axis, driven, where, path)
    return PASS


class _Driven(NamedTuple):
    channel: ChannelPath
    stick: str


def _stick(channel: ChannelPath, axis: str, path: Path) -> str:
    """The axis's stick that reaches the channel; a channel of one axis may have another control."""
    reaching = (stick for stick in path.sticks(axis) if stick in channel.controls)
    own = channel.control if len(AXES_OF[channel.function]) == 1 else None
    return next(reaching, None) or own or path.stick(axis)


def _moves(driven: _Driven, where: Controls, path: Path) -> bool:
    fix = {**path.rest(), **where}
    fix.pop(driven.stick)
    reach = driven.channel.reach_where(fix, overrides=False)
    return reach is None or reach.high.us - reach.low.us > _LEAST_US


def _fail(axis: str, driven: list[_Driven], where: Controls, path: Path) -> Fail:
    first = driven[0]
    switches = {c: at for c, at in where.items() if isinstance(at, str)}
    what = f"With {spoken(switches)} {first.stick}" if switches else first.stick
    return Fail(
        f"{what} moves nothing: {axis} is dead on "
        + ", ".join(f"channel {each.channel.number}" for each in driven)
        + ".",
        at=_cause(first.channel, first.stick, path),
        evidence={"axis": axis, "stick": first.stick, "controls": dict(where)},
    )


def _cause(channel: ChannelPath, stick: str, path: Path) -> str:
    """The setting that is 0: a rate, a curve, the travel, or a mix; else the channel."""
    entry, setup = channel.entry, path.setup
    fed = {entry.control} | {mix.source.input for mix in channel.mixes}
    inputs = [i for i in setup.inputs if i.id in fed and i.control == stick]
    shapes: list[Channel | Input] = [entry, *inputs]
    for shaped in shapes:
        for k, rate in enumerate(shaped.rates or ()):
            if not rate.rate_percent:
                return f"{shaped.at}/rates/{k}/rate_percent"
        for k, curve in enumerate(shaped.curves or ()):
            if len({y for _, y in curve.points}) == 1:
                return f"{shaped.at}/curves/{k}/points"
    if entry.travel_percent == LowHigh(0, 0):
        return f"{channel.at}/travel_percent"
    still = (m for m in channel.mixes if m.rate_percent == LowHigh(0, 0))
    return next((f"{mix.at}/rate_percent" for mix in still), channel.at)
