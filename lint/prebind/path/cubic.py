"""Piecewise cubics of one control: what rates, expo, curves and mixes make of its movement.

A control's position u runs in percent; coefficients are in x = u/100, values in percent.
"""

from __future__ import annotations

import itertools
from math import sqrt
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

Segment = tuple[float, float, float, float, float, float]
"""(from u, to u, c0, c1, c2, c3): the value is c0 + c1·x + c2·x² + c3·x³ with x = u/100."""

End = tuple[float, float, bool]
"""(value, the u that gives it, whether it is attained or only approached)."""


class Cubics:
    """A function of one control's position, cubic on each of some adjoining stretches."""

    __slots__ = ("segments",)

    def __init__(self, segments: tuple[Segment, ...]) -> None:
        self.segments = segments

    def __call__(self, u: float) -> float:
        segments = self.segments
        chosen = segments[0]
        for segment in segments:
            if u < segment[0]:
                break
            chosen = segment
        _, _, c0, c1, c2, c3 = chosen
        x = u / 100
        return c0 + x * (c1 + x * (c2 + x * c3))

    @property
    def constant(self) -> bool:
        first = self.segments[0][2]
        return all(c0 == first and c1 == c2 == c3 == 0 for _, _, c0, c1, c2, c3 in self.segments)

    def plus(self, other: Cubics) -> Cubics:
        """The sum, on the common refinement of both."""
        if len(self.segments) == 1 and len(other.segments) == 1:
            a, b, *mine = self.segments[0]
            _, _, *its = other.segments[0]
            return Cubics(((a, b, *(p + q for p, q in zip(mine, its, strict=True))),))  # type: ignore[arg-type]
        edges = sorted({e for s in (*self.segments, *other.segments) for e in s[:2]})
        return Cubics(
            tuple(
                (a, b, *(p + q for p, q in zip(self._up_to(b), other._up_to(b), strict=True)))  # type: ignore[misc]
                for a, b in itertools.pairwise(edges)
            )
        )

    def minus(self, other: Cubics) -> Cubics:
        return self.plus(other.scaled(-1.0))

    def scaled(self, factor: float) -> Cubics:
        return Cubics(
            tuple(
                (a, b, c0 * factor, c1 * factor, c2 * factor, c3 * factor)
                for a, b, c0, c1, c2, c3 in self.segments
            )
        )

    def shifted(self, offset: float) -> Cubics:
        if offset == 0:
            return self
        return Cubics(
            tuple((a, b, c0 + offset, c1, c2, c3) for a, b, c0, c1, c2, c3 in self.segments)
        )

    def scaled_by_sign(self, low: float, high: float) -> Cubics:
        """Times `low` where the value is negative, times `high` where it is not."""
        if low == high:
            return self.scaled(low)
        pieces: list[Segment] = []
        for segment in self.segments:
            edges = [segment[0], *roots(segment), segment[1]]
            for a, b in itertools.pairwise(edges):
                factor = low if value(segment, (a + b) / 2) < 0 else high
                c0, c1, c2, c3 = segment[2:]
                pieces.append((a, b, c0 * factor, c1 * factor, c2 * factor, c3 * factor))
        return Cubics(tuple(pieces))

    def ends(
        self, lo: float, hi: float, lo_closed: bool = True, hi_closed: bool = True
    ) -> tuple[End, End]:
        """The least and the greatest value between two positions."""
        found: list[End] = [
            (self(lo), lo, lo_closed),
            (self(hi), hi, hi_closed),
        ]
        for segment in self.segments:
            a, b = max(lo, segment[0]), min(hi, segment[1])
            if a >= b:
                continue
            if a > lo:
                found.append((value(segment, a), a, True))
            if segment[3] == segment[4] == segment[5] == 0:
                found.append((segment[2], (a + b) / 2, True))
            elif segment[4] or segment[5]:
                found += ((value(segment, u), u, True) for u in turning_points(segment, a, b))
        least = greatest = found[0]
        for end in found[1:]:
            if end[0] < least[0] or (end[0] == least[0] and end[2] and not least[2]):
                least = end
            if end[0] > greatest[0] or (end[0] == greatest[0] and end[2] and not greatest[2]):
                greatest = end
        return least, greatest

    def _up_to(self, u: float) -> tuple[float, float, float, float]:
        """The coefficients of the stretch that ends there or goes on beyond."""
        for segment in self.segments:
            if u <= segment[1]:
                break
        return segment[2:]


