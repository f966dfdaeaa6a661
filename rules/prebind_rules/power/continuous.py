"""The servos at work draw more than the supply can give for long."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Open, Settings, fails, passes, replace, rule
from prebind_rules.power._current import SHARE, SUPPLY, supply_of, working

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/power/receiver_supply/continuous_a", 1),
        why="A quarter of 4 × 1.1 A is 1.1 A, from a supply of 1 A.",
        at="/power/receiver_supply/continuous_a",
        says=["1.1 A", "0.1 A more"],
    )
    yield fails(
        replace("/servos/2/stall_a", 20),
        why="A giant servo on the elevator: a quarter of 23.3 A is 5.825 A.",
        at="/power/receiver_supply/continuous_a",
        says=["5.83 A", "5 A"],
    )
    yield passes(
        replace("/power/receiver_supply/continuous_a", 1.1),
        why="The supply gives exactly a quarter of the stall currents together.",
    )
    yield passes(
        replace("/servos/2/stall_a", 16),
        why="A strong servo on the elevator, and a quarter of 19.3 A is 4.825 A: under 5 A.",
    )


@rule(
    "power/continuous",
    word="warning",
    title="The servos at work draw more than the supply can give for long",
    each="setup",
    needs=("servos", "power"),
    safety="A supply that runs above its rating grows hot and shuts down in flight, and all "
    "control is lost. Fit a stronger supply before the model flies.",
    remedy="Use a supply with a higher continuous current, a separate receiver battery, or servos "
    "that draw less.",
    bench="With the propeller off, move all sticks for two minutes, then feel with care whether "
    "the supply has become hot.",
    source="common practice, no source",
    settings={"share": SHARE},
    examples=_examples,
)
def continuous_current(place: Path, path: Path, settings: Settings) -> Answer:
    """Servos that hold a surface against the air draw current all the time.

    A quarter of the stall current is a fair mean for a servo at work.  Together they must stay
    within what the supply gives without growing too hot.
    """
    limit = supply_of(path.setup).continuous_a
    if limit is None:
        return Open("The supply's continuous current is not recorded.", (f"{SUPPLY}/continuous_a",))
    draw = working(path.setup, settings)
    if draw.ampere > limit:
        return Fail(
            f"At work the {draw.servos} servos draw about {round(draw.ampere, 2):g} A together, "
            f"{round(draw.ampere - limit, 2):g} A more than the {limit:g} A that the supply gives "
            "for long.",
            at=f"{SUPPLY}/continuous_a",
            evidence={"ampere": draw.ampere, "continuous_a": limit},
        )
    if draw.unknown:
        return Open("Not every servo's stall current is recorded.", draw.unknown)
    return PASS
