"""A sign-off no longer fits what it proved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Cause,
    Fail,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.sign_offs._checks import DONE, WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import SignOff
    from prebind.rule import Example

_NOW = "1cec754b0a77dcc91f247b456e29f7cc8590fb55ddacf47abdd324b48b5bb11e"
"""The trainer's digest for `balance`, as `prebind sign` writes it."""


def _counting(path: Path) -> Iterable[SignOff]:
    """The sign-off of each check that counts."""
    return [it for it in path.setup.sign_offs or () if it is path.sign_off(it.check)]


def _examples() -> Iterable[Example]:
    entry = {"by": "Ada Sandpiper", "on": "2026-03-01"}
    balanced = {"check": "balance", **entry, "digest": _NOW}
    proven = {"check": "control-direction", **entry, "digest": "0" * 64}
    yield fails(
        put("/sign_offs", [balanced, proven]),
        why="The directions were proved for a setup that moved its surfaces in another way.",
        at="/sign_offs/1/digest",
        says=["control-direction", "Ada Sandpiper", "2026-03-01", "changed"],
    )
    yield fails(
        put("/sign_offs", [balanced]),
        replace("/model/mass_g", 1500),
        why="The model was balanced at 1650 g.",
        at="/sign_offs/0/digest",
        word="caution",
        says=["balance", "changed"],
    )
    yield fails(
        put("/sign_offs", [{**proven, "check": "recovery"}]),
        remove("/receiver/stabiliser"),
        why="The stabiliser that recovered the model is not there any more.",
        at="/sign_offs/0/check",
        says=["recovery", "nothing"],
    )
    yield passes(
        put("/sign_offs", [balanced]),
        replace("/model/name", "Curlew 1500"),
        why="A new name weighs nothing.",
    )
    yield passes(
        put("/sign_offs", [{**balanced, "on": "2026-02-01", "digest": "0" * 64}, balanced]),
        why="Of two sign-offs the later counts.",
    )
    yield passes(
        why="Nothing is signed off.",
        outcome="notApplicable",
    )


@rule(
    "sign-offs/stale",
    word="warning",
    title="What a sign-off proved has changed",
    each=_counting,
    safety="Somebody saw this work, but on another setup than this one. Do the check anew, "
    "propeller off and model restrained, before the model flies.",
    remedy="Do the check on the model again, then record it: prebind sign SETUP --check NAME --by "
    "WHO.",
    bench="Do the check on the model, propeller off and model restrained.",
    source="common practice, no source",
    examples=_examples,
)
def stale(sign_off: SignOff, path: Path, settings: Settings) -> Answer:
    """A sign-off is bound to the results that were seen: pulses, states, directions, deflections.

    It goes stale when one of them changes, whatever in the setup made it so, and not by a new name,
    a note, or another spelling of the same thing.
    """
    check, now = sign_off.check, path.digest(sign_off.check)
    if sign_off.digest == now:
        return PASS
    signed = f"“{check}” was signed off by {sign_off.by} on {sign_off.on}"
    evidence = {"check": check, "by": sign_off.by, "on": sign_off.on}
    if now is None:
        return Fail(
            f"{signed}, and there is nothing left in this setup that it proves.",
            at=f"{sign_off.at}/check",
            evidence=evidence,
            word=WORDS[check],
            remedy="Take the entry out, or put back what it proved.",
        )
    at = f"{sign_off.at}/digest"
    return Fail(
        f"{signed}, and what it proved has changed since.",
        at=at,
        evidence=evidence,
        word=WORDS[check],
        because=Cause("failsafe/stale", at) if check == "failsafe" else None,
        remedy=f"{DONE[check]} Then: prebind sign SETUP --check {check} --by WHO.",
    )
