"""How far left and right of a pair move apart as one control moves."""

from __future__ import annotations

from functools import cache
from itertools import combinations, product
from math import prod
from typing import TYPE_CHECKING

from prebind.record import Record, field, record
from prebind.rule import NotChecked, Place
from prebind_rules.mixing._way import way

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from prebind import ChannelPath, ControlPath, Path, ServoPath

    Pair = tuple[ServoPath, ServoPath]
    Position = str | float
    Switches = tuple[str, ...]
    Chosen = tuple[tuple[str, str], ...]
    Stands = list[tuple[float, float]]

PAIRED = ("aileron", "flaperon", "elevon", "v-tail", "elevator", "flap", "airbrake", "spoiler")
"""Functions whose two sides turn the model where they move unequally."""

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


def commanding(path: Path) -> set[str]:
    """The sticks for roll and yaw, which are there to move the two apart."""
    return {*path.sticks("roll"), *path.sticks("yaw")}


def movers(pair: Pair, path: Path) -> list[ControlPath]:
    """The controls that can move the pair and command neither roll nor yaw.

    One that only chooses rates moves nothing by itself.
    """
    moving = {name for channel in channels_of(pair) for name in channel.controls}
    moving -= commanding(path)
    return [
        control
        for name, control in path.controls.items()
        if name in moving and any("/rates/" not in job.at for job in control.jobs)
    ]


def worst(control: ControlPath, pair: Pair, path: Path, close: Callable[[str], bool]) -> Lean:
    """The greatest lean over the control's whole movement, in every combination that bears on it.

    None is looked for where both sides surely stay `close`.  The sticks for roll and yaw stand in
    the middle.  Terms of a demand add up, so that switches which bear on no term together are
    chosen one group after the other.
    """
    cases, groups = _switches(control, pair, path)
    _within_bound(control, cases, groups, path)
    positions = _positions(control, pair, path)

    stand = _stand_of(pair)
    if close(control.id):
        return Lean()
    matter = {name for channel in channels_of(pair) for name in channel.controls}
    rest = {name: at for name, at in path.rest().items() if name in matter}

    @cache
    def stands(chosen: Chosen) -> Stands:
        others = {**rest, **dict(chosen)}
        return [stand({**others, control.id: position}) for position in positions]

    by_group = [_chosen(group, path) for group in groups]
    found = Lean()
    for case in _chosen(cases, path):
        tried = [[(option, stands(case + option)) for option in options] for options in by_group]
        for (first, last), sign in product(combinations(range(len(positions)), 2), (1, -1)):
            others = case
            for options in tried:
                best, _ = max(options, key=lambda o: sign * _change(o[1], first, last))
                others += best
            where = stands(others)
            if abs(_change(where, first, last)) > found.apart_us:
                before, after = where[first], where[last]
                moved = (after[0] - before[0], after[1] - before[1])
                found = Lean(*moved, positions[first], positions[last], dict(others))
    return found


def _change(where: Stands, first: int, last: int) -> float:
    """How much further left goes than right from one position to another."""
    (left, right), (left_after, right_after) = where[first], where[last]
    return (left_after - left) - (right_after - right)


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


def _stand_of(pair: Pair) -> Callable[[Mapping[str, Position]], tuple[float, float]]:
    """What says where the two stand, in µs, edge up or open positive."""
    channels = channels_of(pair)
    (left, left_way), (right, right_way) = ((servo.port, way(servo)) for servo in pair)

    def stand(controls: Mapping[str, Position]) -> tuple[float, float]:
        stages = {channel.number: channel.stages(controls) for channel in channels}
        return left.situated_us(stages) * left_way, right.situated_us(stages) * right_way

    return stand
