"""Which state a pulse selects close to where two bands meet, worked out by hand.

Without steps the tolerance is half a microsecond: so much further reaches each band, but where two
meet, or nearly meet, the pulse belongs to one of them, on a shared end to the upper one.
"""

from __future__ import annotations

import pytest

import prebind
from prebind.testing import clean


@pytest.mark.parametrize(
    ("low_ends", "high_begins", "pulse", "states"),
    [
        (1364.0, 1364.0, 1363.4, ("level",)),
        (1364.0, 1364.0, 1363.6, ("limited",)),
        (1364.0, 1364.0, 1364.0, ("limited",)),
        (1364.0, 1364.8, 1364.2, ("level",)),
        (1364.0, 1364.8, 1364.4, ("limited",)),
        (1364.0, 1365.0, 1364.4, ("level",)),
        (1364.0, 1365.0, 1364.6, ("limited",)),
        (1364.0, 1365.1, 1364.5, ("level",)),
        (1364.0, 1365.1, 1364.55, ()),
        (1364.0, 1365.1, 1364.65, ("limited",)),
        (1364.4, 1364.0, 1363.6, ("limited",)),
        (1364.4, 1364.0, 1363.4, ("level",)),
        (1364.5, 1364.0, 1363.6, ("limited",)),
        (1364.5, 1364.0, 1363.4, ("level",)),
        (1364.6, 1364.0, 1363.6, ("level", "limited")),
        (1364.6, 1364.0, 1365.0, ("level", "limited")),
        (1366.0, 1364.0, 1363.4, ("level",)),
        (1366.0, 1364.0, 1365.0, ("level", "limited")),
        (1366.0, 1364.0, 1366.6, ("limited",)),
    ],
)
def test_close_to_where_two_bands_meet(
    low_ends: float, high_begins: float, pulse: float, states: tuple[str, ...]
) -> None:
    document = clean()
    del document["transmitter"]["output"]["steps"]
    there = document["receiver"]["stabiliser"]["selectors"][0]["states"]
    there[0]["band"] = {"us": [900, low_ends]}
    there[1]["band"] = {"us": [high_begins, 1636]}
    there[2]["band"] = {"us": [1636, 2100]}
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    selector = prebind.trace(report.setup).selectors[0]
    assert selector.states_at(pulse) == states


def test_a_band_that_ends_with_another_lies_within_it() -> None:
    """Neither is the upper one, though the one's start is close to the other's end."""
    document = clean()
    del document["transmitter"]["output"]["steps"]
    there = document["receiver"]["stabiliser"]["selectors"][0]["states"]
    there[0]["band"] = {"us": [900, 1364]}
    there[1]["band"] = {"us": [1363.8, 1364]}
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    selector = prebind.trace(report.setup).selectors[0]
    assert selector.states_at(1363.2) == ("level",)
    assert selector.states_at(1363.9) == ("level", "limited")


def test_closer_to_an_edge_than_half_a_step_there_is_no_margin() -> None:
    report = prebind.Inspector().inspect(clean())  # half a step is 0.29 µs
    assert report.setup is not None
    selector = prebind.trace(report.setup).selectors[0]
    assert selector.margin_at(1364.0) == 0
    assert selector.margin_at(1365.0) == pytest.approx(1 - 1200 / 2047 / 2)


def test_the_margin_at_a_tolerance_from_an_edge_that_both_sides_share() -> None:
    """There the pulse may belong to either side: the margin is that half microsecond."""
    document = clean()
    del document["transmitter"]["output"]["steps"]
    there = document["receiver"]["stabiliser"]["selectors"][0]["states"]
    there[0]["band"] = {"us": [900, 1600]}
    there[1]["band"] = {"us": [1300, 1400]}  # lies in the first, so its edges part nothing
    there[2]["band"] = {"us": [1700, 2100]}
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    (selector, *_) = prebind.trace(report.setup).selectors
    assert selector.margin_at(1600.5) == 0.5
    assert selector.margin_at(1600.6) is None  # a gap


def test_two_bands_claim_the_same_only_where_both_reach() -> None:
    document = clean()
    del document["transmitter"]["output"]["steps"]
    there = document["receiver"]["stabiliser"]["selectors"][0]["states"]
    there[0]["band"] = {"us": [900, 1500]}
    there[1]["band"] = {"us": [1500, 2100]}
    there[2]["band"] = {"us": [1450, 1499.5]}
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    (selector, *_) = prebind.trace(report.setup).selectors
    names = [state.state for state in selector.entry.states]
    assert selector.claimed_by_both(names[0], names[1]) is None
    assert selector.claimed_by_both(names[0], names[2]) == (1449.5, 1499.5)
    assert selector.claimed_by_both(names[2], names[1]) is None
    there[2]["band"] = {"us": [1300, 1400]}
    there[0]["band"] = {"us": [900, 1200]}
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    (apart, *_) = prebind.trace(report.setup).selectors
    assert apart.claimed_by_both(names[0], names[2]) is None
    assert apart.claimed_by_both(names[2], names[0]) is None
