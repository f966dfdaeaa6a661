"""The throttle stays where it was when the link is lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Open,
    Settings,
    fails,
    passes,
    remove,
    replace,
    rule,
)
from prebind_rules.failsafe._presets import instead, is_throttle
from prebind_rules.throttle._motors import motors_on

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import MotorPath, Path
    from prebind.model import FailsafeChannel
    from prebind.rule import Example

ENTRY = "/receiver/failsafe/channels/0"


def _examples() -> Iterable[Example]:
    def action(name: str) -> tuple[dict[str, object], ...]:
        return replace(f"{ENTRY}/action", name), remove(f"{ENTRY}/output_percent")

    yield fails(
        *action("hold"),
        why="The throttle holds the last value that was received.",
        at=f"{ENTRY}/action",
        says=["channel 1", "holds"],
    )
    yield fails(
        *action("no-pulses"),
        replace("/speed_controls/0/on_signal_loss", "holds"),
        why="The receiver falls silent, and this speed control runs on without pulses.",
        at=f"{ENTRY}/action",
        says=["channel 1", "no pulses", "port 1", "holds"],
    )
    yield fails(
        *action("no-pulses"),
        start="glow",
        why="A throttle servo without pulses stays where it stood.",
        at=f"{ENTRY}/action",
        says=["channel 1", "no pulses", "servo on port 1"],
    )
    yield passes(
        *action("no-pulses"),
        why="The receiver falls silent, and the speed control stops the motor.",
    )
    yield passes(
        replace("/receiver/failsafe/channels/1/action", "hold"),
        remove("/receiver/failsafe/channels/1/output_percent"),
        why="The ailerons may hold: no motor depends on them.",
    )
    yield passes(
        *action("no-pulses"),
        replace("/speed_controls/0/on_signal_loss", "unknown"),
        why="What the speed control does without pulses is not known.",
        outcome="open",
    )


@rule(
    "failsafe/throttle-holds",
    word="danger",
    title="The throttle stays where it was when the link is lost",
    each="failsafe",
    needs=("failsafe",),
    safety="A motor at power stays at power when the link is lost: the model flies on, or its "
    "propeller cuts whoever stands by it. Take the propeller off before you set this right.",
    remedy="With the propeller off, set the throttle's failsafe to a preset that stops the motor, "
    "then switch the radio off and see that it does.",
    bench="Propeller off, model held down: run the motor slowly, switch the radio off, and see "
    "that it stops.",
    source="CAP 658 (throttle closed or idle on loss); FAI Sporting Code, Section 4, F3 Aerobatics "
    "(propulsion shut off or fully idle at the moment of signal failure)",
    examples=_examples,
)
def throttle_holds(entry: FailsafeChannel, path: Path, settings: Settings) -> Answer:
    """Hold is a good failsafe for nothing that drives a propeller.

    A receiver that sends no pulses is as bad where the speed control then keeps its last value.  A
    throttle servo has no spring: it stays where it stood.
    """
    if not is_throttle(path, entry.channel):
        return NOT_APPLICABLE
    if entry.action == "hold":
        return _fail(path, entry, "holds its last value: a motor at power stays at power")
    if entry.action == "preset":
        return PASS
    motors = motors_on(path, entry.channel)
    for motor in motors:
        if _keeps(motor):
            return _fail(path, entry, f"sends no pulses, and the {_what(motor)}")
    unknown = [motor for motor in motors if motor.failsafe is None]
    if unknown:
        return Open(
            "What the speed control does without pulses is not recorded.",
            tuple(f"{motor.at}/on_signal_loss" for motor in unknown),
        )
    if not motors:
        return Open("What this throttle drives is not recorded.", ("/speed_controls", "/engine"))
    return PASS


def _keeps(motor: MotorPath) -> bool:
    return motor.kind == "engine" or getattr(motor.entry, "on_signal_loss", None) == "holds"


def _what(motor: MotorPath) -> str:
    if motor.kind == "engine":
        return f"engine's servo on port {motor.entry.port} stays where it stood"
    return f"speed control on port {motor.entry.port} holds its last value"


def _fail(path: Path, entry: FailsafeChannel, what: str) -> Fail:
    return Fail(
        f"When the link is lost, channel {entry.channel} {what}.",
        at=f"{entry.at}/action",
        evidence={"channel": entry.channel, "action": entry.action},
        fix=instead(path, entry),
    )
