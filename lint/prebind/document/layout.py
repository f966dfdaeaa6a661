"""How a JSON text is laid out: where each thing stands in it, and how to write a new thing alike.

The text must be JSON without duplicate keys.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from functools import cached_property
from itertools import pairwise
from json import dumps
from typing import TYPE_CHECKING, Any, TypeVar

from attrs import field, frozen

from prebind.document.positions import Lines, after_space

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_BREAK = re.compile(r"\r\n|\n|\r")
_LAST_BREAK = re.compile(r"[ \t]*(?:(?>\r\n|\n|\r)[ \t]*)*((?>\r\n|\n|\r)[ \t]*)")
_INDENT = re.compile(r"[ \t]*")
_CLOSING = {"{": "}", "[": "]"}
_WHOLE_BELOW = 1e15  # a larger float is not written out digit by digit

_T = TypeVar("_T")


@frozen(eq=False)
class Node:
    """A value from `start` up to, not with, `end`; `opening` is its bracket, empty for others."""

    start: int
    end: int
    opening: str = ""
    entries: tuple[Entry, ...] = ()

    def entry(self, name: str) -> Entry | None:
        return next((entry for entry in self.entries if entry.name == name), None)


@frozen(eq=False)
class Entry:
    """A member or an element: `name` is its key or number; `key_end` is `start` for an element."""

    name: str
    start: int
    key_end: int
    value: Node

    @property
    def end(self) -> int:
        return self.value.end


@frozen(eq=False)
class Written:
    """A value as it stood elsewhere in a text, on a line of this indentation."""

    text: str
    indent: str


@frozen(eq=False)
class Layout:
    """A text, what stands where in it, and the habits of whoever wrote it."""

    text: str = field(repr=False)

    @cached_property
    def root(self) -> Node:
        return _scanned(self.text)

    # What stands where

    def indent_at(self, offset: int) -> str:
        """The white space at the beginning of the line."""
        start = offset - self._column(offset)
        return _INDENT.match(self.text, start)[0]  # type: ignore[index]

    def _column(self, offset: int) -> int:
        """How many characters stand before it on its line."""
        return self._lines.at(offset)[1] - 1

    @cached_property
    def _lines(self) -> Lines:
        return Lines(self.text)

    def one_line(self, node: Node) -> bool:
        return not _BREAK.search(self.text, node.start, node.end)

    def between(self, node: Node, index: int) -> str:
        """What parts the entry of this number from the one before it, as its neighbours do it.

        The entry may be one that is still to come.  A blank line is not repeated.
        """
        entries = node.entries
        if len(entries) > 1:
            second = min(max(index, 1), len(entries) - 1)
            found = self.text[entries[second - 1].end : entries[second].start]
        elif (gap := self._first_gap(node)) and _BREAK.search(gap):
            found = f",{gap}"
        else:
            found = self._comma
        return _LAST_BREAK.sub(r"\1", found)

    def _first_gap(self, node: Node) -> str:
        """What stands between the opening bracket and the first entry."""
        return self.text[node.start + 1 : node.entries[0].start]

    def _broken(self, node: Node) -> bool:
        """Whether each entry begins a line."""
        return bool(_BREAK.search(self._first_gap(node)))

    # Habits

    @cached_property
    def _containers(self) -> tuple[Node, ...]:
        return tuple(node for node in _walk(self.root) if node.entries)

    @cached_property
    def _break(self) -> str:
        """What ends a line; empty in a document of one line."""
        found = _BREAK.search(self.text, self.root.start, self.root.end)
        return found[0] if found else ""

    @cached_property
    def _step(self) -> str:
        """What one level more adds to the indentation."""
        pairs = (
            (self.indent_at(node.start), self.indent_at(node.entries[0].start))
            for node in self._containers
            if self._broken(node)
        )
        return _usual((b.removeprefix(a) for a, b in pairs if b.startswith(a)), "  ")

    @cached_property
    def _colon(self) -> str:
        return _usual(
            (
                colon
                for node in self._containers
                for entry in node.entries
                if node.opening == "{" and not _BREAK.search(colon := self._colon_of(entry))
            ),
            ": ",
        )

    def _colon_of(self, entry: Entry) -> str:
        return self.text[entry.key_end : entry.value.start]

    @cached_property
    def _comma(self) -> str:
        """What parts two entries on one line."""
        return _usual(
            (
                self.text[one.end : other.start]
                for node in self._containers
                if self.one_line(node)
                for one, other in pairwise(node.entries)
            ),
            ", " if self._colon.endswith(" ") else ",",
        )

    def _padding(self, opening: str) -> str:
        """What stands inside the brackets, at both ends, on one line."""
        alike = (node for node in self._containers if node.opening == opening)
        return _usual((self._first_gap(node) for node in alike if self.one_line(node)), "")

    @cached_property
    def _width(self) -> int:
        """How far lines go that hold a whole list or object; 0 where none does."""
        ends = (self._column(n.end) for n in self._containers if self.one_line(n))
        return max(ends, default=0)

    def _fits(self, node: Node) -> bool:
        """Whether it could stand on one line, as others do."""
        lines = _BREAK.split(self.text[node.start : node.end])
        return (
            self._column(node.start) + sum(len(line.strip()) + 1 for line in lines) <= self._width
        )

    def _breaks(self, opening: str) -> bool:
        """Whether lists, or objects, stand on several lines even where one would do."""
        alike = (n for n in self._containers if n.opening == opening and self._fits(n))
        return _usual((self._broken(node) for node in alike), True)

    # Writing

    def entry(self, key: Any, value: Any, indent: str, like: Entry | None, one_line: bool) -> str:
        """A member, or an element where the key is None, in the manner of another one."""
        node = like.value if like else None
        if key is None:
            return self.written(value, indent, node, one_line)
        if not isinstance(key, str):
            raise ValueError(f"the key {key!r} is not a text")
        colon = self._colon_of(like) if like else self._colon
        if _BREAK.search(colon):
            colon = self._colon
        named = f"{self._scalar(key)}{colon}"
        return named + self.written(value, indent, node, one_line, len(indent) + len(named))

    def written(
        self, value: Any, indent: str, like: Node | None, one_line: bool, column: int | None = None
    ) -> str:
        """A value as JSON, in the manner of `like`, that begins on a line of this indentation.

        `column` is where it begins; left out: right behind the indentation.  Raises ValueError for
        what JSON cannot say.
        """
        if isinstance(value, Written):
            return _moved(value, indent)
        if isinstance(value, Mapping):
            opening, entries = "{", list(value.items())
        elif isinstance(value, list | tuple):
            opening, entries = "[", [(None, inside) for inside in value]
        else:
            return self._scalar(value)
        if not entries:
            return opening + _CLOSING[opening]
        if like is not None and (like.opening != opening or not like.entries):
            like = None
        told = self._told(entries, indent, like, True)
        flat = self._padding(opening).join((opening, self._comma.join(told), _CLOSING[opening]))
        column = len(indent) if column is None else column
        if one_line or self._on_one_line(flat, column, opening, like):
            return flat
        inner = indent + self._step
        told = self._told(entries, inner, like, False)
        gap = self._break + inner
        return f"{opening}{gap}{f',{gap}'.join(told)}{self._break}{indent}{_CLOSING[opening]}"

    def _told(
        self, entries: Iterable[tuple[Any, Any]], indent: str, like: Node | None, one_line: bool
    ) -> list[str]:
        return [
            self.entry(key, value, indent, _within(like, key), one_line) for key, value in entries
        ]

    def _on_one_line(self, flat: str, column: int, opening: str, like: Node | None) -> bool:
        if not self._break:
            return True
        if like is not None and not self._broken(like):
            return True
        if like is not None and self._fits(like):
            return False
        return column + len(flat) <= self._width and not self._breaks(opening)

    def _scalar(self, value: Any) -> str:
        if isinstance(value, float) and value.is_integer() and abs(value) < _WHOLE_BELOW:
            value = int(value)  # JSON makes no difference between 5 and 5.0
        try:
            return dumps(value, ensure_ascii=self._escapes, allow_nan=False)
        except TypeError as error:
            raise ValueError(str(error)) from error

    @cached_property
    def _escapes(self) -> bool:
        """Whether characters beyond ASCII are written as escapes here."""
        return self.text.isascii() and "\\u" in self.text


def _scanned(text: str) -> Node:
    from json.decoder import JSONDecoder, scanstring  # type: ignore[attr-defined]

    skip = JSONDecoder().scan_once  # type: ignore[attr-defined]

    def node(at: int) -> Node:
        opening = text[at]
        if opening not in _CLOSING:
            return Node(at, skip(text, at)[1])
        entries: list[Entry] = []
        inside = after_space(text, at + 1)
        while text[inside] != _CLOSING[opening]:
            entries.append(entry(inside, len(entries)) if opening == "[" else member(inside))
            inside = after_space(text, entries[-1].end)
            if text[inside] == ",":
                inside = after_space(text, inside + 1)
        return Node(at, inside + 1, opening, tuple(entries))

    def entry(at: int, number: int) -> Entry:
        return Entry(str(number), at, at, node(at))

    def member(at: int) -> Entry:
        name, end = scanstring(text, at + 1)
        colon = after_space(text, end)
        return Entry(name, at, end, node(after_space(text, colon + 1)))

    return node(after_space(text, 0))


def _walk(node: Node) -> Iterator[Node]:
    yield node
    for entry in node.entries:
        yield from _walk(entry.value)


def _within(like: Node | None, key: Any) -> Entry | None:
    """The entry to imitate for one of this key, or for any element."""
    if like is None:
        return None
    return like.entries[0] if key is None else like.entry(key) if isinstance(key, str) else None


def _moved(value: Written, indent: str) -> str:
    """The text with its further lines indented anew; no line break stands inside a string."""
    first, *rest = _BREAK.split(value.text)
    if not rest:
        return first
    breaks = _BREAK.findall(value.text)
    lines = [indent + line.removeprefix(value.indent) for line in rest]
    return first + "".join(end + line for end, line in zip(breaks, lines, strict=True))


def _usual(found: Iterable[_T], otherwise: _T) -> _T:
    """What is met most often, of equals the first."""
    most = Counter(found).most_common(1)
    return most[0][0] if most else otherwise
