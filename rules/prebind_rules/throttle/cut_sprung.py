"""The throttle cut springs back to running."""

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
from prebind_rules.throttle._motors import is_cut

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import Override
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        put("/transmitter/controls/cut-switch/sprung", True),
        why="The switch for the cut is one that springs back.",
        at="/overrides/0/when/0/control",
        says=["cut-switch", "run"],
    )
    yield fails(
        replace("/overrides/0/when", [{"control": "recovery-button", "positions": ["pressed"]}]),
        why="The cut lasts only as long as a thumb is on the button.",
        at="/overrides/0/when/0/control",
        says=["recovery-button", "released"],
    )
    yield passes(
        replace("/overrides/0/when", [{"control": "recovery-button", "positions": ["released"]}]),
        why="The motor can run only while the button is held: letting go cuts it.",
    )
    yield passes(
        put("/transmitter/controls/rate-switch/sprung", True),
        why="A sprung switch that has nothing to do with the cut.",
    )


@rule(
    "throttle/cut-sprung",
    word="danger",
    title="The throttle cut springs back to running",
    each="overrides",
    safety="The motor comes back when the control is let go, while someone is at the propeller. "
    "Keep the propeller off until the cut stays where it is put.",
    remedy="Put the throttle cut on a switch that stays in its position.",
    bench="Propeller off: put the cut on, take the hand away, and see in the radio's channel "
    "display that the throttle stays at its lowest value.",
    source="common practice, no source",
    examples=_examples,
)
def cut_sprung(override: Override, path: Path, settings: Settings) -> Answer:
    """A cut must hold without a hand on it.

    Both hands are needed at the model.  A control that returns by itself ends the cut the moment
    it is let go.
    """
    if not is_cut(override):
        return NOT_APPLICABLE
    for name in path.depends(override.when):
        control = path.control(name)
        if not control.sprung:
            continue
        if path.channel(override.channel).reach_where({name: control.rest}, override.when) is None:
            rest = control.rest if isinstance(control.rest, str) else f"{control.rest:g} %"
            return Fail(
                f"“{override.name}” is on {name}, which springs back to {rest}, where the cut is "
                "off.",
                at=_condition(override, name, path),
                evidence={"controls": {name: control.rest}},
            )
    return PASS


def _condition(override: Override, control: str, path: Path) -> str:
    """The place of the first condition that depends on this control."""
    for i, condition in enumerate(override.when):
        if control in path.depends((condition,)):
            key = "control" if condition.phase is None else "phase"
            return f"{override.at}/when/{i}/{key}"
    return f"{override.at}/when"
