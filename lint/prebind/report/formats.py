"""The formats that an inspection can be reported in, looked up in one place.

A format is a module of this package named `inspection_<name>`, with a record `FORMAT`: to add one
is to add that file.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, Protocol, TextIO

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from prebind.inspect.finding import Report
    from prebind.inspect.inspector import Inspector
    from prebind.problem import Problem
    from prebind.rule import Word

_PREFIX = "inspection_"


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
    """A report format: what it is for, and what begins a report in it."""

    about: str
    begin: Callable[[Sheet, Run], Writer]


def find(name: str) -> Format:
    """The format of that name.  Raises KeyError where there is none."""
    from importlib import import_module

    if name not in names():
        raise KeyError(name)
    found: Format = import_module(f"{__package__}.{_PREFIX}{name}").FORMAT
    return found


def names() -> list[str]:
    """The names of all formats."""
    from pathlib import Path

    files = Path(__file__).parent.glob(f"{_PREFIX}*.py")
    return sorted(file.stem.removeprefix(_PREFIX) for file in files)
