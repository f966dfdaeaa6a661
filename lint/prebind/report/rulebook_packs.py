"""The packs as text: which are in force, where each came from, what was refused or is broken."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.inspection_text import problem_line
from prebind.report.tables import Numbers, table
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from prebind.format import Sheet
    from prebind.inspect.inspector import Inspector
    from prebind.packs import Origin
    from prebind.problem import Problem

_FROM: Mapping[Origin, str] = {
    "installed": "installed",
    "sheet": "rule sheet",
    "file": "Python file",
}


def packs_text(inspector: Inspector, problems: Sequence[Problem], sheet: Sheet) -> Iterator[str]:
    """The packs in force as a table, then those refused, then what is wrong with packs."""
    width = sheet.width
    heads = ("pack", "version", Numbers("rules"), Numbers("formats"), "from", "where")
    rows = [
        (
            pack.name,
            pack.version,
            str(len(pack.rules)),
            str(len(pack.formats)),
            _FROM[pack.origin],
            pack.where,
        )
        for pack in inspector.packs
    ]
    yield table(heads, rows, width)
    for pack in inspector.packs:
        for note in pack.notes:
            yield paragraph(f"{clean(pack.label)}: {clean(note)}", width, "\n", "    ")
    if inspector.refused:
        yield "\nRefused, as the command line or the settings ask\n"
    for refused in inspector.refused:
        text = f"{refused.name} {refused.version}, {_FROM[refused.origin]}: {refused.where}"
        yield paragraph(clean(text), width, "    ", "      ")
    if problems:
        yield "\nNot in force, or not as a whole\n"
    for problem in problems:
        yield problem_line(problem, width if sheet.broken_lines else None)
    yield "\n"
    yield paragraph("`prebind rulebook --of PACK` lists the rules of one.", width)
