"""How far left and right of a pair can move apart, told without trying every combination.

A pulse changes by what those terms change that hang on the control, times a slope between that of
the lower and that of the upper travel, and by no more than two half steps beside.  Terms that hang
on the same controls are taken together, each such bundle where it does most by itself.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from prebind.rule import NotChecked
from prebind_rules.mixing._way import way

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from prebind import ChannelPath, Path, ServoPath
    from prebind.path.sums import Term
    from prebind.rule import Controls, Position


class Side(NamedTuple):
    """A servo's pulse: `slope` is µs a percent of demand, edge up or open positive, give or take
    `off`; `rounding_us` is what steps can add to a change.
    """

    channel: ChannelPath
    slope: float
    off: float
    rounding_us: float


def side(servo: ServoPath, control: str, path: Path) -> Side | None:
    """None where the pulse can change by more than that.

    That is where channels are summed, where the control itself decides on an override, and where a
    limit can cut something off.
    """
    port, channel = servo.port, servo.port.channel
    summed = port.mixed or control in channel.built.override_controls
    if summed or port.entry.limit_us is not None or _cut(channel):
        return None
    first, last = channel.entry.travel_percent, port.entry.travel_percent
    least = min(first.low, first.high) * min(last.low, last.high) / 10_000
    most = max(first.low, first.high) * max(last.low, last.high) / 10_000
    us = channel.output_scale.us_per_percent
    sign = way(servo) * channel.direction * (-1 if port.entry.reversed else 1)
    rounding = 2 * path.tolerance_us * max(last.low, last.high) / 100
    return Side(channel, sign * us * (most + least) / 2, us * (most - least) / 2, rounding)


def _cut(channel: ChannelPath) -> bool:
    try:
        return bool(channel.reach.cut.percent)
    except NotChecked:
        return True


def at_most_us(
    pair: tuple[Side, Side],
    control: str,
    positions: Sequence[Position],
    others: Controls,
    free: Collection[str],
    path: Path,
) -> float:
    """The bound in µs as the control goes from any of the positions to any other.

    The others stand as they are put there, but for the switches in `free`, which stand anywhere.
    """
    left, right = pair
    bundles: dict[frozenset[str | None], tuple[list[Term], list[Term]]] = {}
    for place, side in enumerate(pair):
        for term in side.channel.acting(others):
            asked = term.deps | {term.source}
            if control in asked:
                bundles.setdefault(asked, ([], []))[place].append(term)
    found = left.rounding_us + right.rounding_us
    for asked, (lefts, rights) in bundles.items():
        lean = moved_left = moved_right = 0.0
        its = [(s.channel, it) for s, of in zip(pair, (lefts, rights), strict=True) for it in of]
        steady = all(control not in term.deps for _, term in its)
        tried: set[tuple[int, ...]] = set()
        for where in _situations([switch for switch in free if switch in asked], others, path):
            if steady:  # most options come down to few rates
                alike = tuple([id(channel.chosen(term, where)) for channel, term in its])
                if alike in tried:
                    continue
                tried.add(alike)
            at_left, at_right, apart = [], [], []
            for position in positions:
                where[control] = position
                at_left.append(sum([left.channel.adds(term, where) for term in lefts]))
                at_right.append(sum([right.channel.adds(term, where) for term in rights]))
                apart.append(left.slope * at_left[-1] - right.slope * at_right[-1])
            lean = max(lean, max(apart) - min(apart))
            moved_left = max(moved_left, max(at_left) - min(at_left))
            moved_right = max(moved_right, max(at_right) - min(at_right))
        found += lean + left.off * moved_left + right.off * moved_right
    return found


def _situations(
    switches: Sequence[str], others: Controls, path: Path
) -> Iterator[dict[str, Position]]:
    for chosen in product(*(path.control(switch).positions for switch in switches)):
        yield {**others, **dict(zip(switches, chosen, strict=True))}
