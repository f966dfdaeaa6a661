"""What a reach says of one pulse: which positions put it out, and whether any do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import prebind
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path import Path


def path_of(document: dict[str, Any]) -> Path:
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    return prebind.trace(report.setup)


def switched_mixes(count: int) -> dict[str, Any]:
    """A rudder to which each of many switches lets in 1 % of its own stick."""
    document = clean("plain")
    document["transmitter"]["output"] = {}
    switches = {f"s{i}": {"kind": "switch", "positions": ["a", "b"]} for i in range(count)}
    document["transmitter"]["controls"].update(switches)
    document["mixes"] = [
        {
            "name": f"mix {i}",
            "from": {"control": "yaw-stick"},
            "to": 4,
            "rate_percent": {"low": 1, "high": 1},
            "when": [{"control": f"s{i}", "positions": ["b"]}],
        }
        for i in range(count)
    ]
    return document


@pytest.mark.parametrize("steps", [2048, 1024, None])
@pytest.mark.parametrize("channel", [2, 3, 4])
def test_every_pulse_within_reach_has_positions_that_put_it_out(
    channel: int, steps: int | None
) -> None:
    document = clean()
    document["transmitter"]["output"]["steps"] = steps
    if steps is None:
        del document["transmitter"]["output"]["steps"]
    it = path_of(document).channel(channel)
    for target in np.linspace(it.reach.low.us + 1, it.reach.high.us - 1, 41):
        met = it.reach.met(target - 0.6, target + 0.6)
        assert met is not None
        us, controls = met
        assert target - 0.6 <= us <= target + 0.6
        assert it.stages(controls).us == pytest.approx(us, abs=1e-6)


@pytest.mark.parametrize("count", [5, 24])
def test_of_a_stick_with_many_switched_mixes_too(count: int) -> None:
    it = path_of(switched_mixes(count)).channel(4)
    for target in np.linspace(it.reach.low.us + 0.5, it.reach.high.us - 0.5, 21):
        met = it.reach.met(target - 0.1, target + 0.1)
        assert met is not None
        us, controls = met
        everywhere = {**it.path.rest(), **controls}
        assert it.stages(everywhere).us == pytest.approx(us, abs=1e-6)
    for beyond in (it.reach.low.us - 1, it.reach.high.us + 1):
        assert it.reach.met(beyond - 0.5, beyond + 0.5) is None


def test_a_condition_counts_though_the_channel_does_not_depend_on_it() -> None:
    path = path_of(clean())
    cut = path.setup.overrides[0].when
    rudder = path.channel(4)
    assert rudder.reach_where({"cut-switch": "run"}, when=cut) is None
    assert rudder.reach_where({"cut-switch": "cut"}, when=cut) is not None
    assert path.channel(1).reach_where({"cut-switch": "run"}, when=cut) is None


def test_both_ends_of_what_is_asked_belong_to_it() -> None:
    document = clean()
    del document["transmitter"]["output"]["steps"]
    reach = path_of(document).channel(5).reach  # a switch: 1100, 1500 and 1900 µs
    for low, high in ((1500, 1600), (1400, 1500), (1500, 1500)):
        assert reach.met(low, high) == (1500, {"mode-switch": "middle"})
    assert reach.met(1500, 1600, low_closed=False) is None
    assert reach.met(1400, 1500, high_closed=False) is None
    assert reach.met(1500.1, 1899.9) is None


def test_between_two_steps_there_is_no_pulse_and_of_several_it_is_that_in_the_middle() -> None:
    document = clean()
    document["transmitter"]["output"]["steps"] = 11  # 30 %, 120 µs apart
    reach = path_of(document).channel(4).reach
    for low, high, closed, us in (
        (1380, 1500, (False, False), None),
        (1380, 1500, (True, False), 1380),
        (1380, 1500, (False, True), 1500),
        (1381, 1499, (True, True), None),
        (1379, 1499, (True, True), 1380),
        (1379.5, 1400, (False, False), 1380),
        (1360, 1380.5, (False, False), 1380),
        (1381, 1859, (True, True), 1620),  # of 1500, 1620 and 1740 the one in the middle
        (1381, 1740, (True, True), 1620),
        (1381, 1640, (True, True), 1500),  # 1510 is nearer to it than to 1620
    ):
        met = reach.met(low, high, *closed)
        assert (met and round(met[0], 6)) == us


def test_an_end_of_its_own_is_told_rather_than_a_position_on_the_way() -> None:
    document = clean()
    del document["transmitter"]["output"]["steps"]
    reach = path_of(document).channel(4).reach
    assert reach.met(1000, 1500) == (1100, {"yaw-stick": -100})
    assert reach.met(1500, 2000) == (1900, {"yaw-stick": 100})
    us, controls = reach.met(1500, 1600) or (0, {})
    assert us == pytest.approx(1550)
    assert controls["yaw-stick"] == pytest.approx(12.5)
