"""The failsafe says nothing of a channel that matters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Fix,
    Place,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.failsafe._presets import ENTRIES, is_primary, is_throttle, safe_percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example, Word


def _needed(path: Path) -> Iterable[Place]:
    """Every channel that the failsafe must name: word and what it is, by number."""
    needed: dict[int, tuple[Word, str]] = {}
    for channel in path.setup.channels:
        if is_throttle(path, channel.channel):
            needed[channel.channel] = ("danger", channel.function)
        elif is_primary(path, channel.channel):
            needed.setdefault(channel.channel, ("warning", channel.function))
    for selector in path.selectors:
        if selector.entry.purpose in ("flight-mode", "recovery"):
            needed.setdefault(selector.entry.channel, ("warning", selector.name))
    return [Place(ENTRIES, (number, *what)) for number, what in sorted(needed.items())]


def _examples() -> Iterable[Example]:
    yield fails(
        remove("/receiver/failsafe/channels/0"),
        why="The throttle was forgotten.",
        at=ENTRIES,
        word="danger",
        says=["channel 1", "throttle"],
    )
    yield fails(
        remove("/receiver/failsafe/channels/4"),
        why="The flight mode was forgotten: what the stabiliser does is left to chance.",
        at=ENTRIES,
        word="warning",
        says=["channel 5", "flight mode"],
    )
    yield fails(
        remove("/receiver/failsafe/channels/2"),
        why="The elevator was forgotten.",
        at=ENTRIES,
        word="warning",
        says=["channel 3", "elevator"],
    )
    yield passes(
        replace("/receiver/failsafe/channels/3/action", "hold"),
        remove("/receiver/failsafe/channels/3/output_percent"),
        why="The rudder holds its last place: that is an entry too.",
    )
    yield passes(
        put("/channels/-", {"channel": 7, "function": "lights", "control": "rate-switch"}),
        why="The lights may do as they like.",
    )


@rule(
    "failsafe/missing",
    word="warning",
    title="The failsafe leaves out a channel that matters",
    each=_needed,
    needs=("failsafe",),
    safety="What the receiver does with this channel when the link is lost is left to chance: a "
    "motor may go on running, a surface may go hard over. Settle it before the model flies, with "
    "the propeller off.",
    remedy="Set the channel's failsafe in the receiver, prove it with the propeller off by "
    "switching the radio off, and write it down.",
    bench="Propeller off, model held down: switch the radio off and see what this channel does.",
    source="common practice, no source",
    examples=_examples,
)
def missing(place: Place, path: Path, settings: Settings) -> Answer:
    """When the link is lost the failsafe is the pilot.

    It must say what the motor does, where every primary surface goes, and which state the
    stabiliser falls into.
    """
    number, word, what = place.entry
    if path.failsafe_entry(number) is not None:
        return PASS
    return Fail(
        f"The failsafe has no entry for channel {number} ({what}).",
        word=word,
        evidence={"channel": number, "for": what},
        fix=_preset(path, number),
    )


def _preset(path: Path, number: int) -> Fix | None:
    percent = safe_percent(path, number)
    if percent is None:
        return None
    entry = {"channel": number, "action": "preset", "output_percent": percent}
    return Fix("decide", (put(f"{ENTRIES}/-", entry),))
