"""Which transmitter serves a fleet, with what to spare, and what more may still be asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import frozen

from prebind.plan import solver
from prebind.plan.contradiction import Contradiction, contradictions
from prebind.plan.needs import Job
from prebind.plan.solve import Search
from prebind.plan.suits import suits

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from prebind.plan.needs import Kind, Needs
    from prebind.plan.wishes import Grip, Radio

FURTHER: Mapping[str, tuple[Kind, int]] = {
    "switches_of_two": ("switch", 2),
    "switches_of_three": ("switch", 3),
    "sprung": ("sprung", 2),
    "continuous": ("continuous", 2),
}
"""What a model may ask for in addition: the kind of control, and its positions."""


@frozen(eq=False)
class Fit:
    """One model on one transmitter; what may be left out does not count as needed.

    `contradictions`: why it does not fit; empty where it does.  The rest is None where it does not.
    `switches`, `positions`: the most that can be spare at once.  `further`: how many controls of a
    kind could be had in addition, each kind counted by itself.
    """

    needs: Needs
    contradictions: tuple[Contradiction, ...] = ()
    channels: int | None = None
    inputs: int | None = None
    ports: int | None = None
    positions: int | None = None
    further: Mapping[str, int] | None = None

    @property
    def fits(self) -> bool:
        return not self.contradictions

    @property
    def switches(self) -> int | None:
        return self.further["switches_of_two"] if self.further is not None else None


@frozen(eq=False)
class Serving:
    """One transmitter and every model of the fleet; `search` has the least that it loses."""

    radio: Radio
    fits: tuple[Fit, ...]
    search: Search

    @property
    def serves(self) -> bool:
        return all(fit.fits for fit in self.fits)

    @property
    def tightest(self) -> Fit | None:
        """The model that leaves least: in channels, then switches, then positions."""
        there = [fit for fit in self.fits if fit.fits]
        return min(there, key=lambda it: (it.channels, it.switches, it.positions), default=None)


def serving(fleet: Sequence[Needs], radio: Radio, weights: Mapping[str, int]) -> Serving:
    """Raises NotInstalled."""
    search = Search(fleet, radio, weights)
    fits = [
        _fit(needs, radio)
        if search.fits(needs)
        else Fit(needs, tuple(contradictions(needs, radio)))
        for needs in fleet
    ]
    return Serving(radio, tuple(fits), search)


def _fit(needs: Needs, radio: Radio) -> Fit:
    must = {entry.id for entry in needs.entries if not entry.if_room}
    jobs = [job for job in needs.jobs if set(job.entries) & must]
    lines = [line for line in needs.lines if line.entry in must]
    plugged = sum(line.servos for line in lines)
    return Fit(
        needs,
        channels=radio.channels - len(lines),
        inputs=needs.inputs - len(lines) if needs.receiver is not None else None,
        ports=len(needs.ports) - plugged if needs.receiver is not None else None,
        positions=_positions(jobs, needs, radio),
        further={name: _further(jobs, needs, radio, *it) for name, it in FURTHER.items()},
    )


def _rows(jobs: Sequence[Job], needs: Needs, radio: Radio) -> list[dict[int, int]]:
    """For each job the controls that it can be on, by their places, with the positions they use."""
    rows = []
    for job in jobs:
        decided = {it.control for it in needs.decisions_on(job)}
        rows.append(
            {
                i: len(grip.positions) if _stays(grip) else 0
                for i, grip in enumerate(radio.grips.values())
                if suits(job, grip, radio, needs.receiver) and decided <= {grip.id}
            }
        )
    return rows


def _stays(grip: Grip) -> bool:
    return not grip.continuous and not grip.sprung


def _positions(jobs: Sequence[Job], needs: Needs, radio: Radio) -> int:
    """The positions of the switches that stay and are left over, at most."""
    used = solver.assign(_rows(jobs, needs, radio), len(radio.grips))
    assert used is not None  # it fits
    return sum(len(grip.positions) for grip in radio.grips.values() if _stays(grip)) - used


def _further(jobs: Sequence[Job], needs: Needs, radio: Radio, kind: Kind, positions: int) -> int:
    """How many more jobs of one kind would find a control."""
    more = Job("+", "+", frozenset((kind,)), "", (), positions)
    rows = _rows(jobs, needs, radio)
    [row] = _rows([more], needs, radio)
    count = 0
    while row and solver.assign([*rows, *([row] * (count + 1))], len(radio.grips)) is not None:
        count += 1
    return count
