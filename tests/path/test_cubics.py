"""Piecewise cubics against numpy: its polynomials, its roots, and a dense walk."""

from __future__ import annotations

from itertools import pairwise, product
from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.polynomial import Polynomial

from prebind.path.cubic import (
    Cubics,
    constant,
    rate_and_expo,
    roots,
    straight_lines,
    turning_points,
)

NUMBERS = st.floats(-100, 100).map(lambda number: round(number, 1))
COEFFICIENTS = st.tuples(*[NUMBERS] * 4)
EDGES = st.lists(st.integers(-99, 99), max_size=3, unique=True).map(sorted)


@st.composite
def cubics(draw: st.DrawFn) -> Cubics:
    edges = [-100, *draw(EDGES), 100]
    return Cubics(tuple((float(a), float(b), *draw(COEFFICIENTS)) for a, b in pairwise(edges)))


@st.composite
def continuous(draw: st.DrawFn) -> Cubics:
    """As they come in a demand: a curve, and a rate with expo, with a factor for each sign."""
    edges = [-100, *draw(EDGES), 100]
    curve = straight_lines([(edge, draw(NUMBERS)) for edge in edges])
    shaped = rate_and_expo(draw(NUMBERS), draw(NUMBERS))
    return curve.plus(shaped).scaled_by_sign(draw(NUMBERS), draw(NUMBERS))


CONTINUOUS = continuous()


def by_numpy(it: Cubics, u: float) -> float:
    """The value in the segment that begins at a position, or else in the one that it lies in."""
    chosen = [segment for segment in it.segments if segment[0] <= u][-1]
    return float(Polynomial(chosen[2:])(u / 100))


POSITIONS = [-100.0, -73.25, -50.0, -1.0, 0.0, 0.5, 33.0, 99.75, 100.0]


@given(cubics())
def test_values(it: Cubics) -> None:
    for u in [*POSITIONS, *(segment[0] for segment in it.segments)]:
        assert it(u) == pytest.approx(by_numpy(it, u), abs=1e-9)


@given(cubics(), cubics(), NUMBERS)
def test_sums_differences_and_multiples(one: Cubics, other: Cubics, factor: float) -> None:
    edges = {segment[0] for it in (one, other) for segment in it.segments}
    for u in [*POSITIONS, *edges]:
        a, b = by_numpy(one, u), by_numpy(other, u)
        assert one.plus(other)(u) == pytest.approx(a + b, abs=1e-9)
        assert one.minus(other)(u) == pytest.approx(a - b, abs=1e-9)
        assert one.scaled(factor)(u) == pytest.approx(a * factor, abs=1e-6)
        assert one.shifted(factor)(u) == pytest.approx(a + factor, abs=1e-9)
    refined = [segment[:2] for segment in one.plus(other).segments]
    assert refined == list(pairwise(sorted({*edges, 100.0})))


@given(cubics(), NUMBERS, NUMBERS)
def test_a_factor_for_each_sign(it: Cubics, low: float, high: float) -> None:
    signed = it.scaled_by_sign(low, high)
    for u in POSITIONS:
        value = by_numpy(it, u)
        if abs(value) > 1e-6:
            wanted = value * (low if value < 0 else high)
            assert signed(u) == pytest.approx(wanted, abs=1e-6)


