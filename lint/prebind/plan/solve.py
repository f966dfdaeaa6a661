"""The best assignment of a fleet on one transmitter, proven; and those that trade otherwise.

Only the fleet's usual controls tie models together.  They are searched role by role, with what the
models must lose at least as a bound; each model by itself then goes to the constraint solver.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import evolve, frozen

from prebind.plan import solver
from prebind.plan.bound import Bound
from prebind.plan.program import Assignment, Program

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from prebind.plan.needs import Needs
    from prebind.plan.wishes import Radio

_MOST_STEPS = 20_000
_ABOVE_ALL = 1000


@frozen(eq=False)
class Answer:
    """One assignment for every model of a fleet on one transmitter.

    `usual`: role → the control that counts as the fleet's.  `losses`: what each preference loses
    over the fleet; `total` is their weighted sum.  `proven`: nothing weighs less.  `put_first`: the
    preference that this answer puts above all others, None for the best one.
    """

    assignments: tuple[Assignment, ...]
    usual: Mapping[str, str]
    losses: Mapping[str, int]
    total: int
    proven: bool
    put_first: str | None = None


def best(fleet: Sequence[Needs], radio: Radio, weights: Mapping[str, int]) -> Answer | None:
    """The answer whose weighted losses are least; None where there is none.

    Of equal ones the first: by the usual controls in the radio's order, then within each model.
    Raises NotInstalled.
    """
    return Search(fleet, radio, weights).answer()


def others(
    fleet: Sequence[Needs], radio: Radio, weights: Mapping[str, int], first: Answer
) -> Iterator[Answer]:
    """For each preference that the best answer leaves wanting: the best answer that puts it first,
    where that gains anything.
    """
    met = [first.losses]
    for preference, lost in first.losses.items():
        if not lost or not weights[preference]:
            continue
        found = best(fleet, radio, {**weights, preference: weights[preference] * _ABOVE_ALL})
        if found is None or found.losses[preference] >= lost or found.losses in met:
            continue
        met.append(found.losses)
        total = sum(weights[name] * amount for name, amount in found.losses.items())
        yield evolve(found, total=total, put_first=preference)


def _first(
    needs: Needs,
    radio: Radio,
    usual: Mapping[str, str],
    weights: Mapping[str, int],
    least: int,
) -> Assignment:
    """Of the assignments of one model that lose the least, the first."""
    program = Program(needs, radio, usual)
    program.grant_all()
    program.cp.add(program.total(weights) == least)
    return program.assignment(solver.first(program.cp, program.in_order()))


def _moved(like: Assignment, needs: Needs) -> tuple[str, ...]:
    """The wishes left out, by their places in the model that is like the one solved."""
    places = {entry.id: i for i, entry in enumerate(like.needs.entries)}
    return tuple(needs.entries[places[id_]].id for id_ in like.dropped)


class Search:
    """The least that a fleet loses on a radio.

    Depth first over the roles that several models share, the most shared first.  Raises
    NotInstalled.
    """

    def __init__(self, fleet: Sequence[Needs], radio: Radio, weights: Mapping[str, int]) -> None:
        shapes: dict[str, Bound] = {}
        lines_known: dict[object, int | None] = {}
        self._counts: dict[str, int] = {}
        for needs in fleet:
            if needs.shape not in shapes:
                shapes[needs.shape] = Bound(needs, radio, weights, lines_known)
            self._counts[needs.shape] = self._counts.get(needs.shape, 0) + 1
        self._fleet = fleet
        self._shapes = shapes
        self._radio = radio
        self._weights = weights
        self._told = frozenset().union(*(bound.told for bound in shapes.values()))
        self._suits: dict[str, set[str]] = {}
        self._roles = self._shared() if weights["same-control"] else []
        self._best: tuple[int, dict[str, str]] | None = None
        self._steps = 0
        if self._least({}) is not None:
            self._look({}, 0)

    def fits(self, needs: Needs) -> bool:
        """Whether a model of the fleet fits by itself."""
        return self._shapes[needs.shape].least({}) is not None

    @property
    def total(self) -> int | None:
        """The weighted losses; None where some model does not fit at all."""
        return self._best[0] if self._best is not None else None

    @property
    def proven(self) -> bool:
        return self._steps < _MOST_STEPS

    def answer(self) -> Answer | None:
        """The first of the answers that lose as little."""
        if self._best is None:
            return None
        total, usual = self._best
        made: dict[str, Assignment] = {}
        for shape, bound in self._shapes.items():
            least = bound.least(usual)
            assert least is not None
            made[shape] = _first(bound.needs, self._radio, usual, self._weights, least)
        found = []
        for needs in self._fleet:
            like = made[needs.shape]
            found.append(evolve(like, needs=needs, dropped=_moved(like, needs)))
        losses = {name: sum(it.losses.get(name, 0) for it in found) for name in self._weights}
        return Answer(tuple(found), usual, losses, total, self.proven)

    def _shared(self) -> list[str]:
        """The roles that several models have, where any control will do."""
        count: dict[str, int] = {}
        for shape, bound in self._shapes.items():
            for role in sorted(bound.roles):
                count[role] = count.get(role, 0) + self._counts[shape]
                self._suits.setdefault(role, set()).update(bound.controls(role))
        shared = [role for role in count if count[role] > 1 and self._suits[role]]
        return sorted(shared, key=lambda role: (-count[role], role))

    def _least(self, usual: Mapping[str, str]) -> int | None:
        total = 0
        for shape, bound in self._shapes.items():
            least = bound.least(usual)
            if least is None:
                return None
            total += least * self._counts[shape]
        return total

    def _look(self, usual: dict[str, str], depth: int) -> None:
        self._steps += 1
        least = self._least(usual)
        assert least is not None  # what is usual forbids nothing
        if self._best is not None and (least >= self._best[0] or not self.proven):
            return
        if depth == len(self._roles):
            self._best = least, dict(usual)
            return
        role = self._roles[depth]
        for control in self._controls(role, usual):
            self._look({**usual, role: control}, depth + 1)

    def _controls(self, role: str, usual: Mapping[str, str]) -> list[str]:
        """Those to try, the most promising first; of those alike only the first that is unused."""
        suited = self._suits[role]
        names, alike = [], set()
        for name, grip in self._radio.grips.items():
            if name not in suited:
                continue
            kind = (name,) if name in self._told or name in usual.values() else grip.alike
            if kind not in alike:
                alike.add(kind)
                names.append(name)
        return sorted(names, key=lambda it: self._least({**usual, role: it}) or 0)
