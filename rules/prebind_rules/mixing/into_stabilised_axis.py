"""mixing/into-stabilised-axis"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Fix, Settings, fails, passes, put, replace, rule
from prebind_rules.mixing import _sources

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind import AxisPath, Path
    from prebind.model import Mix


def _mix(source: dict[str, object], to: int, percent: float) -> dict[str, object]:
    return {
        "name": "demo",
        "from": source,
        "to": to,
        "rate_percent": {"low": percent, "high": percent},
    }


@rule(
    "mixing/into-stabilised-axis",
    word="caution",
    title="A mix reaches the stabiliser as if it were the pilot's command",
    each="mixes",
    needs=("stabiliser",),
    safety=(
        "In a mode that levels the model, what the mix adds becomes a bank or a pitch attitude "
        "that nobody commands and the stabiliser holds. Take the mix out, or prove at height, with "
        "room to recover, what the model does with it in each mode."
    ),
    remedy=(
        "Take the mix out of the stabilised axis: use the receiver's own mixing, or trim the model "
        "so that it needs none."
    ),
    bench=(
        "Propeller off, in each mode: move the mix's source alone, and see which surfaces follow "
        "and whether they return."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/mixes", [_mix({"control": "throttle-stick"}, 3, 8)]),
            why="Down elevator with throttle: in a levelling mode it is a wanted nose attitude.",
            at="/mixes/0",
            says=("throttle-stick", "8 %", "channel 3", "pitch", "level"),
            word="caution",
        ),
        fails(
            put("/mixes", [_mix({"channel": 2}, 4, 20)]),
            replace("/receiver/stabiliser/selectors/0/states/0/behaviour", "off"),
            replace("/receiver/stabiliser/selectors/0/states/1/behaviour", "rate-damping"),
            why="Rudder with aileron, and no mode that drives to a target.",
            at="/mixes/0",
            says=("channel 2 (aileron)", "20 %", "yaw"),
            word="notice",
        ),
        passes(
            put("/mixes", [_mix({"control": "roll-stick"}, 2, 10)]),
            why="The mix takes from the stick that commands the axis anyway.",
        ),
        passes(
            put("/mixes", [_mix({"control": "throttle-stick"}, 3, 0)]),
            why="A mix with a rate of 0 adds nothing.",
        ),
        passes(
            put("/mixes", [_mix({"control": "throttle-stick"}, 3, 8)]),
            why="Without a stabiliser a mix is only a mix.",
            start="plain",
            outcome="notApplicable",
        ),
    ],
)
def into_stabilised_axis(mix: Mix, path: Path, settings: Settings) -> Answer:
    """The stabiliser cannot tell the pilot's stick from what a mix adds to the same channel. While
    it only damps, the mix works as it would without one, against some damping. Where it levels or
    holds an attitude, the addition shifts the attitude that it drives to, for as long as the mix's
    source stays where it is.
    """
    most = _sources.most_percent(mix)
    if not most:
        return PASS
    source = _sources.control_of(mix, path)
    fed = [axis for axis in path.axes if axis.entry.channel == mix.to]
    fed = [axis for axis in fed if source not in set(_own(axis, path))]
    if not fed:
        return PASS
    target = fed[0].target_reachable
    modes = any(selector.entry.purpose == "flight-mode" for selector in path.selectors)
    where = f", in state {target[1]} as an attitude to hold" if target else ""
    return Fail(
        f"The mix “{mix.name}” adds up to {most:g} % of {_sources.name_of(mix, path)} to channel "
        f"{mix.to}, which the stabiliser reads as the pilot's {fed[0].axis} command{where}.",
        evidence={"mix": mix.name, "channel": mix.to, "axis": fed[0].axis, "percent": most},
        word="notice" if modes and target is None else None,
        fix=Fix("decide", ({"op": "remove", "path": mix.at},)),
    )


def _own(axis: AxisPath, path: Path) -> Iterator[str | None]:
    """The controls by which the pilot commands the axis."""
    yield from path.sticks(axis.axis)
    yield axis.channel.control
