"""The core's own report formats, handed over through the hook that every pack may use.

A format is a module of this package named `inspection_<name>`, with `begin(sheet, run)`: to add one
is to add that file.  It is imported when its report is begun.
"""

from __future__ import annotations

from functools import partial
from importlib import import_module
from os import scandir
from typing import TYPE_CHECKING

from prebind.format import Format, Run, Sheet, Writer

if TYPE_CHECKING:
    from collections.abc import Iterator

_PREFIX = "inspection_"


def prebind_report_formats() -> Iterator[Format]:
    folder = __file__.rpartition("formats.py")[0]
    with scandir(folder) as entries:
        files = sorted(entry.name for entry in entries if entry.name.startswith(_PREFIX))
    for file in files:
        name = file.removeprefix(_PREFIX).removesuffix(".py")
        yield Format(name, partial(_begin, name))


def _begin(name: str, sheet: Sheet, run: Run) -> Writer:
    writer: Writer = import_module(f"{__package__}.{_PREFIX}{name}").begin(sheet, run)
    return writer
