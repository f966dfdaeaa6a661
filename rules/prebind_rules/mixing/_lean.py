"""How far left and right of a pair move apart as one control moves."""

from __future__ import annotations

from itertools import product
from math import prod
from typing import TYPE_CHECKING

from attrs import field, frozen

from prebind.rule import NotChecked, NotKnown, Place

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind import ChannelPath, ControlPath, Path, ServoPath

    Pair = tuple[ServoPath, ServoPath]
    Position = str | float

PAIRED = ("aileron", "flaperon", "elevon", "v-tail", "elevator", "flap", "airbrake", "spoiler")
"""Functions whose two sides turn the model where they move unequally."""

WAY = {"trailing-edge-up": 1, "trailing-edge-down": -1, "opens": 1, "closes": -1}
"""What a growing pulse does on either side, in one sense for both."""

MOST_COMBINATIONS = 4096


@frozen
class Lean:
    """How far left and right go, in µs, edge up or open positive, between two positions."""

    left_us: float = 0.0
    right_us: float = 0.0
    start: Position = 0.0
    end: Position = 0.0
    others: Mapping[str, Position] = field(factory=dict)

    @property
    def apart_us(self) -> float:
        return abs(self.left_us - self.right_us)


def pairs(path: Path) -> Iterator[Place]:
    """Left and right servo of each function, in the order of the document."""
    sides: dict[tuple[str, str], list[ServoPath]] = {}
    known = {surface.id: surface for surface in path.setup.surfaces or ()}
    for servo in path.servos:
        surface = known.get(servo.entry.surface or "")
        if surface is not None and surface.function in PAIRED:
            sides.setdefault((surface.function, str(surface.side)), []).append(servo)
    for function in PAIRED:
        pair = sides.get((function, "left"), []), sides.get((function, "right"), [])
        for left, right in zip(*pair, strict=False):
            yield Place(left.at, (left, right))


def channels_of(servos: tuple[ServoPath, ...]) -> tuple[ChannelPath, ...]:
    return tuple(dict.fromkeys(channel for servo in servos for channel in servo.port.channels))


def movers(pair: Pair, path: Path) -> list[ControlPath]:
    """The controls that can move the pair and command neither roll nor yaw.

    One that only chooses rates moves nothing by itself.
    """
    commanding = {*path.sticks("roll"), *path.sticks("yaw")}
    moving = {name for channel in channels_of(pair) for name in channel.controls} - commanding
    return [
        control
        for name, control in path.controls.items()
        if name in moving and any("/rates/" not in job.at for job in control.jobs)
    ]


def worst(control: ControlPath, pair: Pair, path: Path) -> Lean:
    """The greatest lean over the control's whole movement, in every combination that bears on it.

    The sticks for roll and yaw stand in the middle.
    """
    switches = _switches(control, pair, path)
    combinations = prod(len(path.control(name).positions) for name in switches)
    if combinations > MOST_COMBINATIONS:
        raise NotChecked(
            f"not checked: what “{control.id}” moves depends on {len(switches)} switches",
            (control.id, *switches),
            combinations,
        )
    positions = _positions(control, pair, path)
    found = Lean()
    for chosen in product(*(path.control(name).positions for name in switches)):
        others = dict(zip(switches, chosen, strict=True))
        stands = [_stand(pair, {**others, control.id: position}, path) for position in positions]
        apart = [left - right for left, right in stands]
        first, last = sorted((apart.index(min(apart)), apart.index(max(apart))))
        left, right = (b - a for a, b in zip(stands[first], stands[last], strict=True))
        lean = Lean(left, right, positions[first], positions[last], others)
        found = max(found, lean, key=lambda one: one.apart_us)
    return found


def way(servo: ServoPath) -> int:
    """+1 where a growing pulse moves the edge up or opens, −1 where it moves down or closes."""
    found = WAY.get(servo.entry.increasing_pulse or "")
    if found is None:
        raise NotKnown(
            f"which way “{servo.entry.surface}” moves as the pulse grows is not recorded",
            (f"{servo.at}/increasing_pulse",),
        )
    return found


def _switches(control: ControlPath, pair: Pair, path: Path) -> list[str]:
    """The other switches that decide what this control does to the pair."""
    found: set[str] = set()
    for channel in channels_of(pair):
        found.update(channel.built.override_controls)
        for term in channel.terms():
            if control.id == term.source or control.id in term.deps:
                found |= term.deps
    found.discard(control.id)
    return [name for name in path.controls if name in found and not path.control(name).continuous]


def _positions(control: ControlPath, pair: Pair, path: Path) -> list[Position]:
    """Every position; of a continuous control the ends, the middles and wherever it has a kink."""
    if not control.continuous:
        return sorted(control.positions, key=control.value)
    cells = [c for channel in channels_of(pair) for c in channel.cells({}).get(control.id, ())]
    kinks = {end for cell in cells for end in (cell.lo, cell.value, cell.hi)}
    for curves in (e.curves for of in (path.setup.channels, path.setup.inputs) for e in of):
        kinks.update(x for curve in curves or () for x, _ in curve.points)
    return [*sorted({0.0, *kinks})]


def _stand(pair: Pair, controls: Mapping[str, Position], path: Path) -> tuple[float, float]:
    """Where the two stand, in µs, edge up or open positive."""
    ports = path.situation(controls).ports
    left, right = (ports[servo.port.number] * way(servo) for servo in pair)
    return left, right
