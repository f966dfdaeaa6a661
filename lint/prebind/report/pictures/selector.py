"""The picture of a selector: its bands, what each control position puts out, and the failsafe."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from attrs import frozen

from prebind.report.cells import NOTHING, percent, states, us
from prebind.report.pictures.ruler import (
    Label,
    Ruler,
    Tick,
    label_at,
    lanes,
    percent_ticks,
    ruler_over,
    shortened,
    us_text,
    width_of,
)
from prebind.report.wording import clean, number, where

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from prebind.path.facts import Controls
    from prebind.path.selector import BandUs, SelectorPath

    Json = Mapping[str, Any]

_MOST_MARKS = 16
_MOST_ROWS = 60

_TOP = 34  # px: below the percent scale
_BAND = 28  # px: a lane of bands
_MARK = 36  # px: a lane of marks, with their labels
_BOTTOM = 24  # px: the µs scale

Shape = Literal["one", "gap", "overlap", "link-lost"]


@frozen
class Band:
    """A state's band; `fill` tells neighbours apart by their pattern."""

    state: str
    behaviour: str
    us: str
    percent: str
    x: float
    width: float
    y: int
    fill: int
    label: Label


@frozen
class Mark:
    """A value, or a stretch of values up to `end`, in percent of the width.

    `margin`: from where to where a value may drift without another state, or none, beginning.
    """

    us: float
    x: float
    end: float
    y: int
    shape: Shape
    label: Label
    margin: tuple[float, float] | None


@frozen
class Row:
    """What the table says of one value."""

    controls: str
    percent: str
    us: str
    states: str
    margin: str


@frozen
class SelectorPicture:
    """`unknown` says why there are no marks; `more` counts values that only the table has."""

    name: str
    channel: int
    purpose: str
    height: int
    band_height: int
    ticks: list[Tick]
    bands: list[Band]
    marks: list[Mark]
    rows: list[Row]
    link_lost: str
    words: str
    unknown: tuple[str, ...]
    more: int
    left_out: int


@frozen
class _Value:
    """Combinations that put out the same; `controls` are the positions that they share."""

    low_us: float
    high_us: float
    percent: Any
    us: Any
    states: tuple[str, ...]
    margin_us: float | None
    controls: Controls
    own: Controls
    combinations: int

    @property
    def stretch(self) -> bool:
        return self.low_us != self.high_us


def selector_picture(
    selector: SelectorPath, trace: Json, unknown: tuple[str, ...]
) -> SelectorPicture:
    """`trace` is the selector's entry in the trace, `unknown` why it lacks what it lacks."""
    output = selector.path.setup.transmitter.output
    failsafe = trace["failsafe"]
    values = list(_values(selector, trace["positions"] or ()))
    pulses = [edge for value in values for edge in (value.low_us, value.high_us)]
    lost = [failsafe["us"]] if failsafe["us"] is not None else []
    ruler = ruler_over((*selector.path.limit_us, *pulses, *lost))
    bands = _bands(selector, ruler)
    below = max((band.y for band in bands), default=_TOP) + _BAND
    marks = _marks(selector, ruler, values, failsafe)
    placed = _placed(marks, below + 12)
    height = max((mark.y for mark in placed), default=below) + _MARK - 8 + _BOTTOM
    link_lost = _link_lost(selector, failsafe, bool(unknown))
    rows = [_row(value) for value in values[:_MOST_ROWS]]
    return SelectorPicture(
        selector.name,
        selector.entry.channel,
        selector.entry.purpose,
        height,
        _BAND - 4,
        percent_ticks(ruler, output.centre_us, output.us_per_percent),
        bands,
        placed,
        rows,
        link_lost,
        _words(bands, rows, link_lost, unknown),
        unknown,
        max(0, len(values) - _MOST_MARKS),
        max(0, len(values) - _MOST_ROWS),
    )


# Bands


def _bands(selector: SelectorPath, ruler: Ruler) -> list[Band]:
    """The bands in the order of their pulses, one that meets another on a lane below it."""
    ordered = sorted(selector.bands, key=lambda band: (band.low_us, band.high_us))
    labels = [_named(ruler, band) for band in ordered]
    extents = [
        (
            min(ruler.at(band.low_us), label.extent[0]) + 0.05,
            max(ruler.at(band.high_us), label.extent[1]) - 0.05,
        )
        for band, label in zip(ordered, labels, strict=True)
    ]
    return [
        _band(selector, ruler, band, label, _TOP + _BAND * lane, i % 3)
        for i, (band, label, lane) in enumerate(zip(ordered, labels, lanes(extents), strict=True))
    ]


def _named(ruler: Ruler, band: BandUs) -> Label:
    """The state's name inside its band where there is room, else beside it."""
    low, high = ruler.at(band.low_us), ruler.at(band.high_us)
    text = shortened(band.state.state)
    if width_of(text) + 1 <= high - low:
        return Label(text, round((low + high) / 2, 3), "middle")
    if high + 1.5 + width_of(text) <= 100 or 100 - high > low:
        return Label(text, round(high + 1.5, 3), "start")
    return Label(text, round(low - 1.5, 3), "end")


