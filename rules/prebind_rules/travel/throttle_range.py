"""The throttle does not reach the speed control's full power, or does not let it arm."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.model import SpeedControl
from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Cause,
    Fail,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.travel._scales import port_scales

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import MotorPath, Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/0/travel_percent", {"low": 100, "high": 90}),
        why="90 % of travel ends at 1860 µs, and full power begins at 1880 µs.",
        at="/channels/0/travel_percent",
        says=("1860", "1880"),
    )
    yield fails(
        replace("/speed_controls/0/arm_below_us", 1090),
        why="The speed control arms below 1090 µs, and the stick ends at 1100 µs.",
        at="/channels/0",
        says=("1099.9", "1090", "arm"),
    )
    yield passes(
        put("/channels/0/travel_percent", {"low": 100, "high": 96}),
        why="96 % of travel ends at 1884 µs, just over the 1880 µs of full power.",
    )
    yield passes(
        put("/channels/0/travel_percent", {"low": 100, "high": 90}),
        put("/receiver/outputs/0/travel_percent", {"low": 100, "high": 110}),
        why="The receiver's output makes up for it.",
    )


@rule(
    "travel/throttle-range",
    word="notice",
    title="The throttle does not cover the speed control's range",
    each="motors",
    needs=("receiver", "motors"),
    safety=(
        "Without full power a climb-out can fall short, and a speed control that does not see its "
        "arming pulse may refuse to start, or learn new ends by itself. Teach it the radio's ends "
        "only with the propeller off and the model held."
    ),
    remedy=(
        "Propeller off: teach the speed control the ends of the throttle stick as its maker says, "
        "or set the throttle channel's travel so that its ends lie beyond the speed control's."
    ),
    bench=(
        "Propeller off, model held. Compare the throttle output's pulse at both ends of the stick "
        "with what the speed control's maker names."
    ),
    source="common practice, no source",
    examples=_examples,
)
def throttle_range(motor: MotorPath, path: Path, settings: Settings) -> Answer:
    """A speed control waits for a low pulse before it arms, and gives full power at a high one.

    The stick's ends must lie beyond both.  Judged with the throttle control at its ends, in the
    most favourable combination of the others.
    """
    if not isinstance(motor.entry, SpeedControl):
        return NOT_APPLICABLE
    short = list(_short(motor, motor.entry, path))
    if not short:
        return PASS
    channel = motor.channel
    backwards = f"{channel.at}/reversed"
    return Fail(
        f"On output {motor.port.number} " + ", and ".join(end.text for end in short) + ".",
        at=_cause(motor, short[0].side, path),
        evidence={key: us for end in short for key, us in end.numbers.items()},
        because=Cause("reversal/throttle", backwards) if channel.entry.reversed else None,
    )


class _Short(NamedTuple):
    """What an end of the throttle misses; its side is +1 for the high end."""

    side: int
    text: str
    numbers: dict[str, float]


def _short(motor: MotorPath, entry: SpeedControl, path: Path) -> Iterator[_Short]:
    control = path.control(path.throttle_control)
    low, high = (
        motor.reach_where({control.id: end}, overrides=False)
        for end in (motor.low_end, control.high)
    )
    if high and high.high.us < entry.full_above_us:
        us, full = round(high.high.us, 1), entry.full_above_us
        text = f"the throttle's high end is {us:g} µs, short of full power at {full:g} µs"
        yield _Short(1, text, {"high_us": us, "full_us": full})
    if low and entry.arm_below_us is not None and low.low.us >= entry.arm_below_us:
        us, arm = round(low.low.us, 1), entry.arm_below_us
        text = f"the throttle's low end is {us:g} µs, not below the {arm:g} µs at which it arms"
        yield _Short(-1, text, {"low_us": us, "arm_us": arm})


def _cause(motor: MotorPath, side: int, path: Path) -> str:
    """The smallest setting on the throttle's way to that end, else its channel."""
    scales = port_scales(motor.port, path, path.throttle_control, alone=True)
    smaller = [scale for scale in scales if scale.on(side) < 100]
    smallest = min(smaller, key=lambda scale: scale.on(side), default=None)
    return smallest.at if smallest else motor.channel.at
