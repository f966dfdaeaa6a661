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

Where documents are inspected in several processes, a report is sent to the one that writes, which
costs it more than a short line is worth.  A writer that is `InSteps` sends what it makes of a
report instead.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Generic, NamedTuple, Protocol, TextIO, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from prebind.inspect.finding import Report
    from prebind.inspect.inspector import Inspector
    from prebind.inspect.part import Part
    from prebind.problem import Problem
    from prebind.rule import Word

__all__ = ["Format", "InSteps", "Run", "Sheet", "Writer"]

Piece = TypeVar("Piece")


class Run(NamedTuple):
    """What holds for the whole inspection: rules and settings in force, and what grounds.

    `part` is given where only a part of what was named is inspected.
    """

    inspector: Inspector
    ground_at: Word = "caution"
    complete: bool = False
    part: Part | None = None


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


class InSteps(ABC, Generic[Piece]):
    """A writer that makes a piece of each document, and adds one piece after another.

    Pieces can be pickled.  They are made by a writer that may have been begun in another process,
    with the same run and a sheet that looks the same, whose `out` is kept by nobody.
    """

    @abstractmethod
    def piece(self, report: Report) -> Piece:
        """What this document gives; the writer stays as it is."""

    @abstractmethod
    def add(self, piece: Piece) -> None:
        """Writes the next document, or counts it."""

    def document(self, report: Report) -> None:
        """Both, one after the other."""
        self.add(self.piece(report))

    @abstractmethod
    def end(self, problems: Sequence[Problem]) -> None:
        """As that of any writer."""


class Format(NamedTuple):
    """A report format: the name that it is asked for by, and what begins a report in it."""

    name: str
    begin: Callable[[Sheet, Run], Writer]
