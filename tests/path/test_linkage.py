"""The four-bar linkage against published values and another library."""

from __future__ import annotations

from itertools import product
from math import atan2, cos, degrees, hypot, radians, sin

import pytest
from pylinkage.geometry import circle_intersect

from prebind.document.model import Linkage
from prebind.path.linkage import FourBar, Movement, between


def test_published_example() -> None:
    """Norton, Design of Machinery, position analysis example (from memory; the formula agrees).

    a, b, c, d = 40, 120, 80, 100 mm, input 40°: output 57.325° open, −98.005° crossed.
    """
    both = FourBar(40, 120, 80, 100).horn_angles(40)
    assert both is not None
    assert sorted(round(between(angle, 0), 3) for angle in both) == [-98.005, 57.325]


GEOMETRIES = list(
    product((8.0, 12.0), (10.0, 16.0), (40.0, 75.0), (80.0, 90.0, 100.0), (85.0, 90.0))
)


def by_circles(linkage: Linkage, turned: float) -> list[float]:
    """Horn angles from where the horn's and the pushrod's circles meet.

    Source: PyPI `pylinkage` 1.3.0, `circle_intersect`.
    """
    a, c, d = linkage.arm_mm, linkage.horn_mm, linkage.base_mm
    neutral_arm, neutral_horn = (
        radians(linkage.arm_at_neutral_deg),
        radians(linkage.horn_at_neutral_deg),
    )
    rod = hypot(
        d + c * cos(neutral_horn) - a * cos(neutral_arm),
        c * sin(neutral_horn) - a * sin(neutral_arm),
    )
    arm = radians(linkage.arm_at_neutral_deg + turned)
    found = circle_intersect(a * cos(arm), a * sin(arm), rod, d, 0.0, c)
    points = [(found[1], found[2]), (found[3], found[4])] if found[0] == 2 else []
    return [degrees(atan2(y, x - d)) for x, y in points]


@pytest.mark.parametrize("geometry", GEOMETRIES, ids=str)
def test_against_circles(geometry: tuple[float, ...]) -> None:
    linkage = Linkage(*geometry)
    movement = Movement(linkage)
    for turned in (-40.0, -25.0, -5.0, 0.0, 5.0, 25.0, 40.0):
        there = movement.horn_deg(linkage.arm_at_neutral_deg + turned)
        others = by_circles(linkage, turned)
        if there is None:
            assert not others
            continue
        misses = [abs(between(o, linkage.horn_at_neutral_deg + there)) for o in others]
        assert min(misses) < 1e-6


def test_slope_is_the_change_of_the_angle() -> None:
    """Virtual work needs dδ/dθ: compared with the difference quotient."""
    for geometry in GEOMETRIES:
        movement = Movement(Linkage(*geometry))
        for at in (60.0, 90.0, 115.0):
            before, after = movement.horn_deg(at - 1e-4), movement.horn_deg(at + 1e-4)
            slope = movement.slope(at)
            assert before is not None
            assert after is not None
            assert slope == pytest.approx((after - before) / 2e-4, rel=1e-5)


def test_parallel_arms_of_one_length_turn_alike() -> None:
    """A parallelogram: the horn turns as the arm does (geometry, no source needed)."""
    movement = Movement(Linkage(10, 10, 60))
    for turned in (-50, -10, 0, 30, 60):
        assert movement.horn_deg(90 + turned) == pytest.approx(turned, abs=1e-9)


def test_dead_centres_are_where_the_lengths_line_up() -> None:
    """Arm 10, horn 20, base 60 mm, both upright: worked out by the law of cosines.

    The pushrod is √(60² + 10²) = 60.828 mm.  It stands in line with the horn where the arm's end is
    60.828 + 20 = 80.828 or 40.828 mm from the hinge; the arm's end is never further than 70 mm, and
    is 40.828 mm away never (50 at least): no dead centre of the horn.  In line with the arm where
    the horn's end is 70.828 or 50.828 mm from the shaft:
    cos = (60² + 70.828² − 20²)/(2·60·70.828) = 0.96674 → 14.82°,
    cos = (60² + 50.828² − 20²)/(2·60·50.828) = 0.94823 → 18.52° (and opposite, 198.52°).
    """
    movement = Movement(Linkage(10, 20, 60))
    angles = [round(angle, 1) for angle in movement.bar.dead_centres]
    assert angles == [14.8, 161.5, 198.5, 345.2]
    assert movement.dead_centre_between(30, 150) is None
    locked = movement.dead_centre_between(10, 90)
    assert locked == pytest.approx(14.82, abs=0.01)


