"""A reachable set: everything an output can be, exactly, with the control positions that do it."""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING, Any

from prebind.path.facts import Controls, Cut, Extreme, NotChecked, fact
from prebind.path.scale import Range, Scale, pulse
from prebind.path.sums import End, Span, added, between, flat, highest, lowest, tidy
from prebind.path.sums import Piece as Demand
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


@record
class Sum:
    """Independent spans of demand that add up, and where the pinned controls stand."""

    spans: tuple[Span, ...]
    where: Controls

    @fact
    def _ends(self) -> tuple[End, End]:
        low = high = 0.0
        low_closed = high_closed = True
        low_at: list[Any] = [dict(self.where)]
        high_at: list[Any] = [dict(self.where)]
        for span in self.spans:
            low += span.low[0]
            high += span.high[0]
            low_closed &= span.low[1]
            high_closed &= span.high[1]
            low_at.append(span.low[2])
            high_at.append(span.high[2])
        return (low, low_closed, low_at), (high, high_closed, high_at)

    @property
    def low(self) -> End:
        return self._ends[0]

    @property
    def high(self) -> End:
        return self._ends[1]

    @property
    def range(self) -> Range:
        return self.low[0], self.high[0], self.low[1], self.high[1]


@record
class Piece:
    """A stretch of reachable pulses in µs.

    Between the two witnesses, moved in a straight line, every pulse of the stretch is passed.
    """

    low: float
    high: float
    low_closed: bool
    high_closed: bool
    low_controls: Controls
    high_controls: Controls


class Reach:
    """What one channel puts out over a set of situations: extremes, pieces, and what is cut off."""

    def __init__(
        self,
        sums: Sequence[Sum],
        scale: Scale,
        evaluate: Callable[[Controls], float],
        bound: int,
    ) -> None:
        self.sums = tuple(sums)
        self.scale = scale
        self._evaluate = evaluate
        self._bound = bound

    @fact
    def _mapped(self) -> tuple[Extreme, Extreme, Cut]:
        lows, highs, cut = [], [], Cut()
        for one in self.sums:
            before, after = self.scale.image(one.range)
            at_low, at_high = one.low[2], one.high[2]
            if self.scale.direction < 0:
                at_low, at_high = at_high, at_low
            lows.append((after[0], after[2], at_low))
            highs.append((after[1], after[3], at_high))
            limit = self.scale.output.limit_percent
            for lost, witness in ((before[1] - limit, at_high), (-limit - before[0], at_low)):
                if lost > cut.percent + 1e-9:
                    cut = Cut(lost, flat(witness))
        return self._extreme(lowest(lows)), self._extreme(highest(highs)), cut

    def _extreme(self, end: End) -> Extreme:
        percent, attained, witness = end
        return Extreme(percent, pulse(self.scale.output, percent), flat(witness), attained, percent)

    @property
    def low(self) -> Extreme:
        return self._mapped[0]

    @property
    def high(self) -> Extreme:
        return self._mapped[1]

    @property
    def cut(self) -> Cut:
        """The most that the limit cuts off, in percent of output."""
        return self._mapped[2]

    @fact
    def _demands(self) -> list[Demand] | NotChecked:
        """All stretches of demand, or why they are not known: either is worked out only once."""
        found: list[Demand] = []
        for one in self.sums:
            pieces = added(one.spans, self._bound)
            if pieces is None:
                return self._too_many(one)
            where = dict(one.where)
            found += [(*piece[:4], (where, piece[4]), (where, piece[5])) for piece in pieces]
        return tidy(found)

    def _too_many(self, one: Sum) -> NotChecked:
        controls = tuple(sorted(flat(one.low[2]).keys() - one.where.keys()))
        count = 1
        for span in one.spans:
            count *= len(span.pieces) if span.pieces is not None else self._bound
        return NotChecked(
            f"not checked: {len(controls)} controls add up here in at least {count:,} ways "
            f"({', '.join(f'“{c}”' for c in controls)}); the lowest and highest value are exact",
            controls,
            count,
        )

    @fact
    def pieces(self) -> tuple[Piece, ...]:
        """Every stretch of reachable pulses, sorted.  Raises NotChecked beyond the bound."""
        demands = self._demands
        if isinstance(demands, NotChecked):
            raise demands
        output = self.scale.output
        found = []
        for demand in demands:
            _, (lo, hi, lo_closed, hi_closed) = self.scale.image(demand[:4])
            at_lo, at_hi = demand[4], demand[5]
            if self.scale.direction < 0:
                at_lo, at_hi = at_hi, at_lo
            lo_us, hi_us = pulse(output, lo), pulse(output, hi)
            found.append((lo_us, hi_us, lo_closed, hi_closed, at_lo, at_hi))
        return tuple(
            Piece(lo, hi, lo_closed, hi_closed, flat(at_lo), flat(at_hi))
            for lo, hi, lo_closed, hi_closed, at_lo, at_hi in tidy(found)
        )

    def met(
        self, low_us: float, high_us: float, low_closed: bool = True, high_closed: bool = True
    ) -> tuple[float, Controls] | None:
        """A reachable pulse between two pulses and the positions that give it; None if none is.

        Raises NotChecked where the pieces are more than the bound.
        """
        for piece in self.pieces:
            lo, lo_open = max((piece.low, not piece.low_closed), (low_us, not low_closed))
            hi, hi_closed = min((piece.high, piece.high_closed), (high_us, high_closed))
            if lo > hi or (lo == hi and (lo_open or not hi_closed)):
                continue
            found = self._inside(piece, lo, hi, not lo_open, hi_closed)
            if found is not None:
                return found
        return None

    def _inside(
        self, piece: Piece, lo: float, hi: float, lo_closed: bool, hi_closed: bool
    ) -> tuple[float, Controls] | None:
        """A pulse of the piece between lo and hi, with its witness."""
        if piece.low == piece.high or (lo == piece.low and lo_closed):
            return piece.low, piece.low_controls
        if hi == piece.high and hi_closed:
            return piece.high, piece.high_controls
        target = self._step_between(lo, hi, lo_closed, hi_closed)
        if target is None:
            return None
        start, end = piece.low_controls, piece.high_controls
        return target, between(start, end, self._evaluate, target)

    def _step_between(self, lo: float, hi: float, lo_closed: bool, hi_closed: bool) -> float | None:
        """The middle of the stretch or, where outputs are stepped, a step inside it."""
        middle = (lo + hi) / 2
        output = self.scale.output
        if output.steps is None:
            return middle
        step = 2 * output.limit_percent / (output.steps - 1) * output.us_per_percent
        first = pulse(output, -output.limit_percent)
        index = ceil((lo - first) / step - 1e-9)
        if not lo_closed and abs(first + index * step - lo) <= 1e-9:
            index += 1
        last = floor((hi - first) / step + 1e-9)
        if not hi_closed and abs(first + last * step - hi) <= 1e-9:
            last -= 1
        if index > last:
            return None
        nearest = min(max(round((middle - first) / step), index), last)
        return first + nearest * step
