"""Which way every surface must go: as a stick moves, and as the model is turned by hand.

What must be seen follows from the axes of ISO 1151-1 and from where the surface is; what this setup
does, from the signs of its signal path.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from prebind.document.model import Surface
from prebind.path.direction import DIRECT, KIND, RIGHT_SIGN, TARGET, turning_sign
from prebind.path.facts import AXES_OF, NotChecked, NotKnown
from prebind.report.card.bench import known
from prebind.report.card.names import (
    HAND,
    STICK,
    function_name,
    servo_name,
    stick_of,
    stick_side,
)
from prebind.report.card.steps import Seen, Step, listed
from prebind.report.pictures.model import model_picture
from prebind.report.wording import where

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.inspect.finding import Finding
    from prebind.path import Path
    from prebind.path.direction import DirectionPath
    from prebind.path.facts import Controls
    from prebind.report.card.bench import Bench
    from prebind.report.pictures.model import ModelPicture, Way

AXES = ("roll", "pitch", "yaw")
ROTORCRAFT = ("helicopter", "multirotor")
"""Airframes whose directions are not computed."""

COMMAND = "control-direction"
CORRECTION = "correction-direction"

WAYS: dict[str, tuple[Way, Way]] = {
    "edge": ("up", "down"),
    "upright": ("right", "left"),
    "wheel": ("right", "left"),
}
"""The ways that an edge or a wheel goes: for +1 and for −1."""

CORRECTING = (DIRECT | TARGET) - {"off"}


class Sign(NamedTuple):
    """A sign of a command: +1 right, −1 wrong, 0 dead, the states in which it counts, a witness."""

    sign: int
    states: tuple[str, ...]
    controls: Controls


def command_steps(bench: Bench) -> Iterator[Step]:
    """A step for each stick: which way every surface on it must go, in every state."""
    for axis in AXES:
        do = f"{STICK[axis]} ({stick_of(bench.path, axis)})"
        directions = _directions(bench.path, axis)
        by_function = _by_function(bench, axis, do)
        if by_function is not None and all(it.servo is None for it in directions):
            yield by_function
        elif directions:
            yield _command_step(bench, axis, do, directions)


def _command_step(bench: Bench, axis: str, do: str, directions: Sequence[DirectionPath]) -> Step:
    return Step(
        directions[0].at,
        do,
        tuple(_commanded(bench, direction, do) for direction in directions),
        bench.care.still,
        _states(directions, DIRECT | TARGET),
        (COMMAND,),
        rules=bench.rules(
            "reversal", partial(_tells, axis, ("direct", "target", "expected_direction"))
        ),
        picture=_picture(directions, do, 1, stick=axis),
    )


def correction_steps(bench: Bench) -> Iterator[Step]:
    """A step for each axis that the stabiliser corrects."""
    for axis in AXES:
        directions = [d for d in _directions(bench.path, axis) if d.axis_path is not None]
        if not directions:
            continue
        yield Step(
            next(entry.at for entry in bench.path.axes if entry.axis == axis),
            HAND[axis],
            tuple(_corrected(bench, direction) for direction in directions),
            bench.care.held,
            _states(directions, CORRECTING),
            (CORRECTION,),
            rules=bench.rules("reversal", partial(_tells, axis, ("correction",))),
            picture=_picture(directions, HAND[axis], -1, turn=axis),
        )


def _directions(path: Path, axis: str) -> list[DirectionPath]:
    """The directions of an axis; those of rotors are told elsewhere."""
    if path.setup.model.airframe in ROTORCRAFT:
        return []
    return [direction for direction in path.directions if direction.axis == axis]


def _tells(axis: str, signs: tuple[str, ...], found: Finding) -> bool:
    """Whether a finding is about one of these signs of an axis."""
    return found.evidence.get("axis") == axis and any(sign in found.evidence for sign in signs)


def _by_function(bench: Bench, axis: str, do: str) -> Step | None:
    """What the channels' functions alone say; None where they say nothing of this axis."""
    path = bench.path
    found = [surface for surface in _likely(path) if axis in AXES_OF[surface.function]]
    tail = path.setup.model.tail
    moves = [
        (surface, function_name(surface.function, surface.side), way)
        for surface in found
        if (way := _way(surface, axis, tail)) is not None
    ]
    if not moves or path.setup.model.airframe in ROTORCRAFT:
        return None
    side = stick_side(path, axis)
    return Step(
        "/channels",
        do,
        tuple(Seen(name, way) for _, name, way in moves),
        bench.care.still,
        proves=(COMMAND,),
        note="No servo is written down for it: what this setup does is not known.",
        picture=model_picture(do, path.setup.model, moves, stick=axis, side=side),
    )


def _likely(path: Path) -> Iterator[Surface]:
    """The surfaces that the channels' functions imply: pairs have a right and a left one."""
    known_sides = KIND.keys() - {"steering"}  # a wheel may be in front or at the tail
    for function in dict.fromkeys(c.function for c in path.channels if c.function in known_sides):
        pair = any(function == paired for paired, _ in RIGHT_SIGN)
        for side in ("right", "left") if pair else (None,):
            yield Surface(id=function, function=function, side=side)


# What must be seen


def positive(direction: DirectionPath) -> Way | None:
    """Which way the surface must go for a positive turn; None where that is not recorded."""
    surface = known(lambda it: it.surface, direction)
    if surface is None:
        return None
    return _way(surface, direction.axis, direction.path.setup.model.tail)


def _way(surface: Surface, axis: str, tail: str) -> Way | None:
    ways = WAYS.get(KIND.get(surface.function, ""))
    try:
        turning = turning_sign(surface, axis, tail)
    except KeyError:
        return None
    return ways[0 if turning > 0 else 1] if ways and turning else None


