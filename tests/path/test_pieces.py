"""Pieces of a range, tidied: the same values, in order, and none that lies within another."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from prebind.path.sums import Piece, tidy


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
