"""The picture of a model seen from behind, with the surfaces that move, and the stick or the hand.

A moved edge lies off its hinge line on the side to which it goes, with an arrow and the word.
"""

from __future__ import annotations

from math import cos, hypot, radians, sin
from typing import TYPE_CHECKING, Literal

from attrs import evolve, frozen

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.document.model import Model, Surface

Point = tuple[float, float]
Way = Literal["up", "down", "left", "right"]

WIDTH = 200
_EDGE = 13.0  # how far a moved edge is drawn from its hinge line
_TILT = 8  # degrees
_MIDDLE = (100.0, 62.0)  # the fuselage, at the height of the wing
_BELOW = 14.0  # from there to below the fuselage
_STICKS = {"roll": (1, 0), "yaw": (1, 0), "pitch": (0, 1)}  # right and back: y grows downwards

_RIGHT = (1.0, 0.0)
_UP = (0.0, -1.0)


@frozen
class Moved:
    """One surface off its hinge line: the edge, an arrow, and the word with its place."""

    edge: list[Point]
    arrow: list[Point]
    word: Way
    at: Point
    anchor: str


@frozen
class Wheel:
    """A steered wheel seen from above, turned by `degrees` to the right."""

    at: Point
    degrees: int


@frozen
class Stick:
    """A stick seen from above: the middle of its square, and where it is moved, if it is."""

    at: Point
    to: Point | None


@frozen
class ModelPicture:
    """`lines` are what does not move, as (x, y, x, y); `turn` the axis that a hand turns about."""

    title: str
    words: str
    height: int
    lines: list[tuple[float, float, float, float]]
    moved: list[Moved]
    wheels: list[Wheel]
    sticks: list[Stick]
    turn: str
    tilt: int


@frozen
class _Slot:
    """Where a surface is hinged, which way its edge goes up (or right), and where the arrow is.

    The word stands beside the arrow, unless it has a place of its own.
    """

    start: Point
    end: Point
    normal: Point
    arrow: float = 0.2
    word: Point | None = None


_AILERON = _Slot((142, 62), (190, 62), _UP)
_FLAP = _Slot((114, 62), (138, 62), _UP)
_ELEVATOR = _Slot((102, 34), (134, 34), _UP)
_WHOLE_ELEVATOR = _Slot((66, 34), (134, 34), _UP, 0.75)
_FOREPLANE = _Slot((66, 90), (134, 90), _UP, 0.75)
_RUDDER = _Slot((100, 33), (100, 8), _RIGHT, 0.5)
_V_TAIL = _Slot((106, 46), (140, 18), (-0.64, -0.77), 0.4, (147, 42))
_INVERTED = _Slot((104, 14), (138, 40), (0.61, -0.79), 0.4, (147, 40))
_WHEEL = (100.0, 92.0)
_WHEEL_OF_CANARD = (100.0, 104.0)

_SLOTS = {
    "aileron": _AILERON,
    "flaperon": _AILERON,
    "elevon": _AILERON,
    "spoiler": _FLAP,
    "airbrake": _FLAP,
    "flap": _FLAP,
}


def model_picture(
    title: str,
    model: Model,
    moves: Iterable[tuple[Surface, str, Way]],
    *,
    stick: str = "",
    side: str = "",
    turn: str = "",
) -> ModelPicture | None:
    """The picture of some surfaces, each with its name and way; None where none can be drawn.

    `stick` is the axis of a stick that is moved to its positive end, `side` that of the transmitter
    on which it is, where known; `turn` the axis of a turn by hand.
    """
    moved: list[Moved] = []
    wheels: list[Wheel] = []
    said: list[str] = []
    for surface, name, way in moves:
        slot = _slot(surface, model.tail)
        if surface.function == "steering":
            at = _WHEEL_OF_CANARD if model.tail == "canard" else _WHEEL
            wheels.append(Wheel(at, 25 if way == "right" else -25))
        elif slot is not None:
            moved.append(_moved(slot, way))
        said.append(f"{name} {way}")
    if not moved and not wheels:
        return None
    lines, tilt = list(_lines(model.tail)), _TILT if turn == "roll" else 0
    return ModelPicture(
        title,
        f"The model seen from behind: {', '.join(said)}.",
        round(_bottom(lines, moved, wheels, tilt)) + 4,
        lines,
        moved,
        wheels,
        list(_sticks(stick, side)) if stick else [],
        turn,
        tilt,
    )


