"""The trace and one situation as plain data: what is told where something is not recorded."""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.path.plain import situation_json
from prebind.testing import clean


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


@pytest.mark.parametrize(
    ("propulsion", "key"),
    [
        ("electric", "/speed_controls"),
        ("glow", "/engine"),
        ("petrol", "/engine"),
        ("turbine", "/engine"),
        (None, "/speed_controls"),
    ],
)
def test_a_throttle_whose_motor_is_not_recorded(propulsion: str | None, key: str) -> None:
    document = clean("plain")
    del document["speed_controls"], document["model"]["propulsion"]
    if propulsion is not None:
        document["model"]["propulsion"] = {"kind": propulsion}
    (told,) = path_of(document).trace["open"]
    assert (told["at"], told["settles"]) == ("", [key])
    assert told["message"] == "the pulse at which the motor stops is not recorded"
    document["channels"][0]["function"] = "lights"
    assert path_of(document).trace["open"] == []


def test_sections_that_are_not_recorded() -> None:
    document = clean("plain")
    del document["receiver"], document["servos"], document["speed_controls"]
    told = [
        (it["settles"], it["message"].partition(":")[0]) for it in path_of(document).trace["open"]
    ]
    assert told == [
        (["/receiver"], "the receiver is not recorded"),
        (["/servos"], "the servos are not recorded"),
        (["/speed_controls"], "the pulse at which the motor stops is not recorded"),
    ]


def test_what_is_open_for_one_reason_is_told_once_for_each_check_by_hand() -> None:
    """Of the channel both its reach and its control; of the servo a direction and a throw."""
    document = clean("plain")
    document["channels"][2]["control"] = "lost"
    told = [(it["at"], it["bench"]) for it in path_of(document).trace["open"]]
    assert len(told) == len(set(told))
    places = ["/channels/2", "/receiver/outputs/2", "/servos/2", "/servos/2"]
    assert [at for at, _ in told] == places


@pytest.mark.parametrize("missing", ["linkage", "degrees_per_us", None])
def test_a_surface_whose_movement_is_not_known(missing: str | None) -> None:
    document = clean("plain")
    if missing is not None:
        del document["servos"][2][missing]
    trace = path_of(document).trace
    entry = trace["surfaces"][2]
    assert (entry["low_deg"] is None) is (missing is not None)
    assert "fault" not in entry
    told = [(it["at"], it["settles"]) for it in trace["open"]]
    assert told == ([] if missing is None else [("/servos/2", [f"/servos/2/{missing}"])])


def test_servos_without_a_surface_or_a_linkage_move_none() -> None:
    document = clean("plain")
    document["servos"].append({"port": 1})
    assert [it["port"] for it in path_of(document).trace["surfaces"]] == [2, 5, 3, 4]
    document["servos"][-1] |= {"linkage": document["servos"][0]["linkage"]}
    assert [it["port"] for it in path_of(document).trace["surfaces"]] == [2, 5, 3, 4, 1]


def test_a_linkage_that_locks_says_where() -> None:
    """A parallelogram at 0.3° per µs lies flat at 90°, 300 µs either way of neutral."""
    document = clean("plain")
    document["servos"][2]["linkage"] = {"arm_mm": 10, "horn_mm": 10, "base_mm": 60}
    document["servos"][2]["degrees_per_us"] = 0.3
    entry = path_of(document).trace["surfaces"][2]
    assert (entry["low_deg"], entry["failsafe_deg"], entry["high_deg"]) == (None, 0, None)
    flat = "the pushrod stands in line with the arm or the horn"
    assert entry["fault"] == f"at 1200 µs {flat}; at 1800 µs {flat}"


@pytest.mark.parametrize("mixing", ["motors", "elevon"])
def test_a_motor_in_one_situation(mixing: str) -> None:
    """Where the receiver mixes motors its own channel counts: 1100 µs, not half of roll's 400."""
    document = clean()
    document["transmitter"]["output"] = {}
    document["receiver"]["stabiliser"] |= {"mixing": mixing, "mix_percent": 50}
    document["receiver"]["stabiliser"]["axes"][0]["ports"].append(1)
    told = situation_json(path_of(document), {"roll-stick": 100.0})
    assert told["motors"][0]["state"] == ("stopped" if mixing == "motors" else "running")
    assert told["ports"][0]["us"] == (1300 if mixing == "motors" else 1700)


def test_a_motor_on_a_port_that_is_not_there() -> None:
    document = clean("plain")
    document["speed_controls"][0]["port"] = 9
    path = path_of(document)
    assert situation_json(path, {})["motors"] == [
        {"at": "/speed_controls/0", "port": 9, "state": None}
    ]
    (motor,) = path.trace["motors"]
    assert (motor["throttle_low"], motor["overrides"], motor["failsafe"]) == (None, None, None)


def test_a_selector_and_a_surface_in_one_situation() -> None:
    document = clean()
    document["transmitter"]["output"] = {}
    told = situation_json(path_of(document), {"mode-switch": "middle", "pitch-stick": 0.0})
    # The bands meet at ±34 %, 136 µs either way.
    assert told["selectors"][0] == {
        "at": "/receiver/stabiliser/selectors/0",
        "name": "flight mode",
        "states": ["limited"],
        "margin_us": 136,
    }
    assert told["surfaces"][2] == {"at": "/servos/2", "surface": "elevator", "deg": 0}
    document["channels"][4]["control"] = "lost"
    told = situation_json(path_of(document), {})
    assert (told["selectors"][0]["states"], told["selectors"][0]["margin_us"]) == (None, None)


def test_numbers_have_nine_places() -> None:
    document = clean("plain")
    document["transmitter"]["output"] = {}
    document["channels"][3]["subtrim_percent"] = 12.3456789014
    (*_, rudder) = situation_json(path_of(document), {"yaw-stick": 0.0})["channels"]
    assert repr(rudder["output_percent"]) == "12.345678901"


def test_numbers_have_no_noise_and_no_negative_zero() -> None:
    """A tenth and two make 0.30000000000000004 in floating point."""
    document = clean("plain")
    document["transmitter"]["output"] = {"us_per_percent": 1, "centre_us": 0.1}
    document["channels"][3] = {
        "channel": 4,
        "function": "rudder",
        "control": "yaw-stick",
        "subtrim_percent": 0.2,
        "reversed": True,
    }
    (*_, rudder) = situation_json(path_of(document), {"yaw-stick": 0.0})["channels"]
    assert repr(rudder["us"]) == "0.3"
    assert repr(rudder["demand"]) == "0.0"
    # Turned round last of all, nothing is a negative zero.
    document["channels"][3] |= {"subtrim_percent": 0}
    document["transmitter"]["output"]["order"] = ["subtrim", "travel", "reverse"]
    stages = path_of(document).situation({"yaw-stick": 0.0}).channels[4]
    assert repr(stages.output_percent) == "-0.0"
    (*_, rudder) = situation_json(path_of(document), {"yaw-stick": 0.0})["channels"]
    assert repr(rudder["output_percent"]) == "0.0"
