"""mixing/coordination-backwards"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Fix, NotKnown, Settings, fails, passes, put, rule
from prebind_rules.mixing import _sources

if TYPE_CHECKING:
    from prebind import ChannelPath, Path
    from prebind.model import Mix


def _mix(source: dict[str, object], to: int, low: float, high: float) -> dict[str, object]:
    return {"name": "demo", "from": source, "to": to, "rate_percent": {"low": low, "high": high}}


@rule(
    "mixing/coordination-backwards",
    word="caution",
    title="A mix turns the nose against the roll",
    each="mixes",
    safety=(
        "Rudder against the bank makes a slow model skid and drop a wing in the turn to land. With "
        "the propeller off, stick to the right, see the rudder's edge go right."
    ),
    remedy="Give the mix's rate the other sign, on both sides, and look at the rudder again.",
    bench="Propeller off: roll stick to the right, and see the rudder's edge go right from behind.",
    source="ISO 1151-1 for the axes; rudder with the roll: common practice, no source",
    examples=lambda: [
        fails(
            put("/mixes", [_mix({"channel": 2}, 4, -25, -25)]),
            why="The rate has the wrong sign.",
            at="/mixes/0/rate_percent",
            says=("right", "-25 %", "channel 4", "to the left"),
            start="plain",
        ),
        fails(
            put("/mixes", [_mix({"control": "roll-stick"}, 4, -10, 30)]),
            why="Right goes with the roll; left was entered with the wrong sign.",
            at="/mixes/0/rate_percent",
            says=("stick to the left", "-10 %", "to the right"),
            start="plain",
        ),
        passes(
            put("/mixes", [_mix({"channel": 2}, 4, 25, 25)]),
            why="The rudder goes with the roll.",
            start="plain",
        ),
        passes(
            put("/mixes", [_mix({"channel": 2}, 3, -25, -25)]),
            why="A mix into the elevator does not turn the nose left or right.",
            start="plain",
        ),
        passes(
            put("/mixes", [_mix({"control": "pitch-stick"}, 4, -5, -5)]),
            why="It does not take from roll.",
            start="plain",
        ),
    ],
)
def coordination_backwards(mix: Mix, path: Path, settings: Settings) -> Answer:
    """Rolling into a turn, the wing that goes up drags back, and the nose swings out of the turn. A
    mix from roll to yaw is there to bring the nose round; with the wrong sign it adds to the swing.
    """
    if _sources.control_of(mix, path) not in path.sticks("roll"):
        return PASS
    turn = _nose_right(path.channel(mix.to), path)
    rate = mix.rate_percent
    low, high = turn * rate.low, turn * rate.high
    if low >= 0 and high >= 0:
        return PASS
    stick, nose, percent = ("right", "left", rate.high) if high < 0 else ("left", "right", rate.low)
    changed = {"low": turn * abs(rate.low), "high": turn * abs(rate.high)}
    at = f"{mix.at}/rate_percent"
    return Fail(
        f"With the roll stick to the {stick}, the mix “{mix.name}” adds {percent:g} % to channel "
        f"{mix.to} and turns the nose to the {nose}.",
        at=at,
        evidence={
            "mix": mix.name,
            "channel": mix.to,
            "low_percent": rate.low,
            "high_percent": rate.high,
        },
        fix=Fix("decide", ({"op": "replace", "path": at, "value": changed},)),
    )


def _nose_right(channel: ChannelPath, path: Path) -> int:
    """The sign of a demand that turns the nose right; 0 for a channel that does not turn it."""
    if channel.function in ("rudder", "steering", "tail-rotor"):
        return 1
    if channel.function != "v-tail":
        return 0
    if channel.side not in ("left", "right"):
        raise NotKnown(
            f"which side channel {channel.number} moves is not recorded", (f"{channel.at}/side",)
        )
    # Edge up on the left half turns the nose right; with an inverted V, on the right half.
    up = 1 if channel.side == "left" else -1
    return -up if path.setup.model.tail == "inverted-v-tail" else up
