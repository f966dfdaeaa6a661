"""Fewer than two spare transmitter channels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Cause,
    Fail,
    Setting,
    Settings,
    fails,
    passes,
    put,
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
        replace("/transmitter/channels", 7),
        why="Six of seven channels are taken.",
        at="/transmitter/channels",
        says=["7 channels", "6", "1 spare"],
    )
    yield fails(
        replace("/transmitter/channels", 6),
        why="Every channel is taken.",
        at="/transmitter/channels",
        says=["6 channels", "0 spare"],
    )
    yield passes(
        replace("/transmitter/channels", 8),
        why="Two channels are left.",
    )
    yield passes(
        replace("/transmitter/channels", 8),
        put("/receiver/outputs/-", {"port": 6, "channel": 4}),
        why="One more output on the rudder's channel takes no further channel.",
    )


@rule(
    "capacity/spare",
    word="notice",
    title="Few spare transmitter channels",
    each="setup",
    needs=("receiver",),
    safety="Without a spare channel the next function will be doubled up with another, and two "
    "jobs on one channel is how surprises begin. Give every function a channel of its own.",
    remedy="Plan with a transmitter of more channels, or be content with the functions there are.",
    bench="Count the channels that the radio's display shows as free.",
    source="common practice, no source",
    settings={"spare": Setting(2, "spare transmitter channels wanted, at least", count=True)},
    examples=_examples,
)
def spare(setup: Path, path: Path, settings: Settings) -> Answer:
    """A model grows: flaps, lights, a gain, retracts.

    Two free channels let it, without putting two functions on one.
    """
    sent, used = path.setup.transmitter.channels, len(needed(path))
    if sent - used >= settings["spare"]:
        return PASS
    return Fail(
        f"The transmitter has {sent} channels and the model needs {used}: "
        f"{max(sent - used, 0)} spare, at least {settings['spare']} wanted.",
        at="/transmitter/channels",
        evidence={"transmitter_channels": sent, "needed": used, "spare": sent - used},
        because=Cause("capacity/channels", "/transmitter/channels"),
    )
