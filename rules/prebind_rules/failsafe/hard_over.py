"""A primary surface goes far over when the link is lost."""

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
    put,
    replace,
    rule,
)
from prebind_rules.failsafe._presets import instead, is_primary, neutral

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import FailsafeChannel
    from prebind.rule import Example

PRESET = "/receiver/failsafe/channels/2/output_percent"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(PRESET, 80),
        why="The failsafe was stored with the elevator pulled.",
        at=PRESET,
        says=["elevator", "channel 3", "80 %"],
    )
    yield fails(
        replace("/receiver/failsafe/channels/3/output_percent", -40),
        put("/channels/3/subtrim_percent", 12),
        why="From the rudder's trimmed neutral it is more than half of full.",
        at="/receiver/failsafe/channels/3/output_percent",
        says=["rudder", "channel 4", "-40 %", "52 % from"],
    )
    yield passes(replace(PRESET, 50), why="Exactly half of full.")
    yield passes(
        replace(PRESET, 80),
        put("/receiver/failsafe/channels/2/on_purpose", "Brings the model down in a stall."),
        why="The builder wants it, and says why.",
    )


@rule(
    "failsafe/hard-over",
    word="warning",
    title="A primary surface goes far over when the link is lost",
    each="failsafe",
    needs=("failsafe",),
    safety="The model rolls, dives or spins the moment the link is lost, even for a second. Keep "
    "people out of its path, and set the failsafe right before it flies.",
    remedy="Set this surface's failsafe near its neutral, or write down under `on_purpose` why it "
    "is meant to go so far.",
    bench="Propeller off: move all sticks, switch the radio off, and see where each surface goes.",
    source="common practice, no source",
    settings={
        "from_neutral_percent": Setting(50, "furthest that a preset may lie from neutral", least=0)
    },
    examples=_examples,
)
def hard_over(entry: FailsafeChannel, path: Path, settings: Settings) -> Answer:
    """Links are lost for a moment far more often than for good.

    A surface that jumps hard over in that moment can cost a model that would have flown on.  Some
    builders want a spiral or a stall: they can say so.
    """
    if not is_primary(path, entry.channel) or entry.output_percent is None:
        return NOT_APPLICABLE
    channel = path.channel(entry.channel)
    away = abs(entry.output_percent - neutral(channel))
    if away <= settings["from_neutral_percent"] or entry.on_purpose:
        return PASS
    return Fail(
        f"When the link is lost, the {channel.function} on channel {entry.channel} goes to "
        f"{entry.output_percent:g} %, {round(away, 1):g} % from its neutral.",
        at=f"{entry.at}/output_percent",
        evidence={
            "percent": entry.output_percent,
            "neutral_percent": neutral(channel),
            "us": path.preset_us(entry),
        },
        fix=instead(path, entry),
    )
