"""reversal/stabilised-axis"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Settings, fails, passes, put, rule
from prebind_rules.reversal import _changes, _words

if TYPE_CHECKING:
    from prebind import AxisPath, Path


@rule(
    "reversal/stabilised-axis",
    word="warning",
    title="A stabilised axis's channel arrives the wrong way round",
    each="axes",
    needs=("stabiliser",),
    safety=(
        "A stabiliser that takes the command the wrong way round steers against the pilot in every "
        "self-levelling mode, and the model is lost within seconds of take-off. Leave reversing "
        "off on stabilised axes at the transmitter, and prove each mode on the ground, with the "
        "propeller off."
    ),
    remedy=(
        "Let the axis's channel leave the transmitter as the stabiliser expects it, without mixes "
        "or curves that turn it round, and put the surface's direction right at the receiver. "
        + _changes.AFTERWARDS
    ),
    bench=(
        "Propeller off, self-levelling mode: move the stick to the right or back, and see that the "
        "surface moves as it would to roll right or to lift the nose; then tilt the model the same "
        "way by hand, and see that the surface works against it."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/channels/1/reversed", True),
            why="The ailerons were reversed at the transmitter, although a stabiliser reads them.",
            at="/channels/1/reversed",
            says=("Channel 2", "1900", "1100", "roll"),
        ),
        fails(
            put("/transmitter/output/native", {"elevator": -1}),
            why="This radio sends its elevator the other way round, and the receiver was not told.",
            at="/channels/2",
            says=("Channel 3", "1900", "1100", "pitch"),
        ),
        passes(
            put("/transmitter/output/native", {"elevator": -1}),
            put("/channels/2/reversed", True),
            why="Reversing the channel makes up for a radio that sends it the other way round.",
        ),
        passes(
            put("/transmitter/output/native", {"elevator": -1}),
            put("/receiver/stabiliser/expects", {"pitch": {"direction": -1}}),
            put("/receiver/outputs/2/reversed", True),
            put("/receiver/stabiliser/axes/1/sense", "reversed"),
            why="The stabiliser was matched to the direction in which the channel arrives.",
        ),
        passes(
            put("/channels/3/reversed", True),
            start="plain",
            why="Without a stabiliser the transmitter may reverse.",
            outcome="notApplicable",
        ),
    ],
)
def stabilised_axis(axis: AxisPath, path: Path, settings: Settings) -> Answer:
    """A stabiliser does not pass the pilot's command on as it is: where it levels the model, it
    reads the command as the attitude that the pilot wants, and drives the surfaces there itself.
    Reversing at the transmitter turns that wish round, but not the stabiliser's own corrections.
    A surface that was put right with the transmitter's reversing can then move the right way in
    one mode and the wrong way in the next.
    """
    arrival = _changes.arrival(axis)
    if arrival is None or not arrival.wrong:
        return PASS
    expected = axis.expected.direction or 1
    controls = {**axis.direction[-expected], axis.stick: 100}
    low = path.situation({**controls, axis.stick: -100}).channels[axis.channel.number].us
    high = path.situation(controls).channels[axis.channel.number].us
    made = _changes.smallest(path, arrival)
    return Fail(
        f"Channel {axis.channel.number} goes from {low:.0f} to {high:.0f} µs as {axis.stick} moves "
        f"{_words.MOVING[axis.axis]}, and the stabiliser expects its {axis.axis} command to "
        f"{'rise' if expected > 0 else 'fall'}.",
        at=_changes.place(made, [arrival], _unturned(axis)),
        evidence={
            "axis": axis.axis,
            "channel": axis.channel.number,
            "controls": controls,
            "low_us": low,
            "high_us": high,
            "expected_direction": expected,
        },
        remedy=_changes.remedy(made),
        fix=_changes.fix(made),
    )


def _unturned(axis: AxisPath) -> str:
    """Where it is no matter of reversing alone: the channel, or the reversing that is on."""
    return f"{axis.channel.at}/reversed" if axis.channel.entry.reversed else axis.channel.at
