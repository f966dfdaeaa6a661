"""Entries in the user's cache folder: small files, bounded in all, safe with several processes.

An entry is plain data in the form of Python's own compiled files (`marshal`), in a folder that
nobody else may write to; nothing of it is run, and a record is made only of a class that is loaded
already.  Whatever goes wrong with the folder or an entry is as if there were none.
"""

from __future__ import annotations

import marshal
import os
import stat
import sys
import zlib
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

BYTES = 64 * 1024 * 1024
"""What all entries may take on the disk."""

_DRAWERS = 16  # by the first digit of an entry's name: only one that may be full is looked through
_BLOCK = 4096  # bytes in which a disk gives room


class Store:
    """What was kept or found since `began` is thrown out by nobody of this run.

    Else a run over more than there is room for would push out each entry just before its turn.
    Raises OSError where there is no folder for it.
    """

    def __init__(self, began: float, at_most: int = BYTES) -> None:
        self._began = began
        self._at_most = at_most // _DRAWERS
        self._step = self._at_most // 8  # between two looks at what others have kept meanwhile
        self._folder = _folder()
        self._room: dict[Path, int] = {}
        self._full: set[Path] = set()

    def find(self, name: str) -> Any:
        """What was kept under this name in hexadecimal; None where nothing sound is."""
        file = self._file(name)
        try:
            _only_ours(self._folder)
            said, found = _whole(marshal.loads(zlib.decompress(file.read_bytes())))
            os.utime(file)
        except Exception:  # a file that is cut, or that another has written
            return None
        return found if said == name else None

    def keep(self, name: str, entry: object) -> None:
        file = self._file(name)
        drawer = file.parent
        if drawer in self._full:
            return
        draft = file.with_name(f"{name}.{os.getpid()}")
        try:
            data = zlib.compress(marshal.dumps(_plain((name, entry))), 1)
            if self._has_room(drawer, _on_disk(len(data))):
                draft.write_bytes(data)
                draft.replace(file)
        except ValueError:  # it is no plain data
            return
        except OSError:
            self._full.add(drawer)
            with suppress(OSError):
                draft.unlink(missing_ok=True)

    def _file(self, name: str) -> Path:
        return self._folder / name[0] / name

    def _has_room(self, drawer: Path, size: int) -> bool:
        if size > self._step:
            return False
        if self._room.get(drawer, 0) < size:
            self._room[drawer] = self._made_room(drawer)
        if self._room[drawer] < size:
            self._full.add(drawer)
            return False
        self._room[drawer] -= size
        return True

    def _made_room(self, drawer: Path) -> int:
        """Throws out what is oldest; gives the bytes that may be kept until the next look."""
        self._folder.mkdir(0o700, parents=True, exist_ok=True)
        _only_ours(self._folder)
        drawer.mkdir(0o700, exist_ok=True)
        with os.scandir(drawer) as there:
            found = [(entry.stat(follow_symlinks=False), entry.path) for entry in there]
        taken = sum(_on_disk(it.st_size) for it, _ in found)
        for it, path in sorted(found, key=lambda one: one[0].st_mtime):
            if taken + self._step <= self._at_most or it.st_mtime >= self._began:
                break
            with suppress(FileNotFoundError):
                Path(path).unlink()
            taken -= _on_disk(it.st_size)
        return min(self._step, self._at_most - taken)


def _on_disk(size: int) -> int:
    return -(-size // _BLOCK) * _BLOCK


# Where it lies


def _folder() -> Path:
    """As https://specifications.freedesktop.org/basedir-spec has it, else the platform's own."""
    said = os.environ.get("XDG_CACHE_HOME", "")
    if not os.path.isabs(said):  # noqa: PTH117 - the specification ignores such a one
        if sys.platform == "win32":
            said = os.environ.get("LOCALAPPDATA", "")
        else:
            own = "~/Library/Caches" if sys.platform == "darwin" else "~/.cache"
            said = os.path.expanduser(own)  # noqa: PTH111 - which never raises
    if not os.path.isabs(said):  # noqa: PTH117
        raise FileNotFoundError("there is no cache folder")
    return Path(said, "prebind")


def _only_ours(folder: Path) -> None:
    """Raises OSError where others could have put in what no run has found."""
    if hasattr(os, "getuid"):
        there = folder.lstat()
        if not stat.S_ISDIR(there.st_mode) or there.st_uid != os.getuid() or there.st_mode & 0o022:
            raise PermissionError("others may write to this folder")


# Plain data


def _plain(value: Any) -> Any:
    """The same in what `marshal` knows: each tuple with the class that it is an entry of."""
    if isinstance(value, tuple):
        kind = type(value)
        name = None if kind is tuple else (kind.__module__, kind.__qualname__)
        return name, [_plain(it) for it in value]
    if isinstance(value, list):
        return [_plain(it) for it in value]
    if isinstance(value, Mapping):
        return {key: _plain(it) for key, it in value.items()}
    return value


def _whole(value: Any) -> Any:
    if isinstance(value, tuple):
        name, its = value
        inside = map(_whole, its)
        return tuple(inside) if name is None else _loaded(*name)._make(inside)
    if isinstance(value, list):
        return [_whole(it) for it in value]
    if isinstance(value, dict):
        return {key: _whole(it) for key, it in value.items()}
    return value


def _loaded(module: str, name: str) -> Any:
    found = vars(sys.modules[module])[name]
    if not issubclass(found, tuple):
        raise TypeError(f"{name} is no named tuple")
    return found
