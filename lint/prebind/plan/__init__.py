"""Planning a radio: from what models should do to channels, controls, bands and setups.

::

    from prebind.plan import plan, read

    asked = read(data, path="club.wishes.json", root=folder)   # or what is wrong with the wishes
    found = plan(asked)                                        # needs the extra `prebind[plan]`
    found.answer, found.servings, found.setups

Every answer is exact: the solver has proven that none is better, or that there is none.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

from attrs import frozen

from prebind.plan.read import Asked, read
from prebind.plan.serving import Serving, serving
from prebind.plan.setup import setup_of
from prebind.plan.solve import Answer, others
from prebind.plan.solver import NotInstalled

if TYPE_CHECKING:
    from collections.abc import Mapping

    from prebind.plan.contradiction import Contradiction

__all__ = ["Answer", "Asked", "NotInstalled", "Plan", "Serving", "plan", "read"]


@frozen(eq=False, slots=False)
class Plan:
    """What was found for all candidates, and the best answer on the one that serves best.

    `answer` is None where no candidate serves every model.
    """

    asked: Asked
    servings: tuple[Serving, ...]
    chosen: Serving | None
    answer: Answer | None
    trades: tuple[Answer, ...] = ()

    @property
    def contradictions(self) -> tuple[Contradiction, ...]:
        """Why models do not fit, candidate by candidate."""
        return tuple(it for one in self.servings for fit in one.fits for it in fit.contradictions)

    @cached_property
    def setups(self) -> Mapping[str, dict[str, Any]]:
        """Model → its setup document, for every wished model of the answer."""
        if self.answer is None:
            return {}
        return {
            found.needs.name: setup_of(found)
            for found in self.answer.assignments
            if found.needs.wish
        }


def plan(asked: Asked, transmitter: str | None = None, *, trades: bool = False) -> Plan:
    """Plans for every candidate; the answer is for `transmitter`, else for the best one.

    That is the one that serves every model and loses least; of equals the one that leaves most to
    spare, then the first.  `trades`: also the answers that put another preference first.  Raises
    NotInstalled.
    """
    weights = asked.wishes.weights
    servings = tuple(serving(asked.needs, radio, weights) for radio in asked.wishes.radios.values())
    chosen = _chosen(servings, transmitter)
    answer = chosen.search.answer() if chosen is not None else None
    also: tuple[Answer, ...] = ()
    if trades and answer is not None and chosen is not None:
        also = tuple(others(asked.needs, chosen.radio, weights, answer))
    return Plan(asked, servings, chosen, answer, also)


def _chosen(servings: tuple[Serving, ...], transmitter: str | None) -> Serving | None:
    fit = [it for it in servings if it.serves and transmitter in (None, it.radio.name)]
    return min(fit, key=_rank, default=None)


def _rank(one: Serving) -> tuple[int, ...]:
    tightest = one.tightest
    assert tightest is not None
    assert one.search.total is not None
    spare = (tightest.channels or 0, tightest.switches or 0, tightest.positions or 0)
    return (one.search.total, *(-it for it in spare))
