"""A channel number above what the transmitter can send."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    PRIMARY,
    Answer,
    Cause,
    Fail,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, Path
    from prebind.rule import Example

FLOWN_WITH = PRIMARY | {"throttle", "flight-mode", "recovery"}


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/transmitter/channels", 5),
        why="A radio of five channels cannot send the sixth, which carries recovery.",
        at="/channels/5/channel",
        says=["Channel 6", "recovery", "5 channels"],
        word="warning",
    )
    yield fails(
        put("/channels/-", {"channel": 11, "function": "lights", "control": "rate-switch"}),
        why="The lights want an eleventh channel of a radio that sends ten: only they are lost.",
        at="/channels/6/channel",
        says=["Channel 11", "lights", "10 channels"],
        word="notice",
    )
    yield passes(
        replace("/transmitter/channels", 6),
        why="Six channels are just enough for channel 6.",
    )
    yield passes(
        put("/channels/-", {"channel": 10, "function": "lights", "control": "rate-switch"}),
        why="The lights on the radio's last channel.",
    )


@rule(
    "conflicts/beyond-transmitter",
    word="warning",
    title="A channel number above what the transmitter can send",
    each="channels",
    safety="What is on this channel does not answer in flight: a control that is missing can cost "
    "the model or hurt someone. Do not fly before every function has a channel that is sent.",
    remedy="Move the function to a free channel that the radio can send, or take a radio with more "
    "channels.",
    bench="Look through the radio's channel display for the highest channel that it shows.",
    source="common practice, no source",
    examples=_examples,
)
def beyond_transmitter(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """A radio sends the channels it has and no more.

    A function on a number above them does nothing, however carefully it is set up.
    """
    sent = path.setup.transmitter.channels
    if channel.number <= sent:
        return PASS
    return Fail(
        f"Channel {channel.number} ({channel.function}) lies beyond the {sent} channels that the "
        "transmitter sends.",
        at=f"{channel.at}/channel",
        word="warning" if channel.function in FLOWN_WITH else "notice",
        evidence={
            "channel": channel.number,
            "function": channel.function,
            "transmitter_channels": sent,
        },
        because=Cause("capacity/channels", "/transmitter/channels"),
    )