@given(COEFFICIENTS, st.sampled_from([(-100.0, 100.0), (-40.0, 15.0), (0.0, 100.0)]))
def test_roots_and_turning_points(
    coefficients: tuple[float, ...], ends: tuple[float, float]
) -> None:
    segment = (*ends, *coefficients)
    polynomial = Polynomial(coefficients)
    walked = np.linspace(*ends, 2001)
    values = polynomial(walked / 100)
    for found, signed in (
        (roots(segment), values),  # type: ignore[arg-type]
        (turning_points(segment, *ends), polynomial.deriv()(walked / 100)),  # type: ignore[arg-type]
    ):
        assert found == sorted(found)
        assert all(ends[0] < u < ends[1] for u in found)
        changes = [
            (walked[i], walked[i + 1])
            for i in range(len(walked) - 1)
            if signed[i] * signed[i + 1] < 0
        ]
        for left, right in changes:
            assert any(left <= u <= right for u in found)
    for u in roots(segment):  # type: ignore[arg-type]
        assert polynomial(u / 100) == pytest.approx(0, abs=1e-9 * (1 + max(map(abs, coefficients))))
    for u in turning_points(segment, *ends):  # type: ignore[arg-type]
        assert polynomial.deriv()(u / 100) == pytest.approx(0, abs=1e-6)


ONE = Cubics(((-100.0, 100.0, 1.0, 2.0, 3.0, 4.0),))
TWO = Cubics(((-100.0, 0.0, 10.0, 20.0, 0.0, 0.0), (0.0, 100.0, 30.0, 0.0, -40.0, 0.0)))
THREE = Cubics(
    (
        (-100.0, -50.0, 5.0, 0.0, 0.0, 60.0),
        (-50.0, 33.0, 0.0, -7.0, 0.0, 0.0),
        (33.0, 100.0, -8.0, 0.0, 9.0, 2.0),
    )
)


@pytest.mark.parametrize(("one", "other"), list(product((ONE, TWO, THREE), repeat=2)))
def test_sums_and_differences_of_few_and_of_many_stretches(one: Cubics, other: Cubics) -> None:
    edges = sorted({edge for it in (one, other) for segment in it.segments for edge in segment[:2]})
    assert [segment[:2] for segment in one.plus(other).segments] == list(pairwise(edges))
    for u in POSITIONS:
        a, b = by_numpy(one, u), by_numpy(other, u)
        assert one(u) == pytest.approx(a)
        assert one.plus(other)(u) == pytest.approx(a + b)
        assert one.minus(other)(u) == pytest.approx(a - b)
        for it in (one.shifted(6), one.plus(constant(6))):
            assert it(u) == pytest.approx(a + 6)
        for low, high in ((2, -3), (0, 1), (4, 4)):
            signed = one.scaled_by_sign(low, high)
            assert signed(u) == pytest.approx(a * (low if a < 0 else high), abs=1e-9)


@pytest.mark.parametrize("factor", [1, -1, 0.01, 100])
@pytest.mark.parametrize(
    ("coefficients", "turns", "crosses"),
    [
        ((5, 0, 0, 0), [], []),
        ((-20, 100, 0, 0), [], [20]),
        # (x − 0.6)(x + 0.2)
        ((-0.12, -0.4, 1, 0), [20], [-20, 60]),
        # x(x − 0.5)(x + 0.5), whose slope is 3x² − 0.25.
        ((0, -0.25, 0, 1), [-50 / sqrt(3), 50 / sqrt(3)], [-50, 0, 50]),
        # Slopes 3(x − 0.5)(x + 0.2) and 3(x + 0.5)(x − 0.2); 1 and more away from zero.
        ((2, -0.3, -0.45, 1), [-20, 50], []),
        ((2, -0.3, 0.45, 1), [-50, 20], []),
        # Slopes 3(x − 0.5)(x + 1), which turns at the very end, and 3(x − 0.5)(x + 2).
        ((2, -1.5, 0.75, 1), [50], []),
        ((4, -3, 2.25, 1), [50], []),
        ((2, -1.5, -0.75, 1), [-50], []),  # 3(x + 0.5)(x − 1)
        # Up all the way: slopes 3x² + 1, 3x², where it is level but does not turn, and 3(x − 1)².
        ((0, 1, 0, 1), [], [0]),
        ((-0.125, 0, 0, 1), [], [50]),
        ((-7, 3, -3, 1), [], []),
        # It touches zero at x = 0 and crosses it at x = 0.5; its slope is 3x² − x.
        ((0, 0, -0.5, 1), [0, 100 / 3], [0, 50]),
    ],
)
def test_where_a_cubic_turns_and_where_it_is_zero(
    coefficients: tuple[float, ...], turns: list[float], crosses: list[float], factor: float
) -> None:
    """Worked out by hand, in percent of the control, whatever the cubic is multiplied by."""
    segment = (-100.0, 100.0, *(factor * it for it in coefficients))
    assert turning_points(segment, -100, 100) == pytest.approx(turns)  # type: ignore[arg-type]
    assert roots(segment) == pytest.approx(crosses, abs=1e-9)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("lo", "hi", "wanted"),
    [(-50, 50, [0]), (-60, 50, [-50, 0]), (0, 100, [50]), (-100, 0, [-50]), (10, 40, [])],
)
def test_a_zero_at_the_end_of_a_stretch_does_not_count(
    lo: float, hi: float, wanted: list[float]
) -> None:
    assert roots((lo, hi, 0.0, -25.0, 0.0, 100.0)) == pytest.approx(wanted, abs=1e-9)


