"""How a channel answers to one control while the others stand anywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import frozen

from prebind.path.cubic import ZERO, Cubics
from prebind.path.facts import Controls, NotChecked, Position
from prebind.path.sums import Span, Term, cases, flat, spans_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.path.channel import ChannelPath
    from prebind.path.conditions import Cell


@frozen(eq=False)
class Least:
    """The least, over all combinations, of something in percent of output, and where."""

    percent: float
    controls: Controls


@frozen(eq=False)
class Response:
    """How a channel's output answers as a control goes from its low to its high end.

    `signs`: which signs of output(high end) − output(low end) occur, each with a witness.
    `least`: the smallest span of the output over the whole movement; 0 is a dead control.
    `least_deviation`: the smallest of the greatest distances from the output at the control's rest.
    Combinations in which an override of the channel holds do not count.
    """

    signs: dict[int, Controls]
    least: Least | None
    least_deviation: Least | None


@frozen(eq=False)
class Movement:
    """One combination of the others: the moving part of the demand, and what the rest can add."""

    low_end: float
    high_end: float
    least: float
    greatest: float
    rest: float
    others: tuple[Span, ...]
    where: Controls


SMALL = 1e-9
"""Less output than this, in percent, is none: floating point, not a movement."""


def response(channel: ChannelPath, control: str) -> Response:
    signs: dict[int, Controls] = {}
    least: Least | None = None
    deviation: Least | None = None
    for move in _movements(channel, control):
        shift_low = sum(span.low[0] for span in move.others)
        shift_high = sum(span.high[0] for span in move.others)
        for shift in _shifts(channel, move, shift_low, shift_high):
            at = channel.scale.percent
            change = at(move.high_end + shift) - at(move.low_end + shift)
            sign = 0 if abs(change) <= SMALL else (1 if change > 0 else -1)
            where = _where(move, shift, shift_low, shift_high)
            signs.setdefault(sign, where)
            ends = at(move.least + shift), at(move.greatest + shift)
            span = abs(ends[1] - ends[0])
            if least is None or span < least.percent - SMALL:
                least = Least(0.0 if span <= SMALL else span, where)
            centre = at(move.rest + shift)
            most = max(abs(end - centre) for end in ends)
            if deviation is None or most < deviation.percent - SMALL:
                deviation = Least(0.0 if most <= SMALL else most, where)
    return Response(signs, least, deviation)


def _shifts(channel: ChannelPath, move: Movement, low: float, high: float) -> list[float]:
    """What the others add, where it can matter.

    The output is piecewise linear in the shift, so its least change lies at an end of the shift's
    range or where one of the control's own ends meets a kink of the output's scale.
    """
    found = [0.0] if low <= 0 <= high else []
    found += [low, high]
    for kink in channel.scale.kinks() if high > low else ():
        for end in (move.low_end, move.high_end, move.least, move.greatest, move.rest):
            if low < kink - end < high:
                found.append(kink - end)
    return list(dict.fromkeys(found))


def _where(move: Movement, shift: float, low: float, high: float) -> Controls:
    """Positions of the others that add the shift."""
    at_low = flat([span.low[2] for span in move.others])
    at_high = flat([span.high[2] for span in move.others])
    share = 0.0 if high == low else (shift - low) / (high - low)
    found: dict[str, Position] = {}
    for control, position in at_low.items():
        end = at_high.get(control, position)
        if isinstance(position, str) or isinstance(end, str):
            found[control] = end if share > 0.5 else position
        else:
            found[control] = position + share * (end - position)
    return {**move.where, **found}


def _movements(channel: ChannelPath, control: str) -> Iterator[Movement]:
    """Every combination of the conditions that bear on what this control does here."""
    built = channel.built
    cells = channel.cells({})
    own = cells.get(control)
    if own is None:
        yield Movement(0, 0, 0, 0, 0, (), {})
        return
    terms = channel.terms()
    moving = [t for t in terms if t.source == control or control in t.deps]
    apart = [t for t in moving if t.source is not None and t.source != control]
    if apart:
        raise NotChecked(
            f"not checked: “{control}” also decides here what “{apart[0].source}” does",
            (control, str(apart[0].source)),
            len(own),
        )
    still = [t for t in terms if t not in moving]
    asked = {dep for term in moving for dep in term.deps} | set(built.override_controls)
    asked.discard(control)
    rest = channel.path.control(control).rest
    for case in cases(tuple(sorted(asked)), cells, channel.path.bound):
        ends = _ends(channel, control, moving, own, case, rest)
        if ends is None:
            continue
        here = {**cells, **{c: (cell,) for c, cell in case.items()}, control: own[:1]}
        others = spans_of(still, here, channel.path.bound)
        yield Movement(*ends, others, {c: cell.position for c, cell in case.items()})


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
        total = _sum([term.choose(here) for term in moving if term.source == control])
        level = sum(term.choose(here)(0.0) for term in moving if term.source is None)
        least, greatest = total.ends(cell.lo, cell.hi)
        values += [least[0] + level, greatest[0] + level]
        ends += [total(cell.lo) + level, total(cell.hi) + level]
        if cell.lo <= resting.value <= cell.hi:
            at_rest = total(resting.value) + level
    if not ends:
        return None
    return ends[0], ends[-1], min(values), max(values), at_rest


def _sum(parts: list[Cubics]) -> Cubics:
    total = ZERO
    for part in parts:
        total = total.plus(part)
    return total
