"""The constraint solver, an extra: imported when a plan is asked for."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, CpSolver

_ASSIGNMENT = "ortools.graph.python.linear_sum_assignment"
_PATIENCE = 60.0
"""The solver's own measure of work, about seconds; counted, not timed, so that results are the same
on every run."""


class NotInstalled(Exception):
    """The solver is not there; the message says what to install."""


def model() -> CpModel:
    """A new, empty constraint model.  Raises NotInstalled."""
    return _cp_model().CpModel()  # type: ignore[no-any-return]


def solve(constraints: CpModel) -> tuple[CpSolver, bool] | None:
    """A solver that holds the best solution, and whether it is proven; None where there is none.

    One worker and one seed: the same constraints give the same solution.
    """
    cp_model = _cp_model()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = _PATIENCE
    status = solver.solve(constraints)
    if status == cp_model.INFEASIBLE:
        return None
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise RuntimeError(f"the solver gave up: {solver.status_name(status)}")
    return solver, status == cp_model.OPTIMAL


def first(constraints: CpModel, in_order: list[Any]) -> CpSolver:
    """Of all solutions the first: each choice in turn is taken wherever it can be."""
    cp_model = _cp_model()
    constraints.add_decision_strategy(in_order, cp_model.CHOOSE_FIRST, cp_model.SELECT_MAX_VALUE)
    solver: CpSolver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = 1
    parameters.search_branching = parameters.FIXED_SEARCH
    parameters.keep_all_feasible_solutions_in_presolve = True
    parameters.symmetry_level = 0
    status = solver.solve(constraints)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise RuntimeError(f"the solver gave up: {solver.status_name(status)}")
    return solver


def _cp_model() -> Any:
    try:
        from ortools.sat.python import cp_model
    except ImportError as error:
        raise NotInstalled(
            "planning needs a constraint solver that is not installed; install it with "
            "pip install 'prebind[plan]'"
        ) from error
    return cp_model


def assign(costs: list[dict[int, int]], columns: int) -> int | None:
    """The least sum of costs with a column of its own for each row; None where that cannot be.

    `costs`: for each row the columns that it may have.
    """
    if len(costs) > columns or not all(costs):
        return None
    if not costs:
        return 0
    matching = _matching()()
    arcs = [(row, *it) for row, of in enumerate(costs) for it in of.items()]
    matching.add_arcs_with_cost(*zip(*arcs, strict=True))
    if len(costs) < columns:  # it wants a square: what rows there are too few cost nothing
        matching.add_arcs_with_cost(*_idle(len(costs), columns))
    if matching.solve() != matching.OPTIMAL:
        return None
    return int(matching.optimal_cost())


@cache
def _matching() -> Any:
    from importlib import import_module  # the module has no types

    return import_module(_ASSIGNMENT).SimpleLinearSumAssignment


@cache
def _idle(rows: int, columns: int) -> tuple[Any, Any, Any]:
    """The arcs of the rows that are too few, each to every column."""
    import numpy

    left, right = numpy.meshgrid(range(rows, columns), range(columns), indexing="ij")
    return left.ravel(), right.ravel(), numpy.zeros(left.size, dtype=numpy.int64)
