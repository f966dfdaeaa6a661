"""What a selector's controls can select: gaps, overlaps, stretches and margins, worked out by hand.

The mode switch stands at −100, 0 or 100 %, so at 1100, 1500 or 1900 µs (4 µs per percent).  Without
steps a band reaches half a microsecond further than written at each end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.rule import NotChecked
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path.selector import SelectorPath

BACK, MIDDLE, FORWARD = ({"mode-switch": at} for at in ("back", "middle", "forward"))
SWITCH = {"kind": "switch", "positions": ["back", "middle", "forward"]}


def document_of(
    *bands: tuple[float, float], control: Any = SWITCH, limit_percent: float = 150, **channel: Any
) -> dict[str, Any]:
    """The trainer without steps, its flight-mode states on these bands in µs, named a, b, c."""
    document = clean()
    document["transmitter"]["output"] = {"limit_percent": limit_percent}
    document["transmitter"]["controls"]["mode-switch"] = control
    document["channels"][4] |= channel
    behaviours = ("self-level", "attitude-limit", "rate-damping")
    document["receiver"]["stabiliser"]["selectors"][0]["states"] = [
        {"state": name, "behaviour": behaviour, "band": {"us": list(band)}}
        for name, behaviour, band in zip("abc", behaviours, bands, strict=False)
    ]
    document["receiver"]["failsafe"]["intended_states"] = {}
    return document


def selector_of(document: dict[str, Any], bound: int = 100_000) -> SelectorPath:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.Path(found.setup, bound).selectors[0]


@pytest.mark.parametrize(
    ("a", "b", "both"),
    [
        ((900, 1600), (1400, 1636), (1500, MIDDLE)),
        ((1400, 1636), (900, 1600), (1500, MIDDLE)),
        ((900, 1450), (1400, 1636), None),  # both claim 1400 to 1450, where no position is
        ((900, 1499), (1501, 2100), None),
        ((900, 1499.6), (1300, 2100), (1500, MIDDLE)),  # up to 1500.1
        ((900, 1499.4), (1300, 2100), None),
        ((900, 1700), (1500.4, 2100), (1500, MIDDLE)),  # from 1499.9
        ((900, 1700), (1500.6, 2100), None),
        ((1099, 1101), (1000, 1200), (1100, BACK)),
        ((1850, 1950), (1800, 1900), (1900, FORWARD)),
    ],
)
def test_two_states_overlap_where_a_position_lies_in_both_bands(
    a: tuple[float, float],
    b: tuple[float, float],
    both: tuple[float, dict[str, str]] | None,
) -> None:
    selector = selector_of(document_of(a, b))
    assert selector.overlap("a", "b") == both
    assert selector.overlap("b", "a") == both


def test_an_overlap_ends_before_a_shared_end_that_belongs_to_a_third_state() -> None:
    """Where b and c meet, within a, the pulse is c's: there b overlaps nothing."""
    selector = selector_of(document_of((900, 1600), (1300, 1500), (1500.5, 2100)))
    assert selector.overlap("a", "b") is None
    assert selector.overlap("b", "a") is None
    assert selector.overlap("a", "c") == (1500, MIDDLE)
    assert selector.states_at(1500) == ("a", "c")
    # So it is whichever state stands first in the document.
    selector = selector_of(document_of((1500.5, 2100), (900, 1600), (1300, 1500)))
    assert selector.overlap("b", "c") is None
    assert selector.overlap("c", "b") is None
    assert selector.overlap("a", "b") == (1500, MIDDLE)


def test_a_knob_that_sweeps_through_an_overlap_meets_it() -> None:
    selector = selector_of(document_of((900, 1450), (1400, 2100), control={"kind": "knob"}))
    met = selector.overlap("a", "b")
    assert met is not None
    us, controls = met
    assert 1400 <= us <= 1450
    assert selector.channel.stages(controls).us == pytest.approx(us)


