"""Tables of what comes of every combination of some controls' places, whatever they are called."""

from __future__ import annotations

from itertools import chain, islice, permutations, product
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Rows = dict[tuple[int, ...], Any]
"""What comes of every combination of places, by their numbers."""

MANY = 500
"""Situations whose pulses are told one by one; of more, the lowest and the highest."""

ORDERED = 20_000
"""Rows that may be put in order, in all orders of columns that do alike."""


class Column(NamedTuple):
    """A control, and what tells it from others but its name."""

    control: str
    head: Any


class Table(NamedTuple):
    """`controls` names the columns, `facts` does not."""

    facts: Any
    controls: tuple[str, ...] = ()


def ordered(facts: Iterable[Any]) -> list[Any]:
    """In an order that does not depend on the document's."""
    return sorted(facts, key=repr)


def table(columns: Sequence[Column], rows: Rows) -> Table:
    """Without the controls that make no difference, the rest in an order of its own.

    Columns are told apart by what they are and do; where that leaves several orders, the one with
    the least rows counts.
    """
    columns, rows = _mattering(columns, rows)
    does = [
        repr([column.head, ordered([places[i], outcome] for places, outcome in rows.items())])
        for i, column in enumerate(columns)
    ]
    groups = [[i for i, one in enumerate(does) if one == what] for what in sorted(set(does))]
    most = 1 + ORDERED // len(rows)
    orders = product(*(islice(permutations(group), most) for group in groups))
    found = (
        (ordered([[places[i] for i in order], outcome] for places, outcome in rows.items()), order)
        for order in (tuple(chain(*order)) for order in islice(orders, most))
    )
    least, order = min(found, key=repr)
    facts = {"columns": [columns[i].head for i in order], "rows": least}
    return Table(facts, tuple(columns[i].control for i in order))


def _mattering(columns: Sequence[Column], rows: Rows) -> tuple[Sequence[Column], Rows]:
    """Without the columns in which every place comes to the same."""
    for i in reversed(range(len(columns))):
        outcomes: dict[tuple[int, ...], list[Any]] = {}
        for places, outcome in rows.items():
            outcomes.setdefault(places[:i] + places[i + 1 :], []).append(outcome)
        if all(found.count(found[0]) == len(found) for found in outcomes.values()):
            columns = [*columns[:i], *columns[i + 1 :]]
            rows = {places: found[0] for places, found in outcomes.items()}
    return columns, rows


def together(tables: Iterable[tuple[Any, Table]]) -> list[Any]:
    """Which columns of which tables are one control: one that does two things is not two."""
    uses: dict[str, list[Any]] = {}
    for where, found in tables:
        for i, control in enumerate(found.controls):
            uses.setdefault(control, []).append([where, i])
    return ordered(map(ordered, uses.values()))
