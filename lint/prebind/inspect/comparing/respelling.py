"""The older of two setups, spelt as the newer one spells it.

Names of controls, positions and entries, the order of lists that have none, and the unit of bands
are spelling: with these out of the way, what still differs differs in effect.  The older one is
changed, so that every name in a comparison is one that the newer document has.
"""

from __future__ import annotations

from collections import defaultdict
from copy import deepcopy
from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import frozen

from prebind.document.positions import escape, split
from prebind.inspect.comparing.names import (
    matched_controls,
    matched_positions,
    objects,
    positions,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    Json = dict[str, Any]
    Steps = tuple[str, ...]
    Moved = dict[Steps, Sequence[int]]

IDENTITY: Mapping[str, tuple[str, ...]] = {
    "channels": ("channel",),
    "inputs": ("id",),
    "mixes": ("name",),
    "outputs": ("port",),
    "axes": ("axis", "channel"),
    "ports": ("port",),
    "selectors": ("name",),
    "states": ("state",),
    "servos": ("port", "surface"),
    "speed_controls": ("port",),
    "surfaces": ("id",),
    "sign_offs": ("check", "on"),
    "waivers": ("rule", "at"),
}
"""Lists whose order means nothing, and what says which entry is which, the first key above all."""


class Renamed(NamedTuple):
    """What was called `old` and is now called `new`; a position belongs to a control."""

    what: str
    old: str
    new: str
    control: str | None = None


@frozen(eq=False)
class Respelt:
    """`data` is the older document respelt, `renamed` what had other names.

    `same`: it was spelt so before.
    """

    data: Json
    renamed: tuple[Renamed, ...]
    same: bool
    _moved: Moved
    _controls: Mapping[str, str]

    def original(self, at: str) -> str:
        """A JSON Pointer into `data` as one into the document that it was made of."""
        old_names = {new: old for old, new in self._controls.items()}
        return _carried(at, self._moved, old_names, back=True)


def respelt(old: Json, new: Json) -> Respelt:
    """Neither document, each resolved and sound, is changed."""
    data = deepcopy(old)
    renamed: list[Renamed] = []
    controls = _rename_controls(data, new, renamed)
    _rename_entries(data, new, renamed)
    moved: Moved = {}
    _reorder(data, new, (), moved)
    _restate_bands(data, new)
    for waiver in data.get("waivers", ()):
        if "at" in waiver:
            waiver["at"] = _carried(waiver["at"], moved, controls, back=False)
    order = [[*it["transmitter"]["controls"]] for it in (data, old)]
    same = data == old and order[0] == order[1]
    return Respelt(data, tuple(renamed), same, moved, controls)


# Names


def _rename_controls(data: Json, new: Json, renamed: list[Renamed]) -> dict[str, str]:
    """Gives every control and position the newer name; old ids → new ids."""
    there, wanted = data["transmitter"]["controls"], new["transmitter"]["controls"]
    names = matched_controls(data, new)
    places = {name: matched_positions(there[name], wanted[names[name]]) for name in names}
    renamed += (Renamed("control", old, now) for old, now in names.items() if old != now)
    for name, its in places.items():
        if its:
            there[name]["positions"] = [its[it] for it in positions(there[name])]
        now = names[name]
        renamed += (Renamed("position", *pair, now) for pair in its.items() if len(set(pair)) > 1)
    for entry in objects(data):
        control = entry.get("control")
        if isinstance(control, str) and control in names:
            entry["control"] = names[control]
            its = places[control]
            if "positions" in entry:
                entry["positions"] = [its.get(it, it) for it in entry["positions"]]
    entries = {names.get(name, name): entry for name, entry in there.items()}
    order = dict.fromkeys([*(name for name in wanted if name in entries), *entries])
    data["transmitter"]["controls"] = {name: entries[name] for name in order}
    return names


def _rename_entries(data: Json, new: Json, renamed: list[Renamed]) -> None:
    """Gives every named entry the newer name, and every mention of it."""
    inputs = _rename(data, new, "inputs", "id", ("control",))
    for entry in (*data["channels"], *(mix["from"] for mix in data.get("mixes", ()))):
        for key in ("control", "input"):
            if entry.get(key) in inputs:
                entry[key] = inputs[entry[key]]
    phases = _rename(data, new, "phases", "name", ("when",))
    for entry in objects(data):
        if isinstance(entry.get("phase"), list):
            entry["phase"] = [phases.get(it, it) for it in entry["phase"]]
    surfaces = _rename(data, new, "surfaces", "id", ("function", "side"))
    for servo in data.get("servos", ()):
        if servo.get("surface") in surfaces:
            servo["surface"] = surfaces[servo["surface"]]
    kinds = {"input": inputs, "phase": phases, "surface": surfaces}
    kinds["mix"] = _rename(data, new, "mixes", "name", ("from", "to"))
    kinds["override"] = _rename(data, new, "overrides", "name", ("purpose", "channel"))
    kinds["selector"] = _rename_selectors(data, new)
    renamed += (Renamed(what, *pair) for what, names in kinds.items() for pair in names.items())


def _rename_selectors(data: Json, new: Json) -> dict[str, str]:
    receiver = data.get("receiver", {})
    theirs, ours = (it.get("stabiliser", {}) for it in (receiver, new.get("receiver", {})))
    names = _rename(theirs, ours, "selectors", "name", ("channel", "purpose"))
    failsafe = receiver.get("failsafe", {})
    if "intended_states" in failsafe:
        intended = failsafe["intended_states"].items()
        failsafe["intended_states"] = {names.get(name, name): state for name, state in intended}
    return names


def _rename(data: Json, new: Json, key: str, name: str, about: tuple[str, ...]) -> dict[str, str]:
    """Renames entries of one list; old names → new names.

    One with another name is the same where all the rest is, or else where the keys of `about` are,
    and are of no other.
    """
    theirs, ours = data.get(key, []), new.get(key, [])
    known, wanted = ({entry[name] for entry in entries} for entries in (theirs, ours))
    left = [entry for entry in theirs if entry[name] not in wanted]
    free = [entry for entry in ours if entry[name] not in known]
    found: dict[str, str] = {}
    for of, alone in ((_all_but(name), False), (_only(about), True)):
        for entry in list(left):
            same = [it for it in free if of(it) == of(entry)]
            if not same or (alone and (len(same) > 1 or _often(entry, left, of))):
                continue
            found[entry[name]] = same[0][name]
            free = [it for it in free if it is not same[0]]
            left = [it for it in left if it is not entry]
    for entry in theirs:
        entry[name] = found.get(entry[name], entry[name])
    return found


def _all_but(name: str) -> Callable[[Json], Any]:
    return lambda entry: {key: value for key, value in entry.items() if key != name}


def _only(keys: tuple[str, ...]) -> Callable[[Json], Any]:
    return lambda entry: [entry.get(key) for key in keys]


def _often(entry: Json, entries: list[Json], of: Callable[[Json], Any]) -> bool:
    return [of(it) for it in entries].count(of(entry)) > 1


# Order


def _reorder(here: Any, wanted: Any, steps: Steps, moved: Moved) -> None:
    """Brings lists without an order into that of the newer document, in place."""
    if isinstance(here, dict) and isinstance(wanted, dict):
        for key in here:
            if key in wanted and not key.startswith("x-"):
                _reorder(here[key], wanted[key], (*steps, key), moved)
    elif isinstance(here, list) and isinstance(wanted, list) and steps[-1] in IDENTITY:
        pairs = _pairs(here, wanted, IDENTITY[steps[-1]])
        matched = [pairs[other] for other in sorted(pairs)]
        order = [*matched, *(i for i in range(len(here)) if i not in matched)]
        moved[steps] = order
        here[:] = [here[i] for i in order]
        for i, other in enumerate(sorted(pairs)):
            _reorder(here[i], wanted[other], (*steps, str(i)), moved)


def _pairs(here: list[Any], wanted: list[Any], keys: tuple[str, ...]) -> dict[int, int]:
    """Places in the newer list → places in the older; as many keys as can be must be the same."""
    pairs: dict[int, int] = {}
    for much in range(len(keys), 0, -1):
        left = defaultdict(list)
        for i, entry in enumerate(here):
            if i not in pairs.values():
                left[_identity(entry, keys[:much])].append(i)
        for other, entry in enumerate(wanted):
            same = left[_identity(entry, keys[:much])]
            if other not in pairs and same:
                pairs[other] = same.pop(0)
    return pairs


def _identity(entry: Any, keys: tuple[str, ...]) -> tuple[Any, ...]:
    return tuple(entry.get(key) for key in keys) if isinstance(entry, dict) else (entry,)


def _carried(at: str, moved: Moved, controls: Mapping[str, str], *, back: bool) -> str:
    """A pointer from the older document into the respelt one, or back."""
    steps: Steps = ()  # in the respelt document
    found = ""
    for token in split(at):
        order, other = moved.get(steps, ()), token
        if token.isdecimal() and int(token) < len(order):
            other = str(order[int(token)] if back else order.index(int(token)))
        elif steps == ("transmitter", "controls"):
            other = controls.get(token, token)
        steps = (*steps, token if back else other)
        found += f"/{escape(other)}"
    return found


# Bands


def _restate_bands(data: Json, new: Json) -> None:
    """Writes bands in the unit that the newer document takes for them."""
    output = data["transmitter"].get("output", {})
    centre, scale = output.get("centre_us", 1500), output.get("us_per_percent", 4)
    wanted = {key: set(band) for key, band in _bands(new)}
    for key, band in _bands(data):
        if wanted.get(key) == {"us"} and "percent" in band:
            band["us"] = [centre + scale * end for end in band.pop("percent")]
        elif wanted.get(key) == {"percent"} and "us" in band:
            band["percent"] = [(end - centre) / scale for end in band.pop("us")]


def _bands(data: Json) -> Iterator[tuple[tuple[str, str], Json]]:
    for selector in data.get("receiver", {}).get("stabiliser", {}).get("selectors", ()):
        for state in selector["states"]:
            yield (selector["name"], state["state"]), state["band"]
