"""The inspection as JUnit XML, so that a build server shows each rule as a test of each document.

Written document by document, in ASCII.  A build server may print any of it: text from a document
never begins a line, and holds nothing that looks like a command to one.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from prebind.format import InSteps
from prebind.report.inspection_json import relative
from prebind.report.inspection_text import REMINDER
from prebind.report.wording import clean, evidence

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from prebind.format import Run, Sheet
    from prebind.inspect.finding import Finding, Report
    from prebind.problem import Problem
    from prebind.rule import Rule

_LABEL = 10  # characters for the words before place, evidence, safety and the rest


class _Piece(NamedTuple):
    """A document's suite as text, and the problems that stand in it."""

    suite: str
    problems: tuple[Problem, ...]


class InJUnit(InSteps[_Piece]):
    def __init__(self, sheet: Sheet, run: Run) -> None:
        self._out = sheet.out
        self._told: set[Problem] = set()
        name = "prebind" if run.part is None else f"prebind, {run.part}"
        self._out.write(f'<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="{name}">\n')

    def piece(self, report: Report) -> _Piece:
        faults = [problem for problem in report.problems if problem.rule is None]
        cases = [_problem_case("document", faults)]
        if report.document is not None:
            cases += [_rule_case(report, rule) for rule in report.rules.values()]
        return _Piece(_suite(relative(report.path_name), cases), report.problems)

    def add(self, piece: _Piece) -> None:
        self._out.write(piece.suite)
        self._told.update(piece.problems)

    def end(self, problems: Sequence[Problem]) -> None:
        left = [problem for problem in problems if problem not in self._told]
        if left:
            cases = [_problem_case(one.pack or one.path, [one]) for one in left]
            self._out.write(_suite("prebind", cases))
        self._out.write("</testsuites>\n")


begin = InJUnit


def _suite(name: str, cases: list[Element]) -> str:
    told = Counter(child.tag for case in cases for child in case)
    suite = Element(
        "testsuite",
        name=_safe(name),
        tests=str(len(cases)),
        failures=str(told["failure"]),
        errors=str(told["error"]),
        skipped=str(told["skipped"]),
    )
    suite.extend(cases)
    SubElement(suite, "system-out").text = REMINDER
    indent(suite)
    return f"{tostring(suite).decode('ascii')}\n"


# One test


def _problem_case(name: str, problems: Sequence[Problem]) -> Element:
    """A test that fails where there is any problem; what a document's first test says."""
    case = Element("testcase", classname="prebind", name=_safe(name))
    _because_of(case, problems)
    return case


def _because_of(case: Element, problems: Sequence[Problem]) -> None:
    if not problems:
        return
    message = f"problem: {problems[0].message}{_more(problems)}"
    lines = (line for problem in problems for line in _problem_lines(problem))
    _child(case, "error", lines, type="problem", message=message)


def _rule_case(report: Report, rule: Rule) -> Element:
    case = Element("testcase", classname=_safe(rule.family), name=_safe(rule.id))
    _because_of(case, [problem for problem in report.problems if problem.rule == rule.id])
    if rule.id in report.not_run:
        _child(case, "skipped", (), message="left out, not run")
    elif rule.id in report.not_applicable:
        _child(case, "skipped", (), message="not applicable")
    else:
        _judged(case, report, [found for found in report.findings if found.rule == rule.id])
    return case


def _judged(case: Element, report: Report, findings: list[Finding]) -> None:
    live = [found for found in findings if found.waived is None]
    failed = [found for found in live if _standing(found) == "fail"]
    told = failed or live
    if told:
        first = told[0]
        word = first.word if failed else _standing(first)
        message = f"{word}: {first.message}{_more(told)}"
        lines = _lines(report, told)
        _child(case, "failure" if failed else "skipped", lines, type=word, message=message)
    beside = [found for found in findings if found not in told]
    if beside:
        _child(case, "system-out", _lines(report, beside))


def _standing(found: Finding) -> str:
    """Its kind, or `known` where it fails as it did in an earlier report: that grounds no more."""
    known = found.kind == "fail" and found.baseline == "unchanged"
    return "known" if known else found.kind


def _child(case: Element, tag: str, lines: Iterable[str], **attributes: str) -> None:
    child = SubElement(case, tag, {name: _safe(text) for name, text in attributes.items()})
    child.text = "".join(f"{_safe(line)}\n" for line in lines)


# Text


def _safe(text: str) -> str:
    """On one line, legal in XML, and without the signs that begin a build server's commands."""
    return clean(text).replace("##", "#\\u0023").replace("::", ":\\u003a")


def _more(several: Sequence[object]) -> str:
    return f" (and {len(several) - 1} more)" if len(several) > 1 else ""


def _problem_lines(problem: Problem) -> Iterator[str]:
    yield f"problem: {problem.message}"
    yield _labelled("at", _place(problem.path, problem.line, problem.column))
    if problem.pack is not None:
        yield _labelled("pack", problem.pack)


def _lines(report: Report, findings: Iterable[Finding]) -> Iterator[str]:
    for found in findings:
        standing = _standing(found)
        kind = "" if standing == "fail" else f"{standing}, "
        yield f"{kind}{found.word}: {found.message}"
        for label, text in _facts(report, found):
            if text:
                yield _labelled(label, text)


def _facts(report: Report, found: Finding) -> Iterator[tuple[str, str]]:
    place = report.place(found)
    if place is not None:
        yield "at", f"{_place(place.file, place.line, place.column)} {found.at}".rstrip()
    if found.because is not None:
        yield "because", f"it follows from {found.because.rule} at {found.because.at}"
    yield "evidence", evidence(found.evidence)
    if found.waived is not None:
        waived = found.waived
        yield "waived", f"by {waived.by} until {waived.until}: {waived.reason}"
    if found.kind == "open":
        yield "settled by", ", ".join(found.settles)
        yield "by hand", found.bench or ""
        return
    yield "safety", found.safety
    yield "remedy", found.remedy


def _labelled(label: str, text: str) -> str:
    return f"{label:<{_LABEL}} {text}"


def _place(path: str, line: int | None, column: int | None) -> str:
    return relative(path) if line is None else f"{relative(path)}:{line}:{column}"
