"""Two entries make the same channel."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Place, Settings, fails, passes, put, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example


def _numbers(path: Path) -> Iterable[Place]:
    """One place per channel number: the number as the first entry writes it."""
    made: dict[int, Place] = {}
    for channel in path.setup.channels:
        place = made.setdefault(channel.channel, Place(f"{channel.at}/channel", []))
        place.entry.append(channel)
    return made.values()


def _examples() -> Iterable[Example]:
    lights = {"channel": 5, "function": "lights"}
    yield fails(
        put("/channels/-", lights),
        why="The lights were put on the channel that already carries the flight mode.",
        at="/channels/4/channel",
        says=["channel 5", "flight-mode", "lights"],
    )
    yield fails(
        replace("/channels/3/channel", 2),
        why="A digit slipped: rudder and aileron both say channel 2.",
        at="/channels/1/channel",
        says=["channel 2", "aileron", "rudder"],
    )
    yield passes(
        put("/channels/-", {**lights, "channel": 7}),
        why="The next free channel is the lights' own.",
    )
    yield passes(
        replace("/channels/2/channel", 4),
        replace("/channels/3/channel", 3),
        why="Elevator and rudder have changed places: each channel is still made once.",
    )


@rule(
    "conflicts/channel-shared",
    word="warning",
    title="Two entries make the same channel",
    each=_numbers,
    safety="Which of the two the radio sends cannot be told from the document, so a control may do "
    "something in flight that it does not do on paper. Settle it before the first check, with the "
    "propeller off.",
    remedy="Give each function a channel number of its own, as the radio shows it.",
    bench="With the propeller off, move each control and see in the radio's channel display which "
    "channel answers.",
    source="common practice, no source",
    examples=_examples,
)
def channel_shared(place: Place, path: Path, settings: Settings) -> Answer:
    """A channel carries one value at a time.

    Where two entries claim one number, one of them is not what the radio sends.  Nothing that
    follows from that channel can be worked out.
    """
    if len(place.entry) == 1:
        return PASS
    number = place.entry[0].channel
    functions = [channel.function for channel in place.entry]
    return Fail(
        f"{len(functions)} entries make channel {number}: {' and '.join(functions)}.",
        evidence={"channel": number, "functions": functions},
    )
