"""regions/eu-operator-registration"""

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
    "regions/eu-operator-registration",
    word="notice",
    title="Registration as an operator in the European Union",
    each="setup",
    settings={"from_g": Setting(250, "mass from which an operator must register, g", least=0)},
    safety=SAFETY,
    remedy=(
        "Find out whether you must register as an operator, or whether your club has done it for "
        "you, and put the number on the model as asked."
    ),
    bench=WEIGH,
    source="(EU) 2019/947, article 14(5), of 2019 (read on a secondary page)",
    examples=lambda: [
        passes(
            put("/region", "eu"),
            why="A trainer of 1650 g.",
            outcome="review",
        ),
        passes(
            put("/region", "eu"),
            replace("/model/mass_g", 249),
            why="249 g is less than 250 g.",
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
def eu_operator_registration(place: Path, path: Path, settings: Settings) -> Answer:
    """Whoever operates an unmanned aircraft of 250 g or more must register as its operator.

    The law may ask the same for other reasons than mass, of which a setup says nothing.
    """
    mass, least = mass_in(path, "eu"), settings["from_g"]
    if mass is None or mass < least:
        return NOT_APPLICABLE
    return Review(
        f"At {mass:g} g, from {least:g} g on, whoever operates the model must be registered in the "
        f"European Union; {CHECK}.",
        at=MASS,
        evidence={"mass_g": mass, "from_g": least},
    )
