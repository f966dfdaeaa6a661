"""regions/eu-classes"""

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
from prebind_rules.regions._law import CHECK, MASS, SAFETY, WEIGH, listed, mass_in

if TYPE_CHECKING:
    from prebind import Path

NAMES = ("C0", "C1", "C2", "C3", "C4")


@rule(
    "regions/eu-classes",
    word="notice",
    title="Mass limits of the classes in the European Union",
    each="setup",
    settings={
        "below_g": Setting([250, 900, 4000, 25000, 25000], "mass below which C0 to C4 end, g")
    },
    safety=SAFETY,
    remedy=(
        "Find out whether a class mark is asked of this model, and where and how a model of its "
        "mass may be flown; write its mass down anew when something is added."
    ),
    bench=WEIGH,
    source="(EU) 2019/945, annex parts 1 to 5, of 2019",
    examples=lambda: [
        passes(
            put("/region", "eu"),
            why="A trainer of 1650 g, within C2, C3 and C4.",
            outcome="review",
        ),
        passes(
            put("/region", "eu"),
            replace("/model/mass_g", 250),
            why="250 g is no longer within C0.",
            outcome="review",
        ),
        passes(
            put("/region", "eu"),
            replace("/model/mass_g", 25000),
            why="A model of 25 kg is within no class.",
            outcome="review",
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
def eu_classes(place: Path, path: Path, settings: Settings) -> Answer:
    """Unmanned aircraft are sorted into classes, each with a mass that it stays below; C4 is the
    one most like model aircraft.

    Which class an aircraft belongs to is more than its mass, and whether a model needs one at all
    is for the law to say; this names the classes whose limit it keeps.
    """
    mass = mass_in(path, "eu")
    if mass is None:
        return NOT_APPLICABLE
    limits = settings["below_g"]
    within = [name for name, below in zip(NAMES, limits, strict=True) if mass < below]
    evidence = {"mass_g": mass, "below_g": limits, "within": within}
    if not within:
        said = f"the model keeps none of the mass limits of {listed(NAMES)}"
    else:
        said = f"the model keeps the mass limit of {listed(within)}"
        if len(within) < len(NAMES):
            said += f", and not that of {listed(name for name in NAMES if name not in within)}"
    return Review(
        f"At {mass:g} g {said} in the European Union; {CHECK}.", at=MASS, evidence=evidence
    )
