"""Where things stand across a picture, in percent of its width, and what may stand beside what.

A picture is as wide as its page, so that its text need not shrink on a narrow one.  What has room
is judged for the narrowest page.
"""

from __future__ import annotations

from math import ceil, floor
from typing import TYPE_CHECKING, Literal
from unicodedata import east_asian_width

from attrs import frozen

from prebind.report.wording import clean, number

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

NARROWEST = 320  # px: the least width of a picture
_SIGN = 7.2  # px: the width of one sign, on the safe side
_LEAST = 7.0  # percent of the width left free on either side, for the labels of the ends
_STEPS = (1, 2, 2.5, 5, 10)

Anchor = Literal["start", "middle", "end"]


@frozen
class Tick:
    """`x` in percent of the width; `text` is empty where there is no room for one."""

    x: float
    text: str
    below: str = ""


@frozen
class Label:
    """A text at `x` percent of the width, which runs on from there, around it, or up to it."""

    text: str
    x: float
    anchor: Anchor

    @property
    def extent(self) -> tuple[float, float]:
        """What it covers of the narrowest picture, in percent of the width."""
        width = width_of(self.text)
        before = {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        return self.x - before, self.x - before + width


@frozen
class Ruler:
    """Pulses in µs across a picture."""

    low_us: float
    high_us: float

    def at(self, us: float) -> float:
        """Percent of the picture's width; a pulse beyond the ends stands at the end."""
        share = (us - self.low_us) / (self.high_us - self.low_us)
        return round(_LEAST + (100 - 2 * _LEAST) * min(max(share, 0.0), 1.0), 3)

    def marks(self, centre: float, unit: float, most: int) -> list[float]:
        """Round values of (pulse − centre)/unit, not more of them than `most`."""
        low, high = (self.low_us - centre) / unit, (self.high_us - centre) / unit
        step = _round_step((high - low) / most)
        first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
        return [index * step for index in range(first, last + 1)]


def ruler_over(pulses: Iterable[float]) -> Ruler:
    """A ruler on which all of these pulses find their place."""
    found = list(pulses)
    low, high = min(found), max(found)
    return Ruler(low, high) if high > low else Ruler(low - 1, high + 1)


def _round_step(least: float) -> float:
    size: float = 10.0 ** floor(_log10(least))
    return next(size * step for step in _STEPS if size * step >= least - 1e-9)


def _log10(value: float) -> float:
    from math import log10

    return log10(value)


def percent_ticks(ruler: Ruler, centre_us: float, us_per_percent: float) -> list[Tick]:
    """Percent of output, with every second one's pulse below."""
    step = ruler.marks(centre_us, us_per_percent, 6)
    middle = min(range(len(step)), key=lambda i: abs(step[i]), default=0)
    return [
        Tick(
            ruler.at(centre_us + us_per_percent * percent),
            f"{number(percent)} %",
            us_text(centre_us + us_per_percent * percent) if (i - middle) % 2 == 0 else "",
        )
        for i, percent in enumerate(step)
    ]


def us_ticks(ruler: Ruler) -> list[Tick]:
    return [Tick(ruler.at(us), us_text(us)) for us in ruler.marks(0.0, 1.0, 4)]


def us_text(us: float) -> str:
    return f"{number(us)} µs"


def width_of(text: str) -> float:
    """The width of a text in percent of the narrowest picture."""
    signs = sum(2 if east_asian_width(sign) in "WF" else 1 for sign in text)
    return signs * _SIGN / NARROWEST * 100


def label_at(text: str, x: float) -> Label:
    """A label around `x`, moved to where it does not leave the picture."""
    half = width_of(text) / 2
    if x - half < 0:
        return Label(text, 0.0, "start")
    if x + half > 100:
        return Label(text, 100.0, "end")
    return Label(text, x, "middle")


def shortened(text: str, signs: int = 30) -> str:
    """A name as it may stand in a picture; the whole name stands in the words below it."""
    text = clean(text)
    return text if len(text) <= signs else f"{text[: signs - 1]}…"


def lanes(extents: Sequence[tuple[float, float]]) -> list[int]:
    """A lane for each extent, the first in which it meets none of those before it."""
    taken: list[list[tuple[float, float]]] = []
    found = []
    for low, high in extents:
        lane = next(
            (
                i
                for i, others in enumerate(taken)
                if all(high <= start or end <= low for start, end in others)
            ),
            len(taken),
        )
        if lane == len(taken):
            taken.append([])
        taken[lane].append((low, high))
        found.append(lane)
    return found
