"""The heavy document: as much as one radio holds, so that what many controls cost together shows.

A large self-launching glider with twenty switches, thirty mixes, curves, phases, a stabilised
rudder and four surfaces on the wing that share the work.  Numbers and name come from the seed; the
same seed gives the same document.  No rule fails in it.
"""

from __future__ import annotations

import json
from random import Random
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

    Entry = dict[str, Any]

THROTTLE, AILERON_RIGHT, AILERON_LEFT, FLAP_RIGHT, FLAP_LEFT, ELEVATOR, RUDDER = range(1, 8)
GEAR, MODE, RECOVERY, GAIN, TOW, LIGHTS, CAMERA = range(8, 15)
CENTRED = (AILERON_RIGHT, AILERON_LEFT, FLAP_RIGHT, FLAP_LEFT, ELEVATOR, RUDDER)


class Moved(NamedTuple):
    """What a servo moves, and which way with a longer pulse."""

    way: str
    function: str = ""
    side: str = ""

    @property
    def surface(self) -> str:
        return f"{self.function}-{self.side}" if self.side else self.function


SWITCHES = {
    "phase-switch": ("cruise", "thermal", "speed"),
    "launch-switch": ("off", "launch"),
    "landing-switch": ("off", "landing"),
    "cut-switch": ("run", "cut"),
    "power-switch": ("half", "full"),
    "roll-rate-switch": ("full", "half", "soft"),
    "pitch-rate-switch": ("full", "half", "soft"),
    "yaw-rate-switch": ("full", "half", "soft"),
    "flaperon-switch": ("off", "some", "much"),
    "snap-switch": ("off", "on"),
    "camber-switch": ("neutral", "reflex", "droop"),
    "brake-switch": ("gentle", "steep"),
    "coupling-switch": ("off", "on"),
    "motor-trim-switch": ("off", "on"),
    "gear-switch": ("up", "down"),
    "mode-switch": ("level", "damped", "off"),
    "gain-switch": ("low", "medium", "high"),
    "tow-switch": ("closed", "open"),
    "lights-switch": ("off", "beacon", "all"),
    "camera-switch": ("ahead", "down"),
}

SERVOS = {
    AILERON_RIGHT: Moved("trailing-edge-up", "aileron", "right"),
    AILERON_LEFT: Moved("trailing-edge-up", "aileron", "left"),
    FLAP_RIGHT: Moved("trailing-edge-down", "flap", "right"),
    FLAP_LEFT: Moved("trailing-edge-down", "flap", "left"),
    ELEVATOR: Moved("trailing-edge-up", "elevator"),
    RUDDER: Moved("trailing-edge-right", "rudder"),
    GEAR: Moved("opens"),
    TOW: Moved("opens"),
    CAMERA: Moved("opens"),
}
THROWS = {
    "aileron": {"up": 18, "down": 18},
    "elevator": {"up": 20, "down": 20},
    "rudder": {"left": 25, "right": 25},
}
SHARED = (
    "camber-switch",
    "flaperon-switch",
    "gear-switch",
    "landing-switch",
    "launch-switch",
    "phase-switch",
    "snap-switch",
)


def heavy(seed: int = 1) -> bytes:
    """The heavy document of a seed, as JSON."""
    chance = Random(f"heavy/{seed}")
    setup = {
        "format": "model-setup/1",
        "x-note": "Invented to measure with: no real aircraft, radio or person.",
        "model": {
            "name": f"Great Shearwater {chance.randrange(5000, 7000, 50)}",
            "airframe": "glider",
            "mass_g": chance.randrange(9000, 14000, 100),
            "propulsion": {"kind": "electric", "motors": 1},
            "max_speed_m_s": 50,
        },
        "transmitter": _transmitter(),
        "inputs": _inputs(chance),
        "phases": _phases(),
        "channels": _channels(chance),
        "mixes": [*_brakes(chance), *_camber(chance), *_roll_and_yaw(chance), *_balance(chance)],
        "overrides": _overrides(),
        "receiver": _receiver(),
        "servos": [_servo(port, moved) for port, moved in SERVOS.items()],
        "speed_controls": [
            {
                "port": THROTTLE,
                "stop_below_us": 1150,
                "full_above_us": 1860,
                "arm_below_us": 1140,
                "on_signal_loss": "stops",
                "cells": [6, 12],
            }
        ],
        "surfaces": [_surface(chance, moved) for moved in SERVOS.values() if moved.function],
        "power": {
            "receiver_supply": {
                "source": "bec",
                "volts": 7.4,
                "continuous_a": 15,
                "peak_a": 30,
                "wire": {"gauge_awg": 16, "length_mm": 300},
            },
            "flight_pack": {
                "chemistry": "lipo",
                "cells": chance.choice([8, 10, 12]),
                "capacity_mah": 5000,
                "warning_v_per_cell": 3.6,
            },
        },
    }
    return f"{json.dumps(setup, indent=2)}\n".encode()


