"""How a channel answers to one control while the others stand anywhere."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from math import floor, inf
from typing import TYPE_CHECKING, NamedTuple

from prebind.path.conditions import Cell
from prebind.path.cubic import sum_of
from prebind.path.facts import Closed, Controls, NotChecked, fact
from prebind.path.scale import half_step
from prebind.path.sums import (
    Piece,
    Span,
    Term,
    added,
    beside,
    between,
    cases,
    flat,
    spans_of,
)
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from prebind.path.channel import ChannelPath
    from prebind.path.scale import Scale


@record
class Least:
    """The least, over all combinations, of something in percent of output, and where."""

    percent: float
    controls: Controls


class Movement(NamedTuple):
    """What the moving part of the demand is in one combination of the others, in percent."""

    low_end: float
    high_end: float
    least: float
    greatest: float
    rest: float

    @property
    def change(self) -> float:
        return self.high_end - self.low_end

    @property
    def span(self) -> float:
        return self.greatest - self.least

    @property
    def deviation(self) -> float:
        """The greatest distance from where the control is at rest."""
        return max(abs(self.least - self.rest), abs(self.greatest - self.rest))


Case = dict[str, Cell]
"""The cell in which each control stands that has a say in the moving part."""


class Tried(NamedTuple):
    """The signs that occur, and the least span and deviation in percent, each with where."""

    signs: dict[int, Situation]
    least: tuple[float, Situation] | None
    deviation: tuple[float, Situation] | None


class Bounds(NamedTuple):
    """What is sure of all movements; `sole` is the only sign, and a witness of it."""

    least: float = 0.0
    deviation: float = 0.0
    sole: tuple[int, Controls] | None = None


Situation = tuple[Controls, Piece, float]
"""Where a movement is, and what the others add, with the stretch that it lies in."""

MANY = 500
"""Pieces of what the others add that are looked at one by one."""

COARSE = 1.0
"""Of larger steps, in percent, every change is looked at; of smaller ones one more is little."""

BESIDE = 1e-7
"""How far to both sides of a step's change it is looked at, in percent."""

SMALL = 1e-9
"""Less output than this, in percent, is none: floating point, not a movement."""


