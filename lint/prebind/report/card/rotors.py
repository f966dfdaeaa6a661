"""Directions of swashplates, tail rotors and motors: not computed here, so a person looks."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.path.direction import DIRECT, TARGET
from prebind.path.facts import AXES_OF
from prebind.report.card.directions import AXES, COMMAND, CORRECTING, CORRECTION, selected_states
from prebind.report.card.names import HAND, STICK, stick_of
from prebind.report.card.steps import Seen, Step

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.report.card.bench import Bench


class _Rotor(NamedTuple):
    what: str
    note: str
    command: dict[str, str]
    correction: dict[str, str]


ROTORS = {
    "helicopter": _Rotor(
        "swashplate",
        "Not computed for this kind of model: look for yourself.",
        {"roll": "tilts right", "pitch": "tilts back", "yaw": "pushes the nose right"},
        {"roll": "tilts left", "pitch": "tilts forward", "yaw": "pushes the nose left"},
    ),
    "multirotor": _Rotor(
        "motors",
        "Not computed for this kind of model. Armed, the throttle a little up: look for yourself.",
        {
            "roll": "those on the left speed up",
            "pitch": "those in front speed up",
            "yaw": "those that turn anticlockwise, seen from above, speed up",
        },
        {
            "roll": "those on the right speed up",
            "pitch": "those at the rear speed up",
            "yaw": "those that turn clockwise, seen from above, speed up",
        },
    ),
}
"""What swashplate, tail rotor and motors must do (ISO 1151-1 for the axes; a motor's reaction turns
the model against its own turning)."""


def rotor_steps(bench: Bench) -> Iterator[Step]:
    """Directions of swashplates and motors, which are not computed and stay open."""
    path = bench.path
    rotor = ROTORS.get(path.setup.model.airframe)
    if rotor is None:
        return
    for axis in AXES:
        what = "tail rotor" if rotor.what == "swashplate" and axis == "yaw" else rotor.what
        stick = f"{STICK[axis]} ({stick_of(path, axis)})"
        corrected = next((entry.at for entry in path.axes if entry.axis == axis), None)
        commanded = (c.at for c in path.channels if axis in AXES_OF.get(c.function, ()))
        at = corrected or next(commanded, None)
        if at is not None:
            must = Seen(what, rotor.command[axis])
            yield _look(bench, at, stick, must, COMMAND, rotor.note)
        if corrected is not None:
            must = Seen(what, rotor.correction[axis])
            yield _look(bench, corrected, HAND[axis], must, CORRECTION, rotor.note)


def _look(bench: Bench, at: str, do: str, must: Seen, check: str, note: str) -> Step:
    states = selected_states(bench.path, DIRECT | TARGET if check == COMMAND else CORRECTING)
    return Step(at, do, (must,), bench.care.held, states, (check,), note=note)
