"""The inspection as one HTML page, for a screen or for paper: findings, and pictures of each model.

The page asks nothing of anywhere: no script, no font, no image from outside, and a policy in its
head that forbids them.  Every text passes through `clean` and the template's escaping.  Models are
kept in a temporary file until the verdict, which stands first, is known.
"""

from __future__ import annotations

from tempfile import SpooledTemporaryFile
from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import frozen

from prebind.format import InSteps
from prebind.report.inspection_json import relative
from prebind.report.inspection_text import REMINDER
from prebind.report.page import digest_of, environment, in_ascii, style
from prebind.report.telling import (
    SINCE,
    Counted,
    Tally,
    chained,
    change,
    counted,
    counts,
    left_out,
    many,
    place,
)
from prebind.report.wording import evidence
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from markupsafe import Markup

    from prebind.document.positions import Place
    from prebind.format import Run, Sheet
    from prebind.inspect.finding import Finding, Report, Waived
    from prebind.problem import Problem
    from prebind.rule import Word

SHEET = "inspection.css"
_IN_MEMORY = 1024 * 1024  # bytes of each kept part
_ITS_ID = "\0"
"""Stands for a model's id until its number is known; no text has it, once it is cleaned."""


class _Piece(NamedTuple):
    """A document's row of the overview and its section, and what counts of it."""

    overview: str
    section: str
    counted: Counted


class InHtml(InSteps["_Piece | None"]):
    def __init__(self, sheet: Sheet, run: Run) -> None:
        self._out = sheet.out
        self._run = run
        self._tally = Tally(run)
        self._overview = _Kept()
        self._models = _Kept()

    def piece(self, report: Report) -> _Piece | None:
        from markupsafe import Markup

        one = counted(report, self._run)
        if one is None or report.setup is None:
            return None
        name = Markup(_ITS_ID)
        model = {
            "id": name,
            "name": report.setup.model.name,
            "file": relative(report.path_name),
            "failed": one.failed,
            "outcomes": report.outcomes,
        }
        own = Tally(self._run)
        own.add(one)
        overview = _render("overview", **model, grounded=bool(own.grounding))
        section = _render("model", **model, **self._model(report, name, own))
        return _Piece(overview, section, one)

    def add(self, piece: _Piece | None) -> None:
        if piece is None:
            return
        self._tally.add(piece.counted)
        name = f"model{self._tally.documents}"
        self._overview.add(piece.overview.replace(_ITS_ID, name))
        self._models.add(piece.section.replace(_ITS_ID, name))

    def _model(self, report: Report, name: Markup, tally: Tally) -> dict[str, Any]:
        from prebind.report.pictures import Pictures, pictures

        telling = _Telling(report, name)
        live = [found for found in report.findings if found.waived is None]
        return {
            "verdict": tally.verdict,
            "counts": counts(tally.outcomes, tally.failed),
            "decided": list(tally.decided),
            "problems": many(len(report.problems), "problem") if report.problems else "",
            "words": list(telling.by_word([found for found in live if found.kind == "fail"])),
            "judge": [telling.told(found) for found in live if found.kind == "review"],
            "open": list(telling.groups([found for found in live if found.kind == "open"])),
            "waived": [telling.told(found) for found in report.findings if found.waived],
            "gone": report.gone or (),
            "pictures": Pictures([], [], []) if report.path is None else pictures(report.path),
        }

    def end(self, problems: Sequence[Problem]) -> None:
        from prebind import __version__

        page = environment().get_template("page.html.jinja")
        parts = page.generate(
            style=style(SHEET),
            style_hash=digest_of(style(SHEET)),
            verdict=self._verdict(problems),
            inspected=self._tally.inspected,
            counts=counts(self._tally.outcomes, self._tally.failed),
            reminder=REMINDER,
            problems=[_problem(problem) for problem in problems],
            overview=self._overview.parts(),
            sections=self._models.parts(),
            left_out=list(left_out(self._run.inspector)),
            version=__version__,
        )
        for part in parts:
            self._out.write(in_ascii(part))

    def _verdict(self, problems: Sequence[Problem]) -> str:
        trust = f"Not to be trusted: {many(len(problems), 'problem')}." if problems else ""
        found = self._tally.verdict if self._tally.documents else "No document was inspected."
        return f"{trust} {found}".lstrip()