class Response(Closed):
    """How a channel's output answers as a control goes from its low to its high end.

    Combinations in which an override of the channel holds do not count.
    """

    def __init__(self, channel: ChannelPath, control: str) -> None:
        self._channel = channel
        self._control = control
        self._cells = channel.cells({})
        self._own = sorted(self._cells.get(control, ()), key=lambda cell: cell.lo)
        self._known: dict[tuple[int, ...], list[Piece]] = {}
        self.at = channel.at

    # What is asked of it

    @fact
    def signs(self) -> dict[int, Controls]:
        """Which signs of output(high end) − output(low end) occur, each with a witness.

        Raises NotChecked where the control also decides what another one does here and a limit or a
        step could hide one of the signs.
        """
        sole = self._bounds.sole
        if sole is not None:
            return {sole[0]: sole[1]}
        signs = self._tried.signs
        if self._apart and 0 in signs and not {-1, 1} <= signs.keys():
            raise self._not_checked()
        return {sign: self._witness(*situation) for sign, situation in signs.items()}

    @fact
    def least(self) -> Least | None:
        """The smallest span of the output over the whole movement; 0 is a dead control.

        None where an override always holds.  Raises NotChecked where the control also decides what
        another one does here.
        """
        return self._least(self._tried.least)

    @fact
    def least_deviation(self) -> Least | None:
        """The smallest of the greatest distances from the output at the control's rest.

        None where an override always holds.  Raises NotChecked where the control also decides what
        another one does here.
        """
        return self._least(self._tried.deviation)

    @property
    def sure_least(self) -> float:
        """What `least` is not below, in percent, told without trying what the others add.

        0 where a limit may cut, an override always holds, or the control also decides what another
        one does here.
        """
        return self._bounds.least

    @property
    def sure_deviation(self) -> float:
        """What `least_deviation` is not below, as `sure_least`."""
        return self._bounds.deviation

    def _least(self, found: tuple[float, Situation] | None) -> Least | None:
        if self._apart:
            raise self._not_checked()
        return None if found is None else Least(found[0], self._witness(*found[1]))

    def _not_checked(self) -> NotChecked:
        message = f"not checked: “{self._control}” also decides here what “{self._apart[0]}” does"
        return NotChecked(message, (self._control, *self._apart), len(self._apart))

    # How it is found

    @fact
    def _bounds(self) -> Bounds:
        if self._apart:
            return Bounds()
        surely = _least_change(self._channel)
        signs: dict[int, Controls] = {}
        least = deviation = inf
        for move, _, where in self._movements():
            least = min(least, surely(move.span))
            deviation = min(deviation, surely(move.deviation))
            if not least:  # then nothing is sure of anything that moves less
                return Bounds()
            signs.setdefault(self._sign(move) if surely(abs(move.change)) > SMALL else 0, where)
        if not signs:
            return Bounds()
        sole = None if len(signs) > 1 or 0 in signs else next(iter(signs.items()))
        return Bounds(least, deviation, sole)

    @fact
    def _tried(self) -> Tried:
        """What comes of all situations, but for those that can bring nothing new."""
        signs: dict[int, Situation] = {}
        least: tuple[float, Situation] | None = None
        deviation: tuple[float, Situation] | None = None
        at = cache(self._channel.scale.percent)  # movements share most of their ends
        surely = _least_change(self._channel)
        for move, where, others in self._combinations():
            if least is not None and deviation is not None:
                nothing_new = (
                    self._sign(move) in signs
                    and surely(abs(move.change)) > SMALL
                    and surely(move.span) >= least[0] - SMALL
                    and surely(move.deviation) >= deviation[0] - SMALL
                )
                if nothing_new:
                    continue
            for here in self._situations(move, where, others):
                shift = here[-1]
                change = at(move.high_end + shift) - at(move.low_end + shift)
                sign = 0 if abs(change) <= SMALL else (1 if change > 0 else -1)
                signs.setdefault(sign, here)
                low, high = at(move.least + shift), at(move.greatest + shift)
                span = abs(high - low)
                if least is None or span < least[0] - SMALL:
                    least = 0.0 if span <= SMALL else span, here
                centre = at(move.rest + shift)
                most = max(abs(low - centre), abs(high - centre))
                if deviation is None or most < deviation[0] - SMALL:
                    deviation = 0.0 if most <= SMALL else most, here
        return Tried(signs, least, deviation)

    def _combinations(self) -> Iterator[tuple[Movement, Controls, list[Piece]]]:
        """The movements with what the others add, those that are alike once."""
        told: set[tuple[Movement, int]] = set()
        for move, case, where in self._movements():
            others = self._others(case)
            if (move, id(others)) not in told:
                told.add((move, id(others)))
                yield move, where, others

    @fact
    def _apart(self) -> tuple[str, ...]:
        """Controls whose terms hang on this control's position."""
        control = self._control
        sources = [t.source for t in self._channel.terms() if control in t.deps]
        return tuple(dict.fromkeys(s for s in sources if s is not None and s != control))

    @fact
    def _moving(self) -> list[Term]:
        """The terms that are not the same wherever this control stands."""
        return [term for term in self._channel.terms() if self._moves(term)]

    @fact
    def _still(self) -> list[Term]:
        return [term for term in self._channel.terms() if not self._moves(term)]

    def _moves(self, term: Term) -> bool:
        return term.source in (self._control, *self._apart) or self._control in term.deps

    def _sign(self, move: Movement) -> int:
        """The sign of the output's change where neither a limit nor a step hides it."""
        return self._channel.direction if move.change > 0 else -self._channel.direction

    def _movements(self) -> Iterator[tuple[Movement, Case, Controls]]:
        """Every combination of the conditions that bear on what this control does here."""
        channel, control = self._channel, self._control
        if not self._own:
            yield Movement(0, 0, 0, 0, 0), {}, {}
            return
        asked = {dep for term in self._moving for dep in term.deps}
        asked.update(self._apart, channel.built.override_controls)
        asked.discard(control)
        for case in cases(tuple(sorted(asked)), self._cells, channel.path.bound):
            for placed in self._placed(case):
                move = self._movement(placed)
                if move is not None:
                    yield move, case, {c: cell.position for c, cell in placed.items()}

    def _placed(self, case: Case) -> Iterator[Case]:
        """The case with every control that hangs on this one where it adds least, and most.

        What a control adds at one end of the movement and not at the other is a cubic of its
        position, and the controls are independent, so the least and the greatest change lie at
        these.
        """
        if not self._apart:
            yield case
            return
        first, last = self._own[0], self._own[-1]
        for end in (0, 1):
            placed = dict(case)
            for source in self._apart:
                cell = case[source]
                terms = [term for term in self._moving if term.source == source]
                low = sum_of([term.choose({**case, self._control: first}) for term in terms])
                high = sum_of([term.choose({**case, self._control: last}) for term in terms])
                found = high.minus(low).ends(cell.lo, cell.hi, cell.lo_closed, cell.hi_closed)[end]
                where = beside(found[1], found[2], cell)
                placed[source] = Cell(cell.position if cell.point else where, where, where, where)
            yield placed

    def _movement(self, case: Case) -> Movement | None:
        """The moving part; None where an override holds wherever the control stands."""
        channel, control = self._channel, self._control
        ends: list[float] = []
        values: list[float] = []
        at_rest = 0.0
        resting = channel.path.conditions.held(control, channel.path.control(control).rest)
        for cell in self._own:
            here = {**case, control: cell}
            if channel.override("last", here) or channel.override("before-mixes", here):
                continue
            total = sum_of([term.choose(here) for term in self._moving if term.source == control])
            level = sum(
                term.choose(here)(here[term.source].value if term.source else 0.0)
                for term in self._moving
                if term.source != control
            )
            least, greatest = total.ends(cell.lo, cell.hi)
            values += [least[0] + level, greatest[0] + level]
            ends += [total(cell.lo) + level, total(cell.hi) + level]
            if cell.holds(resting.value):
                at_rest = total(resting.value) + level
        if not ends:
            return None
        return Movement(ends[0], ends[-1], min(values), max(values), at_rest)

    def _others(self, case: Case) -> list[Piece]:
        """What the other terms can add there.

        More pieces than are worth looking at one by one count as one stretch from end to end: an
        end that only floating point or a sum beyond the bound could reach is then judged too.
        """
        if not self._own:
            return [(0.0, 0.0, True, True, {}, {})]
        key = tuple([id(cell) for control, cell in case.items() if control in self._bearing])
        found = self._known.get(key)
        if found is None:
            held = {control: (cell,) for control, cell in case.items()}
            here = {**self._cells, **held, self._control: self._cells[self._control][:1]}
            spans = spans_of(self._still, here, self._channel.path.bound)
            found = self._known[key] = _stretches(spans, self._channel.path.bound)
        return found

    @fact
    def _bearing(self) -> set[str | None]:
        """The controls that have a say in the terms that stay."""
        return {control for term in self._still for control in (term.source, *term.deps)}

    def _situations(
        self, move: Movement, where: Controls, others: list[Piece]
    ) -> Iterator[Situation]:
        """What the others add, where it can matter, each with the stretch that it lies in."""
        for stretch in others:
            for shift in _shifts(self._channel.scale, move, stretch[0], stretch[1]):
                yield where, stretch, shift

    def _witness(self, where: Controls, stretch: Piece, shift: float) -> Controls:
        """Where everything stands when the others add that."""
        low, high, _, _, at_low, at_high = stretch
        if shift in (low, high):
            return {**where, **flat(at_low if shift == low else at_high)}
        share = (shift - low) / (high - low)
        return {**where, **between(flat(at_low), flat(at_high), self._adds, shift, share)}

    def _adds(self, controls: Controls) -> float:
        """What the other terms add where everything stands in certain places."""
        where = {**self._channel.path.rest(), **controls}
        return sum(self._channel.adds(term, where) for term in self._still)


