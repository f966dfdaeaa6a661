"""Nothing warns before the flight pack is empty."""

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
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example, Word

PACK = "/power/flight_pack"
WARNING = f"{PACK}/warning_v_per_cell"


def _examples() -> Iterable[Example]:
    yield fails(
        remove(WARNING),
        why="The pack is recorded, and no alarm.",
        at=PACK,
        word="notice",
        says=["3 cells", "no warning voltage"],
    )
    yield fails(
        replace(WARNING, 3.3),
        why="The alarm comes when the pack is nearly empty.",
        at=WARNING,
        word="notice",
        says=["3.3 V", "3.5 V"],
    )
    yield fails(
        remove(WARNING),
        start="helicopter",
        why="A helicopter needs power for its landing.",
        at=PACK,
        word="warning",
        says=["6 cells", "no warning voltage"],
    )
    yield passes(
        replace(WARNING, 3.5),
        why="Exactly the lowest voltage that is enough.",
    )
    yield passes(
        replace(WARNING, 2.8),
        replace(f"{PACK}/chemistry", "life"),
        why="The same low figure suits cells of another chemistry.",
    )


@rule(
    "power/alarm",
    word="notice",
    title="Nothing warns before the flight pack is empty",
    each="setup",
    needs=("electric", "power"),
    safety="A pack that runs empty in the air stops the motor without warning. A helicopter or "
    "multirotor then falls: keep people out from under it and land at the first alarm.",
    remedy="Set a voltage alarm in the radio or on the pack, high enough that a landing is left.",
    bench="Bring a discharged pack to the alarm's voltage, propeller off, and hear it sound.",
    source="common practice, no source",
    settings={"lipo_v": Setting(3.5, "lowest warning voltage of a lipo cell", least=0)},
    examples=_examples,
)
def alarm(place: Path, path: Path, settings: Settings) -> Answer:
    """An alarm at a sensible voltage leaves time for a landing under power.

    Lithium polymer cells hold little below 3.5 V, and are damaged a little further down.
    """
    pack = path.setup.power and path.setup.power.flight_pack
    if not pack:
        return Open("The flight pack is not recorded.", (PACK,))
    rotor = path.setup.model.airframe in ("helicopter", "multirotor")
    word: Word = "warning" if rotor else "notice"
    lipo = pack.chemistry == "lipo"
    lowest = settings["lipo_v"]
    fix = Fix("decide", (put(WARNING, lowest),)) if lipo else None
    given = pack.warning_v_per_cell
    if given is None:
        return Fail(
            f"The flight pack of {pack.cells} cells has no warning voltage.",
            at=PACK,
            word=word,
            fix=fix,
            evidence={"cells": pack.cells},
        )
    if lipo and given < lowest:
        return Fail(
            f"The alarm comes at {given:g} V a cell, below the {lowest:g} V at which a lipo pack "
            "has little left.",
            at=WARNING,
            word=word,
            fix=fix,
            evidence={"warning_v_per_cell": given, "lowest_v_per_cell": lowest},
        )
    return PASS
