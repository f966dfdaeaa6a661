"""pulses/centre"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Fix,
    Open,
    Setting,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)

if TYPE_CHECKING:
    from prebind import Path, PortPath, ServoPath


@rule(
    "pulses/centre",
    word="notice",
    title="Output and servo have different centres",
    each="servos",
    needs=("receiver", "servos"),
    settings={
        "most_us": Setting(
            20, "greatest difference between the output's centre and the servo's, µs", least=0
        )
    },
    safety=(
        "A servo that rests beside its own centre reaches further one way than the other, and may "
        "be driven against its end. Unplug the pushrod before the centre is moved, and look at the "
        "whole travel, propeller off."
    ),
    remedy=(
        "Set the output's centre at the receiver to the servo's neutral pulse, and fit the arm and "
        "the pushrod anew; set them anew as well where another servo takes its place."
    ),
    bench=(
        "Propeller off, pushrod unplugged: let a servo tester give the servo its neutral pulse, "
        "then the receiver with the stick centred, and see whether the arm moves in between."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            replace("/servos/3/centre_us", 1521),
            why="A rudder servo with another neutral pulse.",
            at="/servos/3/centre_us",
            says=("rudder", "1521 µs", "1500 µs", "21 µs"),
        ),
        fails(
            put("/receiver/outputs/3/centre_us", 760),
            why="The output is set for a servo with narrow pulses.",
            at="/receiver/outputs/3/centre_us",
            says=("rudder", "1500 µs", "760 µs", "740 µs"),
        ),
        passes(
            replace("/servos/3/centre_us", 1520),
            why="20 µs apart, just within the limit.",
        ),
        passes(
            replace("/servos/3/centre_us", 1560),
            put("/receiver/outputs/3/centre_us", 1550),
            why="The output's centre was moved to the servo's, but for 10 µs.",
        ),
        passes(
            remove("/servos/3/centre_us"),
            why="The servo's neutral pulse is not recorded.",
            outcome="open",
        ),
    ],
)
def centre(servo: ServoPath, path: Path, settings: Settings) -> Answer:
    """Servos are not all made for the same neutral pulse. Where the receiver's output rests at
    another one, the arm stands askew with the stick centred, and the travel to one side is shorter
    than to the other.
    """
    port, neutral = servo.port, servo.entry.centre_us
    if neutral is None:
        return Open(
            f"The neutral pulse of the servo on port {port.number} is not recorded.",
            settles=(f"{servo.at}/centre_us",),
        )
    apart = abs(neutral - port.centre_us)
    if apart <= settings["most_us"]:
        return PASS
    name = servo.entry.surface or f"port {port.number}"
    return Fail(
        f"The servo of {name} has its neutral at {neutral:g} µs, and output {port.number} rests at "
        f"{port.centre_us:g} µs, {apart:g} µs away.",
        at=f"{servo.at if port.entry.centre_us is None else port.at}/centre_us",
        evidence={
            "port": port.number,
            "servo_centre_us": neutral,
            "output_centre_us": port.centre_us,
            "apart_us": apart,
        },
        fix=_moved(port, neutral),
    )


def _moved(port: PortPath, neutral: float) -> Fix | None:
    """The output's centre at the servo's, where no other servo shares the output."""
    if len(port.servos) > 1:
        return None
    at = f"{port.at}/centre_us"
    return Fix("decide", ({"op": "add", "path": at, "value": neutral},))
