"""A stabilised axis does not arrive with the travel that the stabiliser expects."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.model import LowHigh
from prebind.rule import (
    PASS,
    Answer,
    Cause,
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

    from prebind import AxisPath, Path
    from prebind.rule import Example

_CHANGED = {"low": 80, "high": 100}
_EXPECTS = {"pitch": {"low_us": 1180, "centre_us": 1500, "high_us": 1820}}


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/1/travel_percent", _CHANGED),
        why="Less roll to one side, set at the transmitter: the gyro is commanded unequally.",
        at="/channels/1/travel_percent",
        says=("channel 2", "80", "100 %"),
    )
    yield fails(
        put("/receiver/stabiliser/expects", _EXPECTS),
        why="The maker asks for 1180 to 1820 µs, and the channel brings 1100 to 1900 µs.",
        at="/channels/2",
        says=("1180", "1820", "1099.9", "1900.1"),
    )
    yield passes(
        put("/receiver/stabiliser/expects", _EXPECTS),
        put("/channels/2/travel_percent", {"low": 80, "high": 80}),
        why="Matched at the transmitter, as this stabiliser wants it.",
    )
    yield passes(
        put("/receiver/outputs/1/travel_percent", {"low": 80, "high": 80}),
        why="Travel changed after the stabiliser, where it belongs.",
    )
    yield passes(
        put("/channels/0/travel_percent", {"low": 100, "high": 95}),
        why="The throttle is no stabilised axis.",
    )


@rule(
    "travel/stabilised-axis",
    word="caution",
    title="A stabilised axis does not arrive with the travel that the stabiliser expects",
    each="axes",
    needs=("stabiliser",),
    safety=(
        "A gyro that is commanded more or less than it expects, or more to one side than to the "
        "other, can turn the model faster, slower or further than the pilot means. Leave travel "
        "at 100 % on stabilised channels, and set surface throws at the receiver."
    ),
    remedy=(
        "Set the channel's travel at the transmitter back to what the stabiliser expects (100 % "
        "on both sides unless its maker says otherwise), then set the throws at the receiver's "
        "outputs or on the linkage."
    ),
    bench=(
        "Propeller off. Look at the channel's pulse with the stick at each end, and compare it "
        "with what the stabiliser's maker asks for."
    ),
    source="common practice, no source",
    settings={
        "ends_us": Setting(4.0, "how far an end may lie from where it is expected, in µs", least=0)
    },
    examples=_examples,
)
def stabilised_axis(axis: AxisPath, path: Path, settings: Settings) -> Answer:
    """The stabiliser reads this channel as a command for the axis: its ends mean full command.

    Travel changed before the stabiliser changes the command and, in modes that hold an angle, the
    angle itself; the correction stays as it was.  So the pilot and the gyro no longer agree.
    """
    if axis.expected.low_us is None and axis.expected.high_us is None:
        return _judge_travel(axis)
    return _judge_ends(axis, path, settings["ends_us"])


def _judge_travel(axis: AxisPath) -> Answer:
    channel, travel = axis.channel, axis.channel.entry.travel_percent
    if travel == LowHigh():
        return PASS
    at = f"{channel.at}/travel_percent"
    return Fail(
        f"The travel of channel {channel.number}, which brings {axis.axis} to the stabiliser, is "
        f"{travel.low:g} % below and {travel.high:g} % above centre at the transmitter, where the "
        "stabiliser expects 100 % on both sides.",
        at=at,
        evidence={"travel_low_percent": travel.low, "travel_high_percent": travel.high},
        fix=Fix("decide", (replace(at, {"low": 100, "high": 100}),)),
    )


def _judge_ends(axis: AxisPath, path: Path, allowed: float) -> Answer:
    channel, output, wanted = axis.channel, path.setup.transmitter.output, axis.expected
    full = 100 * output.us_per_percent
    low, high = sorted((channel.pulse(-100.0), channel.pulse(100.0)))
    low_wanted = output.centre_us - full if wanted.low_us is None else wanted.low_us
    high_wanted = output.centre_us + full if wanted.high_us is None else wanted.high_us
    if max(abs(low - low_wanted), abs(high - high_wanted)) <= allowed:
        return PASS
    shifted = channel.entry.travel_percent == LowHigh() and channel.entry.subtrim_percent != 0
    at = f"{channel.at}/{'subtrim_percent' if shifted else 'travel_percent'}"
    return Fail(
        f"Channel {channel.number}, which brings {axis.axis} to the stabiliser, runs from "
        f"{round(low, 1):g} to {round(high, 1):g} µs, where the stabiliser expects "
        f"{low_wanted:g} to {high_wanted:g} µs.",
        at=at,
        evidence={
            "low_us": round(low, 1),
            "high_us": round(high, 1),
            "expected_low_us": low_wanted,
            "expected_high_us": high_wanted,
        },
        because=Cause("travel/stabilised-axis-centre", at) if shifted else None,
    )
