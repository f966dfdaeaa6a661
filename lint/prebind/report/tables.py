"""Tables in plain text, no wider than the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.wording import clean

if TYPE_CHECKING:
    from collections.abc import Sequence

Rows = list[list[str]]


class Numbers(str):
    """The head of a column of numbers, which is set to the right."""


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> str:
    """Aligned columns under their heads, ending in a line feed.

    Where the page is too narrow the text in the cells is wrapped.
    """
    from io import StringIO

    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    drawn = Table(
        box=box.SIMPLE_HEAD,
        show_edge=False,
        pad_edge=False,
        padding=(0, 1, 0, 0),
    )
    for head in heads:
        right = isinstance(head, Numbers)
        drawn.add_column(
            Text(clean(head)),
            justify="right" if right else "left",
            no_wrap=right,
            overflow="fold",
        )
    for row in rows:
        drawn.add_row(*(Text(clean(cell)) for cell in row))
    page = Console(file=StringIO(), width=width, color_system=None, force_terminal=False)
    page.print(drawn)
    assert isinstance(page.file, StringIO)
    return "".join(f"{line.rstrip()}\n" for line in page.file.getvalue().splitlines())
