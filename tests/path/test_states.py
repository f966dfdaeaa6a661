"""What the check of the states proves of a selector, worked out by hand.

The flight mode's channel gives 4 µs per percent about 1500 µs; without steps a band reaches half a
microsecond further than written at each end.
"""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.path.proofs import CHECKS
from prebind.testing import clean

CHANNEL = 5
KNOB = {"kind": "knob"}


def document_of(control: Any, *bands: tuple[float, float], **channel: Any) -> dict[str, Any]:
    document = clean()
    document["transmitter"]["output"] = {}
    document["transmitter"]["controls"]["mode-switch"] = control
    document["channels"][4] |= channel
    document["receiver"]["stabiliser"]["selectors"][0]["states"] = [
        {"state": name, "behaviour": "off", "band": {"us": list(band)}}
        for name, band in zip("abc", bands, strict=False)
    ]
    document["receiver"]["failsafe"]["intended_states"] = {}
    return document


def path_of(document: dict[str, Any], bound: int = 100_000) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.Path(found.setup, bound)


def told(document: dict[str, Any], check: str = "states", bound: int = 100_000) -> Any:
    """The bands, and what is selected where."""
    facts = CHECKS[check].facts(path_of(document, bound))
    (found,) = [it[1:] for it in facts["selectors"] if it[0] == CHANNEL]
    return found


def test_a_switch_s_positions_with_pulse_and_state() -> None:
    switch = {"kind": "switch", "positions": ["back", "forward"]}
    bands, selected = told(document_of(switch, (900, 1500), (1500, 2100)))
    assert bands == [[1500.0, 2100.0, "b", "off"], [900.0, 1500.0, "a", "off"]]
    assert selected == {
        "columns": [[2, None]],
        "rows": [
            [[0], [1100.0, [[["a"], 1100.0, 1100.0]]]],
            [[1], [1900.0, [[["b"], 1900.0, 1900.0]]]],
        ],
    }


def test_a_knob_s_stretches_in_a_gap_stay_apart() -> None:
    _, selected = told(document_of(KNOB, (1200, 1300), (1500, 1600)))
    stretches = [
        [[], 1100.0, 1199.5],
        [[], 1300.5, 1499.5],
        [[], 1600.5, 1900.0],
        [["a"], 1199.5, 1300.5],
        [["b"], 1499.5, 1600.5],
    ]
    assert selected == {
        "columns": [["continuous", None]],
        "rows": [[[i], [us, stretches]] for i, us in enumerate((1100.0, 1500.0, 1900.0))],
    }


@pytest.mark.parametrize("bands", [((900, 2100),), ((900, 1400), (1400, 2100))])
@pytest.mark.parametrize("threshold", [-50, 0, 50])
def test_a_threshold_between_two_rates_that_are_alike_changes_nothing(
    bands: tuple[tuple[float, float], ...], threshold: float
) -> None:
    when = [{"control": "mode-switch", "above_percent": threshold}]
    rates = [{"rate_percent": 100, "when": when}, {"rate_percent": 100}]
    plain, split = document_of(KNOB, *bands), document_of(KNOB, *bands, rates=rates)
    assert path_of(plain).digest("states") == path_of(split).digest("states")


@pytest.mark.parametrize(
    ("bands", "expected"),
    [
        (
            [(1500, 2100), (900, 1500)],
            [[["a"], 1499.5, 1900.0], [["b"], 1100.0, 1499.5]],
        ),
        ([(900, 2100)], [[["a"], 1100.0, 1900.0]]),
    ],
)
def test_stretches_of_one_state_that_overlap_are_one(
    bands: list[tuple[float, float]], expected: list[Any]
) -> None:
    """With the other knob above its middle the first moves a quarter as far."""
    when = [{"control": "other", "above_percent": 0}]
    rates = [{"rate_percent": 25, "when": when}, {"rate_percent": 100}]
    document = document_of(KNOB, *bands, rates=rates)
    document["transmitter"]["controls"]["other"] = KNOB
    _, selected = told(document)
    for _, (_, stretches) in selected["rows"]:
        assert stretches == expected


def with_switches(count: int) -> dict[str, Any]:
    """The mode's switch and others, each of which adds 1 % in its second position."""
    switch = {"kind": "switch", "positions": ["off", "on"]}
    document = document_of(switch, (900, 1500), (1500, 2100))
    document["transmitter"]["controls"] |= {f"s{i}": switch for i in range(count)}
    document["mixes"] = [
        {
            "name": f"s{i}",
            "from": {"control": f"s{i}"},
            "to": CHANNEL,
            "rate_percent": {"low": 0, "high": 1},
        }
        for i in range(count)
    ]
    return document


def test_of_many_combinations_the_states_and_the_ends_are_told() -> None:
    """Nine switches have 512 combinations, more than 500: 1100 to 1900 + 8 · 4 µs."""
    assert told(with_switches(8))[1] == [["a", "b"], 1100.0, 1932.0]
    _, selected = told(with_switches(7))
    assert len(selected["columns"]) == 8
    assert len(selected["rows"]) == 2**8


def test_five_hundred_combinations_are_told_one_by_one() -> None:
    document = document_of({"kind": "switch", "positions": list("abcd")}, (900, 2100))
    document["transmitter"]["controls"] |= {
        f"s{i}": {"kind": "switch", "positions": list("abcde")} for i in range(3)
    }
    document["mixes"] = [
        {
            "name": f"s{i}",
            "from": {"control": f"s{i}"},
            "to": CHANNEL,
            "rate_percent": {"low": 1, "high": 1},
        }
        for i in range(3)
    ]
    assert len(told(document)[1]["rows"]) == 4 * 5**3


