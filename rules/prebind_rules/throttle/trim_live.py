"""The trim lever alone can start the motor."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Cause,
    Fail,
    Open,
    Settings,
    fails,
    passes,
    remove,
    replace,
    rule,
)
from prebind_rules.throttle._low import runs_low, to_blame, without_idle_up
from prebind_rules.throttle._motors import motors_on, safe_low, stands_for, unsafe

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import MotorPath, Path
    from prebind.rule import Example
    from prebind_rules.throttle._motors import Pulse

RANGE = "/channels/0/trim_range_percent"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(RANGE, 20),
        why="The trim lever moves the stopped end by 80 µs.",
        at=RANGE,
        says=["20 %", "1180.2 µs", "30.2 µs above the 1150 µs"],
    )
    yield fails(
        replace(RANGE, 15.5),
        start="glow",
        why="With the trim up the engine runs faster than its idle.",
        at=RANGE,
        says=["15.5 %", "1162 µs", "2 µs above the 1160 µs"],
    )
    yield passes(replace(RANGE, 12), why="The trim lever's upper end still stops the motor.")
    yield passes(
        replace(RANGE, 20),
        replace("/speed_controls/0/stop_below_us", 1200),
        why="The speed control stops further up, and the trim lever stays below that.",
    )
    yield passes(remove(RANGE), why="How far the lever goes is not recorded.", outcome="open")


@rule(
    "throttle/trim-live",
    word="danger",
    title="The trim lever alone can start the motor",
    each="motors",
    needs=("motors",),
    safety="A knock against the trim lever starts the propeller while the stick is low, and it "
    "cuts whoever is near. Keep the propeller off until the lever cannot do it.",
    remedy="Limit the throttle's trim, switch it off, or calibrate the speed control for a higher "
    "stopping pulse.",
    bench="Propeller off, model held down: stick low, push the throttle trim to its upper end, and "
    "see that the motor stays still.",
    source="common practice, no source",
    examples=_examples,
)
def trim_live(motor: MotorPath, path: Path, settings: Settings) -> Answer:
    """The throttle's trim lever is small and easily moved.

    With the stick low it must not start the motor, however far it is pushed.  An engine must then
    still idle.
    """
    if not stands_for(motor, path):
        return NOT_APPLICABLE
    channel = motor.channel
    at = f"{channel.at}/trim_range_percent"
    most = channel.entry.trim_range_percent
    if most is None:
        return Open(
            f"How far the trim of channel {channel.number} goes is not recorded.", (at,), at=at
        )
    found = _trimmed_up(path, channel.number, most)
    if found is None:
        return PASS
    meant = without_idle_up(path, channel)
    if meant is not None and _trimmed_up(meant, channel.number, most) is None:
        return PASS
    already = runs_low(path, channel.number)
    stick = path.throttle_control
    return Fail(
        f"With {stick} low and its trim at {most:g} %{found.where(stick)}, {found.port} gets "
        f"{round(found.us, 1):g} µs, {found.against(may_idle=True)}.",
        at=at,
        evidence=found.evidence() | {"trim_percent": most},
        because=Cause("throttle/low-runs", to_blame(path, channel)) if already else None,
    )


def _trimmed_up(path: Path, channel: int, trim_percent: float) -> Pulse | None:
    """The worst motor on this channel with the stick low and the trim at its upper end."""
    stick = path.throttle_control
    return unsafe(
        motors_on(path, channel),
        lambda motor: motor.worst(
            {stick: motor.low_end}, overrides=False, trim_percent=trim_percent
        ),
        safe_low,
    )
