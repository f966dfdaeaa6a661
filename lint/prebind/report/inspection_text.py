"""The inspection as text, for a person at a bench.

Each finding begins with a line in a form of the GNU coding standards, `file:line:column: …`, so
that an editor can jump to the place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.format import InSteps
from prebind.report.telling import (
    SINCE,
    Counted,
    Tally,
    chained,
    change,
    counted,
    counts,
    failed,
    left_out,
    many,
    place,
)
from prebind.report.wording import clean, evidence, paragraph
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.document.positions import Place
    from prebind.format import Run, Sheet
    from prebind.inspect.finding import Earlier, Finding, Report
    from prebind.problem import Problem
    from prebind.rule import Word

REMINDER = (
    "This report judges what someone wrote down, not the model. A person decides. Prove controls, "
    "corrections, throttle cut and failsafe on the model, propeller off, before each first flight "
    "and after every change. The law where you fly, the site's rules, the makers' instructions "
    "and an experienced instructor come first."
)

_COLOURS = {"danger": "1;37;41", "warning": "1;31", "caution": "1;33", "notice": "1;34"}
_LABEL = 10  # characters for the words before evidence, safety and the rest
_INDENT = "    "
_LONG = 8  # steps on the bench


class _Piece(NamedTuple):
    """A document as text, empty for a broken one, and what counts of it."""

    text: str
    counted: Counted | None


class Text(InSteps[_Piece]):
    def __init__(self, sheet: Sheet, run: Run) -> None:
        self._sheet = sheet
        self._run = run
        self._tally = Tally(run)

    def piece(self, report: Report) -> _Piece:
        page = _Page(self._sheet)
        if report.document is not None:
            page.document(report)
        return _Piece(page.text, counted(report, self._run))

    def add(self, piece: _Piece) -> None:
        self._sheet.out.write(piece.text)
        self._tally.add(piece.counted)

    def end(self, problems: Sequence[Problem]) -> None:
        page = _Page(self._sheet)
        page.problems(problems)
        page.say(f"{self._tally.inspected}.")
        if self._tally.documents > 1:
            page.say(f"{counts(self._tally.outcomes, self._tally.failed)}.")
        if self._tally.documents:
            page.say(self._tally.verdict)
        if self._run.inspector.not_run:
            named = ", ".join(map(clean, left_out(self._run.inspector)))
            page.say(f"Left out, not run: {named}.")
        for sentence in self._tally.decided:
            page.say(sentence)
        page.gap()
        page.say(REMINDER)
        self._sheet.out.write(page.text)


begin = Text


class _Page:
    """Lines as wide as a sheet wants them."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._jump = sheet.width if sheet.broken_lines else None
        self._parts: list[str] = []

    @property
    def text(self) -> str:
        return "".join(self._parts)

    def problems(self, problems: Sequence[Problem]) -> None:
        if not problems:
            return
        self.say(
            f"Not to be trusted: {many(len(problems), 'problem')}. What is named here was "
            "not inspected, or not by every rule."
        )
        self.gap()
        self._parts += [problem_line(problem, self._jump) for problem in problems]
        self.gap()

    def document(self, report: Report) -> None:
        self._title(report)
        live = [finding for finding in report.findings if finding.waived is None]
        self._failures(report, [finding for finding in live if finding.kind == "fail"])
        self._reviews(report, [finding for finding in live if finding.kind == "review"])
        self._open(report, [finding for finding in live if finding.kind == "open"])
        self._waived(report, [finding for finding in report.findings if finding.waived is not None])
        self._gone(report.gone or ())
        self.say(f"{counts(report.outcomes, failed(report.findings))}.")
        self.gap()

    def _title(self, report: Report) -> None:
        name = f"“{clean(report.setup.model.name)}”" if report.setup is not None else ""
        title = f"{name}, {clean(report.path_name)}"
        self.say(title)
        self.say("=" * min(len(title), self._sheet.width))
        self.gap()

    def _failures(self, report: Report, findings: list[Finding]) -> None:
        chain = list(chained(findings))
        for word in WORDS:
            blocks = [(cause, found) for top, cause, found in chain if top.word == word]
            if not blocks:
                continue
            self.say(word.capitalize())
            self.gap()
            for i, (cause, found) in enumerate(blocks):
                self._finding(report, found, cause)
                then = blocks[i + 1] if i + 1 < len(blocks) else None
                if then is None or _advice(then[1]) != _advice(found):
                    self._advise(found)
                    self.gap()

    def _reviews(self, report: Report, findings: list[Finding]) -> None:
        if not findings:
            return
        self.say(f"For a person to judge: {many(len(findings), 'finding')}")
        self.gap()
        for found in findings:
            self._finding(report, found, None)
            self._advise(found)
            self.gap()

    def _finding(self, report: Report, found: Finding, cause: Finding | None) -> None:
        self._line(report.place(found), found.word, f"{found.rule}: {clean(found.message)}")
        if cause is not None:
            there = report.place(cause)
            at = f" (line {there.line})" if there is not None and there.line else ""
            self._noted("because", f"it follows from {cause.rule} above{at}; mend that first")
        self._noted("since", SINCE[found.baseline] if found.baseline else "")
        self._noted("evidence", evidence(found.evidence))
        if found.fix is not None:
            self._noted("change", change(found.fix))

    def _advise(self, found: Finding) -> None:
        self._noted("safety", clean(found.safety))
        self._noted("remedy", clean(found.remedy))

    def _open(self, report: Report, findings: list[Finding]) -> None:
        if not findings:
            return
        self.say(
            f"Not checked: {many(len(findings), 'check')}. What is not shown is not proven: "
            "write down the missing keys, or do the checks by hand."
        )
        self.gap()
        groups: dict[tuple[str, tuple[str, ...]], list[Finding]] = {}
        for found in findings:
            groups.setdefault((found.message, found.settles), []).append(found)
        for (message, settles), group in groups.items():
            self._line(report.place(group[0]), "open", clean(message))
            self._noted("settled by", ", ".join(map(clean, settles)))
            self._noted("since", _many_new(group))
            for word, text in _steps(group):
                self._noted(word, text, colour=True)
            self.gap()

    def _waived(self, report: Report, findings: list[Finding]) -> None:
        if not findings:
            return
        self.say(f"Accepted by a waiver: {many(len(findings), 'finding')}")
        self.gap()
        for found in findings:
            self._line(report.place(found), found.word, f"{found.rule}: {clean(found.message)}")
            if found.waived is not None:
                by, until = clean(found.waived.by), clean(found.waived.until)
                self._noted("waived", f"by {by} until {until}: {clean(found.waived.reason)}")
            self._noted("safety", clean(found.safety))
            self.gap()

    def _gone(self, earlier: Sequence[Earlier]) -> None:
        if not earlier:
            return
        self.say(f"Gone since the earlier report: {many(len(earlier), 'finding')}")
        self.gap()
        for was in earlier:
            word = was.word if was.kind == "fail" else was.kind
            text = f"{word}: {clean(was.rule)}: {clean(was.message)}"
            self._write(paragraph(text, self._sheet.width, _INDENT, _INDENT * 2))
        self.gap()

    # Lines

    def _line(self, at: Place | None, word: str, text: str) -> None:
        where = "" if at is None else f"{place(at.file, at.line, at.column)}: "
        line = paragraph(text, self._jump, f"{where}{word}: ", _INDENT)
        self._write(line.replace(f"{where}{word}:", f"{where}{self._coloured(word)}:", 1))

    def _noted(self, label: str, text: str, colour: bool = False) -> None:
        if not text:
            return
        first = f"{_INDENT}{label:<{_LABEL}} "
        lines = paragraph(text, self._sheet.width, first, " " * len(first))
        self._write(lines.replace(label, self._coloured(label), 1) if colour else lines)

    def say(self, text: str) -> None:
        self._write(paragraph(text, self._sheet.width))

    def _coloured(self, word: str) -> str:
        if not self._sheet.colour or word not in _COLOURS:
            return word
        return f"\x1b[{_COLOURS[word]}m{word}\x1b[0m"

    def gap(self) -> None:
        self._write("\n")

    def _write(self, text: str) -> None:
        self._parts.append(text)


