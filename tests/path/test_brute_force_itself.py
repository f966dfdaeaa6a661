"""The second evaluation against cases worked out by hand; the sums stand beside each."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.path import brute
from tests.strategies import setups

if TYPE_CHECKING:
    from random import Random


EXAMPLE = Path(__file__).parents[2] / "schemas/prebind_schemas/templates/trainer.setup.json"


def document(**changes: Any) -> brute.Document:
    """A stick on channel 1 and a three-position switch on channel 2."""
    return {
        "format": "model-setup/1",
        "model": {"name": "Sanderling", "airframe": "aeroplane"},
        "transmitter": {
            "channels": 6,
            "controls": {
                "roll": {"kind": "stick", "axis": "roll"},
                "mode": {"kind": "switch", "positions": ["a", "b", "c"]},
            },
            **changes.pop("transmitter", {}),
        },
        "channels": changes.pop(
            "channels",
            [
                {"channel": 1, "function": "aileron", "control": "roll"},
                {"channel": 2, "function": "flight-mode", "control": "mode"},
            ],
        ),
        **changes,
    }


def aileron(**keys: Any) -> list[dict[str, Any]]:
    return [{"channel": 1, "function": "aileron", "control": "roll", **keys}]


def output_at(doc: brute.Document, stick: float, **others: Any) -> float:
    return float(brute.evaluate(doc, {"roll": stick, **others}).channel(1).output[0])


@pytest.mark.parametrize(
    ("stick", "rate", "expo", "expected"),
    [
        # f = 0.4, x = 0.5: 80 · (0.6·0.5 + 0.4·0.125) = 80 · 0.35
        (50, 80, 40, 28.0),
        # the mirror image: y = 0.5, g = 0.35, 80 · (1 − 0.35)
        (50, 80, -40, 52.0),
        (-50, 80, -40, -52.0),
        (100, 80, -40, 80.0),
        (0, 80, -40, 0.0),
    ],
)
def test_expo(stick: float, rate: float, expo: float, expected: float) -> None:
    doc = document(channels=aileron(rates=[{"rate_percent": rate, "expo_percent": expo}]))
    assert output_at(doc, stick) == pytest.approx(expected, abs=1e-12)


def test_curve_comes_before_rate_where_it_holds() -> None:
    when = [{"control": "mode", "positions": ["c"]}]
    curve = {"points": [[-100, -40], [0, 10], [100, 50]], "when": when}
    doc = document(channels=aileron(rates=[{"rate_percent": 60}], curves=[curve]))
    # half way from (0, 10) to (100, 50) is 30; elsewhere 60 % of 50
    assert output_at(doc, 50, mode="c") == 30
    assert output_at(doc, 50, mode="a") == 30
    assert output_at(doc, 20, mode="c") == 18
    assert output_at(doc, 20, mode="a") == 12


def test_mix_trim_order_limit_and_pulse() -> None:
    doc = document(
        transmitter={
            "output": {
                "native": {"aileron": -1},
                "order": ["subtrim", "travel", "reverse"],
                "limit_percent": 120,
                "us_per_percent": 5,
                "centre_us": 1520,
            }
        },
        channels=aileron(
            reversed=True,
            subtrim_percent=4,
            trim_percent=6,
            travel_percent={"low": 150, "high": 50},
        ),
        mixes=[
            {
                "name": "m",
                "from": {"control": "mode"},
                "to": 1,
                "rate_percent": {"low": 20, "high": 50},
                "offset_percent": 3,
            }
        ],
    )
    # mode a is −100: mix −100·0.20 + 3 = −17; with shape 40: 23; trim: 29; native: −29;
    # subtrim: −25; travel low: −37.5; reversed: 37.5; 1520 + 5·37.5
    at = brute.evaluate(doc, {"roll": 40.0, "mode": "a"}).channel(1)
    stages = (at.shape, at.mixed, at.demand, at.output, at.us, at.clipped)
    assert [float(s[0]) for s in stages] == [40, 23, 29, 37.5, 1707.5, 0]
    # mode c is 100: mix 50 + 3; shape 100: 153; trim 159; native −159; −155; −232.5; 232.5
    at = brute.evaluate(doc, {"roll": 100.0, "mode": "c"}).channel(1)
    assert float(at.unclipped[0]) == 232.5
    assert float(at.output[0]) == 120
    assert float(at.clipped[0]) == 112.5


def test_overrides_before_mixes_and_last() -> None:
    before = {"name": "b", "purpose": "other", "channel": 1, "demand_percent": -10}
    last = {"name": "l", "purpose": "other", "channel": 1, "demand_percent": 77}
    doc = document(
        channels=aileron(trim_percent=5),
        mixes=[
            {
                "name": "m",
                "from": {"control": "mode"},
                "to": 1,
                "rate_percent": {"low": 30, "high": 30},
            }
        ],
        overrides=[
            {
                **before,
                "acts": "before-mixes",
                "when": [{"control": "mode", "positions": ["a", "c"]}],
            },
            {**last, "when": [{"control": "mode", "positions": ["c"]}]},
        ],
    )
    assert output_at(doc, 60, mode="a") == -10 - 30 + 5
    assert output_at(doc, 60, mode="b") == 60 + 5
    assert output_at(doc, 60, mode="c") == 77


@pytest.mark.parametrize(
    ("value", "steps", "expected"),
    [
        # limit 100, 5 values: −100, −50, 0, 50, 100
        (25, 5, 50),  # a half: away from zero
        (-25, 5, -50),
        (24.9, 5, 0),
        # 4 values: −100, −33.3, 33.3, 100; zero is a half, and goes upwards
        (0, 4, 100 / 3),
        (-66, 4, -100 / 3),
    ],
)
def test_steps(value: float, steps: int, expected: float) -> None:
    doc = document(transmitter={"output": {"limit_percent": 100, "steps": steps}})
    assert brute.rounded(np.array([value * 1.0]), 100, steps)[0][0] == pytest.approx(expected)
    assert brute.half_step_us(doc) == pytest.approx(100 / (steps - 1) * 4)


def test_thresholds_are_strict() -> None:
    rates = [{"rate_percent": 50, "when": [{"control": "roll", "above_percent": 40}]}]
    doc = document(channels=aileron(rates=rates))
    assert output_at(doc, 40) == 40
    assert output_at(doc, 40.000001) == pytest.approx(20, abs=1e-5)
    found = brute.channel_extremes(doc, 1)
    # up to 40 at rate 100, up to 50 above it at rate 50
    assert (found.low, found.high) == (-100, 50)


def test_extreme_between_grid_points() -> None:
    # x is on the channel by expo 100 and comes off again by a mix: 100·x³ − 70·x for x = u/100,
    # stationary at x² = 70/300: 0.4830459, value −70·0.4830459·(2/3) = −22.542142
    doc = document(
        channels=aileron(rates=[{"rate_percent": 100, "expo_percent": 100}]),
        mixes=[
            {
                "name": "m",
                "from": {"control": "roll"},
                "to": 1,
                "rate_percent": {"low": -70, "high": -70},
            }
        ],
    )
    found = brute.channel_extremes(doc, 1)
    assert found.low == -30  # at the end: −100 + 70
    x = (70 / 300) ** 0.5
    inner = brute.evaluate(doc, {"roll": 100 * x}).channel(1).output[0]
    assert inner == pytest.approx(-22.542142, abs=1e-6)


def states(doc: brute.Document, us: float) -> tuple[list[str], float]:
    selector = doc["receiver"]["stabiliser"]["selectors"][0]
    found = brute.select(doc, selector, np.array([us]))
    return found.at(0), float(found.margin_us[0])


def with_bands(*bands: dict[str, list[float]], **transmitter: Any) -> brute.Document:
    named = [{"state": f"s{i}", "behaviour": "other", "band": band} for i, band in enumerate(bands)]
    selector = {"name": "mode", "purpose": "flight-mode", "channel": 2, "states": named}
    receiver = {"inputs": 6, "outputs": [], "stabiliser": {"axes": [], "selectors": [selector]}}
    return document(receiver=receiver, transmitter=transmitter)


def test_states_gaps_overlaps_and_shared_ends() -> None:
    doc = with_bands({"us": [900, 1400]}, {"us": [1400, 1700]}, {"percent": [40, 150]})
    # 40 % is 1660 µs: an overlap from there to 1700; below 900 nothing, but 900 is no edge
    # inside the limits of ±150 % (900 to 2100)
    assert states(doc, 1000) == (["s0"], 400.0)
    assert states(doc, 1400) == (["s1"], 0.0)
    assert states(doc, 1399.6)[0] == ["s1"]
    assert states(doc, 1399.4)[0] == ["s0"]
    assert states(doc, 1399.4)[1] == pytest.approx(0.6)
    assert states(doc, 1500) == (["s1"], 100.0)
    assert states(doc, 1680)[0] == ["s1", "s2"]
    assert np.isnan(states(doc, 1680)[1])
    assert states(doc, 2000) == (["s2"], 300.0)


def test_margin_is_less_half_a_step() -> None:
    # 61 steps over ±150 %: 5 %, or 20 µs, each; half of it 10 µs
    doc = with_bands(
        {"us": [900, 1450]},
        {"us": [1500, 2100]},
        output={"limit_percent": 150, "steps": 61},
    )
    assert states(doc, 1400) == (["s0"], 40.0)
    assert states(doc, 1460) == (["s0"], 0.0)
    assert states(doc, 1475)[0] == []
    assert states(doc, 1490) == (["s1"], 0.0)


def test_motor_states() -> None:
    esc = {"port": 1, "stop_below_us": 1150, "full_above_us": 1880}
    at = np.array([1150, 1150.001, 1880, 1879.9])
    assert brute.motor_state(esc, at).tolist() == [0, 2, 3, 2]
    two_way = {"port": 1, "stopped_us": [1480, 1520], "full_above_us": 1900}
    at = np.array([1480, 1100, 1520, 1521, 1900])
    assert brute.motor_state(two_way, at).tolist() == [0, 2, 0, 2, 3]
    engine = {"port": 1, "idle_us": [1150, 1200], "stop_below_us": 1100}
    at = np.array([1100, 1120, 1150, 1201])
    assert brute.motor_state(engine, at).tolist() == [0, 2, 1, 2]


def elevons(**stab: Any) -> brute.Document:
    return document(
        transmitter={
            "controls": {
                "roll": {"kind": "stick", "axis": "roll"},
                "pitch": {"kind": "stick", "axis": "pitch"},
            }
        },
        channels=[
            {"channel": 1, "function": "aileron", "control": "roll"},
            {"channel": 2, "function": "elevator", "control": "pitch"},
        ],
        receiver={
            "inputs": 6,
            "outputs": [
                {"port": 1, "channel": 1},
                {"port": 2, "channel": 2, "reversed": True, "limit_us": [1200, 2000]},
            ],
            "failsafe": {
                "stored": "at-bind",
                "channels": [
                    {"channel": 1, "action": "preset", "output_percent": 10},
                    {"channel": 2, "action": "preset", "output_percent": -20},
                ],
            },
            "stabiliser": {
                "mixing": "elevon",
                "mix_percent": 80,
                "mix_limit_percent": 120,
                "axes": [
                    {
                        "axis": "roll",
                        "channel": 1,
                        "ports": [1, {"port": 2, "sign": -1}],
                        "sense": "normal",
                    },
                    {"axis": "pitch", "channel": 2, "ports": [1, 2], "sense": "reversed"},
                ],
                "selectors": [],
                **stab,
            },
        },
        surfaces=[
            {"id": "r", "function": "elevon", "side": "right"},
            {"id": "l", "function": "elevon", "side": "left"},
        ],
        servos=[
            {"port": 1, "surface": "r", "increasing_pulse": "trailing-edge-up"},
            {"port": 2, "surface": "l", "increasing_pulse": "trailing-edge-down"},
        ],
    )


def test_receiver_mixing() -> None:
    doc = elevons()
    at = brute.evaluate(doc, {"roll": 50.0, "pitch": 30.0})
    # 0.8 · (200 + 120) = 256 µs; 0.8 · (−200 + 120) = −64, reversed 64
    assert at.port(1)[0] == 1756
    assert at.port(2)[0] == 1564
    # clipped at 120 % = 480 µs, then by the output's own limit
    at = brute.evaluate(doc, {"roll": 100.0, "pitch": 100.0})
    assert at.port(1)[0] == 1980
    assert brute.evaluate(doc, {"roll": 100.0, "pitch": -100.0}).port(2)[0] == 1980
    assert brute.evaluate(doc, {"roll": -100.0, "pitch": 100.0}).port(2)[0] == 1200
    # at failsafe 0.8 · (40 − 80) = −32; 0.8 · (−40 − 80) = −96, reversed 96
    assert brute.failsafe_port(doc, 1) == 1468
    assert brute.failsafe_port(doc, 2) == 1596


def test_directions_of_an_elevon_pair() -> None:
    # right: up with the pulse. Roll: +1; pitch: +1, its sense reversed: correction −1.
    # left: edge down with the pulse, output reversed: a growing channel puts the edge up.
    # Positive roll wants the left edge down, and the sign is −1: right (+1).
    found = {
        (d.axis, d.port): (d.direct, d.target, d.correction)
        for d in brute.directions(elevons())
        if d.axis != "yaw"
    }
    assert found == {
        ("roll", 1): (1, 1, 1),
        ("pitch", 1): (1, 1, -1),
        ("roll", 2): (1, 1, 1),
        ("pitch", 2): (1, 1, -1),
    }


def test_example_of_the_design() -> None:
    """Clean: every sign is right, every state is met, the motor stops."""
    doc = json.loads(EXAMPLE.read_text(encoding="utf-8"))
    signs = {s for d in brute.directions(doc) for s in (d.direct, d.target, d.correction)}
    assert signs <= {1, None}
    motor = brute.motors(doc)[0]
    assert brute.motor_at_throttle_end(doc, motor, "low") == "stopped"
    assert brute.motor_at_throttle_end(doc, motor, "high") == "full"
    assert brute.motor_under_override(doc, motor, doc["overrides"][0]) == "stopped"
    mode, recovery = doc["receiver"]["stabiliser"]["selectors"]
    assert brute.states_met(doc, mode) == {
        frozenset({"level"}),
        frozenset({"limited"}),
        frozenset({"damped"}),
    }
    assert brute.states_met(doc, recovery) == {frozenset({"off"}), frozenset({"recover"})}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(setups(), st.randoms(use_true_random=False))
def test_no_situation_lies_outside_the_grid(doc: brute.Document, random: Random) -> None:
    """A control left out of a channel's slice by mistake would show here."""
    positions: dict[str, Any] = {
        c: random.uniform(-100, 100)
        if brute.is_continuous(doc, c)
        else random.choice(brute.position_names(doc, c))
        for c in brute.controls(doc)
    }
    at = brute.evaluate(doc, positions)
    for entry in doc["channels"]:
        found = brute.channel_extremes(doc, entry["channel"])
        output = float(at.channel(entry["channel"]).output[0])
        assert found.low - 0.05 <= output <= found.high + 0.05


def test_linkage() -> None:
    # arm 10 as long as the horn, both upright: a parallelogram, so that the horn follows the arm
    doc = elevons()
    servo = {
        "port": 1,
        "degrees_per_us": 0.1,
        "linkage": {"arm_mm": 10, "horn_mm": 10, "base_mm": 60},
    }
    found = brute.deflection(doc, servo, np.array([1300.0, 1500.0, 1800.0]))
    assert found == pytest.approx([20, 0, 30], abs=1e-9)
    # arm 5, horn 90, base 60: the rod is √(85² + 60²), squared 10825.
    # The arm flat towards the hinge, −90° away: its end lies 55 from the hinge;
    # cos = (90² + 55² − 10825)/(2 · 90 · 55) = 0.030303, so 180° − 88.2635° from the base
    # line: the horn has turned 1.7365°
    servo["linkage"] = {"arm_mm": 5, "horn_mm": 90, "base_mm": 60}
    found = brute.deflection(doc, servo, np.array([600.0]))
    assert found == pytest.approx([1.7365], abs=1e-4)
