"""The most protective flight mode is not at an end position."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
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
    from collections.abc import Iterable

    from prebind import Path, SelectorPath
    from prebind.rule import Example

SELECTOR = "/receiver/stabiliser/selectors/0"
MIX = {
    "name": "trim",
    "from": {"control": "knob"},
    "to": 5,
    "rate_percent": {"low": 5, "high": 5},
}
GENTLEST_FIRST = (
    "recovery",
    "self-level",
    "attitude-limit",
    "heading-hold",
    "rate-damping",
    "off",
)


def _examples() -> Iterable[Example]:
    yield fails(
        put("/transmitter/controls/mode-switch/values", [0, -100, 100]),
        why="Level has come to lie in the middle of the switch.",
        at=f"{SELECTOR}/states/0/band",
        says=["“level”", "“middle”", "“mode-switch”"],
    )
    yield fails(
        replace(f"{SELECTOR}/states/0/behaviour", "rate-damping"),
        replace(f"{SELECTOR}/states/1/behaviour", "self-level"),
        why="The middle band is the one that levels.",
        at=f"{SELECTOR}/states/1/band",
        says=["“limited”", "“middle”", "“mode-switch”"],
    )
    yield passes(
        put("/transmitter/controls/mode-switch/values", [100, 0, -100]),
        why="Level is at the forward end: an end all the same.",
    )
    yield passes(
        replace(f"{SELECTOR}/states/1/behaviour", "self-level"),
        why="The middle levels too, but so does the back position.",
    )
    yield passes(
        put("/mixes", [MIX]),
        why="What the switch selects hangs on a control that is not there.",
        outcome="open",
    )


@rule(
    "bands/gentlest-not-at-end",
    word="notice",
    title="The most protective flight mode is not at an end position",
    each="selectors",
    needs=("stabiliser",),
    safety="In a fright the hand throws a switch to its stop. If the mode that helps most lies in "
    "the middle, the hand misses it. Practise finding it without looking, before flying.",
    remedy="Let an end position of the switch select it, by the switch's values or the receiver's "
    "assignment.",
    bench="With the propeller off and eyes shut, throw the switch to each stop and have somebody "
    "read which mode is selected.",
    source="common practice, no source",
    examples=_examples,
)
def gentlest_not_at_end(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """An end position is found without looking, a middle one is not.

    Most protective first: recovery, self-levelling, limited attitude, heading hold, damped rates,
    off.  Only what the channel's own switch selects is compared.
    """
    channel = selector.channel
    if selector.entry.purpose != "flight-mode" or channel.control is None:
        return NOT_APPLICABLE
    control = path.control(channel.control)
    if control.continuous:
        return NOT_APPLICABLE
    ranked = [
        (GENTLEST_FIRST.index(state.behaviour), i, position, state.state)
        for i, position in enumerate(control.positions)
        for name in selector.states_at(channel.stages({**path.rest(), control.id: position}).us)
        if (state := selector.state(name)).behaviour in GENTLEST_FIRST
    ]
    if not ranked:
        return PASS
    best = min(rank for rank, *_ in ranked)
    ends = {0, len(control.positions) - 1}
    if any(rank == best and i in ends for rank, i, *_ in ranked):
        return PASS
    _, _, position, name = min(ranked)
    return Fail(
        f"The most protective mode of “{selector.name}”, “{name}”, is at “{position}” of "
        f"“{control.id}”, not at an end of the switch.",
        at=f"{selector.state(name).at}/band",
        evidence={
            "control": control.id,
            "positions": list(control.positions),
            "position": position,
            "state": name,
            "behaviour": selector.state(name).behaviour,
        },
    )