def _transmitter() -> Entry:
    sticks = {
        f"{axis}-stick": {"kind": "stick", "axis": axis}
        for axis in ("thrust", "roll", "pitch", "yaw")
    }
    switches: dict[str, Entry] = {
        name: {"kind": "switch", "positions": list(positions)}
        for name, positions in SWITCHES.items()
    }
    shared = "Wing and tail move together when the camber changes."
    for name in SHARED:
        switches[name]["on_purpose"] = shared
    switches["camber-switch"]["values"] = [0, -100, 100]
    return {
        "channels": 16,
        "stick_mode": 2,
        "start_checks": ["throttle-low", "cut-on", "first-positions"],
        "output": {"steps": 4096},
        "controls": {
            **sticks,
            **switches,
            "recovery-button": {"kind": "button"},
            "brake-slider": {"kind": "slider", "on_purpose": shared},
            "camber-knob": {"kind": "knob", "on_purpose": shared},
        },
    }


def _in(control: str, *positions: str) -> Entry:
    return {"control": control, "positions": list(positions)}


def _during(*phases: str) -> Entry:
    return {"phase": list(phases)}


def _rates(chance: Random, control: str, full: int) -> list[Entry]:
    expo = chance.randrange(10, 40, 5)
    return [
        {"rate_percent": full, "expo_percent": expo, "when": [_in(control, "full")]},
        {"rate_percent": full - 15, "expo_percent": expo + 5, "when": [_in(control, "half")]},
        {"rate_percent": full - 30, "expo_percent": expo + 10},
    ]


def _inputs(chance: Random) -> list[Entry]:
    knee = chance.randrange(20, 40)
    return [
        {
            "id": "roll",
            "control": "roll-stick",
            "rates": _rates(chance, "roll-rate-switch", 70),
            "curves": [
                {
                    "points": [[-100, -40], [-50, -15], [0, 0], [50, 15], [100, 40]],
                    "when": [_during("speed")],
                }
            ],
        },
        {
            "id": "pitch",
            "control": "pitch-stick",
            "rates": _rates(chance, "pitch-rate-switch", 70),
            "trim_percent": [
                {"percent": -2, "when": [_during("launch")]},
                {"percent": 2, "when": [_during("landing", "thermal")]},
                {"percent": 0},
            ],
        },
        {
            "id": "brake",
            "control": "brake-slider",
            "curves": [
                {
                    "points": [[-100, 0], [-80, 0], [0, knee], [100, 60]],
                    "when": [_in("brake-switch", "gentle")],
                },
                {"points": [[-100, 0], [-80, 0], [-20, knee + 20], [40, 80], [100, 100]]},
            ],
        },
        {
            "id": "camber",
            "control": "camber-knob",
            "curves": [{"points": [[-100, -100], [-10, 0], [10, 0], [100, 100]]}],
        },
    ]


def _phases() -> list[Entry]:
    return [
        {"name": "landing", "when": [_in("landing-switch", "landing")]},
        {"name": "launch", "when": [_in("launch-switch", "launch")]},
        {"name": "thermal", "when": [_in("phase-switch", "thermal")]},
        {"name": "speed", "when": [_in("phase-switch", "speed")]},
        {"name": "cruise"},
    ]


