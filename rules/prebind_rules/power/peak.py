"""The servos can draw more at peak than the supply gives."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Open, Settings, fails, passes, replace, rule
from prebind_rules.power._current import PEAK, SUPPLY, peak, supply_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/power/receiver_supply/peak_a", 2.5),
        why="Two of four servos stall: 2 × 1.1 A, and 2 × 0.275 A for the others, are 2.75 A.",
        at="/power/receiver_supply/peak_a",
        says=["2.75 A", "0.25 A more", "2.5 A"],
    )
    yield fails(
        replace("/servos/0/stall_a", 4),
        replace("/servos/1/stall_a", 4),
        why="Two strong aileron servos on the same small supply: 2 × 4 A and 2 × 0.275 A.",
        at="/power/receiver_supply/peak_a",
        says=["8.55 A", "0.55 A more"],
    )
    yield passes(
        replace("/power/receiver_supply/peak_a", 2.75),
        why="The supply gives exactly what the servos can draw.",
    )
    yield passes(
        replace("/servos/0/stall_a", 5),
        why="One strong servo stalls with one of the others: 6.1 A, and 0.55 A for the rest.",
    )


@rule(
    "power/peak",
    word="warning",
    title="The servos can draw more at peak than the supply gives",
    each="setup",
    needs=("servos", "power"),
    safety="A supply that is overloaded drops its voltage, and the receiver restarts or goes "
    "silent: all control is lost. Fit a stronger supply before the model flies.",
    remedy="Use a supply with a higher peak current, a separate receiver battery, or servos that "
    "draw less.",
    bench="With the propeller off, move all sticks together and hold a surface gently against its "
    "servo while you watch the receiver's voltage: it must not sag.",
    source="common practice, no source",
    settings=PEAK,
    examples=_examples,
)
def peak_current(place: Path, path: Path, settings: Settings) -> Answer:
    """A stalled servo draws many times its usual current.

    In flight some servos stall while the others work: in a hard pull-out, or where a surface meets
    its stop.  The supply must carry that moment without its voltage falling.
    """
    limit = supply_of(path.setup).peak_a
    if limit is None:
        return Open("The supply's peak current is not recorded.", (f"{SUPPLY}/peak_a",))
    draw = peak(path.setup, settings)
    if draw.ampere > limit:
        return Fail(
            f"With {draw.stalled} of {draw.servos} servos stalled, they draw "
            f"{round(draw.ampere, 2):g} A together, {round(draw.ampere - limit, 2):g} A more than "
            f"the {limit:g} A that the supply gives at peak.",
            at=f"{SUPPLY}/peak_a",
            evidence={"ampere": draw.ampere, "peak_a": limit, "stalled": draw.stalled},
        )
    if draw.unknown:
        return Open("Not every servo's stall current is recorded.", draw.unknown)
    return PASS