@pytest.mark.parametrize(
    ("bands", "gap"),
    [
        (((900, 1364), (1364, 1636), (1636, 2100)), None),
        (((1636, 2100), (900, 1364), (1364, 1636)), None),
        (((1101, 1364), (1364, 1636), (1636, 2100)), (1100, BACK)),
        (((1100.4, 1364), (1364, 1636), (1636, 2100)), None),
        (((900, 1364), (1364, 1636), (1636, 1899)), (1900, FORWARD)),
        (((900, 1364), (1364, 1636), (1636, 1899.6)), None),
        (((900, 1364), (1364, 1636), (1636, 1899.5)), None),
        (((900, 1364), (1364, 1499), (1501, 2100)), (1500, MIDDLE)),
        (((900, 1364), (1364, 1499.6), (1502, 2100)), None),
        (((900, 1364), (1364, 1499.5), (1502, 2100)), None),
        (((900, 1364), (1364, 1498), (1500.4, 2100)), None),
        (((900, 1364), (1364, 1498), (1500.5, 2100)), None),
        (((900, 1600), (1200, 1300), (1600, 2100)), None),  # b lies in a, which goes on
    ],
)
def test_a_gap_is_a_position_in_no_band(
    bands: tuple[tuple[float, float], ...], gap: tuple[float, dict[str, str]] | None
) -> None:
    assert selector_of(document_of(*bands)).gap == gap


def test_a_state_is_reached_by_the_position_in_its_band_and_by_no_other() -> None:
    selector = selector_of(document_of((900, 1200), (1300, 1400), (1450, 2100)))
    assert selector.reached == {"a": BACK, "c": MIDDLE}


@pytest.mark.parametrize(
    ("band", "reached"),
    [
        ((1500.5, 1600), True),
        ((1500.6, 1600), False),
        ((1400, 1499.5), True),
        ((1400, 1499.4), False),
    ],
)
def test_both_ends_of_a_band_reach_half_a_microsecond_further(
    band: tuple[float, float], reached: bool
) -> None:
    assert selector_of(document_of((900, 1200), band)).reached == (
        {"a": BACK, "b": MIDDLE} if reached else {"a": BACK}
    )


def test_a_knob_selects_one_state_after_the_other() -> None:
    """A quarter of a percent a microsecond; each band begins half a microsecond early."""
    selector = selector_of(
        document_of((900, 1300), (1400, 1700), (1700, 2100), control={"kind": "knob"})
    )
    found = [
        (it.low_us, it.high_us, it.low_percent, it.high_percent, it.states, it.margin_us)
        for it in selector.positions
    ]
    assert found == [
        (1100, 1300.5, -100, -49.875, ("a",), None),
        (1300.5, 1399.5, -49.875, -25.125, (), None),
        (1399.5, 1699.5, -25.125, 49.875, ("b",), None),
        (1699.5, 1900, 49.875, 100, ("c",), None),
    ]
    for it in selector.positions:
        assert not it.point
        assert (it.us, it.percent) == (it.low_us, it.low_percent)  # it is told by where it begins
        assert it.low_us <= selector.channel.stages(it.controls).us <= it.high_us


def test_a_knob_s_end_on_the_very_edge_of_a_band_is_a_stretch_of_its_own() -> None:
    """1100 and 1900 µs are half a microsecond from a band: each selects it, none beside it does."""
    bands = ((900, 1099.5), (1200, 1800), (1900.5, 2100))
    selector = selector_of(document_of(*bands, control={"kind": "knob"}))
    found = [(it.low_us, it.high_us, it.states, it.margin_us) for it in selector.positions]
    assert found == [
        (1100, 1100, ("a",), None),
        (1100, 1199.5, (), None),
        (1199.5, 1800.5, ("b",), None),
        (1800.5, 1900, (), None),
        (1900, 1900, ("c",), None),
    ]
    assert {it.states[0] for it in selector.positions if it.states} == selector.reached.keys()


FLAT = [{"points": [[-100, 10], [100, 10]]}]


def test_a_knob_that_moves_nothing_stands_still_and_has_a_margin() -> None:
    """At 10 % it gives 1540 µs: 96 µs below the next band."""
    bands = ((900, 1364), (1364, 1636), (1636, 2100))
    selector = selector_of(document_of(*bands, control={"kind": "knob"}, curves=FLAT))
    (only,) = selector.positions
    assert only.point
    assert (only.us, only.percent, only.states) == (1540, 10, ("b",))
    assert only.margin_us == 96


