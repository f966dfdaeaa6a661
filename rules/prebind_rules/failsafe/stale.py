"""What the failsafe proved has changed since it was stored at bind."""

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
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    proven = {"check": "failsafe", "by": "Ada Sandpiper", "on": "2026-03-01", "digest": "0" * 64}
    other = {**proven, "check": "range"}
    yield fails(
        put("/sign_offs", [proven]),
        why="The failsafe was proven for other pulses than the throttle has now.",
        at="/sign_offs/0/digest",
        says=["2026-03-01", "bind"],
    )
    yield fails(
        put("/sign_offs", [other, {**proven, "on": "2026-02-01"}, proven]),
        why="The later of two sign-offs counts.",
        at="/sign_offs/2/digest",
        says=["2026-03-01", "bind"],
    )
    yield passes(
        put("/sign_offs", [other]),
        why="Only the range was signed off.",
        outcome="open",
    )
    yield passes(
        put("/sign_offs", [proven]),
        replace("/receiver/failsafe/stored", "by-menu"),
        why="A failsafe that is stored by menu does not go stale with the throttle.",
        outcome="notApplicable",
    )


@rule(
    "failsafe/stale",
    word="warning",
    title="What the failsafe proved has changed since it was stored at bind",
    each="setup",
    needs=("failsafe",),
    safety="The receiver still holds the values of the day of binding: when the link is lost, a "
    "motor may run or a surface stand elsewhere. Take the propeller off, bind again, and prove it.",
    remedy="Propeller off, throttle low: bind again, switch the radio off to prove the failsafe, "
    "and sign it off anew.",
    bench="Propeller off, model held down: run the motor slowly, switch the radio off, and see "
    "that it stops.",
    source="common practice, no source",
    examples=_examples,
)
def stale(place: Path, path: Path, settings: Settings) -> Answer:
    """A failsafe stored at bind is a copy of that moment.

    Reverse the throttle, change its travel or its trim, or fit another servo, and the copy no
    longer means what it did.  Nothing on the radio shows it.
    """
    receiver = path.setup.receiver
    failsafe = receiver.failsafe if receiver else None
    if failsafe is None or failsafe.stored != "at-bind":
        return NOT_APPLICABLE
    last = path.sign_off("failsafe")
    if last is None:
        return Open(
            "The failsafe is stored at bind, and was never signed off: whether anything has "
            "changed since is not known.",
            ("/sign_offs",),
            at="/receiver/failsafe/stored",
        )
    if last.digest == path.digest("failsafe"):
        return PASS
    return Fail(
        f"The failsafe is stored at bind, and what it depends on has changed since it was signed "
        f"off on {last.on}.",
        at=f"{last.at}/digest",
        evidence={"on": last.on, "digest": last.digest, "now": path.digest("failsafe")},
    )
