"""mixing/into-selector"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Fix, Settings, fails, passes, put, remove, rule
from prebind_rules.mixing import _sources

if TYPE_CHECKING:
    from prebind import Path
    from prebind.model import Mix


def _mix(source: str, to: int, percent: float) -> dict[str, object]:
    return {
        "name": f"{source} to channel {to}",
        "from": {"control": source},
        "to": to,
        "rate_percent": {"low": percent, "high": percent},
    }


@rule(
    "mixing/into-selector",
    word="warning",
    title="A mix moves the channel that selects a mode",
    each="mixes",
    needs=("stabiliser",),
    safety=(
        "A stick or slider that shifts the mode channel can throw the stabiliser into another "
        "mode, or call up a recovery, in the middle of a manoeuvre. Keep mixes out of selector "
        "channels, and watch the mode, propeller off, while every other control is moved."
    ),
    remedy="Take the mix out, or send it to the channel that it was meant for.",
    bench=(
        "Propeller off: watch the stabiliser's mode, or the channel's value in the transmitter's "
        "monitor, while every other control goes through its whole range."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/mixes", [_mix("throttle-stick", 5, 40)]),
            why="A mix meant for the elevator goes to the flight mode.",
            at="/mixes/0",
            says=("channel 5", "flight mode", "40 %", "160 µs"),
        ),
        fails(
            put("/mixes", [_mix("pitch-stick", 3, 0), _mix("pitch-stick", 5, 10)]),
            why="A little of the pitch stick goes to the recovery channel.",
            at="/mixes/1",
            says=("channel 5", "recovery", "10 %", "40 µs"),
            start="wing",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 3, 5)]),
            why="The same mix, into the elevator.",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 5, 0)]),
            why="A mix with a rate of 0 adds nothing.",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 5, 40)]),
            remove("/receiver/stabiliser/selectors/0"),
            why="Nothing selects by this channel.",
        ),
    ],
)
def into_selector(mix: Mix, path: Path, settings: Settings) -> Answer:
    """A selector's channel must stand at one of a few values, each well inside a band. A mix adds
    to that value whatever its source does, so the mode depends on a stick, a slider or the
    throttle, and changes at a moment that nobody chose.
    """
    selectors = [s for s in path.selectors if s.entry.channel == mix.to]
    most = _sources.most_percent(mix)
    if not selectors or not most:
        return PASS
    us = most * path.setup.transmitter.output.us_per_percent
    named = " and ".join(selector.name for selector in selectors)
    return Fail(
        f"The mix “{mix.name}” adds up to {most:g} % ({us:g} µs) to channel {mix.to}, which "
        f"selects {named}.",
        evidence={"mix": mix.name, "channel": mix.to, "percent": most, "us": us},
        fix=Fix("decide", ({"op": "remove", "path": mix.at},)),
    )
