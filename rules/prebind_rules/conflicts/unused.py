"""A channel that reaches no output, axis or selector."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    PRIMARY,
    Answer,
    Fail,
    Fix,
    Open,
    Settings,
    fails,
    passes,
    put,
    remove,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    flap = {"channel": 7, "function": "flap", "control": "rate-switch"}
    to_elevator = {"from": {"channel": 7}, "to": 3, "rate_percent": {"low": 5, "high": 5}}
    yield fails(
        put("/channels/-", flap),
        why="A flap channel is set up, but no output takes it.",
        at="/channels/6",
        says=["Channel 7", "flap"],
    )
    yield fails(
        remove("/receiver/stabiliser/selectors/1"),
        why="The receiver's recovery input was left out: the button's channel ends nowhere.",
        at="/channels/5",
        says=["Channel 6", "recovery"],
    )
    yield passes(
        put("/channels/-", flap),
        put("/receiver/outputs/-", {"port": 6, "channel": 7}),
        why="An output takes the flap channel, though nothing is plugged in yet.",
    )
    yield passes(
        put("/channels/-", flap),
        put("/mixes", [{"name": "flap to elevator", **to_elevator}]),
        why="The channel moves the elevator through a mix.",
    )


@rule(
    "conflicts/unused",
    word="notice",
    title="A channel that reaches no output, axis or selector",
    each="channels",
    needs=("receiver",),
    safety="A function that was set up does nothing. Try each control on the bench, with the "
    "propeller off, before it is counted on in the air.",
    remedy="Record the output, axis or selector that takes the channel, or remove the channel.",
    bench="With the propeller off, work the control and see whether anything answers.",
    source="common practice, no source",
    examples=_examples,
)
def unused(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """What a channel carries must arrive somewhere: a port, a stabilised axis, a selector.

    A channel that feeds one of these through a mix is used.  Who listens to an
    arming channel can be written down as a selector only; without one it stays open.
    """
    taken = {port.entry.channel for port in path.ports}
    taken |= {axis.entry.channel for axis in path.axes}
    taken |= {selector.entry.channel for selector in path.selectors}
    if channel.number in taken:
        return PASS
    if any(mix.source.channel == channel.number and mix.to in taken for mix in path.setup.mixes):
        return PASS
    if channel.function == "arm":
        return Open(
            f"What listens to channel {channel.number} (arm) is not recorded.",
            settles=("/receiver/stabiliser/selectors",),
        )
    return Fail(
        f"Channel {channel.number} ({channel.function}) reaches no output, axis or selector.",
        evidence={"channel": channel.number, "function": channel.function},
        fix=_without(channel, path),
    )


def _without(channel: ChannelPath, path: Path) -> Fix | None:
    """Leaves the channel out, where nothing else names it and the model flies without it."""
    receiver = path.setup.receiver
    failsafe = receiver.failsafe if receiver else None
    named = {mix.to for mix in path.setup.mixes}
    named |= {mix.source.channel for mix in path.setup.mixes if mix.source.channel is not None}
    named |= {override.channel for override in path.setup.overrides}
    named |= {entry.channel for entry in failsafe.channels} if failsafe else set()
    if channel.number in named or channel.function in PRIMARY | {"throttle"}:
        return None
    return Fix("decide", (remove(channel.at),))
