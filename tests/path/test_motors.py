"""What a motor makes of its pulses, worked out by hand from its entry.

The throttle gives 4 µs per percent about 1500 µs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path.motor import MotorPath

REVERSIBLE = {"port": 1, "stopped_us": [1480, 1520], "full_above_us": 1880}


def motor_of(document: dict[str, Any]) -> MotorPath:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup).motors[0]


def with_speed_control(**entry: Any) -> dict[str, Any]:
    document = clean("plain")
    document["speed_controls"] = [
        entry or {"port": 1, "stop_below_us": 1150, "full_above_us": 1880}
    ]
    return document


def with_engine(idle_us: tuple[float, float] = (1080, 1160)) -> dict[str, Any]:
    document = clean("plain")
    del document["speed_controls"]
    document["engine"] = {"port": 1, "stop_below_us": 1050, "idle_us": list(idle_us)}
    return document


@pytest.mark.parametrize(
    ("document", "states"),
    [
        (
            with_speed_control(),
            {1149: "stopped", 1150: "stopped", 1151: "running", 1879: "running", 1880: "full"},
        ),
        (
            with_speed_control(**REVERSIBLE),
            {1479: "running", 1480: "stopped", 1520: "stopped", 1521: "running", 1880: "full"},
        ),
        (
            with_engine(),
            {
                1050: "stopped",
                1051: "running",
                1079: "running",
                1080: "idling",
                1160: "idling",
                1161: "running",
                1900: "running",
            },
        ),
    ],
    ids=["speed control", "reversible", "engine"],
)
def test_state_at_a_pulse(document: dict[str, Any], states: dict[float, str]) -> None:
    motor = motor_of(document)
    assert {us: motor.state(us) for us in states} == states


def while_between(
    document: dict[str, Any], above: float, below: float, rate_percent: float = 100
) -> MotorPath:
    """The motor of a setup whose throttle cut holds while the stick is between two thresholds."""
    document["channels"][0]["rates"] = [{"rate_percent": rate_percent}]
    document["overrides"] = [
        {
            "name": "hold",
            "purpose": "other",
            "channel": 2,
            "demand_percent": 0,
            "when": [
                {"control": "throttle-stick", "above_percent": above},
                {"control": "throttle-stick", "below_percent": below},
            ],
        }
    ]
    return motor_of(document)


@pytest.mark.parametrize(
    ("document", "above", "below", "state", "us"),
    [
        # 1880 µs, at which it is full, is approached from below and never sent.
        (with_speed_control(), -50, 76, "running", 1880),
        (with_speed_control(), -50, 76.2, "full", 1881),
        # 1150 µs, at which it is stopped, is approached from below.
        (with_speed_control(), -75, -70, "stopped", 1150),
        (with_speed_control(), -75, -69.8, "running", 1151),
        # A reversible one runs beyond either end; the low end is worse here.
        (with_speed_control(**REVERSIBLE), -4, 2, "stopped", 1510),
        (with_speed_control(**REVERSIBLE), -4.2, 2, "running", 1479),
        (with_speed_control(**REVERSIBLE), -2, 4.2, "running", 1521),
        # Just above 1050 µs the engine does not stop and does not idle yet.
        (with_engine(), -90, -80, "running", 1050),
        (with_engine(), -84, -80, "idling", 1100),
        (with_engine((1000, 1160)), -84, -67, "running", 1165),
    ],
)
def test_the_worst_over_a_range_of_pulses(
    document: dict[str, Any], above: float, below: float, state: str, us: float
) -> None:
    """With a rate of 125 %, so 5 µs per percent of the stick."""
    motor = while_between(document, above, below, 125)
    found = motor.worst(when=motor.path.setup.overrides[0].when)
    assert found is not None
    assert (found.state, found.us, found.attained) == (state, us, False)


def test_at_the_throttle_s_ends() -> None:
    low, high = motor_of(with_speed_control()).at_low, motor_of(with_speed_control()).at_high
    assert low is not None
    assert high is not None
    assert (low.state, low.us, high.state, high.us) == ("stopped", 1100, "full", 1900)
    assert low.controls["throttle-stick"] == -100
    assert high.controls["throttle-stick"] == 100


def test_a_reversible_one_is_low_in_the_middle() -> None:
    motor = motor_of(with_speed_control(**REVERSIBLE))
    assert motor.low_end == 0
    assert motor.at_low is not None
    assert (motor.at_low.state, motor.at_low.us) == ("stopped", 1500)


@pytest.mark.parametrize(
    ("entry", "low_end"),
    [({"port": 1, "stop_below_us": 1150, "full_above_us": 1880}, "astern"), (REVERSIBLE, "half")],
)
def test_the_low_end_of_a_switch(entry: dict[str, Any], low_end: str) -> None:
    """Its lowest value or, for a reversible one, that which is nearest the centre."""
    document = with_speed_control(**entry)
    document["transmitter"]["controls"]["throttle-stick"] = {
        "kind": "switch",
        "positions": ["ahead", "half", "slow", "astern"],
        "values": [100, 10, -20, -100],
    }
    assert motor_of(document).low_end == low_end


@pytest.mark.parametrize(
    ("document", "safe", "stop_us"),
    [
        (with_speed_control(), {"stopped"}, 1150),
        (with_speed_control(**REVERSIBLE), {"stopped"}, 1520),
        (with_engine(), {"stopped", "idling"}, 1050),
        (with_speed_control(port=1, stop_below_us=0, full_above_us=1880), {"stopped"}, 0),
    ],
    ids=["speed control", "reversible", "engine", "never stopped"],
)
def test_what_counts_as_stopped(document: dict[str, Any], safe: set[str], stop_us: float) -> None:
    motor = motor_of(document)
    assert motor.safe_low == safe
    assert motor.stop_us == stop_us
    assert motor.state(stop_us) == "stopped"
    assert motor.state(stop_us + 0.5) == "running"


def test_the_motors_that_a_channel_drives() -> None:
    document = with_speed_control()
    document["receiver"]["outputs"].append({"port": 6, "channel": 1})
    document["speed_controls"].append({"port": 6, "stop_below_us": 1100, "full_above_us": 1900})
    path = motor_of(document).path
    assert path.channel(1).motors == path.motors
    assert len(path.motors) == 2
    assert path.channel(2).motors == ()


HOLD = {"channel": 1, "action": "hold"}
NO_PULSES = {"channel": 1, "action": "no-pulses"}
PLAIN = {"port": 1, "stop_below_us": 1150, "full_above_us": 1880}


@pytest.mark.parametrize(
    ("document", "failsafe", "found"),
    [
        (with_speed_control(), {"action": "preset", "output_percent": -88}, ("stopped", 1148)),
        (with_speed_control(), {"action": "preset", "output_percent": -87}, ("running", 1152)),
        (with_speed_control(), HOLD, ("full", 1900)),
        (with_speed_control(), NO_PULSES, None),
        (with_speed_control(**PLAIN, on_signal_loss="stops"), NO_PULSES, ("stopped", None)),
        (with_speed_control(**PLAIN, on_signal_loss="holds"), NO_PULSES, ("full", 1900)),
        (with_speed_control(**PLAIN, on_signal_loss="stops"), HOLD, ("full", 1900)),
        (with_speed_control(), None, None),
        (with_engine(), {"action": "preset", "output_percent": -90}, ("idling", 1140)),
        (with_engine(), {"action": "preset", "output_percent": -80}, ("running", 1180)),
        (with_engine(), NO_PULSES, ("running", 1900)),
    ],
)
def test_when_the_link_is_lost(
    document: dict[str, Any],
    failsafe: dict[str, Any] | None,
    found: tuple[str, float | None] | None,
) -> None:
    """A hold may hold the worst; a servo without pulses may stay anywhere."""
    entries = [] if failsafe is None else [{"channel": 1} | failsafe]
    document["receiver"]["failsafe"]["channels"] = entries
    state = motor_of(document).failsafe
    assert (None if state is None else (state.state, state.us)) == found
    assert state is None or state.attained


@pytest.mark.parametrize("mixing", ["motors", "elevon"])
def test_where_the_receiver_mixes_motors_its_own_channel_alone_counts(mixing: str) -> None:
    """As an elevon's, the port is half of the roll command, at most 1500 + 200 µs."""
    document = clean()
    document["transmitter"]["output"] = {}
    document["receiver"]["stabiliser"] |= {"mixing": mixing, "mix_percent": 50}
    document["receiver"]["stabiliser"]["axes"][0]["ports"].append(1)
    document["receiver"]["failsafe"]["channels"][1]["output_percent"] = 20
    motor = motor_of(document)
    alone = mixing == "motors"
    assert motor.judged_alone is alone
    assert motor.at_low is not None
    assert motor.at_low.us == (1100 if alone else 1700)
    numbers = {override.channel for override in motor.overrides}
    assert numbers == ({1} if alone else set())
    assert motor.port_failsafe.us == (1100 if alone else 1540)  # half of 80 µs


def test_an_override_counts_unless_it_is_left_out_and_never_at_the_throttle_s_ends() -> None:
    """Half the throttle is 1300 to 1700 µs, and the override 1900 µs."""
    document = with_speed_control()
    document["channels"][0]["rates"] = [{"rate_percent": 50}]
    document["overrides"][0]["demand_percent"] = 100
    motor = motor_of(document)
    low, high, anywhere, free = (
        motor.at_low,
        motor.at_high,
        motor.reach_where(),
        motor.reach_where(overrides=False),
    )
    assert low is not None
    assert high is not None
    assert anywhere is not None
    assert free is not None
    assert (low.us, high.us, high.state) == (1300, 1700, "running")
    assert (anywhere.low.us, anywhere.high.us) == (1300, 1900)
    assert (free.low.us, free.high.us) == (1300, 1700)
    worst, override = motor.worst(), motor.path.setup.overrides[0]
    assert worst is not None
    assert (worst.us, worst.state) == (1900, "full")
    under = motor.under(override)
    assert under is not None
    assert (under.us, under.state) == (1900, "full")
