"""Dead centres of a linkage, found a second time by turning the arm in small steps."""

from __future__ import annotations

from itertools import pairwise

import pytest

from prebind.document.model import Linkage
from prebind.path.linkage import FourBar, Movement, between

STEP_DEG = 0.05

LINKAGES = [
    (40, 120, 80, 100),  # neither arm goes round for want of pushrod and horn
    (10, 60.83, 20, 60),
    (20, 50, 60, 70),
    (60, 25, 40, 50),
    (50, 30, 45, 70),
    (30, 30, 50, 20),
    (25, 70, 25, 70),
]
"""Arm, pushrod, horn and base, in mm."""


def turned(bar: FourBar) -> list[tuple[float, tuple[float, float] | None]]:
    steps = [STEP_DEG * (i + 0.37) for i in range(int(360 / STEP_DEG))]
    return [(at, bar.horn_angles(at)) for at in steps]


def by_turning(bar: FourBar) -> list[float]:
    """Where the horn turns back on a branch, and where it comes or goes."""
    walked = turned(bar)
    found = []
    for (at, one), (_, other) in zip(walked, [*walked[1:], walked[0]], strict=True):
        if (one is None) != (other is None):
            found.append(at + STEP_DEG / 2)
    for branch in (0, 1):
        ways = []
        for (at, one), (_, other) in zip(walked, [*walked[1:], walked[0]], strict=True):
            if one is not None and other is not None:
                ways.append((at, between(other[branch], one[branch])))
            else:
                ways.append((at, 0.0))
        for (_, before), (at, after) in zip(ways, [*ways[1:], ways[0]], strict=True):
            if before * after < 0:
                found.append(at)
    return sorted(found)


@pytest.mark.parametrize("lengths", LINKAGES[:-1], ids=str)
def test_dead_centres(lengths: tuple[float, ...]) -> None:
    bar = FourBar(*lengths)
    assert bar.dead_centres == pytest.approx(by_turning(bar), abs=2 * STEP_DEG)


def test_a_parallelogram_lines_up_along_its_base() -> None:
    assert {round(at) % 360 for at in FourBar(*LINKAGES[-1]).dead_centres} == {0, 180}


@pytest.mark.parametrize("geometry", [(10, 20, 60), (30, 10, 60), (18, 15, 40), (25, 25, 30)])
@pytest.mark.parametrize(
    "turned", [(30, 150), (-60, 60), (5, 25), (150, 175), (185, 215), (300, 372), (-420, -330)]
)
def test_a_movement_locks_where_its_horn_turns_back_or_is_lost(
    geometry: tuple[float, float, float], turned: tuple[float, float]
) -> None:
    """On its own branch alone: a dead centre of the other one does not concern it."""
    movement = Movement(Linkage(*geometry))
    low, high = turned
    steps = [low + STEP_DEG * i for i in range(int((high - low) / STEP_DEG) + 1)]
    horns = [movement.horn_deg(at) for at in steps]
    lost = {horn is None for horn in horns} == {True, False}
    known = [horn for horn in horns if horn is not None]
    ways = {between(b, a) > 0 for a, b in pairwise(known)}
    assert (movement.dead_centre_between(low, high) is not None) == (lost or len(ways) == 2)
