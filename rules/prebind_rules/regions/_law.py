"""What the reminders have in common: the region and mass that decide, and the usual words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import NotKnown

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path

CHECK = "check the law in force where you fly"
"""Stands in the message of every reminder."""

SAFETY = (
    "Published rules change, and this reminder does not: it may be out of date or not meant for "
    "this model. Before the model flies, check the law in force where you fly, and follow the "
    "site's rules and an experienced instructor."
)

WEIGH = "Weigh the model ready to fly, with everything aboard, and write it down."

MASS = "/model/mass_g"


def mass_in(path: Path, region: str) -> float | None:
    """The model's mass in g; None elsewhere than in this region.

    Raises NotKnown where it is not recorded.
    """
    if path.setup.region != region:
        return None
    mass = path.setup.model.mass_g
    if mass is None:
        raise NotKnown("the model's mass, which decides here, is not recorded", (MASS,), at=MASS)
    return mass


def listed(names: Iterable[str]) -> str:
    """`C2, C3 and C4`."""
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last