def _channels(chance: Random) -> list[Entry]:
    half = chance.randrange(0, 20)
    return [
        {
            "channel": THROTTLE,
            "function": "throttle",
            "control": "thrust-stick",
            "trim_range_percent": 5,
            "curves": [
                {
                    "points": [[-100, -100], [0, half - 40], [100, half]],
                    "when": [_in("power-switch", "half")],
                },
                {"points": [[-100, -100], [-50, -60], [0, half - 20], [50, 60], [100, 100]]},
            ],
            "slow_s": 1.5,
        },
        {"channel": AILERON_RIGHT, "function": "aileron", "side": "right", "control": "roll"},
        {
            "channel": AILERON_LEFT,
            "function": "aileron",
            "side": "left",
            "control": "roll",
            "reversed": True,
        },
        {"channel": FLAP_RIGHT, "function": "flap", "side": "right", "slow_s": 0.5},
        {"channel": FLAP_LEFT, "function": "flap", "side": "left", "slow_s": 0.5},
        {"channel": ELEVATOR, "function": "elevator", "control": "pitch"},
        {
            "channel": RUDDER,
            "function": "rudder",
            "control": "yaw-stick",
            "rates": _rates(chance, "yaw-rate-switch", 100),
        },
        {"channel": GEAR, "function": "gear", "control": "gear-switch", "slow_s": 4},
        {"channel": MODE, "function": "flight-mode", "control": "mode-switch"},
        {"channel": RECOVERY, "function": "recovery", "control": "recovery-button"},
        {"channel": GAIN, "function": "gain", "control": "gain-switch"},
        {"channel": TOW, "function": "tow-release", "control": "tow-switch"},
        {"channel": LIGHTS, "function": "lights", "control": "lights-switch"},
        {"channel": CAMERA, "function": "x-camera", "control": "camera-switch"},
    ]


def _mix(
    name: str, source: Entry, to: int, rate: float, when: Iterable[Entry] = (), **more: float
) -> Entry:
    return {
        "name": name,
        "from": source,
        "to": to,
        "rate_percent": {"low": rate, "high": rate},
        **more,
        "when": list(when),
    }


def _wing(
    name: str, source: Entry, aileron: float, flap: float, when: Iterable[Entry] = ()
) -> list[Entry]:
    """Four mixes that move both sides down by so much."""
    return [
        _mix(f"{name}, aileron right", source, AILERON_RIGHT, -aileron, when),
        _mix(f"{name}, aileron left", source, AILERON_LEFT, aileron, when),
        _mix(f"{name}, flap right", source, FLAP_RIGHT, flap, when),
        _mix(f"{name}, flap left", source, FLAP_LEFT, flap, when),
    ]


def _brakes(chance: Random) -> list[Entry]:
    """Flaps down, ailerons up, and the elevator that balances them."""
    brake, landing = {"input": "brake"}, [_during("landing")]
    return [
        *_wing("brake", brake, -chance.randrange(20, 30), chance.randrange(50, 60), landing),
        _mix("brake to elevator", brake, ELEVATOR, -chance.randrange(5, 12), landing),
    ]


def _camber(chance: Random) -> list[Entry]:
    least = chance.randrange(4, 8)
    return [
        *_wing("camber", {"control": "camber-switch"}, least, least + 2),
        *_wing("fine camber", {"input": "camber"}, 3, 4, [_during("thermal", "cruise")]),
        *_wing("launch", {"control": "launch-switch"}, 4, 6, [_during("launch")]),
        *_wing(
            "snap flap",
            {"input": "pitch"},
            least,
            least + 4,
            [_in("snap-switch", "on"), _during("thermal", "speed")],
        ),
        _mix("camber to elevator", {"control": "camber-switch"}, ELEVATOR, -2),
    ]


def _roll_and_yaw(chance: Random) -> list[Entry]:
    """Flaps that help to roll, as much as a switch says; ailerons against the rudder's roll."""
    roll, some = {"input": "roll"}, chance.randrange(10, 20)
    coupled = [_in("coupling-switch", "on")]
    return [
        _mix("roll to flap, right", roll, FLAP_RIGHT, -some, [_in("flaperon-switch", "some")]),
        _mix("roll to flap, left", roll, FLAP_LEFT, some, [_in("flaperon-switch", "some")]),
        _mix("more to flap, right", roll, FLAP_RIGHT, -2 * some, [_in("flaperon-switch", "much")]),
        _mix("more to flap, left", roll, FLAP_LEFT, 2 * some, [_in("flaperon-switch", "much")]),
        _mix("yaw to aileron, right", {"control": "yaw-stick"}, AILERON_RIGHT, -3, coupled),
        _mix("yaw to aileron, left", {"control": "yaw-stick"}, AILERON_LEFT, -3, coupled),
    ]