def test_a_range_that_cannot_be_assembled_is_a_dead_centre() -> None:
    movement = Movement(Linkage(30, 10, 60))
    assert movement.horn_deg(20) is None
    assert movement.dead_centre_between(20, 90) is not None


@pytest.mark.parametrize(
    ("arm", "horn"), [(90, 90), (90, -90), (-90, 90), (-90, -90), (75, 110), (75, -110), (120, 60)]
)
def test_a_linkage_stays_as_it_is_assembled(arm: float, horn: float) -> None:
    """With arm and horn on one side of the base line, or crossed: from neutral it turns smoothly.

    The pushrod keeps its length, worked out here from where its two ends are.
    """
    a, c, d = 10.0, 20.0, 60.0
    movement = Movement(Linkage(a, c, d, arm, horn))
    assert movement.horn_deg(arm) == pytest.approx(0, abs=1e-9)
    before = 0.0
    for turned in range(-30, 31):
        there = movement.horn_deg(arm + turned)
        assert there is not None
        if turned > -30:
            assert abs(there - before) < 5  # no jump to the other assembly
        before = there
        at_arm, at_horn = radians(arm + turned), radians(horn + there)
        rod = hypot(d + c * cos(at_horn) - a * cos(at_arm), c * sin(at_horn) - a * sin(at_arm))
        assert rod == pytest.approx(movement.bar.pushrod)


@pytest.mark.parametrize("geometry", [(12.5, 14.3, 61.7, 0, 0), (11, 7, 43, 180, 180)])
def test_a_linkage_that_a_last_digit_keeps_from_being_assembled_at_neutral_locks_there(
    geometry: tuple[float, ...],
) -> None:
    """Arm, pushrod and horn lie in one line, so that floating point may leave the rod too short."""
    movement = Movement(Linkage(*geometry))
    neutral = geometry[3]
    assert movement.bar.horn_angles(neutral) is None
    locked = movement.dead_centre_between(neutral - 1, neutral + 1)
    assert locked == pytest.approx(neutral, abs=1e-3)


LENGTHS = list(product((6, 7, 10, 12.5, 25.4, 40), (5, 8, 10, 12.2, 20), (10, 20, 40, 43, 61.7)))


@pytest.mark.parametrize(
    "neutral", [(0, 0), (180, 180), (0, 180), (180, 0), (-180, 180), (360, -360)], ids=str
)
def test_arm_pushrod_and_horn_in_one_line_are_a_dead_centre(neutral: tuple[int, int]) -> None:
    """The pushrod's line runs through shaft and hinge, so that it turns neither.

    For small turns t of the arm and h of the horn from 0, with D = d + c − a and b = |D|, what
    the pushrod's length leaves is, to second order, c·(a − d)·h² − 2·a·c·t·h + a·(c + d)·t² = 0,
    with a quarter discriminant of a·c·d·D·t².  With D > 0 the horn may go either of two ways for
    one turn of the arm, with D < 0 none: the arm does not decide where the surface goes.  An arm
    or horn at 180° is the same with its length negative.
    """
    for a, c, d in LENGTHS:
        movement = Movement(Linkage(a, c, d, *neutral))
        for low, high in ((-5, 5), (0, 5), (-5, 0), (0, 0)):
            locked = movement.dead_centre_between(neutral[0] + low, neutral[0] + high)
            assert locked == pytest.approx(neutral[0], abs=1e-3), (a, c, d)
        turns = [abs(between(at, neutral[0])) for at in movement.bar.dead_centres]
        assert min(turns) < 1e-3, (a, c, d)


@pytest.mark.parametrize(("share", "locks"), [(0.9, True), (1.1, False)])
@pytest.mark.parametrize("size", [0.1, 1, 10])
def test_within_a_millionth_of_its_lengths_of_a_line_it_locks(
    share: float, locks: bool, size: float
) -> None:
    """With the arm of 30 upright at one end of a base of 60 mm its end is √(60² + 30²) from the
    hinge at the other, and a horn of 10 mm so much less off the line to it as its angle says.
    """
    a, c, d = 30 * size, 10 * size, 60 * size
    off = share * 1e-6 * (a + c + d)
    horn = degrees(atan2(a, -d) - off / hypot(a, d))
    movement = Movement(Linkage(a, c, d, 90, horn))
    assert (movement.dead_centre_between(90, 90) is not None) is locks


