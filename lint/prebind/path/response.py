"""How a channel answers to one control while the others stand anywhere."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from math import floor
from typing import TYPE_CHECKING

from prebind.path.conditions import Cell
from prebind.path.cubic import sum_of
from prebind.path.facts import Controls, NotChecked, Position
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


@record
class Least:
    """The least, over all combinations, of something in percent of output, and where."""

    percent: float
    controls: Controls


@record
class Response:
    """How a channel's output answers as a control goes from its low to its high end.

    `signs`: which signs of output(high end) − output(low end) occur, each with a witness.
    Combinations in which an override of the channel holds do not count.
    """

    _signs: dict[int, Controls]
    _spans: tuple[Least, Least] | NotChecked | None

    @property
    def signs(self) -> dict[int, Controls]:
        """Raises NotChecked where the control also decides what another one does here and a limit
        or a step could hide one of the signs.
        """
        hidden = 0 in self._signs and not {-1, 1} <= self._signs.keys()
        if isinstance(self._spans, NotChecked) and hidden:
            raise self._spans
        return self._signs

    @property
    def least(self) -> Least | None:
        """The smallest span of the output over the whole movement; 0 is a dead control.

        Raises NotChecked where the control also decides what another one does here.
        """
        return self._both[0] if self._both is not None else None

    @property
    def least_deviation(self) -> Least | None:
        """The smallest of the greatest distances from the output at the control's rest.

        Raises NotChecked where the control also decides what another one does here.
        """
        return self._both[1] if self._both is not None else None

    @property
    def _both(self) -> tuple[Least, Least] | None:
        if isinstance(self._spans, NotChecked):
            raise self._spans
        return self._spans


@record
class Movement:
    """One combination of the others: the moving part of the demand, and what the rest can add.

    `shift` says what the rest adds where everything stands in certain places.
    """

    low_end: float
    high_end: float
    least: float
    greatest: float
    rest: float
    others: list[Piece]
    where: Controls
    shift: Callable[[Controls], float]


Situation = tuple[Movement, Piece, float]
"""A movement, and what the others add, with the stretch that it lies in."""

MANY = 500
"""Pieces of what the others add that are looked at one by one."""

COARSE = 1.0
"""Of larger steps, in percent, every change is looked at; of smaller ones one more is little."""

BESIDE = 1e-7
"""How far to both sides of a step's change it is looked at, in percent."""

SMALL = 1e-9
"""Less output than this, in percent, is none: floating point, not a movement."""


def response(channel: ChannelPath, control: str) -> Response:
    signs: dict[int, Situation] = {}
    least: tuple[float, Situation] | None = None
    deviation: tuple[float, Situation] | None = None
    at = cache(channel.scale.percent)  # movements share most of their ends
    surely = _least_change(channel)
    for move in _movements(channel, control):
        if least is not None and deviation is not None:
            change = move.high_end - move.low_end
            sign = channel.direction if change > 0 else -channel.direction
            most = max(abs(move.least - move.rest), abs(move.greatest - move.rest))
            nothing_new = (
                sign in signs
                and surely(abs(change)) > SMALL
                and surely(move.greatest - move.least) >= least[0] - SMALL
                and surely(most) >= deviation[0] - SMALL
            )
            if nothing_new:
                continue
        for shift, stretch in _situations(channel, move):
            change = at(move.high_end + shift) - at(move.low_end + shift)
            sign = 0 if abs(change) <= SMALL else (1 if change > 0 else -1)
            if sign not in signs:
                signs[sign] = move, stretch, shift
            low, high = at(move.least + shift), at(move.greatest + shift)
            span = abs(high - low)
            if least is None or span < least[0] - SMALL:
                least = 0.0 if span <= SMALL else span, (move, stretch, shift)
            centre = at(move.rest + shift)
            most = max(abs(low - centre), abs(high - centre))
            if deviation is None or most < deviation[0] - SMALL:
                deviation = 0.0 if most <= SMALL else most, (move, stretch, shift)
    shown = {sign: _where(*situation) for sign, situation in signs.items()}
    apart = _apart(channel, control)
    if apart:
        message = f"not checked: “{control}” also decides here what “{apart[0]}” does"
        return Response(shown, NotChecked(message, (control, *apart), len(apart)))
    if least is None or deviation is None:
        return Response(shown, None)
    (span, narrowest), (most, calmest) = least, deviation
    return Response(shown, (Least(span, _where(*narrowest)), Least(most, _where(*calmest))))


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


