"""Two positions give the same state while another state cannot be reached."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Cause,
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


def _examples() -> Iterable[Example]:
    half = put("/transmitter/controls/mode-switch/values", [-100, -50, 100])
    yield fails(
        half,
        why="Back and middle both give level, and limited is out of reach.",
        at=f"{SELECTOR}/states/1/band",
        says=["“back”", "“middle”", "“level”", "“limited”"],
    )
    yield fails(
        put("/channels/4/travel_percent", {"low": 100, "high": 20}),
        why="With a travel of 20 % middle and forward both stay in the limited band.",
        at=f"{SELECTOR}/states/2/band",
        says=["“middle”", "“forward”", "“limited”", "“damped”"],
    )
    yield passes(
        half,
        replace(f"{SELECTOR}/states/1/band/percent", [34, 150]),
        replace(
            f"{SELECTOR}/states",
            [
                {"state": "level", "behaviour": "self-level", "band": {"percent": [-150, -34]}},
                {"state": "damped", "behaviour": "rate-damping", "band": {"percent": [-34, 150]}},
            ],
        ),
        why="Back and middle both give level, but the receiver has only two states.",
    )
    yield passes(
        put("/transmitter/controls/mode-switch/values", [-100, -30, 100]),
        why="The middle position lies just inside the limited band.",
    )


@rule(
    "bands/same-state",
    word="notice",
    title="Two positions select the same state while another is out of reach",
    each="selectors",
    needs=("stabiliser",),
    safety="A position that changes nothing feels as if the mode had changed. Know what each "
    "position does before flying, and try it with the propeller off.",
    remedy="Give one of the two positions the value of the state that is out of reach.",
    bench="With the propeller off, go through the positions and see whether the mode changes each "
    "time.",
    source="common practice, no source",
    examples=_examples,
)
def same_state(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """A switch with positions enough, and yet a state is missing: a value was set wrongly.

    The other controls are taken at rest.
    """
    channel = selector.channel
    if channel.control is None or path.control(channel.control).continuous:
        return NOT_APPLICABLE
    missing = [state for state in selector.entry.states if state.state not in selector.reached]
    if not missing:
        return PASS
    control = path.control(channel.control)
    states = {
        position: _states(selector, path, control.id, position) for position in control.positions
    }
    for one, other in combinations(control.positions, 2):
        if states[one] and states[one] == states[other]:
            return Fail(
                f"The positions “{one}” and “{other}” of “{control.id}” both select "
                f"“{states[one][0]}”, while nothing selects “{missing[0].state}”.",
                at=f"{missing[0].at}/band",
                evidence={
                    "control": control.id,
                    "positions": [one, other],
                    "state": states[one][0],
                    "missing": missing[0].state,
                },
                because=Cause("bands/unreachable", f"{missing[0].at}/band"),
            )
    return PASS


def _states(selector: SelectorPath, path: Path, control: str, position: str) -> tuple[str, ...]:
    situation = path.situation({control: position})
    return selector.states_at(situation.channels[selector.channel.number].us)
