"""reversal/correction-backwards"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.reversal import _changes, _words

if TYPE_CHECKING:
    from prebind import DirectionPath, Path


@rule(
    "reversal/correction-backwards",
    word="warning",
    title="The stabiliser corrects the wrong way",
    each="directions",
    needs=("stabiliser", "servos", "surfaces"),
    safety=(
        "A correction that drives the model further into every disturbance runs away as soon as it "
        "flies, faster than a pilot can react. Propeller off, tilt the model by hand in every mode "
        "and see that each surface works against the tilt, before the first flight and after every "
        "change."
    ),
    remedy=(
        "Reverse the stabiliser's sense on this axis, or move the pushrod to the other side of "
        "the servo's arm. " + _changes.AFTERWARDS
    ),
    bench=(
        "Propeller off: roll the model to the right by hand, and see that the right aileron's edge "
        "goes down and the left one's up; push the nose up, and see that the elevator's edge goes "
        "down; turn the nose right, and see that the rudder's edge goes left."
    ),
    source="ISO 1151-1 for the axes",
    examples=lambda: [
        fails(
            replace("/receiver/stabiliser/axes/0/sense", "reversed"),
            why="The sense on roll is the wrong way round; the stick still works as it should.",
            at="/receiver/stabiliser/axes/0/sense",
            says=("rolls right", "port 2 (aileron-right)", "further"),
        ),
        fails(
            replace("/servos/2/increasing_pulse", "trailing-edge-down"),
            why="A new elevator servo turns the other way: command and correction are backwards.",
            at="/receiver/outputs/2",
            says=("pitches nose up", "port 3 (elevator)"),
        ),
        fails(
            replace("/receiver/stabiliser/axes/0/ports/1/sign", 1),
            why="Both elevons get the roll axis with the same sign, but one servo is mirrored.",
            at="/receiver/stabiliser/axes/0/ports/1",
            says=("rolls right", "port 3 (elevon-left)"),
            start="wing",
        ),
        passes(
            replace("/servos/2/increasing_pulse", "trailing-edge-down"),
            put("/receiver/outputs/2/reversed", True),
            why="The servo turns the other way, and its output is reversed to match.",
        ),
        passes(
            put("/channels/1/reversed", True),
            why="Reversing at the transmitter turns commands round, and leaves corrections alone.",
        ),
    ],
)
def correction_backwards(direction: DirectionPath, path: Path, settings: Settings) -> Answer:
    """The stabiliser answers every turn of the model with a surface that should push against it.
    Its direction depends on the servo, the receiver's output and the sense set for the axis, but
    on nothing at the transmitter, so moving the sticks on the bench never shows it.
    """
    if direction.axis_path is None:
        return NOT_APPLICABLE
    sign = _changes.correction(direction)
    if sign is None or not sign.wrong:
        return PASS
    made = _changes.smallest(path, sign)
    return Fail(
        f"When the model {_words.POSITIVE[direction.axis]}, the stabiliser moves "
        f"{_words.output_of(direction)} so that it is driven further that way.",
        at=_changes.place(made, [sign], direction.turning_at),
        evidence={"axis": direction.axis, "port": direction.port.number, "correction": -1},
        remedy=_changes.remedy(made),
        fix=_changes.fix(made),
    )
