"""Leaving the throttle cut starts the motor."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Fix,
    Open,
    Settings,
    fails,
    passes,
    remove,
    replace,
    rule,
)
from prebind_rules.throttle._motors import is_cut

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import Override
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/overrides/0/release", "at-once"),
        why="With the stick up, the switch alone starts the motor at that power.",
        at="/overrides/0/release",
        says=["throttle cut", "channel 1", "at once"],
    )
    yield fails(
        replace("/overrides/0/release", "at-once"),
        start="helicopter",
        why="A throttle hold that lets the rotor start at once.",
        at="/overrides/0/release",
        says=["throttle hold", "at once"],
    )
    yield passes(
        replace("/overrides/0/release", "at-once"),
        replace("/overrides/0/purpose", "other"),
        why="An override that nobody uses as a cut.",
        outcome="notApplicable",
    )
    yield passes(
        replace("/overrides/0/release", "at-once"),
        start="glow",
        why="An engine that the cut has stopped does not start again by itself.",
        outcome="notApplicable",
    )
    yield passes(
        remove("/overrides/0/release"),
        why="How the cut is left is not recorded.",
        outcome="open",
    )


@rule(
    "throttle/releases-live",
    word="danger",
    title="Leaving the throttle cut with the stick up starts the motor",
    each="overrides",
    safety="A knock against the switch starts the motor at whatever power the stick stands at. "
    "Check the stick before every release of the cut, and keep everyone clear of the propeller.",
    remedy="Let the cut release only once the throttle has been low, where the radio can do it.",
    bench="Propeller off, model held down: cut on, stick half up, cut off: the motor must stay "
    "still until the stick has been low.",
    source="common practice, no source",
    examples=_examples,
)
def releases_live(override: Override, path: Path, settings: Settings) -> Answer:
    """The stick is often not low when the cut is left: it was knocked while the model was carried.

    A cut that waits for a low stick keeps the motor still until the pilot asks for it.  An engine
    that its cut has stopped needs a hand to start it again.
    """
    if not is_cut(override) or _starts_by_hand(override, path):
        return NOT_APPLICABLE
    if override.release is None:
        return Open(
            f"Whether “{override.name}” lets the motor run again at once is not recorded.",
            (f"{override.at}/release",),
        )
    if override.release == "at-low":
        return PASS
    return Fail(
        f"“{override.name}” releases channel {override.channel} at once, even with "
        f"{path.throttle_control} up.",
        at=f"{override.at}/release",
        evidence={"release": override.release, "channel": override.channel},
        fix=Fix("decide", (replace(f"{override.at}/release", "at-low"),)),
    )


def _starts_by_hand(override: Override, path: Path) -> bool:
    propulsion = path.setup.model.propulsion
    kind = propulsion.kind if propulsion else None
    return kind in ("glow", "petrol", "turbine") and override.purpose == "throttle-cut"
