"""What a setup does, fact by fact, each under a key that stays the same when lists are reordered.

A fact's value says in its keys what it is and in which unit, as evidence does; None means that
there is nothing, `not_known` and `not_checked` give the reason why there is no answer.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from prebind.path.facts import LinkageFault, NotChecked, NotKnown

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from prebind.document.model import Override
    from prebind.path import Path
    from prebind.path.direction import DirectionPath
    from prebind.path.motor import MotorPath, MotorState
    from prebind.path.port import PortPath
    from prebind.path.selector import SelectorPath
    from prebind.path.servo import ServoPath

    Asked = dict[str, Callable[[], "Value"]]

Section = Literal["motors", "failsafe", "directions", "selectors", "surfaces", "ports", "recorded"]
"""What a change is about."""

Value = dict[str, Any] | None


class Key(NamedTuple):
    """`what` says which part of the setup it is about, `fact` what is told of it."""

    section: Section
    what: str
    fact: str


class Fact(NamedTuple):
    """`about` names the part for a person; `at` is its JSON Pointer, None where there is none."""

    value: Value
    about: str
    at: str | None


Facts = dict[Key, Fact]
"""A key that is not there is the same as one whose value is None."""

WAYS: Mapping[str, tuple[int, str, str]] = {
    "trailing-edge-up": (1, "up", "down"),
    "trailing-edge-down": (-1, "up", "down"),
    "trailing-edge-left": (1, "left", "right"),
    "trailing-edge-right": (-1, "left", "right"),
    "wheel-left": (1, "left", "right"),
    "wheel-right": (-1, "left", "right"),
    "opens": (1, "open", "closed"),
    "closes": (-1, "open", "closed"),
    "rises": (1, "up", "down"),
    "falls": (-1, "up", "down"),
}
"""For `increasing_pulse`: +1 where a growing pulse goes the first way, −1 where the second."""


def facts(path: Path) -> Facts:
    """Everything that a setup does, as far as that can be told without another beside it."""
    found: Facts = {}
    for motor in path.motors:
        about = motor_name(motor)
        _tell(found, "motors", about, about, motor.at, _running(motor))
        _tell(found, "failsafe", about, about, motor.at, {"motor": partial(_lost_state, motor)})
    for port in path.ports:
        what, about = f"port {port.number}", port_name(port)
        _tell(found, "failsafe", what, about, port.at, {"pulse": partial(_lost, port)})
        _tell(found, "ports", what, about, port.at, {"reach": partial(_reach, port)})
    for selector in path.selectors:
        what, about = f"selector {selector.name}", f"“{selector.name}”"
        _tell(
            found,
            "failsafe",
            what,
            about,
            selector.at,
            {"state": partial(_lost_selector, selector)},
        )
    for servo in path.servos:
        what, about = f"servo {_plugged(servo)}", servo_name(servo)
        _tell(found, "surfaces", what, about, servo.at, {"throw": partial(_throw, servo)})
        _tell(found, "failsafe", what, about, servo.at, {"throw": partial(_lost_throw, servo)})
    for direction in path.directions:
        where = _plugged(direction.servo) if direction.servo else direction.port_number
        what, about = f"{direction.axis} {where}", direction_name(direction)
        _tell(found, "directions", what, about, direction.at, _signs(direction))
    return found


def _tell(found: Facts, section: Section, what: str, about: str, at: str, asked: Asked) -> None:
    """Puts the facts of one part beside the others; one that is there twice has two keys."""
    while any(Key(section, what, fact) in found for fact in asked):
        what = f"{what} again"
    for fact, ask in asked.items():
        found[Key(section, what, fact)] = Fact(answer(ask), about, at)


def answer(ask: Callable[[], Value]) -> Value:
    """The fact, or why there is none."""
    try:
        return ask()
    except NotKnown as reason:
        return {"not_known": reason.message}
    except NotChecked as reason:
        return {"not_checked": reason.message}
    except LinkageFault as reason:
        return {"fault": f"at {reason.us:.0f} µs {reason.reason}"}


# Names for a person


def motor_name(motor: MotorPath) -> str:
    name = "engine" if motor.kind == "engine" else "motor"
    return f"{name} on port {motor.entry.port}"


def servo_name(servo: ServoPath) -> str:
    """What it moves, as `right aileron`, and where it is plugged in."""
    try:
        surface = servo.surface
    except NotKnown:
        surface = None
    if surface is None:
        return f"servo on port {servo.entry.port}"
    side = "" if surface.side is None else f"{surface.side} "
    return f"{side}{surface.function} (port {servo.entry.port})"


def port_name(port: PortPath) -> str:
    """What is plugged in there, if one can tell."""
    names = [*map(motor_name, port.motors), *map(servo_name, port.servos)]
    return names[0] if len(names) == 1 else f"port {port.number}"


def direction_name(direction: DirectionPath) -> str:
    servo = direction.servo
    name = servo_name(servo) if servo is not None else f"port {direction.port_number}"
    return f"{name}, {direction.axis}"


def _plugged(servo: ServoPath) -> str:
    """Where: servos that share a port are told apart by their order."""
    before = servo.path.servos[: servo.place]
    return f"{servo.entry.port} {sum(it.entry.port == servo.entry.port for it in before)}"


# Motors


def _running(motor: MotorPath) -> Asked:
    told: Asked = {
        "throttle low": lambda: _state(motor.at_low),
        "throttle high": lambda: _state(motor.at_high),
    }
    try:
        overrides = motor.overrides
    except NotKnown:
        overrides = ()
    for override in overrides:
        under = f"“{override.name}”"
        told[f"under {under}"] = partial(_under, motor, override)
        told[f"after {under}"] = partial(dict, release=override.release)
    return told


def _under(motor: MotorPath, override: Override) -> Value:
    return _state(motor.under(override))


def _lost_state(motor: MotorPath) -> Value:
    return _state(motor.failsafe)


def _state(found: MotorState | None) -> Value:
    return None if found is None else {"state": found.state, "us": found.us}


# Ports, selectors, surfaces


def _reach(port: PortPath) -> Value:
    return {"low_us": port.reach.low.us, "high_us": port.reach.high.us}


def _lost(port: PortPath) -> Value:
    found = port.failsafe
    return None if found.action is None else {"action": found.action, "us": found.us}


def _lost_selector(selector: SelectorPath) -> Value:
    found = selector.failsafe
    if found.action is None:
        return None
    states = [] if found.states is None else [stated(selector, name) for name in found.states]
    return {
        "action": found.action,
        "us": found.us,
        "states": sorted(states, key=repr),
        "margin_us": found.margin_us,
    }


def stated(selector: SelectorPath, name: str) -> dict[str, str]:
    return {"state": name, "behaviour": selector.state(name).behaviour}


def _throw(servo: ServoPath) -> Value:
    reach = servo.port.reach
    ends = sorted(_turned(servo, end.us) for end in (reach.low, reach.high))
    return {"low_deg": ends[0], "high_deg": ends[1], "way": _way(servo)}


def _lost_throw(servo: ServoPath) -> Value:
    us = servo.port.failsafe.us
    return None if us is None or servo.entry.linkage is None else throw_at(servo, us)


def throw_at(servo: ServoPath, us: float) -> Value:
    return {"deg": _turned(servo, us), "way": _way(servo)}


def _turned(servo: ServoPath, us: float) -> float:
    """In degrees, the first way of `WAYS` being positive."""
    return servo.deflection(us) * WAYS.get(servo.entry.increasing_pulse or "", (1,))[0]


def _way(servo: ServoPath) -> list[str] | None:
    """What positive and negative degrees are; None where nobody wrote it down."""
    ways = WAYS.get(servo.entry.increasing_pulse or "")
    return None if ways is None else [*ways[1:]]


# Directions


def _signs(direction: DirectionPath) -> Asked:
    told: Asked = {"command": lambda: _command(direction)}
    if direction.axis_path is not None:
        told["target"] = lambda: {"sign": _judged(direction.target or {})}
        told["correction"] = lambda: _correction(direction)
    return told


def _judged(signs: Mapping[int, Any]) -> int:
    """Any −1 is wrong; 0 where nothing moves."""
    return next((sign for sign in (-1, 1) if sign in signs), 0)


def _command(direction: DirectionPath) -> Value:
    """Which way the surface goes as the pilot commands a positive turn."""
    output = -1 if direction.port.entry.reversed else 1
    ways = sorted({_moved(direction, output * sign) for sign in direction.command})
    right = answer(lambda: {"sign": _judged(direction.direct)}) or {}
    return {"moves": ways, **right}


def _correction(direction: DirectionPath) -> Value:
    """Which way it goes as the model is turned positively by hand."""
    axis = direction.axis_path
    assert axis is not None
    output = -1 if direction.port.entry.reversed else 1
    sense = -1 if axis.entry.sense == "reversed" else 1
    pulse = -output * sense * direction.sign
    right = answer(lambda: {"sign": direction.correction}) or {}
    return {"moves": [_moved(direction, pulse)], **right}


def _moved(direction: DirectionPath, pulse: int) -> str:
    """Which way the surface goes with its pulse; where nobody wrote that down, the pulse."""
    if not pulse:
        return "nowhere"
    grows = direction.servo.entry.increasing_pulse if direction.servo is not None else None
    sign, *ways = WAYS.get(grows or "", (1, "its pulse grows", "its pulse falls"))
    return ways[0] if pulse * sign > 0 else ways[1]
