"""Frozen attrs classes that cost little when a program starts.

attrs writes and compiles code for each class: to compare, to hash, to show.  With a hundred classes
that is a good part of a short run, so here it is written once, in `Record`, for those that need it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import attrs

__all__ = ["Record", "record"]


class Record:
    """Records of one class are equal where their fields are."""

    def __eq__(self, other: object) -> bool:
        return self._said() == other._said() if isinstance(other, type(self)) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._said())

    def __repr__(self) -> str:
        shown = [it.name for it in _fields(self) if it.repr]
        said = ", ".join(f"{name}={getattr(self, name)!r}" for name in shown)
        return f"{type(self).__name__}({said})"

    def _said(self) -> tuple[object, ...]:
        return tuple(getattr(self, it.name) for it in _fields(self) if it.eq)


def _fields(entry: Any) -> tuple[attrs.Attribute[Any], ...]:
    found: tuple[attrs.Attribute[Any], ...] = attrs.fields(type(entry))
    return found


if TYPE_CHECKING:
    from attrs import frozen as record
else:

    def record(kind):
        """Makes a frozen attrs class."""
        return attrs.frozen(slots=False, eq=False, repr=False)(kind)
