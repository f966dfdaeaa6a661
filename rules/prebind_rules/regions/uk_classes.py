"""regions/uk-classes"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import NOT_APPLICABLE, Answer, Review, Settings, passes, put, remove, rule
from prebind_rules.regions._law import CHECK, SAFETY, WEIGH

if TYPE_CHECKING:
    from prebind import Path


@rule(
    "regions/uk-classes",
    word="notice",
    title="Names of the classes in the United Kingdom",
    each="setup",
    safety=SAFETY,
    remedy=(
        "Find out which of these classes, if any, this model belongs to, and what an older mark "
        "on it still means."
    ),
    bench=WEIGH,
    source="SI 2025/1106, of 2025",
    examples=lambda: [
        passes(
            put("/region", "uk"),
            why="A trainer, flown in the United Kingdom.",
            outcome="review",
        ),
        passes(
            put("/region", "uk"),
            remove("/model/mass_g"),
            why="The names hold whatever the model weighs.",
            outcome="review",
        ),
        passes(
            put("/region", "eu"),
            why="The European Union keeps its own names.",
            outcome="notApplicable",
        ),
        passes(why="No region is recorded.", outcome="notApplicable"),
    ],
)
def uk_classes(place: Path, path: Path, settings: Settings) -> Answer:
    """The United Kingdom names its classes of unmanned aircraft UK0 to UK6, where it once took the
    names that the European Union still has.

    Whether a mark with one of the older names still counts is for the law to say.
    """
    if path.setup.region != "uk":
        return NOT_APPLICABLE
    return Review(
        "The classes of unmanned aircraft are named UK0 to UK6 in the United Kingdom, no longer "
        f"by the names of the European Union; {CHECK}.",
        at="/region",
        evidence={"mass_g": path.setup.model.mass_g},
    )
