"""What the pilot holds: which stick is for which axis, which is the throttle, where each rests."""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.testing import clean


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


def unnamed(document: dict[str, Any], *sticks: str) -> dict[str, Any]:
    """The document, its sticks' axes not recorded."""
    for stick in sticks:
        del document["transmitter"]["controls"][stick]["axis"]
    return document


ALL = ("throttle-stick", "roll-stick", "pitch-stick", "yaw-stick")


@pytest.mark.parametrize(
    ("function", "axis"),
    [
        ("throttle", "thrust"),
        ("collective", "thrust"),
        ("aileron", "roll"),
        ("flaperon", "roll"),
        ("cyclic-roll", "roll"),
        ("elevator", "pitch"),
        ("cyclic-pitch", "pitch"),
        ("rudder", "yaw"),
        ("steering", "yaw"),
        ("tail-rotor", "yaw"),
        ("elevon", None),  # two axes: which of them the stick is, nobody knows
        ("v-tail", None),
        ("gear", None),
    ],
)
def test_a_stick_s_axis_is_that_of_what_it_drives(function: str, axis: str | None) -> None:
    """Axes as in ISO 1151-1: what each surface turns the model about (common practice)."""
    document = unnamed(clean("plain"), *ALL)
    document["channels"] = [{"channel": 1, "function": function, "control": "yaw-stick"}]
    path = path_of(document)
    assert path.axis_of("yaw-stick") == axis
    assert path.control("yaw-stick").axis == axis
    assert path.axis_of("roll-stick") is None
    assert path.sticks("roll") == (("yaw-stick",) if axis == "roll" else ())


def test_what_is_recorded_counts_before_what_is_driven() -> None:
    document = clean("plain")
    document["transmitter"]["controls"]["roll-stick"]["axis"] = "yaw"
    path = path_of(document)
    assert path.axis_of("roll-stick") == "yaw"
    assert path.sticks("yaw") == ("roll-stick", "yaw-stick")
    assert path.stick("yaw") == "roll-stick"


def test_a_knob_is_no_stick_whatever_it_drives() -> None:
    document = clean("plain")
    document["transmitter"]["controls"]["roll-stick"] = {"kind": "knob"}
    path = path_of(document)
    assert path.axis_of("roll-stick") is None
    assert path.sticks("roll") == ()


def test_a_stick_s_axis_through_its_input() -> None:
    document = unnamed(clean("plain"), "roll-stick")
    document["inputs"] = [{"id": "roll", "control": "roll-stick", "rates": [{"rate_percent": 90}]}]
    del document["channels"][1]["rates"]
    document["channels"][1]["control"] = "roll"
    assert path_of(document).axis_of("roll-stick") == "roll"


@pytest.mark.parametrize(
    ("change", "throttle"),
    [
        ({}, "throttle-stick"),
        ({"control": "yaw-stick"}, "yaw-stick"),
        ({"control": "by-input"}, "pitch-stick"),
        ({"control": "lost"}, "throttle-stick"),  # then the thrust stick
        ({"control": None}, "throttle-stick"),
        ({"function": "lights", "control": "yaw-stick"}, "throttle-stick"),
    ],
)
def test_the_throttle_is_what_drives_it_else_the_thrust_stick(
    change: dict[str, Any], throttle: str
) -> None:
    document = clean("plain")
    document["inputs"] = [
        {"id": "by-input", "control": "pitch-stick", "rates": [{"rate_percent": 90}]}
    ]
    document["channels"][0] |= change
    if document["channels"][0]["control"] is None:
        del document["channels"][0]["control"]
    path = path_of(document)
    assert path.throttle_id == path.throttle_control == throttle
    rest = path.rest()
    assert {name: rest[name] for name in ALL} == {
        name: -100.0 if name == throttle else 0.0 for name in ALL
    }


def test_the_throttle_may_stand_anywhere_among_the_channels() -> None:
    document = clean("plain")
    document["channels"].reverse()
    document["channels"][-1]["control"] = "yaw-stick"
    assert path_of(document).throttle_id == "yaw-stick"
    undriven = {"channel": 7, "function": "throttle"}
    document["channels"].insert(0, undriven)
    assert path_of(document).throttle_id == "yaw-stick"
    document["channels"][0]["control"] = "lost"
    assert path_of(document).throttle_id == "yaw-stick"


