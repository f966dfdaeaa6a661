"""Where a transmitter's mix takes its value from, and how much of it arrives."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import NotKnown

if TYPE_CHECKING:
    from prebind import Path
    from prebind.model import Mix


def control_of(mix: Mix, path: Path) -> str | None:
    """The control behind a mix; None where its source channel has none of its own."""
    source = mix.source
    if source.channel is not None:
        return path.channel(source.channel).control
    if source.control is not None:
        return path.control(source.control).id
    made = next((made for made in path.setup.inputs if made.id == source.input), None)
    if made is None:
        raise NotKnown(f"the mix “{mix.name}” takes from an input that does not exist", (mix.at,))
    return path.control(made.control).id


def name_of(mix: Mix, path: Path) -> str:
    """What a mix takes from, as the document calls it."""
    source = mix.source
    if source.channel is not None:
        return f"channel {source.channel} ({path.channel(source.channel).function})"
    return str(source.input or source.control)


def most_percent(mix: Mix) -> float:
    """The most that a mix adds to a channel while its source stays within ±100 %."""
    rate, offset = mix.rate_percent, mix.offset_percent
    return max(abs(offset), abs(offset + rate.high), abs(offset - rate.low))
