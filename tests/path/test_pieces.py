"""Pieces of a range, tidied: the same values, in order, and none that lies within another."""

from __future__ import annotations

from itertools import pairwise, product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prebind.path.sums import SAME, End, Piece, Span, added, flat, tidy

Stretch = tuple[float, float, bool, bool]
"""(low, high, low attained, high attained)."""


@st.composite
def pieces(draw: st.DrawFn) -> Piece:
    low, high = sorted((draw(st.integers(0, 6)), draw(st.integers(0, 6))))
    closed = low == high
    return (
        float(low),
        float(high),
        closed or draw(st.booleans()),
        closed or draw(st.booleans()),
        None,
        None,
    )


def values(some: list[Any]) -> set[float]:
    """Of the whole and half numbers those that lie in a piece."""
    return {
        at / 2
        for at in range(13)
        for low, high, low_closed, high_closed, *_ in some
        if (low < at / 2 or (low_closed and low == at / 2))
        and (at / 2 < high or (high_closed and high == at / 2))
    }


@given(st.lists(pieces(), min_size=1, max_size=5))
def test_tidy(some: list[Piece]) -> None:
    found = tidy(list(some))
    assert values(found) == values(some)
    for before, after in pairwise(found):
        assert (before[0], not before[2]) < (after[0], not after[2])
        assert (before[1], before[3]) < (after[1], after[3])


UP_TO_0 = (-1.0, 0.0, True, True)


@pytest.mark.parametrize(
    ("below", "above", "kept"),
    [
        # A point this close above an end is that end, spelt differently by floating point …
        (UP_TO_0, (SAME / 2, SAME / 2, True, True), False),
        (UP_TO_0, (SAME, SAME, True, True), False),
        (UP_TO_0, (SAME * 1.5, SAME * 1.5, True, True), True),
        # … but not where that end is only approached: then nothing else would stand for it.
        ((-1.0, 0.0, True, False), (SAME / 2, SAME / 2, True, True), True),
        ((-1.0, 0.0, True, False), (0.0, 0.0, True, True), True),
        # A stretch keeps its own end, however little it lies beyond.
        (UP_TO_0, (-0.5, SAME / 2, True, True), True),
        # Whole within the other, and the other's own end once more.
        (UP_TO_0, (-0.5, -0.25, True, True), False),
        (UP_TO_0, (-0.5, 0.0, False, True), False),
        ((-1.0, 0.0, True, False), (-0.5, 0.0, True, False), False),
        ((-1.0, 0.0, True, False), (-0.5, 0.0, True, True), True),
        # Of two that begin at one value the one that is attained there, or reaches further.
        ((-1.0, 2.0, True, True), (-1.0, 0.0, True, True), False),
        (UP_TO_0, (-1.0, 0.0, False, True), False),
        (UP_TO_0, (-1.0, 0.0, True, False), False),
        ((-1.0, -1.0, True, True), (-1.0, 0.0, False, True), True),
    ],
)
@pytest.mark.parametrize("turned", [False, True])
def test_what_lies_within_another_piece(
    below: Stretch, above: Stretch, kept: bool, turned: bool
) -> None:
    both: list[Piece] = [(*below, None, None), (*above, None, None)]
    wanted = list(both) if kept else both[:1]
    assert tidy(both[::-1] if turned else both) == wanted


def part(*some: Stretch) -> Span:
    """Pieces whose witnesses say where they are."""
    end: End = (0.0, True, {})
    pieces = ((*it, {f"{it[0]:g}": it[0]}, {f"{it[1]:g}": it[1]}) for it in some)
    return Span(end, end, tuple(pieces))


def point(at: float) -> Stretch:
    return (at, at, True, True)


def test_sums_of_one_piece_of_each_part() -> None:
    found = added([part(point(10), point(20)), part((1, 3, True, False), (5, 6, False, True))], 100)
    assert found is not None
    assert [piece[:4] for piece in found] == [
        (11, 13, True, False),
        (15, 16, False, True),
        (21, 23, True, False),
        (25, 26, False, True),
    ]
    assert [flat(piece[4]) for piece in found][:2] == [{"10": 10, "1": 1}, {"10": 10, "5": 5}]
    assert [flat(piece[5]) for piece in found][:2] == [{"10": 10, "3": 3}, {"10": 10, "6": 6}]


def test_a_sum_is_attained_where_all_its_parts_are() -> None:
    for one, other in product((True, False), repeat=2):
        ends = added([part((0, 1, one, True)), part((0, 1, other, True))], 100)
        assert ends is not None
        assert ends[0][2:4] == (one and other, True)
        ends = added([part((0, 1, True, one)), part((0, 1, True, other))], 100)
        assert ends is not None
        assert ends[0][2:4] == (True, one and other)


def test_nothing_added_is_nothing() -> None:
    assert added([], 0) == [(0, 0, True, True, {}, {})]


def test_a_part_whose_pieces_are_not_known_leaves_the_sum_unknown() -> None:
    end: End = (0.0, True, {})
    assert added([part(point(1)), Span(end, end, None)], 100) is None


def test_each_sum_on_the_way_counts_against_the_bound() -> None:
    """Two pieces to begin with, then each of them with the four of the next: 2 + 8."""
    parts = [part(point(1), point(2)), part(*(point(10 * i) for i in range(4)))]
    assert len(added(parts, 10) or ()) == 8
    assert added(parts, 9) is None
