"""How a turn of the model and a set of states are said at the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import DirectionPath

STICK = {"roll": "to the right", "pitch": "back", "yaw": "to the right"}
MOVING = {
    "roll": "from left to right",
    "pitch": "from forward to back",
    "yaw": "from left to right",
}
BACKWARDS = {
    "roll": "rolls the model left",
    "pitch": "puts the nose down",
    "yaw": "turns the nose left",
}
POSITIVE = {"roll": "rolls right", "pitch": "pitches nose up", "yaw": "turns nose right"}


def output_of(direction: DirectionPath) -> str:
    """The port with the surface on it."""
    surface = direction.servo.entry.surface if direction.servo else None
    return f"port {direction.port.number}" + (f" ({surface})" if surface else "")


def states(selectable: Iterable[tuple[str, str, object]]) -> str:
    """“ in flight mode level or limited”; empty where the sign always counts."""
    named: dict[str, list[str]] = {}
    for selector, state, _ in selectable:
        if selector:
            named.setdefault(selector, []).append(state)
    return "".join(f", in {selector} {' or '.join(names)}" for selector, names in named.items())
