"""What every combination of positions selects, laid side by side for two setups."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.inspect.comparing.facts import Value, stated
from prebind.inspect.comparing.pulses import bounded
from prebind.path.proofs import tenth

if TYPE_CHECKING:
    from prebind.path.facts import Controls, Position
    from prebind.path.selector import Selected, SelectorPath


class Row(NamedTuple):
    """One combination of positions, and what a selector makes of it before and after.

    None where a position is not there.
    """

    controls: Controls
    before: Value
    after: Value


def changed_rows(old: SelectorPath, new: SelectorPath) -> list[Row]:
    """The combinations in which a selector does not do what it did.

    Controls that make no difference there are left out.  Raises NotKnown where the channel cannot
    be worked out, NotChecked beyond the bound.
    """
    steady = _steady(old), _steady(new)
    tables = _table(old), _table(new)
    choices = {
        name: [*dict.fromkeys(at for its in steady for at in its.get(name, ()))]
        for name in {**steady[1], **steady[0]}
    }
    bounded(choices, 1)
    rows = []
    for places in product(*choices.values()):
        where = dict(zip(choices, places, strict=True))
        keys = (tuple(where[name] for name in its) for its in steady)
        before, after = (table.get(key) for table, key in zip(tables, keys, strict=True))
        if before != after:
            rows.append(Row(where, before, after))
    for name, its in choices.items():
        rows = _without(rows, name, len(its))
    return rows


def _steady(selector: SelectorPath) -> dict[str, tuple[str, ...]]:
    """The switches that have a part in it, with their positions."""
    controls = [selector.path.control(name) for name in selector.channel.controls]
    return {control.id: control.positions for control in controls if not control.continuous}


def _table(selector: SelectorPath) -> dict[tuple[Position, ...], Value]:
    """By the positions of the switches: one pulse, or the stretches that a stick passes through."""
    names = _steady(selector)
    stretches: dict[tuple[Position, ...], list[dict[str, Any]]] = {}
    for found in selector.positions:
        where = tuple(found.controls[name] for name in names)
        stretches.setdefault(where, []).append(_selected(selector, found))
    return {
        where: its[0] if len(its) == 1 else {"stretches": sorted(its, key=repr)}
        for where, its in stretches.items()
    }


def _selected(selector: SelectorPath, found: Selected) -> dict[str, Any]:
    ends = tenth(found.low_us), tenth(found.high_us)
    return {
        "us": ends[0] if found.point else list(ends),
        "states": sorted((stated(selector, name) for name in found.states), key=repr),
        "margin_us": None if found.margin_us is None else tenth(found.margin_us),
    }


def _without(rows: list[Row], name: str, positions: int) -> list[Row]:
    """The rows without a control, where it makes no difference to any of them."""
    groups: dict[tuple[Any, ...], list[Row]] = {}
    for row in rows:
        others = tuple(item for item in row.controls.items() if item[0] != name)
        groups.setdefault(others, []).append(row)
    for its in groups.values():
        if len(its) < positions or any(row[1:] != its[0][1:] for row in its):
            return rows
    return [Row(dict(others), *its[0][1:]) for others, its in groups.items()]
