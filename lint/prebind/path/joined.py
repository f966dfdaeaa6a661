"""The extremes of a port that sums several channels, which may answer to the same controls.

Where the channels share no control their ranges add.  Shared switches, and the stretches of shared
sticks, are enumerated.  A stick that moves two channels at once is one variable: boxes of such
sticks are bounded, solved exactly where no channel bends or clips inside, and split elsewhere.
"""

from __future__ import annotations

from collections import Counter
from itertools import count, product
from typing import TYPE_CHECKING

from prebind.path.cubic import ZERO, Cubics
from prebind.path.facts import NotChecked, Position
from prebind.path.sums import (
    SAME,
    End,
    Span,
    Witness,
    beside,
    cases,
    flat,
    highest,
    lowest,
    spans_of,
)
from prebind.record import evolve, record

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from prebind.document.model import When
    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.conditions import Cell
    from prebind.path.reach import Sum
    from prebind.path.scale import Scale

CLOSE = 0.001
"""A box is settled when it can better the best value found by no more than this, in percent."""


@record
class Share:
    """A channel that feeds a port, times `factor`."""

    channel: ChannelPath
    factor: float


@record
class Line:
    """One channel in one case: factor, scale, what shared sticks add, and what all else adds."""

    factor: float
    scale: Scale
    cubics: Mapping[str, Cubics]
    low: End
    high: End


Box = dict[str, tuple[float, float]]


