"""From an assignment to a setup document: channels, bands, overrides, ports, failsafe.

What a plan cannot know is left out, which means *not known*, and named beside the gap under
`x-not-known`: the inspection then answers *open*, never *pass*.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.path.facts import AXES_OF, PRIMARY
from prebind.plan.needs import (
    CUT,
    FLIGHT_MODE,
    RECOVERY,
    mixed_in_receiver,
    mixed_ports,
)
from prebind.plan.prefer import GENTLEST_FIRST
from prebind.plan.suits import layout

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.path import Path
    from prebind.plan.needs import Line, Selection
    from prebind.plan.program import Assignment

Json = dict[str, Any]

NOT_KNOWN = "x-not-known"
"""Beside a gap: the keys that are still to be filled in."""

_CUT_NAMES = ("cut", "hold", "off", "safe", "stop")
_MIX_PERCENT = 60
_WITHOUT_SERVO = frozenset({"lights", "governor", "arm", "other"})
_STILL = frozenset({"lights", "governor", "other", "gain", "arm"})
"""Functions of which the failsafe need not say more than that they stay as they are."""

_OF_A_SERVO = ["increasing_pulse", "kind", "pulse_us", "centre_us", "volts", "stall_a"]
_OF_A_MODEL = ["mass_g", "max_speed_m_s"]


def setup_of(found: Assignment) -> Json:
    """The setup document of an assignment of a wished model."""
    return _Setup(found).document()


class _Setup:
    def __init__(self, found: Assignment) -> None:
        self._found = found
        self._needs = found.needs
        self._wish = found.needs.wish
        receiver = found.needs.receiver
        assert receiver is not None  # the wishes of a model name one
        self._receiver = receiver
        self._lines = sorted(
            (line for line in found.needs.lines if line.id in found.channels),
            key=lambda line: found.channels[line.id],
        )

    def document(self) -> Json:
        document: Json = {
            "format": "model-setup/1",
            "x-note": "Proposed by a plan. Prove it on the bench, propeller off, before it flies.",
            NOT_KNOWN: ["power", self._motor_section(), "sign_offs"],
            "model": self._model(),
            "transmitter": self._transmitter(),
            "channels": [self._channel(line) for line in self._lines],
            **self._mixed_in_radio(),
            "overrides": list(self._overrides()),
            "receiver": self._received(),
        }
        if not document["overrides"]:
            del document["overrides"]
        servos, surfaces = self._servos()
        document["servos"] = servos
        document["surfaces"] = surfaces
        document["receiver"]["failsafe"] = self._failsafe(document)
        document[NOT_KNOWN] = [it for it in document[NOT_KNOWN] if it]
        return document

    # Model and transmitter

    @property
    def _electric(self) -> bool:
        return self._wish.get("propulsion", {}).get("kind") in (None, "electric")

    def _motor_section(self) -> str | None:
        if not any(line.function == "throttle" for line in self._lines):
            return None
        return "speed_controls" if self._electric else "engine"

    def _model(self) -> Json:
        keys = ("name", "airframe", "tail", "mass_g", "propulsion", "max_speed_m_s")
        model = {key: self._wish[key] for key in keys if key in self._wish}
        missing = [key for key in _OF_A_MODEL if key not in model]
        return model | ({NOT_KNOWN: missing} if missing else {})

    def _transmitter(self) -> Json:
        data = self._found.radio.data
        keys = ("channels", "stick_mode", "output", "start_checks")
        made: Json = {"name": self._found.radio.name}
        made |= {key: data[key] for key in keys if key in data}
        if "start_checks" not in data:
            made[NOT_KNOWN] = ["start_checks"]
        made["controls"] = {
            name: self._control(name, control)
            for name, control in data["controls"].items()
            if not name.startswith("x-")
        }
        return made

    def _control(self, name: str, data: Mapping[str, Any]) -> Json:
        """As it is; what a setup has no key for, and a job that leads nowhere yet, as `x-`."""
        made = {
            f"x-{key}" if key in ("hand", "reach") else key: value for key, value in data.items()
        }
        driving = {line.job for line in self._lines} | {CUT}
        for job, control in self._found.controls.items():
            if control == name and job not in driving and data["kind"] != "stick":
                made["x-for"] = job
        return made

    # Channels

    def _channel(self, line: Line) -> Json:
        made: Json = {"channel": self._found.channels[line.id], "function": line.function}
        if line.side is not None:
            made["side"] = line.side
        if line.job is not None:
            made["control"] = self._found.controls[line.job]
        if line.function == "throttle":
            made[NOT_KNOWN] = ["trim_range_percent"]
        return made

    def _mixed_in_radio(self) -> Json:
        """Inputs and mixes for elevons or a V-tail that the radio itself mixes."""
        mixed = [line for line in self._lines if line.function in ("elevon", "v-tail")]
        axes = dict.fromkeys(axis for line in mixed for axis in AXES_OF[line.function])
        if not axes:
            return {}
        inverted = self._wish.get("tail") == "inverted-v-tail"
        return {
            "inputs": [{"id": axis, "control": self._found.controls[axis]} for axis in axes],
            "mixes": [
                {
                    "name": f"{axis} to {line.id}",
                    "from": {"input": axis},
                    "to": self._found.channels[line.id],
                    "rate_percent": dict.fromkeys(
                        ("low", "high"), _MIX_PERCENT * _edge(axis, line, inverted)
                    ),
                }
                for line in mixed
                for axis in AXES_OF[line.function]
            ],
        }

    def _overrides(self) -> Iterator[Json]:
        """The cut, once for each throttle channel."""
        control = self._found.controls.get(CUT)
        if control is None:
            return
        helicopter = self._wish["airframe"] == "helicopter"
        purpose = "throttle-hold" if helicopter else "throttle-cut"
        throttles = [line for line in self._lines if line.function == "throttle"]
        release = self._found.radio.data.get("cut_release")
        for line in throttles:
            also = "" if len(throttles) == 1 else f" {line.side or self._found.channels[line.id]}"
            made: Json = {
                "name": f"{purpose.replace('-', ' ')}{also}",
                "purpose": purpose,
                "channel": self._found.channels[line.id],
                "demand_percent": -100,
                "when": [{"control": control, "positions": [self._cut_position(control)]}],
            }
            yield made | ({"release": release} if release else {NOT_KNOWN: ["release"]})

    def _cut_position(self, control: str) -> str:
        """The one that is called so, else the last."""
        positions = self._found.radio.grips[control].positions
        return next((it for it in positions if it in _CUT_NAMES), positions[-1])

    # Receiver

    def _received(self) -> Json:
        data = self._receiver.data
        made: Json = {"name": self._receiver.name, "inputs": self._receiver.inputs}
        if "frame_ms" in data:
            made["frame_ms"] = data["frame_ms"]
        else:
            made[NOT_KNOWN] = ["frame_ms"]
        made["outputs"] = [
            {"port": port, "channel": channel} for port, channel in sorted(self._outputs())
        ]
        if self._receiver.stabilised:
            made["stabiliser"] = self._stabiliser()
        return made

    def _outputs(self) -> Iterator[tuple[int, int]]:
        for line in self._lines:
            for port in self._found.ports.get(line.id, ()):
                yield port, self._found.channels[line.id]
        channels = self._mixed_channels()
        for i, port in enumerate(mixed_ports(self._receiver) if channels else ()):
            yield port, channels[i % len(channels)]

    def _mixed_channels(self) -> list[int]:
        """The channels of the ports that the receiver mixes, one port after another."""
        own = {"swashplate": "collective", "motors": "throttle"}.get(self._receiver.mixing)
        return [
            self._found.channels[line.id]
            for line in self._lines
            if mixed_in_receiver(line.function, self._receiver) and own in (None, line.function)
        ]

    def _stabiliser(self) -> Json:
        data = self._receiver.data["stabiliser"]
        made: Json = {"axes": list(self._axes())}
        if self._receiver.mixing != "none":
            made["mixing"] = self._receiver.mixing
        if "mix_percent" in data:
            made["mix_percent"] = data["mix_percent"]
        selected = [line for line in self._lines if line.selection is not None]
        made["selectors"] = [self._selector(line) for line in selected]
        return made

    def _axes(self) -> Iterator[Json]:
        for axis in ("roll", "pitch", "yaw"):
            lines = [line for line in self._lines if self._turns(line, axis)]
            ports = list(self._axis_ports(axis, lines))
            if lines and ports:
                yield {
                    "axis": axis,
                    "channel": self._found.channels[lines[0].id],
                    "ports": ports,
                    "sense": "normal",
                    NOT_KNOWN: ["sense", "gain_percent"],
                }

    def _turns(self, line: Line, axis: str) -> bool:
        return line.function in PRIMARY and AXES_OF.get(line.function) == (axis,)

    def _axis_ports(self, axis: str, lines: list[Line]) -> Iterator[Any]:
        corrected = dict(self._receiver.corrected.get(axis, ()))
        if any(mixed_in_receiver(line.function, self._receiver) for line in lines):
            for port, sign in corrected.items():
                yield {"port": port, "sign": sign}
            return
        plugged = sorted(port for line in lines for port in self._found.ports.get(line.id, ()))
        for port in plugged:
            if not self._receiver.corrected or port in corrected:
                yield {"port": port, "sign": -1} if corrected.get(port) == -1 else port

    def _selector(self, line: Line) -> Json:
        selection = line.selection
        assert selection is not None
        return {
            "name": selection.name,
            "purpose": selection.purpose,
            "channel": self._found.channels[line.id],
            "states": self._states(line, selection),
        }

    def _states(self, line: Line, selection: Selection) -> list[Json]:
        grip = self._found.radio.grips[self._found.controls[line.job or ""]]
        lies = layout(
            selection, grip.control, self._found.radio.output, self._receiver.edges_percent
        )
        assert lies is not None  # the control suits
        order = list(self._found.orders[selection.name])
        if selection.purpose == RECOVERY and lies.positions[0] != 0:
            order.reverse()  # off where the control rests
        by_name = {state.state: state for state in selection.states}
        return [
            {"state": name, "behaviour": by_name[name].behaviour, "band": dict(band)}
            for name, band in zip(order, lies.bands, strict=True)
        ]

    # Servos and surfaces

    def _servos(self) -> tuple[list[Json], list[Json]]:
        servos: list[Json] = []
        surfaces: list[Json] = []
        for line in self._lines:
            moves = line.function not in _WITHOUT_SERVO and line.selection is None
            if not moves or (line.function == "throttle" and self._electric):
                continue
            for port, side, lead in self._plugs(line):
                servo: Json = {"port": port} | ({"y_lead": True} if lead else {})
                if line.function in _SURFACES:
                    surface = _surface(line.function, side)
                    surfaces.append(surface)
                    servo["surface"] = surface["id"]
                servos.append(servo | {NOT_KNOWN: _OF_A_SERVO})
        for port, function, side in self._mixed_surfaces():
            surface = _surface(function, side)
            surfaces.append(surface)
            servos.append({"port": port, "surface": surface["id"], NOT_KNOWN: _OF_A_SERVO})
        return sorted(servos, key=lambda it: it["port"]), surfaces

    def _plugs(self, line: Line) -> Iterator[tuple[int, Any, bool]]:
        """Port, side and whether a Y lead leads there, for each servo of a line."""
        entry = next(
            it for i, it in enumerate(self._wish["functions"]) if line.entry.endswith(f"s/{i}")
        )
        ports = self._found.ports[line.id]
        lead = bool(entry.get("y_lead")) and entry.get("servos", 1) > 1
        plugs = list(ports) * (entry["servos"] if lead else 1)
        for i, port in enumerate(plugs):
            yield port, _side(line.side, i, len(plugs)), lead

    def _mixed_surfaces(self) -> Iterator[tuple[int, str, str]]:
        """What is on the ports that the receiver mixes to elevons or a V-tail."""
        mixing = self._receiver.mixing
        if mixing not in ("elevon", "v-tail"):
            return
        inverted = self._wish.get("tail") == "inverted-v-tail"
        axis, right = ("roll", 1) if mixing == "elevon" else ("yaw", 1 if inverted else -1)
        for port, sign in self._receiver.corrected.get(axis, ()):
            yield port, mixing, "right" if sign == right else "left"

    # Failsafe

    def _failsafe(self, document: Json) -> Json:
        from prebind.document.structure import structure
        from prebind.path import Path

        stored = self._receiver.data.get("failsafe_stored")
        path = Path(structure(document))
        made: Json = {
            "stored": stored or "at-bind",
            NOT_KNOWN: ["delay_s"] if stored else ["stored", "delay_s"],
            "channels": list(self._lost(path)),
        }
        intended = {name: state for name, state, _ in self._intended(path)}
        return made | ({"intended_states": intended} if intended else {})

    def _lost(self, path: Path) -> Iterator[Json]:
        """What each channel does when the link is lost: the throttle low, surfaces at rest."""
        where: dict[str, Any] = {}
        for _, _, controls in self._intended(path):
            where |= controls
        for line in self._lines:
            control = self._found.controls.get(line.job or "")
            drawn_in = control and line.function in ("airbrake", "spoiler", "flap")
            if drawn_in and self._found.radio.grips[control or ""].continuous:
                where[control or ""] = -100.0
        low = path.situation(where).channels
        centred = dict.fromkeys(path.sticks("thrust"), 0.0)  # a collective is neutral at centre
        standing = path.situation({**where, **centred}).channels
        for line in self._lines:
            number = self._found.channels[line.id]
            kept = line.selection is not None and line.selection.purpose not in (
                FLIGHT_MODE,
                RECOVERY,
            )
            if line.function in _STILL or kept:
                yield {"channel": number, "action": "hold"}
                continue
            found = (low if line.function == "throttle" else standing)[number]
            percent = round(found.output_percent, 1) + 0.0
            yield {"channel": number, "action": "preset", "output_percent": percent}

    def _intended(self, path: Path) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
        """Selector, the state that is meant to hold when the link is lost, and where it is."""
        for selector in path.selectors:
            if selector.entry.purpose == RECOVERY:
                state = next(it.state for it in selector.entry.states if it.behaviour == "off")
            elif selector.entry.purpose == FLIGHT_MODE:
                state = min(
                    selector.entry.states,
                    key=lambda it: (*GENTLEST_FIRST, "other").index(it.behaviour),
                ).state
            else:
                continue
            yield selector.name, state, selector.reached[state]


_SURFACES = frozenset(
    {
        "aileron",
        "flaperon",
        "elevator",
        "rudder",
        "elevon",
        "v-tail",
        "flap",
        "airbrake",
        "spoiler",
        "steering",
    }
)


def _surface(function: str, side: Any) -> Json:
    name = function if side is None else f"{function}-{side}"
    made: Json = {"id": name, "function": function}
    return made | ({} if side is None else {"side": side}) | {NOT_KNOWN: ["throw_deg"]}


def _side(own: Any, i: int, count: int) -> Any:
    if count == 1:
        return own
    if own is None and count == 2:
        return ("right", "left")[i]
    return i + 1


def _edge(axis: str, line: Line, inverted: bool) -> int:
    """+1 where a positive turn about the axis lifts this edge, −1 where it lowers it."""
    right = 1 if line.side == "right" else -1
    if axis == "roll":
        return right
    if axis == "pitch":
        return 1
    return right if inverted else -right
