"""Making an input small that breaks something, so that a person sees what matters in it."""

from __future__ import annotations

import json
from time import monotonic
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SIMPLE = (0, "a", True)


def reduced(data: bytes, breaks: Callable[[bytes], bool], seconds: float = 120.0) -> bytes:
    """A smaller input that still breaks it the same way, as far as the time goes."""
    end = monotonic() + seconds
    try:
        tree = json.loads(data)
        if not breaks(_text(tree)):
            raise ValueError("the layout matters")
    except (ValueError, RecursionError):
        return _bytes(data, breaks, end)
    shrunk = True
    while shrunk and monotonic() < end:
        shrunk = False
        for smaller in _smaller(tree):
            if monotonic() > end:
                break
            if breaks(_text(smaller)):
                tree, shrunk = smaller, True
                break
    return _text(tree)


def _text(tree: Any) -> bytes:
    return json.dumps(tree).encode()


def _smaller(tree: Any) -> Iterator[Any]:
    """The tree with one thing less, large ones first."""
    places = sorted(_places(tree), key=lambda way: -len(_text(_get(tree, way))))
    for way in places:
        yield _without(tree, way)
    for way in places:
        if not isinstance(_get(tree, way), dict | list) and _get(tree, way) not in SIMPLE:
            for simple in SIMPLE:
                yield _with(tree, way, simple)


def _places(tree: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if not isinstance(tree, dict | list):
        return
    for step, value in tree.items() if isinstance(tree, dict) else enumerate(tree):
        yield (*way, step)
        yield from _places(value, (*way, step))


def _get(tree: Any, way: tuple[Any, ...]) -> Any:
    for step in way:
        tree = tree[step]
    return tree


def _without(tree: Any, way: tuple[Any, ...]) -> Any:
    copy = json.loads(_text(tree))
    del _get(copy, way[:-1])[way[-1]]
    return copy


def _with(tree: Any, way: tuple[Any, ...], value: Any) -> Any:
    copy = json.loads(_text(tree))
    _get(copy, way[:-1])[way[-1]] = value
    return copy


def _bytes(data: bytes, breaks: Callable[[bytes], bool], end: float) -> bytes:
    size = len(data) // 2
    while size and monotonic() < end:
        at = 0
        while at < len(data) and monotonic() < end:
            smaller = data[:at] + data[at + size :]
            if breaks(smaller):
                data = smaller
            else:
                at += size
        size //= 2
    return data
