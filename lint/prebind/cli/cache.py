"""What came of documents in earlier runs: found again where all it came from is as it was.

That is the document's bytes, name and shared parts; settings, packs and the day; what the reports
look like; every file of prebind's own code and of installed packs, and what else is installed.

What cannot be known to be the same is not kept: a document with problems, and whatever is judged by
a pack that is a Python file, as nobody knows what else that reads.  An installed pack may read
nothing but its own package.  Only what the reports say is kept.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from hashlib import blake2b
from importlib import import_module
from pathlib import Path
from stat import S_ISDIR
from time import time
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind import __version__
from prebind.cli.store import Store
from prebind.document.contents import contents
from prebind.packs.installed import OURS, entry_points

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.cli.sources import Source
    from prebind.format import Run, Sheet
    from prebind.inspect.finding import Report
    from prebind.inspect.inspector import Inspector
    from prebind.inspect.nearest import Under
    from prebind.packs import Pack

SETTLED_S = 60.0
"""Code and sheets that were younger when the run began may have been others when loaded."""

_OWN = ("prebind", "prebind_rules", "prebind_schemas")


class Answer(NamedTuple):
    """What came of a document, as `Inspected` has it."""

    grounds: bool
    read: tuple[str, ...]
    pieces: tuple[Any, ...]


class _Entry(NamedTuple):
    """An answer, and digests of the shared parts that it also came from."""

    parts: tuple[bytes, ...]
    answer: Answer


class _Unknown(Exception):
    """It cannot be known whether all is the same."""


def opened(run: Run, looks: Iterable[tuple[str, Sheet]]) -> Cache | None:
    """The cache for a run; `looks` are the formats that are wanted, each with its sheet."""
    try:
        return Cache(run, looks)
    except (OSError, _Unknown):
        return None


class Cache:
    """Travels to other processes, which find and keep for themselves."""

    def __init__(self, run: Run, looks: Iterable[tuple[str, Sheet]]) -> None:
        began = time()
        self._settled_ns = int((began - SETTLED_S) * 1e9)
        self._store = Store(began)
        self._files: dict[str, str] = {}
        self._under: dict[Inspector, str | None] = {}
        self._run = _digest(
            __version__,
            sys.version,
            os.getcwd(),  # noqa: PTH109 - what a path is called depends on it
            [(name, *sheet[1:]) for name, sheet in looks],
            (run.ground_at, run.complete),
            _installed(),
            self._judging(run.inspector),
        )

    def find(self, under: Under, source: Source, position: int | None) -> Answer | None:
        file, limit = Path(source.path), under.inspector.configuration.limit_bytes
        try:
            data = contents(file, limit + 1)
        except OSError:
            return None
        name = self._name(under, file.as_posix(), position, data)
        found = None if name is None else self._store.find(name)
        if not isinstance(found, _Entry):
            return None
        if found.parts and found.parts != _parts(data, file, source.root, limit):
            return None
        return found.answer

    def keep(
        self,
        under: Under,
        report: Report,
        grounds: bool,
        read: tuple[str, ...],
        pieces: tuple[Any, ...],
    ) -> None:
        if report.document is None or report.problems:
            return
        main, *parts = report.document.sources
        name = self._name(under, report.path_name, report.position, main.data)
        if name is not None:
            digests = tuple(blake2b(part.data).digest() for part in parts)
            self._store.keep(name, _Entry(digests, Answer(grounds, read, pieces)))

    def _name(self, under: Under, path: str, position: int | None, data: bytes) -> str | None:
        if under.inspector not in self._under:
            try:
                same = _digest(self._run, self._judging(under.inspector), under.settings)
            except (OSError, _Unknown):
                same = None
            self._under[under.inspector] = same
        same = self._under[under.inspector]
        return None if same is None else _digest(same, path, position, blake2b(data).digest())

    # What judges

    def _judging(self, inspector: Inspector) -> object:
        its = [
            (pack.name, pack.version, pack.origin, [self._as_it_is(root) for root in _roots(pack)])
            for pack in inspector.packs
        ]
        return inspector.configuration, its

    def _as_it_is(self, root: str) -> str:
        """A digest that changes with any file."""
        if root not in self._files:
            its = list(_files(root))
            if any(max(it.changed_ns, it.put_ns) > self._settled_ns for it in its):
                raise _Unknown
            self._files[root] = _digest(root, *its)
        return self._files[root]


class _File(NamedTuple):
    """`put_ns` is when it came to be what it is, whatever else is said of it."""

    path: str
    size: int
    changed_ns: int
    put_ns: int


def _files(root: str) -> Iterator[_File]:
    """A file, or all in a folder and below it, in an order that stays."""
    there = os.stat(root)  # noqa: PTH116
    if not S_ISDIR(there.st_mode):
        yield _File(root, there.st_size, there.st_mtime_ns, there.st_ctime_ns)
        return
    with os.scandir(root) as entries:
        found = sorted((entry.path, entry.is_symlink()) for entry in entries)
    for path, link in found:
        if link and Path(path).is_dir():  # there may be no end to it
            raise _Unknown
        if not path.endswith("__pycache__"):
            yield from _files(path)


def _roots(pack: Pack) -> Iterator[str]:
    """Files and folders with all that a pack judges by."""
    if pack.origin == "sheet":
        yield pack.where
        return
    names = set(_OWN)
    if pack.where != OURS:
        whose = (pack.where, pack.name)
        targets = [it.target for it in entry_points() if (it.distribution, it.name) == whose]
        if not targets:  # a file, of which nobody knows what else it reads
            raise _Unknown
        modules = [it.partition(":")[0] for it in targets]
        modules += [getattr(rule.judge, "__module__", None) or "" for rule in pack.rules]
        names = {module.partition(".")[0] for module in modules}
    for name in sorted(names):
        try:
            module = import_module(name)
        except (ImportError, ValueError):
            raise _Unknown from None
        file = getattr(module, "__file__", None)
        if not (found := getattr(module, "__path__", file and [file])):
            raise _Unknown
        yield from found


def _installed() -> list[str]:
    """What is installed in which version, by the names of folders."""
    found: list[str] = []
    for folder in sys.path:
        with suppress(OSError), os.scandir(folder or os.curdir) as entries:
            found += sorted(it.path for it in entries if it.name.endswith(".dist-info"))
    return found


def _parts(data: bytes, path: Path, root: Path | None, limit: int) -> tuple[bytes, ...]:
    from prebind.document.parse import parse_object
    from prebind.document.parts import Part, load

    found = load(parse_object(data, limit), path.as_posix(), root or path.parent, limit).values()
    return tuple(blake2b(it.source.data).digest() for it in found if isinstance(it, Part))


def _digest(*said: object) -> str:
    return blake2b(repr(said).encode("utf-8", "surrogatepass"), digest_size=32).hexdigest()
