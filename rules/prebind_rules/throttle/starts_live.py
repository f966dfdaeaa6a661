"""The radio starts with the throttle up and the cut off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Fix,
    Open,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.throttle._motors import is_cut

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import Override
    from prebind.rule import Example

CHECKS = "/transmitter/start_checks"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(CHECKS, []),
        why="The radio insists on nothing.",
        at=CHECKS,
        says=["neither", "nothing"],
    )
    yield fails(
        replace(CHECKS, ["first-positions"]),
        why="The switches must stand in their first positions, and there the cut is off.",
        at=CHECKS,
        says=["neither", "first-positions"],
    )
    yield passes(replace(CHECKS, ["throttle-low"]), why="It insists on a low throttle.")
    yield passes(
        replace(CHECKS, ["first-positions"]),
        replace("/transmitter/controls/cut-switch/positions", ["cut", "run"]),
        why="The cut is the first position, on which the radio insists.",
    )
    yield passes(remove(CHECKS), why="What it insists on is not recorded.", outcome="open")


@rule(
    "throttle/starts-live",
    word="danger",
    title="The radio can be switched on with the throttle up and the cut off",
    each="setup",
    needs=("electric",),
    safety="The motor starts at power the moment the link stands, with the model in someone's "
    "hands. Switch on with the stick low and the cut on, and keep clear of the propeller.",
    remedy="Set the radio's start check to insist on a low throttle, or on the throttle cut.",
    bench="Propeller off: switch the radio on with the stick half up, and see that it warns and "
    "does not send.",
    source="common practice, no source",
    examples=_examples,
)
def starts_live(place: Path, path: Path, settings: Settings) -> Answer:
    """A radio remembers nothing of where its sticks stood.

    One that insists on a low throttle, or on the cut, before it sends keeps the motor still when
    the stick was moved in the bag.
    """
    checks = path.setup.transmitter.start_checks
    if checks is None:
        return Open("What the radio insists on when switched on is not recorded.", (CHECKS,))
    if "throttle-low" in checks or "cut-on" in checks:
        return PASS
    if "first-positions" in checks and any(_on_at_first(cut, path) for cut in path.setup.overrides):
        return PASS
    asked = " and ".join(checks) or "nothing"
    return Fail(
        "When switched on the radio insists on neither a low throttle nor the cut, but on "
        f"{asked}.",
        at=CHECKS,
        evidence={"start_checks": list(checks)},
        fix=Fix("decide", (put(f"{CHECKS}/-", "throttle-low"),)),
    )


def _on_at_first(cut: Override, path: Path) -> bool:
    """Whether the cut is on where every switch stands in its first position."""
    return (
        is_cut(cut)
        and bool(cut.when)
        and all(
            condition.control is not None
            and condition.positions is not None
            and path.control(condition.control).positions[0] in condition.positions
            for condition in cut.when
        )
    )