@pytest.mark.parametrize("at", [-100.0, -50.0, 0.0, 100.0])
def test_a_switch_s_margin_counts_only_while_no_knob_moves_the_channel(at: float) -> None:
    document = document_of((900, 1364), (1364, 1636), (1636, 2100))
    document["transmitter"]["controls"]["knob"] = {"kind": "knob"}
    document["mixes"] = [
        {
            "name": "knob to mode",
            "from": {"control": "knob"},
            "to": 5,
            "rate_percent": {"low": 1, "high": 1},
        }
    ]
    selector = selector_of(document)
    found = selector.positions_where({"knob": at})
    assert [it.margin_us for it in found] == [None, None, None]
    document["mixes"] = []
    still = selector_of(document).positions
    assert [it.margin_us for it in still] == [264, 136, 264]


@pytest.mark.parametrize(
    ("at", "margin"),
    [(-100.0, 64), (-99.4, None), (0.0, 136), (10.0, None), (99.4, None), (100.0, 64)],
)
def test_a_knob_held_where_it_moves_nothing_has_a_margin(at: float, margin: float | None) -> None:
    """Within its ends and about its middle it stands still: at 1300, 1500 and 1700 µs."""
    points = [[-100, -50], [-99.5, -50], [-1, 0], [1, 0], [99.5, 50], [100, 50]]
    bands = ((900, 1364), (1364, 1636), (1636, 2100))
    document = document_of(*bands, control={"kind": "knob"}, curves=[{"points": points}])
    (found,) = selector_of(document).positions_where({"mode-switch": at})
    assert found.margin_us == margin


def test_a_knob_that_rests_within_a_stretch_gives_it_no_margin() -> None:
    """At 1300 µs, where it does, the first stretch begins."""
    points = [[-100, -50], [-99.5, -50], [99.5, 50], [100, 50]]
    bands = ((900, 1364), (1364, 1636), (1636, 2100))
    document = document_of(*bands, control={"kind": "knob"}, curves=[{"points": points}])
    found = selector_of(document).positions
    assert [(it.states, it.margin_us) for it in found] == [
        (("a",), None),
        (("b",), None),
        (("c",), None),
    ]


def test_a_knob_s_stretches_for_each_position_of_a_switch() -> None:
    """The switch raises all by 100 µs: with it on the knob begins at 1200 µs."""
    document = document_of((900, 1500), (1500, 2100), control={"kind": "knob"})
    document["mixes"] = [
        {
            "name": "raise",
            "from": {"control": "rate-switch"},
            "to": 5,
            "rate_percent": {"low": 0, "high": 25},
        }
    ]
    found = selector_of(document).positions
    assert [(it.low_us, it.high_us, it.states, it.controls["rate-switch"]) for it in found] == [
        (1100, 1499.5, ("a",), "full"),
        (1499.5, 1900, ("b",), "full"),
        (1200, 1499.5, ("a",), "soft"),
        (1499.5, 2000, ("b",), "soft"),
    ]


def test_where_a_second_knob_decides_on_the_first_one_s_rate() -> None:
    """Above its middle it takes a quarter: 1400 to 1600 µs."""
    when = [{"control": "second", "above_percent": 0}]
    rates = [{"rate_percent": 25, "when": when}, {"rate_percent": 100}]
    bands = ((900, 1520), (1520, 1560), (1560, 2100))
    document = document_of(*bands, control={"kind": "knob"}, rates=rates)
    document["transmitter"]["controls"]["second"] = {"kind": "knob"}
    selector = selector_of(document)
    found = selector.positions
    ends = [(it.low_us, it.high_us) for it in found if float(it.controls["second"]) > 0]
    assert ends == [(1400, 1519.5), (1519.5, 1559.5), (1559.5, 1600)]
    for it in found:
        assert it.low_us <= selector.channel.stages(it.controls).us <= it.high_us


def test_the_margin_to_the_nearest_edge_within_the_transmitter_s_limits() -> None:
    """At 125 % it sends 1000 to 2000 µs."""
    for bands, us, margin in (
        (((1000, 1364), (1364, 2000)), 1100, 264),
        (((1001, 1364), (1364, 2000)), 1100, 99),
        (((900, 1364), (1364, 2000)), 1900, 536),
        (((900, 1364), (1364, 1999)), 1900, 99),
        (((900, 2100), (2050, 2200)), 1500, None),
        # A narrow band within another is an overlap, from 1300 µs on.
        (((900, 2100), (1300, 1301.5)), 1200, 100),
        (((900, 2100), (1300, 1301.5)), 1400, 98.5),
    ):
        selector = selector_of(document_of(*bands, limit_percent=125))
        assert selector.margin_at(us) == margin