OPPOSITE: dict[Way, Way] = {"up": "down", "down": "up", "left": "right", "right": "left"}


def _name(direction: DirectionPath) -> str:
    if direction.servo is None:
        return f"servo on port {direction.port_number}"
    return servo_name(direction.path, direction.servo)


_TURNS = {"roll": "rolls the model right", "pitch": "puts the nose up", "yaw": "turns it right"}
_AGAINST = "works against the turn"
"""What must be seen of something whose own way is not known."""


def _commanded(bench: Bench, direction: DirectionPath, do: str) -> Seen:
    way, name = positive(direction), _name(direction)
    step = Step(
        direction.at,
        f"{do}, and see which way {name} goes",
        (Seen(name, way),) if way is not None else (),
        bench.care.still,
        selected_states(direction.path, DIRECT) if direction.axis_path is not None else (),
        (COMMAND,),
        note=_hint(direction, do),
    )
    signs = bench.ask(command_signs, direction, step) or []
    if way is None:
        return Seen(name, _TURNS[direction.axis])
    return Seen(name, way, "; ".join(_wrong(way, signs)))


def command_signs(direction: DirectionPath) -> list[Sign]:
    """The signs of what is seen as the stick moves to its positive end, by the states.

    In a state with a target the stabiliser drives the surface as if it corrected.  Raises NotKnown
    where the document does not settle one, NotChecked beyond the bound.
    """
    path, stabilised = direction.path, direction.axis_path is not None
    found: list[Sign] = []
    direct = selected_states(path, DIRECT) if stabilised and path.flight_modes else ()
    if direct or not (stabilised and path.flight_modes):
        found += (Sign(sign, direct, at) for sign, at in direction.direct.items())
    target = selected_states(path, TARGET) if stabilised else ()
    if target and direction.target is not None:
        correction = direction.correction or 1
        found += (Sign(sign * correction, target, at) for sign, at in direction.target.items())
    return found


def _wrong(way: Way, signs: Sequence[Sign]) -> Iterator[str]:
    """What this setup does where it does not what it must, each with the states."""
    found: dict[tuple[int, str], list[str]] = {}
    for one in signs:
        if one.sign != 1:
            mixed = any(it.states == one.states and it.sign != one.sign for it in signs)
            controls = where(one.controls) if mixed else ""
            found.setdefault((one.sign, controls), []).extend(one.states)
    for (sign, controls), states in found.items():
        does = OPPOSITE[way].upper() if sign < 0 else "no movement"
        within = f" in {listed(states)}" if states else ""
        yield f"{does}{within}{f' with {controls}' if controls else ''}"


def _hint(direction: DirectionPath, do: str) -> str:
    """What to write down for what is seen: which way it goes as the pulse grows."""
    way, servo, surface = (
        positive(direction),
        direction.servo,
        known(lambda it: it.surface, direction),
    )
    if way is None or surface is None or servo is None or servo.entry.increasing_pulse is not None:
        return ""
    output = known(lambda it: -1 if it.port.entry.reversed else 1, direction)
    command = known(lambda it: it.command, direction)
    signs = set(command or ())
    if output is None or signs not in ({1}, {-1}):
        return ""
    grows = output * signs.pop() > 0
    prefix = "wheel" if KIND[surface.function] == "wheel" else "trailing-edge"
    right, wrong = (way, OPPOSITE[way]) if grows else (OPPOSITE[way], way)
    return (
        f"{do.partition(' (')[0]} makes the pulse on port {direction.port_number} "
        f"{'grow' if grows else 'shrink'}: if it goes {way}, as it must, write {prefix}-{right}; "
        f"if it goes {OPPOSITE[way]}, write {prefix}-{wrong}, and the inspection says what to "
        "reverse."
    )


def _corrected(bench: Bench, direction: DirectionPath) -> Seen:
    way, name = positive(direction), _name(direction)
    must = OPPOSITE[way] if way is not None else _AGAINST
    step = Step(
        direction.at,
        f"{HAND[direction.axis]}, and see which way {name} goes",
        (Seen(name, must),) if way is not None else (),
        bench.care.held,
        proves=(CORRECTION,),
    )
    correction = bench.ask(lambda it: it.correction, direction, step)
    wrong = way is not None and correction == -1
    return Seen(name, must, f"{way.upper()}, further into the turn" if wrong and way else "")


# States


def _states(directions: Sequence[DirectionPath], behaviours: frozenset[str]) -> tuple[str, ...]:
    """The states in which to look, in document order; none where there is nothing to choose."""
    if all(direction.axis_path is None for direction in directions):
        return ()
    return selected_states(directions[0].path, behaviours)


def selected_states(path: Path, behaviours: frozenset[str]) -> tuple[str, ...]:
    """The states of some behaviours that something selects, or may select."""
    try:
        found = {(selector, state) for selector, state, _ in path.selectable(behaviours)}
    except (NotKnown, NotChecked):
        found = {
            (selector.name, state.state)
            for selector in path.flight_modes
            for state in selector.entry.states
            if state.behaviour in behaviours
        }
    several = len(path.flight_modes) > 1
    return tuple(
        f"{selector.name} {state.state}" if several else state.state
        for selector in path.flight_modes
        for state in selector.entry.states
        if (selector.name, state.state) in found
    )


def _picture(
    directions: Sequence[DirectionPath], title: str, sign: int, *, stick: str = "", turn: str = ""
) -> ModelPicture | None:
    path = directions[0].path
    moves = []
    for direction in directions:
        way = positive(direction)
        if way is not None and direction.surface is not None:
            shown = way if sign > 0 else OPPOSITE[way]
            moves.append((direction.surface, _name(direction), shown))
    side = stick_side(path, stick)
    return model_picture(title, path.setup.model, moves, stick=stick, side=side, turn=turn)
