"""A primary surface is slowed down."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Fix, Settings, fails, passes, put, remove, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/2/slow_s", 1.5),
        why="An elevator that takes 1.5 s is always behind the pilot.",
        at="/channels/2/slow_s",
        says=("elevator", "1.5 s"),
    )
    yield fails(
        put("/channels/3/slow_s", 0.3),
        start="glider",
        why="Half of a V-tail is slow: the tail twists as it moves.",
        at="/channels/3/slow_s",
        says=("v-tail", "0.3 s"),
    )
    yield passes(
        put("/channels/0/slow_s", 0.5),
        why="A throttle may be slowed, to spare the gearbox.",
    )
    yield passes(
        put("/channels/5/slow_s", 4.0),
        start="glider",
        why="Flaps should go slowly.",
    )


@rule(
    "travel/slow-primary",
    word="caution",
    title="A primary surface is slowed down",
    each="primary-channels",
    safety=(
        "A control that lags behind the stick invites the pilot to steer too much and too late, "
        "and the model swings more and more. Let primary surfaces follow at once."
    ),
    remedy="Take the slow-down off this channel; use expo where the model is too lively.",
    bench="Propeller off. Move the stick quickly: the surface must arrive with it.",
    source="common practice, no source",
    examples=_examples,
)
def slow_primary(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """Slowing down is for flaps, gear and scale doors.

    On a primary surface it adds a delay between pilot and model, or between stabiliser and model,
    and delay is what makes a control loop swing.
    """
    slow = channel.entry.slow_s
    if not slow:
        return PASS
    at = f"{channel.at}/slow_s"
    return Fail(
        f"The {channel.function} on channel {channel.number} takes {slow:g} s for its full range.",
        at=at,
        evidence={"slow_s": slow},
        fix=Fix("decide", (remove(at),)),
    )
