"""A motor is stopped, but by very little."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.model import FailsafeChannel, Override
from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Place,
    Setting,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.throttle._as_if import blame
from prebind_rules.throttle._low import running_low
from prebind_rules.throttle._motors import at_preset, is_cut, motors_on, pulse, stands_for

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import MotorPath, Path
    from prebind.rule import Example
    from prebind_rules.throttle._motors import Pulse


def _stops(path: Path) -> Iterable[Place]:
    """Every way to stop a motor: the stick, each cut, each preset of the failsafe."""
    for motor in path.motors:
        yield Place(motor.at, motor)
    for override in path.setup.overrides:
        if is_cut(override):
            yield Place(f"{override.at}/demand_percent", override)
    receiver = path.setup.receiver
    for entry in receiver.failsafe.channels if receiver and receiver.failsafe else ():
        if entry.action == "preset":
            yield Place(f"{entry.at}/output_percent", entry)


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/overrides/0/demand_percent", -88),
        why="The cut stops the motor by 2 µs.",
        at="/overrides/0/demand_percent",
        says=["throttle cut", "port 1", "1148 µs", "only 2 µs"],
    )
    yield fails(
        put("/channels/0/trim_percent", 11),
        why="The trim is up, and low stick stops the motor by a little.",
        at="/channels/0/trim_percent",
        says=["throttle-stick low", "port 1", "1143.9 µs", "only 6.1 µs"],
    )
    yield fails(
        replace("/receiver/failsafe/channels/0/output_percent", -88),
        why="The failsafe's preset stops the motor by 2 µs.",
        at="/receiver/failsafe/channels/0/output_percent",
        says=["link lost", "1148 µs", "only 2 µs"],
    )
    yield passes(
        replace("/speed_controls/0/stop_below_us", 1110),
        why="Low stick and the cut give 1099.9 µs, which is just enough below.",
    )
    yield passes(
        replace("/receiver/failsafe/channels/0/output_percent", -90),
        why="The failsafe's preset stops the motor by exactly 10 µs.",
    )


@rule(
    "throttle/thin-margin",
    word="caution",
    title="A motor is stopped, but by very little",
    each=_stops,
    needs=("motors",),
    safety="A speed control's stopping point moves a little with its calibration, its heat and its "
    "supply, and a motor at the edge may twitch or start. Keep the propeller off until there is "
    "room.",
    remedy="Lower the throttle's end, or calibrate the speed control anew, so that the motor is "
    "stopped with room to spare.",
    bench="Propeller off: raise the throttle step by step from its low end, and read in the "
    "channel display where the motor starts.",
    source="common practice, no source",
    settings={
        "margin_us": Setting(10, "least distance to the pulse at which the motor runs", least=0)
    },
    examples=_examples,
)
def thin_margin(place: Place, path: Path, settings: Settings) -> Answer:
    """The pulse at which a motor starts is no sharp line.

    Low stick, the cut and the failsafe should each lie clearly below it.
    """
    least = settings["margin_us"]
    entry = place.entry
    if isinstance(entry, Override):
        under = (pulse(motor, motor.under(entry)) for motor in path.motors)
        return _fail(f"With “{entry.name}” on", _thinnest(under, least), place.at)
    if isinstance(entry, FailsafeChannel):
        return _fail("With the link lost", _thinnest(at_preset(path, entry), least), place.at)
    return _with_stick_low(entry, path, least)


def _with_stick_low(motor: MotorPath, path: Path, least: float) -> Answer:
    if not stands_for(motor, path):
        return NOT_APPLICABLE
    channel, stick = motor.channel, path.throttle_control

    def thin(other: Path) -> Pulse | None:
        motors = motors_on(other, channel.number)
        return _thinnest((pulse(motor, motor.at_low) for motor in motors), least)

    def mended(other: Path) -> bool:
        return thin(other) is None and running_low(other, channel.number) is None

    found = thin(path)
    if found is None:
        return PASS
    return _fail(f"With {stick} low{found.where(stick)}", found, blame(path, channel, mended))


def _thinnest(pulses: Iterable[Pulse | None], least: float) -> Pulse | None:
    """The pulse that stops a motor by the least, where that is too little."""
    thin = (p for p in pulses if p and p.state == "stopped" and p.margin_us < least)
    return min(thin, key=lambda p: p.margin_us, default=None)


def _fail(how: str, found: Pulse | None, at: str) -> Answer:
    if found is None:
        return PASS
    return Fail(
        f"{how}, {found.port} gets {round(found.us, 1):g} µs: the {found.motor.kind} is stopped, "
        f"but by only {round(found.margin_us, 1):g} µs.",
        at=at,
        evidence=found.evidence(),
    )
