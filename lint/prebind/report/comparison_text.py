"""A comparison as text, for a person at a bench."""

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
from prebind.report.sign_text import PROVES
from prebind.report.telling import place
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.document.positions import Place
    from prebind.format import Sheet
    from prebind.inspect.comparing import Comparison
    from prebind.inspect.finding import Finding, Report
    from prebind.report.comparison import Naming


def comparison_text(found: Comparison, named: Naming, sheet: Sheet) -> Iterator[str]:
    """`named` gives a file's name as the report tells it."""
    width = sheet.width
    title = f"{_called(found.old, named)}, then {_called(found.new, named)}"
    yield f"{paragraph(title, width)}{'=' * min(len(title), width)}\n\n"
    yield paragraph(counted(found), width)
    for section, changes in groupby(found.changes, key=lambda it: it.section):
        yield from _listed(SECTIONS[section], (line(it).sentence for it in changes), width)
    gained = ((it, found.new.place(it)) for it in found.gained)
    lost = ((it.finding, it.place) for it in found.lost)
    yield from _findings("Findings gained", gained, named, sheet)
    yield from _findings("Findings lost", lost, named, sheet)
    checks = (f"{it.check}: {PROVES[it.check]}; it {signed(it)}." for it in found.repeat)
    yield from _listed("Checks to repeat on the model", checks, width)
    facts = (f"{not_compared(it)}." for it in found.not_compared)
    yield from _listed("Not compared: these may have changed too", facts, width)
    names = (f"{renamed(it)}." for it in found.renamed)
    yield from _listed("Called otherwise, and the same in effect", names, width)
    yield f"\n{paragraph(CAUTION, width)}"


def _called(report: Report, named: Naming) -> str:
    assert report.setup is not None
    return f"“{clean(report.setup.model.name)}” {clean(named(report.path_name))}"


def _listed(heading: str, texts: Iterable[str], width: int) -> Iterator[str]:
    lines = [paragraph(clean(text), width, "- ", "  ") for text in texts]
    if lines:
        yield f"\n{heading}\n\n"
        yield from lines


def _findings(
    heading: str,
    findings: Iterable[tuple[Finding, Place | None]],
    named: Naming,
    sheet: Sheet,
) -> Iterator[str]:
    """Each begins with a line in a form of the GNU coding standards, so that an editor can jump."""
    lines = []
    for it, at in findings:
        where = "" if at is None else f"{place(named(at.file), at.line, at.column)}: "
        word = it.word if it.kind == "fail" else it.kind
        waived = "" if it.waived is None else " (accepted by a waiver)"
        head, text = f"{where}{word}: ", f"{it.rule}: {clean(it.message)}{waived}"
        lines.append(paragraph(text, _jump(sheet), head, "    "))
    if lines:
        yield f"\n{heading}\n\n"
        yield from lines


def _jump(sheet: Sheet) -> int | None:
    """A line that tells a place is broken only where no program reads along."""
    return sheet.width if sheet.broken_lines else None