def _balance(chance: Random) -> list[Entry]:
    """The elevator's answers to motor and wheels."""
    motor = [_in("motor-trim-switch", "on")]
    return [
        _mix("motor to elevator", {"channel": THROTTLE}, ELEVATOR, -chance.randrange(2, 5), motor),
        _mix("wheels to elevator", {"control": "gear-switch"}, ELEVATOR, 1),
    ]


def _overrides() -> list[Entry]:
    cut = {"channel": THROTTLE, "demand_percent": -100, "release": "at-low"}
    return [
        {
            "name": "throttle cut",
            "purpose": "throttle-cut",
            **cut,
            "when": [_in("cut-switch", "cut")],
        },
        {
            "name": "motor off while landing",
            "purpose": "other",
            **cut,
            "when": [_during("landing")],
        },
    ]


def _receiver() -> Entry:
    away = {THROTTLE: -100, GEAR: 100, MODE: -100, RECOVERY: -100, TOW: -100}
    return {
        "inputs": 16,
        "frame_ms": 11,
        "outputs": [
            {"port": channel, "channel": channel}
            for channel in (THROTTLE, *CENTRED, GEAR, TOW, LIGHTS, CAMERA)
        ],
        "failsafe": {
            "stored": "by-menu",
            "delay_s": 1,
            "channels": [
                {"channel": channel, "action": "preset", "output_percent": away.get(channel, 0)}
                for channel in range(THROTTLE, CAMERA + 1)
            ],
            "intended_states": {"flight mode": "level", "recovery": "off", "gain": "medium"},
        },
        "stabiliser": {
            "axes": [{"axis": "yaw", "channel": RUDDER, "ports": [RUDDER], "sense": "normal"}],
            "selectors": [
                _selector("flight mode", "flight-mode", MODE, "self-level", "rate-damping", "off"),
                _selector("recovery", "recovery", RECOVERY, "off", "recovery"),
                _selector("gain", "gain", GAIN, "other", "other", "other"),
            ],
        },
    }


def _selector(name: str, purpose: str, channel: int, *behaviours: str) -> Entry:
    """Bands of equal width over the channel's whole range."""
    control = {MODE: "mode-switch", GAIN: "gain-switch"}.get(channel)
    names = SWITCHES[control] if control is not None else ("off", "recover")
    edges = (900, 1300, 1700, 2100) if len(names) == 3 else (900, 1500, 2100)
    return {
        "name": name,
        "purpose": purpose,
        "channel": channel,
        "states": [
            {"state": state, "behaviour": behaviour, "band": {"us": [low, high]}}
            for state, behaviour, low, high in zip(
                names, behaviours, edges[:-1], edges[1:], strict=True
            )
        ],
    }


def _servo(port: int, moved: Moved) -> Entry:
    return {
        "port": port,
        **({"surface": moved.surface} if moved.function else {}),
        "increasing_pulse": moved.way,
        "kind": "digital",
        "pulse_us": [900, 2100],
        "centre_us": 1500,
        "max_rate_hz": 200,
        "volts": [4.8, 8.4],
        "stall_a": 2.5,
        "idle_a": 0.02,
        "torque_ncm": 120,
        "degrees_per_us": 0.1,
        "linkage": {"arm_mm": 10, "horn_mm": 15, "base_mm": 70},
    }


def _surface(chance: Random, moved: Moved) -> Entry:
    """The flaps have no throw that one stick gives, so none is asked of them."""
    throw = THROWS.get(moved.function)
    return {
        "id": moved.surface,
        "function": moved.function,
        **({"side": moved.side} if moved.side else {}),
        **({"throw_deg": throw} if throw else {}),
        "area_cm2": chance.randrange(200, 300, 10),
        "chord_mm": 50,
    }