class Joined:
    def __init__(self, path: Path, shares: Sequence[Share]) -> None:
        self.path = path
        self.shares = [Share(channel, factor) for channel, factor in _merged(shares).items()]
        self._per_percent = path.setup.transmitter.output.us_per_percent

    def ends(
        self, fix: Mapping[str, Position], when: When, overrides: bool
    ) -> tuple[End, End] | None:
        """The least and the greatest sum, in µs from centre; None where nothing is possible.

        Raises NotChecked beyond the bound on combinations or boxes.
        """
        conditions = self.path.conditions
        common = Counter(c for share in self.shares for c in share.channel.controls)
        common.update(conditions.depends(when))
        common.update(conditions.depends(when))
        shared = {control for control, uses in common.items() if uses > 1}
        cells = self._cells(fix, when)
        moving = self._moving(shared, cells)
        shared |= self._choosing(moving)
        ordered = tuple(c for c in conditions.controls if c in shared)
        found: list[tuple[End, End]] = []
        for case in cases(ordered, cells, self.path.bound):
            if when and not conditions.holds(when, case):
                continue
            ends = (
                self._with_boxes(case, cells, moving, overrides)
                if any(not case[c].point for c in moving)
                else self._apart(case, fix, overrides)
            )
            if ends is not None:
                found.append(ends)
        if not found:
            return None
        return lowest(low for low, _ in found), highest(high for _, high in found)

    def _cells(self, fix: Mapping[str, Position], when: When) -> dict[str, tuple[Cell, ...]]:
        """Cells fine enough for every channel: all thresholds split a shared stick at once."""
        conditions = self.path.conditions
        cuts: dict[str, set[float]] = {}
        for share in self.shares:
            for control, thresholds in share.channel.cuts(when).items():
                cuts.setdefault(control, set()).update(thresholds)
        return {
            control: (conditions.held(control, fix[control]),)
            if control in fix
            else conditions.cells(control, thresholds)
            for control, thresholds in cuts.items()
        }

    def _moving(self, shared: set[str], cells: Mapping[str, tuple[Cell, ...]]) -> set[str]:
        """Shared continuous controls that move more than one channel."""
        uses = Counter(
            source
            for share in self.shares
            for source in {term.source for term in share.channel.terms()}
            if source in shared and not all(cell.point for cell in cells[source])
        )
        return {source for source, times in uses.items() if times > 1}

    def _choosing(self, moving: set[str]) -> set[str]:
        """What decides how the moving controls act: conditions of their terms, and overrides."""
        found: set[str] = set()
        for share in self.shares:
            terms = [t for t in share.channel.terms() if t.source in moving]
            found.update(*(t.deps for t in terms))
            if terms:
                found.update(share.channel.built.override_controls)
        return found

    def _apart(
        self, case: Mapping[str, Cell], fix: Mapping[str, Position], overrides: bool
    ) -> tuple[End, End] | None:
        """The shared controls stand still, or each moves one channel only: ranges add."""
        low = high = 0.0
        low_closed = high_closed = True
        at_low: list[Witness] = []
        at_high: list[Witness] = []
        for share in self.shares:
            channel = share.channel
            sums = channel.sums({**fix, **case}, (), overrides)
            if not sums:
                return None
            scale = channel.scale.exact
            ends = [_percents(scale, one) for one in sums]
            least = lowest(low for low, _ in ends)
            most = highest(high for _, high in ends)
            if share.factor < 0:
                least, most = most, least
            low += share.factor * least[0]
            high += share.factor * most[0]
            low_closed &= least[1] or share.factor == 0
            high_closed &= most[1] or share.factor == 0
            at_low.append(least[2])
            at_high.append(most[2])
        return (
            (low * self._per_percent, low_closed, self._together(case, at_low)),
            (high * self._per_percent, high_closed, self._together(case, at_high)),
        )

    def _together(
        self, case: Mapping[str, Cell], witnesses: Sequence[Witness]
    ) -> dict[str, Position]:
        """One witness of several: a stick stands where the channel that it moves wants it."""
        found: dict[str, Position] = {control: cell.position for control, cell in case.items()}
        for share, witness in zip(self.shares, witnesses, strict=True):
            moved = {term.source for term in share.channel.terms()}
            found.update(
                (control, position)
                for control, position in flat(witness).items()
                if control not in case or control in moved
            )
        return found

    def _with_boxes(
        self,
        case: Mapping[str, Cell],
        cells: Mapping[str, tuple[Cell, ...]],
        moving: set[str],
        overrides: bool,
    ) -> tuple[End, End] | None:
        lines: list[Line] = []
        for share in self.shares:
            line = self._line(share, case, cells, moving, overrides)
            if line is None:
                return None
            lines.append(line)
        held = {c: of[0].position for c, of in cells.items() if len(of) == 1 and of[0].point}
        where = {**held, **{control: cell.position for control, cell in case.items()}}
        sticks = {control: case[control] for control in sorted(moving)}
        low = self._greatest([evolve(line, factor=-line.factor) for line in lines], sticks, where)
        high = self._greatest(lines, sticks, where)
        return (-low[0], low[1], low[2]), high

    def _line(
        self,
        share: Share,
        case: Mapping[str, Cell],
        cells: Mapping[str, tuple[Cell, ...]],
        moving: set[str],
        overrides: bool,
    ) -> Line | None:
        channel = share.channel
        scale = channel.scale.exact
        acting = [t for t in channel.terms() if t.source in moving]
        here = {**cells, **{control: (cell,) for control, cell in case.items()}}
        if not acting:
            sums = channel.sums({c: of[0] for c, of in here.items() if len(of) == 1}, (), overrides)
            if not sums:
                return None
            # No moving stick is in it, so its demand stands for itself: take its ends as they are.
            low = lowest(one.low for one in sums)
            high = highest(one.high for one in sums)
            return Line(share.factor, scale, {}, low, high)
        last = channel.override("last", case)
        first = channel.override("before-mixes", case)
        if (last or first) and not overrides:
            return None
        if last is not None:
            still: End = (last.demand_percent, True, {})
            return Line(share.factor, scale, {}, still, still)
        terms = channel.terms(first)
        cubics: dict[str, Cubics] = {}
        for term in terms:
            if term.source in moving:
                taken = term.choose(case)
                cubics[term.source] = cubics.get(term.source, ZERO).plus(taken)
        spans = spans_of([t for t in terms if t.source not in moving], here, self.path.bound)
        return Line(share.factor, scale, cubics, _total(spans, 0), _total(spans, 1))

    def _greatest(
        self, lines: Sequence[Line], sticks: Mapping[str, Cell], where: Mapping[str, Position]
    ) -> End:
        """The greatest of a sum over the sticks' cell, within 0.001 % of output."""
        from heapq import heappop, heappush  # few models sum channels at a port

        whole: Box = {control: (cell.lo, cell.hi) for control, cell in sticks.items()}
        order = count()
        best = _solved(lines, whole, sticks)
        heap = [] if _straight(lines, whole) else [(-_bound(lines, whole), next(order), whole)]
        halved = 0
        while heap and -heap[0][0] > best[0] + CLOSE:
            halved += 1
            if halved > self.path.bound:
                raise NotChecked(
                    f"not checked: more than {self.path.bound:,} boxes of "
                    + ", ".join(f"“{control}”" for control in sticks),
                    tuple(sticks),
                    self.path.bound,
                )
            _, _, box = heappop(heap)
            for half in _halves(box):
                best = highest((best, _solved(lines, half, sticks)))
                if not _straight(lines, half):
                    heappush(heap, (-_bound(lines, half), next(order), half))
        top, attained, at_top = best[0], False, best[2]
        found = {c: beside(u, sticks[c].holds(u), sticks[c]) for c, u in at_top.items()}
        for at in _around(at_top, sticks):
            # A limit can hold the sum level up to an end that is not attained, or begin there.
            value = _value(lines, at)
            if value >= top - SAME and all(_met(line, at) for line in lines):
                top, attained, found = max(top, value), True, at
                break
        rest = [_toward(line)[2] for line in lines]
        return top * self._per_percent, attained, {**flat([dict(where), *rest]), **found}


