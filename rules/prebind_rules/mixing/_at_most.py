"""How far left and right of a pair can move apart, told without trying every combination.

A pulse changes by what its channel's demand does, times a slope between that of the lower and that
of the upper travel, and by no more than two half steps beside.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, NamedTuple

from prebind_rules.mixing._way import rises

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from prebind import ChannelPath, Path, ServoPath


class Side(NamedTuple):
    """A servo's pulse: `slope` is µs a percent of demand, edge up or open positive, give or take
    `off`; `rounding_us` is what steps can add to a change.
    """

    channel: ChannelPath
    slope: float
    off: float
    rounding_us: float


def at_most_us(
    pair: tuple[ServoPath, ServoPath], still: Collection[str], path: Path
) -> Callable[[str], float]:
    """The bound as one control moves and all others stand anywhere, but those in `still` at rest.

    There is none where `side` cannot tell.
    """
    left, right = (side(servo, path) for servo in pair)
    if left is None or right is None:
        return lambda _: inf
    known = left.channel.apart(right.channel, (left.slope, right.slope), still)
    rounding = left.rounding_us + right.rounding_us
    us = {
        control: rounding + it.difference + left.off * it.first + right.off * it.second
        for control, it in known.items()
    }
    return lambda control: us.get(control, rounding)


def side(servo: ServoPath, path: Path) -> Side | None:
    """None where more can happen: channels are summed, overridden, or cut by a limit."""
    port, channel = servo.port, servo.port.channel
    if port.mixed or channel.overrides or port.entry.limit_us is not None or channel.may_clip:
        return None
    first, last = channel.entry.travel_percent, port.entry.travel_percent
    least = min(first.low, first.high) * min(last.low, last.high) / 10_000
    most = max(first.low, first.high) * max(last.low, last.high) / 10_000
    us = channel.output_scale.us_per_percent
    sign = rises(servo)
    rounding = 2 * path.tolerance_us * max(last.low, last.high) / 100
    return Side(channel, sign * us * (most + least) / 2, us * (most - least) / 2, rounding)