def test_a_parallelogram_is_free_between_the_two_ways_along_its_base() -> None:
    for a, d in product((6, 7.7, 12.5, 30.3), (20, 61.7, 93)):
        movement = Movement(Linkage(a, a, d))
        assert movement.dead_centre_between(0.01, 179.99) is None
        assert movement.dead_centre_between(-1, 90) == pytest.approx(0, abs=1e-3)
        assert movement.dead_centre_between(90, 181) == pytest.approx(180, abs=1e-3)


@pytest.mark.parametrize("horn", [10, 20, 30])
@pytest.mark.parametrize("neutral", [-70, 70, 90])
def test_an_arm_as_long_as_the_base_is_assembled_at_neutral_too(horn: float, neutral: int) -> None:
    """Arm and horn are parallel and the horn has not turned; the other assembly has it at 180°.

    That is mirrored about the line from the hinge to the arm's end, which stands at 90° and half
    the arm's angle: twice this less the arm's angle.
    """
    movement = Movement(Linkage(26, horn, 26, neutral, neutral))
    both = movement.bar.horn_angles(neutral)
    assert both is not None
    assert sorted(angle % 360 for angle in both) == pytest.approx(sorted([neutral % 360, 180]))
    assert movement.horn_deg(neutral) == pytest.approx(0, abs=1e-9)
    there = neutral + (movement.horn_deg(neutral + 10) or 0.0)
    misses = [
        between(other, there) for other in by_circles(Linkage(26, horn, 26, neutral, neutral), 10)
    ]
    assert min(abs(miss) for miss in misses) < 1e-6


@pytest.mark.parametrize(("arm", "horn"), [(18, 42), (24.5, 2)])
def test_a_horn_whose_end_is_on_the_shaft_locks(arm: float, horn: float) -> None:
    """The pushrod lies on the arm wherever that stands, and the horn does not move."""
    assert Movement(Linkage(arm, horn, horn, 53, 180)).dead_centre_between(52, 54) is not None


def test_a_linkage_that_is_just_long_enough_can_be_assembled() -> None:
    """10 + 70 = 60 + 20 mm, all in one line: the horn points away from the arm, at 0."""
    both = FourBar(10, 70, 20, 60).horn_angles(0)
    assert both is not None
    assert [between(angle, 0) for angle in both] == [0, 0]
    assert FourBar(10, 69.99, 20, 60).horn_angles(0) is not None
    assert FourBar(10, 70.01, 20, 60).horn_angles(0) is None


def test_a_dead_centre_at_an_end_of_the_range_is_in_it() -> None:
    movement = Movement(Linkage(10, 20, 60))
    (first, *_) = movement.bar.dead_centres  # 14.8°, as worked out above
    assert movement.dead_centre_between(first, first + 60) == first
    assert movement.dead_centre_between(first - 3, first) == first
    assert movement.dead_centre_between(first + 0.001, first + 60) is None
    assert movement.dead_centre_between(first - 3, first + 297) == first
    assert movement.dead_centre_between(first - 297, first + 3) == first
    for turns in (-1800, -720, 720, 1800):
        there = movement.dead_centre_between(first + turns - 3, first + turns + 3)
        assert there == pytest.approx(first + turns)


def test_slope_close_to_where_the_pushrod_stands_in_line_with_the_horn() -> None:
    """An arm of 10 and a horn of 20 mm, 60 mm apart, lie in one line with a rod of 70 at 0°.

    Beside such a place the rod passes the hinge by less than a millimetre, and the horn turns.
    """
    bar = FourBar(10, 70, 20, 60)
    assert bar.slope(0, 0) is None
    movement = Movement(Linkage(30, 10, 60))  # cannot reach 20°: in line before
    (locked,) = [at for at in movement.bar.dead_centres if 20 < at < 90]
    near = locked + 0.1
    before, after = movement.horn_deg(near - 1e-5), movement.horn_deg(near + 1e-5)
    assert before is not None
    assert after is not None
    assert movement.slope(near) == pytest.approx((after - before) / 2e-5, rel=1e-4)
    assert movement.slope(20) is None


@pytest.mark.parametrize(
    ("angle", "reference", "turn"),
    [(0, 0, 0), (30, 10, 20), (10, 350, 20), (350, 10, -20), (170, -170, -20), (-170, 170, 20),
     (730, 0, 10), (-730, 0, -10), (179, 0, 179), (-179, 0, -179), (200, 0, -160)],
)  # fmt: skip
def test_the_turn_from_one_angle_to_another_is_the_shorter_way(
    angle: float, reference: float, turn: float
) -> None:
    assert between(angle, reference) == turn
