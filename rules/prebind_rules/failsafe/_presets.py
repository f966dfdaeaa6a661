"""The entries of a failsafe: which channel each is for, and what a preset could be instead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PRIMARY, Fix, NotChecked, NotKnown, put, replace
from prebind_rules.throttle._motors import motors_on

if TYPE_CHECKING:
    from prebind import ChannelPath, Path
    from prebind.model import FailsafeChannel

ENTRIES = "/receiver/failsafe/channels"


def is_throttle(path: Path, channel: int) -> bool:
    """Whether a channel is a throttle by its function, or drives a motor."""
    functions = {c.function for c in path.setup.channels if c.channel == channel}
    return "throttle" in functions or bool(motors_on(path, channel))


def is_primary(path: Path, channel: int) -> bool:
    return any(c.function in PRIMARY for c in path.setup.channels if c.channel == channel)


def instead(path: Path, entry: FailsafeChannel) -> Fix | None:
    """A change of this entry to a preset that is safe: neutral, or a throttle's stopped end."""
    percent = safe_percent(path, entry.channel)
    if percent is None:
        return None
    if entry.action == "preset":
        return Fix("decide", (replace(f"{entry.at}/output_percent", percent),))
    return Fix(
        "decide",
        (replace(f"{entry.at}/action", "preset"), put(f"{entry.at}/output_percent", percent)),
    )


def safe_percent(path: Path, channel: int) -> float | None:
    """A throttle's stopped end, a primary surface's neutral; None for others, and if not known."""
    try:
        if is_throttle(path, channel):
            return _stopping(path, path.channel(channel))
        return neutral(path.channel(channel)) if is_primary(path, channel) else None
    except (NotKnown, NotChecked):
        return None


def neutral(channel: ChannelPath) -> float:
    """The channel's output, in percent, for no demand at all."""
    return round(channel.scale.unlimited(0.0), 1)


def _stopping(path: Path, channel: ChannelPath) -> float | None:
    """The output that low stick gives, where it stops every motor there (an engine: idles)."""
    motors = motors_on(path, channel.number)
    if not motors:
        return None
    stick = {path.throttle_control: motors[0].low_end}
    reach = channel.reach_where(stick, overrides=False)
    if reach is None or reach.low.value != reach.high.value:
        return None
    percent = round(reach.low.value, 1)
    output = path.setup.transmitter.output
    us = output.centre_us + output.us_per_percent * percent
    stops = all(motor.state(motor.port.us(us)) in motor.safe_low for motor in motors)
    return percent if stops else None
