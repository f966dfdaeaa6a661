"""Which control will do, and in which bands states lie on it."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prebind.document.model import Control, Output
from prebind.plan.needs import Selection
from prebind.plan.suits import MARGIN_US, layout
from prebind.plan.wishes import StateWish


def selection(count: int, purpose: str = "flight-mode") -> Selection:
    return Selection("it", purpose, tuple(StateWish(str(i), "other") for i in range(count)))


def switch(*values: float) -> Control:
    names = tuple(f"p{i}" for i in range(len(values)))
    return Control("switch", names, tuple(values))


def bands(*edges: float) -> tuple[dict[str, list[float]], ...]:
    return tuple({"percent": [low, high]} for low, high in pairwise(edges))


@pytest.mark.parametrize(
    ("count", "control", "edges", "expected", "positions"),
    [
        (3, switch(-100, 0, 100), None, (-150, -50, 50, 150), (0, 1, 2)),
        (3, switch(100, 0, -100), None, (-150, -50, 50, 150), (2, 1, 0)),
        (3, switch(-100, 0, 100), (-34, 34), (-150, -34, 34, 150), (0, 1, 2)),
        (2, switch(-100, 0, 100), (-34, 34), (-150, -34, 150), (0, 1, 1)),
        (2, Control("button"), None, (-150, 0, 150), (0, 1)),
        (2, switch(-60, -50), None, None, None),  # 40 µs apart: 20 µs to the middle
        (2, switch(-65, -50), None, (-150, -57.5, 150), (0, 1)),  # 60 µs apart: 30 µs
        (3, switch(-100, -33, 33, 100), (-34, 34), None, None),  # 4 µs from an edge
        (3, switch(-100, 100), None, None, None),
        (3, Control("knob"), None, (-150, -33.333, 33.333, 150), ()),
        (3, Control("slider"), (-34, 34), (-150, -34, 34, 150), ()),
    ],
)
def test_bands(
    count: int,
    control: Control,
    edges: tuple[float, ...] | None,
    expected: tuple[float, ...] | None,
    positions: tuple[int, ...] | None,
) -> None:
    found = layout(selection(count), control, Output(), edges)
    if expected is None:
        assert found is None
        return
    assert found is not None
    assert found.bands == bands(*expected)
    assert found.positions == positions


def test_a_radio_that_sends_the_function_the_other_way_round() -> None:
    turned = Output(native={"flight-mode": -1})
    found = layout(selection(3), switch(-100, 0, 100), turned)
    assert found is not None
    assert found.positions == (2, 1, 0)
    gain = layout(selection(3, "gain"), switch(-100, 0, 100), turned)
    assert gain is not None
    assert gain.positions == (0, 1, 2)


def test_bands_that_the_receiver_fixes() -> None:
    states = tuple(
        StateWish(name, "other", {"us": us})
        for name, us in (("low", [900, 1300]), ("high", [1700, 2100]))
    )
    fixed = Selection("it", "other", states)
    found = layout(fixed, switch(-100, 100), Output())
    assert found is not None
    assert found.bands == ({"us": [900.0, 1300.0]}, {"us": [1700.0, 2100.0]})
    assert layout(fixed, switch(-100, 0, 100), Output()) is None  # the middle is in no band
    assert layout(fixed, switch(-50, 100), Output()) is None  # 1300 µs is on an edge


@given(
    st.lists(st.integers(-100, 100), min_size=2, max_size=6, unique=True),
    st.integers(2, 4),
    st.sampled_from([None, 1024, 2048]),
)
def test_every_position_has_its_margin(values: list[int], count: int, steps: int | None) -> None:
    """Worked out here from the percentages alone, at 4 µs a percent."""
    found = layout(selection(count), switch(*values), Output(steps=steps))
    ordered = sorted(values)
    gaps = sorted((high - low for low, high in pairwise(ordered)), reverse=True)
    half_step = 0 if steps is None else 0.5 * 300 * 4 / (steps - 1)
    enough = [gap for gap in gaps if gap / 2 * 4 - 2 * half_step >= MARGIN_US + 0.01]
    if found is None:
        assert len(enough) < count - 1
        return
    inner = [it["percent"][1] for it in found.bands[:-1]]
    # Each edge between two positions loses up to half a step to rounding.
    nearest = min(abs(value - edge) * 4 for value in values for edge in inner)
    assert nearest >= MARGIN_US - half_step - 0.01
    assert set(found.positions) == set(range(count))
