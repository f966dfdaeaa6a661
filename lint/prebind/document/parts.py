"""Shared parts: a section may name a file, take its content, and lay its own keys over it.

Documents may come from strangers.  A part is read only inside the folder under inspection, only
from an ordinary file, and never has a part itself, so that there are no cycles.
"""

from __future__ import annotations

import os
import stat
from typing import TYPE_CHECKING, Any

from prebind.document.fault import Fault
from prebind.document.parse import Unreadable, parse_object
from prebind.document.positions import Source
from prebind.document.wording import shown
from prebind.problem import Problem
from prebind.record import Record, record

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

SECTIONS = ("transmitter", "receiver", "power")


class _NotShared(Exception):
    """The path in `from` is at fault, not what the file says."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


@record
class Part(Record):
    """`content` is what the file says, `overlay` what the document lays over it."""

    source: Source
    content: dict[str, Any]
    overlay: dict[str, Any]

    @property
    def resolved(self) -> dict[str, Any]:
        merged: dict[str, Any] = merge(self.content, self.overlay)
        return merged

    def holds(self, tokens: Sequence[str]) -> bool:
        """Whether the value at these names, from the section down, comes from the file."""
        overlay: Any = self.overlay
        content: Any = self.content
        for token in tokens:
            if not isinstance(overlay, dict):
                return False
            if token not in overlay:
                return isinstance(content, dict) and token in content
            overlay = overlay[token]
            content = content.get(token) if isinstance(content, dict) else None
        return False


def merge(target: Any, patch: Any) -> Any:
    """JSON Merge Patch (RFC 7396, section 2), without touching either."""
    if not isinstance(patch, dict):
        return patch
    merged = dict(target) if isinstance(target, dict) else {}
    for name, value in patch.items():
        if value is None:
            merged.pop(name, None)
        else:
            merged[name] = merge(merged.get(name), value)
    return merged


def load(
    data: dict[str, Any], path: str, root: Path | None, limit_bytes: int
) -> dict[str, Part | Fault | Problem]:
    """What became of each section that names a shared part."""
    return {
        section: _load(section, value, path, root, limit_bytes)
        for section in SECTIONS
        if isinstance(value := data.get(section), dict) and "from" in value
    }


def _load(
    section: str, value: dict[str, Any], path: str, root: Path | None, limit_bytes: int
) -> Part | Fault | Problem:
    try:
        wanted = _checked(value["from"])
        content = _content(wanted, path, root, limit_bytes)
    except _NotShared as error:
        return Fault(f"/{section}/from", error.message)
    source = Source(_name(path, wanted), content)
    try:
        part = parse_object(content, limit_bytes)
    except Unreadable as error:
        return Problem(source.name, error.message, error.line, error.column)
    if "from" in part:
        place = source.place(["from"], key=True)
        return Problem(
            source.name,
            f"a shared part cannot have a `from` itself; name the file with the content in {path}",
            place.line,
            place.column,
        )
    overlay = {name: inner for name, inner in value.items() if name != "from"}
    return Part(source, part, overlay)


def _name(path: str, wanted: str) -> str:
    from pathlib import PurePath
    from posixpath import join, normpath

    return normpath(join(PurePath(path).parent.as_posix(), wanted))


def _checked(wanted: object) -> str:
    from pathlib import PureWindowsPath

    if not isinstance(wanted, str) or not wanted or "\0" in wanted:
        raise _NotShared('write the path of a shared file here, as in "parts/club-radio.json"')
    if "\\" in wanted:
        raise _NotShared("write / between the folders of this path, not \\")
    if PureWindowsPath(wanted).anchor:  # knows drives as well as a leading /
        raise _NotShared("this path is absolute; write it relative to the folder of this document")
    return wanted


def _content(wanted: str, path: str, root: Path | None, limit_bytes: int) -> bytes:
    from pathlib import Path

    if root is None:
        raise _NotShared(
            "no shared file can be read here, as no folder is inspected; "
            "write the content of the file here instead"
        )
    # Path.resolve raises on a circle of links.
    folder = Path(os.path.realpath(root))
    inside = Path(os.path.realpath(Path(path).parent / wanted))
    if not inside.is_relative_to(folder):
        raise _NotShared(
            f"{shown(wanted)} leads out of the folder that is inspected; keep shared files in it"
        )
    try:
        return _read(folder, inside.relative_to(folder).parts, limit_bytes + 1)
    except FileNotFoundError:
        raise _NotShared(
            f"there is no file {shown(wanted)}; the path begins at the folder of this document"
        ) from None
    except OSError as error:
        raise _NotShared(f"{shown(wanted)} cannot be read: {error.strerror}") from None


def _read(root: Path, inside: Sequence[str], at_most: int) -> bytes:
    descriptor = _open(root, inside)
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise _NotShared("this is not an ordinary file; name one that holds the part as JSON")
        with open(descriptor, "rb", closefd=False) as file:
            return file.read(at_most)
    finally:
        os.close(descriptor)


def _open(root: Path, inside: Sequence[str]) -> int:
    """Opens step by step and follows no link, so that what was checked is what is opened.

    Does not wait for the other end of a pipe.
    """
    if os.open not in os.supports_dir_fd:  # Windows
        return os.open(root.joinpath(*inside), os.O_RDONLY)
    opened = os.open(root, os.O_RDONLY | os.O_DIRECTORY)
    for name in inside:
        folder = opened
        try:
            opened = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK, dir_fd=folder)
        finally:
            os.close(folder)
    return opened