@given(CONTINUOUS, st.integers(-100, 99), st.integers(1, 200))
def test_ends(it: Cubics, lo: int, width: int) -> None:
    hi = min(lo + width, 100)
    least, greatest = it.ends(float(lo), float(hi))
    walked = np.linspace(lo, hi, 1001)
    values = [by_numpy(it, u) for u in walked]
    assert least[0] <= min(values) + 1e-9
    assert greatest[0] >= max(values) - 1e-9
    for value, at, attained in (least, greatest):
        assert lo <= at <= hi
        assert attained
        assert value == pytest.approx(by_numpy(it, at), abs=1e-9)


@pytest.mark.parametrize("size", [1, 0.005])
@pytest.mark.parametrize("sign", [1, -1])
def test_turning_points_lose_no_digits_where_the_cube_hardly_counts(sign: int, size: float) -> None:
    """Of c₂x² + c₁x the turn is at −c₁/2c₂, and a cube of a millionth moves it by 10⁻¹² or so."""
    coefficients = (0.0, size, sign * size * 100, size * 1e-6)
    (turn,) = turning_points((-100.0, 100.0, *coefficients), -100, 100)
    assert turn == pytest.approx(-sign * 0.5, rel=1e-9)


def test_an_open_end_is_not_attained() -> None:
    rising = straight_lines([(-100, -100), (100, 100)])
    for open_low in (False, True):
        least, greatest = rising.ends(-50, 30, not open_low, open_low)
        assert least == (-50, -50, not open_low)
        assert greatest == (30, 30, open_low)


def test_an_open_end_where_the_line_bends_is_not_attained_either() -> None:
    hill = straight_lines([(-100, 0), (0, 100), (100, 0)])
    assert hill.ends(-50, 0, True, False) == ((50, -50, True), (100, 0, False))
    assert hill.ends(0, 50, False, True) == ((50, 50, True), (100, 0, False))
    assert hill.ends(-50, 50, False, False) == ((50, -50, False), (100, 0, True))


def test_of_two_equal_ends_the_one_that_is_attained_counts() -> None:
    hill = straight_lines([(-100, 0), (0, 100), (100, 0)])
    for closed in ((False, True), (True, False)):
        least, _ = hill.ends(-100, 100, *closed)
        assert least == (0, 100 if closed[1] else -100, True)
    valley = hill.scaled(-1)
    for closed in ((False, True), (True, False)):
        _, greatest = valley.ends(-100, 100, *closed)
        assert greatest == (0, 100 if closed[1] else -100, True)


