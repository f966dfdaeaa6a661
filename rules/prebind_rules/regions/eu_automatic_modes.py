"""regions/eu-automatic-modes"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    Answer,
    Open,
    Review,
    Setting,
    Settings,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.regions._law import CHECK, SAFETY, WEIGH, listed, mass_in

if TYPE_CHECKING:
    from prebind import Path

_STABILISES = frozenset({"off", "rate-damping"})
"""Behaviours that leave the trajectory to the pilot."""

_STABILISER = "/receiver/stabiliser"


@rule(
    "regions/eu-automatic-modes",
    word="notice",
    title="Automatic control modes of class C4 in the European Union",
    each="setup",
    settings={"below_g": Setting(25000, "mass below which class C4 ends, g", least=0)},
    safety=SAFETY,
    remedy=(
        "Where the model is to be of class C4, judge whether each of these states stabilises "
        "without a direct effect on the trajectory; do without those that do more."
    ),
    bench=WEIGH,
    source="(EU) 2019/945, annex part 5 (3), of 2019",
    examples=lambda: [
        passes(
            put("/region", "eu"),
            why="A stabiliser that levels the model.",
            outcome="review",
        ),
        passes(
            put("/region", "eu"),
            replace(f"{_STABILISER}/selectors", []),
            why="A stabiliser that has no states to choose from.",
            outcome="notApplicable",
        ),
        passes(
            put("/region", "eu"),
            start="plain",
            why="A receiver without a stabiliser.",
            outcome="notApplicable",
        ),
        passes(
            put("/region", "eu"),
            remove("/receiver"),
            why="The receiver is not recorded.",
            outcome="open",
        ),
        passes(why="No region is recorded.", outcome="notApplicable"),
    ],
)
def eu_automatic_modes(place: Path, path: Path, settings: Settings) -> Answer:
    """Class C4, the one most like model aircraft, allows no automatic control modes but two:
    stabilisation without a direct effect on the trajectory, and assistance after a lost link that
    puts the controls into a fixed position.

    Rate damping is such stabilisation. Whether a limit of the attitude, levelling or recovery is
    one is for a person to judge.
    """
    if path.setup.region != "eu":
        return NOT_APPLICABLE
    if path.setup.receiver is None:
        return Open("the receiver is not recorded, nor whether it has a stabiliser", ("/receiver",))
    states = [
        state
        for selector in path.selectors
        if selector.entry.purpose in ("flight-mode", "recovery")
        for state in selector.entry.states
        if state.behaviour not in _STABILISES
    ]
    mass = mass_in(path, "eu") if states else None
    if mass is None or mass >= settings["below_g"]:
        return NOT_APPLICABLE
    named = listed(f"“{state.state}” ({state.behaviour})" for state in states)
    return Review(
        "Class C4 of the European Union allows no automatic control modes but stabilisation "
        f"without a direct effect on the trajectory: judge whether {named} "
        f"{'is' if len(states) == 1 else 'are'} such; {CHECK}.",
        at=states[0].at,
        evidence={"mass_g": mass, "states": [state.state for state in states]},
    )
