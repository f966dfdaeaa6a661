"""Digests: what binds a sign-off to the results that the check proved, not to the spelling.

SHA-256 over the canonical form (RFC 8785) of the computed facts, together with the entries by which
they are judged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from prebind.path.facts import LinkageFault, NotChecked, NotKnown

if TYPE_CHECKING:
    from collections.abc import Callable

    from prebind.path import Path
    from prebind.path.motor import MotorPath
    from prebind.path.port import PortPath
    from prebind.path.selector import SelectorPath
    from prebind.path.servo import ServoPath


def digest(path: Path, check: str) -> str:
    """Raises KeyError for a check whose facts are not computed."""
    from hashlib import sha256

    import rfc8785

    return sha256(rfc8785.dumps(FACTS[check](path))).hexdigest()


Part = TypeVar("Part")


def known(ask: Callable[[Part], Any], part: Part) -> Any:
    """A fact, or the reason why there is none: both are part of what was proved."""
    try:
        return ask(part)
    except (NotKnown, NotChecked) as reason:
        return {"not known": type(reason).__name__}
    except LinkageFault:
        return {"not known": "linkage"}


def tenth(value: float | None) -> float | None:
    """To 0.1 µs or 0.1°, without a negative zero."""
    return None if value is None else round(value, 1) + 0.0


def _judged_by(path: Path) -> dict[str, Any]:
    """The servo, surface and speed-control entries by which results are judged."""
    from attrs import asdict

    setup = path.setup
    listed = {
        "servos": setup.servos,
        "surfaces": setup.surfaces,
        "speed_controls": setup.speed_controls,
        "engine": (setup.engine,) if setup.engine is not None else None,
    }
    return {
        name: [asdict(entry, filter=lambda field, _: field.name != "at") for entry in entries]
        for name, entries in listed.items()
        if entries is not None
    }


def _failsafe(path: Path) -> dict[str, Any]:
    """The failsafe's facts, and the throttle's reachable pulses."""
    return {
        "ports": {str(port.number): known(_at_port, port) for port in path.ports},
        "selectors": {s.name: known(_at_selector, s) for s in path.selectors},
        "motors": {str(m.entry.port): known(_at_motor, m) for m in path.motors},
        "surfaces": [known(_at_surface, servo) for servo in path.servos],
        "judged by": _judged_by(path),
    }


def _at_port(port: PortPath) -> list[Any]:
    found = port.failsafe
    return [found.action, tenth(found.us)]


def _at_selector(selector: SelectorPath) -> list[Any]:
    found = selector.failsafe
    return [found.action, sorted(found.states) if found.states is not None else None]


def _at_motor(motor: MotorPath) -> list[Any]:
    """The state, what is reachable, and the throttle's ends: a reversal swaps only those."""
    found, reach = motor.failsafe, motor.reach_where()
    at_ends = [motor.at_low, motor.at_high]
    return [
        found.state if found is not None else None,
        [tenth(reach.low.us), tenth(reach.high.us)] if reach is not None else None,
        [tenth(end.us) if end is not None else None for end in at_ends],
    ]


def _at_surface(servo: ServoPath) -> float | None:
    found = servo.port.failsafe
    return None if found.us is None else tenth(servo.deflection(found.us))


FACTS: dict[str, Callable[[Path], dict[str, Any]]] = {"failsafe": _failsafe}