def _merged(shares: Sequence[Share]) -> dict[ChannelPath, float]:
    """One factor a channel, also where two axes come on the same one."""
    found: dict[ChannelPath, float] = {}
    for share in shares:
        found[share.channel] = found.get(share.channel, 0.0) + share.factor
    return found


def _percents(scale: Scale, one: Sum) -> tuple[End, End]:
    _, (lo, hi, lo_closed, hi_closed) = scale.image(one.range)
    at_low, at_high = one.low[2], one.high[2]
    if scale.direction < 0:
        at_low, at_high = at_high, at_low
    return (lo, lo_closed, at_low), (hi, hi_closed, at_high)


def _total(spans: Sequence[Span], end: int) -> End:
    chosen = [span.high if end else span.low for span in spans]
    return sum(c[0] for c in chosen), all(c[1] for c in chosen), [c[2] for c in chosen]


def _toward(line: Line) -> End:
    """The end of everything else that makes the sum greater."""
    return line.high if line.factor * line.scale.direction > 0 else line.low


def _met(line: Line, at: Mapping[str, float]) -> bool:
    """Whether everything else gives its end there, or the output is level up to that end."""
    if line.factor == 0 or _toward(line)[1]:
        return True
    demand = _at(line, at)
    below = line.factor * line.scale.direction > 0
    near = (demand - 1, demand, True, False) if below else (demand, demand + 1, False, True)
    _, (_, _, low_met, high_met) = line.scale.image(near)
    return high_met if line.factor > 0 else low_met


def _demand(line: Line, box: Box) -> tuple[float, float]:
    rest = _toward(line)[0]
    low = high = rest
    for control, cubics in line.cubics.items():
        least, greatest = cubics.ends(*box[control])
        low += least[0]
        high += greatest[0]
    return low, high


def _bent(line: Line, low: float, high: float) -> bool:
    return any(low < kink < high for kink in line.scale.kinks)


def _straight(lines: Sequence[Line], box: Box) -> bool:
    return not any(_bent(line, *_demand(line, box)) for line in lines)


def _bound(lines: Sequence[Line], box: Box) -> float:
    """No point of the box gives more."""
    return sum(
        max(line.factor * line.scale.percent(demand) for demand in _demand(line, box))
        for line in lines
    )


def _solved(lines: Sequence[Line], box: Box, sticks: Mapping[str, Cell]) -> End:
    """The greatest value where no channel bends in the box; else a good one, met in it.

    It counts as attained where the sticks can stand at the positions that are told.
    """
    total: dict[str, Cubics] = {}
    for line in lines:
        low, high = _demand(line, box)
        if high == low:
            continue
        slope = line.factor * (line.scale.percent(high) - line.scale.percent(low)) / (high - low)
        for control, cubics in line.cubics.items():
            total[control] = total.get(control, ZERO).plus(cubics.scaled(slope))
    at = {
        control: total[control].ends(*ends, *map(sticks[control].holds, ends))[1][1]
        if control in total and not total[control].constant
        else (ends[0] + ends[1]) / 2
        for control, ends in box.items()
    }
    return _value(lines, at), all(sticks[c].holds(u) for c, u in at.items()), at


def _value(lines: Sequence[Line], at: Mapping[str, float]) -> float:
    return sum(line.factor * line.scale.percent(_at(line, at)) for line in lines)


def _at(line: Line, at: Mapping[str, float]) -> float:
    """The demand where the shared sticks stand there, and all else at the end that is wanted."""
    return _toward(line)[0] + sum(c(at[s]) for s, c in line.cubics.items())


def _around(at: Mapping[str, float], sticks: Mapping[str, Cell]) -> Iterator[dict[str, float]]:
    """Positions of the sticks' cell: this one, if it is one, then those a millionth beside it."""
    near = {c: (cell.hi - cell.lo) * 1e-6 for c, cell in sticks.items()}
    for ways in product((0, -1, 1), repeat=len(at)):
        moved = {c: u + way * near[c] for (c, u), way in zip(at.items(), ways, strict=True)}
        if all(sticks[c].holds(u) for c, u in moved.items()):
            yield moved


def _halves(box: Box) -> Iterator[Box]:
    widest = max(box, key=lambda control: box[control][1] - box[control][0])
    low, high = box[widest]
    middle = (low + high) / 2
    yield {**box, widest: (low, middle)}
    yield {**box, widest: (middle, high)}
