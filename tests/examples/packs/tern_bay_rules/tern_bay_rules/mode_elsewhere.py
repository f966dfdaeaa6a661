"""The flight mode is on another channel than in the rest of the fleet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Setting,
    Settings,
    fails,
    passes,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/4/channel", 7),
        replace("/receiver/failsafe/channels/4/channel", 7),
        replace("/receiver/stabiliser/selectors/0/channel", 7),
        why="The flight mode was moved to channel 7, at both ends.",
        at="/channels/4/channel",
        says=["channel 7", "channel 5"],
    )
    yield passes(why="The flight mode is on channel 5, as everywhere in the fleet.")
    yield passes(why="A model without flight modes.", start="plain", outcome="notApplicable")


@rule(
    "tern-bay-rules/mode-elsewhere",
    word="caution",
    title="The flight mode is on an unusual channel",
    each="channels",
    safety="A borrowed radio selects a mode that nobody expects. Say where it is before anyone "
    "else flies the model, and try every mode with the propeller off.",
    remedy="Move the flight mode to the fleet's channel, at the transmitter and at the receiver.",
    bench="Look in the radio's channel display which channel the mode switch moves.",
    source="fleet rules of the invented Tern Bay Model Flying Club",
    settings={"channel": Setting(5, "number of the channel that carries the flight mode")},
    examples=_examples,
    since="2026.1",
)
def mode_elsewhere(channel: ChannelPath, _path: Path, settings: Settings) -> Answer:
    """In one fleet the mode is in one place: instructors change between models all day."""
    if channel.function != "flight-mode":
        return NOT_APPLICABLE
    wanted = settings["channel"]
    if channel.number == wanted:
        return PASS
    return Fail(
        f"The flight mode is on channel {channel.number}; in this fleet it is on channel {wanted}.",
        at=f"{channel.at}/channel",
        evidence={"channel": channel.number, "wanted": wanted},
    )
