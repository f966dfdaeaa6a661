"""mixing/twice"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Fix,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.mixing import _sources

if TYPE_CHECKING:
    from prebind import AxisPath, Path
    from prebind.model import Mix

MIXED = ("elevon", "v-tail", "flaperon")


def _mix(source: str, to: int, percent: float) -> dict[str, object]:
    return {
        "name": "demo",
        "from": {"control": source},
        "to": to,
        "rate_percent": {"low": percent, "high": percent},
    }


@rule(
    "mixing/twice",
    word="warning",
    title="Transmitter and receiver both mix the same surfaces",
    each="axes",
    needs=("stabiliser",),
    safety=(
        "Mixed twice, one stick moves a surface too far and the other not at all, or one axis "
        "works backwards. Mix in one place only, and prove each stick and each tilt, propeller off."
    ),
    remedy=(
        "Take the mix out of the transmitter, so that each channel brings one plain command, and "
        "leave the mixing to the receiver; or switch the receiver's mixing off. Then, propeller "
        "off, prove command and correction of every surface by hand again."
    ),
    bench=(
        "Propeller off: move one stick at a time, and see in the transmitter's monitor that one "
        "channel alone follows."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/mixes", [_mix("pitch-stick", 2, 50)]),
            why="The transmitter mixes pitch into roll, and the receiver mixes both again.",
            at="/mixes/0",
            says=("channel 2", "roll-stick", "pitch-stick", "elevon"),
            start="wing",
        ),
        fails(
            replace("/channels/2/function", "elevon"),
            put("/channels/2/side", "left"),
            why="The channel was set up as an elevon at the transmitter.",
            at="/channels/2/function",
            says=("channel 3", "elevon"),
            start="wing",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 3, 5)]),
            why="A little elevator with throttle is no second mixing of the elevons.",
            start="wing",
        ),
        passes(
            put("/mixes", [_mix("roll-stick", 2, 10)]),
            why="The mix takes from the stick that commands roll anyway.",
            start="wing",
        ),
        passes(
            put("/mixes", [_mix("roll-stick", 4, 20)]),
            why="The receiver mixes nothing.",
            outcome="notApplicable",
        ),
    ],
)
def twice(axis: AxisPath, path: Path, settings: Settings) -> Answer:
    """A flying wing's elevons or a V-tail need two commands on each surface. That sum may be made
    in the transmitter or in the receiver. Made in both, the receiver takes the transmitter's sum
    for one plain command and adds the other once more: the stabiliser then reads pitch as roll.
    """
    stabiliser = path.setup.receiver and path.setup.receiver.stabiliser
    if not stabiliser or stabiliser.mixing == "none":
        return NOT_APPLICABLE
    channel, mixing = axis.channel, stabiliser.mixing
    evidence = {"axis": axis.axis, "channel": channel.number, "mixing": mixing}
    if channel.function in MIXED:
        return Fail(
            f"The receiver mixes ({mixing}) what channel {channel.number} brings as its "
            f"{axis.axis} command, but the transmitter makes that channel as {channel.function}.",
            at=f"{channel.at}/function",
            evidence=evidence,
        )
    sticks = _answered(axis, path)
    if len(sticks) < 2:
        return PASS
    mixes = [mix for mix in path.setup.mixes if mix.to == channel.number]
    second = [mix for mix in mixes if sticks.get(axis.axis) != _sources.control_of(mix, path)]
    return Fail(
        f"The receiver mixes ({mixing}) the {axis.axis} command of channel {channel.number}, but "
        f"that channel answers to {' and '.join(sticks.values())} already.",
        at=second[0].at if second else channel.at,
        evidence={**evidence, "sticks": list(sticks.values())},
        fix=_without(second),
    )


def _answered(axis: AxisPath, path: Path) -> dict[str, str]:
    """The sticks that the axis's channel answers to, by axis, of those that the receiver sums."""
    ports = {entry.port for entry in axis.entry.ports}
    summed = [a.axis for a in path.axes if ports & {entry.port for entry in a.entry.ports}]
    return {
        name: stick
        for name in summed
        for stick in path.sticks(name)
        if stick in axis.channel.controls and any(axis.channel.response(stick).signs)
    }


def _without(mixes: list[Mix]) -> Fix | None:
    """The mixes taken out, the last one first so that the places of the others hold."""
    patch = tuple({"op": "remove", "path": mix.at} for mix in reversed(mixes))
    return Fix("decide", patch) if patch else None
