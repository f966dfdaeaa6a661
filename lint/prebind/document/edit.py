"""Laying a JSON Patch (RFC 6902) on a document's text.

What the patch does not touch stays byte for byte; what it puts in follows its neighbours.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from prebind.document.layout import Layout
from prebind.document.manner import Manner, Written
from prebind.document.positions import split

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from prebind.document.layout import Node

_laid_out = lru_cache(maxsize=2)(Layout)  # many patches are laid on one text, each by itself
_MARK = "\ufeff"  # a byte order mark, decoded
_INDEX = re.compile(r"0|[1-9][0-9]{0,8}")


def edited(text: str, patch: Iterable[Mapping[str, Any]]) -> str:
    """The text with every operation of the patch laid on it, one after the other.

    The text, which may begin with a byte order mark, must be JSON without duplicate keys.  Raises
    ValueError, which names the operation, where one of them does not fit.
    """
    mark = _MARK if text.startswith(_MARK) else ""
    body = text.removeprefix(mark)
    for number, operation in enumerate(patch, 1):
        try:
            body = _applied(body, operation)
        except ValueError as error:
            raise ValueError(f"operation {number}{_named(operation)}: {error}") from error
    return mark + body


def _applied(text: str, operation: Mapping[str, Any]) -> str:
    name = operation.get("op") if isinstance(operation, Mapping) else None
    apply = _OPERATIONS.get(name) if isinstance(name, str) else None
    if apply is None:
        raise ValueError("this is no operation of a JSON Patch (RFC 6902)")
    return apply(_laid_out(text), _pointer(operation, "path"), operation)


def _named(operation: Any) -> str:
    if not isinstance(operation, Mapping):
        return ""
    return f" ({operation.get('op')} {operation.get('path')})"


def _pointer(operation: Mapping[str, Any], key: str) -> tuple[str, ...]:
    pointer = operation.get(key)
    if not isinstance(pointer, str):
        raise ValueError(f"it needs a JSON Pointer as its `{key}`")
    return split(pointer)


def _value(operation: Mapping[str, Any]) -> Any:
    if "value" not in operation:
        raise ValueError("it needs a `value`")
    return operation["value"]


# The operations; each gives the text that comes of it


def _add(layout: Layout, at: Sequence[str], operation: Mapping[str, Any]) -> str:
    return _put(layout, at, _value(operation))


def _replace(layout: Layout, at: Sequence[str], operation: Mapping[str, Any]) -> str:
    value = _value(operation)
    _find(layout, at)
    return _set(layout, at, value)


def _remove(layout: Layout, at: Sequence[str], _: Mapping[str, Any]) -> str:
    if not at:
        raise ValueError("the whole document cannot be removed")
    parent, text = _find(layout, at[:-1]), layout.text
    gone = _find(layout, at)
    number = next(i for i, entry in enumerate(parent.entries) if entry.value is gone)
    entry = parent.entries[number]
    if len(parent.entries) == 1:
        return _spliced(text, parent.start + 1, parent.end - 1, "")
    if number == len(parent.entries) - 1:
        return _spliced(text, parent.entries[number - 1].end, entry.end, "")
    return _spliced(text, entry.start, parent.entries[number + 1].start, "")


def _move(layout: Layout, at: Sequence[str], operation: Mapping[str, Any]) -> str:
    source = _pointer(operation, "from")
    moved = _taken(layout, source)
    if source == at:
        return layout.text
    if at[: len(source)] == source:
        raise ValueError("a value cannot be moved into itself")
    return _put(Layout(_remove(layout, source, {})), at, moved)


def _copy(layout: Layout, at: Sequence[str], operation: Mapping[str, Any]) -> str:
    return _put(layout, at, _taken(layout, _pointer(operation, "from")))


def _test(layout: Layout, at: Sequence[str], operation: Mapping[str, Any]) -> str:
    from json import loads

    wanted, there = _value(operation), _find(layout, at)
    if not _same(loads(layout.text[there.start : there.end]), wanted):
        raise ValueError("what stands there is another value")
    return layout.text


_OPERATIONS: Mapping[str, Callable[[Layout, Sequence[str], Mapping[str, Any]], str]] = {
    "add": _add,
    "remove": _remove,
    "replace": _replace,
    "move": _move,
    "copy": _copy,
    "test": _test,
}


# What they are made of


def _find(layout: Layout, at: Sequence[str]) -> Node:
    node = layout.root
    for token in at:
        entry = node.entry(token)
        if entry is None:
            raise ValueError("nothing stands there")
        node = entry.value
    return node


def _taken(layout: Layout, at: Sequence[str]) -> Written:
    node = _find(layout, at)
    return Written(layout.text[node.start : node.end], layout.indent(node.start))


def _put(layout: Layout, at: Sequence[str], value: Any) -> str:
    """The text with the value set as a member, or inserted as an element."""
    if not at:
        return _set(layout, at, value)
    parent, name = _find(layout, at[:-1]), at[-1]
    if parent.opening == "{":
        there = parent.entry(name)
        return _set(layout, at, value) if there else _insert(layout, at, len(parent.entries), value)
    if parent.opening == "[":
        return _insert(layout, at, _number(name, len(parent.entries)), value)
    raise ValueError("nothing can be put into what stands there")


def _number(token: str, length: int) -> int:
    """Where in a list of this length an element is to go."""
    if token == "-":
        return length
    if not _INDEX.fullmatch(token):
        raise ValueError(f"{token!r} is no place in a list")
    if int(token) > length:
        raise ValueError(f"{token} is beyond the end of the list")
    return int(token)


def _set(layout: Layout, at: Sequence[str], value: Any) -> str:
    """The text with another value in place of one that is there."""
    node = _find(layout, at)
    parent = _find(layout, at[:-1]) if at else None
    like = node if node.entries else _sibling(parent, node)
    one_line = parent is not None and layout.one_line(parent)
    written = Manner(layout).value(value, layout.indent(node.start), like, one_line)
    return _spliced(layout.text, node.start, node.end, written)


def _sibling(parent: Node | None, node: Node) -> Node | None:
    """One beside it that is not empty, the last before it or else the first after it."""
    beside = [entry.value for entry in parent.entries if entry.value.entries] if parent else []
    before = [each for each in beside if each.start < node.start]
    return before[-1] if before else beside[0] if beside else None


def _insert(layout: Layout, at: Sequence[str], number: int, value: Any) -> str:
    """The text with one entry more; a new member becomes the last one."""
    parent, text = _find(layout, at[:-1]), layout.text
    key = at[-1] if parent.opening == "{" else None
    if not parent.entries:
        return _set(layout, at[:-1], [value] if key is None else {key: value})
    beside = parent.entries[max(number - 1, 0)]
    indent, one_line = layout.indent(beside.start), layout.one_line(parent)
    manner = Manner(layout)
    written = manner.entry(key, value, indent, beside, one_line)
    gap = manner.between(parent, number)
    if number == len(parent.entries):
        return _spliced(text, beside.end, beside.end, gap + written)
    here = parent.entries[number].start
    return _spliced(text, here, here, written + gap)


def _spliced(text: str, start: int, end: int, new: str) -> str:
    return text[:start] + new + text[end:]


def _same(one: Any, other: Any) -> bool:
    """Equality of JSON values (RFC 6902, section 4.6), where true is not 1."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    return bool(one == other)
