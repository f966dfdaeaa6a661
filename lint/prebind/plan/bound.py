"""How little a model can lose, given some of the fleet's usual controls: quick, and exact.

The solver's assignment algorithm puts jobs on controls; what lines lose is settled once for each
set of wishes that is left out.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from prebind.plan import solver
from prebind.plan.needs import MOST_IF_ROOM
from prebind.plan.prefer import on_control, orders, with_order
from prebind.plan.program import Program
from prebind.plan.suits import suits

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.plan.needs import Job, Needs
    from prebind.plan.wishes import Radio


class Bound:
    """`lines_known`: what lines lose, kept for models alike.  Raises NotInstalled."""

    def __init__(
        self,
        needs: Needs,
        radio: Radio,
        weights: Mapping[str, int],
        lines_known: dict[object, int | None],
    ) -> None:
        self.needs = needs
        self._radio = radio
        self._weights = weights
        self._lines_known = lines_known
        self.told = needs.told_controls
        self.roles = frozenset(job.role for job in needs.jobs if "stick" not in job.kinds)
        self._costs = {job.id: dict(self._of(job)) for job in needs.jobs}
        free = [name for name, grip in radio.grips.items() if grip.control.kind != "stick"]
        self._places = {name: i for i, name in enumerate(free)}
        self._known: dict[tuple[str | None, ...], int | None] = {}
        self._sorted_roles = sorted(self.roles)
        self._ways = sorted(self._possible(), key=lambda way: way[:2])

    def controls(self, role: str) -> set[str]:
        """The controls that the jobs of a role can be on."""
        jobs = (job for job in self.needs.jobs if job.role == role)
        return {name for job in jobs for name in self._costs[job.id]}

    def least(self, usual: Mapping[str, str]) -> int | None:
        """The least weighted loss; None where nothing fits.

        Roles that are not in `usual` differ from nothing.
        """
        key = tuple(usual.get(role) for role in self._sorted_roles)
        if key not in self._known:
            self._known[key] = self._of_all(usual)
        return self._known[key]

    def _of_all(self, usual: Mapping[str, str]) -> int | None:
        """The least over the ways; those that lose as much in any case are not looked into."""
        best: int | None = None
        for floor, fixed, jobs in self._ways:
            if best is not None and floor >= best:
                break
            found = self._with(jobs, fixed, usual)
            if found is not None and (best is None or found < best):
                best = found
        return best

    def _of(self, job: Job) -> Iterator[tuple[str, int]]:
        """The controls that a job can be on, with what it loses there."""
        needs, radio = self.needs, self._radio
        decided = {it.control for it in needs.decisions_on(job)}
        for grip in radio.grips.values():
            if suits(job, grip, radio, needs.receiver) and decided <= {grip.id}:
                lost = on_control(job, grip.id, needs, radio, {})
                yield grip.id, sum(self._weights[name] * amount for name, amount in lost)

    def _possible(self) -> Iterator[tuple[int, int, tuple[Job, ...]]]:
        """For each set of wishes left out: what is lost at least, what of it whatever the controls,
        and the jobs that remain.
        """
        optional = [entry.id for entry in self.needs.entries if entry.if_room]
        assert len(optional) <= MOST_IF_ROOM
        for count in range(len(optional) + 1):
            for dropped in combinations(optional, count):
                lost = self._lines(dropped)
                if lost is None:
                    continue
                jobs = [job for job in self.needs.jobs if set(job.entries) - set(dropped)]
                if self._stuck([job for job in jobs if "stick" in job.kinds]):
                    continue
                switched = tuple(job for job in jobs if "stick" not in job.kinds)
                fixed = lost + sum(map(self._lie, switched))
                least = sum(min(self._costs[job.id].values(), default=0) for job in switched)
                yield fixed + least, fixed, switched

    def _stuck(self, jobs: list[Job]) -> bool:
        """Whether these jobs find no sticks.  They lose nothing, and take no other control."""
        sticks = {name: i for i, name in enumerate(self._radio.grips)}
        rows = [dict.fromkeys((sticks[name] for name in self._costs[job.id]), 0) for job in jobs]
        return solver.assign(rows, len(sticks)) is None

    def _lines(self, dropped: tuple[str, ...]) -> int | None:
        """What channels lose, and what is lost with the wishes that are left out."""
        key = self.needs.lines_alike(dropped), self._radio.channels, len(dropped)
        if key not in self._lines_known:
            program = Program(self.needs, self._radio, hands=False)
            program.grant_all(dropped)
            total = program.total(self._weights)
            program.cp.minimize(total)
            found = solver.solve(program.cp)
            self._lines_known[key] = None if found is None else int(found[0].value(total))
        return self._lines_known[key]

    def _lie(self, job: Job) -> int:
        """What the best order of its states loses."""
        if job.selection is None:
            return 0
        today = self.needs.order_today(job.selection)
        return min(
            sum(self._weights[name] for name in with_order(job.selection, order, today))
            for order in orders(job.selection, today)
        )

    def _with(self, jobs: tuple[Job, ...], fixed: int, usual: Mapping[str, str]) -> int | None:
        differs = self._weights["same-control"]
        costs = []
        for job in jobs:
            mine = usual.get(job.role)
            costs.append(
                {
                    self._places[name]: cost + (differs if mine not in (None, name) else 0)
                    for name, cost in self._costs[job.id].items()
                }
            )
        found = solver.assign(costs, len(self._places))
        return None if found is None else fixed + found