def _apart(channel: ChannelPath, control: str) -> tuple[str, ...]:
    """Controls whose terms hang on this control's position."""
    sources = [t.source for t in channel.terms() if control in t.deps and t.source != control]
    return tuple(dict.fromkeys(source for source in sources if source is not None))


def _situations(channel: ChannelPath, move: Movement) -> list[tuple[float, Piece]]:
    """What the others add, where it can matter, each with the stretch that it lies in."""
    return [
        (shift, stretch)
        for stretch in move.others
        for shift in _shifts(channel, move, stretch[0], stretch[1])
    ]


def _stretches(others: tuple[Span, ...], bound: int) -> list[Piece]:
    """What the others can add.

    More pieces than are worth looking at one by one count as one stretch from end to end: an end
    that only floating point or a sum beyond the bound could reach is then judged too.
    """
    pieces = added(others, bound)
    if pieces is not None and len(pieces) <= MANY:
        return pieces
    low, high = [span.low for span in others], [span.high for span in others]
    whole = (sum(e[0] for e in low), sum(e[0] for e in high), True, True)
    return [(*whole, [e[2] for e in low], [e[2] for e in high])]


def _where(move: Movement, stretch: Piece, shift: float) -> Controls:
    """Where everything stands when the others add that."""
    low, high, _, _, at_low, at_high = stretch
    if shift in (low, high):
        return {**move.where, **flat(at_low if shift == low else at_high)}
    share = (shift - low) / (high - low)
    return {**move.where, **between(flat(at_low), flat(at_high), move.shift, shift, share)}


def _shifts(channel: ChannelPath, move: Movement, low: float, high: float) -> list[float]:
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
    found += [kink - end for kink in channel.scale.kinks for end in ends if low < kink - end < high]
    found += _even(channel, move, sorted(found))
    step = 2 * half_step(channel.scale.output)
    for end in ends if step > COARSE else (move.low_end, move.high_end) if step else ():
        found += _step_changes(channel, end, low, high)
    return list(dict.fromkeys(found))


def _even(channel: ChannelPath, move: Movement, shifts: list[float]) -> Iterator[float]:
    """Between which shifts, and where, the output is as far from that at rest to both sides."""
    at = channel.scale.exact.percent

    def uneven(shift: float) -> float:
        rest = at(move.rest + shift)
        return abs(at(move.least + shift) - rest) - abs(at(move.greatest + shift) - rest)

    for (start, before), (end, after) in pairwise((shift, uneven(shift)) for shift in shifts):
        if before * after < 0:
            yield start + (end - start) * before / (before - after)


def _step_changes(channel: ChannelPath, end: float, low: float, high: float) -> Iterator[float]:
    """Shifts to both sides of the changes of an end's step; of small steps only the first change.

    A movement smaller than a step shows in the output only where a step lies within it.
    """
    scale = channel.scale
    half = half_step(scale.output)
    first, last = scale.percent(end + low), scale.percent(end + high)
    count = round(abs(last - first) / (2 * half))
    for number in range(count if 2 * half > COARSE else min(count, 1)):
        level = first + (half if last > first else -half) * (2 * number + 1)
        at = scale.demand(level, end + low, end + high) - end
        yield max(low, at - BESIDE)
        yield min(high, at + BESIDE)


