"""What the servos of a model draw together, where all stall currents may not be recorded."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.record import Record, record
from prebind.rule import NotKnown, Setting, Settings

if TYPE_CHECKING:
    from prebind.model import Setup, Supply

SUPPLY = "/power/receiver_supply"

SHARE = Setting(0.25, "what a working servo draws, as a share of its stall current", least=0)
PEAK = {
    "stalled": Setting(2, "servos that stall at once", count=True),
    "stalled_helicopter": Setting(4, "servos that stall at once in a helicopter", count=True),
    "share": SHARE,
}


@record
class Draw(Record):
    """A current in ampere, counting servos of unknown stall current as nothing."""

    ampere: float
    stalled: int
    servos: int
    unknown: tuple[str, ...]
    """JSON Pointers of the stall currents that are not recorded: the true draw is higher."""


def working(setup: Setup, settings: Settings) -> Draw:
    """All servos at their share of the stall current."""
    return _draw(setup, 0, settings["share"])


def peak(setup: Setup, settings: Settings) -> Draw:
    """The strongest servos stalled, the others at their share."""
    helicopter = setup.model.airframe == "helicopter"
    stalled = settings["stalled_helicopter" if helicopter else "stalled"]
    return _draw(setup, stalled, settings["share"])


def supply_of(setup: Setup) -> Supply:
    """The receiver's supply.  Raises NotKnown where it is not recorded."""
    if setup.power is None or setup.power.receiver_supply is None:
        raise NotKnown("The receiver's supply is not recorded.", (SUPPLY,))
    return setup.power.receiver_supply


def _draw(setup: Setup, stalled: int, share: float) -> Draw:
    servos = setup.servos or ()
    known = sorted((s.stall_a for s in servos if s.stall_a is not None), reverse=True)
    ampere = sum(known[:stalled]) + share * sum(known[stalled:])
    unknown = tuple(f"{s.at}/stall_a" for s in servos if s.stall_a is None)
    return Draw(round(ampere, 6), min(stalled, len(servos)), len(servos), unknown)
