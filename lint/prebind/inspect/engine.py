"""Laying rules against one signal path: every place of every rule, each call guarded."""

from __future__ import annotations

from itertools import islice
from time import perf_counter
from typing import TYPE_CHECKING, Any

from prebind.inspect.answers import Nonsense, astray, check, check_subject
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
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping

    from prebind.inspect.finding import Kind
    from prebind.path import Path

    Each = Callable[[Path], Iterable[Any]]

MOST = 100_000
"""Places that a rule may judge, and findings that it may have, in one document."""

_LONGEST = 200  # characters of an error that are told


@record
class Bound:
    """A rule with the numbers and the word in force, and the pack that it came with.

    `seconds` is how long it may take over one document before that is a problem.  `foreign`: its
    pack is a program, and not prebind's own, so it is stopped then, and is not trusted to leave
    the document as it is.
    """

    rule: Rule
    settings: Mapping[str, Any]
    word: Word | None
    pack: str
    seconds: float = float("inf")
    foreign: bool = False


@record
class Ran:
    """What came of running all rules on one path; `seconds` is how long each took."""

    findings: list[Finding] = field(factory=list)
    not_applicable: list[str] = field(factory=list)
    outcomes: dict[str, int] = field(factory=dict)
    problems: list[Problem] = field(factory=list)
    seconds: dict[str, float] = field(factory=dict)


KINDS = ("pass", "fail", "open", "review", "notApplicable")


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
    ran = Ran(outcomes=dict.fromkeys(KINDS, 0))
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
    each: Each | None = None,
) -> bool:
    """Whether the rule came to its end; `each` gives places that are not in the path."""
    judge = _fenced if bound.foreign else _guarded
    before = len(ran.findings)
    started = perf_counter()
    passed = judge(bound, path, data, name, ran, each)
    took = ran.seconds[bound.rule.id] = perf_counter() - started
    if isinstance(passed, Problem):
        del ran.findings[before:]
        ran.problems.append(passed)
        return False
    if took > bound.seconds:
        message = f"the rule took {took:.1f} s over this document, longer than {bound.seconds:g} s"
        ran.problems.append(_problem(bound, name, message))
    ran.outcomes["pass"] += passed
    its = ran.findings[before:]
    for found in its:
        ran.outcomes[found.kind] += 1
    if not (passed or its):
        ran.outcomes["notApplicable"] += 1
        ran.not_applicable.append(bound.rule.id)
    return True


def _fenced(
    bound: Bound, path: Path, data: Mapping[str, Any], name: str, ran: Ran, each: Each | None
) -> int | Problem:
    """As `_guarded`, in bounded time and whatever is raised; the document is as before."""
    from marshal import dumps, loads

    from prebind.inspect.stopping import Stopped, within

    def judged() -> int | Problem:
        try:
            return _guarded(bound, path, data, name, ran, each)
        except (KeyboardInterrupt, Stopped):
            raise
        except BaseException as error:
            return _crash(bound, name, error)

    document = path.setup.data
    before = dumps(document)
    try:
        passed = within(bound.seconds, judged)
    except Stopped as error:
        error.__context__ = None  # what the rule was raising may hang when it is told
        message = f"the rule was stopped after {bound.seconds:g} s, and its result is missing"
        passed = _problem(bound, name, message, error)
    if document != loads(before):
        document.clear()
        document.update(loads(before))
        message = "the rule changed the document that it was to judge; that was taken back"
        ran.problems.append(_problem(bound, name, message))
    return passed


def _guarded(
    bound: Bound, path: Path, data: Mapping[str, Any], name: str, ran: Ran, each: Each | None
) -> int | Problem:
    """How often the rule passed, or what became of it instead."""
    try:
        return _judged(bound, path, data, name, ran, each)
    except (Exception, SystemExit) as error:
        return _crash(bound, name, error)


