"""Sub-trim or trim moves the centre of a stabilised axis."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Fix,
    Setting,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import AxisPath, Path
    from prebind.model import Channel, Input, Trim
    from prebind.rule import Example

_NO_TARGET = (
    replace("/receiver/stabiliser/selectors/0/states/0/behaviour", "rate-damping"),
    replace("/receiver/stabiliser/selectors/0/states/1/behaviour", "rate-damping"),
)


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/2/subtrim_percent", 3),
        why="In a self-levelling mode 3 % of sub-trim is a command to climb.",
        at="/channels/2/subtrim_percent",
        says=("pitch", "3 %"),
    )
    yield fails(
        put("/channels/1/trim_percent", -6),
        *_NO_TARGET,
        why="Without any mode that holds an angle, more than 5 % of trim still pulls on the gyro.",
        at="/channels/1/trim_percent",
        says=("roll", "6 %", "5 %"),
    )
    yield fails(
        put("/receiver/stabiliser/expects", {"yaw": {"centre_us": 1520}}),
        why="A stabiliser that wants 1520 µs in the middle gets 1500 µs.",
        at="/channels/3",
        says=("1520", "1500"),
    )
    yield passes(
        put("/channels/1/trim_percent", -5),
        *_NO_TARGET,
        why="5 % of trim, and no mode that would take it for an angle.",
    )
    yield passes(
        put("/receiver/stabiliser/expects", {"yaw": {"centre_us": 1520}}),
        put("/channels/3/subtrim_percent", 5),
        why="Sub-trim brings the centre to the 1520 µs that this stabiliser asks for.",
    )


@rule(
    "travel/stabilised-axis-centre",
    word="caution",
    title="Sub-trim or trim moves the centre of a stabilised axis",
    each="axes",
    needs=("stabiliser",),
    safety=(
        "Where the stabiliser holds an angle, a centre that is off is a command: the model banks, "
        "climbs or dives with the sticks let go. Trim the surface on its linkage or at the "
        "receiver's output instead."
    ),
    remedy=(
        "Set sub-trim and trim of this channel back to 0 at the transmitter (or to the centre that "
        "the stabiliser's maker names), and bring the surface to neutral on the linkage or at the "
        "receiver's output."
    ),
    bench=(
        "Propeller off, sticks let go: read the channel's pulse and compare it with the centre "
        "that the stabiliser's maker names."
    ),
    source="common practice, no source",
    settings={
        "percent": Setting(
            5.0, "sub-trim or trim allowed where no mode holds an angle, in %", least=0
        ),
        "percent_with_target": Setting(
            0.0, "the same where a mode that holds an angle can be had", least=0
        ),
        "centre_us": Setting(4.0, "how far the centre may lie from `expects`, in µs", least=0),
    },
    examples=_examples,
)
def stabilised_axis_centre(axis: AxisPath, path: Path, settings: Settings) -> Answer:
    """The stabiliser takes the middle of this channel for “no command”.

    A damping gyro bears a little trim.  A mode with a target flies the offset as an angle, and goes
    on doing so: what looks trimmed in one mode is out of trim in the other.
    """
    if axis.expected.centre_us is not None:
        return _judge_centre(axis, path, axis.expected.centre_us, settings["centre_us"])
    target = axis.target_reachable
    allowed = settings["percent" if target is None else "percent_with_target"]
    beyond = next((o for o in _offsets(axis, path) if abs(o[1]) > allowed), None)
    if beyond is None:
        return PASS
    at, percent = beyond
    name = "sub-trim" if at.endswith("/subtrim_percent") else "trim"
    excuse = (
        f"more than the {allowed:g} % that a damping stabiliser bears"
        if target is None
        else f"which the stabiliser takes for a command in the state “{target[1]}”"
    )
    return Fail(
        f"Channel {axis.channel.number}, which brings {axis.axis} to the stabiliser, has "
        f"{percent:g} % of {name}, {excuse}.",
        at=at,
        evidence={
            "percent": percent,
            "allowed_percent": allowed,
            **({"state": target[1], "controls": dict(target[2])} if target else {}),
        },
        fix=Fix("decide", (replace(at, 0),)),
    )


def _offsets(axis: AxisPath, path: Path) -> Iterator[tuple[str, float]]:
    """Each sub-trim and trim on the axis's channel, and where it is written."""
    entry = axis.channel.entry
    yield f"{entry.at}/subtrim_percent", entry.subtrim_percent
    for trimmed in _trimmed(axis, path):
        for trim in trimmed.trim_percent:
            yield f"{trimmed.at}/trim_percent", trim.percent


def _trimmed(axis: AxisPath, path: Path) -> list[Channel | Input]:
    entry = axis.channel.entry
    return [entry, *(i for i in path.setup.inputs if i.id == entry.control)]


def _held(trims: tuple[Trim, ...]) -> list[float]:
    """The trims that can hold: 0 where none does."""
    percents = [trim.percent for trim in trims]
    return percents if any(not trim.when for trim in trims) else [*percents, 0.0]


def _judge_centre(axis: AxisPath, path: Path, wanted_us: float, allowed_us: float) -> Answer:
    channel = axis.channel
    trims = product(*(_held(trimmed.trim_percent) for trimmed in _trimmed(axis, path)))
    centres = (channel.pulse(sum(percents)) for percents in trims)
    centre = max(centres, key=lambda us: abs(us - wanted_us))
    if abs(centre - wanted_us) <= allowed_us:
        return PASS
    return Fail(
        f"The centre of channel {channel.number}, which brings {axis.axis} to the stabiliser, is "
        f"at {round(centre, 1):g} µs, where the stabiliser expects {wanted_us:g} µs.",
        at=next((at for at, percent in _offsets(axis, path) if percent), channel.at),
        evidence={"centre_us": round(centre, 1), "expected_centre_us": wanted_us},
    )