def problem_line(problem: Problem, width: int | None = None) -> str:
    """A problem in a form of the GNU coding standards, ending in a line feed."""
    where = place(problem.path, problem.line, problem.column)
    whose = ": ".join(clean(name) for name in (problem.pack, problem.rule) if name)
    text = f"{whose}: {clean(problem.message)}" if whose else clean(problem.message)
    return paragraph(text, width, f"{where}: problem: ", _INDENT)


def _steps(findings: list[Finding]) -> Iterator[tuple[Word, str]]:
    """(word, rules and their step on the bench), each different step once.

    Where one missing section leaves a long list, the lesser ones are named and no more.
    """
    steps: dict[str, list[Finding]] = {}
    for found in findings:
        steps.setdefault(found.bench or "", []).append(found)
    lesser: dict[Word, list[str]] = {}
    for bench, same in steps.items():
        word, rules = same[0].word, list(dict.fromkeys(found.rule for found in same))
        if len(steps) > _LONG and word in ("caution", "notice"):
            lesser.setdefault(word, []).extend(rules)
        else:
            yield word, f"{', '.join(rules)}: {clean(bench)}"
    for word, rules in lesser.items():
        yield word, f"{', '.join(rules)}: `prebind rulebook RULE` names the check by hand of each."


def _many_new(findings: list[Finding]) -> str:
    new = sum(found.baseline == "new" for found in findings)
    return f"{many(new, 'check')} new since the earlier report" if new else ""


def _advice(found: Finding) -> tuple[str, str, str]:
    """What findings of one rule may share, so that it is said once below them."""
    return found.rule, found.safety, found.remedy
