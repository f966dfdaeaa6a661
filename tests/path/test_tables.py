"""How tables of proofs are put in an order that hangs on no name, and how many orders are tried."""

from __future__ import annotations

from itertools import islice, permutations, product
from typing import TYPE_CHECKING

import pytest

from prebind.path.proofs.tables import Column, table

if TYPE_CHECKING:
    from prebind.path.proofs.tables import Rows

COUNT = 6
COLUMNS = [Column(f"s{i}", "two positions") for i in range(COUNT)]

# The five rounds in which six meet, each the others once (a round robin by the circle method).
ROUNDS = [
    {5: turn, turn: 5} | {(turn + i) % 5: (turn - i) % 5 for i in (1, 2, -1, -2)}
    for turn in range(5)
]


def told(rows: Rows, order: tuple[int, ...]) -> list[list[object]]:
    """The rows with their columns in an order, sorted as they are written."""
    moved = ([[places[i] for i in order], outcome] for places, outcome in rows.items())
    return sorted(moved, key=repr)


@pytest.fixture(scope="module")
def alike() -> Rows:
    """Six switches that all do alike: on, any two give the number of the round in which they meet.

    No two orders of them give the same rows.  The first order gives the least.
    """

    def outcome(places: tuple[int, ...]) -> int:
        on = [i for i, place in enumerate(places) if place]
        meet = (n for n, it in enumerate(ROUNDS, 1) if len(on) == 2 and it[on[0]] == on[1])
        return next(meet, 0)

    rows = {places: outcome(places) for places in product((0, 1), repeat=COUNT)}
    whole = {repr(told(rows, order)): order for order in permutations(range(COUNT))}
    assert len(whole) == 720
    least = whole[min(whole)]
    return {tuple(places[i] for i in least): outcome for places, outcome in rows.items()}


@pytest.mark.parametrize(("number", "tried"), [(1, True), (313, True), (314, False)])
def test_so_many_orders_are_tried(alike: Rows, number: int, tried: bool) -> None:
    """Of 64 rows each: the first, and as many more as 20,000 rows allow, 312."""
    order = next(islice(permutations(range(COUNT)), number - 1, None))
    rows: Rows = {}
    for places, outcome in alike.items():
        here = dict(zip(order, places, strict=True))
        rows[tuple(here[i] for i in range(COUNT))] = outcome
    found = table(COLUMNS, rows)
    assert (found.facts["rows"] == told(alike, tuple(range(COUNT)))) is tried
    if tried:
        assert found.controls == tuple(f"s{i}" for i in order)
