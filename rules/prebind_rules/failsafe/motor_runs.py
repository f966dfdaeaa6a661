"""A motor runs when the link is lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Cause,
    Fail,
    Review,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.failsafe._presets import instead
from prebind_rules.throttle._motors import at_preset, worst

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import FailsafeChannel
    from prebind.rule import Example

PRESET = "/receiver/failsafe/channels/0/output_percent"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(PRESET, -60),
        why="The failsafe was stored while the stick stood above its low end.",
        at=PRESET,
        says=["channel 1", "-60 %", "1260 µs", "110 µs above the 1150 µs"],
    )
    yield fails(
        put("/receiver/outputs/0/reversed", True),
        why="The output was reversed after the failsafe had been stored.",
        at=PRESET,
        says=["-100 %", "1900 µs", "750 µs above the 1150 µs"],
    )
    yield fails(
        replace(PRESET, -80),
        start="glow",
        why="The engine goes on running faster than its idle.",
        at=PRESET,
        says=["1180 µs", "20 µs above the 1160 µs up to which the engine idles"],
    )
    yield passes(replace(PRESET, -87.5), why="The highest pulse at which the motor is stopped.")
    yield passes(replace(PRESET, -85), start="glow", why="The engine idles, at its upper end.")
    yield passes(
        replace(PRESET, -60),
        replace("/receiver/failsafe/channels/5/output_percent", 100),
        why="With the link lost the stabiliser is to bring the model home, under power.",
        outcome="review",
    )


@rule(
    "failsafe/motor-runs",
    word="danger",
    title="A motor runs when the link is lost",
    each="failsafe",
    needs=("failsafe", "motors"),
    safety="Switching the radio off, or losing the link on the ground, starts the propeller beside "
    "whoever is there; in the air the model flies on under power. Take the propeller off before "
    "you set this right.",
    remedy="With the propeller off, store a failsafe that stops the motor (an engine: lets it idle "
    "or stops it), then switch the radio off and see that it does.",
    bench="Propeller off, model held down: run the motor slowly, switch the radio off, and see "
    "that it stops.",
    source="CAP 658 (throttle closed or idle on loss); FAI Sporting Code, Section 4, F3 Aerobatics "
    "(propulsion shut off or fully idle at the moment of signal failure)",
    examples=_examples,
)
def motor_runs(entry: FailsafeChannel, path: Path, settings: Settings) -> Answer:
    """A model whose link is lost must come down near where it was.

    With its motor running it flies on, or injures the person who has just switched off the radio.
    Where the stabiliser then takes over and brings the model back, a person must judge.
    """
    pulses = at_preset(path, entry)
    if not pulses:
        return NOT_APPLICABLE
    found = worst(p for p in pulses if p.state not in p.motor.safe_low)
    if found is None:
        return PASS
    at = f"{entry.at}/output_percent"
    message = (
        f"When the link is lost, channel {entry.channel} goes to {entry.output_percent:g} % and "
        f"{found.port} gets {round(found.us, 1):g} µs, {found.against(may_idle=True)}"
    )
    evidence = found.evidence() | {"percent": entry.output_percent}
    if _recovers(path):
        return Review(
            f"{message}, while the stabiliser recovers the model.",
            at=at,
            evidence=evidence,
            remedy="Decide whether the motor may run while the stabiliser brings the model back, "
            "and prove what it does with the propeller off.",
        )
    port = found.motor.port
    return Fail(
        f"{message}.",
        at=at,
        evidence=evidence,
        fix=instead(path, entry),
        because=Cause("reversal/throttle", f"{port.at}/reversed") if port.entry.reversed else None,
    )


def _recovers(path: Path) -> bool:
    """Whether a selector's failsafe state, known for certain, is one that recovers the model."""
    for selector in path.selectors:
        entry = path.failsafe_entry(selector.entry.channel)
        chosen = selector.entry.purpose in ("flight-mode", "recovery")
        if not chosen or entry is None or entry.action != "preset":
            continue
        states = selector.failsafe.states or ()
        if len(states) == 1 and selector.state(states[0]).behaviour == "recovery":
            return True
    return False