def _band(
    selector: SelectorPath, ruler: Ruler, band: BandUs, label: Label, y: int, fill: int
) -> Band:
    output = selector.path.setup.transmitter.output
    low, high = ruler.at(band.low_us), ruler.at(band.high_us)
    ends = [(end - output.centre_us) / output.us_per_percent for end in (band.low_us, band.high_us)]
    return Band(
        band.state.state,
        band.state.behaviour,
        us([band.low_us, band.high_us]),
        percent(ends),
        low,
        round(max(high - low, 0.2), 3),
        y,
        fill,
        label,
    )


# Values


def _values(selector: SelectorPath, positions: Iterable[Json]) -> Iterable[_Value]:
    """What the trace found, combinations that put out the same taken together, lowest first."""
    same: dict[tuple[Any, ...], list[Json]] = {}
    for found in positions:
        low, high = _ends(found["us"])
        key = (round(low, 3), round(high, 3), tuple(found["states"]))
        same.setdefault(key, []).append(found)
    for key in sorted(same):
        first, *others = same[key]
        shared = dict(first["controls"])
        for other in others:
            shared = {c: at for c, at in shared.items() if other["controls"].get(c) == at}
        own = {c: at for c, at in shared.items() if c in selector.controls}
        yield _Value(
            *_ends(first["us"]),
            first["percent"],
            first["us"],
            tuple(first["states"]),
            first["margin_us"],
            shared,
            own,
            len(same[key]),
        )


def _ends(value: Any) -> tuple[float, float]:
    return (value[0], value[1]) if isinstance(value, list) else (value, value)


def _row(value: _Value) -> Row:
    controls = where(value.controls) or "several positions"
    if value.stretch:
        controls = f"{_moving(value)} over part of its range"
    if value.combinations > 1:
        controls = f"{controls}, in {value.combinations} combinations with others"
    return Row(
        controls,
        percent(value.percent),
        us(value.us),
        states(list(value.states)),
        NOTHING if value.margin_us is None else us(value.margin_us),
    )


def _moving(value: _Value) -> str:
    """The controls that may stand anywhere in a stretch."""
    shown = value.own or value.controls
    return ", ".join(clean(name) for name, at in shown.items() if not isinstance(at, str))


def _marks(
    selector: SelectorPath, ruler: Ruler, values: list[_Value], failsafe: Json
) -> list[Mark]:
    marks = [_mark(ruler, value) for value in values[:_MOST_MARKS]]
    if failsafe["us"] is not None:
        lost = failsafe["us"]
        margin = selector.margin_at(lost)
        marks.append(_at(ruler, lost, lost, "link-lost", "link lost", margin))
    return marks


def _mark(ruler: Ruler, value: _Value) -> Mark:
    name = _standing(value)
    shape: Shape = "gap" if not value.states else "one" if len(value.states) == 1 else "overlap"
    if shape != "one":
        name = f"{name}: {'no state' if shape == 'gap' else 'several states'}"
    return _at(ruler, value.low_us, value.high_us, shape, name, value.margin_us)


def _standing(value: _Value) -> str:
    shown = value.own or value.controls
    if value.stretch:
        return shortened(_moving(value), 22)
    spoken = (at if isinstance(at, str) else f"{number(at)} %" for at in shown.values())
    return shortened(", ".join(spoken) or "several positions", 22)


def _at(
    ruler: Ruler, low: float, high: float, shape: Shape, name: str, margin: float | None
) -> Mark:
    x, end = ruler.at(low), ruler.at(high)
    text = name if margin is None else f"{name}, margin {us_text(margin)}"
    drift = None if margin is None else (ruler.at(low - margin), ruler.at(high + margin))
    return Mark(low, x, end, 0, shape, label_at(text, round((x + end) / 2, 3)), drift)


def _placed(marks: list[Mark], top: int) -> list[Mark]:
    """Each mark on a lane on which neither it nor its label meets another."""
    from attrs import evolve

    extents = []
    for mark in marks:
        low, high = mark.margin or (mark.x, mark.end)
        extents.append((min(low, mark.label.extent[0]) - 1, max(high, mark.label.extent[1]) + 1))
    return [
        evolve(mark, y=top + _MARK * lane) for mark, lane in zip(marks, lanes(extents), strict=True)
    ]


# Words


def _link_lost(selector: SelectorPath, failsafe: Json, unknown: bool) -> str:
    if failsafe["action"] == "preset":
        margin = selector.margin_at(failsafe["us"])
        by = "" if margin is None else f", with a margin of {us_text(margin)}"
        return f"preset {us(failsafe['us'])}, state {states(failsafe['states'])}{by}"
    if failsafe["action"] == "hold":
        held = failsafe["states"]
        whichever = ", ".join(held) if held is not None else "not known"
        return f"hold, in whichever state it was ({whichever})"
    if failsafe["action"] == "no-pulses":
        return "no pulses: what is selected then is not written down"
    return "not known" if unknown else "no entry"


def _words(bands: list[Band], rows: list[Row], link_lost: str, unknown: tuple[str, ...]) -> str:
    """The whole picture, for whoever hears it."""
    said = [f"State {band.state}: {band.us}." for band in bands]
    said += [f"{row.controls}: {row.us}, {row.states}." for row in rows[:_MOST_MARKS]]
    said += [f"{reason}." for reason in unknown]
    return " ".join((*said, f"Link lost: {link_lost}."))
