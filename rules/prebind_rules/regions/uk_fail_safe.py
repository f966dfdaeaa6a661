"""regions/uk-fail-safe"""

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
from prebind_rules.regions._law import CHECK, SAFETY, WEIGH, mass_in

if TYPE_CHECKING:
    from prebind import Path


@rule(
    "regions/uk-fail-safe",
    word="notice",
    title="Fail-safe in the United Kingdom",
    each="setup",
    settings={
        "absolute_above_g": Setting(7000, "mass above which a fail-safe is a must, g", least=0)
    },
    safety=SAFETY,
    remedy=(
        "Set the failsafe so that the throttle closes or idles when the link is lost, and prove "
        "it on the bench, propeller off; find out what your association asks by now."
    ),
    bench=WEIGH,
    source="CAP 658, 4th edition, of 2013 (read on a secondary page; may be superseded)",
    examples=lambda: [
        passes(
            put("/region", "uk"),
            why="A trainer of 1650 g: a fail-safe must be used where there is one.",
            outcome="review",
        ),
        passes(
            put("/region", "uk"),
            replace("/model/mass_g", 7001),
            why="Above 7 kg it is a must.",
            outcome="review",
        ),
        passes(
            put("/region", "uk"),
            replace("/model/propulsion/kind", "turbine"),
            remove("/model/mass_g"),
            why="With a turbine it is a must, whatever the model weighs.",
            outcome="review",
        ),
        passes(
            put("/region", "uk"),
            replace("/model/propulsion/kind", "none"),
            why="A light model without a motor has no throttle to close.",
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
def uk_fail_safe(place: Path, path: Path, settings: Settings) -> Answer:
    """A receiver's fail-safe must be used where there is one, so that the throttle closes or idles
    when the link is lost. Above 7 kg, or with a gas turbine, the model must have one.

    What is set here is for the family on failsafe to judge.
    """
    if path.setup.region != "uk":
        return NOT_APPLICABLE
    model, above = path.setup.model, settings["absolute_above_g"]
    kind = model.propulsion.kind if model.propulsion is not None else None
    evidence = {"mass_g": model.mass_g, "absolute_above_g": above, "propulsion": kind}
    if kind == "turbine":
        why = "With a gas turbine the model must have a fail-safe"
    elif (mass_in(path, "uk") or 0) > above:
        why = f"At {model.mass_g:g} g, above {above:g} g, the model must have a fail-safe"
    elif kind == "none":
        return NOT_APPLICABLE
    else:
        why = f"Up to {above:g} g a fail-safe must be used where the receiver has one"
    return Review(
        f"{why} in the United Kingdom, which closes or idles any throttle when the link is lost; "
        f"{CHECK}.",
        at="/receiver/failsafe",
        evidence=evidence,
    )
