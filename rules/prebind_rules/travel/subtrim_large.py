"""So much sub-trim that the arm sits wrongly on its spline."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Fix,
    Setting,
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


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/3/subtrim_percent", 30),
        why="30 % of sub-trim: the rudder's arm is a tooth off.",
        at="/channels/3/subtrim_percent",
        says=("30 %", "25 %", "rudder"),
    )
    yield fails(
        put("/channels/5/subtrim_percent", -26),
        start="glider",
        why="The flaps' arms are pulled to one side by sub-trim.",
        at="/channels/5/subtrim_percent",
        says=("-26 %", "25 %", "flap"),
    )
    yield passes(
        put("/channels/3/subtrim_percent", 25),
        why="25 % is the limit.",
    )
    yield passes(
        put("/servos/3/centre_us", 1620),
        put("/receiver/outputs/3/centre_us", 1620),
        why="A servo with another neutral, set at the receiver's output.",
    )


@rule(
    "travel/subtrim-large",
    word="notice",
    title="A lot of sub-trim",
    each="channels",
    safety=(
        "Sub-trim takes from one side what it gives to the other: the surface has less movement "
        "that way, and may meet the limit. With the propeller off, move the arm on its spline."
    ),
    remedy=(
        "Set the sub-trim to 0, move the servo's arm to the next tooth of its spline, set the "
        "pushrod's length, and use a little sub-trim for what is left."
    ),
    bench=(
        "Propeller off, sub-trim at 0: the arm should stand square to the pushrod within a tooth."
    ),
    source="common practice, no source",
    settings={"most_percent": Setting(25.0, "the most sub-trim that passes, in %", least=0)},
    examples=_examples,
)
def subtrim_large(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """Sub-trim is for the last few degrees that the spline cannot give.

    Much of it makes the linkage lopsided, and eats travel on one side.
    """
    subtrim = channel.entry.subtrim_percent
    if abs(subtrim) <= settings["most_percent"]:
        return PASS
    at = f"{channel.at}/subtrim_percent"
    return Fail(
        f"Channel {channel.number} ({channel.function}) has {subtrim:g} % of sub-trim, more than "
        f"{settings['most_percent']:g} %.",
        at=at,
        evidence={"subtrim_percent": subtrim, "most_percent": settings["most_percent"]},
        fix=Fix("decide", (replace(at, 0),)),
    )
