"""Two states of one selector claim the same value."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Fix,
    NotChecked,
    NotKnown,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
    spoken,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import BandUs, Path, SelectorPath
    from prebind.rule import Example

STATES = "/receiver/stabiliser/selectors/0/states"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(f"{STATES}/0/band/percent", [-150, 10]),
        why="The level band was written down as reaching past the middle.",
        at=f"{STATES}/0/band",
        says=["“level”", "“limited”", "1364", "1540", "mode-switch at middle"],
        word="warning",
    )
    yield fails(
        replace(f"{STATES}/1/band/percent", [-34, 60]),
        why="Limited and damped overlap from 34 to 60 %, where no switch position falls.",
        at=f"{STATES}/1/band",
        says=["“limited”", "“damped”", "1636", "1740", "No control reaches"],
        word="notice",
    )
    yield passes(
        replace(f"{STATES}/0/band/percent", [-150, 0]),
        replace(f"{STATES}/1/band/percent", [0, 34]),
        why="Both bands end at 0 %, where the middle position stands: a shared end is no overlap.",
    )
    yield passes(
        put("/transmitter/controls/mode-switch/values", [100, 0, -100]),
        replace(f"{STATES}/0/band/percent", [34, 150]),
        replace(f"{STATES}/2/band/percent", [-150, -34]),
        why="Switch values and bands are both the other way round.",
    )
    yield passes(
        replace(f"{STATES}/0/band", {"us": [900, 1364.4]}),
        why="0.4 µs over the edge are rounding, no overlap.",
    )


@rule(
    "bands/overlap",
    word="warning",
    title="Two states claim the same value",
    each="selectors",
    needs=("stabiliser",),
    safety="Which of the two states the receiver takes is not known, so the model may fly in a "
    "mode that nobody chose. Prove each mode on the bench, propeller off, before flying it.",
    remedy="Read both bands from the receiver again and let one begin where the other ends.",
    bench="With the propeller off, put the control there and see which mode the receiver shows.",
    source="common practice, no source",
    examples=_examples,
)
def overlap(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """A value belongs to one state.

    An end that two bands share belongs to the upper one and is no overlap.  Where no control
    reaches the overlap it does no harm yet, but something was written down wrongly.
    """
    pairs = [
        (a, b)
        for a, b in combinations(selector.bands, 2)
        if min(a.high_us, b.high_us) - max(a.low_us, b.low_us) > path.tolerance_us
    ]
    found = [_judged(selector, a, b) for a, b in pairs]
    return min(found, key=lambda fail: fail.word == "notice", default=PASS)


def _judged(selector: SelectorPath, a: BandUs, b: BandUs) -> Fail:
    low, high = max(a.low_us, b.low_us), min(a.high_us, b.high_us)
    claim = (
        f"The states “{a.state.state}” and “{b.state.state}” of “{selector.name}” both claim "
        f"{round(low, 1):g} to {round(high, 1):g} µs"
    )
    evidence = {"between": [a.state.state, b.state.state], "from_us": low, "to_us": high}
    at = f"{a.state.at}/band"
    try:
        met = selector.overlap(a.state.state, b.state.state)
    except (NotKnown, NotChecked) as unknown:
        # The overlap stands in the document; only whether it is ever met is not known.
        text = f"{claim}; whether a control reaches it could not be worked out."
        return Fail(text, at, {**evidence, "not_known": unknown.message})
    if met is None:
        return Fail(f"{claim}. No control reaches it.", at, evidence, "notice", fix=_parted(a, b))
    us, controls = met
    text = f"{claim}, and {spoken(controls)} gives {round(us, 1):g} µs."
    return Fail(text, at, {**evidence, "us": us, "controls": dict(controls)})


def _parted(a: BandUs, b: BandUs) -> Fix | None:
    """Lets the lower band end where the upper one begins, where both are written in one unit."""
    lower, upper = sorted((a, b), key=lambda band: band.low_us)
    if upper.low_us <= lower.low_us or upper.high_us <= lower.high_us:
        return None
    for unit in ("percent", "us"):
        ends, edge = getattr(lower.state.band, unit), getattr(upper.state.band, unit)
        if ends and edge:
            return Fix("decide", (replace(f"{lower.state.at}/band/{unit}/1", edge[0]),))
    return None
