"""Flap, brake, gear or tow release goes where its control never puts it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Settings,
    fails,
    passes,
    put,
    rule,
)
from prebind_rules.failsafe._presets import ENTRIES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import FailsafeChannel
    from prebind.rule import Example, Operation

CONFIGURATION = frozenset({"flap", "airbrake", "gear", "tow-release"})


def _examples() -> Iterable[Example]:
    def with_preset(function: str, percent: float, kind: str = "switch") -> tuple[Operation, ...]:
        control = {"kind": kind} | ({"positions": ["in", "out"]} if kind == "switch" else {})
        channel = {"channel": 7, "function": function, "control": "lever"}
        preset = {"channel": 7, "action": "preset", "output_percent": percent}
        return (
            put("/transmitter/controls/lever", control),
            put("/channels/-", channel),
            put(f"{ENTRIES}/-", preset),
        )

    at = f"{ENTRIES}/6/output_percent"
    yield fails(
        *with_preset("gear", 0),
        why="The undercarriage stops halfway.",
        at=at,
        says=["gear", "channel 7", "0 %"],
    )
    yield fails(
        *with_preset("flap", -120, "slider"),
        why="The flaps go further than their slider ever moves them.",
        at=at,
        says=["flap", "channel 7", "-120 %", "79.9 µs"],
    )
    yield passes(
        *with_preset("gear", 100),
        why="The undercarriage goes down, as the switch puts it.",
    )
    yield passes(
        *with_preset("flap", 37, "slider"),
        why="A place between, which the slider reaches too.",
    )


@rule(
    "failsafe/configuration-jumps",
    word="caution",
    title="Flap, brake, gear or tow release goes where its control never puts it",
    each="failsafe",
    needs=("failsafe",),
    safety="The model changes its trim or its drag in a way that nobody has flown, just when "
    "nobody can correct it. Set the failsafe to a place that has been flown.",
    remedy="Set this channel's failsafe to the value of one of its control's positions.",
    bench="Propeller off: switch the radio off and compare where the surface goes with the places "
    "that its control gives.",
    source="common practice, no source",
    examples=_examples,
)
def configuration_jumps(entry: FailsafeChannel, path: Path, settings: Settings) -> Answer:
    """Flaps, brakes and undercarriage have places that are known from flying.

    A failsafe value that no position of the control gives puts them somewhere else, or drives a
    mechanism against its stop.
    """
    channel = path.channel(entry.channel)
    if channel.function not in CONFIGURATION or entry.action != "preset":
        return NOT_APPLICABLE
    us, near = path.preset_us(entry), path.tolerance_us
    at_rest = channel.stages(path.rest()).us  # where most are put: what else there is costs more
    if abs(us - at_rest) <= near or channel.reach.met(us - near, us + near) is not None:
        return PASS
    away = min(min(abs(us - piece.low), abs(us - piece.high)) for piece in channel.reach.pieces)
    return Fail(
        f"When the link is lost, the {channel.function} on channel {entry.channel} goes to "
        f"{entry.output_percent:g} %, {round(away, 1):g} µs from anything that its control gives.",
        at=f"{entry.at}/output_percent",
        evidence={"percent": entry.output_percent, "us": us, "away_us": round(away, 1)},
    )
