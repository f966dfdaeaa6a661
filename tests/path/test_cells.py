"""The stretches that thresholds cut a control's movement into."""

from __future__ import annotations

from itertools import pairwise

import pytest

import prebind
from prebind.model import Condition
from prebind.testing import clean


@pytest.mark.parametrize(
    "thresholds", [(), (0,), (-50, 50), (50, -50, 0, 50), (-100,), (100,), (-100, 30, 100), (140,)]
)
def test_they_follow_each_other_from_end_to_end(thresholds: tuple[float, ...]) -> None:
    report = prebind.Inspector().inspect(clean())
    assert report.setup is not None
    cells = prebind.trace(report.setup).conditions.cells("yaw-stick", thresholds)
    assert (cells[0].lo, cells[-1].hi) == (-100, 100)
    assert cells[0].lo_closed
    assert cells[-1].hi_closed
    for cell in cells:
        if cell.lo == cell.hi:
            assert cell.value == cell.lo
            assert cell.point
            assert cell.lo in thresholds
        else:
            assert cell.lo < cell.value < cell.hi
            assert not cell.point
    for before, after in pairwise(cells):
        assert before.hi == after.lo
        assert before.hi_closed != after.lo_closed  # the threshold belongs to one of them
        assert before.hi_closed == before.point
    inside = {threshold for threshold in thresholds if abs(threshold) <= 100}
    assert {cell.lo for cell in cells if cell.point} == inside


def test_a_phase_and_a_position_both_count() -> None:
    """Whatever comes first: what a condition hangs on, and whether it holds."""
    document = clean("glider")
    (phase, *_) = document["phases"]
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None
    path = prebind.trace(report.setup)
    switch = next(
        n
        for n, c in path.controls.items()
        if n not in path.depends(report.setup.phases[0].when) and not c.continuous
    )
    first, other = path.control(switch).positions[:2]
    by_phase = Condition(phase=(phase["name"],))
    by_switch = Condition(control=switch, positions=(first,))
    for when in ((by_phase, by_switch), (by_switch, by_phase)):
        assert switch in path.depends(when)
        assert set(path.depends((by_phase,))) < set(path.depends(when))
        assert not path.holds(when, {switch: other})
