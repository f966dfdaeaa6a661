"""The trace report and one situation as plain data, against values worked out by hand."""

from __future__ import annotations

import json
from functools import cache
from math import asin, cos, degrees, nextafter, radians, sin, sqrt
from pathlib import Path
from typing import Any

import jsonschema
import jsonschema_rs
import pytest

import prebind
from prebind.document import Document, read
from prebind.path import Path as SignalPath
from prebind.path.plain import situation_json, trace_json
from prebind.testing import clean
from prebind_schemas import schema_text, template_text, templates

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("f*/*.setup.json"))


def path_of(document: dict[str, Any], bound: int = 100_000) -> SignalPath:
    found = read(document)
    assert isinstance(found, Document), found
    return SignalPath(found.setup, bound)


def trace_of(document: dict[str, Any]) -> dict[str, Any]:
    return trace_json(path_of(document))


@cache
def validators() -> tuple[Any, Any]:
    schema = json.loads(schema_text("trace"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema), jsonschema_rs.validator_for(schema)


def assert_valid(report: dict[str, Any]) -> None:
    sent = json.loads(json.dumps(report, allow_nan=False))
    slow, fast = validators()
    assert [f"{e.json_path}: {e.message}" for e in slow.iter_errors(sent)] == []
    assert fast.is_valid(sent)


# --- the schema -----------------------------------------------------------------------------


@pytest.mark.parametrize("file", EXAMPLES, ids=lambda file: file.name)
def test_the_fleet_is_valid(file: Path) -> None:
    found = read(file.read_bytes(), path=str(file), root=file.parent)
    assert isinstance(found, Document)
    path = prebind.trace(found.setup)
    assert_valid(trace_json(path, file.name))
    assert_valid(situation_json(path, {}))


def test_nearly_nothing_is_valid() -> None:
    bare = {
        "format": "model-setup/1",
        "model": {"name": "Dotterel", "airframe": "aeroplane"},
        "transmitter": {"channels": 2, "controls": {"stick": {"kind": "stick"}}},
        "channels": [{"channel": 1, "function": "throttle", "control": "stick"}],
    }
    trace = trace_of(bare)
    assert_valid(trace)
    assert_valid(situation_json(path_of(bare), {}))
    assert (trace["ports"], trace["motors"], trace["surfaces"]) == ([], [], [])
    settles = [tuple(found["settles"]) for found in trace["open"]]
    assert settles == [("/receiver",), ("/servos",), ("/speed_controls",)]


@pytest.mark.parametrize(
    "change",
    [
        lambda trace: trace.update(extra=1),
        lambda trace: trace["channels"][0].update(extra=1),
        lambda trace: trace["controls"][0].update(sprung=None),
        lambda trace: trace["controls"][0]["jobs"][0].pop("about"),
        lambda trace: trace["channels"][0]["low"].pop("attained"),
        lambda trace: trace["ports"][0]["low"].update(percent=1),
        lambda trace: trace["directions"][0].update(direct=0),
        lambda trace: trace["motors"][0].update(failsafe="off"),
        lambda trace: trace.update(format="trace/2"),
    ],
)
def test_the_schema_is_closed(change: Any) -> None:
    trace = trace_of(clean("plain"))
    assert_valid(trace)
    change(trace)
    assert list(validators()[0].iter_errors(trace))


# --- facts ----------------------------------------------------------------------------------


def test_channels() -> None:
    document = clean("plain")
    document["channels"][1].update(travel_percent={"low": 80, "high": 150}, subtrim_percent=20)
    trace = trace_of(document)
    aileron = trace["channels"][1]
    # −100 · 0.80 + 20 = −60; 100 · 1.50 + 20 = 170, of which the limit of 150 cuts off 20.
    assert aileron["at"] == "/channels/1"
    assert aileron["low"] == {
        "percent": pytest.approx(-60),
        "us": pytest.approx(1260),
        "controls": {"roll-stick": -100.0},
        "attained": True,
    }
    assert aileron["high"]["percent"] == pytest.approx(150)
    assert aileron["high"]["us"] == pytest.approx(2100)
    assert aileron["clipped_percent"] == pytest.approx(20)
    assert trace["channels"][0]["clipped_percent"] == 0


def test_controls() -> None:
    document = clean("trainer")
    document["transmitter"]["controls"]["spare-knob"] = {"kind": "knob"}
    document["inputs"] = [{"id": "roll", "control": "roll-stick"}]
    document["channels"][1] = {"channel": 2, "function": "aileron", "control": "roll"}
    document["channels"].append({"channel": 7, "function": "tow-release", "control": "cut-switch"})
    trace = trace_of(document)
    assert_valid(trace)
    by_name = {control["control"]: control for control in trace["controls"]}
    assert list(by_name) == list(document["transmitter"]["controls"])
    assert by_name["cut-switch"] == {
        "at": "/transmitter/controls/cut-switch",
        "control": "cut-switch",
        "kind": "switch",
        "sprung": False,
        "positions": ["run", "cut"],
        "drives": ["tow-release"],
        "jobs": [
            {
                "at": "/channels/6/control",
                "job": "channel",
                "channel": 7,
                "about": "drives channel 7 (tow-release)",
            },
            {
                "at": "/overrides/0/when",
                "job": "override",
                "channel": 1,
                "about": "switches “throttle cut” on channel 1",
            },
        ],
    }
    button = by_name["recovery-button"]
    assert (button["sprung"], button["positions"]) == (True, ["released", "pressed"])
    stick = by_name["roll-stick"]
    assert (stick["sprung"], stick["positions"], stick["drives"]) == (True, None, ["aileron"])
    assert by_name["throttle-stick"]["sprung"] is False
    assert (by_name["spare-knob"]["drives"], by_name["spare-knob"]["jobs"]) == ([], [])


def test_the_control_that_drives_a_channel() -> None:
    document = clean("trainer")
    document["inputs"] = [{"id": "roll", "control": "roll-stick"}]
    document["channels"][1] = {"channel": 2, "function": "aileron", "control": "roll"}
    document["channels"].append({"channel": 7, "function": "flap"})
    channels = trace_of(document)["channels"]
    assert [c["control"] for c in channels[:3]] == ["throttle-stick", "roll-stick", "pitch-stick"]
    assert channels[6]["control"] is None


def test_the_trace_of_a_path_is_made_once() -> None:
    path = path_of(clean("plain"))
    assert path.trace is path.trace
    assert trace_json(path, "a.setup.json") == {**path.trace, "path": "a.setup.json"}
    assert path.trace["path"] == "-"


def test_an_extreme_that_is_approached_but_not_reached() -> None:
    """Just above half stick the trim takes 160 off: −110 is the limit, and no position gives it."""
    document = clean("plain")
    when = [{"control": "yaw-stick", "above_percent": 50}]
    document["channels"][3].update(reversed=False, trim_percent=[{"percent": -160, "when": when}])
    rudder = trace_of(document)["channels"][3]
    assert rudder["low"]["percent"] == pytest.approx(-110)
    assert rudder["low"]["attained"] is False
    assert rudder["low"]["controls"] == {"yaw-stick": nextafter(50, 100)}
    assert rudder["high"] == {
        "percent": 50,
        "us": 1700,
        "controls": {"yaw-stick": 50.0},
        "attained": True,
    }


def test_ports_and_failsafe() -> None:
    document = clean("plain")
    document["receiver"]["outputs"][3].update(
        reversed=True, travel_percent={"low": 50, "high": 50}, centre_us=1520
    )
    document["receiver"]["failsafe"]["channels"][3]["output_percent"] = 25
    document["receiver"]["failsafe"]["channels"][1] = {"channel": 2, "action": "hold"}
    trace = trace_of(document)
    rudder = trace["ports"][3]
    # ±400 µs, reversed, halved, about 1520; the preset of 25 % is 100 µs.
    assert rudder["low"] == {
        "us": pytest.approx(1320),
        "controls": {"yaw-stick": -100.0},
        "attained": True,
    }
    assert rudder["high"]["us"] == pytest.approx(1720)
    assert rudder["failsafe"] == {"action": "preset", "us": pytest.approx(1470)}
    assert trace["ports"][1]["failsafe"] == {"action": "hold", "us": None}


def test_selectors() -> None:
    """2048 steps over ±600 µs: half a step is 0.293 µs, off every margin."""
    trace = trace_of(clean("trainer"))
    flight, recovery = trace["selectors"]
    half = 600 / 2047
    middle = flight["positions"][1]
    assert flight["at"] == "/receiver/stabiliser/selectors/0"
    assert (flight["purpose"], recovery["purpose"]) == ("flight-mode", "recovery")
    assert middle["behaviours"] == ["attitude-limit"]
    assert middle["controls"] == {"mode-switch": "middle"}
    assert middle["us"] == pytest.approx(1500 + half)  # zero rounds upwards to a step
    assert middle["states"] == ["limited"]
    assert middle["margin_us"] == pytest.approx(136 - 2 * half)
    assert [position["states"] for position in recovery["positions"]] == [["off"], ["recover"]]
    assert flight["failsafe"] == {"action": "preset", "us": 1100, "states": ["level"]}


def test_gaps_and_overlaps() -> None:
    document = clean("trainer")
    states = document["receiver"]["stabiliser"]["selectors"][0]["states"]
    states[1]["band"]["percent"] = [-150, -34]
    positions = trace_of(document)["selectors"][0]["positions"]
    assert [p["states"] for p in positions] == [["level", "limited"], [], ["damped"]]
    assert positions[0]["behaviours"] == ["self-level", "attitude-limit"]
    assert positions[1]["behaviours"] == []
    assert [p["margin_us"] is None for p in positions] == [True, True, False]


def test_stretches() -> None:
    document = clean("trainer")
    document["transmitter"]["output"].pop("steps")
    document["transmitter"]["controls"]["mode-knob"] = {"kind": "knob"}
    document["channels"][4]["control"] = "mode-knob"
    level, limited, damped = trace_of(document)["selectors"][0]["positions"]
    assert level["percent"] == pytest.approx([-100, -34.125])
    assert level["us"] == pytest.approx([1100, 1363.5])  # equal to an edge up to 0.5 µs
    assert level["margin_us"] is None
    assert (limited["states"], damped["states"]) == (["limited"], ["damped"])


def test_directions() -> None:
    document = clean("trainer")
    elevator = {"axis": "pitch", "port": 3, "servo": 2, "surface": "elevator", "at": "/servos/2"}
    right = {**elevator, "direct": 1, "target": 1, "correction": 1}
    states = {"flight mode": ["damped"]}
    assert {**right, "states": states} in trace_of(document)["directions"]
    # At the transmitter a reversal flips both command signs, at the output all but the target.
    document["channels"][2]["reversed"] = True
    turned = {**elevator, "direct": -1, "target": -1, "correction": 1, "states": states}
    assert turned in trace_of(document)["directions"]
    document["receiver"]["outputs"][2]["reversed"] = True
    both = {**elevator, "direct": 1, "target": -1, "correction": -1, "states": states}
    assert both in trace_of(document)["directions"]


def test_motors() -> None:
    document = clean("plain")
    assert trace_of(document)["motors"] == [
        {
            "at": "/speed_controls/0",
            "port": 1,
            "throttle_low": "stopped",
            "throttle_high": "full",
            "overrides": {"throttle cut": "stopped"},
            "failsafe": "stopped",
        }
    ]
    document["overrides"][0]["demand_percent"] = -80  # 1180 µs, above the 1150 at which it stops
    document["channels"][0]["subtrim_percent"] = 15  # low: 1160 µs
    document["receiver"]["failsafe"]["channels"][0]["output_percent"] = 100  # 1900 µs
    (motor,) = trace_of(document)["motors"]
    assert motor["throttle_low"] == "running"
    assert motor["overrides"] == {"throttle cut": "running"}
    assert motor["failsafe"] == "full"


def test_a_motor_without_pulses() -> None:
    document = clean("plain")
    document["receiver"]["failsafe"]["channels"][0] = {"channel": 1, "action": "no-pulses"}
    assert trace_of(document)["motors"][0]["failsafe"] == "stopped"
    document["speed_controls"][0]["on_signal_loss"] = "unknown"
    trace = trace_of(document)
    assert trace["motors"][0]["failsafe"] is None
    (found,) = trace["open"]
    assert found["at"] == "/speed_controls/0"
    assert found["settles"] == ["/speed_controls/0/on_signal_loss"]
    assert "Switch the transmitter off" in found["bench"]


def horn_deg(arm_deg: float, arm: float, horn: float, base: float) -> float:
    """How far a horn turns from square with an arm, from square: two circles meet.

    The shaft in the origin, the hinge at (base, 0); the pushrod as long as in neutral.
    """
    rod = sqrt(base**2 + (horn - arm) ** 2)
    x, y = arm * cos(radians(90 + arm_deg)), arm * sin(radians(90 + arm_deg))
    to_x, to_y = x - base, y
    far = sqrt(to_x**2 + to_y**2)
    along = (horn**2 - rod**2 + far**2) / (2 * far)
    across = sqrt(horn**2 - along**2)
    top = (along * to_x + across * to_y) / far
    assert abs(top) <= horn
    return degrees(asin(-top / horn))


def test_surfaces() -> None:
    """400 µs at 0.1 ° a µs turn the arm by 40 °."""
    surface = trace_of(clean("plain"))["surfaces"][2]
    assert (surface["at"], surface["surface"], surface["port"]) == ("/servos/2", "elevator", 3)
    ends = sorted([horn_deg(40, 9, 15, 70), horn_deg(-40, 9, 15, 70)], key=abs)
    assert sorted([abs(surface["low_deg"]), abs(surface["high_deg"])]) == pytest.approx(
        [abs(end) for end in ends]
    )
    assert surface["low_deg"] < 0 < surface["high_deg"]
    assert surface["failsafe_deg"] == 0


def test_a_linkage_that_locks() -> None:
    document = clean("plain")
    document["servos"][2]["linkage"].update(arm_mm=14, horn_mm=15)
    document["servos"][2]["degrees_per_us"] = 0.25  # 100 ° of arm to each side
    trace = trace_of(document)
    assert_valid(trace)
    surface = trace["surfaces"][2]
    assert None in (surface["low_deg"], surface["high_deg"])
    assert "µs" in surface["fault"]


# --- what is not known ----------------------------------------------------------------------


def test_what_the_document_does_not_settle() -> None:
    document = clean("trainer")
    del document["receiver"]["failsafe"]
    del document["servos"][3]["increasing_pulse"]
    trace = trace_of(document)
    assert_valid(trace)
    assert trace["ports"][0]["failsafe"] == {"action": None, "us": None}
    assert trace["selectors"][0]["failsafe"] == {"action": None, "us": None, "states": None}
    assert trace["motors"][0]["failsafe"] is None
    assert trace["surfaces"][0]["failsafe_deg"] is None
    assert trace["surfaces"][0]["high_deg"] is not None
    yaw = next(found for found in trace["directions"] if found["axis"] == "yaw")
    assert (yaw["direct"], yaw["target"], yaw["correction"]) == (None, 1, None)
    by_place = {(found["at"], *found["settles"]) for found in trace["open"]}
    assert ("/receiver/outputs/0", "/receiver/failsafe") in by_place
    assert ("/receiver/stabiliser/selectors/1", "/receiver/failsafe") in by_place
    assert ("/servos/3", "/servos/3/increasing_pulse") in by_place
    assert len(trace["open"]) == len({json.dumps(found) for found in trace["open"]})


def test_names_that_do_not_exist() -> None:
    document = clean("plain")
    document["channels"][1]["control"] = "rol-stick"
    trace = trace_of(document)
    assert_valid(trace)
    assert trace["channels"][1]["low"] is None
    assert trace["channels"][1]["clipped_percent"] is None
    assert trace["channels"][1]["control"] is None
    assert trace["ports"][1]["high"] is None
    assert trace["ports"][1]["failsafe"]["us"] == 1500
    assert trace["channels"][2]["low"] is not None
    found = next(found for found in trace["open"] if found["at"] == "/channels/1")
    assert found["settles"] == ["/channels/1/control"]
    assert "rol-stick" in found["message"]


def test_beyond_the_bound() -> None:
    """Three positions of a switch, and a bound of two."""
    document = clean("trainer")
    document["transmitter"]["controls"]["cut-switch"]["positions"] = ["run", "cut", "hold"]
    trace = trace_json(path_of(document, bound=2))
    assert_valid(trace)
    throttle = trace["channels"][0]
    assert throttle["low"] is None
    assert "cut-switch" in throttle["not_checked"]
    assert trace["selectors"][0]["positions"] is None
    assert "mode-switch" in trace["selectors"][0]["not_checked"]
    assert trace["motors"][0]["overrides"] == {"throttle cut": None}
    assert "not_checked" not in trace["channels"][3]


# --- one situation --------------------------------------------------------------------------


def test_stages_of_one_situation() -> None:
    document = clean("plain")
    document["channels"][1].update(
        reversed=True, travel_percent={"low": 120, "high": 100}, subtrim_percent=-5
    )
    document["channels"][1]["trim_percent"] = [{"percent": 2}]
    document["mixes"] = [
        {
            "name": "cut into aileron",
            "from": {"control": "cut-switch"},
            "to": 2,
            "rate_percent": {"low": 10, "high": 30},
        }
    ]
    found = situation_json(path_of(document), {"roll-stick": 50.0, "cut-switch": "cut"})
    assert_valid(found)
    # Expo 25: 100·(0.75·0.5 + 0.25·0.125) = 40.625; the mix adds 30, the trim 2; reversed and
    # times 1.2, less 5: −92.15.
    assert found["channels"][1] == {
        "at": "/channels/1",
        "channel": 2,
        "shape": pytest.approx(40.625),
        "mixed": pytest.approx(70.625),
        "demand": pytest.approx(72.625),
        "output_percent": pytest.approx(-92.15),
        "us": pytest.approx(1131.4),
        "clipped_percent": 0,
    }
    assert found["ports"][1]["us"] == pytest.approx(1131.4)


def test_controls_that_are_not_named_stand_at_rest() -> None:
    found = situation_json(path_of(clean("trainer")), {"mode-switch": "forward"})
    assert found["controls"] == {
        "throttle-stick": -100.0,
        "roll-stick": 0.0,
        "pitch-stick": 0.0,
        "yaw-stick": 0.0,
        "mode-switch": "forward",
        "recovery-button": "released",
        "cut-switch": "run",
        "rate-switch": "full",
    }
    assert found["selectors"][0]["states"] == ["damped"]
    assert found["motors"] == [{"at": "/speed_controls/0", "port": 1, "state": "stopped"}]


def test_what_cannot_be_computed_in_a_situation_is_null() -> None:
    document = clean("plain")
    document["channels"][0]["control"] = "rol-stick"
    found = situation_json(path_of(document), {})
    assert_valid(found)
    assert found["channels"][0]["us"] is None
    assert found["ports"][0]["us"] is None
    assert found["motors"][0]["state"] is None
    assert found["channels"][1]["us"] == 1500


@pytest.mark.parametrize("name", templates())
def test_templates_leave_little_open(name: str) -> None:
    """A clean setup settles all but what the format does not hold: swashplates and motors."""
    trace = trace_json(path_of(json.loads(template_text(name))))
    assert_valid(trace)
    for found in trace["open"]:
        assert name in ("helicopter", "multirotor"), found