def _movements(channel: ChannelPath, control: str) -> Iterator[Movement]:
    """Every combination of the conditions that bear on what this control does here.

    Of those in which all is the same only the first.
    """
    built = channel.built
    cells = channel.cells({})
    own = cells.get(control)
    if own is None:
        yield Movement(0, 0, 0, 0, 0, [(0.0, 0.0, True, True, {}, {})], {}, lambda _: 0.0)
        return
    apart = _apart(channel, control)
    terms = channel.terms()
    moving = [t for t in terms if t.source in (control, *apart) or control in t.deps]
    still = [t for t in terms if t not in moving]
    asked = {dep for term in moving for dep in term.deps} | set(built.override_controls)
    asked.update(apart)
    asked.discard(control)
    rest = channel.path.control(control).rest
    everywhere = channel.path.rest()

    def shift(controls: Controls) -> float:
        where = {**everywhere, **controls}
        return sum(channel.adds(term, where) for term in still)

    bearing = {c for term in still for c in (term.source, *term.deps)}
    known: dict[tuple[int, ...], list[Piece]] = {}
    told: set[tuple[tuple[float, ...], int]] = set()
    for case in cases(tuple(sorted(asked)), cells, channel.path.bound):
        key = tuple([id(cell) for c, cell in case.items() if c in bearing])
        if key not in known:
            here = {**cells, **{c: (cell,) for c, cell in case.items()}, control: own[:1]}
            spans = spans_of(still, here, channel.path.bound)
            known[key] = _stretches(spans, channel.path.bound)
        others = known[key]
        for placed in _placed(apart, case, moving, own, control):
            ends = _ends(channel, control, moving, own, placed, rest)
            if ends is not None and (ends, id(others)) not in told:
                told.add((ends, id(others)))
                where = {c: cell.position for c, cell in placed.items()}
                yield Movement(*ends, others, where, shift)


def _placed(
    apart: tuple[str, ...],
    case: dict[str, Cell],
    moving: list[Term],
    own: tuple[Cell, ...],
    control: str,
) -> Iterator[dict[str, Cell]]:
    """The case with every control that hangs on this one where it adds least, and most.

    What a control adds at one end of the movement and not at the other is a cubic of its position,
    and the controls are independent, so the least and the greatest change lie at these.
    """
    if not apart:
        yield case
        return
    ordered = sorted(own, key=lambda c: c.lo)
    for end in (0, 1):
        placed = dict(case)
        for source in apart:
            cell = case[source]
            terms = [term for term in moving if term.source == source]
            low = sum_of([term.choose({**case, control: ordered[0]}) for term in terms])
            high = sum_of([term.choose({**case, control: ordered[-1]}) for term in terms])
            found = high.minus(low).ends(cell.lo, cell.hi, cell.lo_closed, cell.hi_closed)[end]
            where = beside(found[1], found[2], cell)
            placed[source] = Cell(cell.position if cell.point else where, where, where, where)
        yield placed


def _ends(
    channel: ChannelPath,
    control: str,
    moving: list[Term],
    own: tuple[Cell, ...],
    case: dict[str, Cell],
    rest: Position,
) -> tuple[float, float, float, float, float] | None:
    """The moving part: at the low and the high end, its least, its greatest, and at rest."""
    ends: list[float] = []
    values: list[float] = []
    at_rest = 0.0
    resting = channel.path.conditions.held(control, rest)
    for cell in sorted(own, key=lambda c: c.lo):
        here = {**case, control: cell}
        if channel.override("last", here) or channel.override("before-mixes", here):
            continue
        total = sum_of([term.choose(here) for term in moving if term.source == control])
        level = sum(
            term.choose(here)(here[term.source].value if term.source else 0.0)
            for term in moving
            if term.source != control
        )
        least, greatest = total.ends(cell.lo, cell.hi)
        values += [least[0] + level, greatest[0] + level]
        ends += [total(cell.lo) + level, total(cell.hi) + level]
        if cell.holds(resting.value):
            at_rest = total(resting.value) + level
    if not ends:
        return None
    return ends[0], ends[-1], min(values), max(values), at_rest
