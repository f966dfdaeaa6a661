"""The model needs more channels than transmitter or receiver has."""

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
    remove,
    replace,
    rule,
)
from prebind_rules.capacity._needed import needed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/transmitter/channels", 5),
        why="Four functions, flight mode and recovery on a radio of five channels.",
        at="/transmitter/channels",
        says=["6 channels", "transmitter", "5"],
    )
    yield fails(
        replace("/receiver/inputs", 4),
        why="The receiver takes in four channels only.",
        at="/receiver/inputs",
        says=["6 channels", "receiver", "4"],
    )
    yield passes(
        replace("/transmitter/channels", 6),
        replace("/receiver/inputs", 6),
        why="Four functions, flight mode and recovery need six channels, and there are six.",
    )
    yield passes(
        put("/channels/-", {"channel": 7, "function": "aileron", "side": "left"}),
        replace("/receiver/outputs/4/channel", 7),
        replace("/transmitter/channels", 6),
        remove("/receiver/stabiliser/selectors/1"),
        why="A second aileron channel in place of recovery: still six.",
    )


@rule(
    "capacity/channels",
    word="warning",
    title="The model needs more channels than the transmitter or the receiver has",
    each="setup",
    needs=("receiver",),
    safety="Some function will not answer in flight, or has been doubled up with another. Settle "
    "what flies without it, or take gear with more channels, before the first flight.",
    remedy="Take a transmitter and receiver with enough channels, or join functions: both ailerons "
    "on one channel, a fixed gain instead of a gain channel.",
    bench="Count: one channel for each different command at the outputs, one for each thing "
    "selected in flight.",
    source="common practice, no source",
    examples=_examples,
)
def channels(setup: Path, path: Path, settings: Settings) -> Answer:
    """Each different command takes a channel, and so does each thing selected in flight.

    Four functions with flight mode and recovery need six.  Six outputs, each with a channel of its
    own, and two selectors need eight.
    """
    receiver = path.setup.receiver
    if receiver is None:
        return NOT_APPLICABLE
    numbers = needed(path)
    there = {
        "/transmitter/channels": ("transmitter sends", path.setup.transmitter.channels),
        "/receiver/inputs": ("receiver takes in", receiver.inputs),
    }
    return [
        Fail(
            f"The model needs {len(numbers)} channels; the {what} only {count}.",
            at=at,
            evidence={"needed": len(numbers), "there": count, "channels": list(numbers)},
        )
        for at, (what, count) in there.items()
        if len(numbers) > count
    ] or PASS