begin = InHtml


# What is told of a model


@frozen
class Link:
    """The finding that another follows from: its place in the page."""

    id: str
    rule: str


@frozen
class Told:
    """A finding as the page tells it; `facts` are (name, text) in their order."""

    id: str
    word: Word
    title: str
    rule: str
    message: str
    place: str
    at: str
    since: str
    because: Link | None
    waived: Waived | None
    facts: list[tuple[str, str]]


@frozen
class Step:
    """A check by hand, and the rules that it answers."""

    word: Word
    rules: list[str]
    bench: str


@frozen
class Group:
    """What is not known, where, which keys would settle it, and how to see for oneself."""

    message: str
    place: str
    settles: tuple[str, ...]
    steps: list[Step]


class _Telling:
    """The findings of one document, each with a place of its own in the page."""

    def __init__(self, report: Report, name: Markup) -> None:
        self._report = report
        self._rules = report.rules
        self._ids = {id(found): name + f"-finding{i}" for i, found in enumerate(report.findings, 1)}

    def by_word(self, findings: list[Finding]) -> Iterator[tuple[Word, list[Told]]]:
        """The findings by signal word, worst first, each consequence under its first cause."""
        chain = list(chained(findings))
        for word in WORDS:
            told = [self.told(found, cause) for top, cause, found in chain if top.word == word]
            if told:
                yield word, told

    def told(self, found: Finding, cause: Finding | None = None) -> Told:
        rule = self._rules.get(found.rule)
        return Told(
            self._ids[id(found)],
            found.word,
            rule.title if rule is not None else found.rule,
            found.rule,
            found.message,
            _place(self._report.place(found), self._report),
            found.at,
            SINCE.get(found.baseline or "", ""),
            None if cause is None else Link(self._ids[id(cause)], cause.rule),
            found.waived,
            list(_facts(found)),
        )

    def groups(self, findings: Iterable[Finding]) -> Iterator[Group]:
        same: dict[tuple[str, tuple[str, ...]], list[Finding]] = {}
        for found in findings:
            same.setdefault((found.message, found.settles), []).append(found)
        for (message, settles), group in same.items():
            where = _place(self._report.place(group[0]), self._report)
            yield Group(message, where, settles, list(_steps(group)))


def _steps(findings: Iterable[Finding]) -> Iterator[Step]:
    """Each different step once."""
    steps: dict[str, list[Finding]] = {}
    for found in findings:
        steps.setdefault(found.bench or "", []).append(found)
    for bench, same in steps.items():
        yield Step(same[0].word, list(dict.fromkeys(found.rule for found in same)), bench)


def _facts(found: Finding) -> Iterator[tuple[str, str]]:
    if found.evidence:
        yield "Evidence", evidence(found.evidence)
    if found.fix is not None:
        yield "Change", change(found.fix)
    if found.safety:
        yield "Safety", found.safety
    if found.remedy:
        yield "Remedy", found.remedy


def _place(where: Place | None, report: Report) -> str:
    if where is None:
        return relative(report.path_name)
    return place(relative(where.file), where.line, where.column)


def _problem(problem: Problem) -> Mapping[str, str]:
    return {
        "place": place(relative(problem.path), problem.line, problem.column),
        "whose": ": ".join(name for name in (problem.pack, problem.rule) if name),
        "message": problem.message,
    }


# The page


class _Kept:
    """Parts of the page that are written later, on disk where they are many."""

    def __init__(self) -> None:
        self._file = SpooledTemporaryFile(  # noqa: SIM115 - open until the end of the report
            _IN_MEMORY, "w+", encoding="ascii", newline=""
        )

    def add(self, part: str) -> None:
        self._file.write(in_ascii(part))

    def parts(self) -> Iterator[str]:
        from markupsafe import Markup

        with self._file as file:
            file.seek(0)
            while part := file.read(_IN_MEMORY):
                yield Markup(part)  # it was escaped when it was rendered


def _render(template: str, **values: Any) -> str:
    return environment().get_template(f"{template}.html.jinja").render(values)
