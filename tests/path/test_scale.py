"""Steps 6 to 10 backwards: the demand that gives an output, against a search for it."""

from __future__ import annotations

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
    # By floating point the last digits may lie beyond the two, and so may what comes of them.
    value = min(max(start + share * (end - start), min(start, end)), max(start, end))
    found = scale.demand(value, low, high)
    assert low - 1e-12 <= found <= high + 1e-12
    assert abs(scale.unlimited(found) - value) <= 1e-6
