"""How facts are told, so that the same fact is always the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from prebind.path.facts import LinkageFault, NotChecked, NotKnown
from prebind.path.proofs.tables import ordered
from prebind.record import fields

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from prebind.path.control import ControlPath
    from prebind.path.facts import Position
    from prebind.path.port import PortPath, PortReach
    from prebind.path.servo import ServoPath

Facts = dict[str, Any]
Part = TypeVar("Part")


def known(ask: Callable[[Part], Any], part: Part) -> Any:
    """A fact, or the reason why there is none: both are part of what was proved."""
    try:
        return ask(part)
    except (NotKnown, NotChecked) as reason:
        return unknown(reason)
    except LinkageFault:
        return {"not known": "linkage"}


def unknown(reason: NotKnown | NotChecked) -> Facts:
    return {"not known": type(reason).__name__}


def each(ask: Callable[[Part], Any], parts: Iterable[Part]) -> list[Any]:
    """A fact of every part, in an order that does not depend on the document's."""
    return ordered(known(ask, part) for part in parts)


def tenth(value: float) -> float:
    """To 0.1 µs or 0.1°; what differs by floating point alone is the same, zero has no sign."""
    return round(round(value, 6), 1) + 0.0


def entry(recorded: Any, *without: str) -> Facts:
    """An entry of the document as it is recorded, defaults and all.

    What is not recorded is left out, so that a key that is new to the format changes nothing.
    """
    left_out = {"at", *without}

    def plain(value: Any) -> Any:
        if value.__class__ in (str, float, int, bool):
            return value
        if isinstance(value, tuple):
            return list(map(plain, value))
        if isinstance(value, dict):
            return {key: plain(it) for key, it in value.items()}
        said: Facts = {}
        for it in fields(type(value)):
            name = it.name
            part = getattr(value, name)
            if part is not None and name not in left_out:
                said[name] = plain(part)
        return said

    found: Facts = plain(recorded)
    return found


def ends(reach: PortReach | None) -> list[float] | None:
    return None if reach is None else [tenth(reach.low.us), tenth(reach.high.us)]


def fitted(servo: ServoPath, *without: str) -> list[Any]:
    """What is on a port: what kind of surface on which side, and the servo that moves it.

    The servo is its whole entry: with other data it is another one, which may turn the other way.
    """
    recorded = entry(servo.entry, "port", "y_lead", "surface", *without)
    return [servo.entry.port, known(kind, servo), recorded]


def kind(servo: ServoPath) -> list[Any] | None:
    surface = servo.surface
    return None if surface is None else [surface.function, surface.side]


def function(port: PortPath) -> str | None:
    try:
        return port.channel.function
    except NotKnown:
        return None


def job(control: ControlPath) -> str:
    """What a control is for the pilot, whatever it is called."""
    return control.axis or control.entry.kind


def places(control: ControlPath) -> tuple[Position, ...]:
    """A switch's positions in order; where a pulse tells which way round a stick or knob works."""
    return (-100.0, 0.0, 100.0) if control.continuous else control.positions