def _judged(
    bound: Bound, path: Path, data: Mapping[str, Any], name: str, ran: Ran, each: Each | None
) -> int:
    """Raises whatever the rule raises, and `Nonsense` for what is no answer."""
    passed, lost = 0, False
    most = len(ran.findings) + MOST
    for place, answer in _answers(bound, path, each):
        if isinstance(answer, Pass):
            passed += 1
            continue
        if isinstance(answer, NotApplicable):
            continue
        for outcome in (answer,) if isinstance(answer, Outcome) else answer:
            if isinstance(outcome, Pass):
                passed += 1
            elif isinstance(outcome, (Fail, Open, Review)):
                at = place if outcome.at is None else outcome.at
                found = _finding(bound, data, at, outcome)
                ran.findings.append(found)
                if found.at != at and not lost and astray(data, at):
                    lost = True  # to be told once is enough
                    ran.problems.append(_astray(bound, name, at, found.at))
            elif not isinstance(outcome, NotApplicable):
                raise Nonsense(f"it is of the type {type(outcome).__name__}, which is no outcome")
            if len(ran.findings) > most:
                raise Nonsense(f"it has more than {MOST:,} findings")
    return passed


def _answers(
    bound: Bound, path: Path, each: Each | None
) -> Iterator[tuple[Any, Outcome | Iterator[Outcome]]]:
    """(place, answer) for every place that the rule judges."""
    rule, judge, settings = bound.rule, bound.rule.judge, bound.settings
    unmet = missing(path, rule.needs)
    if unmet is not None:
        yield "", unmet
        return
    if each is None:
        each = PLACES[rule.each] if isinstance(rule.each, str) else rule.each
    try:
        places = list(islice(each(path), MOST + 1))
    except (NotKnown, NotChecked) as reason:
        yield "", _open(reason)
        return
    if len(places) > MOST:
        raise Nonsense(f"it wants to judge more than {MOST:,} places")
    for place in places:
        try:
            answer = judge(place, path, settings)
        except (NotKnown, NotChecked) as reason:
            answer = _open(reason)
        yield place.at, answer if isinstance(answer, Outcome) else _all(answer)


def _all(answers: Iterable[Outcome]) -> Iterator[Outcome]:
    """One by one, as they are given; those before a fact that is not known count."""
    try:
        yield from answers
    except (NotKnown, NotChecked) as reason:
        yield _open(reason)


def _open(reason: NotKnown | NotChecked) -> Open:
    if isinstance(reason, NotKnown):
        return Open(reason.message, reason.settles, reason.at, reason.bench)
    evidence = {"controls": list(reason.controls), "combinations": reason.cells}
    return Open(reason.message, evidence=evidence)


def _finding(
    bound: Bound, data: Mapping[str, Any], at: str, outcome: Fail | Open | Review
) -> Finding:
    rule, evidence = bound.rule, outcome.evidence
    check_subject(at, evidence)
    kind: Kind = "review" if isinstance(outcome, Review) else "open"
    word = bound.word or (outcome.word if isinstance(outcome, Fail) else None) or rule.word
    remedy = None if isinstance(outcome, Open) else outcome.remedy
    found = Finding(
        rule=rule.id,
        kind="fail" if isinstance(outcome, Fail) else kind,
        word=word,
        at=existing(data, at),
        message=outcome.message,
        evidence=dict(evidence),
        safety=(outcome.safety if isinstance(outcome, Fail) else None) or rule.safety,
        remedy=remedy or rule.remedy,
        fingerprint=fingerprint(data, rule.id, at, evidence),
        bench=(outcome.bench or rule.bench) if isinstance(outcome, Open) else None,
        settles=outcome.settles if isinstance(outcome, Open) else (),
        fix=outcome.fix if isinstance(outcome, Fail) else None,
        because=outcome.because if isinstance(outcome, Fail) else None,
    )
    check(found)
    return found


def _astray(bound: Bound, name: str, at: str, lifted: str) -> Problem:
    told = lifted or "the top of the document"
    message = f"the rule points at {at}, which there cannot be; what it found is told at {told}"
    return _problem(bound, name, message)


def _crash(bound: Bound, name: str, error: BaseException) -> Problem:
    if isinstance(error, Nonsense):
        message = f"the rule's answer cannot be used, and its result is missing ({error})"
        return _problem(bound, name, message, error)
    try:
        said = " ".join(str(error).split())
    except Exception:
        said = "it cannot be told"
    kind = type(error).__name__
    what = f"{kind}: {said[:_LONGEST]}" if said else kind
    return _problem(bound, name, f"the rule crashed and its result is missing ({what})", error)


def _problem(bound: Bound, name: str, message: str, error: BaseException | None = None) -> Problem:
    from traceback import format_exception

    traceback = None if error is None else "".join(format_exception(error))
    return Problem(name, message, rule=bound.rule.id, pack=bound.pack, traceback=traceback)


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
