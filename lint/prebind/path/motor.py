"""One motor: what its speed control, or the engine's throttle servo, makes of the pulses."""

from __future__ import annotations

from math import inf, nextafter
from typing import TYPE_CHECKING

from prebind.document.model import Engine, SpeedControl
from prebind.path.facts import Closed, fact
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Mapping

    from prebind.document.model import Override, When
    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.facts import Controls, Extreme, MotorWord, Position
    from prebind.path.port import PortFailsafe, PortPath, PortReach

STATES: tuple[MotorWord, ...] = ("stopped", "idling", "running", "full")
"""Worst last."""


@record
class MotorState:
    """A motor's state at the pulse that makes it so.  `us` is None where no pulse comes."""

    state: MotorWord
    us: float | None
    controls: Controls
    attained: bool = True


class MotorPath(Closed):
    """One entry of `/speed_controls`, or `/engine`."""

    def __init__(self, path: Path, entry: SpeedControl | Engine) -> None:
        self.path = path
        self.entry = entry
        self.kind = "engine" if isinstance(entry, Engine) else "speed control"
        self._reversible = (
            entry.stopped_us if isinstance(entry, SpeedControl) and entry.stopped_us else None
        )
        self.at = entry.at

    @property
    def port(self) -> PortPath:
        return self.path.port(self.entry.port, f"{self.at}/port")

    @property
    def channel(self) -> ChannelPath:
        return self.port.channel

    @property
    def overrides(self) -> tuple[Override, ...]:
        """The overrides on the channels by which the motor is judged, in document order."""
        numbers = (
            {self.channel.number}
            if self.judged_alone
            else {channel.number for channel in self.port.channels}
        )
        return tuple(o for o in self.path.setup.overrides if o.channel in numbers)

    @property
    def judged_alone(self) -> bool:
        """Whether its own channel alone is judged, because the receiver mixes others into it."""
        stabiliser = self.path.stabiliser
        into = stabiliser is not None and stabiliser.mixing in ("swashplate", "motors")
        return into and self.port.mixed

    @property
    def safe_low(self) -> frozenset[str]:
        """The states that count as stopped with the throttle low."""
        return frozenset({"stopped", "idling"} if self.kind == "engine" else {"stopped"})

    @property
    def stop_us(self) -> float:
        """The highest pulse at which it is stopped."""
        if self._reversible is not None:
            return self._reversible[1]
        return self.entry.stop_below_us or 0.0

    def state(self, us: float) -> MotorWord:
        entry = self.entry
        if isinstance(entry, Engine):
            if us <= entry.stop_below_us:
                return "stopped"
            return "idling" if entry.idle_us[0] <= us <= entry.idle_us[1] else "running"
        if self._reversible is not None:
            if self._reversible[0] <= us <= self._reversible[1]:
                return "stopped"
        elif us <= self.stop_us:
            return "stopped"
        return "full" if us >= entry.full_above_us else "running"

    def at_extreme(self, end: Extreme, inward: float) -> MotorState:
        """The state at an end of a range; one that is only approached counts from inside."""
        us = end.us if end.attained else nextafter(end.us, inward)
        return MotorState(self.state(us), end.us, end.controls, end.attained)

    def worst_of(self, reach: PortReach) -> MotorState:
        """The worst state over a range of pulses, looked for at its ends."""
        ends = [self.at_extreme(reach.high, -inf)]
        if self._reversible is not None or self.kind == "engine":
            ends.append(self.at_extreme(reach.low, inf))
        return max(ends, key=lambda end: STATES.index(end.state))

    def reach_where(
        self,
        fix: Mapping[str, Position] | None = None,
        when: When = (),
        overrides: bool = True,
        trim_percent: float | None = None,
    ) -> PortReach | None:
        """The pulses by which the motor is judged."""
        alone = self.judged_alone
        return self.port.reach_where(fix, when, overrides, alone, trim_percent)

    def worst(
        self,
        fix: Mapping[str, Position] | None = None,
        when: When = (),
        overrides: bool = True,
        trim_percent: float | None = None,
    ) -> MotorState | None:
        """The worst state over a set of situations (see `ChannelPath.reach_where`)."""
        reach = self.reach_where(fix, when, overrides, trim_percent)
        return None if reach is None else self.worst_of(reach)

    @property
    def low_end(self) -> Position:
        """Where the throttle control is low: its lowest value, or the centre if reversible."""
        control = self.path.control(self.path.throttle_control)
        if self._reversible is None:
            return control.low
        return (
            0.0
            if control.continuous
            else min(control.positions, key=lambda p: abs(control.value(p)))
        )

    @fact
    def at_low(self) -> MotorState | None:
        """The worst with the throttle control low and no override; None if one always holds."""
        return self.worst({self.path.throttle_control: self.low_end}, overrides=False)

    @fact
    def at_high(self) -> MotorState | None:
        control = self.path.throttle_control
        return self.worst({control: self.path.control(control).high}, overrides=False)

    def under(self, override: Override) -> MotorState | None:
        """The worst while the override's whole `when` holds; None where it never can."""
        return self.worst(when=override.when)

    @property
    def port_failsafe(self) -> PortFailsafe:
        """What the port does when the link is lost, as far as it counts for the motor."""
        return self.port.failsafe_alone if self.judged_alone else self.port.failsafe

    @fact
    def failsafe(self) -> MotorState | None:
        """The state when the link is lost, the worst of what a hold can hold.

        None where it is not known: no entry, or no pulses and the speed control's way with that not
        recorded.  Raises NotKnown where the failsafe is not recorded.
        """
        found = self.port_failsafe
        if found.action == "preset" and found.us is not None:
            return MotorState(self.state(found.us), found.us, {})
        if found.action == "hold":
            return None if found.reach is None else self.worst_of(found.reach)
        if found.action is None:
            return None
        if isinstance(self.entry, SpeedControl):
            if self.entry.on_signal_loss == "stops":
                return MotorState("stopped", None, {})
            if self.entry.on_signal_loss != "holds":
                return None
        reach = self.reach_where()
        return None if reach is None else self.worst_of(reach)
