"""Where the value, or the key, that a JSON Pointer names stands in a text.

Only the containers on the way are looked into, each once; what lies beside the way is skipped by
the scanner of the standard library.  The text must be JSON without duplicate keys.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from functools import cached_property
from typing import TYPE_CHECKING

from attrs import define, field, frozen

from prebind.document.parse import text_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_BREAK = re.compile(r"\r\n|\r|\n")
_SPACE = re.compile(r"[ \t\n\r]*")
_LONE_TILDE = re.compile(r"~(?![01])")


def escape(token: str) -> str:
    """One name as it stands in a JSON Pointer (RFC 6901, section 3)."""
    return token.replace("~", "~0").replace("/", "~1")


def split(pointer: str) -> tuple[str, ...]:
    """The names of a JSON Pointer, unescaped.  Raises ValueError if it is none."""
    if not pointer:
        return ()
    if not pointer.startswith("/") or _LONE_TILDE.search(pointer):
        raise ValueError(f"{pointer!r} is not a JSON Pointer (RFC 6901)")
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer[1:].split("/"))


def after_space(text: str, at: int) -> int:
    """Where the white space that JSON allows ends."""
    return _SPACE.match(text, at).end()  # type: ignore[union-attr]


class Lines:
    """Turns offsets into lines and columns: both from 1, columns in characters."""

    def __init__(self, text: str) -> None:
        self._starts = [0, *(found.end() for found in _BREAK.finditer(text))]

    def at(self, offset: int) -> tuple[int, int]:
        line = bisect_right(self._starts, offset)
        return line, offset - self._starts[line - 1] + 1


@frozen
class Place:
    """Lines and columns count from 1, in characters; the end is the first character behind.

    They are None in a document that came already parsed.
    """

    file: str
    line: int | None = None
    column: int | None = None
    end_line: int | None = None
    end_column: int | None = None


@frozen
class Span:
    """From `start` up to, not with, `end`: offsets in characters."""

    start: int
    end: int


@frozen
class _Member:
    key: Span | None
    value: Span


@define
class _Container:
    """The members found so far, by name or index, and the rest still to be scanned."""

    rest: Iterator[tuple[str, _Member]]
    found: dict[str, _Member] = field(factory=dict)

    def get(self, token: str) -> _Member | None:
        if token in self.found:
            return self.found[token]
        for name, member in self.rest:
            self.found[name] = member
            if name == token:
                return member
        return None


class Positions:
    """Look-ups in one text.  What was scanned for one serves the next."""

    def __init__(self, text: str) -> None:
        from json.decoder import JSONDecoder, scanstring  # type: ignore[attr-defined]

        self._text = text
        self._skip_value = JSONDecoder().scan_once  # type: ignore[attr-defined]
        self._skip_text = scanstring
        self._containers: dict[int, _Container] = {}

    @cached_property
    def lines(self) -> Lines:
        return Lines(self._text)

    @cached_property
    def _root(self) -> Span:
        return Span(after_space(self._text, 0), len(self._text.rstrip(" \t\n\r")))

    def find(self, tokens: Sequence[str], *, key: bool = False) -> Span:
        """The value at these names, or its key; where a name is missing, what encloses it."""
        member = _Member(None, self._root)
        for token in tokens:
            inner = self._container(member.value.start).get(token)
            if inner is None:
                return member.value
            member = inner
        return member.key if key and member.key else member.value

    def _container(self, start: int) -> _Container:
        if start not in self._containers:
            self._containers[start] = _Container(self._members(start))
        return self._containers[start]

    def _members(self, start: int) -> Iterator[tuple[str, _Member]]:
        match self._text[start]:
            case "{":
                return self._pairs(after_space(self._text, start + 1))
            case "[":
                return self._items(after_space(self._text, start + 1))
        return iter(())

    def _pairs(self, at: int) -> Iterator[tuple[str, _Member]]:
        while self._text[at] != "}":
            name, end = self._skip_text(self._text, at + 1)
            value, after = self._value(after_space(self._text, end) + 1)
            yield name, _Member(Span(at, end), value)
            at = after

    def _items(self, at: int) -> Iterator[tuple[str, _Member]]:
        index = 0
        while self._text[at] != "]":
            value, at = self._value(at)
            yield str(index), _Member(None, value)
            index += 1

    def _value(self, at: int) -> tuple[Span, int]:
        """The value at or behind `at`, and where the next member, or the closing bracket, is."""
        start = after_space(self._text, at)
        end = self._skip_value(self._text, start)[1]
        after = after_space(self._text, end)
        return Span(start, end), after_space(self._text, after + 1) if self._text[
            after
        ] == "," else after


@frozen
class Source:
    """One text that was read, and its name in reports."""

    name: str
    data: bytes = field(repr=False)

    @cached_property
    def text(self) -> str:
        """Without a byte order mark."""
        return text_of(self.data)

    @cached_property
    def _positions(self) -> Positions:
        return Positions(self.text)

    def place(self, tokens: Sequence[str], *, key: bool = False) -> Place:
        span = self._positions.find(tokens, key=key)
        at = self._positions.lines.at
        return Place(self.name, *at(span.start), *at(span.end))