def value(segment: Segment, u: float) -> float:
    _, _, c0, c1, c2, c3 = segment
    x = u / 100
    return c0 + x * (c1 + x * (c2 + x * c3))


def turning_points(segment: Segment, a: float, b: float) -> list[float]:
    """Positions strictly between a and b at which the slope is zero."""
    _, _, _, c1, c2, c3 = segment
    if c3 == 0:
        xs = [-c1 / (2 * c2)] if c2 else []
    else:
        inside = c2 * c2 - 3 * c1 * c3
        if inside <= 0:
            return []
        root = sqrt(inside)
        # The form without cancellation: the larger of the two first, the other from the product.
        q = -(c2 + (root if c2 >= 0 else -root))
        xs = [q / (3 * c3)] + ([c1 / q] if q else [])
    return sorted(u for u in (x * 100 for x in xs) if a < u < b)


def roots(segment: Segment) -> list[float]:
    """Positions strictly inside the segment at which the value passes through zero."""
    a, b = segment[:2]
    edges = [a, *turning_points(segment, a, b), b]
    found = []
    for left, right in itertools.pairwise(edges):
        at_left, at_right = value(segment, left), value(segment, right)
        if at_left == 0 and left != a:
            found.append(left)
        if at_left * at_right < 0:
            found.append(_bisect(segment, left, right, at_left < 0))
    return found


def _bisect(segment: Segment, left: float, right: float, rising: bool) -> float:
    while True:
        middle = (left + right) / 2
        if middle in (left, right):
            return middle
        here = value(segment, middle)
        if here == 0:
            return middle
        if (here < 0) == rising:
            left = middle
        else:
            right = middle


def constant(number: float) -> Cubics:
    return Cubics(((-100.0, 100.0, number, 0.0, 0.0, 0.0),))


def rate_and_expo(rate_percent: float, expo_percent: float) -> Cubics:
    """Rate and expo as signal-path step 1 has them; both in percent, expo from −100 to 100."""
    f = abs(expo_percent) / 100
    r = rate_percent
    if expo_percent >= 0:
        return Cubics(((-100.0, 100.0, 0.0, r * (1 - f), 0.0, r * f),))
    # sgn(x)·(1 − g(1 − |x|)) with g(y) = (1 − f)·y + f·y³, multiplied out for each side.
    return Cubics(
        (
            (-100.0, 0.0, 0.0, r * (1 + 2 * f), r * 3 * f, r * f),
            (0.0, 100.0, 0.0, r * (1 + 2 * f), r * -3 * f, r * f),
        )
    )


def straight_lines(points: Iterable[tuple[float, float]]) -> Cubics:
    """Straight lines between (position, value) points, both in percent, positions rising."""
    listed = list(points)
    segments = []
    for (u0, v0), (u1, v1) in itertools.pairwise(listed):
        slope = (v1 - v0) / (u1 - u0)
        segments.append((u0, u1, v0 - slope * u0, slope * 100, 0.0, 0.0))
    return Cubics(tuple(segments))


ZERO = constant(0.0)
AS_IT_STANDS = rate_and_expo(100.0, 0.0)


def sum_of(parts: Iterable[Cubics]) -> Cubics:
    """The sum of some, which may be none."""
    found = ZERO
    for part in parts:
        found = found.plus(part)
    return found
