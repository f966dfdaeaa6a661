"""A control that is not the selector's own changes its state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Cause,
    Fail,
    NotChecked,
    Settings,
    fails,
    passes,
    put,
    rule,
    spoken,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import ChannelPath, Controls, Path, Selected, SelectorPath
    from prebind.model import Mix
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    def mix(rate: float) -> dict[str, object]:
        rates = {"low": rate, "high": rate}
        return {"name": "stray", "from": {"control": "rate-switch"}, "to": 5, "rate_percent": rates}

    soft = [{"control": "rate-switch", "positions": ["soft"]}]
    yield fails(
        put("/mixes", [mix(50)]),
        why="A stray mix from the rate switch moves the mode's channel by 50 %.",
        at="/mixes/0",
        says=["“rate-switch”", "“flight mode”", "mode-switch at middle"],
    )
    yield fails(
        put("/channels/4/rates", [{"rate_percent": 30, "when": soft}, {"rate_percent": 100}]),
        why="Soft rates were laid on the mode's channel too: its ends fall into the middle band.",
        at="/channels/4/rates",
        says=["“rate-switch”", "“flight mode”"],
    )
    yield passes(
        put("/mixes", [mix(20)]),
        why="The mix moves the value by 20 %, and every position stays in its band.",
    )
    yield passes(
        put(
            "/overrides/-",
            {
                "name": "level out",
                "purpose": "other",
                "channel": 5,
                "demand_percent": -100,
                "when": [{"control": "recovery-button", "positions": ["pressed"]}],
            },
        ),
        why="The button in an override's condition is one of the selector's own controls.",
    )


@rule(
    "bands/disturbed",
    word="warning",
    title="A control that is not the selector's own changes its state",
    each="selectors",
    needs=("stabiliser",),
    safety="The flight mode changes while the hand is on something else, and the model answers "
    "differently from one moment to the next. Clear the selector's channel of everything but its "
    "own control, and prove each mode with the propeller off.",
    remedy="Take the mix, rate or trim off the selector's channel, or make it depend on the "
    "selector's own control.",
    bench="With the propeller off, move every other control through its range in each position of "
    "the selector, and see that the mode stays.",
    source="common practice, no source",
    examples=_examples,
)
def disturbed(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """A selector answers to its own control and to nothing else.

    Its own are the control of its channel, and those in the conditions of overrides on it, phases
    included.  Any other control that changes the state does it unnoticed.
    """
    own = set(selector.controls)
    strange = [control for control in selector.channel.controls if control not in own]
    if not strange:
        return PASS
    for held in _affordable(selector, path, strange):
        here, *others = selector.positions_where(held)
        changed = [other for other in others if other.states != here.states]
        if changed:
            least = min(changed, key=lambda there: len(_moved(here, there)))
            return _found(selector, path, here, least)
    return PASS


def _affordable(selector: SelectorPath, path: Path, strange: list[str]) -> Iterable[Controls]:
    """Each place to hold the own controls at, once.  Raises NotChecked beyond the bound."""
    held = {tuple(place.items()): place for place in _held(selector, path, strange)}
    others = {tuple(_of(here.controls, strange).values()) for here in selector.positions}
    cells = len(held) * len(others)
    if cells > path.bound:
        raise NotChecked(
            f"not checked: {', '.join(strange)} meet on channel {selector.channel.number} in "
            f"{cells:,} combinations with “{selector.name}”'s own controls",
            tuple(strange),
            cells,
        )
    return held.values()


def _held(selector: SelectorPath, path: Path, strange: list[str]) -> Iterator[Controls]:
    """Where the selector's own controls are held: every position, and a knob close to each edge.

    Close to an edge the least shift by another control shows.
    """
    switches = [control for control in strange if not path.control(control).continuous]
    for here in selector.positions:
        yield _of(here.controls, selector.controls)
        if here.low_us == here.high_us:
            continue
        reach = selector.channel.reach_where(_of(here.controls, switches))
        edge = reach and reach.met(here.low_us, here.low_us + 2 * path.tolerance_us)
        if edge:
            yield _of({**here.controls, **edge[1]}, selector.controls)


def _of(controls: Controls, some: Iterable[str]) -> Controls:
    return {control: controls[control] for control in some}


def _moved(here: Selected, there: Selected) -> list[str]:
    return [control for control, at in here.controls.items() if there.controls[control] != at]


def _found(selector: SelectorPath, path: Path, here: Selected, there: Selected) -> Fail:
    moved = _moved(here, there)
    own = _of(here.controls, selector.controls)
    before, after = (_state(selected) for selected in (here, there))
    names = " and ".join(f"“{control}”" for control in moved)
    at = _culprit(selector.channel, path, set(moved))
    return Fail(
        f"With {spoken(own) or 'nothing else moved'}, {names} changes “{selector.name}” from "
        f"{before} ({here.us:.0f} µs) to {after} ({there.us:.0f} µs).",
        at=at,
        evidence={
            "from": dict(here.controls),
            "from_us": here.us,
            "from_states": list(here.states),
            "to": dict(there.controls),
            "to_us": there.us,
            "to_states": list(there.states),
        },
        because=Cause("mixing/into-selector", at),
    )


def _culprit(channel: ChannelPath, path: Path, moved: set[str]) -> str:
    """The pointer of what lets these controls at the channel: rates, curves, trim or a mix."""
    made = path.inputs.get(channel.entry.control or "")
    for shaped in (channel.entry, made) if made else (channel.entry,):
        for key in ("rates", "curves", "trim_percent"):
            chosen = getattr(shaped, key) or ()
            if any(moved & set(path.depends(choice.when)) for choice in chosen):
                return f"{shaped.at}/{key}"
    for mix in channel.mixes:
        if moved & {_source(mix, path), *path.depends(mix.when)}:
            return mix.at
    return channel.at


def _source(mix: Mix, path: Path) -> str | None:
    """The control that a mix takes its value from."""
    if mix.source.channel is not None:
        return path.channel(mix.source.channel).control
    if mix.source.input is not None:
        return path.inputs[mix.source.input].control
    return mix.source.control


def _state(selected: Selected) -> str:
    return " and ".join(f"“{state}”" for state in selected.states) or "no state"
