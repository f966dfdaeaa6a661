"""When a condition holds, what it comes down to, and the positions that it may ask for."""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.path.conditions import escape
from prebind.rule import NotKnown
from prebind.testing import clean


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


CONTROLS = {
    "knob": {"kind": "knob"},
    "three": {"kind": "switch", "positions": ["a", "b", "c"]},
    "five": {"kind": "switch", "positions": ["a", "b", "c", "d", "e"]},
    "uneven": {"kind": "switch", "positions": ["a", "b"], "values": [-40, 90]},
    "press": {"kind": "button"},
    "turn": {"kind": "switch", "positions": ["in", "out"]},
}


def with_controls(**more: Any) -> dict[str, Any]:
    document = clean("plain")
    document["transmitter"]["controls"] |= CONTROLS
    return document | more


WHOLE = (-100, 100, True, True)


@pytest.mark.parametrize(
    ("threshold", "cells"),
    [
        (-100.5, [WHOLE]),
        (100.5, [WHOLE]),
        (-100, [(-100, -100, True, True), (-100, 100, False, True)]),
        (100, [(-100, 100, True, False), (100, 100, True, True)]),
        (
            -99.5,
            [(-100, -99.5, True, False), (-99.5, -99.5, True, True), (-99.5, 100, False, True)],
        ),
        (99.5, [(-100, 99.5, True, False), (99.5, 99.5, True, True), (99.5, 100, False, True)]),
    ],
)
def test_a_threshold_close_to_a_knob_s_end(
    threshold: float, cells: list[tuple[float, float, bool, bool]]
) -> None:
    found = path_of(with_controls()).conditions.cells("knob", (threshold,))
    assert [(it.lo, it.hi, it.lo_closed, it.hi_closed) for it in found] == cells
    for it in found:  # it is in the middle that a condition is asked
        assert it.value == it.position == (it.lo + it.hi) / 2


@pytest.mark.parametrize(
    ("control", "values"),
    [
        ("three", {"a": -100, "b": 0, "c": 100}),
        ("five", {"a": -100, "b": -50, "c": 0, "d": 50, "e": 100}),
        ("uneven", {"a": -40, "b": 90}),
        ("press", {"released": -100, "pressed": 100}),
        ("turn", {"in": -100, "out": 100}),
    ],
)
def test_a_switch_s_positions_are_spaced_evenly_unless_said(
    control: str, values: dict[str, float]
) -> None:
    path = path_of(with_controls())
    found = path.conditions.cells(control, (0,))
    assert {it.position: it.value for it in found} == values
    assert all(it.point for it in found)
    for position, value in values.items():
        assert path.conditions.held(control, position).value == value
        assert path.control(control).value(position) == value


@pytest.mark.parametrize(
    ("control", "position", "says"),
    [
        ("three", "d", "the control “three” has no position “d”"),
        ("knob", "a", "the control “knob” has no position “a”"),
        ("lost", "a", "there is no control “lost”"),
        ("lost", 0.0, "there is no control “lost”"),
    ],
)
def test_a_position_that_a_control_does_not_have(
    control: str, position: str | float, says: str
) -> None:
    with pytest.raises(NotKnown) as raised:
        path_of(with_controls()).conditions.held(control, position)
    assert raised.value.message == says


@pytest.mark.parametrize(
    ("when", "where", "holds"),
    [
        ([], {}, True),
        ([{"control": "three", "positions": ["a", "c"]}], {"three": "c"}, True),
        ([{"control": "three", "positions": ["a", "c"]}], {"three": "b"}, False),
        ([{"control": "knob", "above_percent": 20}], {"knob": 20.0}, False),
        ([{"control": "knob", "above_percent": 20}], {"knob": 20.1}, True),
        ([{"control": "knob", "below_percent": 20}], {"knob": 20.0}, False),
        ([{"control": "knob", "below_percent": 20}], {"knob": 19.9}, True),
        ([{"control": "uneven", "above_percent": 80}], {"uneven": "b"}, True),
        ([{"control": "uneven", "above_percent": 90}], {"uneven": "b"}, False),
        ([{"control": "uneven", "below_percent": -40}], {"uneven": "a"}, False),
        (
            [{"control": "knob", "above_percent": 0}, {"control": "three", "positions": ["a"]}],
            {"knob": 10.0, "three": "b"},
            False,
        ),
        (
            [{"control": "knob", "above_percent": 0}, {"control": "three", "positions": ["a"]}],
            {"knob": 10.0, "three": "a"},
            True,
        ),
        ([{"phase": ["climb"]}], {"knob": 60.0}, True),
        ([{"phase": ["climb"]}], {"knob": 60.0, "press": "pressed"}, False),  # launch comes first
        ([{"phase": ["launch", "climb"]}], {"knob": 60.0, "press": "pressed"}, True),
        ([{"phase": ["launch", "climb"]}], {"knob": 60.0}, True),
        ([{"phase": ["climb", "launch"]}], {"knob": 60.0}, True),
        ([{"phase": ["launch"]}], {"knob": 60.0}, False),
        ([{"phase": ["launch", "climb"]}], {"knob": 50.0}, False),  # no phase is on
        ([{"phase": ["launch", "climb"]}], {"knob": -60.0}, False),
        ([{"phase": ["glide"]}], {"knob": -60.0}, True),
        # Without a position it rests: the first, the middle.
        ([{"control": "three", "positions": ["a"]}], {}, True),
        ([{"control": "knob", "below_percent": 0}], {}, False),
    ],
)
def test_when_a_condition_holds(
    when: list[dict[str, Any]], where: dict[str, str | float], holds: bool
) -> None:
    document = with_controls(
        phases=[
            {"name": "launch", "when": [{"control": "press", "positions": ["pressed"]}]},
            {"name": "climb", "when": [{"control": "knob", "above_percent": 50}]},
            {"name": "glide", "when": [{"control": "knob", "below_percent": -50}]},
        ]
    )
    document["overrides"][0]["when"] = when
    path = path_of(document)
    assert path.holds(path.setup.overrides[0].when, where) is holds


@pytest.mark.parametrize(
    ("where", "phase"),
    [
        ({"press": "pressed", "knob": 60.0}, "launch"),
        ({"knob": 60.0}, "climb"),
        ({"knob": 50.0}, None),
        ({}, None),
    ],
)
def test_the_phase_that_is_on_is_the_first_that_holds(
    where: dict[str, str | float], phase: str | None
) -> None:
    document = with_controls(
        phases=[
            {"name": "launch", "when": [{"control": "press", "positions": ["pressed"]}]},
            {"name": "climb", "when": [{"control": "knob", "above_percent": 50}]},
        ]
    )
    assert path_of(document).phase(where) == phase


def test_what_a_condition_comes_down_to_in_the_transmitter_s_order() -> None:
    """A phase comes down to its own condition and those of the phases before it."""
    document = with_controls(
        phases=[
            {"name": "launch", "when": [{"control": "three", "positions": ["a"]}]},
            {"name": "climb", "when": [{"control": "knob", "above_percent": 50}]},
            {"name": "glide", "when": [{"control": "press", "positions": ["pressed"]}]},
        ]
    )
    document["overrides"][0]["when"] = [
        {"control": "turn", "positions": ["in"]},
        {"phase": ["climb"]},
    ]
    path = path_of(document)
    assert path.depends(path.setup.overrides[0].when) == ("knob", "three", "turn")


def test_a_key_in_a_pointer() -> None:
    """RFC 6901, section 3: `~` first, so that what comes of `/` stays."""
    assert escape("a/b~c") == "a~1b~0c"
    assert escape("~1") == "~01"
