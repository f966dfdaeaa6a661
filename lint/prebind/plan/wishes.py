"""The wishes as frozen attrs classes: models, their receivers, and the candidate transmitters.

Units stand in the names; `None` means *not said*.  `at` is an entry's JSON Pointer in the wishes.
The schema has said yes: nothing is checked here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from attrs import field, frozen

from prebind.document.model import Control, Output
from prebind.document.positions import escape
from prebind.path.conditions import CONTINUOUS, positions_of, values_of

Json = Mapping[str, Any]
Hand = Literal["left", "right"]
Mixing = Literal["none", "elevon", "v-tail", "swashplate", "motors"]

PREFERENCES: Mapping[str, int] = {
    "cut-in-reach": 10,
    "recovery-in-reach": 10,
    "same-control": 5,
    "gentlest-at-end": 4,
    "states-as-listed": 1,
    "kept-if-room": 6,
    "spare-channels": 2,
    "few-changes": 3,
    "no-waste": 1,
}
"""What is preferred, and how much each counts unless the wishes say otherwise."""

_THROTTLE_HAND: Mapping[int, Hand] = {1: "right", 2: "left", 3: "right", 4: "left"}
"""By stick mode.  Common practice, no source."""


@frozen
class Grip:
    """One control of a transmitter as a hand finds it.

    `sticks_held`: whether fingers work it without letting go of a stick; None where that, or the
    `hand`, is not said.
    """

    id: str
    at: str
    control: Control
    hand: Hand | None = None
    sticks_held: bool | None = None

    @property
    def continuous(self) -> bool:
        return self.control.kind in CONTINUOUS

    @property
    def sprung(self) -> bool:
        if self.control.sprung is not None:
            return self.control.sprung
        return self.control.kind == "button"

    @property
    def alike(self) -> tuple[object, ...]:
        """Equal for controls that no preference tells apart."""
        control = self.control
        sizes = (len(self.positions), control.values)
        return control.kind, control.axis, sizes, self.sprung, self.hand, self.sticks_held

    @property
    def positions(self) -> tuple[str, ...]:
        return positions_of(self.control)

    @property
    def values(self) -> tuple[float, ...]:
        """The percentage of each position."""
        return values_of(self.control)


@frozen(eq=False)
class Radio:
    """A candidate transmitter."""

    name: str
    at: str
    channels: int
    grips: Mapping[str, Grip]
    output: Output
    stick_mode: int | None
    data: Json = field(repr=False)

    @property
    def throttle_hand(self) -> Hand | None:
        """The hand that holds the throttle: as its stick says, else as the stick mode has it."""
        for grip in self.grips.values():
            if grip.control.axis == "thrust" and grip.hand is not None:
                return grip.hand
        return _THROTTLE_HAND.get(self.stick_mode or 0)


@frozen(eq=False)
class Receiver:
    """A receiver.  `ports`: port → the channel that it always takes, None where that is free.

    `corrected`: axis → its ports with their signs, where the wishes say.
    """

    name: str
    at: str
    inputs: int
    ports: Mapping[int, int | None]
    stabilised: bool
    selector_channels: frozenset[int] | None
    edges_percent: tuple[float, ...] | None
    corrected: Mapping[str, tuple[tuple[int, int], ...]]
    mixing: Mixing
    data: Json = field(repr=False)


@frozen
class StateWish:
    state: str
    behaviour: str
    band: Mapping[str, Any] | None = None


@frozen(eq=False)
class Wishes:
    """The whole document, structured as far as what is shared goes; `models` stay plain."""

    radios: Mapping[str, Radio]
    receivers: Mapping[str, Receiver]
    models: tuple[Json, ...]
    weights: Mapping[str, int]


def structure(data: Json) -> Wishes:
    """The wishes of a document that has passed the schema."""
    return Wishes(
        {name: _radio(name, it) for name, it in data["transmitters"].items()},
        {name: _receiver(name, it) for name, it in _named(data.get("receivers", {}))},
        tuple(data["models"]),
        {**PREFERENCES, **dict(_named(data.get("preferences", {})))},
    )


def states(entry: Json) -> tuple[StateWish, ...]:
    """The states of a wished selector."""
    return tuple(StateWish(it["state"], it["behaviour"], it.get("band")) for it in entry["states"])


def _named(entries: Json) -> list[tuple[str, Any]]:
    return [(name, entry) for name, entry in entries.items() if not name.startswith("x-")]


def _radio(name: str, data: Json) -> Radio:
    at = f"/transmitters/{escape(name)}"
    grips = {
        id_: _grip(id_, f"{at}/controls/{escape(id_)}", it) for id_, it in _named(data["controls"])
    }
    return Radio(
        name, at, int(data["channels"]), grips, _output(data), data.get("stick_mode"), data
    )


def _output(data: Json) -> Output:
    given = dict(_named(data.get("output", {})))
    if "order" in given:
        given["order"] = tuple(given["order"])
    return Output(**given)


def _grip(id_: str, at: str, data: Json) -> Grip:
    control = Control(
        kind=data["kind"],
        positions=tuple(data["positions"]) if "positions" in data else None,
        values=tuple(map(float, data["values"])) if "values" in data else None,
        sprung=data.get("sprung"),
        axis=data.get("axis"),
    )
    reach = data.get("reach")
    return Grip(id_, at, control, data.get("hand"), None if reach is None else reach != "let-go")


def _receiver(name: str, data: Json) -> Receiver:
    stabiliser = data.get("stabiliser", {})
    listed = stabiliser.get("selector_channels")
    edges = stabiliser.get("edges_percent")
    axes = _named(stabiliser.get("axes", {}))
    return Receiver(
        name,
        f"/receivers/{escape(name)}",
        int(data["inputs"]),
        _ports(data["outputs"]),
        "stabiliser" in data,
        None if listed is None else frozenset(map(int, listed)),
        None if edges is None else tuple(map(float, edges)),
        {axis: tuple(_signed(port) for port in it["ports"]) for axis, it in axes},
        stabiliser.get("mixing", "none"),
        data,
    )


def _ports(outputs: Any) -> dict[int, int | None]:
    if isinstance(outputs, list):
        return {int(it["port"]): it.get("channel") for it in outputs}
    return dict.fromkeys(range(1, int(outputs) + 1))


def _signed(port: Any) -> tuple[int, int]:
    return (int(port["port"]), int(port["sign"])) if isinstance(port, Mapping) else (int(port), 1)