def _least_change(channel: ChannelPath) -> Callable[[float], float]:
    """The least that the output changes, in percent, where the demand changes by so much.

    Where a limit may cut that is nothing.  A change between steps is a whole number of steps.
    """
    travel = channel.entry.travel_percent
    slope = 0.0 if channel.may_clip else min(travel.low, travel.high) / 100
    step = 2 * half_step(channel.output_scale)

    def least_change(demand: float) -> float:
        change = slope * demand
        return max(0, floor(change / step - SMALL)) * step if step else change

    return least_change


def _stretches(others: tuple[Span, ...], bound: int) -> list[Piece]:
    pieces = added(others, bound)
    if pieces is not None and len(pieces) <= MANY:
        return pieces
    low, high = [span.low for span in others], [span.high for span in others]
    whole = (sum(e[0] for e in low), sum(e[0] for e in high), True, True)
    return [(*whole, [e[2] for e in low], [e[2] for e in high])]


def _shifts(scale: Scale, move: Movement, low: float, high: float) -> list[float]:
    """What the others add, where it can matter.

    The output is piecewise linear in the shift, so its least change lies at an end of the shift's
    range or where one of the control's own ends meets a kink of the output's scale; its least
    deviation may also lie between these, where it is as far to both sides.
    """
    found = [0.0] if low <= 0 <= high else []
    found += [low, high]
    if low == high:
        return list(dict.fromkeys(found))
    ends = dict.fromkeys((move.low_end, move.high_end, move.least, move.greatest, move.rest))
    found += [kink - end for kink in scale.kinks for end in ends if low < kink - end < high]
    found += _even(scale, move, sorted(found))
    step = 2 * half_step(scale.output)
    for end in ends if step > COARSE else (move.low_end, move.high_end) if step else ():
        found += _step_changes(scale, end, low, high)
    return list(dict.fromkeys(found))


def _even(scale: Scale, move: Movement, shifts: list[float]) -> Iterator[float]:
    """Between which shifts, and where, the output is as far from that at rest to both sides."""
    at = scale.exact.percent

    def uneven(shift: float) -> float:
        rest = at(move.rest + shift)
        return abs(at(move.least + shift) - rest) - abs(at(move.greatest + shift) - rest)

    for (start, before), (end, after) in pairwise((shift, uneven(shift)) for shift in shifts):
        if before * after < 0:
            yield start + (end - start) * before / (before - after)


def _step_changes(scale: Scale, end: float, low: float, high: float) -> Iterator[float]:
    """Shifts to both sides of the changes of an end's step; of small steps only the first change.

    A movement smaller than a step shows in the output only where a step lies within it.
    """
    half = half_step(scale.output)
    first, last = scale.percent(end + low), scale.percent(end + high)
    count = round(abs(last - first) / (2 * half))
    for number in range(count if 2 * half > COARSE else min(count, 1)):
        level = first + (half if last > first else -half) * (2 * number + 1)
        at = scale.demand(level, end + low, end + high) - end
        yield max(low, at - BESIDE)
        yield min(high, at + BESIDE)
