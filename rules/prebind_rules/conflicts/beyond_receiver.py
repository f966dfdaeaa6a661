"""An output, axis or selector uses a channel above what the receiver takes in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    PRIMARY,
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

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example

FLOWN_WITH = PRIMARY | {"throttle", "flight-mode", "recovery"}


def _uses(path: Path) -> Iterable[Place]:
    """What takes a channel in the receiver: its number, a name, and whether it is flown with."""
    functions = {channel.channel: channel.function for channel in path.setup.channels}
    for port in path.ports:
        flown = functions.get(port.entry.channel) in FLOWN_WITH
        yield _use(port.at, port.entry.channel, f"Output {port.entry.port}", flown)
    for axis in path.axes:
        yield _use(axis.at, axis.entry.channel, f"The {axis.entry.axis} axis", True)
    for selector in path.selectors:
        entry = selector.entry
        flown = entry.purpose in FLOWN_WITH
        yield _use(selector.at, entry.channel, f"The selector “{entry.name}”", flown)


def _use(at: str, channel: int, name: str, flown: bool) -> Place:
    return Place(f"{at}/channel", (channel, name, flown))


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/receiver/inputs", 5),
        why="A receiver that takes in five channels never hears the recovery channel.",
        at="/receiver/stabiliser/selectors/1/channel",
        says=["recovery", "channel 6", "5 channels"],
        word="warning",
    )
    yield fails(
        put("/transmitter/channels", 12),
        put("/channels/-", {"channel": 11, "function": "lights", "control": "rate-switch"}),
        put("/receiver/outputs/-", {"port": 6, "channel": 11}),
        why="The radio sends the lights on channel 11, which this receiver does not take in.",
        at="/receiver/outputs/5/channel",
        says=["Output 6", "channel 11", "10 channels"],
        word="notice",
    )
    yield passes(
        replace("/receiver/inputs", 6),
        why="Six channels in are just enough for channel 6.",
    )
    yield passes(
        put("/channels/-", {"channel": 11, "function": "lights", "control": "rate-switch"}),
        why="Channel 11 does not arrive, but nothing in the receiver uses it.",
    )


@rule(
    "conflicts/beyond-receiver",
    word="warning",
    title="An output, axis or selector uses a channel above what the receiver takes in",
    each=_uses,
    needs=("receiver",),
    safety="What waits for this channel never gets a command: a surface, a flight mode or the "
    "recovery does not answer in flight. Do not fly before each has a channel that arrives.",
    remedy="Move the function to a lower channel, at the transmitter and here, or take a receiver "
    "that takes in more channels.",
    bench="With the propeller off, move the control and see whether the output or the mode "
    "answers.",
    source="common practice, no source",
    examples=_examples,
)
def beyond_receiver(place: Place, path: Path, settings: Settings) -> Answer:
    """A receiver takes in a fixed number of channels over the air.

    That number may be larger than the number of its outputs, and smaller than what the radio
    sends.  What lies above it is lost on the way.
    """
    receiver = path.setup.receiver
    if receiver is None:
        return NOT_APPLICABLE
    channel, name, flown = place.entry
    if channel <= receiver.inputs:
        return PASS
    return Fail(
        f"{name} uses channel {channel}, but the receiver takes in only {receiver.inputs} "
        "channels.",
        word="warning" if flown else "notice",
        evidence={"channel": channel, "receiver_inputs": receiver.inputs},
        because=Cause("capacity/channels", "/receiver/inputs"),
    )