def test_what_is_beyond_the_bound_is_told_as_not_checked() -> None:
    assert told(with_switches(7), bound=20 * 2**8)[1] != {"not known": "NotChecked"}
    assert told(with_switches(7), bound=20 * 2**8 - 1)[1] == {"not known": "NotChecked"}


@pytest.mark.parametrize(
    ("purpose", "behaviour", "counts"),
    [
        ("recovery", "off", True),
        ("flight-mode", "recovery", True),
        ("flight-mode", "off", False),
        ("other", "off", False),
    ],
)
def test_what_counts_as_recovery(purpose: str, behaviour: str, counts: bool) -> None:
    """By the selector's purpose or by what one of its states does."""
    document = document_of(KNOB, (900, 1500), (1500, 2100))
    (selector, _) = selectors = document["receiver"]["stabiliser"]["selectors"]
    selector["purpose"] = purpose
    selector["states"][1]["behaviour"] = behaviour
    selectors[1:] = []
    path = path_of(document)
    assert ("recovery" in path.wanted) is counts
    assert (path.digest("recovery") is not None) is counts


@pytest.mark.parametrize("sprung", [True, False])
def test_recovery_tells_whether_its_control_lets_go(sprung: bool) -> None:
    switch = {"kind": "switch", "positions": ["off", "on"], "sprung": sprung}
    document = document_of(switch, (900, 1500), (1500, 2100))
    document["receiver"]["stabiliser"]["selectors"][0]["purpose"] = "recovery"
    assert told(document, "recovery")[1]["columns"] == [[2, sprung]]
    assert told(document, "states")[1]["columns"] == [[2, None]]


@pytest.mark.parametrize(
    ("control", "together"),
    [("mode-switch", [[[5, 0], [6, 0]]]), ("rate-switch", [[[5, 0]], [[6, 0]]])],
)
def test_one_control_that_selects_twice_is_not_two(control: str, together: list[Any]) -> None:
    """Each channel's only control is the first column of its table."""
    switch = {"kind": "switch", "positions": ["off", "on"]}
    document = document_of(switch, (900, 1500), (1500, 2100))
    document["channels"][5]["control"] = control
    assert CHECKS["states"].facts(path_of(document))["together"] == together


@pytest.mark.parametrize("first", [True, False])
def test_a_control_that_changes_nothing_is_left_out(first: bool) -> None:
    """Before the one that selects or after it."""
    switch = {"kind": "switch", "positions": ["off", "on"]}
    document = document_of(switch, (900, 1500), (1500, 2100))
    alone = told(document)
    controls, idle = document["transmitter"]["controls"], {"idle": switch}
    document["transmitter"]["controls"] = idle | controls if first else controls | idle
    document["mixes"] = [
        {
            "name": "idle",
            "from": {"control": "idle"},
            "to": CHANNEL,
            "rate_percent": {"low": 0, "high": 0},
        }
    ]
    assert told(document) == alone


@pytest.mark.parametrize("names", ["xy", "yx"])
def test_of_two_orders_of_columns_that_do_alike_the_one_with_the_least_rows_counts(
    names: str,
) -> None:
    """Each position of either switch gives 1100, 1300 and 1500 µs once: only their order tells."""
    three = {"kind": "switch", "positions": ["0", "1", "2"]}
    document = document_of(KNOB, (900, 2100))
    document["transmitter"]["controls"] |= {"x": three, "y": three}
    del document["channels"][4]["control"]
    pulses = ((1100, 1300, 1500), (1500, 1100, 1300), (1300, 1500, 1100))
    document["overrides"] = [
        {
            "name": f"{i}{j}",
            "purpose": "other",
            "channel": CHANNEL,
            "demand_percent": (us - 1500) / 4,
            "when": [
                {"control": names[0], "positions": [str(i)]},
                {"control": names[1], "positions": [str(j)]},
            ],
        }
        for i, row in enumerate(pulses)
        for j, us in enumerate(row)
    ]
    _, selected = told(document)
    assert selected["columns"] == [[3, None], [3, None]]
    assert [us for _, (us, _) in selected["rows"]] == [us for row in pulses for us in row]


def test_what_a_control_is_called_and_its_place_in_the_document_are_nothing() -> None:
    """Two switches, one of three positions: its column comes where it comes in either order."""
    two, three = ({"kind": "switch", "positions": list(it)} for it in ("ab", "abc"))
    found = []
    for names in (("x", "y"), ("y", "x")):
        document = document_of(two, (900, 1500), (1500, 2100))
        added = dict(zip(names, (two, three), strict=True))
        document["transmitter"]["controls"] |= dict(sorted(added.items()))
        document["mixes"] = [
            {
                "name": name,
                "from": {"control": name},
                "to": CHANNEL,
                "rate_percent": {"low": rate, "high": rate},
            }
            for name, rate in zip(names, (10, 20), strict=True)
        ]
        found.append(told(document))
        assert sorted(map(repr, found[-1][1]["columns"])) == ["[2, None]", "[2, None]", "[3, None]"]
        assert len(found[-1][1]["rows"]) == 12
    assert found[0] == found[1]
