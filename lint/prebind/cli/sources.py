"""Which documents to read: files, whole folders, or standard input."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from prebind.problem import Problem
from prebind.report.inspection_json import relative

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.document import Document

ENDING = ".setup.json"
STANDARD_INPUT = "-"


class Source(NamedTuple):
    """A document to read, and the folder that its shared parts may not leave."""

    path: str
    root: Path | None


class Entry(NamedTuple):
    """A document, or why there is none.

    `name` is its path below the folder that was named, with slashes; the name that reports give to
    what was named itself.
    """

    name: str
    found: Source | Problem


def sources(paths: Iterable[str]) -> Iterator[Source | Problem]:
    """Every document named, or lying below a folder named; a problem where there is none."""
    return (entry.found for entry in entries(paths))


def entries(paths: Iterable[str]) -> Iterator[Entry]:
    """The same with their names."""
    for path in dict.fromkeys(paths):
        if path != STANDARD_INPUT and Path(path).is_dir():
            yield from _folder(path)
        else:
            yield Entry(relative(path), Source(path, _root(path)))


def _folder(path: str) -> Iterator[Entry]:
    nothing = True
    for found in _below(path, Path(path), ""):
        nothing = False
        yield found
    if nothing:
        message = f"there is no file *{ENDING} in this folder or below it"
        yield Entry(relative(path), Problem(path, message))


def _below(folder: str, root: Path, name: str) -> Iterator[Entry]:
    """Documents in a folder and below it, by name.  Links to folders are not followed."""
    try:
        with os.scandir(folder) as there:
            found = sorted(there, key=lambda entry: entry.name)
    except OSError as error:
        yield Entry(name, Problem(folder, f"this folder cannot be read: {error.strerror}"))
        return
    for entry in found:
        path = entry.name if folder == os.curdir else entry.path
        if entry.is_dir(follow_symlinks=False):
            yield from _below(path, root, f"{name}{entry.name}/")
        elif entry.name.endswith(ENDING) and _document(entry):
            yield Entry(f"{name}{entry.name}", Source(path, root))


def _document(entry: os.DirEntry[str]) -> bool:
    """A file, or a link to one or to nothing, which will be reported; no pipe or device."""
    return entry.is_file() or (entry.is_symlink() and not Path(entry.path).exists())


def _root(path: str) -> Path | None:
    """This folder where the file lies in it, as if the folder were inspected; else the file's."""
    if path == STANDARD_INPUT:
        return None
    here = Path.cwd()
    return here if Path(os.path.realpath(path)).is_relative_to(here) else None


def document(path: str) -> Document | list[Problem]:
    """One document, checked, or everything that is wrong with it."""
    from prebind.document import LIMIT_BYTES, read
    from prebind.document.contents import contents

    if path == STANDARD_INPUT:
        return read(standard_input(LIMIT_BYTES), path=path)
    file = Path(path)
    try:
        data = contents(file, LIMIT_BYTES + 1)
    except OSError as error:
        return [Problem(path, f"cannot be read: {error.strerror}")]
    return read(data, path=file.as_posix(), root=_root(path) or file.parent)


def standard_input(limit_bytes: int) -> bytes:
    """What is on standard input, and one byte more than the limit if there is more."""
    return sys.stdin.buffer.read(limit_bytes + 1)