@pytest.mark.parametrize(
    ("coefficients", "least", "greatest"),
    [
        ((0, 100, 0, 0), (-40, -40), (60, 60)),
        ((0, 0, 100, 0), (0, 0), (36, 60)),
        ((0, 0, 0, 100), (-6.4, -40), (21.6, 60)),
        # 100·(x − x²) turns at x = ½, 300·x² + 200·x³ at 0 (and at −1).
        ((0, 100, -100, 0), (-56, -40), (25, 50)),
        ((0, 0, 300, 200), (0, 0), (151.2, 60)),
        # 100·x − 62.5·x² turns at x = 0.8, −100·x − 62.5·x² at −0.8: beyond either end.
        ((0, 100, -62.5, 0), (-50, -40), (37.5, 60)),
        ((0, -100, -62.5, 0), (-82.5, 60), (30, -40)),
        # 100·(x³ − 0.12·x) turns at x = ±0.2, by 1.6.
        ((0, -12, 0, 100), (-1.6, -40), (14.4, 60)),
    ],
)
def test_ends_of_one_power_and_of_two(
    coefficients: tuple[float, ...], least: tuple[float, float], greatest: tuple[float, float]
) -> None:
    """From −40 to 60 %: values and where they are met, worked out by hand."""
    it = Cubics(((-100.0, 100.0, *coefficients),))  # type: ignore[arg-type]
    found = [(round(value, 9), round(u, 6), attained) for value, u, attained in it.ends(-40, 60)]
    assert found == [(*least, True), (*greatest, True)]


def test_ends_of_one_power_away_from_where_it_is_level() -> None:
    """From 20 to 60 %, where x, x² and x³ all rise."""
    for place, (least, greatest) in enumerate(((20, 60), (4, 36), (0.8, 21.6))):
        coefficients = [0.0, 0.0, 0.0, 0.0]
        coefficients[place + 1] = 100.0
        found = Cubics(((-100.0, 100.0, *coefficients),)).ends(20, 60)  # type: ignore[arg-type]
        assert [end[:2] for end in found] == [
            (pytest.approx(least), 20),
            (pytest.approx(greatest), 60),
        ]


def test_a_level_stretch_is_attained_inside_it() -> None:
    level = straight_lines([(-100, 10), (-20, 50), (40, 50), (100, -10)])
    _, greatest = level.ends(-20, 40, False, False)
    assert greatest == (50, 10, True)


def test_what_is_constant() -> None:
    assert constant(3).constant
    assert Cubics(((-100, 0, 3, 0, 0, 0), (0, 100, 3, 0, 0, 0))).constant
    assert not Cubics(((-100, 0, 3, 0, 0, 0), (0, 100, 4, 0, 0, 0))).constant
    for place in (3, 4, 5):
        sloping = [-100.0, 100.0, 3.0, 0.0, 0.0, 0.0]
        sloping[place] = 1.0
        assert not Cubics((tuple(sloping),)).constant  # type: ignore[arg-type]


@pytest.mark.parametrize("expo", [-100, -40, -0.5, 0, 0.5, 30, 100])
@pytest.mark.parametrize("rate", [50, 100, 125])
def test_rate_and_expo(rate: float, expo: float) -> None:
    """Soft: r·((1 − f)·x + f·x³).  Sharp: the same curve, seen from the stick's end."""
    f, shaped = abs(expo) / 100, rate_and_expo(rate, expo)
    ends = [segment[:2] for segment in shaped.segments]
    assert ends == ([(-100, 100)] if expo >= 0 else [(-100, 0), (0, 100)])
    for u in POSITIONS:
        x, sign = abs(u) / 100, np.sign(u)
        soft = (1 - f) * x + f * x**3
        sharp = 1 - ((1 - f) * (1 - x) + f * (1 - x) ** 3)
        assert shaped(u) == pytest.approx(rate * sign * (soft if expo >= 0 else sharp), abs=1e-9)


def test_straight_lines_are_those_of_numpy() -> None:
    points = [(-100.0, 20.0), (-35.0, -60.0), (10.0, 0.0), (100.0, 90.0)]
    lines = straight_lines(points)
    for u in POSITIONS:
        assert lines(u) == pytest.approx(np.interp(u, *zip(*points, strict=True)), abs=1e-9)
