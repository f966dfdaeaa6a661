"""From a demand to an output: one channel's steps 6 to 10, and the receiver's part of a port.

Each step never turns back on itself, so a range maps to a range; what has to be watched is where an
end that is only approached becomes attained, because the step is flat there.
"""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING

from prebind.path.facts import fact
from prebind.record import evolve, record

if TYPE_CHECKING:
    from prebind.document.model import Channel, LowHigh, Output

Range = tuple[float, float, bool, bool]
"""(low, high, low attained, high attained)."""


@record
class Scale:
    """Native direction, reversing, travel, sub-trim in the radio's order, limit and steps."""

    output: Output
    native: int
    reversed: bool
    travel: LowHigh
    subtrim: float

    @property
    def direction(self) -> int:
        """+1 where a growing demand makes a growing pulse, −1 where a falling one."""
        return -self.native if self.reversed else self.native

    def unlimited(self, demand: float) -> float:
        """Percent of output before the limit cuts."""
        value = demand * self.native
        for step in self.output.order:
            if step == "reverse":
                value = -value if self.reversed else value
            elif step == "travel":
                value *= (self.travel.low if value < 0 else self.travel.high) / 100
            else:
                value += self.subtrim
        return value

    def limited(self, value: float) -> float:
        """Percent of output after limit and steps."""
        limit = self.output.limit_percent
        return stepped(min(max(value, -limit), limit), limit, self.output.steps)

    @fact
    def exact(self) -> Scale:
        """The same without steps: for what is asked before rounding."""
        if self.output.steps is None:
            return self
        return evolve(self, output=evolve(self.output, steps=None))

    def percent(self, demand: float) -> float:
        return self.limited(self.unlimited(demand))

    def us(self, demand: float) -> float:
        return pulse(self.output, self.percent(demand))

    def demand(self, value: float, low: float, high: float) -> float:
        """The demand between two others at which the output, before limit and steps, is a value.

        The value lies between those of the two.
        """
        before, after = low, high
        if low < self._turn < high:
            least, most = sorted((self.unlimited(low), self.unlimited(self._turn)))
            if least <= value <= most:
                after = self._turn
            else:
                before = self._turn
        start, end = self.unlimited(before), self.unlimited(after)
        share = 0.0 if start == end else (value - start) / (end - start)
        return before + share * (after - before)

    @fact
    def _turn(self) -> float:
        """The demand at which the travel changes from that of one side to that of the other."""
        turn = 0.0
        before_travel = self.output.order[: self.output.order.index("travel")]
        for step in reversed(before_travel):
            if step == "subtrim":
                turn -= self.subtrim
            elif self.reversed:
                turn = -turn
        return turn * self.native

    @fact
    def kinks(self) -> tuple[float, ...]:
        """Demands at which the slope from demand to output changes."""
        turn = self._turn
        level = self.unlimited(turn)
        found = [turn]
        for way in (-1, 1):
            slope = self.unlimited(turn + way) - level
            for end in (-self.output.limit_percent, self.output.limit_percent):
                if slope and (end - level) / slope > 0:
                    found.append(turn + way * (end - level) / slope)
        return tuple(found)

    def image(self, demand: Range) -> tuple[Range, Range]:
        """The ranges of output before and after limit and steps."""
        value = negated(demand) if self.native < 0 else demand
        for step in self.output.order:
            if step == "reverse":
                value = negated(value) if self.reversed else value
            elif step == "travel":
                value = scaled(value, self.travel.low / 100, self.travel.high / 100)
            else:
                value = shifted(value, self.subtrim)
        limit = self.output.limit_percent
        return value, stepped_range(clipped(value, -limit, limit), limit, self.output.steps)


def scale_of(channel: Channel, output: Output) -> Scale:
    return Scale(
        output,
        output.native.get(channel.function, 1),
        channel.reversed,
        channel.travel_percent,
        channel.subtrim_percent,
    )


def pulse(output: Output, percent: float) -> float:
    """Percent of output as a pulse in µs."""
    return output.centre_us + output.us_per_percent * percent


def half_step(output: Output) -> float:
    """Half the distance between two output values, in percent; 0 where the radio does not round."""
    return 0.0 if output.steps is None else output.limit_percent / (output.steps - 1)


def half_step_us(output: Output) -> float:
    return output.us_per_percent * half_step(output)


def stepped(value: float, limit: float, steps: int | None) -> float:
    """The nearest of the evenly spaced values; halves away from zero, zero itself upwards."""
    if steps is None:
        return value
    index = (value + limit) * (steps - 1) / (2 * limit)
    # A half, and zero, may miss their exact value by the last digits of floating point.
    nearest = floor(index + 0.5 + 1e-9) if value >= -1e-9 else ceil(index - 0.5 - 1e-9)
    return nearest * 2 * limit / (steps - 1) - limit


def stepped_range(value: Range, limit: float, steps: int | None) -> Range:
    """The first and last of the steps met; an end that is only approached may lie on a half."""
    if steps is None:
        return value
    lo, hi, lo_closed, hi_closed = value
    half = limit / (steps - 1)
    nudge = half * 1e-6
    first = stepped(lo if lo_closed else lo + nudge, limit, steps)
    last = stepped(hi if hi_closed else hi - nudge, limit, steps)
    return first, max(first, last), True, True


def negated(value: Range) -> Range:
    lo, hi, lo_closed, hi_closed = value
    return -hi, -lo, hi_closed, lo_closed


def shifted(value: Range, by: float) -> Range:
    lo, hi, lo_closed, hi_closed = value
    return lo + by, hi + by, lo_closed, hi_closed


def scaled(value: Range, low: float, high: float) -> Range:
    """Times `low` below zero, times `high` above; a side scaled to nothing is attained at once."""
    lo, hi, lo_closed, hi_closed = value
    flat_at_lo = (low if lo < 0 else high) == 0 and lo < hi
    flat_at_hi = (high if hi > 0 else low) == 0 and lo < hi
    return (
        lo * (low if lo < 0 else high),
        hi * (low if hi < 0 else high),
        lo_closed or flat_at_lo,
        hi_closed or flat_at_hi,
    )


def clipped(value: Range, least: float, most: float) -> Range:
    lo, hi, lo_closed, hi_closed = value
    if lo < least:
        lo, lo_closed = least, True
    if hi > most:
        hi, hi_closed = most, True
    if hi < least:
        hi, hi_closed = least, True
    if lo > most:
        lo, lo_closed = most, True
    if lo == hi:
        return lo, hi, True, True
    return lo, hi, lo_closed, hi_closed
