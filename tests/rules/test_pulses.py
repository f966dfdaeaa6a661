"""Pulses: rates and centres, by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import prebind
from prebind import Inspector
from prebind.rule import Operation, put, remove
from prebind.testing import clean, patched

if TYPE_CHECKING:
    from collections.abc import Callable

    from prebind.inspect.finding import Finding

INSPECTOR = Inspector(prebind.Configuration(families=("pulses",)))


def findings(*patch: Operation, rule: str, start: str, kind: str = "fail") -> list[Finding]:
    report = INSPECTOR.inspect(patched(clean(start), patch))
    assert not report.problems
    return [f for f in report.findings if f.rule == f"pulses/{rule}" and f.kind == kind]


@pytest.mark.parametrize(("frame_ms", "wrong"), [(16.6, 4), (16.7, 0)])
def test_analogue_servos_are_taken_for_60_hz(frame_ms: float, wrong: int) -> None:
    # 1000 / 60 = 16.67 ms; 60 Hz: common practice, no source.
    found = findings(put("/receiver/frame_ms", frame_ms), rule="frame-too-fast", start="plain")
    assert len(found) == wrong
    assert [f.evidence["rate_hz"] for f in found] == [60.2] * wrong
    assert [f.evidence["max_rate_hz"] for f in found] == [60] * wrong
    assert all(f.fix and f.fix.patch[0]["value"] == 17 for f in found)


def test_a_club_may_take_analogue_servos_for_as_slow_as_1_hz(
    refused: Callable[[str, str, float], bool],
) -> None:
    asked = [refused("pulses/frame-too-fast", "analogue_hz", hz) for hz in (1, 0.9)]
    assert asked == [False, True]


def test_a_digital_servo_without_a_rate_is_open() -> None:
    (found,) = findings(
        remove("/servos/1/max_rate_hz"), rule="frame-too-fast", start="trainer", kind="open"
    )
    assert found.settles == ("/servos/1/max_rate_hz",)


@pytest.mark.parametrize(("slowest", "frame_ms"), [(45, 23), (47.6, 22)])  # 22.2 and 21.008 ms
def test_the_slowest_servo_decides_the_fix(slowest: float, frame_ms: int) -> None:
    found = findings(
        put("/servos/0/max_rate_hz", 70),
        put("/servos/3/max_rate_hz", slowest),
        rule="frame-too-fast",
        start="trainer",
    )
    assert [f.fix.patch[0]["value"] for f in found if f.fix] == [frame_ms, frame_ms]


def test_without_a_record_the_output_rests_at_the_transmitters_centre() -> None:
    output = clean("trainer")["transmitter"]["output"] | {"centre_us": 1520}
    moved = put("/transmitter/output", output)
    assert findings(moved, rule="centre", start="trainer") == []
    found = findings(moved, put("/servos/0/centre_us", 1499), rule="centre", start="trainer")
    assert [(f.at, f.evidence["apart_us"]) for f in found] == [("/servos/0/centre_us", 21)]


def test_two_servos_on_one_lead_are_not_centred_for_one_of_them() -> None:
    lead = {"port": 4, "y_lead": True}
    (found,) = findings(
        put("/servos/3/y_lead", True),
        put("/servos/-", lead | {"centre_us": 1560}),
        rule="centre",
        start="plain",
    )
    assert found.at == "/servos/4/centre_us"
    assert found.fix is None
