"""regions/us-registration"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    Answer,
    Review,
    Setting,
    Settings,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.regions._law import CHECK, MASS, SAFETY, WEIGH, mass_in

if TYPE_CHECKING:
    from prebind import Path


@rule(
    "regions/us-registration",
    word="notice",
    title="Registration in the United States",
    each="setup",
    settings={
        "exempt_g": Setting(
            249.5, "greatest mass that may fly for recreation unregistered, g", least=0
        )
    },
    safety=SAFETY,
    remedy=(
        "Find out whether this model must be registered, register it if so, and mark it as the law "
        "in force where you fly asks."
    ),
    bench=WEIGH,
    source="14 CFR 48.15(b) (part 48 is of 2015, the year from memory)",
    examples=lambda: [
        passes(
            put("/region", "us"),
            why="A trainer of 1650 g.",
            outcome="review",
        ),
        passes(
            put("/region", "us"),
            replace("/model/mass_g", 249.5),
            why="249.5 g (0.55 lb), flown for recreation.",
            outcome="notApplicable",
        ),
        passes(
            put("/region", "us"),
            remove("/model/mass_g"),
            why="What the model weighs is not recorded.",
            outcome="open",
        ),
        passes(why="No region is recorded.", outcome="notApplicable"),
    ],
)
def us_registration(place: Path, path: Path, settings: Settings) -> Answer:
    """A model aircraft need not be registered only where two things come together: it is flown
    exclusively for recreation, and it weighs 0.55 lb (249.5 g) or less.

    What a model is flown for is not in a setup, so a lighter one is not spoken of here; flown for
    anything else it must be registered, whatever it weighs.
    """
    mass, exempt = mass_in(path, "us"), settings["exempt_g"]
    if mass is None or mass <= exempt:
        return NOT_APPLICABLE
    return Review(
        f"At {mass:g} g the model is heavier than the {exempt:g} g up to which a model flown for "
        f"recreation need not be registered in the United States; {CHECK}.",
        at=MASS,
        evidence={"mass_g": mass, "exempt_g": exempt},
    )
