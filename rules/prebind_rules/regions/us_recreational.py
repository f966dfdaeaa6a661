"""regions/us-recreational"""

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
from prebind_rules.regions._law import CHECK, MASS, SAFETY, WEIGH

if TYPE_CHECKING:
    from prebind import Path


@rule(
    "regions/us-recreational",
    word="notice",
    title="Limits of flying for recreation in the United States",
    each="setup",
    settings={
        "most_ft": Setting(
            400, "greatest height above the ground in class G airspace, ft", least=0
        ),
        "most_g": Setting(
            24948, "greatest mass without a programme of its own, g (55 lb)", least=0
        ),
    },
    safety=SAFETY,
    remedy=(
        "Fly within sight and below the height that holds at your site, by the guidelines of a "
        "community organisation; above the greatest mass find out what its programme asks first."
    ),
    bench=WEIGH,
    source="49 USC 44809(a) (of 2018, the year from memory); 55 lb: from memory",
    examples=lambda: [
        passes(
            put("/region", "us"),
            why="A trainer, flown in the United States.",
            outcome="review",
        ),
        passes(
            put("/region", "us"),
            replace("/model/mass_g", 26000),
            why="A model of 26 kg.",
            outcome="review",
        ),
        passes(
            put("/region", "us"),
            remove("/model/mass_g"),
            why="The limits hold whatever the model weighs.",
            outcome="review",
        ),
        passes(why="No region is recorded.", outcome="notApplicable"),
    ],
)
def us_recreational(place: Path, path: Path, settings: Settings) -> Answer:
    """Flying for recreation, as its own law allows it, has limits: within visual line of sight, at
    most 400 ft above the ground in class G airspace, by the guidelines of a community organisation.

    A setup does not say where and how a model is flown, so this only reminds.
    """
    if path.setup.region != "us":
        return NOT_APPLICABLE
    mass, most, height = path.setup.model.mass_g, settings["most_g"], settings["most_ft"]
    limits = (
        "Flying for recreation in the United States means within visual line of sight, at most "
        f"{height:g} ft above the ground in class G airspace, by a community organisation's "
        "guidelines"
    )
    evidence = {"most_ft": height, "mass_g": mass, "most_g": most}
    if mass is None or mass <= most:
        return Review(f"{limits}; {CHECK}.", at="/region", evidence=evidence)
    heavy = f"at {mass:g} g, above {most:g} g (55 lb), more is asked of the model"
    return Review(f"{limits}; {heavy}; {CHECK}.", at=MASS, evidence=evidence)
