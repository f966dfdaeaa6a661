"""regions/uk-flyer-identity"""

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
    "regions/uk-flyer-identity",
    word="notice",
    title="Flyer identity in the United Kingdom",
    each="setup",
    settings={"from_g": Setting(100, "mass from which a flyer needs an identity, g", least=0)},
    safety=SAFETY,
    remedy=(
        "Find out whether everyone who flies this model needs a flyer identity of their own, or "
        "has one through an association, and carry it."
    ),
    bench=WEIGH,
    source="SI 2025/1106, from 2026-01-01 (read on a secondary page)",
    examples=lambda: [
        passes(
            put("/region", "uk"),
            why="A trainer of 1650 g.",
            outcome="review",
        ),
        passes(
            put("/region", "uk"),
            replace("/model/mass_g", 99),
            why="99 g is less than 100 g.",
            outcome="notApplicable",
        ),
        passes(
            put("/region", "uk"),
            remove("/model/mass_g"),
            why="What the model weighs is not recorded.",
            outcome="open",
        ),
        passes(why="No region is recorded.", outcome="notApplicable"),
    ],
)
def uk_flyer_identity(place: Path, path: Path, settings: Settings) -> Answer:
    """Since 2026-01-01 whoever flies a model of 100 g or more needs a flyer identity.

    It belongs to the person and not to the model, so think of everyone who takes the sticks.
    """
    mass, least = mass_in(path, "uk"), settings["from_g"]
    if mass is None or mass < least:
        return NOT_APPLICABLE
    return Review(
        f"At {mass:g} g, from {least:g} g on, whoever flies the model needs a flyer identity in "
        f"the United Kingdom since 2026-01-01; {CHECK}.",
        at=MASS,
        evidence={"mass_g": mass, "from_g": least},
    )
