"""A document that comes already parsed, held to what a text could have said."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from prebind.document.fault import Fault
from prebind.document.parse import MAX_DEPTH, MAX_NUMBER
from prebind.document.positions import escape
from prebind.document.scan import not_a_number

_INTEGERS = range(-(10 ** (MAX_NUMBER - 1)) + 1, 10**MAX_NUMBER)


class _Odd(Exception):
    """Carries a fault out of the recursion."""

    def __init__(self, at: str, message: str) -> None:
        super().__init__(message)
        self.fault = Fault(at, message)


def plain_copy(data: Mapping[str, Any], limit: int) -> dict[str, Any] | Fault:
    """The document as dicts and lists of its own, or the first fault in it.

    `limit` bounds values and characters together: one list may stand in many places.
    """
    try:
        return _Copier(limit).mapping(data, "", 1)
    except _Odd as odd:
        return odd.fault


class _Copier:
    def __init__(self, limit: int) -> None:
        self._limit = self._left = limit

    def mapping(self, value: Mapping[Any, Any], at: str, depth: int) -> dict[str, Any]:
        self._descend(at, depth)
        copy = {}
        for key, inner in value.items():
            if type(key) is not str:
                raise _Odd(
                    at, f"a key of the type {type(key).__name__} stands here; keys are texts"
                )
            self._text(key, at)
            copy[key] = self._value(inner, f"{at}/{escape(key)}", depth + 1)
        return copy

    def _value(self, value: Any, at: str, depth: int) -> Any:
        self._spend(1, at)
        if isinstance(value, Mapping):
            return self.mapping(value, at, depth)
        if isinstance(value, list | tuple):
            self._descend(at, depth)
            return [self._value(inner, f"{at}/{i}", depth + 1) for i, inner in enumerate(value)]
        self._scalar(value, at)
        return value

    def _descend(self, at: str, depth: int) -> None:
        if depth > MAX_DEPTH:
            raise _Odd(at, f"this is more than {MAX_DEPTH} levels deep; nest less")

    def _spend(self, amount: int, at: str) -> None:
        self._left -= amount
        if self._left < 0:
            raise _Odd(
                at, f"the document has more than {self._limit:,} characters, the most that is read"
            )

    def _text(self, text: str, at: str) -> None:
        self._spend(len(text), at)
        try:
            text.encode()
        except UnicodeEncodeError:
            raise _Odd(at, "half of a surrogate pair stands in a text; remove it") from None

    def _scalar(self, value: Any, at: str) -> None:
        kind = type(value)  # subclasses are refused: what they do is not known
        if kind is str:
            self._text(value, at)
        elif kind is int:
            if value not in _INTEGERS:
                raise _Odd(at, f"this number has more than {MAX_NUMBER} characters; round it")
        elif kind is float:
            if not math.isfinite(value):
                raise _Odd(at, not_a_number(str(value)))
        elif kind is not bool and value is not None:
            raise _Odd(at, f"a value of the type {kind.__name__} cannot stand in a document")
