"""regions/us-remote-identification"""

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
    "regions/us-remote-identification",
    word="notice",
    title="Remote identification in the United States",
    each="setup",
    settings={
        "exempt_g": Setting(
            249.5, "greatest mass that may fly for recreation unregistered, g", least=0
        )
    },
    safety=SAFETY,
    remedy=(
        "Find out which way of remote identification suits this model and your flying site, and "
        "have it working before take-off."
    ),
    bench=WEIGH,
    source="14 CFR 89.101, 89.105, 89.110 (part 89 is of 2021, the year from memory)",
    examples=lambda: [
        passes(
            put("/region", "us"),
            why="A trainer of 1650 g, which must be registered.",
            outcome="review",
        ),
        passes(
            put("/region", "us"),
            replace("/model/mass_g", 240),
            why="Light enough to fly for recreation unregistered.",
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
def us_remote_identification(place: Path, path: Path, settings: Settings) -> Answer:
    """An aircraft that must be registered must also identify itself by radio in flight, or be
    flown in one of the other ways that the law names.

    The same mass decides as for registration.
    """
    mass, exempt = mass_in(path, "us"), settings["exempt_g"]
    if mass is None or mass <= exempt:
        return NOT_APPLICABLE
    return Review(
        f"At {mass:g} g, above {exempt:g} g, the model must be registered in the United States, "
        f"and what must be registered needs remote identification; {CHECK}.",
        at=MASS,
        evidence={"mass_g": mass, "exempt_g": exempt},
    )
