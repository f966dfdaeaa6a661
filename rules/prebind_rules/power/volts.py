"""A servo or a speed control gets a voltage that it was not made for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.model import SpeedControl
from prebind.rule import PASS, Answer, Fail, Open, Place, Settings, fails, passes, replace, rule
from prebind_rules.power._current import supply_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import Servo
    from prebind.rule import Example


def _fed(path: Path) -> Iterable[Place]:
    """Everything that a supply or a pack feeds; the document itself where no servo is recorded."""
    if path.setup.servos is None:
        yield Place("")
    for servo in path.setup.servos or ():
        yield Place(f"{servo.at}/volts" if servo.volts else servo.at, servo)
    for control in path.setup.speed_controls or ():
        yield Place(f"{control.at}/cells" if control.cells else control.at, control)


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/servos/2/volts", [3.5, 4.8]),
        why="The elevator servo is made for four cells of another chemistry.",
        at="/servos/2/volts",
        says=["port 3", "5 V", "4.8 V"],
    )
    yield fails(
        replace("/power/flight_pack/cells", 6),
        why="A six-cell pack on a speed control for three or four cells.",
        at="/speed_controls/0/cells",
        says=["6 cells", "3 to 4"],
    )
    yield fails(
        replace("/power/receiver_supply/source", "battery"),
        replace("/power/receiver_supply/volts", [4.4, 6.0]),
        replace("/servos/1/volts", [4.0, 6.0]),
        replace("/servos/2/volts", [4.0, 6.0]),
        replace("/servos/3/volts", [4.0, 6.0]),
        why="A battery that is within range when full, and too low for one servo when empty.",
        at="/servos/0/volts",
        says=["4.4 V when empty", "below the 4.8 V"],
    )
    yield passes(
        replace("/power/receiver_supply/volts", 6.0),
        why="The supply gives exactly the most that the servos may have.",
    )
    yield passes(
        replace("/power/receiver_supply/source", "battery"),
        replace("/power/receiver_supply/volts", [4.8, 6.0]),
        replace("/power/flight_pack/cells", 4),
        why="A battery within the servos' range from empty to full, and the largest pack allowed.",
    )


@rule(
    "power/volts",
    word="warning",
    title="A servo or speed control gets a voltage that it was not made for",
    each=_fed,
    needs=("power",),
    safety="Too much voltage burns a servo or a speed control, too little leaves it weak or "
    "silent, and control is lost in flight. Do not connect it until the voltages agree.",
    remedy="Set the supply to a voltage that every servo takes, choose a pack with a number of "
    "cells that the speed control takes, or fit others.",
    bench="Measure the supply's voltage with a meter, for a battery fully charged and at the end "
    "of a flight, and compare it with the maker's figures.",
    source="common practice, no source",
    examples=_examples,
)
def volts(place: Place, path: Path, settings: Settings) -> Answer:
    """Servos and speed controls work within a range of voltage.

    A battery must lie in it both fully charged and empty.
    """
    if place.entry is None:
        return Open("No servo is recorded.", ("/servos",))
    if isinstance(place.entry, SpeedControl):
        return _pack(place.entry, path)
    return _supply(place.entry, path)


def _supply(servo: Servo, path: Path) -> Answer:
    given = supply_of(path.setup).volts
    if servo.volts is None:
        return Open(
            f"The voltage that the servo on port {servo.port} takes is not recorded.",
            (f"{servo.at}/volts",),
        )
    empty, full = given if isinstance(given, tuple) else (given, given)
    low, high = servo.volts
    evidence = {"port": servo.port, "volts": full, "lowest_volts": low, "highest_volts": high}
    if full > high:
        when = " when full" if full != empty else ""
        return Fail(
            f"The supply gives {full:g} V{when}, above the {high:g} V that the servo on port "
            f"{servo.port} takes.",
            evidence=evidence,
        )
    if empty < low:
        when = " when empty" if full != empty else ""
        return Fail(
            f"The supply gives {empty:g} V{when}, below the {low:g} V that the servo on port "
            f"{servo.port} needs.",
            evidence=evidence | {"volts": empty},
        )
    return PASS


def _pack(control: SpeedControl, path: Path) -> Answer:
    pack = path.setup.power and path.setup.power.flight_pack
    if not pack:
        return Open("The flight pack is not recorded.", ("/power/flight_pack",))
    if control.cells is None:
        return Open(
            f"The cells that the speed control on port {control.port} takes are not recorded.",
            (f"{control.at}/cells",),
        )
    low, high = control.cells
    if low <= pack.cells <= high:
        return PASS
    return Fail(
        f"The pack has {pack.cells} cells, and the speed control on port {control.port} takes "
        f"{low} to {high}.",
        evidence={
            "port": control.port,
            "cells": pack.cells,
            "fewest_cells": low,
            "most_cells": high,
        },
    )