def test_more_combinations_than_the_bound_allows_are_not_checked() -> None:
    """A twentieth of the bound: 200 allow the mode switch's three positions with two switches'."""
    document = document_of((900, 1364), (1364, 1636), (1636, 2100))
    switches = {f"s{i}": {"kind": "switch", "positions": ["off", "on"]} for i in range(2)}
    document["transmitter"]["controls"].update(switches)
    document["mixes"] = [
        {"name": name, "from": {"control": name}, "to": 5, "rate_percent": {"low": 1, "high": 1}}
        for name in switches
    ]
    assert len(selector_of(document, 12 * 20).positions) == 12
    with pytest.raises(NotChecked) as raised:
        _ = selector_of(document, 12 * 20 - 1).positions
    assert raised.value.cells == 12


def test_how_many_combinations_its_own_controls_have() -> None:
    document = document_of((900, 1364), (1364, 2100))
    assert selector_of(document).control_positions() == 3
    document["overrides"].append(
        {
            "name": "level at once",
            "purpose": "other",
            "channel": 5,
            "demand_percent": -100,
            "when": [{"control": "rate-switch", "positions": ["soft"]}],
        }
    )
    assert selector_of(document).controls == ("mode-switch", "rate-switch")
    assert selector_of(document).control_positions() == 6
    document["transmitter"]["controls"]["mode-switch"] = {"kind": "knob"}
    assert selector_of(document).control_positions() is None


def stepped(*bands: tuple[float, float]) -> dict[str, Any]:
    """61 steps over ±150 %, 5 % or 20 µs apart."""
    document = document_of(*bands)
    document["transmitter"]["output"]["steps"] = 61
    return document


@pytest.mark.parametrize(
    ("bands", "states"),
    [
        (((900, 1490), (1600, 2100)), ("a",)),
        (((900, 1489), (1600, 2100)), ()),
        (((900, 1400), (1510, 2100)), ("b",)),
        (((900, 1400), (1511, 2100)), ()),
        # As near to both the pulse is the upper one's from half a step below its start on.
        (((900, 1490), (1510, 2100)), ("b",)),
        (((900, 1490), (1511, 2100)), ("a",)),
    ],
)
def test_against_an_edge_up_to_half_a_step_is_equality(
    bands: tuple[tuple[float, float], ...], states: tuple[str, ...]
) -> None:
    """The mode switch's middle is a step of its own, 1500 µs."""
    selector = selector_of(stepped(*bands))
    assert selector.path.tolerance_us == 10
    (_, middle, _) = selector.positions
    assert (middle.us, middle.states) == (1500, states)


def test_what_lies_between_two_steps_is_selected_by_nothing() -> None:
    """From 1310 to 1315 µs no band reaches, and no step lies there."""
    document = stepped((900, 1300), (1325, 2100))
    document["transmitter"]["controls"]["mode-switch"] = {"kind": "knob"}
    assert [it.states for it in selector_of(document).positions] == [("a",), ("b",)]


@pytest.mark.parametrize(("edge", "margin"), [(1364, 126), (1420, 70), (1489, 1), (1491, 0)])
def test_a_margin_is_less_by_half_a_step_and_never_negative(edge: float, margin: float) -> None:
    selector = selector_of(stepped((900, edge), (edge, 2100)))
    (_, middle, _) = selector.positions
    assert middle.states == ("b",)
    assert middle.margin_us == pytest.approx(margin)


def test_the_state_at_failsafe() -> None:
    document = document_of((900, 1364), (1364, 1636), (1636, 2100))
    presets = document["receiver"]["failsafe"]["channels"]
    presets[4]["output_percent"] = 50
    found = selector_of(document).failsafe
    assert (found.action, found.us, found.percent) == ("preset", 1700, 50)
    assert (found.states, found.margin_us) == (("c",), 64)
    for entry, states in (
        ({"channel": 5, "action": "hold"}, ("a", "b", "c")),
        ({"channel": 5, "action": "no-pulses"}, None),
    ):
        presets[4] = entry
        found = selector_of(document).failsafe
        assert (found.action, found.us, found.states) == (entry["action"], None, states)
    del presets[4]
    found = selector_of(document).failsafe
    assert (found.action, found.us, found.states) == (None, None, None)
