"""regions/eu-link-loss"""

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
from prebind_rules.regions._law import CHECK, SAFETY, WEIGH, listed, mass_in

if TYPE_CHECKING:
    from prebind import Path

NAMES = ("C1", "C3")


@rule(
    "regions/eu-link-loss",
    word="notice",
    title="Loss of the link in the European Union",
    each="setup",
    settings={"below_g": Setting([900, 25000], "mass below which C1 and C3 end, g")},
    safety=SAFETY,
    remedy=(
        "Where the model is of one of these classes, set the failsafe so that the flight ends as "
        "harmlessly as can be, propeller stopped, and prove it on the bench, propeller off."
    ),
    bench=WEIGH,
    source="(EU) 2019/945, annex part 4 (5), of 2019",
    examples=lambda: [
        passes(
            put("/region", "eu"),
            why="A trainer of 1650 g, within C3.",
            outcome="review",
        ),
        passes(
            put("/region", "eu"),
            replace("/model/mass_g", 25000),
            why="A model of 25 kg is within no class.",
            outcome="notApplicable",
        ),
        passes(
            put("/region", "eu"),
            remove("/model/mass_g"),
            why="What the model weighs is not recorded.",
            outcome="open",
        ),
        passes(why="No region is recorded.", outcome="notApplicable"),
    ],
)
def eu_link_loss(place: Path, path: Path, settings: Settings) -> Answer:
    """When the link is lost an aircraft of class C1 or C3 must find it again, or end the flight in
    a way that reduces the effect on third parties, in the air and on the ground.

    What ends a flight so differs from model to model; the family on failsafe judges what is set.
    """
    mass = mass_in(path, "eu")
    if mass is None:
        return NOT_APPLICABLE
    within = [n for n, below in zip(NAMES, settings["below_g"], strict=True) if mass < below]
    if not within:
        return NOT_APPLICABLE
    return Review(
        f"At {mass:g} g the model keeps the mass limit of {listed(within)} in the European Union, "
        "of which it is asked that on loss of the link it is found again, or the flight ends with "
        f"less effect on third parties; {CHECK}.",
        at="/receiver/failsafe",
        evidence={"mass_g": mass, "below_g": settings["below_g"], "within": within},
    )
