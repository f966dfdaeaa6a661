"""Facts of the trade as worked examples.  Common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest
from tests.plan.made import asked, flight_mode, model, radio, switch, wishes

from prebind.plan import plan
from prebind.plan.contradiction import contradictions
from prebind.plan.plain import plan_json

CONTROLS = {"mode": switch(3), "press": {"kind": "button"}, "cut": switch(2)}
FOUR = ("throttle", "aileron", "elevator", "rudder")
THREE_MODES = flight_mode("level", "limited", "damped")
THIRDS = [-34, 34]


def with_channels(count: int, one: Any, receiver: Any = None) -> Any:
    return asked(wishes(one, radio(count, CONTROLS), receiver))


def test_four_functions_with_mode_and_recovery_need_six_channels() -> None:
    """The cut takes a switch, but no channel."""
    one = model(*FOUR, selectors=[THREE_MODES], recovery=True)
    found = plan(with_channels(6, one))
    assert found.answer is not None
    [it] = found.answer.assignments
    assert sorted(it.channels.values()) == [1, 2, 3, 4, 5, 6]
    assert it.controls["throttle cut"] == "cut"
    few = plan(with_channels(5, one))
    assert few.answer is None
    [told] = few.contradictions
    assert "want 6 channels; “Reed” sends 5" in told.message
    assert "take a transmitter with 6 channels" in told.remedies


def test_six_outputs_with_two_selectors_want_eight_channels() -> None:
    """A receiver of six outputs, each with a channel of its own, that takes in ten."""
    six = ("throttle", "elevator", "rudder", "x-camera")
    ailerons = [{"function": "aileron", "side": side} for side in ("left", "right")]
    one = model(*six, *ailerons, selectors=[THREE_MODES], recovery=True)
    one["functions"][3]["control"] = "continuous"
    receiver = {"inputs": 10, "outputs": 6, "stabiliser": {"edges_percent": THIRDS}}
    controls = {**CONTROLS, "knob": {"kind": "knob"}}
    for count in (7, 8):
        found = plan(asked(wishes(one, radio(count, controls), receiver)))
        assert (found.answer is not None) == (count == 8)
    assert found.answer is not None
    [it] = found.answer.assignments
    assert len(set(it.channels.values())) == 8
    assert sorted(port for ports in it.ports.values() for port in ports) == [1, 2, 3, 4, 5, 6]


def test_a_three_position_switch_reads_in_thirds() -> None:
    """−100, 0 and +100 % are 1100, 1500 and 1900 µs; thirds begin at ±34 %, 136 µs from centre."""
    receiver = {"inputs": 8, "outputs": 6, "stabiliser": {"edges_percent": THIRDS}}
    one = model(*FOUR, selectors=[THREE_MODES], recovery=True)
    data = plan_json(plan(with_channels(8, one, receiver)))
    [mode, recovery] = data["answers"][0]["models"][0]["selectors"]
    told = [(it["us"], it["state"], it["margin_us"]) for it in mode["positions"]]
    assert told == [(1100, "level", 264), (1500, "limited", 136), (1900, "damped", 264)]
    assert [(it["position"], it["state"]) for it in recovery["positions"]] == [
        ("released", "off"),
        ("pressed", "recover"),
    ]


def test_a_throttle_cut_under_the_hand_that_does_not_hold_the_throttle() -> None:
    """In stick modes 1 and 3 the throttle is in the right hand, in 2 and 4 in the left."""
    controls = {"left": switch(2, hand="left"), "right": switch(2, hand="right")}
    for stick_mode, free in {1: "left", 2: "right", 3: "left", 4: "right"}.items():
        document = wishes(model(*FOUR), radio(6, controls, stick_mode=stick_mode))
        found = plan(asked(document))
        assert found.answer is not None
        assert found.answer.assignments[0].controls["throttle cut"] == free


@pytest.mark.parametrize(
    ("control", "what"),
    [
        ({"kind": "knob"}, "a button, or a switch of two positions that springs back"),
        (switch(2), "a button, or a switch of two positions that springs back"),
    ],
)
def test_recovery_wants_a_spring(control: Any, what: str) -> None:
    document = wishes(model("elevator", "aileron", recovery=True), radio(6, {"it": control}))
    found = asked(document)
    [told] = contradictions(found.needs[0], found.wishes.radios["Reed"])
    assert [wish.text for wish in told.wishes] == [f"“recovery” asks for {what}"]
    assert told.remedies == ("do without this", f"take a transmitter with {what} in addition")


def test_a_cut_never_springs_back_nor_shares() -> None:
    controls = {"press": {"kind": "button"}, "sprung": switch(2, sprung=True), "gear": switch(2)}
    found = asked(wishes(model("throttle", "elevator", "gear"), radio(6, controls)))
    [told] = contradictions(found.needs[0], found.wishes.radios["Reed"])
    assert {wish.at for wish in told.wishes} == {
        "/models/0/functions/2",
        "/models/0/throttle_cut",
    }
    assert "of those that will do “Reed” has only one: gear." in told.message
