"""The club's trainer moves its surfaces further than beginners can do with."""

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
    rule,
    spoken,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, Path
    from prebind.rule import Example

FUNCTIONS = ("aileron", "elevator", "rudder")


def _examples() -> Iterable[Example]:
    ours = put("/x-use", "club-trainer")
    mild = [{"rate_percent": 70, "expo_percent": 30}]
    rates = [put(f"/channels/{i}/rates", mild) for i in (1, 2, 3)]
    yield fails(
        ours,
        why="The rate switch of the trainer still gives all.",
        at="/channels/1",
        says=["aileron", "channel 2", "100 %", "rate-switch at full", "70 %"],
    )
    yield fails(
        ours,
        *rates,
        put("/channels/3/subtrim_percent", 8),
        why="The rudder's rate is 70 %, but with its sub-trim it goes to 78 %.",
        at="/channels/3",
        says=["rudder", "78 %"],
    )
    yield passes(ours, *rates, why="No more than 70 % on all three.")
    yield passes(why="Any other model.", outcome="notApplicable")


@rule(
    "tern-bay-rules/trainer-throws",
    word="caution",
    title="The club trainer moves its surfaces too far",
    each="channels",
    safety="At full stick the model turns over faster than a beginner can follow. An instructor "
    "flies it until the rates are set.",
    remedy="Set smaller rates, with trim and sub-trim counted in, in every position of the rate "
    "switch.",
    bench="Propeller off: with the rate switch in each position, move the sticks to their ends and "
    "read the channels in the radio's display.",
    source="training rules of the invented Tern Bay Model Flying Club",
    settings={"most_percent": Setting(70, "the furthest that a channel may go, in percent")},
    examples=_examples,
    since="2026.1",
)
def trainer_throws(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """The trainer is flown by beginners: with less throw it forgives a full stick.

    A setup says that it is the club's trainer with `"x-use": "club-trainer"`.
    """
    if path.setup.extra.get("x-use") != "club-trainer" or channel.function not in FUNCTIONS:
        return NOT_APPLICABLE
    most, reach = settings["most_percent"], channel.reach
    low, high = reach.low.value, reach.high.value
    if -low <= most and high <= most:
        return PASS
    furthest = reach.high if high >= -low else reach.low
    return Fail(
        f"The {channel.function} on channel {channel.number} goes to {furthest.value:.3g} % with "
        f"{spoken(furthest.controls)}; {most:g} % is the most for the club trainer.",
        evidence={"low_percent": low, "high_percent": high, "controls": dict(furthest.controls)},
    )
