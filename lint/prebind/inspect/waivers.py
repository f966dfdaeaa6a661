"""Findings accepted on purpose, and what is wrong with the waivers themselves.

The two rules about waivers are the core's own: whether a waiver is needed is known only once every
other rule has run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from prebind.inspect.finding import Finding, Waived
from prebind.inspect.settings import meant
from prebind.record import evolve
from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Settings,
    fails,
    passes,
    put,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from prebind.document.model import Waiver
    from prebind.path import Path
    from prebind.rule import Operation, Rule

EACH: Literal["waivers"] = "waivers"
"""The `each` of a rule that judges waivers: it runs after all others."""


class Use(NamedTuple):
    """A waiver, and what came of it.

    `known` are the ids of all rules; `ran` whether the one that it names did; `matched` whether it
    accepts a finding; `elsewhere` where that rule finds something that it does not accept.
    """

    waiver: Waiver
    expired: bool
    known: Collection[str]
    ran: bool
    matched: bool = False
    elsewhere: tuple[str, ...] = ()
    unclear: bool = False

    @property
    def at(self) -> str:
        return self.waiver.at


def accepted(
    findings: Iterable[Finding],
    waivers: Iterable[Waiver],
    *,
    today: str,
    known: Collection[str],
    ran: Collection[str],
) -> tuple[list[Finding], list[Use]]:
    """The findings, those that a waiver accepts marked so, and what came of each waiver.

    `today` is an ISO 8601 date; a waiver holds up to and with its last day.
    """
    found = list(findings)
    uses = []
    for waiver in waivers:
        expired = waiver.until < today
        its = [finding for finding in found if finding.rule == waiver.rule]
        matching = [finding for finding in its if _covers(waiver, finding.at)]
        if not expired:
            waived = Waived(waiver.reason, waiver.by, waiver.until)
            found = [
                evolve(one, waived=waived) if one in matching and one.waived is None else one
                for one in found
            ]
        others = [finding for finding in its if finding not in matching]
        uses.append(
            Use(
                waiver,
                expired,
                known,
                waiver.rule in ran,
                bool(matching),
                tuple(dict.fromkeys(one.at for one in others)),
                any(one.kind == "open" and _below(waiver.pointer, one.at) for one in others),
            )
        )
    return found, uses


def _covers(waiver: Waiver, at: str) -> bool:
    return waiver.pointer is None or at == waiver.pointer or _below(at, waiver.pointer)


def _below(at: str | None, ancestor: str) -> bool:
    return at is not None and at.startswith(f"{ancestor}/")


_SPEED = "/channels/1/slow_s"
_RULE = "travel/slow-primary"


def _waiver(until: str, name: str = _RULE) -> Operation:
    entry = {"rule": name, "reason": "Soft ailerons.", "by": "the builder", "until": until}
    return put("/waivers", [entry])


@rule(
    "sign-offs/waiver-expired",
    word="notice",
    title="A waiver has run out",
    each=EACH,
    safety="What was accepted for a while counts again: nobody has looked at it since. Look at it "
    "before the next flight.",
    remedy="Mend what was waived; or look at it again and, if it is still meant, write a new "
    "last day.",
    bench="Read the waivers, and compare their last days with today.",
    source="common practice, no source: an exception ends on a day",
    examples=lambda: [
        fails(
            _waiver("2019-05-31"),
            put(_SPEED, 1.5),
            why="The waiver ended in 2019, and the ailerons are still slow.",
            at="/waivers/0/until",
            says=(_RULE, "2019-05-31"),
        ),
        fails(
            _waiver("2019-05-31"),
            why="The waiver ended in 2019; it can go.",
            at="/waivers/0/until",
            says=("2019-05-31",),
        ),
        passes(
            _waiver("9999-12-31"),
            put(_SPEED, 1.5),
            why="The waiver's last day is far away.",
        ),
        passes(why="There are no waivers.", outcome="notApplicable"),
    ],
)
def waiver_expired(use: Use, path: Path, settings: Settings) -> Answer:  # noqa: ARG001
    """A waiver says until when a finding is accepted, so that somebody looks at it again.

    After its last day it waives nothing, and what it stood for grounds as if it were not there.
    """
    if not use.expired:
        return PASS
    waiver = use.waiver
    return Fail(
        f"The waiver for “{waiver.rule}” ran out on {waiver.until} and waives nothing any more.",
        f"{waiver.at}/until",
        {"rule": waiver.rule, "until": waiver.until, "by": waiver.by},
    )


@rule(
    "sign-offs/waiver-unneeded",
    word="notice",
    title="A waiver waives nothing",
    each=EACH,
    safety="A waiver left behind accepts the next finding at its place, which nobody has seen yet. "
    "Take it out before it hides something.",
    remedy="Take the waiver out; or, if it was meant for a finding in this report, write that "
    "finding's rule and place into it.",
    bench="Read the waivers, and take out those whose reason is gone.",
    source="common practice, no source: an exception that is not used is taken out",
    examples=lambda: [
        fails(
            _waiver("9999-12-31"),
            why="The ailerons are not slow any more.",
            at="/waivers/0",
            says=(_RULE, "no finding"),
        ),
        fails(
            _waiver("9999-12-31", "travel/slow-primry"),
            put(_SPEED, 1.5),
            why="The rule's name is misspelt.",
            at="/waivers/0",
            says=("“travel/slow-primry”", f"did you mean “{_RULE}”?"),
        ),
        passes(
            _waiver("9999-12-31"),
            put(_SPEED, 1.5),
            why="The ailerons are slow, and that is accepted.",
        ),
        passes(why="There are no waivers.", outcome="notApplicable"),
    ],
)
def waiver_unneeded(use: Use, path: Path, settings: Settings) -> Answer:  # noqa: ARG001
    """A waiver that matches no finding is a leftover, or names the wrong rule or place.

    Not judged are one whose rule was not run, one whose rule could not check that place, and one
    that has run out, which is a finding of its own.
    """
    waiver = use.waiver
    if use.expired or use.matched:
        return PASS
    about = f"The waiver for “{waiver.rule}”"
    evidence = {"rule": waiver.rule, "by": waiver.by}
    if waiver.rule not in use.known:
        near = meant(waiver.rule, use.known) or "; `prebind rulebook` lists them all."
        return Fail(f"The waiver names “{waiver.rule}”, which is no rule{near}", evidence=evidence)
    if waiver.rule in OWN:
        return Fail(f"{about} waives nothing: what is wrong with a waiver cannot be waived.")
    if not use.ran or use.unclear:
        return NOT_APPLICABLE
    if use.elsewhere:
        places = ", ".join(at or "the top of the document" for at in use.elsewhere)
        return Fail(
            f"{about} matches no finding at {waiver.pointer}; that rule's are at {places}.",
            evidence=evidence,
        )
    where = f" at {waiver.pointer}" if waiver.pointer else ""
    return Fail(f"{about} matches no finding{where}.", evidence=evidence)


OWN = frozenset((waiver_expired.id, waiver_unneeded.id))


def prebind_rules() -> Iterable[Rule]:
    return waiver_expired, waiver_unneeded
