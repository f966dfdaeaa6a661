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
        at="/speed_controls/0/arm_below_us",
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
    low, high = motor.at_low, motor.at_high
    if low is None or high is None or low.us is None or high.us is None:
        return NOT_APPLICABLE
    short = list(_short(motor, motor.entry, low.us, high.us))
    if not short:
        return PASS
    backwards = _turned(motor) if high.us < low.us else None
    return Fail(
        f"On output {motor.port.number} " + ", and ".join(end.text for end in short) + ".",
        at=backwards or _cause(motor, short[0], path),
        evidence={key: us for end in short for key, us in end.numbers.items()},
        because=Cause("reversal/throttle", backwards) if backwards else None,
    )


class _Short(NamedTuple):
    """What an end of the throttle misses, +1 for the high end, and the key that it misses."""

    side: int
    key: str
    text: str
    numbers: dict[str, float]


def _short(
    motor: MotorPath, entry: SpeedControl, low_us: float, high_us: float
) -> Iterator[_Short]:
    """From the pulses at the throttle's ends, the highest that the other controls leave."""
    if high_us < entry.full_above_us:
        us, full = round(high_us, 1), entry.full_above_us
        text = f"the throttle's high end is {us:g} µs, short of full power at {full:g} µs"
        yield _Short(1, "full_above_us", text, {"high_us": us, "full_us": full})
    if entry.arm_below_us is None or low_us < entry.arm_below_us:
        return
    reach = motor.reach_where({motor.path.throttle_control: motor.low_end}, overrides=False)
    if reach and reach.low.us >= entry.arm_below_us:
        us, arm = round(reach.low.us, 1), entry.arm_below_us
        text = f"the throttle's low end is {us:g} µs, not below the {arm:g} µs at which it arms"
        yield _Short(-1, "arm_below_us", text, {"low_us": us, "arm_us": arm})


def _turned(motor: MotorPath) -> str:
    """Where a throttle that works backwards is turned round."""
    by_output = motor.port.entry.reversed and not motor.channel.entry.reversed
    return f"{(motor.port if by_output else motor.channel).at}/reversed"


def _cause(motor: MotorPath, short: _Short, path: Path) -> str:
    """The smallest setting on the throttle's way to that end, else the speed control's own key."""
    scales = port_scales(motor.port, path, path.throttle_control, alone=True)
    smaller = [scale for scale in scales if scale.on(short.side) < 100]
    smallest = min(smaller, key=lambda scale: scale.on(short.side), default=None)
    return smallest.at if smallest else f"{motor.at}/{short.key}"
