"""A selector has more states than its control has positions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Settings, fails, passes, put, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, SelectorPath
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    two = put(
        "/transmitter/controls/side-switch", {"kind": "switch", "positions": ["back", "forward"]}
    )
    on_two = replace("/channels/4/control", "side-switch")
    lift = {"name": "middle", "purpose": "other", "channel": 5, "demand_percent": 0}
    button = {"control": "mode-button", "positions": ["pressed"]}
    yield fails(
        two,
        on_two,
        why="Three flight modes on a switch of two positions.",
        at="/channels/4/control",
        says=["flight mode", "3 states", "2 positions"],
    )
    yield fails(
        put(
            "/receiver/stabiliser/selectors/1/states/-",
            {"state": "climb", "behaviour": "other", "band": {"percent": [100.5, 150]}},
        ),
        why="Three states on the recovery button.",
        at="/channels/5/control",
        says=["recovery", "3 states", "2 positions"],
    )
    yield passes(
        two,
        on_two,
        put("/transmitter/controls/mode-button", {"kind": "button"}),
        put("/overrides/-", {**lift, "when": [button]}),
        why="A button lays the middle mode over the two-position switch: four combinations.",
    )
    yield passes(
        put("/transmitter/controls/mode-knob", {"kind": "knob"}),
        replace("/channels/4/control", "mode-knob"),
        why="A knob reaches every state; whether it should is another rule's question.",
    )


@rule(
    "capacity/positions",
    word="notice",
    title="A selector has more states than its control has positions",
    each="selectors",
    needs=("stabiliser",),
    safety="A state that no position selects is missing when it is wanted. Know which one before "
    "flying.",
    remedy="Put the selector on a control with a position for each state, or add a second control "
    "that lays the missing value over the channel.",
    bench="With the propeller off, go through all positions and note which states are selected.",
    source="common practice, no source",
    examples=_examples,
)
def positions(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """Each position of a switch gives one value, and so selects one state at most.

    With fewer positions than states some state cannot be selected.  Overrides on the channel count
    with all their controls' positions.
    """
    there, states = selector.control_positions(), len(selector.entry.states)
    if there is None or states <= there:
        return PASS
    control = selector.channel.entry.control
    return Fail(
        f"The selector “{selector.name}” has {states} states, but "
        f"{'its controls have' if len(selector.controls) > 1 else 'its control has'} only "
        f"{there} positions.",
        at=f"{selector.channel.at}/control" if control else selector.channel.at,
        evidence={"states": states, "positions": there, "controls": list(selector.controls)},
    )
