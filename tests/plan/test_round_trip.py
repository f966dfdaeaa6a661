"""Every plan becomes a setup that the inspection passes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from tests.plan.made import asked, flight_mode, full_wishes, model, radio, switch, wishes

from prebind import Inspector, trace
from prebind.plan import plan
from prebind.plan.plain import plan_json
from prebind.plan.read import Asked, read

INSPECTOR = Inspector()
EXAMPLES = Path(__file__).parents[1] / "examples"


def fails(setup: Any) -> set[str]:
    report = INSPECTOR.inspect(json.dumps(setup))
    assert not report.problems
    return {it.rule for it in report.findings if it.kind == "fail"}


@settings(max_examples=40, deadline=None)
@given(full_wishes())
def test_what_is_planned_passes(document: Any) -> None:
    found = plan(asked(document))
    if found.answer is None:
        assert found.contradictions
        return
    [setup] = found.setups.values()
    used = {it["channel"] for it in setup["channels"]}
    spare = document["transmitters"]["Reed"]["channels"] - len(used)
    # Fewer than two spare channels are a notice, which no plan can mend.
    assert fails(setup) == ({"capacity/spare"} if spare < 2 else set())


@settings(max_examples=25, deadline=None)
@given(full_wishes())
def test_states_and_margins_are_those_of_the_signal_path(document: Any) -> None:
    found = plan(asked(document))
    for answer in plan_json(found)["answers"]:
        for one in answer["models"]:
            report = INSPECTOR.inspect(json.dumps(one["setup"]))
            assert report.setup is not None
            traced = {it["name"]: it for it in trace(report.setup).trace["selectors"]}
            for selector in one["selectors"]:
                positions = traced[selector["name"]]["positions"]
                assert [it["us"] for it in selector["positions"]] == pytest.approx(
                    [it["us"] for it in positions], abs=1e-3
                )
                assert [[it["state"]] for it in selector["positions"]] == [
                    it["states"] for it in positions
                ]
                # At least 25 µs from an edge (common practice, no source).
                assert all((it["margin_us"] or 25) >= 25 for it in selector["positions"])
                states = {it["state"] for it in selector["positions"]}
                assert len(states) == len(_wished(document, selector["name"]))


def _wished(document: Any, name: str) -> list[Any]:
    if name == "recovery":
        return ["off", "recover"]
    [found] = [it for it in document["models"][0]["selectors"] if it["name"] == name]
    return list(found["states"])


CONTROLS = {
    "mode": switch(3),
    "press": {"kind": "button"},
    "cut": switch(2),
    "two": switch(2),
    "knob": {"kind": "knob"},
    "slide": {"kind": "slider"},
}


def airframes() -> Any:
    """Wishes for one model of each kind, with what is special about it."""
    yield (
        "v-tail glider, mixed in the radio",
        wishes(
            model(
                "throttle",
                {"function": "aileron", "side": "right"},
                {"function": "aileron", "side": "left"},
                {"function": "v-tail", "side": "right"},
                {"function": "v-tail", "side": "left"},
                {"function": "flap", "side": "right", "positions": 3},
                {"function": "flap", "side": "left", "positions": 3},
                airframe="glider",
                tail="v-tail",
            ),
            radio(10, CONTROLS),
            {"inputs": 8, "outputs": 8},
        ),
    )
    yield (
        "flying wing, mixed in the receiver",
        wishes(
            model(
                "throttle",
                "aileron",
                "elevator",
                airframe="flying-wing",
                tail="none",
                recovery=True,
                selectors=[flight_mode("level", "damped")],
            ),
            radio(8, CONTROLS),
            {
                "inputs": 8,
                "outputs": 6,
                "stabiliser": {
                    "mixing": "elevon",
                    "mix_percent": 70,
                    "axes": {
                        "roll": {"ports": [{"port": 2, "sign": 1}, {"port": 3, "sign": -1}]},
                        "pitch": {"ports": [2, 3]},
                    },
                },
            },
        ),
    )
    yield (
        "multirotor",
        wishes(
            model("throttle", "aileron", "elevator", "rudder", "arm", airframe="multirotor")
            | {"selectors": [flight_mode("level", "damped")], "propulsion": {"kind": "electric"}},
            radio(8, CONTROLS),
            {
                "inputs": 8,
                "outputs": 4,
                "stabiliser": {
                    "mixing": "motors",
                    "axes": {axis: {"ports": [1, 2, 3, 4]} for axis in ("roll", "pitch", "yaw")},
                },
            },
        ),
    )
    yield (
        "helicopter",
        wishes(
            model(
                "throttle",
                "cyclic-roll",
                "cyclic-pitch",
                "tail-rotor",
                "collective",
                airframe="helicopter",
            )
            | {"selectors": [flight_mode("level", "damped")], "propulsion": {"kind": "electric"}},
            radio(8, CONTROLS),
            {
                "inputs": 8,
                "outputs": 6,
                "stabiliser": {
                    "mixing": "swashplate",
                    "axes": {
                        "roll": {"ports": [{"port": 2, "sign": 1}, {"port": 3, "sign": -1}]},
                        "pitch": {"ports": [2, 3, 4]},
                    },
                },
            },
        ),
    )
    yield (
        "twin on two throttle channels, with a gain on a knob",
        wishes(
            model(
                {"function": "throttle", "side": "left"},
                {"function": "throttle", "side": "right"},
                {"function": "aileron", "servos": 2},
                "elevator",
                {"function": "rudder", "servos": 2, "y_lead": True},
                "steering",
                {"function": "airbrake", "control": "continuous"},
                selectors=[
                    {
                        "name": "gain",
                        "purpose": "gain",
                        "states": [
                            {"state": "low", "behaviour": "other"},
                            {"state": "high", "behaviour": "other"},
                        ],
                        "control": "continuous",
                    }
                ],
            ),
            radio(12, CONTROLS),
        ),
    )


@pytest.mark.parametrize(("name", "document"), list(airframes()), ids=lambda it: str(it)[:20])
def test_each_airframe_passes(name: str, document: Any) -> None:
    found = plan(asked(document))
    assert [it.message for it in found.contradictions] == [], name
    [setup] = found.setups.values()
    assert fails(setup) == set()


@pytest.mark.parametrize("file", sorted((EXAMPLES / "plan").glob("*.wishes.json")), ids=str)
def test_the_examples_pass(file: Path) -> None:
    found = read(file.read_bytes(), path=str(file), root=EXAMPLES)
    assert isinstance(found, Asked), found
    planned = plan(found)
    for setup in planned.setups.values():
        assert fails(setup) == set()


def test_low_throttle_is_low_where_the_radio_sends_it_the_other_way() -> None:
    document = wishes(
        model("throttle", "elevator", "aileron"),
        radio(6, CONTROLS, output={"native": {"throttle": -1}}),
    )
    [setup] = plan(asked(document)).setups.values()
    lost = {it["channel"]: it for it in setup["receiver"]["failsafe"]["channels"]}
    assert lost[1] == {"channel": 1, "action": "preset", "output_percent": 100.0}


def test_recovery_is_off_where_its_button_rests() -> None:
    """A button that rests at its high end."""
    controls = CONTROLS | {"press": {"kind": "button", "values": [100, -100]}}
    document = wishes(model("elevator", "aileron", recovery=True), radio(6, controls))
    [setup] = plan(asked(document)).setups.values()
    [selector] = setup["receiver"]["stabiliser"]["selectors"]
    assert [(it["state"], it["band"]["percent"]) for it in selector["states"]] == [
        ("recover", [-150.0, 0.0]),
        ("off", [0.0, 150.0]),
    ]
    assert fails(setup) == set()


def test_what_is_not_known_is_named_beside_the_gap() -> None:
    document = wishes(model("throttle", "elevator", "aileron"), radio(6, CONTROLS))
    [setup] = plan(asked(document)).setups.values()
    assert setup["x-not-known"] == ["power", "speed_controls", "sign_offs"]
    assert setup["transmitter"]["x-not-known"] == ["start_checks"]
    assert setup["overrides"][0]["x-not-known"] == ["release"]
    assert "release" not in setup["overrides"][0]
    assert all("increasing_pulse" in it["x-not-known"] for it in setup["servos"])
    report = INSPECTOR.inspect(json.dumps(setup))
    opened = {it.rule for it in report.findings if it.kind == "open"}
    assert {"throttle/starts-live", "throttle/releases-live", "throttle/cut-runs"} <= opened