def test_without_a_thrust_stick_nothing_is_the_throttle() -> None:
    document = unnamed(clean("plain"), "throttle-stick")
    del document["channels"][0]["control"]
    path = path_of(document)
    assert path.throttle_id is None
    assert path.rest()["throttle-stick"] == 0


def test_where_controls_rest() -> None:
    """A switch in its first position, a button released, all but the throttle in the middle."""
    path = path_of(clean())
    assert path.rest("roll-stick", "cut-switch") == {
        "throttle-stick": -100,
        "pitch-stick": 0,
        "yaw-stick": 0,
        "mode-switch": "back",
        "recovery-button": "released",
        "rate-switch": "full",
    }


def test_a_throttle_on_a_switch_rests_at_its_lowest_value() -> None:
    document = clean("plain")
    document["transmitter"]["controls"]["throttle-stick"] = {
        "kind": "switch",
        "positions": ["half", "full", "off"],
        "values": [0, 100, -100],
    }
    control = path_of(document).control("throttle-stick")
    assert (control.low, control.high, control.rest) == ("off", "full", "off")


@pytest.mark.parametrize(
    ("entry", "sprung"),
    [
        ({"kind": "stick", "axis": "roll"}, True),
        ({"kind": "stick", "axis": "thrust"}, False),
        ({"kind": "stick", "axis": "thrust", "sprung": True}, True),
        ({"kind": "stick", "axis": "yaw", "sprung": False}, False),
        ({"kind": "button"}, True),
        ({"kind": "button", "sprung": False}, False),
        ({"kind": "switch", "positions": ["a", "b"]}, False),
        ({"kind": "switch", "positions": ["a", "b"], "sprung": True}, True),
        ({"kind": "knob"}, False),
        ({"kind": "slider"}, False),
    ],
)
def test_what_springs_back(entry: dict[str, Any], sprung: bool) -> None:
    """Sticks but the thrust, and buttons (common practice)."""
    document = clean("plain")
    document["transmitter"]["controls"]["it"] = entry
    assert path_of(document).control("it").sprung is sprung


ON = {"control": "cut-switch", "positions": ["cut"]}
OFF = {"control": "cut-switch", "positions": ["run"]}
ABOVE = {"control": "pitch-stick", "above_percent": 50}
BELOW = {"control": "pitch-stick", "below_percent": 50}


@pytest.mark.parametrize(
    ("rates", "forgotten"),
    [
        ([], None),
        ([[]], None),
        ([[ON]], {"cut-switch": "run"}),
        ([[ON], [OFF]], None),
        ([[ON], []], None),
        ([[ABOVE], [BELOW]], {"pitch-stick": 50}),  # at 50 % itself
        ([[ON], [ABOVE, OFF], [BELOW, OFF]], {"cut-switch": "run", "pitch-stick": 50}),
    ],
)
def test_where_rates_are_recorded_and_none_holds(
    rates: list[list[dict[str, Any]]], forgotten: dict[str, Any] | None
) -> None:
    document = clean("plain")
    document["channels"][2]["rates"] = [{"rate_percent": 80, "when": when} for when in rates]
    if not rates:
        del document["channels"][2]["rates"]
    path = path_of(document)
    assert path.without_rate(path.channel(3).entry) == forgotten


def test_a_curve_that_holds_takes_the_place_of_rates() -> None:
    document = clean("plain")
    document["channels"][2]["rates"] = [{"rate_percent": 80, "when": [ON]}]
    curve = {"points": [[-100, -50], [100, 50]]}
    for when, forgotten in (([OFF], None), ([ON], {"cut-switch": "run"}), ([], None)):
        document["channels"][2]["curves"] = [curve | {"when": when}]
        path = path_of(document)
        assert path.without_rate(path.channel(3).entry) == forgotten
    del document["channels"][2]["rates"]
    document["channels"][2]["curves"] = [curve | {"when": [ON]}]
    path = path_of(document)
    assert path.without_rate(path.channel(3).entry) is None
