"""Which state each position of a selector must show, and recovery."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.card.names import place, pulse
from prebind.report.card.steps import Seen, Step
from prebind.report.cells import states
from prebind.report.wording import where

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.path.selector import Selected, SelectorPath
    from prebind.report.card.bench import Bench

_MOST = 12  # positions of one selector

_SHOWS = {
    "off": "never",
    "rate-damping": "only while it turns",
    "attitude-limit": "only beyond a steep tilt",
    "self-level": "as long as it is tilted",
    "heading-hold": "after the turn too",
    "recovery": "hard, until it is level",
}
"""When a model that is turned by hand works against that (common practice, no source)."""


def state_steps(bench: Bench) -> Iterator[Step]:
    """A step for each selector but those of recovery."""
    for selector in bench.path.selectors:
        if selector.entry.purpose != "recovery":
            recovers = any(s.behaviour == "recovery" for s in selector.entry.states)
            yield _step(bench, selector, "states", *(["recovery"] if recovers else []))


def recovery_steps(bench: Bench) -> Iterator[Step]:
    for selector in bench.path.selectors:
        if selector.entry.purpose == "recovery":
            yield _step(bench, selector, "recovery", "states")


def _step(bench: Bench, selector: SelectorPath, *proves: str) -> Step:
    settle = Step(
        selector.at,
        f"“{selector.name}”: each position of its control; see which state the receiver selects",
        caution=bench.care.still,
        proves=proves,
    )
    positions = bench.ask(lambda it: it.positions, selector, settle) or ()
    controls = bench.ask(lambda it: it.controls, selector, settle) or ()
    more = len(positions) - _MOST
    notes = (
        _told_by(selector),
        f"And {more} positions more: prebind trace has them all." if more > 0 else "",
    )
    return Step(
        selector.at,
        f"“{selector.name}”: {', '.join(controls) or 'its control'} in each position",
        tuple(_seen(positions[:_MOST])) or (Seen("each position", "one state"),),
        bench.care.held,
        proves=proves,
        note=" ".join(filter(None, notes)),
        rules=bench.rules("bands", lambda found: found.at.startswith(f"{selector.at}/")),
    )


def _seen(positions: Sequence[Selected]) -> Iterator[Seen]:
    """The state of each position; a gap and an overlap are none."""
    alone = all(len(found.controls) == 1 and found.point for found in positions)
    for found in positions:
        at = place(next(iter(found.controls.values()))) if alone else where(found.controls)
        us = pulse(found.us) if found.point else f"{found.low_us:.0f} to {pulse(found.high_us)}"
        state = states(list(found.states))
        name = at if found.point else ", ".join(found.controls)
        one = len(found.states) == 1
        yield Seen(f"{name} ({us})", state if one else "one state", "" if one else state)


def _told_by(selector: SelectorPath) -> str:
    """How each state shows when the model is tilted by hand."""
    telling = {"flight-mode": set(_SHOWS), "recovery": {"recovery"}}
    behaviours = telling.get(selector.entry.purpose, set())
    states = (state for state in selector.entry.states if state.behaviour in behaviours)
    said = "; ".join(f"in {state.state} {_SHOWS[state.behaviour]}" for state in states)
    return f"Tilted by hand, the model works against it: {said}." if said else ""
