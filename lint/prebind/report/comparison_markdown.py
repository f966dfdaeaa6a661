"""A comparison as Markdown, for a comment in a review."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from prebind.report.comparison import (
    CAUTION,
    SECTIONS,
    counted,
    line,
    not_compared,
    renamed,
    signed,
)
from prebind.report.markdown import block, code, escaped, row, table
from prebind.report.sign_text import PROVES
from prebind.report.telling import many, place

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from prebind.document.positions import Place
    from prebind.inspect.comparing import Comparison
    from prebind.inspect.finding import Finding, Report
    from prebind.report.comparison import Naming


CHANGES, OTHERS = 40_000, 20_000
"""Characters of the tables of changes, and of the others; sites allow a comment 65,536."""


class _Room:
    """Takes rows as long as there is room, and counts the others."""

    def __init__(self, characters: int) -> None:
        self._left = characters
        self.left_out = 0

    def table(self, heads: Sequence[str], rows: Iterable[Iterable[str]]) -> str:
        return table(heads, [cells for cells in map(list, rows) if self._takes(cells)])

    def _takes(self, cells: list[str]) -> bool:
        size = len(row(cells))
        if size > self._left:
            self.left_out += 1
            return False
        self._left -= size
        return True


def comparison_markdown(found: Comparison, named: Naming) -> Iterator[str]:
    """`named` gives a file's name as the report tells it."""
    first, room = _Room(CHANGES), _Room(OTHERS)
    yield f"# {_called(found.old, named)}, then {_called(found.new, named)}\n\n"
    yield block(escaped(counted(found)))
    for section, changes in groupby(found.changes, key=lambda it: it.section):
        yield f"## {SECTIONS[section]}\n\n"
        yield first.table(("what", "was", "now"), (map(escaped, line(it)) for it in changes))
    gained = ((it, found.new.place(it)) for it in found.gained)
    lost = ((it.finding, it.place) for it in found.lost)
    for heading, findings in (("Findings gained", gained), ("Findings lost", lost)):
        its = [_finding(it, at, named) for it, at in findings]
        if its:
            yield f"## {heading}\n\n"
            yield room.table(("word", "rule", "finding", "place"), its)
    if found.repeat:
        yield "## Checks to repeat on the model\n\n"
        checks = ((code(it.check), PROVES[it.check], escaped(signed(it))) for it in found.repeat)
        yield table(("check", "what it proves", "how it stood"), checks)
    if found.not_compared:
        yield "## Not compared: these may have changed too\n\n"
        facts = ((escaped(not_compared(it)),) for it in found.not_compared)
        yield room.table(("fact",), facts)
    if found.renamed:
        yield "## Called otherwise, and the same in effect\n\n"
        yield room.table(("name",), ((escaped(renamed(it)),) for it in found.renamed))
    if first.left_out or room.left_out:
        rows = many(first.left_out + room.left_out, "row")
        yield block(f"{rows} did not fit here; `--report json` has them all.")
    yield block(escaped(CAUTION))


def _called(report: Report, named: Naming) -> str:
    assert report.setup is not None
    return f"“{escaped(report.setup.model.name)}” {code(named(report.path_name))}"


def _finding(found: Finding, at: Place | None, named: Naming) -> Iterator[str]:
    yield found.word if found.kind == "fail" else found.kind
    yield code(found.rule)
    yield f"{escaped(found.message)}{'' if found.waived is None else ' (accepted by a waiver)'}"
    yield "" if at is None else code(place(named(at.file), at.line, at.column))
