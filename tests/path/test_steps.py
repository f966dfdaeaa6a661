"""Steps 6 to 10 of the signal path, from a demand to a pulse, worked out by hand."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from tests.path.test_scale import SCALES

from prebind.model import LowHigh, Output
from prebind.path.scale import Scale

if TYPE_CHECKING:
    from prebind.path.scale import Range


def scale(limit: float = 150, steps: int | None = None, **parts: Any) -> Scale:
    """Nothing reversed, all travel, no sub-trim, unless said otherwise."""
    order = parts.pop("order", ("reverse", "travel", "subtrim"))
    output = Output(limit_percent=limit, steps=steps, order=order)
    whole = {"native": 1, "reversed": False, "travel": LowHigh(100, 100), "subtrim": 0}
    return Scale(output, **{**whole, **parts})


@pytest.mark.parametrize(
    ("low", "high", "demand", "before", "after"),
    [
        # A side without travel is 0 % all over: that is attained though its end is not.
        (0, 100, (-50, 50, False, False), (0, 50, True, False), (0, 50, True, False)),
        (100, 0, (-50, 50, False, False), (-50, 0, False, True), (-50, 0, False, True)),
        (0, 100, (-50, -10, False, False), (0, 0, True, True), (0, 0, True, True)),
        (0, 100, (-50, 0, False, False), (0, 0, True, True), (0, 0, True, True)),
        (100, 0, (0, 50, False, False), (0, 0, True, True), (0, 0, True, True)),
        # No value above 0 % is on the side without travel.
        (0, 100, (0, 50, False, False), (0, 50, False, False), (0, 50, False, False)),
        (100, 0, (-50, 0, False, False), (-50, 0, False, False), (-50, 0, False, False)),
        (50, 200, (-40, 40, True, False), (-20, 80, True, False), (-20, 80, True, False)),
        (50, 200, (-40, -20, True, False), (-20, -10, True, False), (-20, -10, True, False)),
        # What is cut off is attained, however far its end is beyond.
        (100, 100, (140, 160, False, False), (140, 160, False, False), (140, 150, False, True)),
        (100, 100, (-160, 140, False, False), (-160, 140, False, False), (-150, 140, True, False)),
        (100, 100, (160, 170, False, False), (160, 170, False, False), (150, 150, True, True)),
        (100, 100, (-170, -160, False, True), (-170, -160, False, True), (-150, -150, True, True)),
        (100, 100, (150, 160, False, False), (150, 160, False, False), (150, 150, True, True)),
        (100, 100, (140, 150, True, False), (140, 150, True, False), (140, 150, True, False)),
        (100, 100, (-150, -140, False, True), (-150, -140, False, True), (-150, -140, False, True)),
    ],
)
def test_a_range_through_travel_and_limit(
    low: float, high: float, demand: Range, before: Range, after: Range
) -> None:
    assert scale(travel=LowHigh(low, high)).image(demand) == (before, after)
    # Native direction and reversing turn the range round, and both together not at all.
    lo, hi, lo_closed, hi_closed = demand
    turned = (-hi, -lo, hi_closed, lo_closed)
    for parts in ({"native": -1}, {"reversed": True}):
        it = scale(travel=LowHigh(low, high), **parts)
        assert it.image(turned) == (before, after)
        assert it.direction == -1
    both = scale(travel=LowHigh(low, high), native=-1, reversed=True)
    assert both.image(demand) == (before, after)
    assert both.direction == 1


@pytest.mark.parametrize(
    ("order", "output"),
    [
        # −(40 %) is −40; half of that −20; 10 more is −10.
        (("reverse", "travel", "subtrim"), -10),
        (("reverse", "subtrim", "travel"), -15),  # −40 + 10 = −30
        (("travel", "reverse", "subtrim"), -70),  # twice 40 is 80
        (("travel", "subtrim", "reverse"), -90),
        (("subtrim", "reverse", "travel"), -25),  # 50, −50
        (("subtrim", "travel", "reverse"), -100),
    ],
)
def test_in_the_radio_s_order(order: tuple[str, str, str], output: float) -> None:
    it = scale(order=order, reversed=True, travel=LowHigh(50, 200), subtrim=10)
    assert it.unlimited(40) == output
    assert it.image((40, 40, True, True))[0] == (output, output, True, True)


@pytest.mark.parametrize(
    ("demand", "output"), [(-40, -20), (-0.5, -0.25), (0, 0), (0.5, 1), (40, 80)]
)
def test_each_side_has_its_own_travel(demand: float, output: float) -> None:
    assert scale(travel=LowHigh(50, 200)).unlimited(demand) == output


@pytest.mark.parametrize(
    ("parts", "value", "demand"),
    [
        # Half below zero, all above, and 10 more.
        ({}, -40, -100),
        ({}, 0, -20),
        ({}, 10, 0),
        ({}, 60, 50),
        ({}, 110, 100),
        # Reversed it is half above zero.
        ({"reversed": True}, 110, -100),
        ({"reversed": True}, 60, -50),
        ({"reversed": True}, 10, 0),
        ({"reversed": True}, 0, 20),
        ({"reversed": True}, -40, 100),
        # Shifted before, the travel changes at −10.
        ({"order": ("subtrim", "travel", "reverse")}, -45, -100),
        ({"order": ("subtrim", "travel", "reverse")}, 5, -5),
        ({"order": ("subtrim", "travel", "reverse")}, -5, -20),
    ],
)
def test_the_demand_that_gives_an_output(
    parts: dict[str, Any], value: float, demand: float
) -> None:
    it = scale(**{"travel": LowHigh(50, 100), "subtrim": 10, **parts})
    assert it.unlimited(demand) == value
    assert it.demand(value, -100, 100) == pytest.approx(demand)
    if demand != 0:  # on one side alone, too
        assert it.demand(value, *sorted((demand * 1.5, demand))) == pytest.approx(demand)


def test_where_a_whole_stretch_gives_one_output_the_demand_lies_in_it() -> None:
    it = scale(travel=LowHigh(0, 100), subtrim=10)
    assert it.unlimited(-100) == it.unlimited(-50) == 10
    assert -100 <= it.demand(10, -100, -50) <= -50


@pytest.mark.parametrize(
    ("steps", "demand", "output"),
    [
        # Four of them: −150, −50, 50 and 150 %.
        (4, 99.9, 50),
        (4, 100, 150),
        (4, -99.9, -50),
        (4, -100, -150),
        (4, 0, 50),
        (4, -0.1, -50),
        (4, 149, 150),
        (4, 180, 150),
        (4, -180, -150),
        # Five: −150, −75, 0, 75 and 150 %.
        (5, 37.4, 0),
        (5, 37.5, 75),
        (5, -37.4, 0),
        (5, -37.5, -75),
        (5, 0, 0),
        (301, 0.5, 1),
        (301, -0.5, -1),
        (301, -0.4, 0),
        (2, 0, 150),
        (2, -0.1, -150),
        (None, 37.4, 37.4),
    ],
)
def test_to_the_nearest_step_halves_away_from_zero(
    steps: int | None, demand: float, output: float
) -> None:
    it = scale(steps=steps)
    assert it.percent(demand) == pytest.approx(output)
    assert it.us(demand) == pytest.approx(1500 + 4 * output)
    assert it.exact.percent(demand) == max(min(demand, 150), -150)


@pytest.mark.parametrize(
    ("parts", "kinks"),
    [
        # Half below zero, shifted by 10: +150 % at 140, −150 % at −160/½ = −320.
        ({}, [-320, 0, 140]),
        ({"reversed": True}, [-140, 0, 320]),
        ({"native": -1}, [-140, 0, 320]),
        # Shifted before: zero at −10, +150 % at 140, −150 % at −310.
        ({"order": ("subtrim", "travel", "reverse")}, [-310, -10, 140]),
        ({"order": ("subtrim", "travel", "reverse"), "reversed": True}, [-310, -10, 140]),
        ({"order": ("subtrim", "reverse", "travel"), "reversed": True}, [-160, -10, 290]),
        ({"order": ("reverse", "subtrim", "travel"), "reversed": True}, [-140, 10, 310]),
        ({"travel": LowHigh(0, 100)}, [0, 140]),
        ({"travel": LowHigh(100, 0)}, [-160, 0]),
        ({"travel": LowHigh(0, 0)}, [0]),
        # The sub-trim alone is beyond the limit: +5 % at −5/½, −5 % at −15/½.
        ({"limit": 5}, [-30, -10, 0]),
        ({"limit": 5, "subtrim": 4.5}, [-19, 0, 0.5]),
        ({"limit": 5, "subtrim": 5.5}, [-21, -1, 0]),
        ({"limit": 5, "subtrim": -10, "travel": LowHigh(100, 50)}, [0, 10, 30]),
    ],
)
def test_kinks_are_where_zero_and_the_limits_are_met(
    parts: dict[str, Any], kinks: list[float]
) -> None:
    it = scale(**{"travel": LowHigh(50, 100), "subtrim": 10, **parts})
    assert sorted(it.kinks) == pytest.approx(kinks)


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
        (10, 100, (False, True), 0, 100),
        (-100, -10, (True, False), -100, 0),
    ],
)
def test_an_end_that_is_only_approached_may_lie_on_a_half_between_two_steps(
    low: float, high: float, closed: tuple[bool, bool], first: float, last: float
) -> None:
    """Three steps, −100, 0 and 100 %: halves, at ±50 %, go away from zero."""
    _, stepped = scale(limit=100, steps=3).image((low, high, *closed))
    assert stepped == (first, last, True, True)


@pytest.mark.parametrize(
    ("low", "high", "first", "last"),
    [(10, 20, 10, 20), (10.0499, 20.0501, 10, 20.1), (10.0501, 20.0499, 10.1, 20)],
)
def test_an_end_that_is_only_approached_among_many_steps(
    low: float, high: float, first: float, last: float
) -> None:
    """2001 of them are 0.1 % apart, and halves end in 5 hundredths."""
    _, stepped = scale(limit=100, steps=2001).image((low, high, False, False))
    assert stepped[:2] == pytest.approx((first, last))
    assert stepped[2:] == (True, True)


@given(SCALES)
def test_between_kinks_it_is_straight(it: Scale) -> None:
    bends = [-1000.0, *sorted(at for at in it.kinks if abs(at) < 1000), 1000.0]
    for left, right in pairwise(bends):
        start, middle, end = map(it.percent, (left, (left + right) / 2, right))
        assert abs((start + end) / 2 - middle) <= 1e-6
