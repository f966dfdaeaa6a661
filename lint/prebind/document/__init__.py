"""From bytes to a checked setup, and from a place in the setup back to a line and column."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any

from prebind.document.positions import Place, Source, split
from prebind.problem import Problem
from prebind.record import field, record

if TYPE_CHECKING:
    from pathlib import Path

    from prebind.document.fault import Fault
    from prebind.document.model import Setup
    from prebind.document.parts import Part

__all__ = ["Document", "Place", "Source", "read"]

LIMIT_BYTES = 4 * 1024 * 1024


@record
class Document:
    """A setup document, its shared parts laid in.

    `path` is its name in reports, `data` the whole as plain dicts and lists.
    """

    path: str
    data: dict[str, Any] = field(repr=False)
    _main: Source | None = field(repr=False)
    _parts: dict[str, Part] = field(repr=False)

    @cached_property
    def setup(self) -> Setup:
        from prebind.document.structure import structure

        return structure(self.data)

    @property
    def sources(self) -> tuple[Source, ...]:
        """The texts that were read: the document, unless it came already parsed, then its parts."""
        main = () if self._main is None else (self._main,)
        return (*main, *(part.source for part in self._parts.values()))

    @property
    def digest(self) -> str:
        """SHA-256, in hexadecimal, over the bytes that were read: the document, then its parts.

        Of a document that came already parsed, over the resolved document as compact JSON.
        """
        from hashlib import sha256

        if self._main is not None:
            return sha256(b"".join(source.data for source in self.sources)).hexdigest()
        from json import dumps

        text = dumps(self.data, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
        return sha256(text.encode()).hexdigest()

    def locate(self, pointer: str, key: bool = False) -> Place:
        """Where the value at a JSON Pointer of `data`, or its key, was written.

        For a member that is missing: the deepest value around it.  Raises ValueError if `pointer`
        is no JSON Pointer.
        """
        tokens = split(pointer)
        part = self._parts.get(tokens[0]) if tokens else None
        if part and part.holds(tokens[1:]):
            return part.source.place(tokens[1:], key=key)
        if self._main is None:
            return Place(self.path)
        return self._main.place(tokens, key=key)


def read(
    data: bytes | str | Mapping[str, Any],
    *,
    path: str = "-",
    root: Path | None = None,
    limit_bytes: int = LIMIT_BYTES,
) -> Document | list[Problem]:
    """A checked document, or everything that is wrong with it, sorted by place.

    `path` names the document in reports; its folder is where paths of shared parts begin.  `root`
    is the folder that they may not leave; without it there are none.  Files, and documents that
    come already parsed, may not be larger than `limit_bytes`.  Never raises on bad input.
    """
    from prebind.document.parts import Part, load

    opened = _open(data, path, limit_bytes)
    if isinstance(opened, Problem):
        return [opened]
    own, main = opened
    shared = load(own, path, root, limit_bytes)
    parts = {section: part for section, part in shared.items() if isinstance(part, Part)}
    whole = own | {section: part.resolved for section, part in parts.items()}
    document = Document(path, whole, main, parts)
    faults = [fault for fault in shared.values() if not isinstance(fault, Part)] or _check(whole)
    if not faults:
        return document
    problems = [_problem(fault, document) for fault in faults]
    return sorted(problems, key=lambda it: (it.path != path, it.path, it.line or 0, it.column or 0))


def _open(
    data: bytes | str | Mapping[str, Any], path: str, limit_bytes: int
) -> tuple[dict[str, Any], Source | None] | Problem:
    if isinstance(data, Mapping):
        return _copy(data, path, limit_bytes)
    if not isinstance(data, bytes | bytearray | memoryview | str):
        return Problem(path, f"a document is bytes, text or a mapping, not {type(data).__name__}")
    from prebind.document.parse import Unreadable, encode, parse_object

    try:
        content = encode(data) if isinstance(data, str) else bytes(data)
        return parse_object(content, limit_bytes), Source(path, content)
    except Unreadable as error:
        return Problem(path, error.message, error.line, error.column)


def _copy(
    data: Mapping[str, Any], path: str, limit_bytes: int
) -> tuple[dict[str, Any], None] | Problem:
    from prebind.document.plain import plain_copy

    copied = plain_copy(data, limit_bytes)
    if isinstance(copied, dict):
        return copied, None
    return Problem(path, _with_pointer(copied))


def _check(data: dict[str, Any]) -> list[Fault]:
    from prebind.document import consistency, schema

    faults = schema.check(data)
    if not faults:
        return consistency.check(data)
    from prebind.document.formats import misplaced

    other = misplaced(data)
    return [other] if other is not None else faults


def _problem(fault: Fault | Problem, document: Document) -> Problem:
    if isinstance(fault, Problem):
        return fault
    place = document.locate(fault.at, fault.key)
    message = fault.message if place.line else _with_pointer(fault)
    return Problem(place.file, message, place.line, place.column)


def _with_pointer(fault: Fault) -> str:
    return f"{fault.at}: {fault.message}" if fault.at else fault.message
