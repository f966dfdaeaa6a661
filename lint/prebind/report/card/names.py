"""How a card calls things at the bench: sticks by what the pilot does, surfaces by their sides."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from attrs import frozen

from prebind.report.card.bench import known
from prebind.report.card.steps import MOTOR, listed
from prebind.report.wording import number

if TYPE_CHECKING:
    from prebind.document.model import Condition, Surface, When
    from prebind.path import Path
    from prebind.path.facts import Position
    from prebind.path.motor import MotorPath
    from prebind.path.servo import ServoPath

STICK = {"roll": "Stick right", "pitch": "Stick back", "yaw": "Stick right"}
"""What the pilot does for a positive turn (the positive ends of the sticks)."""

HAND = {
    "roll": "Roll the model right by hand",
    "pitch": "Push the model's nose up by hand",
    "yaw": "Turn the model's nose right by hand",
}
"""A positive turn about each axis (ISO 1151-1), by hand."""

_SIDES = {
    1: {"left": ("pitch", "yaw"), "right": ("roll", "thrust")},
    2: {"left": ("thrust", "yaw"), "right": ("roll", "pitch")},
    3: {"left": ("roll", "pitch"), "right": ("thrust", "yaw")},
    4: {"left": ("roll", "thrust"), "right": ("pitch", "yaw")},
}
"""Which of the pilot's inputs are on which stick, by stick mode (common practice, no source)."""

_CALLED = {"v-tail": "V-tail surface", "steering": "wheel"}
_PLACED = ("left", "right", "front", "rear")


def stick_side(path: Path, axis: str) -> str:
    """`left` or `right`: where an input's stick is; empty where the stick mode is not recorded."""
    sides = _SIDES.get(path.setup.transmitter.stick_mode or 0, {})
    return next((side for side, axes in sides.items() if axis in axes), "")


def stick_of(path: Path, axis: str) -> str:
    """The stick of an input in words: `roll, the right-hand stick`."""
    side = stick_side(path, axis)
    return f"{axis}, the {side}-hand stick" if side else axis


def surface_names(path: Path) -> dict[str, str]:
    """Each surface's name by its id; where two would have the same, the id stands beside it."""
    names = {surface.id: _plain(path, surface) for surface in path.setup.surfaces or ()}
    often = Counter(names.values())
    return {
        known_as: name if often[name] == 1 else f"{name} “{known_as}”"
        for known_as, name in names.items()
    }


def _plain(path: Path, surface: Surface) -> str:
    function = _CALLED.get(surface.function, surface.function)
    if surface.function == "elevator" and path.setup.model.tail == "canard":
        function = "foreplane's elevator"
    return f"{surface.side} {function}" if surface.side in _PLACED else function


def servo_name(path: Path, servo: ServoPath) -> str:
    """What a servo moves: its surface, else what its channel is for."""
    surface = known(lambda it: it.surface, servo)
    if surface is not None:
        return surface_names(path)[surface.id]
    channel = known(lambda it: it.port.channel, servo)
    if channel is None:
        return f"servo on port {servo.entry.port}"
    return function_name(channel.function, channel.side)


def function_name(function: str, side: str | int | None) -> str:
    """A channel's function with its side: `right aileron`."""
    name = "V-tail" if function == "v-tail" else function
    if side is None:
        return name
    return f"{side} {name}" if side in _PLACED else f"{name} {side}"


def motor_name(motor: MotorPath) -> str:
    if motor.kind == "engine":
        return "throttle servo"
    return "motor" if len(motor.path.motors) == 1 else f"{MOTOR}{motor.entry.port}"


def pulse(us: float) -> str:
    return f"{us:.0f} µs"


def place(position: Position) -> str:
    """Where a control stands."""
    return position if isinstance(position, str) else f"{number(position)} %"


def said_when(when: When) -> str:
    """Conditions in words: `cut-switch at cut`."""
    return ", ".join(map(_condition, when)) or "always on"


def _condition(it: Condition) -> str:
    if it.phase is not None:
        return f"phase {listed(it.phase, 'or')}"
    if it.positions is not None:
        return f"{it.control} at {listed(it.positions, 'or')}"
    if it.above_percent is not None:
        return f"{it.control} above {number(it.above_percent)} %"
    return f"{it.control} below {number(it.below_percent or 0)} %"


@frozen
class Care:
    """The usual cautions for this kind of model.

    `still`: controls are moved.  `held`: a motor may run, or the model is moved.  `field`: the
    propeller is on.  `off`: how the propeller is made harmless, empty where there is none.
    """

    still: str
    held: str
    field: str
    off: str = ""


_NONE = Care(
    "Fingers clear of surfaces and linkages.",
    "Model held fast; fingers clear of surfaces and linkages.",
    "Nobody in the model's path.",
)
_ENGINE = Care(
    "Engine not running, propeller off.",
    "Engine not running, propeller off, model restrained.",
    "Model restrained while the engine runs; nobody in or before the propeller's plane.",
    "Propeller off; no fuel, no ignition, no glow",
)
_TURBINE = Care(
    "Turbine not running, fuel shut off.",
    "Turbine not running, fuel shut off, model restrained.",
    "Model restrained while the turbine runs; nobody behind or beside it; extinguisher at hand.",
    "Fuel shut off, the turbine's pump disconnected",
)
_HELICOPTER = Care(
    "Rotor blades off.",
    "Rotor blades off, model held fast, nobody in the rotor's plane.",
    "Everyone well away from the rotor's plane.",
    "Main and tail rotor blades off",
)
_MULTIROTOR = Care(
    "Propellers off.",
    "Propellers off, model held fast, nobody in the propellers' planes.",
    "Everyone well away from the propellers' planes.",
    "All propellers off",
)


def engine_name(path: Path) -> str:
    """What turns, for a person: a motor or an engine."""
    return "motor" if path.setup.engine is None else "engine"


def powered(path: Path) -> bool:
    """Whether a motor, engine or rotor can turn."""
    return bool(path.motors) or any(c.function == "throttle" for c in path.channels)


def care_for(path: Path) -> Care:
    """The cautions that fit the airframe and what drives it."""
    model = path.setup.model
    if model.airframe == "helicopter":
        return _HELICOPTER
    if model.airframe == "multirotor":
        return _MULTIROTOR
    kind = model.propulsion.kind if model.propulsion is not None else None
    if kind == "turbine":
        return _TURBINE
    if kind in ("glow", "petrol") or path.setup.engine is not None:
        return _ENGINE
    if not powered(path) and (kind == "none" or model.airframe == "glider"):
        return _NONE
    return _propellers(model.propulsion.motors if model.propulsion is not None else 1)


def _propellers(count: int) -> Care:
    name, plane = "Propeller", "propeller's plane"
    if count > 1:
        name, plane = "Propellers", "propellers' planes"
    return Care(
        f"{name} off.",
        f"{name} off, model restrained, nobody in the {plane}.",
        f"{name} on: model restrained, nobody in or before the {plane}.",
        f"{name} off, and put away",
    )
