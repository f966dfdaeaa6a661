"""What each check by hand proves: the facts that its digest is made of.

Only results count: pulses to 0.1 µs, deflections to 0.1°, states, signs, and the entries by which
they are judged.  What the document calls a control, a position, a phase or a surface is no result,
nor is the order of a list that has none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.path.proofs.directions import (
    control_direction,
    correction_direction,
    has_corrections,
    has_directions,
)
from prebind.path.proofs.failsafe import failsafe
from prebind.path.proofs.states import has_recovery, has_selectors, recovery, states
from prebind.path.proofs.telling import entry, tenth
from prebind.path.proofs.throws import has_throws, throws

if TYPE_CHECKING:
    from collections.abc import Callable

    from prebind.path import Path
    from prebind.path.proofs.telling import Facts

__all__ = ["CHECKS", "Check", "tenth"]


class Check(NamedTuple):
    """One check by hand: whether a setup has anything for it to prove, and what it proves there."""

    applies: Callable[[Path], bool]
    facts: Callable[[Path], Facts]


def _has_receiver(path: Path) -> bool:
    return path.setup.receiver is not None


def _range(path: Path) -> Facts:
    """The link between this radio and this receiver, with this motor and supply beside it."""
    setup, receiver = path.setup, path.setup.receiver
    return {
        "transmitter": [setup.transmitter.name, setup.transmitter.channels],
        "receiver": None if receiver is None else [receiver.name, receiver.inputs],
        "propulsion": _propulsion(path),
        "supply": _supply(path),
    }


def _balance(path: Path) -> Facts:
    """What the model weighs, and what is heavy in it or can be moved."""
    model, power = path.setup.model, path.setup.power
    pack = power.flight_pack if power is not None else None
    return {
        "model": [model.airframe, model.tail, model.mass_g],
        "wing": None if model.wing is None else entry(model.wing),
        "propulsion": _propulsion(path),
        "pack": None if pack is None else [pack.chemistry, pack.cells, pack.capacity_mah],
        "supply": _supply(path),
    }


def _propulsion(path: Path) -> Facts | None:
    propulsion = path.setup.model.propulsion
    return None if propulsion is None else entry(propulsion)


def _supply(path: Path) -> str | None:
    power = path.setup.power
    supply = power.receiver_supply if power is not None else None
    return None if supply is None else supply.source


CHECKS: dict[str, Check] = {
    "control-direction": Check(has_directions, control_direction),
    "correction-direction": Check(has_corrections, correction_direction),
    "throws": Check(has_throws, throws),
    "states": Check(has_selectors, states),
    "recovery": Check(has_recovery, recovery),
    "failsafe": Check(_has_receiver, failsafe),
    "balance": Check(lambda _: True, _balance),
    "range": Check(_has_receiver, _range),
}
"""Every check of the document's `sign_offs`, in the order of the trade: bench, then field."""
