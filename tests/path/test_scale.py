"""Steps 6 to 10: ranges, worked out by hand; backwards, the demand that gives an output."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from prebind.model import LowHigh, Output
from prebind.path.scale import Scale

ORDERS = st.permutations(["reverse", "travel", "subtrim"]).map(tuple)
PERCENT = st.floats(0, 150)
SCALES = st.builds(
    Scale,
    st.builds(Output, order=ORDERS),
    native=st.sampled_from([-1, 1]),
    reversed=st.booleans(),
    travel=st.builds(LowHigh, PERCENT, PERCENT),
    subtrim=st.floats(-50, 50),
)
DEMANDS = st.floats(-200, 200)


@given(SCALES, DEMANDS, DEMANDS, st.floats(0, 1))
def test_the_demand_that_gives_an_output(scale: Scale, a: float, b: float, share: float) -> None:
    low, high = min(a, b), max(a, b)
    start, end = scale.unlimited(low), scale.unlimited(high)
    assume(abs(end - start) > 1e-6)
    value = start + share * (end - start)
    found = scale.demand(value, low, high)
    assert low <= found <= high
    assert abs(scale.unlimited(found) - value) <= 1e-6


@pytest.mark.parametrize(
    ("low", "high", "closed", "first", "last"),
    [
        (50, 60, (True, True), 100, 100),
        (50, 60, (False, True), 100, 100),
        (40, 50, (True, True), 0, 100),
        (40, 50, (True, False), 0, 0),
        (-50, -40, (True, True), -100, 0),
        (-50, -40, (False, True), 0, 0),
        (-60, -50, (True, True), -100, -100),
        (-60, -50, (True, False), -100, -100),
        (-50, 50, (False, False), 0, 0),
        (0, 10, (False, False), 0, 0),
    ],
)
def test_an_end_that_is_only_approached_may_lie_on_a_half_between_two_steps(
    low: float, high: float, closed: tuple[bool, bool], first: float, last: float
) -> None:
    """Three steps, −100, 0 and 100 %: halves, at ±50 %, go away from zero."""
    scale = Scale(Output(limit_percent=100, steps=3), 1, False, LowHigh(100, 100), 0)
    _, stepped = scale.image((low, high, *closed))
    assert stepped == (first, last, True, True)
