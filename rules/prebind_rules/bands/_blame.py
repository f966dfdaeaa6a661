"""Which value to change where a channel and the bands disagree."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from prebind import BandUs, Path, SelectorPath


def blamed(selector: SelectorPath, path: Path, us: float) -> str:
    """The pointer of the first setting that is not as it comes, else of the nearest band.

    A switch's uneven values come first, then the channel's travel and sub-trim.
    """
    channel = selector.channel
    control = path.control(channel.control) if channel.control is not None else None
    if control is not None and _uneven(control.entry.values):
        return f"{control.at}/values"
    travel = channel.entry.travel_percent
    if (travel.low, travel.high) != (100, 100):
        return f"{channel.at}/travel_percent"
    if channel.entry.subtrim_percent:
        return f"{channel.at}/subtrim_percent"
    return f"{_nearest(selector, us).state.at}/band"


def _uneven(values: tuple[float, ...] | None) -> bool:
    """Whether a control's values differ from those that its positions have by default."""
    if values is None:
        return False
    last = len(values) - 1
    return any(value != -100 + 200 * i / last for i, value in enumerate(values))


def _nearest(selector: SelectorPath, us: float) -> BandUs:
    """The first of the bands next to a pulse, below it and above."""
    here = [band for band in selector.bands if band.low_us <= us <= band.high_us]
    below = max(
        (b for b in selector.bands if b.high_us < us), key=lambda b: b.high_us, default=None
    )
    above = min((b for b in selector.bands if b.low_us > us), key=lambda b: b.low_us, default=None)
    found = here or [band for band in selector.bands if band in (below, above)]
    return found[0]
