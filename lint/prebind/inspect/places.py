"""What rules judge one by one, and what they need to be recorded before they are asked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.rule import NOT_APPLICABLE, PRIMARY, NotApplicable, Open

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from prebind.path import Path
    from prebind.rule import Each, Need

PLACES: Mapping[Each, Callable[[Path], Iterable[Any]]] = {
    "setup": lambda path: (path,),
    "controls": lambda path: path.controls.values(),
    "channels": lambda path: path.channels,
    "primary-channels": lambda path: (c for c in path.channels if c.function in PRIMARY),
    "inputs": lambda path: path.setup.inputs,
    "phases": lambda path: path.setup.phases,
    "mixes": lambda path: path.setup.mixes,
    "overrides": lambda path: path.setup.overrides,
    "ports": lambda path: path.ports,
    "failsafe": lambda path: (
        path.setup.receiver.failsafe.channels
        if path.setup.receiver is not None and path.setup.receiver.failsafe is not None
        else ()
    ),
    "axes": lambda path: path.axes,
    "selectors": lambda path: path.selectors,
    "directions": lambda path: path.directions,
    "servos": lambda path: path.servos,
    "motors": lambda path: path.motors,
    "surfaces": lambda path: path.setup.surfaces or (),
}
"""Where a rule finds what it judges one by one.  Waivers are the engine's own to hand out."""

Missing = Open | NotApplicable | None


def missing(path: Path, needs: Iterable[Need]) -> Missing:
    """The first need that the document does not meet, as the outcome that follows from it."""
    for need in needs:
        answer = NEEDS[need](path)
        if answer is not None:
            return answer
    return None


def _section(name: str, words: str) -> Callable[[Path], Missing]:
    def ask(path: Path) -> Missing:
        if getattr(path.setup, name) is not None:
            return None
        return Open(f"{words} not recorded", (f"/{name}",))

    return ask


_receiver = _section("receiver", "the receiver is")


def _failsafe(path: Path) -> Missing:
    receiver = path.setup.receiver
    if receiver is None:
        return _receiver(path)
    if receiver.failsafe is None:
        return Open("the failsafe is not recorded", ("/receiver/failsafe",))
    return None


def _stabiliser(path: Path) -> Missing:
    if path.setup.receiver is None:
        return _receiver(path)
    return NOT_APPLICABLE if path.stabiliser is None else None


def _powered(path: Path) -> bool:
    setup = path.setup
    return bool(
        setup.speed_controls
        or setup.engine is not None
        or any(channel.function == "throttle" for channel in setup.channels)
    )


def _propulsion(path: Path) -> Missing:
    propulsion = path.setup.model.propulsion
    if propulsion is None or propulsion.kind is None:
        return Open("what drives the model is not recorded", ("/model/propulsion/kind",))
    return NOT_APPLICABLE if propulsion.kind == "none" else None


def _motors(path: Path) -> Missing:
    setup = path.setup
    unmet = _propulsion(path)
    if isinstance(unmet, NotApplicable) or (unmet is not None and not _powered(path)):
        return unmet
    if setup.speed_controls is None and setup.engine is None:
        kind = setup.model.propulsion.kind if setup.model.propulsion is not None else None
        key = "/engine" if kind in ("glow", "petrol", "turbine") else "/speed_controls"
        return Open("the pulse at which the motor stops is not recorded", (key,))
    return None


def _electric(path: Path) -> Missing:
    unmet = _propulsion(path)
    if unmet is not None:
        return unmet
    propulsion = path.setup.model.propulsion
    return None if propulsion is not None and propulsion.kind == "electric" else NOT_APPLICABLE


NEEDS: Mapping[Need, Callable[[Path], Missing]] = {
    "receiver": _receiver,
    "failsafe": _failsafe,
    "stabiliser": _stabiliser,
    "servos": _section("servos", "the servos are"),
    "surfaces": _section("surfaces", "the surfaces are"),
    "power": _section("power", "the power supply is"),
    "propulsion": _propulsion,
    "motors": _motors,
    "electric": _electric,
}
"""Each need asks for a section, and says what follows where that is missing."""
