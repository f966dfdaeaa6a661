"""Clean models to make mistakes in: the demo fleet, and more, made by a seed for every airframe.

The made ones are clean by construction: each output is reversed where its servo turns the other
way, each band has its position in the middle, each failsafe is what is wanted.  All are invented.
"""

from __future__ import annotations

from copy import deepcopy
from functools import cache
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

import prebind
from prebind.path.proofs import CHECKS

if TYPE_CHECKING:
    from tests.trust.laying import Document, Entry

FLEET = Path(__file__).parents[1] / "examples" / "fleet"
AIRFRAMES = ("aeroplane", "glider", "flying-wing", "helicopter", "multirotor")
SEEDS = {**dict.fromkeys(AIRFRAMES, (1, 2)), "flying-wing": (1, 3)}  # 3: mixed in the radio
MADE = [f"{airframe} {seed}" for airframe in AIRFRAMES for seed in SEEDS[airframe]]
OWN_STICK = {
    "throttle": "thrust-stick",
    "aileron": "roll-stick",
    "elevator": "pitch-stick",
    "rudder": "yaw-stick",
    "cyclic-roll": "roll-stick",
    "cyclic-pitch": "pitch-stick",
    "tail-rotor": "yaw-stick",
    "collective": "thrust-stick",
}
AXIS = {
    "aileron": "roll",
    "elevator": "pitch",
    "rudder": "yaw",
    "cyclic-roll": "roll",
    "cyclic-pitch": "pitch",
    "tail-rotor": "yaw",
}
FLOWN_BY = {
    "aeroplane": ("throttle", "aileron", "elevator", "rudder"),
    "glider": ("throttle", "aileron", "elevator", "rudder"),
    "flying-wing": ("throttle", "aileron", "elevator"),
    "helicopter": ("throttle", "cyclic-roll", "cyclic-pitch", "tail-rotor", "collective"),
    "multirotor": ("throttle", "aileron", "elevator", "rudder"),
}
MODES = (
    ("level", "self-level"),
    ("limited", "attitude-limit"),
    ("damped", "rate-damping"),
    ("off", "off"),
)
CENTRE, STEP, LIMIT = 1500, 4, 125


def names() -> list[str]:
    return [*(f.name.removesuffix(".setup.json") for f in sorted(FLEET.glob("*.json"))), *MADE]


def model(name: str) -> Document:
    """A fresh copy of one model, its shared parts laid in."""
    return deepcopy(_model(name))


@cache
def _model(name: str) -> Document:
    airframe, _, seed = name.partition(" ")
    if airframe in AIRFRAMES:
        return made(airframe, int(seed))
    file = FLEET / f"{name}.setup.json"
    document = prebind.read(file.read_bytes(), path=file.as_posix(), root=FLEET)
    assert isinstance(document, prebind.Document), document
    return deepcopy(dict(document.data))


def made(airframe: str, seed: int) -> Document:
    """A clean model of this airframe, signed off."""
    return _Bench(airframe, Random(f"{airframe} {seed}")).model()


