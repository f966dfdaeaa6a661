"""reversal/ports-disagree"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Cause,
    Fail,
    Place,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.reversal import _changes, _words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from prebind import DirectionPath, Path

    Reading = Callable[[DirectionPath], _changes.Sign | None]


def _axes_of_several(path: Path) -> Iterator[Place]:
    """Each axis that more than one servo turns the model about."""
    for axis in ("roll", "pitch", "yaw"):
        servos = [direction for direction in path.directions if direction.axis == axis]
        if len(servos) > 1:
            stabilised = next((d.axis_path.at for d in servos if d.axis_path), servos[0].at)
            yield Place(stabilised, servos)


@rule(
    "reversal/ports-disagree",
    word="warning",
    title="Two servos of one axis work against each other",
    each=_axes_of_several,
    needs=("receiver", "servos", "surfaces"),
    safety=(
        "Surfaces that work against each other cancel out, or turn the model about another axis "
        "than the pilot means. Propeller off, move each stick and watch both sides at once, before "
        "each flight."
    ),
    remedy=(
        "Put the direction right at the receiver's output or at the arm of the servo that moves "
        "the wrong way. " + _changes.AFTERWARDS
    ),
    bench=(
        "Propeller off: move each stick and see that left and right work together; tilt the model "
        "by hand with the stabiliser on and see the same."
    ),
    source="ISO 1151-1 for the axes",
    examples=lambda: [
        fails(
            put("/receiver/outputs/1/reversed", True),
            why="One aileron's output is reversed: both ailerons now move the same way.",
            at="/receiver/outputs/1/reversed",
            says=("roll", "port 2 (aileron-right)", "port 5 (aileron-left)"),
        ),
        fails(
            put("/receiver/stabiliser/axes/0/ports", [2, {"port": 5, "sign": -1}]),
            why="The sticks are right; the stabiliser corrects with one aileron against the other.",
            at="/receiver/stabiliser/axes/0/ports/1",
            says=("correction", "port 5 (aileron-left)"),
        ),
        passes(
            put("/receiver/outputs/1/reversed", True),
            replace("/servos/0/increasing_pulse", "trailing-edge-down"),
            why="One aileron's servo is mounted the other way round, and its output is reversed.",
        ),
        passes(
            replace("/receiver/stabiliser/axes/0/sense", "reversed"),
            why="Both corrections are wrong, and so agree: another rule says so.",
        ),
    ],
)
def ports_disagree(axis: Place, path: Path, settings: Settings) -> Answer:
    """Two ailerons, two elevons or a rudder and a steered wheel share one job. Where one of them
    goes the other way than the rest, the axis answers weakly, not at all, or with a turn about
    another axis; with a stabiliser one half of the loop pushes into every disturbance.
    """
    servos: list[DirectionPath] = axis.entry
    for said, reading, rule_id in (
        ("direct command", _changes.direct, "reversal/command-backwards"),
        ("correction", _changes.correction, "reversal/correction-backwards"),
    ):
        signs = [(d, sign) for d in servos if (sign := _changes.known(reading, d))]
        wrong = [(d, sign) for d, sign in signs if sign.wrong]
        if not wrong or len(wrong) == len(signs):
            continue
        made = _changes.smallest(path, wrong[0][1])
        at = _changes.place(made, [s for _, s in wrong], wrong[0][0].turning_at)
        right = [d for d, sign in signs if not sign.wrong]
        return Fail(
            f"On {servos[0].axis}, the {said} is right at {_list(right)} and backwards at "
            f"{_list([d for d, _ in wrong])}.",
            at=at,
            evidence={
                "axis": servos[0].axis,
                "sign": said,
                "right_ports": [d.port.number for d in right],
                "backward_ports": [d.port.number for d, _ in wrong],
            },
            remedy=_changes.remedy(made),
            fix=_changes.fix(made),
            because=Cause(rule_id, at),
        )
    for direction in servos:  # what is not known raises here, and is open
        _changes.direct(direction)
        _changes.correction(direction)
    return PASS


def _list(servos: list[DirectionPath]) -> str:
    return " and ".join(_words.output_of(direction) for direction in servos)
