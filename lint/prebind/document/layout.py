"""How a JSON text is laid out: where each thing stands in it, and what stands between.

The text must be JSON without duplicate keys.
"""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING

from attrs import field, frozen

from prebind.document.positions import Lines, after_space

if TYPE_CHECKING:
    from collections.abc import Iterator

BREAK = re.compile(r"\r\n|\n|\r")
CLOSING = {"{": "}", "[": "]"}

_INDENT = re.compile(r"[ \t]*")


@frozen(eq=False)
class Node:
    """A value from `start` up to, not with, `end`; `opening` is its bracket, empty for others."""

    start: int
    end: int
    opening: str = ""
    entries: tuple[Entry, ...] = ()

    def entry(self, name: str) -> Entry | None:
        return next((entry for entry in self.entries if entry.name == name), None)

    def containers(self) -> Iterator[Node]:
        """Every list and object that is not empty, this one first."""
        if self.entries:
            yield self
        for entry in self.entries:
            yield from entry.value.containers()


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
class Layout:
    """A text, and what stands where in it."""

    text: str = field(repr=False)

    @cached_property
    def root(self) -> Node:
        return _scanned(self.text)

    @cached_property
    def _lines(self) -> Lines:
        return Lines(self.text)

    def column(self, offset: int) -> int:
        """How many characters stand before it on its line."""
        return self._lines.at(offset)[1] - 1

    def indent(self, offset: int) -> str:
        """The white space at the beginning of its line."""
        return _INDENT.match(self.text, offset - self.column(offset))[0]  # type: ignore[index]

    def one_line(self, node: Node) -> bool:
        return not BREAK.search(self.text, node.start, node.end)

    def broken(self, node: Node) -> bool:
        """Whether the entries begin on a line of their own."""
        return bool(BREAK.search(self.first_gap(node)))

    def first_gap(self, node: Node) -> str:
        """What stands between the opening bracket and the first entry."""
        return self.text[node.start + 1 : node.entries[0].start]

    def colon(self, entry: Entry) -> str:
        """What stands between key and value."""
        return self.text[entry.key_end : entry.value.start]


def _scanned(text: str) -> Node:
    from json.decoder import JSONDecoder, scanstring  # type: ignore[attr-defined]

    skip = JSONDecoder().scan_once  # type: ignore[attr-defined]

    def node(at: int) -> Node:
        opening = text[at]
        if opening not in CLOSING:
            return Node(at, skip(text, at)[1])
        entries: list[Entry] = []
        inside = after_space(text, at + 1)
        while text[inside] != CLOSING[opening]:
            entries.append(member(inside) if opening == "{" else element(inside, len(entries)))
            inside = after_space(text, entries[-1].end)
            if text[inside] == ",":
                inside = after_space(text, inside + 1)
        return Node(at, inside + 1, opening, tuple(entries))

    def element(at: int, number: int) -> Entry:
        return Entry(str(number), at, at, node(at))

    def member(at: int) -> Entry:
        name, end = scanstring(text, at + 1)
        colon = after_space(text, end)
        return Entry(name, at, end, node(after_space(text, colon + 1)))

    return node(after_space(text, 0))
