"""Where the value, or the key, that a JSON Pointer names stands in a text.

Only the containers on the way are looked into, each once; what lies beside the way is skipped by
the scanner of the standard library.  The text must be JSON without duplicate keys.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from functools import cached_property
from itertools import accumulate
from typing import TYPE_CHECKING

from prebind.document.parse import text_of
from prebind.record import Record, field, record

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    _Member = tuple[str, "Span | None", int]  # its name, its key, where its value begins

_SPACE = re.compile(r"[ \t\n\r]*")
_COLON = re.compile(r"[ \t\n\r]*:[ \t\n\r]*")
_COMMA = re.compile(r"[ \t\n\r]*,?[ \t\n\r]*")
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
        with_feeds = text.replace("\r\n", " \n").replace("\r", "\n")  # as long as before
        lengths = [len(line) + 1 for line in with_feeds.split("\n")]
        self._starts = list(accumulate(lengths[:-1], initial=0))

    def at(self, offset: int) -> tuple[int, int]:
        line = bisect_right(self._starts, offset)
        return line, offset - self._starts[line - 1] + 1


@record
class Place(Record):
    """Lines and columns count from 1, in characters; the end is the first character behind.

    They are None in a document that came already parsed.
    """

    file: str
    line: int | None = None
    column: int | None = None
    end_line: int | None = None
    end_column: int | None = None


@record
class Span(Record):
    """From `start` up to, not with, `end`: offsets in characters."""

    start: int
    end: int


class Positions:
    """Look-ups in one text.  What was scanned for one serves the next."""

    def __init__(self, text: str) -> None:
        from json.decoder import JSONDecoder, scanstring  # type: ignore[attr-defined]

        self._text = text
        self._skip_value = JSONDecoder().scan_once  # type: ignore[attr-defined]
        self._skip_text = scanstring
        # By the offset where a value begins: where it ends, and, for a container, the members
        # that were met so far and those still to come.
        self._ends: dict[int, int] = {}
        self._containers: dict[int, tuple[dict[str, _Member], Iterator[_Member]]] = {}

    @cached_property
    def lines(self) -> Lines:
        return Lines(self._text)

    def find(self, tokens: Sequence[str], *, key: bool = False) -> Span:
        """The value at these names, or its key; where a name is missing, what encloses it."""
        found: _Member = ("", None, after_space(self._text, 0))
        for token in tokens:
            inner = self._member(found[2], token)
            if inner is None:
                return Span(found[2], self._end(found[2]))
            found = inner
        _, named, start = found
        return named if key and named else Span(start, self._end(start))

    def _member(self, start: int, token: str) -> _Member | None:
        if start not in self._containers:
            self._containers[start] = ({}, self._members(start))
        met, rest = self._containers[start]
        if token in met:
            return met[token]
        for member in rest:
            met[member[0]] = member
            if member[0] == token:
                return member
        return None

    def _members(self, start: int) -> Iterator[_Member]:
        first = after_space(self._text, start + 1)
        match self._text[start]:
            case "{":
                return self._pairs(first)
            case "[":
                return self._items(first)
        return iter(())

    def _pairs(self, at: int) -> Iterator[_Member]:
        while self._text[at] != "}":
            name, end = self._skip_text(self._text, at + 1)
            start = _COLON.match(self._text, end).end()  # type: ignore[union-attr]
            yield name, Span(at, end), start
            at = self._next(start)

    def _items(self, at: int) -> Iterator[_Member]:
        index = 0
        while self._text[at] != "]":
            yield str(index), None, at
            at = self._next(at)
            index += 1

    def _next(self, start: int) -> int:
        return _COMMA.match(self._text, self._end(start)).end()  # type: ignore[union-attr]

    def _end(self, start: int) -> int:
        if start not in self._ends:
            self._ends[start] = self._skip_value(self._text, start)[1]
        return self._ends[start]


@record
class Source(Record):
    """One text that was read, and its name in reports."""

    name: str
    data: bytes = field(repr=False)

    def __reduce__(self) -> tuple[type[Source], tuple[str, bytes]]:
        """What was worked out does not travel to other processes."""
        return Source, (self.name, self.data)

    @cached_property
    def text(self) -> str:
        """Without a byte order mark."""
        return text_of(self.data)

    @cached_property
    def _positions(self) -> Positions:
        return Positions(self.text)

    @property
    def lines(self) -> Lines:
        """Lines and columns in the text."""
        return self._positions.lines

    def place(self, tokens: Sequence[str], *, key: bool = False) -> Place:
        span = self._positions.find(tokens, key=key)
        at = self.lines.at
        return Place(self.name, *at(span.start), *at(span.end))
