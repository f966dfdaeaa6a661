"""What the schemas of a sheet are laid against: a setup and its trace, and what in them is not
known.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, Protocol
from weakref import WeakKeyDictionary

from prebind.document.positions import escape
from prebind.document.wording import LABELS, place
from prebind.packs.sheet.formats import Shape, filled, known, setup
from prebind.record import Record, record

if TYPE_CHECKING:
    from prebind.document.wording import Path as Way
    from prebind.path import Path

Json = dict[str, Any]
Kind = Literal["document", "trace"]

_SECTIONS = {
    "ports": {"/receiver"},
    "selectors": {"/receiver"},
    "directions": {"/servos"},
    "surfaces": {"/servos"},
    "motors": {"/speed_controls", "/engine"},
}
"""Sections of a trace, and the keys without which one is empty because nothing is recorded."""


@record
class Unknown(Record):
    """Something that is not known: in words, where, and the keys that would settle it.

    Places and keys are JSON Pointers into the setup.
    """

    message: str
    at: str
    settles: tuple[str, ...] = ()


class Text(Protocol):
    """What a schema is laid against, as plain data."""

    value: Json
    kind: Kind

    def left_out(self, way: Way, owner: Json, key: str) -> Unknown | None:
        """What is not known because an object leaves a key out; None where that is an answer."""

    def unsettled(self, way: Way, value: Any) -> Unknown | None:
        """What is not known where this value, null or an empty list, stands."""

    def place(self, way: Way) -> str:
        """A place in words."""

    def at(self, way: Way) -> str:
        """The place in the setup, as a JSON Pointer, that a place here is about."""

    def controls(self, way: Way) -> Json | None:
        """Where the controls stand in the case that a place here is about."""


def pointer(way: Way) -> str:
    return "".join(f"/{escape(str(step))}" for step in way)


class Setup:
    """The resolved document, with every default written in."""

    kind: Kind = "document"

    def __init__(self, path: Path) -> None:
        self.value: Json = filled(path.setup.data, setup())
        _derive(self.value, path)

    def left_out(self, way: Way, owner: Json, key: str) -> Unknown | None:
        shape: Shape | None = setup()
        for step in way:
            shape = shape.inside(step) if shape is not None else None
        if known(shape, owner, key):
            return None
        there = (*way, key)
        at = pointer(there)
        return Unknown(f"{self.place(there)} is not recorded", at, (at,))

    def unsettled(self, way: Way, value: Any) -> Unknown | None:  # noqa: ARG002
        return None

    def place(self, way: Way) -> str:
        return place(self.value, way)

    def at(self, way: Way) -> str:
        return pointer(way)

    def controls(self, way: Way) -> Json | None:  # noqa: ARG002
        return None


class Trace:
    """The signal path, as `prebind trace --report json` has it."""

    kind: Kind = "trace"

    def __init__(self, path: Path) -> None:
        self.value = path.trace

    def left_out(self, way: Way, owner: Json, key: str) -> Unknown | None:  # noqa: ARG002
        return None

    def unsettled(self, way: Way, value: Any) -> Unknown | None:
        if value == [] and len(way) == 1:
            lacking = _SECTIONS.get(str(way[0]), set())
            return self._reasons("", lacking)
        if value is not None or len(way) < 3 or any(isinstance(step, int) for step in way[2:]):
            return None  # within a list of facts null is an answer: the list itself is known
        section, number = way[:2]
        entry = self.value[str(section)][number]
        beyond = entry.get("not_checked") or entry.get("fault")
        at = entry["at"]
        return Unknown(beyond, at) if beyond else self._reasons(at)

    def _reasons(self, at: str, lacking: set[str] | None = None) -> Unknown | None:
        found = [
            reason
            for reason in self.value["open"]
            if reason["at"] == at and (lacking is None or lacking & set(reason["settles"]))
        ]
        if not found:
            return None
        settles = dict.fromkeys(key for reason in found for key in reason["settles"])
        return Unknown("; ".join(reason["message"] for reason in found), at, tuple(settles))

    def place(self, way: Way) -> str:
        own = "control" if way[:1] == ("controls",) else "surface"
        return f"in the trace {place(self.value, way, (*LABELS, own))}" if way else ""

    def at(self, way: Way) -> str:
        found = (owner["at"] for owner in self._owners(way) if "at" in owner)
        return str(next(found, ""))

    def controls(self, way: Way) -> Json | None:
        cases = (owner.get("controls") for owner in self._owners(way))
        return next((case for case in cases if isinstance(case, dict)), None)

    def _owners(self, way: Way) -> list[Json]:
        """The objects on the way to a place, the innermost first."""
        here: Any = self.value
        met = [here]
        for step in way:
            if isinstance(step, str) and step not in here:
                break
            here = here[step]
            met.append(here)
        return [owner for owner in reversed(met) if isinstance(owner, dict)]


_texts: WeakKeyDictionary[Path, dict[Kind, Text]] = WeakKeyDictionary()


def text(path: Path, kind: Kind) -> Text:
    """What of a path is meant, made once and the same for every rule of every sheet."""
    made = _texts.setdefault(path, {})
    if kind not in made:
        made[kind] = Setup(path) if kind == "document" else Trace(path)
    return made[kind]


def _derive(value: Json, path: Path) -> None:
    """Writes in what the format leaves to be worked out from other keys."""
    entries = value["transmitter"]["controls"]
    for name, control in path.controls.items():
        entry = entries[name]
        entry.setdefault("sprung", control.sprung)
        if control.axis is not None:
            entry.setdefault("axis", control.axis)
        if not control.continuous:
            entry.setdefault("positions", list(control.positions))
            entry.setdefault("values", [control.value(it) for it in control.positions])
    scale = value["transmitter"]["output"]
    receiver = value.get("receiver", {})
    for output in receiver.get("outputs", ()):
        output.setdefault("centre_us", scale["centre_us"])
    if "stabiliser" in receiver:
        receiver["stabiliser"].setdefault("mix_limit_percent", scale["limit_percent"])
