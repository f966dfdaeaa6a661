"""The pulses of ports and channels, laid side by side for two setups.

Two demands that agree at the points tried here agree everywhere: between two points at which a
condition, a curve or a sign changes, a demand is a sum of cubics of one control each, and each is
tried at five points.  What a limit hides at all of them shows where it begins.
"""

from __future__ import annotations

from itertools import pairwise, product
from math import prod
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.path.facts import NotChecked
from prebind.path.port import PortPath
from prebind.path.proofs import tenth

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from prebind.path import Path
    from prebind.path.channel import ChannelPath, Stages
    from prebind.path.control import ControlPath
    from prebind.path.facts import Controls, Position

    Source = PortPath | ChannelPath

BOUND = 20_000
"""Situations in which one port, or one selector, is compared."""

STRETCHES = 500
"""Between two points of one control, where it is looked for what a limit hides."""

_HALVINGS = 24


class Pulses(NamedTuple):
    """Something that puts out pulses: the channels that feed it, and what it makes of theirs.

    `makes` is how it does that, `us` does it.
    """

    path: Path
    channels: tuple[ChannelPath, ...]
    makes: Any
    us: Callable[[Mapping[int, Stages]], float]

    @classmethod
    def of(cls, source: Source) -> Pulses:
        if isinstance(source, PortPath):
            entry, factors = source.entry, [it.factor for it in source.shares]
            own = (entry.reversed, entry.travel_percent, source.centre_us, entry.limit_us)
            made = (own, factors, source.mix_limit_us if source.mixed else None)
            return cls(source.path, source.channels, made, source.situated_us)
        return cls(source.path, (source,), None, lambda stages: stages[source.number].us)

    @property
    def controls(self) -> set[str]:
        return {name for channel in self.channels for name in channel.controls}

    @property
    def made_of(self) -> Any:
        """Everything in the setup that decides the pulses, and some that does not."""
        setup = self.path.setup
        controls = [self.path.control(name) for name in sorted(self.controls)]
        feeding = {channel.number for channel in self.channels}
        mixes = [mix for mix in setup.mixes if mix.to in feeding]
        feeding.update(mix.source.channel for mix in mixes if mix.source.channel is not None)
        return (
            self.makes,
            setup.transmitter.output,
            [(it.id, [(at, it.value(at)) for at in it.positions]) for it in controls],
            [entry for entry in setup.channels if entry.channel in feeding],
            [override for override in setup.overrides if override.channel in feeding],
            (mixes, setup.inputs, setup.phases),
        )

    def at(self, where: Controls) -> float:
        """The pulse in a situation, in µs."""
        return self.us({channel.number: _stages(channel, where) for channel in self.channels})

    def unlimited(self, where: Controls) -> list[float]:
        """What the channels would put out without their limit, in percent."""
        return [_stages(channel, where).unlimited for channel in self.channels]


def _stages(channel: ChannelPath, where: Controls) -> Stages:
    return channel.stages({name: where[name] for name in channel.controls})


class Moved(NamedTuple):
    """Where two pulses differ most, in µs; controls that stand at rest are left out."""

    controls: Controls
    before_us: float
    after_us: float

    @property
    def apart(self) -> float:
        return abs(self.after_us - self.before_us)


def most_moved(before: Source, after: Source) -> Moved | None:
    """None where the pulses are the same everywhere.

    Raises NotKnown where they cannot be worked out, NotChecked beyond the bound.
    """
    old, new = Pulses.of(before), Pulses.of(after)
    if old.made_of == new.made_of:
        return None
    lines = _lines(old, new)
    most = _most(old, new, (where for line in lines for where in line.situations()))
    if most is None:
        most = _most(old, new, _edges(old, new, lines))
    if most is None:
        return None
    rest = new.path.rest()
    shown = {name: at for name, at in most.controls.items() if _shown(at, rest.get(name))}
    return most._replace(controls=shown)


def _most(old: Pulses, new: Pulses, situations: Iterable[Controls]) -> Moved | None:
    most: Moved | None = None
    for where in situations:
        here = Moved(where, old.at(where), new.at(where))
        if tenth(here.before_us) == tenth(here.after_us):
            continue
        if most is None or here.apart > most.apart + 1e-6:
            most = here
    return most


def _shown(at: Position, rest: Position | None) -> bool:
    return isinstance(at, str) or at != rest


class Line(NamedTuple):
    """One control moved from point to point while the others stand; None where nothing moves."""

    where: dict[str, Position]
    moving: str | None = None
    points: Sequence[float] = ()

    def situations(self) -> Iterator[dict[str, Position]]:
        if self.moving is None:
            yield self.where
        else:
            yield from ({**self.where, self.moving: at} for at in self.points)