def _bottom(
    lines: list[tuple[float, float, float, float]],
    moved: list[Moved],
    wheels: list[Wheel],
    tilt: int,
) -> float:
    """How far down anything of the picture reaches."""
    points = [*(p for line in lines for p in (line[:2], line[2:]))]
    points += [p for one in moved for p in (*one.edge, *one.arrow, one.at)]
    points += [(x, y + 12) for x, y in (wheel.at for wheel in wheels)]
    points.append((_MIDDLE[0], _MIDDLE[1] + _BELOW))
    angle = radians(tilt)
    return max(
        _MIDDLE[1] + (x - _MIDDLE[0]) * sin(angle) + (y - _MIDDLE[1]) * cos(angle)
        for x, y in points
    )


def _slot(surface: Surface, tail: str) -> _Slot | None:
    """Where the surface is drawn; None for what the picture does not have."""
    function, side = surface.function, surface.side
    if function == "elevator":
        if tail == "canard":
            return _FOREPLANE
        return _sided(_ELEVATOR, side) or _WHOLE_ELEVATOR
    if function == "rudder":
        return _RUDDER
    if function == "v-tail":
        return _sided(_INVERTED if tail == "inverted-v-tail" else _V_TAIL, side)
    found = _SLOTS.get(function)
    return None if found is None else _sided(found, side)


def _sided(slot: _Slot, side: object) -> _Slot | None:
    if side == "right":
        return slot
    if side != "left":
        return None
    normal = (-slot.normal[0], slot.normal[1])
    word = None if slot.word is None else _mirrored(slot.word)
    return evolve(
        slot, start=_mirrored(slot.start), end=_mirrored(slot.end), normal=normal, word=word
    )


def _mirrored(point: Point) -> Point:
    return WIDTH - point[0], point[1]


def _moved(slot: _Slot, way: Way) -> Moved:
    """The edge off its hinge line, beyond it the arrow, and the word beside that."""
    sign = 1 if way in ("up", "right") else -1
    normal = (slot.normal[0] * sign, slot.normal[1] * sign)
    (x, y), (to_x, to_y) = slot.start, slot.end
    length = hypot(to_x - x, to_y - y)
    along = ((to_x - x) / length, (to_y - y) / length)
    edge = [slot.start, slot.end, _off(slot.end, normal, _EDGE), _off(slot.start, normal, _EDGE)]
    foot = _off(_off(slot.start, along, slot.arrow * length), normal, _EDGE + 2)
    tip = _off(foot, normal, 8)
    beside = slot.word or _off(_off(foot, normal, 4), along, 8)
    if slot.normal == _RIGHT:
        beside = _off(tip, normal, 4)
    outward = normal[0] if slot.normal == _RIGHT else along[0]
    return Moved(
        edge,
        [_off(foot, along, 5), tip, _off(foot, along, -5)],
        way,
        (beside[0], round(beside[1] + 4.5, 1)),
        "start" if outward > 0 else "end",
    )


def _off(point: Point, normal: Point, by: float) -> Point:
    return round(point[0] + normal[0] * by, 1), round(point[1] + normal[1] * by, 1)


def _lines(tail: str) -> Iterator[tuple[float, float, float, float]]:
    """Wing, tail and fin as they stand."""
    yield 8, 62, 192, 62
    if tail == "none":
        return
    if tail in ("v-tail", "inverted-v-tail"):
        slot = _V_TAIL if tail == "v-tail" else _INVERTED
        yield 100, 62, 100, 50 if tail == "v-tail" else 12
        (x, y), (to_x, to_y) = slot.start, slot.end
        yield x, y, to_x, to_y
        yield WIDTH - x, y, WIDTH - to_x, to_y
        return
    yield 100, 62, 100, 8
    if tail == "canard":
        yield 64, 90, 136, 90
    else:
        yield 64, 34, 136, 34


def _sticks(axis: str, side: str) -> Iterator[Stick]:
    """Both sticks where it is known on which side the moved one is, else that one alone."""
    right, back = _STICKS[axis]
    for name, x in (("left", 14.0), ("right", 40.0)) if side else (("", 14.0),):
        yield Stick((x, 14.0), (x + 9 * right, 14.0 + 9 * back) if name == side else None)
