"""Writing a new value into a JSON text in the manner of what already stands there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cached_property
from itertools import pairwise
from json import dumps
from typing import TYPE_CHECKING, Any, TypeVar

from attrs import field, frozen

from prebind.document.layout import BREAK, CLOSING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.document.layout import Entry, Layout, Node

_WHOLE_BELOW = 1e15  # a larger float is not written out digit by digit

_T = TypeVar("_T")


@frozen(eq=False)
class Written:
    """A value as it stood elsewhere in the text, on a line of this indentation."""

    text: str
    indent: str


@frozen(eq=False)
class Manner:
    """The habits of whoever wrote a text; a near example goes before what is usual."""

    layout: Layout = field(repr=False)

    # What is written

    def entry(self, key: Any, value: Any, indent: str, like: Entry | None, one_line: bool) -> str:
        """A member, or an element where the key is None, in the manner of another one.

        Raises ValueError for what JSON cannot say.
        """
        node = like.value if like else None
        if key is None:
            return self.value(value, indent, node, one_line)
        if not isinstance(key, str):
            raise ValueError(f"the key {key!r} is not a text")
        colon = self.layout.colon(like) if like else self._colon
        if BREAK.search(colon):
            colon = self._colon
        named = f"{self._scalar(key)}{colon}"
        return named + self.value(value, indent, node, one_line, len(indent) + len(named))

    def value(
        self, value: Any, indent: str, like: Node | None, one_line: bool, column: int | None = None
    ) -> str:
        """A value, in the manner of another one, that begins on a line of this indentation.

        `column` is where it begins; left out: right behind the indentation.  Raises ValueError for
        what JSON cannot say.
        """
        if isinstance(value, Written):
            return _indented(value, indent)
        if isinstance(value, Mapping):
            opening, entries = "{", list(value.items())
        elif isinstance(value, list | tuple):
            opening, entries = "[", [(None, inside) for inside in value]
        else:
            return self._scalar(value)
        if not entries:
            return opening + CLOSING[opening]
        if like is not None and (like.opening != opening or not like.entries):
            like = None
        told = self._told(entries, indent, like, True)
        flat = self._padding(opening).join((opening, self._comma.join(told), CLOSING[opening]))
        column = len(indent) if column is None else column
        if one_line or self._on_one_line(flat, column, opening, like):
            return flat
        inner = indent + self._step
        told = self._told(entries, inner, like, False)
        gap = self._break + inner
        return f"{opening}{gap}{f',{gap}'.join(told)}{self._break}{indent}{CLOSING[opening]}"

    def between(self, node: Node, number: int) -> str:
        """What parts the entry of this number, which may be to come, from the one before it.

        As its neighbours do it; a blank line is not repeated.
        """
        entries = node.entries
        if len(entries) > 1:
            second = min(max(number, 1), len(entries) - 1)
            gap = self.layout.text[entries[second - 1].end : entries[second].start]
        elif self.layout.broken(node):
            gap = f",{self.layout.first_gap(node)}"
        else:
            gap = self._comma
        before, _, after = gap.partition(",")
        return f"{_last_line(before)},{_last_line(after)}"

    def _told(
        self, entries: Iterable[tuple[Any, Any]], indent: str, like: Node | None, one_line: bool
    ) -> list[str]:
        return [
            self.entry(key, value, indent, _within(like, key), one_line) for key, value in entries
        ]

    def _on_one_line(self, flat: str, column: int, opening: str, like: Node | None) -> bool:
        if not self._break:
            return True
        if like is not None and not self.layout.broken(like):
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

    # What is usual

    @cached_property
    def _containers(self) -> tuple[Node, ...]:
        return tuple(self.layout.root.containers())

    @cached_property
    def _flat(self) -> tuple[Node, ...]:
        return tuple(node for node in self._containers if self.layout.one_line(node))

    @cached_property
    def _break(self) -> str:
        """What ends a line; empty in a document of one line."""
        root = self.layout.root
        found = BREAK.search(self.layout.text, root.start, root.end)
        return found[0] if found else ""

    @cached_property
    def _step(self) -> str:
        """What one level more adds to the indentation."""
        indent = self.layout.indent
        pairs = (
            (indent(node.start), indent(node.entries[0].start))
            for node in self._containers
            if self.layout.broken(node)
        )
        steps = (inner.removeprefix(outer) for outer, inner in pairs if inner.startswith(outer))
        return _usual(steps, "  ")

    @cached_property
    def _colon(self) -> str:
        members = (e for node in self._containers if node.opening == "{" for e in node.entries)
        colons = map(self.layout.colon, members)
        return _usual((colon for colon in colons if not BREAK.search(colon)), ": ")

    @cached_property
    def _comma(self) -> str:
        """What parts two entries on one line."""
        pairs = (pair for node in self._flat for pair in pairwise(node.entries))
        gaps = (self.layout.text[one.end : other.start] for one, other in pairs)
        return _usual(gaps, ", " if self._colon.endswith(" ") else ",")

    def _padding(self, opening: str) -> str:
        """What stands inside the brackets, at both ends, on one line."""
        alike = (node for node in self._flat if node.opening == opening)
        return _usual(map(self.layout.first_gap, alike), "")

    @cached_property
    def _width(self) -> int:
        """How far lines go that hold a whole list or object; 0 where none does."""
        return max((self.layout.column(node.end) for node in self._flat), default=0)

    def _fits(self, node: Node) -> bool:
        """Whether it could stand on one line, as others do."""
        lines = (line.strip() for line in BREAK.split(self.layout.text[node.start : node.end]))
        length = sum(len(line) + line.endswith(",") for line in lines)
        return self.layout.column(node.start) + length <= self._width

    def _breaks(self, opening: str) -> bool:
        """Whether lists, or objects, stand on several lines even where one would do."""
        alike = (n for n in self._containers if n.opening == opening and self._fits(n))
        return _usual(map(self.layout.broken, alike), True)

    @cached_property
    def _escapes(self) -> bool:
        """Whether characters beyond ASCII are written as escapes here."""
        return self.layout.text.isascii() and "\\u" in self.layout.text


def _within(like: Node | None, key: Any) -> Entry | None:
    """The entry to imitate for one of this key, or for any element."""
    if like is None:
        return None
    return like.entries[0] if key is None else like.entry(key)


def _indented(value: Written, indent: str) -> str:
    """Its further lines indented anew: no line break stands inside a text."""
    first, *rest = BREAK.split(value.text)
    lines = (indent + line.removeprefix(value.indent) for line in rest)
    return first + "".join(map(str.__add__, BREAK.findall(value.text), lines))


def _last_line(space: str) -> str:
    """White space from its last line break on; all of it where there is none."""
    breaks = list(BREAK.finditer(space))
    return space[breaks[-1].start() :] if breaks else space


def _usual(found: Iterable[_T], otherwise: _T) -> _T:
    """What is met most often, of equals the first."""
    most = Counter(found).most_common(1)
    return most[0][0] if most else otherwise