def _lines(old: Pulses, new: Pulses) -> list[Line]:
    """Every combination that conditions can tell apart, each stick moved from end to end in it."""
    names = [name for name in new.path.controls if name in old.controls | new.controls]
    names += sorted(old.controls - set(names))
    choices: dict[str, Sequence[Position]] = {}
    points: dict[str, Sequence[float]] = {}
    for name in names:
        its = [it.path.controls[name] for it in (old, new) if name in it.controls]
        cuts = {cut for it in (old, new) for c in it.channels for cut in c.cuts().get(name, ())}
        if all(control.continuous for control in its):
            choices[name] = _between({-100.0, 100.0, *cuts}, 2) if cuts else [its[-1].rest]
            bends = {bend for it in (old, new) for bend in _bends(it.path, name)}
            points[name] = _between({-100.0, 0.0, 100.0, *cuts, *bends}, 4)
        else:
            choices[name] = _in_both(its)
    corners = [*product((-100.0, 100.0), repeat=len(points))]
    bounded(choices, len(corners) + sum(map(len, points.values())))
    lines: list[Line] = []
    for steady in product(*choices.values()):
        where = dict(zip(choices, steady, strict=True))
        lines += (Line({**where, **dict(zip(points, it, strict=True))}) for it in corners)
        lines += (Line(where, name, its_points) for name, its_points in points.items())
    return lines


def _edges(old: Pulses, new: Pulses, lines: Iterable[Line]) -> Iterator[dict[str, Position]]:
    """Where a limit begins between two points: it can hide at both what differs between them."""
    stretches = [
        (line.where, line.moving, ends)
        for line in lines
        if line.moving is not None
        for ends in pairwise(line.points)
        if old.makes != new.makes
        or not all(_close(old, new, {**line.where, line.moving: end}) for end in ends)
    ]
    if len(stretches) > STRETCHES:
        names = tuple(dict.fromkeys(name for _, name, _ in stretches))
        message = f"limits may hide a change in {len(stretches):,} places: {', '.join(names)}"
        raise NotChecked(message, names, len(stretches))
    for where, name, ends in stretches:
        for it in (old, new):
            for start, end in (ends, ends[::-1]):
                yield {**where, name: _reached(it, where, name, start, end)}


def _close(old: Pulses, new: Pulses, where: Controls) -> bool:
    pairs = zip(old.unlimited(where), new.unlimited(where), strict=True)
    return len(old.channels) == len(new.channels) and all(abs(a - b) < 1e-9 for a, b in pairs)


def _reached(it: Pulses, where: Controls, name: str, start: float, end: float) -> float:
    """The first point on the way from start to end with the pulse that it has at the end."""
    wanted = it.at({**where, name: end})
    for _ in range(_HALVINGS):
        middle = (start + end) / 2
        if abs(it.at({**where, name: middle}) - wanted) < 1e-9:
            end = middle
        else:
            start = middle
    return end


def _between(ends: Iterable[float], parts: int) -> list[float]:
    """The ends in order, and the points that divide each stretch between two of them."""
    ordered = sorted(end for end in ends if -100 <= end <= 100)
    inner = [
        low + (high - low) * i / parts for low, high in pairwise(ordered) for i in range(parts)
    ]
    return [*inner, ordered[-1]]


def _bends(path: Path, control: str) -> Iterator[float]:
    """Where curves that the control goes through have their points."""
    made = {it.id for it in path.setup.inputs if it.control == control}
    driven = (it.curves for it in path.setup.channels if it.control in (control, *made))
    for curves in (*driven, *(it.curves for it in path.setup.inputs if it.id in made)):
        yield from (point[0] for curve in curves or () for point in curve.points)


def _in_both(controls: Sequence[ControlPath]) -> list[Position]:
    common = [it for it in controls[0].positions if all(it in c.positions for c in controls)]
    if not common:
        name = controls[0].id
        raise NotChecked(f"“{name}” has no position that it had before", (name,), 0)
    return [*common]


def bounded(choices: Mapping[str, Sequence[Any]], each: int) -> None:
    """Raises NotChecked where there are more situations, `each` a combination, than the bound."""
    many = prod(map(len, choices.values())) * each
    if many > BOUND:
        free = tuple(name for name, its in choices.items() if len(its) > 1)
        message = f"{len(free)} controls meet, which makes {many:,} situations to compare"
        raise NotChecked(f"{message}: {', '.join(free)}", free, many)
