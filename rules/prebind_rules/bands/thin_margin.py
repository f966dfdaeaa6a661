"""A switch position, or failsafe, lies close to the edge of its band."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    NotChecked,
    NotKnown,
    Open,
    Setting,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
    spoken,
)
from prebind_rules.bands._blame import blamed

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import Path, SelectorPath
    from prebind.rule import Example, Outcome


def _examples() -> Iterable[Example]:
    yield fails(
        put("/transmitter/controls/mode-switch/values", [-39, 0, 100]),
        why="The back position gives −39 %, five percent from the edge at −34 %.",
        at="/transmitter/controls/mode-switch/values",
        says=["mode-switch at back", "1344", "“level”", "20 µs", "1364"],
    )
    yield fails(
        replace("/receiver/failsafe/channels/4/output_percent", -38),
        why="At failsafe the mode's channel goes to −38 %, 16 µs from the edge.",
        at="/receiver/failsafe/channels/4/output_percent",
        says=["failsafe", "1348", "16 µs", "1364"],
    )
    yield passes(
        put("/transmitter/controls/mode-switch/values", [-41, 0, 100]),
        why="28 µs from the edge.",
    )
    yield passes(
        put("/transmitter/controls/mode-switch/values", [-100, 0, 147]),
        why="12 µs from the end of the top band, but the radio can go no further.",
    )
    yield passes(
        put("/transmitter/controls/mode-knob", {"kind": "knob"}),
        replace("/channels/4/control", "mode-knob"),
        why="A knob stands near every edge at some time; it has no positions to judge.",
    )


@rule(
    "bands/thin-margin",
    word="caution",
    title="A position lies close to the edge of its band",
    each="selectors",
    needs=("stabiliser",),
    safety="A little drift, another trim or a switch that does not quite reach its stop chooses "
    "another mode in flight. Move the value well inside the band, and prove it with the propeller "
    "off.",
    remedy="Move the value towards the middle of the band with the channel's travel or the "
    "switch's values; at failsafe, store another value.",
    bench="With the propeller off, rock the switch in its position and watch whether the mode "
    "flickers.",
    source="common practice, no source",
    settings={"margin_us": Setting(25, "least distance to the edge of the band, in µs", least=0)},
    examples=_examples,
)
def thin_margin(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """A value close to an edge is one that may fall to the other side on another day.

    Distances count up to where another state, or none, begins.  A position in no state or in two
    is judged by the rules on gaps and overlaps.
    """
    found: list[Outcome] = []
    for judged in (_positions, _failsafe):
        try:
            found += judged(selector, path, settings)
        except NotKnown as unknown:
            found.append(Open(unknown.message, unknown.settles))
        except NotChecked as unchecked:
            found.append(Open(unchecked.message))
    return found or PASS


def _positions(selector: SelectorPath, path: Path, settings: Settings) -> Iterator[Outcome]:
    close = [(s.margin_us, s) for s in selector.positions if s.margin_us is not None]
    margin, worst = min(close, key=lambda found: found[0], default=(None, None))
    if margin is None or worst is None or margin >= settings["margin_us"]:
        return
    yield Fail(
        f"With {spoken(worst.controls)}, channel {selector.channel.number} puts out "
        f"{worst.us:.0f} µs: “{worst.states[0]}” of “{selector.name}”, but only {margin:.0f} µs "
        f"from the edge at {_edge(selector, worst.us):.0f} µs.",
        at=blamed(selector, path, worst.us),
        evidence={
            "controls": dict(worst.controls),
            "us": worst.us,
            "percent": worst.percent,
            "state": worst.states[0],
            "margin_us": margin,
        },
    )


def _failsafe(selector: SelectorPath, path: Path, settings: Settings) -> Iterator[Outcome]:
    stored = selector.failsafe
    if stored.us is None or not stored.states:
        return
    receiver = path.setup.receiver
    if stored.margin_us is None or stored.margin_us >= settings["margin_us"]:
        return
    entries = receiver.failsafe.channels if receiver and receiver.failsafe else ()
    at = next(f"{e.at}/output_percent" for e in entries if e.channel == selector.entry.channel)
    yield Fail(
        f"At failsafe channel {selector.entry.channel} goes to {stored.us:.0f} µs: "
        f"“{stored.states[0]}” of “{selector.name}”, but only {stored.margin_us:.0f} µs from the "
        f"edge at {_edge(selector, stored.us):.0f} µs.",
        at=at,
        evidence={
            "us": stored.us,
            "percent": stored.percent,
            "state": stored.states[0],
            "margin_us": stored.margin_us,
        },
    )


def _edge(selector: SelectorPath, us: float) -> float:
    """The end of a band that lies nearest to a pulse, in µs."""
    ends = [end for band in selector.bands for end in (band.low_us, band.high_us)]
    return min(ends, key=lambda end: abs(end - us))
