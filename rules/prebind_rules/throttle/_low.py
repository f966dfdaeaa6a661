"""Motors with the stick low: which run, what is to blame, and which phases mean them to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.record import evolve
from prebind.rule import NotChecked, NotKnown
from prebind_rules.throttle._as_if import blame
from prebind_rules.throttle._motors import motors_on, safe_low, unsafe

if TYPE_CHECKING:
    from prebind import ChannelPath, Extreme, MotorPath, Path
    from prebind.model import When
    from prebind_rules.throttle._motors import Pulse


def running_low(path: Path, channel: int) -> Pulse | None:
    """The worst motor on this channel that is not safe with the stick low, if there is one."""
    return unsafe(motors_on(path, channel), lambda motor: motor.at_low, safe_low)


def runs_low(path: Path, channel: int) -> bool:
    """Whether a motor on this channel is known to run with the stick low."""
    try:
        return running_low(path, channel) is not None
    except (NotKnown, NotChecked):
        return False


def to_blame(path: Path, channel: ChannelPath) -> str:
    """The place of the setting without which no motor on this channel runs with the stick low."""
    return blame(path, channel, lambda other: running_low(other, channel.number) is None)


def below_idle(path: Path) -> Extreme | None:
    """The lowest pulse that the engine gets with the stick low, where that is below its idle."""
    motor, engine = _engine(path), path.setup.engine
    stick = {path.throttle_control: motor.low_end}
    reach = motor.port.reach_where(stick, overrides=False, alone=True)
    if engine is None or reach is None or reach.low.us >= engine.idle_us[0]:
        return None
    return reach.low


def to_blame_below_idle(path: Path) -> str:
    """The place of the setting without which the engine idles with the stick low."""
    return blame(path, _engine(path).channel, lambda other: below_idle(other) is None)


def _engine(path: Path) -> MotorPath:
    return next(motor for motor in path.motors if motor.kind == "engine")


def without_idle_up(path: Path, channel: ChannelPath) -> Path | None:
    """The path without what shapes this channel only in phases other than the one at rest.

    The phase at rest holds when the radio is switched on: a motor is never meant to run in it with
    the stick low.  None where no other phase shapes the channel.
    """

    def elsewhere(when: When) -> bool:
        named = [c.phase for c in when if c.phase is not None]
        return bool(named) and any(path.phase(path.rest()) not in phases for phases in named)

    def kept(entries: Any) -> Any:
        return entries and tuple(entry for entry in entries if not elsewhere(entry.when))

    def plain(entry: Any, shapes: bool) -> Any:
        if not shapes:
            return entry
        kinds = ("rates", "curves", "trim_percent")
        return evolve(entry, **{kind: kept(getattr(entry, kind)) for kind in kinds})

    setup = path.setup
    number, driver = channel.number, channel.entry.control
    changed = evolve(
        setup,
        channels=tuple(plain(entry, entry.channel == number) for entry in setup.channels),
        inputs=tuple(plain(entry, entry.id == driver) for entry in setup.inputs),
        mixes=tuple(mix for mix in setup.mixes if mix.to != number or not elsewhere(mix.when)),
    )
    return None if changed == setup else path.traced(changed)
