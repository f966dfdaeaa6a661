"""reversal/throttle"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import NOT_APPLICABLE, PASS, Answer, Fail, Fix, Settings, fails, passes, put, rule

if TYPE_CHECKING:
    from prebind import MotorPath, Path


@rule(
    "reversal/throttle",
    word="danger",
    title="The throttle works backwards",
    each="motors",
    needs=("motors",),
    safety=(
        "With the stick low, where everybody takes the motor for stopped, it runs at full power, "
        "and cuts whoever reaches into the propeller. Take the propeller off before the battery is "
        "connected, until the throttle is proven."
    ),
    remedy=(
        "Propeller off. Turn the throttle round where it is reversed, at the transmitter or at the "
        "receiver's output; then set failsafe and throttle cut anew, bind again where failsafe is "
        "stored at bind, and prove low stick, cut and failsafe before the propeller goes back on."
    ),
    bench=(
        "Propeller off: read the channel's value in the transmitter's monitor with the stick low, "
        "then connect the battery and see whether the motor stands still."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/channels/0/reversed", True),
            why="The throttle channel was reversed.",
            at="/channels/0/reversed",
            says=("port 1", "1900 µs", "at full power", "1100 µs", "stopped"),
        ),
        fails(
            put("/receiver/outputs/0/reversed", True),
            why="The output that carries the speed control was reversed.",
            at="/receiver/outputs/0/reversed",
            says=("port 1", "1900 µs", "at full power", "1100 µs", "stopped"),
            start="plain",
        ),
        fails(
            put("/transmitter/output/native", {"throttle": -1}),
            why="The radio sends its throttle the other way round, and nothing makes up for it.",
            at="/channels/0",
            says=("port 1",),
        ),
        passes(
            put("/transmitter/output/native", {"throttle": -1}),
            put("/channels/0/reversed", True),
            why="Reversing makes up for a radio that sends its throttle the other way round.",
        ),
        passes(
            put("/channels/0/travel_percent", {"low": 80, "high": 100}),
            why="The motor runs at low stick, but for want of travel: another rule says so.",
        ),
        passes(
            why="Idle-up lets the rotor turn at low stick on purpose.",
            start="helicopter",
        ),
    ],
)
def throttle(motor: MotorPath, path: Path, settings: Settings) -> Answer:
    """A throttle that works backwards gives full power when the stick is pulled low, at start-up,
    at the cut, and at failsafe where the value is given as a low stick. It comes from a reversed
    channel or output, or from a radio that sends its throttle the other way round than the speed
    control or the carburettor servo expects.
    """
    low, high = motor.at_low, motor.at_high
    if low is None or high is None:
        return NOT_APPLICABLE
    if low.state in motor.safe_low or high.state not in motor.safe_low:
        return PASS
    alone = " (judged by its own channel alone)" if motor.judged_alone else ""
    at, fix = _turned(motor)
    what = "engine" if motor.kind == "engine" else "motor"
    return Fail(
        f"With the throttle low, port {motor.port.number} puts out {low.us:.0f} µs and the {what} "
        f"is {_SAID[low.state]}; with it high, {high.us:.0f} µs, and it is {_SAID[high.state]}"
        f"{alone}.",
        at=at,
        evidence={
            "port": motor.port.number,
            "low_us": low.us,
            "high_us": high.us,
            "low_state": low.state,
            "high_state": high.state,
            "controls": dict(low.controls),
        },
        fix=fix,
    )


_SAID = {"stopped": "stopped", "idling": "idling", "running": "running", "full": "at full power"}


def _turned(motor: MotorPath) -> tuple[str, Fix | None]:
    """Where it is turned round, and the change that turns it back.

    An output is not turned back where failsafe stops the motor through it.
    """
    at = f"{motor.channel.at}/reversed"
    wanted = not motor.channel.entry.reversed
    if motor.port.entry.reversed and wanted:
        at, wanted = f"{motor.port.at}/reversed", False
        if motor.failsafe is not None and motor.failsafe.state in motor.safe_low:
            return at, None
    return at, Fix("decide", ({"op": "add", "path": at, "value": wanted},))
