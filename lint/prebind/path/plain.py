"""The signal path as plain data: the trace report (`trace/1`) and one situation (`situation/1`).

Numbers are percent, µs and degrees.  A fact that the document does not settle is null, with an
entry in `open`; one beyond the bound is null, with the reason in the entry's `not_checked`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from prebind.path.facts import LinkageFault, NotChecked, NotKnown

if TYPE_CHECKING:
    from collections.abc import Callable

    from prebind.document.model import Override
    from prebind.path import Path
    from prebind.path.channel import ChannelPath, Stages
    from prebind.path.control import ControlPath
    from prebind.path.direction import DirectionPath
    from prebind.path.facts import Controls, Extreme
    from prebind.path.motor import MotorPath, MotorState
    from prebind.path.port import PortPath
    from prebind.path.selector import Selected, SelectorPath
    from prebind.path.servo import ServoPath
    from prebind.path.situation import Situation

    Json = dict[str, Any]

T = TypeVar("T")

_SAFE = "Propeller off, model restrained. "

BENCH = {
    "channel": _SAFE + "Move every control that can reach this channel and read its lowest and "
    "highest value on the radio's output monitor.",
    "port": _SAFE + "Move every control that can reach this port and note the lowest and highest "
    "pulse on a servo tester or pulse meter.",
    "selector": _SAFE + "Put the controls in each position in turn and read at the receiver "
    "which state it has selected.",
    "direction": _SAFE + "Move the stick each way and watch the surface; then turn the model by "
    "hand and see that a stabilised surface moves against the turn.",
    "motor": _SAFE + "With the throttle low, then with each cut on, see that the motor is as it "
    "should be; stay out of the propeller's plane.",
    "surface": _SAFE + "Move the stick to both ends and measure the surface's deflection.",
    "failsafe": _SAFE + "Switch the transmitter off and see what motor, surfaces and stabiliser "
    "do.",
    "section": "Look at the model and write down what is there.",
}
"""The check by hand that settles a fact of each kind."""


def trace_json(path: Path, name: str = "-") -> Json:
    """The whole signal path of a setup.  `name` is what the report calls the document."""
    return {**path.trace, "path": name}


def trace(path: Path) -> Json:
    """What `Path.trace` keeps."""
    opened: list[Json] = []
    found: Json = {
        "format": "trace/1",
        "path": "-",
        "controls": [_control(control) for control in path.controls.values()],
        "channels": [_channel(channel, opened) for channel in path.channels],
        "ports": [_port(port, opened) for port in path.ports],
        "selectors": [_selector(selector, opened) for selector in path.selectors],
        "directions": [_direction(direction, opened) for direction in path.directions],
        "motors": [_motor(motor, opened) for motor in path.motors],
        "surfaces": [_surface(servo, opened) for servo in _moving(path)],
    }
    found["open"] = [*_sections(path), *opened]
    return found


class _Entry:
    """One entry of the report: asks its facts, and keeps what had no answer."""

    def __init__(self, at: str, opened: list[Json], **known: Any) -> None:
        self.at = at
        self._opened = opened
        self._not_checked: list[str] = []
        self._faults: list[str] = []
        self._facts: Json = {"at": at, **known}

    def ask(self, kind: str, fact: Callable[[], T]) -> T | None:
        """The fact, or None where the document does not settle it or it is beyond the bound."""
        try:
            return fact()
        except NotKnown as reason:
            self.open(kind, reason.message, reason.settles)
        except NotChecked as reason:
            self._not_checked.append(reason.message)
        except LinkageFault as reason:
            self._faults.append(f"at {reason.us:.0f} µs {reason.reason}")
        return None

    def open(self, kind: str, message: str, settles: tuple[str, ...]) -> None:
        found = {"at": self.at, "message": message, "settles": list(settles), "bench": BENCH[kind]}
        if found not in self._opened:
            self._opened.append(found)

    def put(self, **facts: Any) -> None:
        self._facts.update(facts)

    def json(self) -> Json:
        for key, reasons in (("not_checked", self._not_checked), ("fault", self._faults)):
            if reasons:
                self._facts[key] = "; ".join(dict.fromkeys(reasons))
        return self._facts


def _number(value: float) -> float:
    """Without the noise of floating point, and without a negative zero."""
    return round(value, 9) + 0.0


def _known(value: float | None) -> float | None:
    return None if value is None else _number(value)


def _reach(end: Extreme) -> Json:
    percent = {} if end.percent is None else {"percent": _number(end.percent)}
    return {
        **percent,
        "us": _number(end.us),
        "controls": dict(end.controls),
        "attained": end.attained,
    }


def _control(control: ControlPath) -> Json:
    driven = {job.at for job in control.jobs if job.kind == "channel"}
    channels = (c for c in control.path.channels if f"{c.at}/control" in driven)
    return {
        "at": control.at,
        "control": control.id,
        "kind": control.entry.kind,
        "sprung": control.sprung,
        "positions": None if control.continuous else list(control.positions),
        "drives": [channel.function for channel in channels],
        "jobs": [
            {"at": job.at, "job": job.kind, "channel": job.channel, "about": job.text}
            for job in control.jobs
        ],
    }


def _channel(channel: ChannelPath, opened: list[Json]) -> Json:
    entry = _Entry(channel.at, opened, channel=channel.number, function=channel.function)
    reach = entry.ask("channel", lambda: channel.reach)
    entry.put(
        control=entry.ask("channel", lambda: channel.control),
        low=_reach(reach.low) if reach else None,
        high=_reach(reach.high) if reach else None,
        clipped_percent=_number(reach.cut.percent) if reach else None,
    )
    return entry.json()


def _port(port: PortPath, opened: list[Json]) -> Json:
    entry = _Entry(port.at, opened, port=port.number)
    reach = entry.ask("port", lambda: port.reach)
    failsafe = entry.ask("failsafe", lambda: port.failsafe)
    entry.put(
        low=_reach(reach.low) if reach else None,
        high=_reach(reach.high) if reach else None,
        failsafe={
            "action": failsafe.action if failsafe else None,
            "us": _known(failsafe.us) if failsafe else None,
        },
    )
    return entry.json()


def _selector(selector: SelectorPath, opened: list[Json]) -> Json:
    entry = _Entry(
        selector.at,
        opened,
        name=selector.name,
        purpose=selector.entry.purpose,
        channel=selector.entry.channel,
    )
    positions = entry.ask("selector", lambda: selector.positions)
    failsafe = entry.ask("failsafe", lambda: selector.failsafe)
    states = failsafe.states if failsafe else None
    entry.put(
        positions=None
        if positions is None
        else [_position(selector, found) for found in positions],
        failsafe={
            "action": failsafe.action if failsafe else None,
            "us": _known(failsafe.us) if failsafe else None,
            "states": None if states is None else list(states),
        },
    )
    return entry.json()


def _position(selector: SelectorPath, found: Selected) -> Json:
    percent: Any = [_number(found.low_percent), _number(found.high_percent)]
    us: Any = [_number(found.low_us), _number(found.high_us)]
    return {
        "controls": dict(found.controls),
        "percent": percent[0] if found.point else percent,
        "us": us[0] if found.point else us,
        "states": list(found.states),
        "behaviours": [selector.state(name).behaviour for name in found.states],
        "margin_us": _known(found.margin_us),
    }


def _direction(direction: DirectionPath, opened: list[Json]) -> Json:
    servo = direction.servo
    entry = _Entry(
        direction.at,
        opened,
        axis=direction.axis,
        port=direction.port_number,
        servo=None if servo is None else servo.place,
        surface=None if servo is None else servo.entry.surface,
    )
    entry.put(
        direct=_sign(entry.ask("direction", lambda: direction.direct)),
        target=_sign(entry.ask("direction", lambda: direction.target)),
        correction=entry.ask("direction", lambda: direction.correction),
        states=direction.direct_counts,
    )
    return entry.json()


def _sign(signs: dict[int, Controls] | None) -> int | None:
    """Any −1 is wrong, a command that is dead everywhere has no sign."""
    return next((sign for sign in (-1, 1) if signs and sign in signs), None)


def _motor(motor: MotorPath, opened: list[Json]) -> Json:
    entry = _Entry(motor.at, opened, port=motor.entry.port)
    overrides = entry.ask("motor", lambda: motor.overrides)
    entry.put(
        throttle_low=_state(entry.ask("motor", lambda: motor.at_low)),
        throttle_high=_state(entry.ask("motor", lambda: motor.at_high)),
        overrides=None
        if overrides is None
        else {override.name: _under(entry, motor, override) for override in overrides},
        failsafe=_state(entry.ask("failsafe", lambda: _at_failsafe(motor))),
    )
    return entry.json()


def _under(entry: _Entry, motor: MotorPath, override: Override) -> str | None:
    return _state(entry.ask("motor", lambda: motor.under(override)))


def _state(found: MotorState | None) -> str | None:
    return None if found is None else found.state


def _at_failsafe(motor: MotorPath) -> MotorState | None:
    found = motor.failsafe
    if found is None and motor.port_failsafe.action == "no-pulses":
        raise NotKnown(
            "what the speed control does without pulses is not recorded",
            (f"{motor.at}/on_signal_loss",),
        )
    return found


def _moving(path: Path) -> list[ServoPath]:
    return [s for s in path.servos if s.entry.surface is not None or s.entry.linkage is not None]


def _surface(servo: ServoPath, opened: list[Json]) -> Json:
    entry = _Entry(servo.at, opened, surface=servo.entry.surface, port=servo.entry.port)
    reach = entry.ask("surface", lambda: servo.port.reach)
    us = entry.ask("failsafe", lambda: servo.port.failsafe.us)
    entry.put(
        low_deg=_deflection(entry, servo, reach.low.us if reach else None),
        high_deg=_deflection(entry, servo, reach.high.us if reach else None),
        failsafe_deg=_deflection(entry, servo, us),
    )
    return entry.json()


def _deflection(entry: _Entry, servo: ServoPath, us: float | None) -> float | None:
    return None if us is None else _known(entry.ask("surface", lambda: servo.deflection(us)))


def _sections(path: Path) -> list[Json]:
    """What cannot be traced at all, because a whole section is not recorded."""
    setup = path.setup
    opened: list[Json] = []
    root = _Entry("", opened)
    if setup.receiver is None:
        message = "the receiver is not recorded: no port, selector or failsafe can be traced"
        root.open("section", message, ("/receiver",))
    if setup.servos is None:
        message = "the servos are not recorded: no direction or deflection can be traced"
        root.open("section", message, ("/servos",))
    powered = any(channel.function == "throttle" for channel in setup.channels)
    if powered and not path.motors:
        kind = setup.model.propulsion.kind if setup.model.propulsion is not None else None
        key = "/engine" if kind in ("glow", "petrol", "turbine") else "/speed_controls"
        root.open("section", "the pulse at which the motor stops is not recorded", (key,))
    return opened


def situation_json(path: Path, controls: Controls) -> Json:
    """One situation: what every control, where it stands, comes to.

    Controls that are not named stand at rest.  What cannot be computed is null.  Raises NotKnown
    for a control or a position that does not exist.
    """
    found = path.situation(controls)
    channels = [_stages(channel, found.channels.get(channel.number)) for channel in path.channels]
    pulses = {number: stages.us for number, stages in found.channels.items()}
    return {
        "format": "situation/1",
        "controls": dict(found.controls),
        "channels": channels,
        "ports": [
            {"at": port.at, "port": port.number, "us": _known(found.ports.get(port.number))}
            for port in path.ports
        ],
        "selectors": [
            _selected(selector, pulses.get(selector.entry.channel)) for selector in path.selectors
        ],
        "motors": [
            {"at": motor.at, "port": motor.entry.port, "state": _running(motor, found)}
            for motor in path.motors
        ],
        "surfaces": [_turned(servo, found.ports.get(servo.entry.port)) for servo in _moving(path)],
    }


def _stages(channel: ChannelPath, stages: Stages | None) -> Json:
    facts = ("shape", "mixed", "demand", "output_percent", "us", "clipped_percent")
    return {
        "at": channel.at,
        "channel": channel.number,
        **{fact: _known(getattr(stages, fact, None)) for fact in facts},
    }


def _selected(selector: SelectorPath, us: float | None) -> Json:
    return {
        "at": selector.at,
        "name": selector.name,
        "states": None if us is None else list(selector.states_at(us)),
        "margin_us": None if us is None else _known(selector.margin_at(us)),
    }


def _running(motor: MotorPath, found: Situation) -> str | None:
    """A port into which the receiver mixes motors is judged by its own channel alone."""
    try:
        port, alone = motor.port, motor.judged_alone
    except NotKnown:
        return None
    if not alone:
        us = found.ports.get(port.number)
        return None if us is None else motor.state(us)
    stages = found.channels.get(port.entry.channel)
    return None if stages is None else motor.state(port.us(stages.us))


def _turned(servo: ServoPath, us: float | None) -> Json:
    entry = _Entry(servo.at, [], surface=servo.entry.surface)
    entry.put(deg=_deflection(entry, servo, us))
    return entry.json()
