"""reversal/command-backwards"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.rule import (
    PASS,
    Answer,
    Cause,
    Fail,
    Open,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.reversal import _changes, _words

if TYPE_CHECKING:
    from prebind import DirectionPath, Path


@rule(
    "reversal/command-backwards",
    word="warning",
    title="A stick turns the model the wrong way",
    each="directions",
    needs=("receiver", "servos", "surfaces"),
    safety=(
        "A model that answers the stick backwards cannot be flown: it is lost at take-off, and can "
        "hit people. Propeller off, move each stick in every flight mode and look at every "
        "surface, before each flight."
    ),
    remedy=(
        "Put the surface's direction right: at the receiver's output on a stabilised axis, "
        "otherwise there or at the transmitter, or at the servo's arm. " + _changes.AFTERWARDS
    ),
    bench=(
        "Propeller off, in every flight mode: stick to the right, the right aileron's edge goes up "
        "and the left one's down; stick back, the elevator's edge goes up; yaw stick to the right, "
        "the rudder's edge goes right, seen from behind."
    ),
    source="ISO 1151-1 for the axes",
    examples=lambda: [
        fails(
            put("/channels/1/reversed", True),
            why="Reversed at the transmitter: both ailerons follow the stick the wrong way.",
            at="/channels/1/reversed",
            says=("roll-stick", "port 2 (aileron-right)", "rolls the model left", "damped"),
        ),
        fails(
            put("/channels/3/reversed", False),
            why="Without a stabiliser: the rudder's servo needs the reversing that was taken out.",
            at="/channels/3/reversed",
            says=("yaw-stick", "port 4 (rudder)", "turns the nose left"),
            start="plain",
        ),
        fails(
            replace("/servos/1/increasing_pulse", "trailing-edge-up"),
            why="Two ailerons on one channel, and one servo turns the wrong way.",
            at="/receiver/outputs/4",
            says=("port 5 (aileron-left)",),
            start="plain",
        ),
        fails(
            remove("/receiver/stabiliser/selectors/0"),
            replace("/servos/2/increasing_pulse", "trailing-edge-down"),
            why="Where no flight mode can be selected, the command goes to the servo directly.",
            at="/receiver/outputs/2",
            says=("With pitch-stick back, port 3 (elevator) puts the nose down.",),
        ),
        passes(
            replace("/servos/1/increasing_pulse", "trailing-edge-up"),
            put("/receiver/outputs/4/reversed", True),
            why="The servo turns the other way, and its output is reversed to match.",
            start="plain",
        ),
        passes(
            replace("/servos/3/increasing_pulse", "trailing-edge-right"),
            put("/channels/3/reversed", False),
            why="Turned round twice, at the servo and at the transmitter: right again.",
            start="plain",
        ),
    ],
)
def command_backwards(direction: DirectionPath, path: Path, settings: Settings) -> Answer:
    """Every stick has to turn the model the way the pilot means, in every mode that can be chosen.
    Directly, that depends on transmitter, receiver output and servo; where the stabiliser steers
    to a target, only on how the command reaches the stabiliser. So a surface can be right in one
    mode and wrong in the next, and a check in one of them proves nothing for the others.
    """
    arrival = _backward_arrival(direction)
    target = arrival if direction.selectable_target else None
    direct = _changes.known(_changes.direct, direction) if target else _changes.direct(direction)
    direct = direct if direct and direct.wrong else None
    wrong = [sign for sign in (direct, target) if sign]
    if not wrong:
        return _target_differs(direction) if arrival and not _has_modes(path) else PASS
    made = _changes.smallest(path, wrong[0])
    at = _changes.place(made, wrong, _unturned(direction, wrong))
    said, evidence = _findings(direction, direct is not None, target is not None)
    axis = direction.axis_path
    return Fail(
        f"With {_changes.stick_of(direction)} {_words.STICK[direction.axis]}, {said}.",
        at=at,
        evidence=evidence,
        remedy=_changes.remedy(made),
        fix=_changes.fix(_changes.with_twins(made, direction.axis, path)),
        because=Cause("reversal/stabilised-axis", at) if axis is not None else None,
    )


def _backward_arrival(direction: DirectionPath) -> _changes.Sign | None:
    """The command as the stabiliser reads it, where that is the wrong way round.

    A loop that runs away follows no target; an unknown correction excuses nothing.
    """
    axis = direction.axis_path
    if axis is None:
        return None
    sign = _changes.arrival(axis)
    if sign is None or not sign.wrong:
        return None
    corrections = [_changes.known(_changes.correction, other) for other in axis.directions]
    return None if any(known and known.wrong for known in corrections) else sign


def _has_modes(path: Path) -> bool:
    return any(selector.entry.purpose == "flight-mode" for selector in path.selectors)


def _target_differs(direction: DirectionPath) -> Open:
    axis = direction.axis_path
    assert axis is not None
    return Open(
        f"Port {direction.port.number} follows the stick directly, but channel "
        f"{axis.channel.number} arrives the wrong way round for a mode that levels the model, and "
        "no flight-mode selector says which modes there are.",
        settles=("/receiver/stabiliser/selectors",),
    )


def _findings(direction: DirectionPath, direct: bool, target: bool) -> tuple[str, dict[str, Any]]:
    """What the stick does wrong, in words and as evidence."""
    backwards = _words.BACKWARDS[direction.axis]
    said: list[str] = []
    evidence: dict[str, Any] = {"axis": direction.axis, "port": direction.port.number}
    if direct:
        where = direction.selectable_direct
        said.append(f"{_words.output_of(direction)} {backwards}{_words.states(where)}")
        evidence |= {"direct": -1, "direct_states": [state for _, state, _ in where if state]}
        evidence["controls"] = dict(direction.direct[-1])
    if target:
        where = direction.selectable_target
        said.append(f"the stabiliser {backwards}{_words.states(where)}")
        evidence |= {"target": -1, "target_states": [state for _, state, _ in where]}
        evidence.setdefault("controls", dict((direction.target or {})[-1]))
    return ", and ".join(said), evidence


def _unturned(direction: DirectionPath, wrong: list[_changes.Sign]) -> str:
    """Where reversing cannot mend it: a channel that goes both ways, or the servo as it is."""
    if all(sign.changes for sign in wrong):
        return direction.turning_at
    axis = direction.axis_path
    return axis.channel.at if axis and direction.port.mixed else direction.port.channel.at
