"""How far left and right of a pair move apart as one control moves."""

from __future__ import annotations

from functools import cache
from itertools import combinations, product
from math import prod
from typing import TYPE_CHECKING

from prebind.record import Record, field, record
from prebind.rule import NotChecked, NotKnown, Place

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind import ChannelPath, ControlPath, Path, ServoPath

    Pair = tuple[ServoPath, ServoPath]
    Position = str | float
    Switches = tuple[str, ...]
    Chosen = tuple[tuple[str, str], ...]

PAIRED = ("aileron", "flaperon", "elevon", "v-tail", "elevator", "flap", "airbrake", "spoiler")
"""Functions whose two sides turn the model where they move unequally."""

WAY = {"trailing-edge-up": 1, "trailing-edge-down": -1, "opens": 1, "closes": -1}
"""What a growing pulse does on either side, in one sense for both."""

MOST_COMBINATIONS = 1024


@record
class Lean(Record):
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

    The sticks for roll and yaw stand in the middle.  Terms of a demand add up, so that switches
    which bear on no term together are chosen one group after the other.
    """
    cases, groups = _switches(control, pair, path)
    _within_bound(control, cases, groups, path)
    positions = _positions(control, pair, path)

    @cache
    def stands(chosen: Chosen) -> list[tuple[float, float]]:
        others = {**path.rest(), **dict(chosen)}
        return [_stand(pair, {**others, control.id: position}) for position in positions]

    def change(chosen: Chosen, first: int, last: int) -> float:
        (left, right), (left_after, right_after) = stands(chosen)[first], stands(chosen)[last]
        return (left_after - left) - (right_after - right)

    found = Lean()
    for case, (first, last), side in product(
        _chosen(cases, path), combinations(range(len(positions)), 2), (1, -1)
    ):
        others = case
        for group in groups:
            options = [case + chosen for chosen in _chosen(group, path)]
            others += max(options, key=lambda o: side * change(o, first, last))[len(case) :]
        if abs(change(others, first, last)) > found.apart_us:
            before, after = stands(others)[first], stands(others)[last]
            moved = (after[0] - before[0], after[1] - before[1])
            found = Lean(*moved, positions[first], positions[last], dict(others))
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


def _switches(control: ControlPath, pair: Pair, path: Path) -> tuple[Switches, list[Switches]]:
    """The other switches that decide what this control does to the pair.

    Those of the overrides, in every combination; the rest in groups, each on its own terms.
    """
    channels = channels_of(pair)
    switches = {name for name, other in path.controls.items() if not other.continuous}
    switches.discard(control.id)
    cases = switches & {name for c in channels for name in c.built.override_controls}
    groups: list[set[str]] = []
    for term in (term for channel in channels for term in channel.terms()):
        if control.id == term.source or control.id in term.deps:
            joined = [group for group in groups if group & term.deps]
            groups = [group for group in groups if group not in joined]
            groups.append((switches & term.deps).union(*joined) - cases)
    return tuple(sorted(cases)), [tuple(sorted(group)) for group in groups if group]


def _within_bound(
    control: ControlPath, cases: Switches, groups: list[Switches], path: Path
) -> None:
    def count(names: Switches) -> int:
        return prod(len(path.control(name).positions) for name in names)

    cells = count(cases) * (1 + sum(count(group) for group in groups))
    if cells > MOST_COMBINATIONS:
        names = (control.id, *cases, *(name for group in groups for name in group))
        raise NotChecked(
            f"not checked: what “{control.id}” moves depends on {len(names) - 1} switches together",
            names,
            cells,
        )


def _chosen(names: Switches, path: Path) -> list[Chosen]:
    """Every combination of the positions of some switches."""
    positions = (path.control(name).positions for name in names)
    return [tuple(zip(names, chosen, strict=True)) for chosen in product(*positions)]


def _positions(control: ControlPath, pair: Pair, path: Path) -> list[Position]:
    """Every position; of a continuous control the ends, the middles and wherever it has a kink."""
    if not control.continuous:
        return sorted(control.positions, key=control.value)
    cells = [c for channel in channels_of(pair) for c in channel.cells({}).get(control.id, ())]
    kinks = {end for cell in cells for end in (cell.lo, cell.value, cell.hi)}
    for curves in (e.curves for of in (path.setup.channels, path.setup.inputs) for e in of):
        kinks.update(x for curve in curves or () for x, _ in curve.points)
    return [*sorted({0.0, *kinks})]


def _stand(pair: Pair, controls: Mapping[str, Position]) -> tuple[float, float]:
    """Where the two stand, in µs, edge up or open positive."""
    stages = {channel.number: channel.stages(controls) for channel in channels_of(pair)}
    left, right = (servo.port.situated_us(stages) * way(servo) for servo in pair)
    return left, right
