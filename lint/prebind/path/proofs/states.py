"""What each selector does in every position of the controls."""

from __future__ import annotations

from itertools import product
from math import prod
from typing import TYPE_CHECKING, Any

from prebind.path.facts import NotChecked, NotKnown
from prebind.path.proofs.tables import MANY, Column, Rows, Table, ordered, table, together
from prebind.path.proofs.telling import Facts, places, tenth, unknown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from prebind.path import Path
    from prebind.path.control import ControlPath
    from prebind.path.facts import Position
    from prebind.path.selector import SelectorPath

    Tell = Callable[[ControlPath], Any]

Stretch = tuple[list[str], float, float]
"""The states, and the lowest and highest pulse, on a stretch of a continuous control."""


def has_selectors(path: Path) -> bool:
    return bool(path.selectors)


def states(path: Path) -> Facts:
    return _selecting(path.selectors, lambda _: None)


def has_recovery(path: Path) -> bool:
    return any(map(_recovers, path.selectors))


def recovery(path: Path) -> Facts:
    """The same for recovery, and which of its controls spring back and so let go of it."""
    return _selecting(filter(_recovers, path.selectors), lambda control: control.sprung)


def _recovers(selector: SelectorPath) -> bool:
    behaviours = (state.behaviour for state in selector.entry.states)
    return selector.entry.purpose == "recovery" or "recovery" in behaviours


def _selecting(selectors: Iterable[SelectorPath], tell: Tell) -> Facts:
    found = [(selector, _selected(selector, tell)) for selector in selectors]
    return {
        "selectors": ordered([s.entry.channel, _bands(s), selected.facts] for s, selected in found),
        "together": together((s.entry.channel, selected) for s, selected in found),
    }


def _bands(selector: SelectorPath) -> list[Any]:
    return ordered(
        [tenth(band.low_us), tenth(band.high_us), band.state.state, band.state.behaviour]
        for band in selector.bands
    )


def _selected(selector: SelectorPath, tell: Tell) -> Table:
    """Pulse and states in every combination; `tell` says more of each control."""
    try:
        names = selector.channel.controls
        controls = [selector.path.control(name) for name in names]
        if prod(len(places(control)) for control in controls) > MANY:
            return _roughly(selector)
        columns = [
            Column(c.id, ["continuous" if c.continuous else len(c.positions), tell(c)])
            for c in controls
        ]
        return table(columns, _rows(selector, controls))
    except (NotKnown, NotChecked) as reason:
        return Table(unknown(reason))


def _roughly(selector: SelectorPath) -> Table:
    reach = selector.channel.reach
    return Table([sorted(selector.reached), tenth(reach.low.us), tenth(reach.high.us)])


def _rows(selector: SelectorPath, controls: list[ControlPath]) -> Rows:
    """For each combination the pulse, and all that continuous controls can make of it."""
    stretches: dict[tuple[Position, ...], list[Stretch]] = {}
    for found in selector.positions:
        steady = tuple(found.controls[c.id] for c in controls if not c.continuous)
        reached = (sorted(found.states), tenth(found.low_us), tenth(found.high_us))
        stretches.setdefault(steady, []).append(reached)
    rows: Rows = {}
    for here in product(*(range(len(places(control))) for control in controls)):
        at = {c.id: places(c)[place] for c, place in zip(controls, here, strict=True)}
        steady = tuple(at[c.id] for c in controls if not c.continuous)
        us = tenth(selector.channel.stages(at).us)
        rows[here] = [us, _merged(stretches[steady])]
    return rows


def _merged(stretches: Iterable[Stretch]) -> list[list[Any]]:
    """Stretches of the same states that meet are one: a threshold between them changes nothing."""
    found: list[list[Any]] = []
    for named, low, high in sorted(stretches):
        if found and found[-1][0] == named and low <= found[-1][2]:
            found[-1][2] = max(high, found[-1][2])
        else:
            found.append([named, low, high])
    return found
