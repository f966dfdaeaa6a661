"""The inspection as Markdown, short enough for a comment in a review.

Kept within the size that a comment may have: what does not fit is counted.  No text of a document
can become markup, a link, a mention or a reference, whatever site shows the comment.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from prebind.report.inspection_json import relative
from prebind.report.inspection_text import REMINDER
from prebind.report.markdown import escaped, row
from prebind.report.telling import Tally, counted, counts, left_out, many, place, worded
from prebind.report.wording import clean
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from prebind.format import Run, Sheet
    from prebind.inspect.finding import Earlier, Finding, Kind, Report
    from prebind.problem import Problem
    from prebind.rule import Word

ROOM = 60_000  # bytes of the whole; sites allow a comment 65,536 characters
_MOST = 200  # rows of a table
_GROUPS = 50  # of checks that could not be made
_CELL = 400  # characters of a cell, before escaping
_NAME = 120  # characters of a place or a key
_MORE = 1_000  # bytes kept free for what ends tables and lists

_KINDS: Mapping[Kind, str] = {"fail": "", "review": ", to judge", "open": ", not checked"}
_DANGEROUS: tuple[Word, ...] = ("danger", "warning")


class InMarkdown:
    def __init__(self, sheet: Sheet, run: Run) -> None:
        self._out = sheet.out
        self._run = run
        self._tally = Tally(run)
        self._grounding = {word: _Rows() for word in WORDS}
        self._others = {word: _Rows() for word in WORDS}
        self._waived = _Rows()
        self._gone = _Rows()
        self._against: Counter[str] = Counter()
        self._unsettled = _Unsettled()
        self._advice: dict[Word, dict[str, str]] = {word: {} for word in WORDS}

    def document(self, report: Report) -> None:
        self._tally.add(counted(report, self._run))
        grounding = report.grounding(self._run.ground_at, self._run.complete)
        ids = set(map(id, grounding))
        for found in report.findings:
            self._against[found.baseline or ""] += 1
            self._sort(report, found, id(found) in ids)
        for was in report.gone or ():
            self._gone.add(_gone_row, was)

    def _sort(self, report: Report, found: Finding, grounds: bool) -> None:
        if found.waived is not None:
            self._waived.add(_waived_row, report, found)
            return
        if found.kind == "open":
            self._unsettled.add(report, found)
        if grounds:
            self._grounding[found.word].add(_row, report, found)
            if found.kind == "fail" and len(self._advice[found.word]) < _GROUPS:
                self._advice[found.word].setdefault(found.rule, _advice(found))
        elif found.kind != "open":
            self._others[found.word].add(_row, report, found)

    def end(self, problems: Sequence[Problem]) -> None:
        last = f"{_escaped(REMINDER)}\n"
        page = _Page(ROOM - _size(last))
        page.add(self._first(problems))
        self._grounds(page)
        if problems:
            page.add("### Not to be trusted\n\nNot inspected, or not by every rule.\n\n")
            rows = _rows_of(map(_problem_row, problems[:_MOST]), len(problems))
            page.table(("place", "problem"), rows, keep=ROOM // 5)
        self._since(page)
        self._not_checked(page)
        self._rest(page)
        page.end()
        self._out.write(f"{page.text}{last}")

    # Sections

    def _first(self, problems: Sequence[Problem]) -> str:
        tally = self._tally
        trust = f"Not to be trusted: {many(len(problems), 'problem')}. " if problems else ""
        if not tally.documents:
            return f"**{trust}No document was inspected.**\n\n"
        found = tally.verdict
        if tally.grounding:
            found = f"{found.removesuffix('.')}: {worded(tally.grounding)}."
        said = counts(tally.outcomes, tally.failed)
        return f"**{trust}{found}** {tally.inspected}: {said}.\n\n"

    def _grounds(self, page: _Page) -> None:
        rows = _joined(self._grounding.values())
        if not rows.total:
            return
        page.add("### What grounds\n\n")
        page.table(("word", "rule", "place", "what is wrong"), rows, keep=ROOM // 2)
        dangerous = [text for word in _DANGEROUS for text in self._advice[word].values()]
        if dangerous:
            page.add("### Safety, and what to do\n\n")
            page.lines(_rows_of(dangerous), keep=ROOM // 3)

    def _since(self, page: _Page) -> None:
        if not self._tally.since:
            return
        against = (
            f"{self._against['new']} new, {self._against['unchanged']} known from it, "
            f"{self._gone.total} gone"
        )
        page.add(f"### Since the earlier report\n\n{against}.\n\n")
        if self._gone.total:
            page.folded(f"Gone: {self._gone.total}", ("rule", "what it was"), self._gone)

    def _not_checked(self, page: _Page) -> None:
        unsettled = self._unsettled
        if not unsettled.total:
            return
        page.add(
            f"### Not checked: {many(unsettled.total, 'check')}\n\n"
            "What is not shown is not proven: write down the missing keys, or do the checks by "
            "hand.\n\n"
        )
        heads = ("settled by", "checks", "place", "what is missing, and how to see for oneself")
        page.table(heads, unsettled.rows(), keep=ROOM // 10)

    def _rest(self, page: _Page) -> None:
        others = _joined(self._others.values())
        heads = ("word", "rule", "place", "what is wrong, or to judge")
        page.folded(f"Does not ground: {many(others.total, 'finding')}", heads, others)
        page.folded(
            f"Accepted by a waiver: {many(self._waived.total, 'finding')}",
            ("word", "rule", "place", "what is wrong, and why it is accepted"),
            self._waived,
        )
        lesser = [
            text for word in WORDS if word not in _DANGEROUS for text in self._advice[word].values()
        ]
        if lesser and page.begin("Safety, and what to do, for the rest of what grounds"):
            page.lines(_rows_of(lesser))
            page.close()
        without = list(left_out(self._run.inspector))
        if without:
            named = ", ".join(map(_code, without[:_GROUPS]))
            more = f", and {len(without) - _GROUPS} more" if len(without) > _GROUPS else ""
            page.add(f"Left out, not run: {named}{more}.\n\n")
        for sentence in self._tally.decided:
            page.add(f"{_escaped(sentence, _CELL)}\n\n")


begin = InMarkdown


# What fits


class _Rows:
    """The first rows of a table, and how many there are in all."""

    def __init__(self) -> None:
        self.kept: list[str] = []
        self.total = 0

    def add(self, make: Callable[..., str], *told: Any) -> None:
        """Counts one more, and makes its row where there is room for it."""
        self.total += 1
        if len(self.kept) < _MOST:
            self.kept.append(make(*told))


def _rows_of(rows: Iterable[str], total: int | None = None) -> _Rows:
    """The rows that were kept, of so many in all."""
    made = _Rows()
    made.kept = list(rows)
    made.total = len(made.kept) if total is None else total
    return made


def _joined(parts: Iterable[_Rows]) -> _Rows:
    """One table of several, the first ones first."""
    every = list(parts)
    kept = [row for part in every for row in part.kept]
    return _rows_of(kept[:_MOST], sum(part.total for part in every))


class _Page:
    """Text of bounded size."""

    def __init__(self, room: int) -> None:
        self._room = room - _MORE
        self._parts: list[str] = []
        self._cut = False

    @property
    def text(self) -> str:
        return "".join(self._parts)

    def add(self, text: str, keep: int = 0) -> bool:
        """Whether the text found room, and left so many bytes free."""
        if _size(text) > self._room - keep:
            self._cut = True
            return False
        self._put(text)
        return True

    def _put(self, text: str) -> None:
        self._room -= _size(text)
        self._parts.append(text)

    def table(self, heads: Sequence[str], rows: _Rows, keep: int = 0) -> None:
        if self.add(f"{row(heads)}{row(['---'] * len(heads))}", keep):
            self.lines(rows, keep)

    def lines(self, lines: _Rows, keep: int = 0) -> None:
        """As many as find room and leave `keep` bytes for what follows; the others are counted."""
        shown = 0
        for line in lines.kept:
            if not self.add(line, keep):
                break
            shown += 1
        if shown < lines.total:
            left = lines.total - shown
            self._put(f"\nand {left} more, which the other reports have.\n")
        self._put("\n")

    def folded(self, summary: str, heads: Sequence[str], rows: _Rows) -> None:
        """A table that is opened on demand, where there is anything in it."""
        if rows.total and self.begin(summary):
            self.table(heads, rows)
            self.close()

    def begin(self, summary: str) -> bool:
        return self.add(f"<details>\n<summary>{summary}</summary>\n\n")

    def close(self) -> None:
        self._put("</details>\n\n")

    def end(self) -> None:
        if self._cut:
            self._put("Cut to the size of a comment: the other reports have the whole.\n\n")


def _size(text: str) -> int:
    return len(text.encode("utf-8"))


# What could not be checked


class _Unsettled:
    """Checks by the keys that would settle them, the first of each as the one to tell."""

    def __init__(self) -> None:
        self.total = 0
        self._counts: Counter[tuple[str, ...]] = Counter()
        self._told: dict[tuple[str, ...], str] = {}

    def add(self, report: Report, found: Finding) -> None:
        self.total += 1
        key = found.settles or (found.message,)
        if key not in self._told and len(self._told) >= _GROUPS:
            return
        self._counts[key] += 1
        if key not in self._told:
            self._told[key] = (
                f"{_where(report, found)} | {_escaped(found.message, _CELL)}. **By hand:** "
                f"{_escaped(found.bench or '', _CELL)}"
            )

    def rows(self) -> _Rows:
        """A row for each key; what belongs to keys beyond the bound is counted as it is."""
        rows = [
            f"| {_keys(key)} | {self._counts[key]} | {told} |\n" for key, told in self._told.items()
        ]
        return _rows_of(rows, len(rows) + self.total - self._counts.total())


def _keys(key: tuple[str, ...]) -> str:
    named = [_code(name) for name in key[:3] if name.startswith("/")]
    return ", ".join(named) + (f" and {len(key) - 3} more" if len(key) > 3 else "")


# Rows, and what is safe in them


def _row(report: Report, found: Finding) -> str:
    word = f"{found.word}{_KINDS[found.kind]}"
    since = f" ({found.baseline})" if found.baseline else ""
    message = f"{_escaped(found.message, _CELL)}{since}"
    return row((f"**{word}**", _code(found.rule), _where(report, found), message))


def _waived_row(report: Report, found: Finding) -> str:
    waived = found.waived
    assert waived is not None  # asked only of those
    why = f"Accepted by {waived.by} until {waived.until}: {waived.reason}"
    message = f"{_escaped(found.message, _CELL)} {_escaped(why, _CELL)}"
    return row((found.word, _code(found.rule), _where(report, found), message))


def _gone_row(was: Earlier) -> str:
    return row((_code(was.rule), f"{was.word}: {_escaped(was.message, _CELL)}"))


def _problem_row(problem: Problem) -> str:
    whose = ": ".join(name for name in (problem.pack, problem.rule) if name)
    said = f"{whose}: {problem.message}" if whose else problem.message
    where = place(relative(problem.path), problem.line, problem.column)
    return row((_code(where), _escaped(said, _CELL)))


def _advice(found: Finding) -> str:
    safety, remedy = _escaped(found.safety, _CELL * 2), _escaped(found.remedy, _CELL * 2)
    return f"- {_code(found.rule)} **Safety:** {safety} **Remedy:** {remedy}\n"


def _where(report: Report, found: Finding) -> str:
    where = report.place(found)
    if where is None:
        return _code(relative(report.path_name))
    return _code(place(relative(where.file), where.line, where.column))


def _code(name: str) -> str:
    """A name or a place, of which the end tells most."""
    end = clean(name[-_NAME - 1 :])
    short = end if len(end) <= _NAME else f"…{end[1 - _NAME :]}"
    return f"<code>{_escaped(short)}</code>"


def _escaped(text: str, most: int | None = None) -> str:
    """Text that is nothing but text, on one line, cut after `most` characters."""
    shown = clean(text if most is None else text[: most + 1])
    if most is not None and len(shown) > most:
        shown = f"{shown[: most - 1]}…"
    return escaped(shown)
