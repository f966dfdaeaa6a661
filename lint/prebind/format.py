"""What a report format is.  Public: packs import from here.

A format begins a writer for each report; the writer is handed one document's report after another::

    class Board:
        def __init__(self, sheet: Sheet, run: Run) -> None:
            self._out = sheet.out

        def document(self, report: Report) -> None:
            self._out.write(f"{report.path_name}: {report.outcomes}")

        def end(self, problems: Sequence[Problem]) -> None:
            self._out.write(f"{len(problems)} problems")

    BOARD = Format("board", Board)

What comes from a document may hold anything: a writer escapes it as its format demands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol, TextIO

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from prebind.inspect.finding import Report
    from prebind.inspect.inspector import Inspector
    from prebind.problem import Problem
    from prebind.rule import Word

__all__ = ["Format", "Run", "Sheet", "Writer"]


class Run(NamedTuple):
    """What holds for the whole inspection: rules and settings in force, and what grounds."""

    inspector: Inspector
    ground_at: Word = "caution"
    complete: bool = False


class Sheet(NamedTuple):
    """Where a report is written: `width` in characters; `colour` for a terminal that shows it.

    `broken_lines`: whether a line that tells a place, which other programs may read, may be broken
    at the width too.
    """

    out: TextIO
    width: int = 100
    colour: bool = False
    broken_lines: bool = False


class Writer(Protocol):
    """Writes one document after another, so that no more than one need be held in memory."""

    def document(self, report: Report) -> None:
        """The report on the next document.  A broken one has nothing but its problems."""

    def end(self, problems: Sequence[Problem]) -> None:
        """Closes the report with every problem of the run, those of documents included."""


class Format(NamedTuple):
    """A report format: the name that it is asked for by, and what begins a report in it."""

    name: str
    begin: Callable[[Sheet, Run], Writer]
