"""Which control of one setup is which of another, whatever they and their positions are called."""

from __future__ import annotations

from collections import defaultdict
from itertools import count
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    Json = dict[str, Any]
    Steps = tuple[Any, ...]
    Uses = Mapping[str, list[tuple[Steps, Any]]]

CONTINUOUS = ("stick", "slider", "knob")

_NUMBERED = {
    "channels": "channel",
    "outputs": "port",
    "axes": "axis",
    "servos": "port",
    "speed_controls": "port",
}
"""Lists in which a number, or an axis, says which entry is which."""

_NAMED = {"inputs": "id", "phases": "name", "mixes": "name", "overrides": "name"}


def matched_controls(old: Json, new: Json) -> dict[str, str]:
    """Old ids → new ids of the controls that are the same.

    One keeps its id; of the others those are the same that do the same, or else the one of a kind
    that acts on the same.
    """
    there, wanted = (data["transmitter"]["controls"] for data in (old, new))
    found = {name: name for name in there if name in wanted}
    shared = _entry_names(old) & _entry_names(new)
    uses = _uses(old, shared), _uses(new, shared)
    for sign, alone in ((_does, False), (_acts_on, True)):
        taken = found.values()
        left = {name: sign(it, uses[0][name]) for name, it in there.items() if name not in found}
        free = {name: sign(it, uses[1][name]) for name, it in wanted.items() if name not in taken}
        others = _grouped(free)
        for what, names in _grouped(left).items():
            same = others.get(what, [])
            if len(names) == len(same) and not (alone and len(names) > 1):
                found |= zip(names, same, strict=True)
    return found


def matched_positions(old: Json, new: Json) -> dict[str, str]:
    """Old names → new names of a control's positions, where they differ.

    Those are the same that have the same value; where the values differ too, the same place.
    """
    theirs, ours = positions(old), positions(new)
    if len(theirs) != len(ours) or set(theirs) == set(ours):
        return {}
    values, wanted = _values(old), _values(new)
    if len(set(values)) == len(values) and sorted(values) == sorted(wanted):
        return {it: ours[wanted.index(at)] for it, at in zip(theirs, values, strict=True)}
    return dict(zip(theirs, ours, strict=True))


def positions(entry: Json) -> list[str]:
    """A control's positions in order; none for a continuous one."""
    if entry["kind"] in CONTINUOUS:
        return []
    usual = ["released", "pressed"] if entry["kind"] == "button" else []
    return list(entry.get("positions", usual))


def _values(entry: Json) -> list[float]:
    many = len(positions(entry))
    even = [-100 + 200 * i / (many - 1) for i in range(many)] if many > 1 else []
    return [round(float(value), 6) for value in entry.get("values", even)]


def objects(here: Any) -> Iterator[Json]:
    """Every object of a document, without what begins with `x-`."""
    yield from (entry for _, entry in _places(here, (), frozenset()))


# What a control does


def _entry_names(data: Json) -> frozenset[tuple[str, str]]:
    return frozenset((key, e[name]) for key, name in _NAMED.items() for e in data.get(key, ()))


def _grouped(signs: Mapping[str, Any]) -> dict[str, list[str]]:
    groups: dict[str, list[str]] = defaultdict(list)
    for name, sign in signs.items():
        groups[repr(sign)].append(name)
    return groups


def _uses(data: Json, shared: Collection[tuple[str, str]]) -> Uses:
    """Where each control is named, and what is asked of it there."""
    found: dict[str, list[tuple[Steps, Any]]] = defaultdict(list)
    controls = data["transmitter"]["controls"]
    for steps, entry in _places(data, (), shared):
        name = entry.get("control")
        if isinstance(name, str) and name in controls:
            its = positions(controls[name])
            chosen = sorted(its.index(it) for it in entry.get("positions", ()) if it in its)
            bounds = [_float(entry.get(key)) for key in ("above_percent", "below_percent")]
            found[name].append((steps, (chosen, bounds)))
    return found


def _float(value: Any) -> float | None:
    return None if value is None else float(value)


def _does(entry: Json, uses: list[tuple[Steps, Any]]) -> Any:
    return entry["kind"], _values(entry), sorted(map(repr, uses))


def _acts_on(entry: Json, uses: list[tuple[Steps, Any]]) -> Any:
    return entry["kind"], len(positions(entry)), sorted({repr(steps) for steps, _ in uses})


def _places(
    here: Any, steps: Steps, shared: Collection[tuple[str, str]]
) -> Iterator[tuple[Steps, Json]]:
    """Every object and where it stands; names of entries count where both documents have them."""
    if isinstance(here, dict):
        yield steps, here
        for key, inside in here.items():
            if not key.startswith("x-"):
                yield from _places(inside, (*steps, key), shared)
    elif isinstance(here, list):
        again: dict[Any, Iterator[int]] = defaultdict(count)
        for i, inside in enumerate(here):
            step = _step(steps[-1], i, inside, shared)
            yield from _places(inside, (*steps, step, next(again[step])), shared)


def _step(name: str, index: int, entry: Any, shared: Collection[tuple[str, str]]) -> Any:
    if not isinstance(entry, dict):
        return index
    if name == "when":  # all of them must hold, in whatever order
        return (index,) if "control" not in entry else "when"
    if (name, entry.get(_NAMED.get(name, ""))) in shared:
        return entry[_NAMED[name]]
    if name == "mixes":
        return "mix", entry["to"]
    if name == "overrides":
        return "override", entry["purpose"], entry["channel"]
    return entry.get(_NUMBERED.get(name, ""), index)