class _Bench:
    """One model while it is laid out."""

    def __init__(self, airframe: str, chance: Random) -> None:
        self.airframe, self.chance = airframe, chance
        self.rotor = airframe in ("helicopter", "multirotor")
        self.stabilised = self.rotor or chance.random() < 0.7
        self.modes = chance.choice([2, 3])
        functions = [*FLOWN_BY[airframe]]
        if self.stabilised:
            functions += ["flight-mode"]
            functions += ["recovery"] if not self.rotor else []
        functions += chance.sample(["lights", "gear"], chance.choice([0, 1])) * (not self.rotor)
        numbers = list(range(1, len(functions) + 1))
        chance.shuffle(numbers)
        self.number = dict(zip(functions, numbers, strict=True))
        self.ports: dict[int, Entry] = {}
        self.servos: list[Entry] = []
        self.surfaces: list[Entry] = []
        self.signs: dict[str, list[tuple[int, int]]] = {"roll": [], "pitch": [], "yaw": []}

    @property
    def mixing(self) -> str:
        mixed = {"flying-wing": "elevon", "helicopter": "swashplate", "multirotor": "motors"}
        return mixed.get(self.airframe, "none") if self.stabilised else "none"

    def model(self) -> Document:
        {"helicopter": self._swashplate, "multirotor": self._rotors, "flying-wing": self._wing}.get(
            self.airframe, self._surfaces
        )()
        if self.airframe != "multirotor":
            self._output("throttle")
        for extra in ("lights", "gear"):
            if extra in self.number:
                self._output(extra)
        return signed(self._document())

    # --- what moves ---

    def _port(self) -> int:
        """A port that is free: not always the next one."""
        free = [p for p in range(1, 13) if p not in self.ports]
        return self.chance.choice(free[:3])

    def _output(self, function: str, channel: int | None = None) -> int:
        port = self._port()
        self.ports[port] = {"port": port, "channel": channel or self.number[function]}
        return port

    def _servo(self, port: int, surface: Entry, moves: str | None) -> None:
        self.surfaces.append(surface)
        servo: Entry = {
            "port": port,
            "surface": surface["id"],
            "increasing_pulse": moves,
            "kind": "digital",
            "pulse_us": [850, 2150],
            "max_rate_hz": 250,
            "volts": [4.8, 7.4],
            "stall_a": 1.0,
            "idle_a": 0.01,
            "torque_ncm": 40,
        }
        if moves is None:
            del servo["increasing_pulse"]
        elif moves.startswith("trailing"):
            servo["degrees_per_us"] = 0.1
            servo["linkage"] = {"arm_mm": 9, "horn_mm": 15, "base_mm": 70}
        self.servos.append(servo)

    def _turned(self, function: str, side: str | None, way: str, back: str, axis: str) -> int:
        """A servo built in either way round; the output sees to it that the axis comes right."""
        straight = self.chance.random() < 0.5
        port = self._output(function)
        if not straight:
            self.ports[port]["reversed"] = True
        stem = function if side is None else f"{function}-{side}"
        surface: Entry = {"id": stem, "function": function, "area_cm2": 120, "chord_mm": 40}
        ends = ("left", "right") if axis == "yaw" else ("up", "down")
        surface["throw_deg"] = dict.fromkeys(ends, 22)
        if side is not None:
            surface["side"] = side
        self._servo(port, surface, f"trailing-edge-{way if straight else back}")
        self.signs[axis].append((port, 1))
        return port

    def _surfaces(self) -> None:
        self._turned("aileron", "right", "up", "down", "roll")
        self._turned("aileron", "left", "down", "up", "roll")
        self._turned("elevator", None, "up", "down", "pitch")
        self._turned("rudder", None, "right", "left", "yaw")

    def _wing(self) -> None:
        """Elevons, mixed in the receiver where there is a stabiliser, else in the radio."""
        for side, sign in (("right", 1), ("left", -1)):
            straight = self.chance.random() < 0.5
            port = self._output("aileron" if side == "right" else "elevator")
            if not straight:
                self.ports[port]["reversed"] = True
            surface: Entry = {"id": f"elevon-{side}", "function": "elevon", "side": side}
            surface |= {"area_cm2": 120, "chord_mm": 40}
            self._servo(port, surface, f"trailing-edge-{'up' if straight else 'down'}")
            self.servos[-1]["linkage"]["horn_mm"] = 13
            self.signs["roll"].append((port, sign))
            self.signs["pitch"].append((port, 1))

    def _swashplate(self) -> None:
        for side, roll, pitch in (("left", 1, 1), ("right", -1, 1), ("rear", 0, -1)):
            port = self._output("collective")
            function = "cyclic-roll" if roll else "cyclic-pitch"
            self._servo(port, {"id": f"swash-{side}", "function": function, "side": side}, "rises")
            if roll:
                self.signs["roll"].append((port, roll))
            self.signs["pitch"].append((port, pitch))
        port = self._output("tail-rotor")
        self._servo(port, {"id": "tail-rotor", "function": "tail-rotor"}, None)
        self.signs["yaw"].append((port, 1))

    def _rotors(self) -> None:
        for roll, pitch, yaw in ((1, 1, -1), (-1, 1, 1), (-1, -1, -1), (1, -1, 1)):
            port = self._output("throttle")
            for axis, sign in (("roll", roll), ("pitch", pitch), ("yaw", yaw)):
                self.signs[axis].append((port, sign))

    # --- the document ---

    def _document(self) -> Document:
        document: Document = {
            "format": "model-setup/1",
            "model": self._described(),
            "transmitter": self._transmitter(),
            "channels": [self._channel(f, n) for f, n in self.number.items()],
            "overrides": [self._cut()],
            "receiver": self._receiver(),
            "servos": self.servos,
            "speed_controls": [self._speed_control(p) for p in self._motor_ports()],
            "surfaces": self.surfaces,
            "power": {
                "receiver_supply": {
                    "source": "bec",
                    "volts": 6.0,
                    "continuous_a": 5,
                    "peak_a": 10,
                    "wire": {"gauge_awg": 20, "length_mm": 150},
                },
                "flight_pack": {
                    "chemistry": "lipo",
                    "cells": self.chance.choice([3, 4]),
                    "capacity_mah": 2200,
                    "warning_v_per_cell": 3.6,
                },
            },
        }
        if self.airframe == "flying-wing" and not self.stabilised:
            self._mix_elevons(document)
        return document

    def _described(self) -> Entry:
        bird = self.chance.choice(["Knot", "Sanderling", "Avocet", "Fulmar", "Little Auk"])
        kind: Entry = {"kind": "electric", "motors": len(self._motor_ports())}
        return {
            "name": f"{bird} {self.chance.randrange(900, 1900, 100)}",
            "airframe": self.airframe,
            "propulsion": kind,
            "max_speed_m_s": 18,
        }

    def _motor_ports(self) -> list[int]:
        number = self.number["throttle"]
        return [p for p, output in self.ports.items() if output["channel"] == number]

    def _transmitter(self) -> Entry:
        controls: Entry = {
            f"{axis}-stick": {"kind": "stick", "axis": axis}
            for axis in ("thrust", "roll", "pitch", "yaw")
        }
        modes = ["back", "middle", "forward"][-self.modes :]
        controls["mode-switch"] = {"kind": "switch", "positions": modes}
        controls["recovery-button"] = {"kind": "button"}
        controls["stop-switch"] = {"kind": "switch", "positions": ["run", "stop"]}
        controls["rate-switch"] = {"kind": "switch", "positions": ["full", "soft"]}
        controls["own-switch"] = {"kind": "switch", "positions": ["off", "on"]}
        output: Entry = {"centre_us": CENTRE, "us_per_percent": STEP, "limit_percent": LIMIT}
        if self.chance.random() < 0.5:
            output["steps"] = 2048
        return {
            "channels": len(self.number) + self.chance.choice([2, 4]),
            "start_checks": ["throttle-low", "cut-on"],
            "output": output,
            "controls": controls,
        }

    def _channel(self, function: str, number: int) -> Entry:
        channel: Entry = {"channel": number, "function": function}
        if function == "throttle":
            return channel | {"control": "thrust-stick", "trim_range_percent": 4}
        if function == "collective":
            points = [[-100, -60], [0, 5], [100, 60]]
            return channel | {"control": "thrust-stick", "curves": [{"points": points}]}
        if function in OWN_STICK:
            channel["control"] = OWN_STICK[function]
            channel["rates"] = self._rates()
            return channel
        own = {"flight-mode": "mode-switch", "recovery": "recovery-button"}
        return channel | {"control": own.get(function, "own-switch")}

    def _rates(self) -> list[Entry]:
        full = {"rate_percent": 100, "expo_percent": self.chance.choice([0, 15, 30])}
        there = {"control": "rate-switch", "positions": ["full"]}
        soft = {"rate_percent": self.chance.choice([80, 90] if self.rotor else [60, 70, 80])}
        return [full | {"when": [there]}, soft | {"expo_percent": 20}]

    def _cut(self) -> Entry:
        helicopter = self.airframe == "helicopter"
        return {
            "name": "motor stop",
            "purpose": "throttle-hold" if helicopter else "throttle-cut",
            "channel": self.number["throttle"],
            "demand_percent": -100,
            "when": [{"control": "stop-switch", "positions": ["stop"]}],
            "release": "at-low",
        }

    def _speed_control(self, port: int) -> Entry:
        return {
            "port": port,
            "stop_below_us": 1140,
            "full_above_us": 1880,
            "arm_below_us": 1140,
            "on_signal_loss": "stops",
            "cells": [3, 4],
        }

    def _receiver(self) -> Entry:
        receiver: Entry = {
            "inputs": max(self.number.values()) + 1,
            "frame_ms": 11,
            "outputs": [self.ports[p] for p in sorted(self.ports)],
            "failsafe": {
                "stored": self.chance.choice(["at-bind", "by-menu"]),
                "delay_s": 1.0,
                "channels": [self._lost(f, n) for f, n in self.number.items()],
            },
        }
        if self.stabilised:
            receiver["stabiliser"] = self._stabiliser()
            wanted = {"flight mode": "level"} | (
                {"recovery": "off"} if "recovery" in self.number else {}
            )
            receiver["failsafe"]["intended_states"] = wanted
        return receiver

    def _lost(self, function: str, number: int) -> Entry:
        low = function in ("throttle", "flight-mode", "recovery", "lights", "gear")
        percent = -100 if low else 0
        return {"channel": number, "action": "preset", "output_percent": percent}

    def _stabiliser(self) -> Entry:
        by_axis = {AXIS[f]: n for f, n in self.number.items() if f in AXIS}
        axes = []
        for axis, ports in self.signs.items():
            if not ports:
                continue
            plain = self.mixing == "none"
            listed: list[Any] = [p if plain else {"port": p, "sign": s} for p, s in ports]
            axes.append(
                {
                    "axis": axis,
                    "channel": by_axis[axis],
                    "ports": listed,
                    "sense": "normal",
                    "gain_percent": self.chance.choice([30, 40, 50]),
                }
            )
        found: Entry = {"axes": axes, "mixing": self.mixing, "selectors": self._selectors()}
        if self.mixing != "none":
            found["mix_percent"] = {"elevon": 60, "swashplate": 40, "motors": 30}[self.mixing]
        return found

    def _selectors(self) -> list[Entry]:
        first = [MODES[0], *self.chance.sample(MODES[1:], self.modes - 1)]
        cuts = [-LIMIT, 0, LIMIT] if self.modes == 2 else [-LIMIT, -40, 40, LIMIT]
        found = [self._selector("flight-mode", "flight mode", first, cuts)]
        if "recovery" in self.number:
            states = [("off", "off"), ("recover", "recovery")]
            found.append(self._selector("recovery", "recovery", states, [-LIMIT, 10, LIMIT]))
        return found

    def _selector(
        self, purpose: str, name: str, states: list[tuple[str, str]], cuts: list[int]
    ) -> Entry:
        in_us = self.chance.random() < 0.5
        ends = [CENTRE + STEP * c for c in cuts] if in_us else cuts
        unit = "us" if in_us else "percent"
        return {
            "name": name,
            "purpose": purpose,
            "channel": self.number[purpose],
            "states": [
                {"state": state, "behaviour": behaviour, "band": {unit: [ends[i], ends[i + 1]]}}
                for i, (state, behaviour) in enumerate(states)
            ],
        }

    def _mix_elevons(self, document: Document) -> None:
        """Two elevon channels, each fed by shaped roll and pitch."""
        right, left = self.number["aileron"], self.number["elevator"]
        document["inputs"] = [
            {"id": "roll", "control": "roll-stick", "rates": self._rates()},
            {"id": "pitch", "control": "pitch-stick", "rates": self._rates()},
        ]
        document["mixes"] = []
        for channel in document["channels"]:
            if channel["channel"] not in (right, left):
                continue
            side = "right" if channel["channel"] == right else "left"
            number = channel["channel"]
            channel.clear()
            channel.update(channel=number, function="elevon", side=side)
            for source, sign in (("roll", 1 if side == "right" else -1), ("pitch", 1)):
                document["mixes"].append(
                    {
                        "name": f"{source} to {side}",
                        "from": {"input": source},
                        "to": number,
                        "rate_percent": {"low": 60 * sign, "high": 60 * sign},
                    }
                )


def signed(document: Document) -> Document:
    """The document with everything signed off that wants proof by hand."""
    read = prebind.read(document)
    assert isinstance(read, prebind.Document), read
    path = prebind.trace(read.setup)
    entries = [
        {"check": check, "by": "A. Knot", "on": "2026-05-01", "digest": path.digest(check)}
        for check in CHECKS
        if check in path.wanted
    ]
    return {**document, "sign_offs": entries}
