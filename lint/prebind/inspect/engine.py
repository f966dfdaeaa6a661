"""Laying rules against one signal path: every place of every rule, each call guarded."""

from __future__ import annotations

from time import perf_counter
from typing import TYPE_CHECKING, Any

from prebind.inspect.finding import Finding
from prebind.inspect.fingerprint import existing, fingerprint
from prebind.inspect.places import PLACES, missing
from prebind.inspect.waivers import EACH, accepted
from prebind.problem import Problem
from prebind.record import evolve, field, record
from prebind.rule import (
    WORDS,
    Fail,
    NotApplicable,
    NotChecked,
    NotKnown,
    Open,
    Outcome,
    Pass,
    Review,
    Rule,
    Word,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping

    from prebind.path import Path


@record
class Bound:
    """A rule with the numbers and the word in force, and the pack that it came with.

    `seconds` is how long it may take over one document before that is a problem.
    """

    rule: Rule
    settings: Mapping[str, Any]
    word: Word | None
    pack: str
    seconds: float = float("inf")


@record
class Ran:
    """What came of running all rules on one path; `seconds` is how long each took."""

    findings: list[Finding] = field(factory=list)
    not_applicable: list[str] = field(factory=list)
    outcomes: dict[str, int] = field(factory=dict)
    problems: list[Problem] = field(factory=list)
    seconds: dict[str, float] = field(factory=dict)


KINDS: Mapping[type, str] = {
    Pass: "pass",
    Fail: "fail",
    Open: "open",
    Review: "review",
    NotApplicable: "notApplicable",
}


def run(
    rules: Iterable[Bound],
    path: Path,
    data: Mapping[str, Any],
    name: str,
    *,
    known: Collection[str] = (),
    today: str = "",
) -> Ran:
    """Runs the rules; a rule that crashes is a problem, and all the others still run.

    Rules about waivers run last.  `known` are the ids that a waiver may name beside those that run;
    `today` is an ISO 8601 date, up to which waivers must hold.
    """
    ran = Ran(outcomes=dict.fromkeys(KINDS.values(), 0))
    bound = list(rules)
    first = [one for one in bound if one.rule.each != EACH]
    whole = {one.rule.id for one in first if _run(one, path, data, name, ran)}
    ids = {*known, *(one.rule.id for one in bound)}
    ran.findings[:], uses = accepted(
        ran.findings, path.setup.waivers, today=today, known=ids, ran=whole
    )
    for one in bound:
        if one.rule.each == EACH:
            _run(one, path, data, name, ran, lambda _: uses)
    ran.findings[:] = _settled(ran.findings, data)
    return ran


def _run(
    bound: Bound,
    path: Path,
    data: Mapping[str, Any],
    name: str,
    ran: Ran,
    each: Callable[[Path], Iterable[Any]] | None = None,
) -> bool:
    """Whether the rule came to its end; `each` gives places that are not in the path."""
    started = perf_counter()
    try:
        outcomes = _outcomes(bound, path, each)
    except (Exception, SystemExit) as error:
        ran.problems.append(_crash(bound, name, error))
        return False
    finally:
        took = ran.seconds[bound.rule.id] = perf_counter() - started
        if took > bound.seconds:
            ran.problems.append(_slow(bound, name, took))
    judged = False
    for at, outcome in outcomes:
        if isinstance(outcome, NotApplicable):
            continue
        judged = True
        ran.outcomes[KINDS[type(outcome)]] += 1
        if not isinstance(outcome, Pass):
            ran.findings.append(_finding(bound, data, at, outcome))
    if not judged:
        ran.outcomes["notApplicable"] += 1
        ran.not_applicable.append(bound.rule.id)
    return True


def _outcomes(
    bound: Bound, path: Path, each: Callable[[Path], Iterable[Any]] | None = None
) -> list[tuple[str, Outcome]]:
    """(place, outcome) for every place that the rule judges."""
    rule = bound.rule
    unmet = missing(path, rule.needs)
    if unmet is not None:
        return [("", unmet)]
    if each is None:
        each = PLACES[rule.each] if isinstance(rule.each, str) else rule.each
    found: list[tuple[str, Outcome]] = []
    try:
        places = list(each(path))
    except NotKnown as reason:
        return [("", _open(reason))]
    for place in places:
        try:
            answer = rule.judge(place, path, bound.settings)
        except NotKnown as reason:
            answer = _open(reason)
        except NotChecked as reason:
            evidence = {"controls": list(reason.controls), "combinations": reason.cells}
            answer = Open(reason.message, evidence=evidence)
        outcomes: Iterable[Outcome] = [answer] if isinstance(answer, Outcome) else answer
        for outcome in outcomes:
            if not isinstance(outcome, Outcome):
                raise TypeError(f"{outcome!r} is not an outcome")
            at = getattr(outcome, "at", None)
            found.append((place.at if at is None else at, outcome))
    return found


def _open(reason: NotKnown) -> Open:
    return Open(reason.message, reason.settles, reason.at, reason.bench)


def _slow(bound: Bound, name: str, took: float) -> Problem:
    message = f"the rule took {took:.1f} s over this document, longer than {bound.seconds:g} s"
    return Problem(name, message, rule=bound.rule.id, pack=bound.pack)


def _crash(bound: Bound, name: str, error: BaseException) -> Problem:
    from traceback import format_exception

    what = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
    return Problem(
        name,
        f"the rule crashed and its result is missing ({what})",
        rule=bound.rule.id,
        pack=bound.pack,
        traceback="".join(format_exception(error)),
    )


def _finding(
    bound: Bound, data: Mapping[str, Any], at: str, outcome: Fail | Open | Review
) -> Finding:
    rule = bound.rule
    place = existing(data, at)
    word = bound.word or (outcome.word if isinstance(outcome, Fail) else None) or rule.word
    remedy = None if isinstance(outcome, Open) else outcome.remedy
    return Finding(
        rule=rule.id,
        kind=KINDS[type(outcome)],  # type: ignore[arg-type]
        word=word,
        at=place,
        message=outcome.message,
        evidence=outcome.evidence,
        safety=(outcome.safety if isinstance(outcome, Fail) else None) or rule.safety,
        remedy=remedy or rule.remedy,
        fingerprint=fingerprint(data, rule.id, at, outcome.evidence),
        bench=(outcome.bench or rule.bench) if isinstance(outcome, Open) else None,
        settles=outcome.settles if isinstance(outcome, Open) else (),
        fix=outcome.fix if isinstance(outcome, Fail) else None,
        because=outcome.because if isinstance(outcome, Fail) else None,
    )


def _settled(findings: list[Finding], data: Mapping[str, Any]) -> list[Finding]:
    """Worst first, causes that are not in the report dropped, equal fingerprints told apart."""
    failed = {(found.rule, found.at) for found in findings if found.kind == "fail"}
    seen: dict[str, int] = {}
    settled: list[Finding] = []
    order = {"fail": 0, "review": 1, "open": 2}
    for found in sorted(findings, key=lambda f: (order[f.kind], WORDS.index(f.word))):
        if found.because is not None:
            cause = evolve(found.because, at=existing(data, found.because.at))
            there = (cause.rule, cause.at) in failed and (cause.rule, cause.at) != (
                found.rule,
                found.at,
            )
            found = evolve(found, because=cause if there else None)
        times = seen.get(found.fingerprint, 0)
        seen[found.fingerprint] = times + 1
        if times:
            found = evolve(found, fingerprint=f"{found.fingerprint}-{times + 1}")
        settled.append(found)
    return settled
