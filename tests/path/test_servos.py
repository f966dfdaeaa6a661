"""How far a servo moves its surface, and where its linkage ends, worked out by hand.

The elevator's port gives 1100 to 1900 µs.  Arm and horn of one length, both square to the base at
neutral, make a parallelogram: the surface turns as the arm does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.path.facts import LinkageFault
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path.servo import ServoPath

PARALLEL: dict[str, Any] = {"arm_mm": 10, "horn_mm": 10, "base_mm": 60}


def servo_of(linkage: dict[str, Any], per_us: float = 0.1, **entry: Any) -> ServoPath:
    document = clean("plain")
    entry = document["servos"][2] | {"linkage": linkage, "degrees_per_us": per_us} | entry
    document["servos"][2] = {key: value for key, value in entry.items() if value is not None}
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup).servos[2]


@pytest.mark.parametrize("per_us", [0.1, -0.1])
@pytest.mark.parametrize(("arm", "horn"), [(90, 60), (90, 90), (90, 120), (0, 90)])
def test_deflection_is_positive_the_way_a_growing_pulse_moves_it(
    per_us: float, arm: float, horn: float
) -> None:
    """Whichever way the servo turns, and with the arm on either side of the pushrod."""
    neutral = {"arm_at_neutral_deg": arm, "horn_at_neutral_deg": horn}
    servo = servo_of(PARALLEL | neutral, per_us)
    assert servo.deflection(1500) == pytest.approx(0)
    assert servo.deflection(1510) > 0.1
    assert servo.deflection(1490) < -0.1


def test_a_servo_that_does_not_turn_moves_nothing() -> None:
    assert servo_of(PARALLEL, 0).deflection(1900) == pytest.approx(0)


@pytest.mark.parametrize(
    ("increasing_pulse", "edge"),
    [
        ("trailing-edge-up", 1),
        ("trailing-edge-left", 1),
        ("trailing-edge-down", -1),
        ("trailing-edge-right", -1),
        ("wheel-left", None),
        (None, None),
    ],
)
def test_whether_an_edge_goes_up_or_left_as_the_pulse_grows(
    increasing_pulse: str | None, edge: int | None
) -> None:
    assert servo_of(PARALLEL, increasing_pulse=increasing_pulse).edge_up == edge


def test_a_parallelogram_s_deflection_is_the_servo_s_turn() -> None:
    servo = servo_of(PARALLEL)
    for us, arm, deg in ((1100, 50, -40), (1400, 80, -10), (1500, 90, 0), (1900, 130, 40)):
        assert servo.arm_deg(us) == pytest.approx(arm)
        assert servo.deflection(us) == pytest.approx(deg)
        assert servo.leverage(us) == pytest.approx(1)


def test_from_the_servo_s_own_neutral() -> None:
    servo = servo_of(PARALLEL, centre_us=1520)
    assert servo.centre_us == 1520
    assert servo.deflection(1520) == pytest.approx(0)
    assert servo.deflection(1500) == pytest.approx(-2)


@pytest.mark.parametrize(("arm", "horn"), [(10, 20), (20, 10), (8, 10)])
@pytest.mark.parametrize("per_us", [0.1, -0.1])
def test_leverage_at_neutral_is_the_arm_s_length_over_the_horn_s(
    arm: float, horn: float, per_us: float
) -> None:
    """Both square to the base: as much of the pushrod's way to either."""
    servo = servo_of({"arm_mm": arm, "horn_mm": horn, "base_mm": 60}, per_us)
    assert servo.leverage(1500) == pytest.approx(arm / horn)


@pytest.mark.parametrize("per_us", [0.3, -0.3])
@pytest.mark.parametrize("centre_us", [1500, 1540])
def test_a_parallelogram_locks_a_quarter_turn_from_neutral(per_us: float, centre_us: float) -> None:
    """Arm, pushrod and horn lie along the base at 90°, 300 µs from neutral at 0.3° per µs."""
    servo = servo_of(PARALLEL, per_us, centre_us=centre_us)
    fault = servo.linkage_fault(servo.port.reach)
    assert fault is not None
    assert abs(fault.us - centre_us) == pytest.approx(300)
    assert fault.reason == "the pushrod stands in line with the arm or the horn"
    for us in (centre_us - 310, centre_us + 310):
        with pytest.raises(LinkageFault) as raised:
            servo.deflection(us)
        assert raised.value.us == pytest.approx(centre_us + (300 if us > centre_us else -300))
    for us in (centre_us - 290, centre_us + 290):
        assert abs(servo.deflection(us)) == pytest.approx(87)


def test_no_fault_where_the_pulses_do_not_reach() -> None:
    """At 0.22° per µs its 400 µs are 88°."""
    servo = servo_of(PARALLEL, 0.22)
    assert servo.linkage_fault(servo.port.reach) is None
    assert servo.deflection(1100) == pytest.approx(-88)


def test_a_linkage_that_cannot_be_assembled_further() -> None:
    """Arm 30, horn 10, base 60 mm: the pushrod is √(60² + 20²) = 63.246 mm.

    The arm's end is as far from the hinge as pushrod and horn reach, 73.246 mm, where
    cos = (30² + 60² − 73.246²)/(2 · 30 · 60) = −0.24027, at 103.90°: 13.90° or 139 µs from neutral;
    and as near as their difference, 53.246 mm, where cos = 0.46248, at 62.45°: 275.5 µs from it.
    """
    servo = servo_of({"arm_mm": 30, "horn_mm": 10, "base_mm": 60})
    for us, ends in ((1650, 1639.0), (1200, 1224.5)):
        with pytest.raises(LinkageFault, match=r"in line|assembled") as raised:
            servo.deflection(us)
        assert raised.value.us == pytest.approx(ends, abs=0.1)
    assert servo.deflection(1630) > 0
    assert servo.deflection(1230) < 0
