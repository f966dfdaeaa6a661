"""Moving between two neighbouring positions passes through a third state."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import BandUs, Controls, Path, Selected, SelectorPath
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    slow = put("/channels/4/slow_s", 2)
    two = {"kind": "switch", "positions": ["back", "forward"]}
    yield fails(
        slow,
        replace("/transmitter/controls/mode-switch", two),
        why="From level to damped the slow channel crosses the limited band.",
        at="/channels/4/slow_s",
        says=["“back”", "“forward”", "“limited”", "2 s"],
    )
    yield fails(
        slow,
        put("/transmitter/controls/mode-switch/values", [0, -100, 100]),
        why="Middle and forward are neighbours on the switch, but not on the scale.",
        at="/channels/4/slow_s",
        says=["“middle”", "“forward”", "“limited”"],
    )
    yield passes(
        slow,
        why="From each position to the next only the two states themselves are crossed.",
    )
    yield passes(
        replace("/transmitter/controls/mode-switch", two),
        why="The same jump over the limited band, but the channel is not slow.",
    )
    yield passes(
        slow,
        put(
            "/overrides/-",
            {
                "name": "home",
                "purpose": "other",
                "channel": 5,
                "demand_percent": 100,
                "when": [{"control": "recovery-button", "positions": ["pressed"]}],
            },
        ),
        why="An override that acts last is not slowed: it jumps from level to damped.",
    )


@rule(
    "bands/on-the-way",
    word="caution",
    title="A slow channel passes through a third state",
    each="selectors",
    needs=("stabiliser",),
    safety="For a moment the model flies in a mode that nobody chose, just when the pilot changes "
    "modes. Set the delay of a selector's channel to none, and watch the change on the bench, "
    "propeller off.",
    remedy="Take the delay off the selector's channel.",
    bench="With the propeller off, change the mode slowly and quickly, and watch which modes the "
    "receiver shows on the way.",
    source="common practice, no source",
    examples=_examples,
)
def on_the_way(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """A slow channel takes every value between two positions.

    A band that lies between is selected on the way.  Overrides that act last are not slowed.
    """
    channel = selector.channel
    if not channel.entry.slow_s:
        return PASS
    for control, start, end in _moves(selector, path):
        third = _crossed(selector, path, start, end)
        if third is not None:
            return Fail(
                f"From “{start.controls[control]}” to “{end.controls[control]}” of “{control}” "
                f"channel {channel.number} goes slowly ({channel.entry.slow_s:g} s for the full "
                f"range) from {start.us:.0f} to {end.us:.0f} µs and passes through "
                f"“{third.state.state}” ({third.low_us:.0f} to {third.high_us:.0f} µs).",
                at=f"{channel.at}/slow_s",
                evidence={
                    "slow_s": channel.entry.slow_s,
                    "from": dict(start.controls),
                    "from_us": start.us,
                    "to": dict(end.controls),
                    "to_us": end.us,
                    "state": third.state.state,
                },
            )
    return PASS


def _moves(selector: SelectorPath, path: Path) -> Iterator[tuple[str, Selected, Selected]]:
    """Each step of one control of the selector to its next position, the others standing still."""
    slowed = {
        _key(selected.controls): selected
        for selected in selector.positions
        if not _jumps(selector, path, selected.controls)
    }
    for start in slowed.values():
        for control in selector.controls:
            for here, there in pairwise(path.control(control).positions):
                if start.controls[control] != here:
                    continue
                end = slowed.get(_key({**start.controls, control: there}))
                if end is not None:
                    yield control, start, end


def _key(controls: Controls) -> frozenset[tuple[str, object]]:
    return frozenset(controls.items())


def _jumps(selector: SelectorPath, path: Path, controls: Controls) -> bool:
    """Whether an override that acts last holds."""
    return any(
        override.acts == "last" and path.holds(override.when, controls)
        for override in selector.channel.overrides
    )


def _crossed(selector: SelectorPath, path: Path, start: Selected, end: Selected) -> BandUs | None:
    """A band between two pulses whose state is selected at neither."""
    low, high = sorted((start.us, end.us))
    for band in selector.bands:
        inside = min(high, band.high_us) - max(low, band.low_us)
        if inside > path.tolerance_us and band.state.state not in {*start.states, *end.states}:
            return band
    return None
