"""One output of the receiver: what reaches it, and what the receiver makes of that."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from prebind.path.facts import Closed, Controls, Cut, Extreme, NotKnown, Position, fact
from prebind.path.joined import Joined, Share
from prebind.path.scale import Range, clipped, negated, scaled, shifted
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Mapping

    from prebind.document.model import FailsafeChannel, Port, When
    from prebind.path import Path
    from prebind.path.channel import ChannelPath, Stages
    from prebind.path.direction import AxisPath
    from prebind.path.motor import MotorPath
    from prebind.path.reach import Reach
    from prebind.path.servo import ServoPath

Action = Literal["preset", "hold", "no-pulses"]


@record
class PortReach:
    """The lowest and highest pulse of a port over a set of situations, in µs."""

    low: Extreme
    high: Extreme


@record
class PortFailsafe:
    """What a port does when the link is lost.

    `action` is None where the failsafe has no entry; a preset gives `us`, a hold `reach`.
    """

    action: Action | None
    us: float | None = None
    reach: PortReach | None = None


class PortPath(Closed):
    """One entry of `/receiver/outputs`."""

    def __init__(self, path: Path, entry: Port) -> None:
        self.path = path
        self.entry = entry
        self.number = entry.port
        self._alone: dict[Reach, PortReach] = {}
        self._joined: dict[tuple[object, ...], PortReach | None] = {}
        tx = path.setup.transmitter.output
        self._tx_centre = tx.centre_us
        self._per_percent = tx.us_per_percent
        self.centre_us = tx.centre_us if entry.centre_us is None else entry.centre_us
        self.at = entry.at

    @fact
    def channel(self) -> ChannelPath:
        """The port's own channel.  Raises NotKnown where the port or the channel is not one."""
        if self.path.port_made_twice(self.number):
            raise NotKnown(f"port {self.number} is listed more than once", ("/receiver/outputs",))
        return self.path.channel(self.entry.channel, f"{self.at}/channel")

    @fact
    def axes(self) -> tuple[tuple[AxisPath, int], ...]:
        """The stabiliser's axes that correct this port, each with the port's sign."""
        return tuple(
            (axis, port.sign)
            for axis in self.path.axes
            for port in axis.entry.ports
            if port.port == self.number
        )

    @fact
    def mixed(self) -> bool:
        """Whether the stabiliser itself mixes commands into this port."""
        stabiliser = self.path.stabiliser
        return stabiliser is not None and stabiliser.mixing != "none" and bool(self.axes)

    @fact
    def shares(self) -> tuple[Share, ...]:
        """The channels that feed this port, each with its factor."""
        if not self.mixed:
            return (Share(self.channel, 1.0),)
        stabiliser = self.path.stabiliser
        assert stabiliser is not None
        part = stabiliser.mix_percent / 100
        shares = [Share(axis.channel, sign * part) for axis, sign in self.axes]
        own = self.channel
        if stabiliser.mixing in ("swashplate", "motors") and all(
            share.channel is not own for share in shares
        ):
            shares.append(Share(own, 1.0))
        return tuple(shares)

    @fact
    def channels(self) -> tuple[ChannelPath, ...]:
        return tuple(dict.fromkeys(share.channel for share in self.shares))

    @fact
    def mix_limit_us(self) -> float:
        stabiliser = self.path.stabiliser
        limit = stabiliser.mix_limit_percent if stabiliser is not None else None
        if limit is None:
            limit = self.path.setup.transmitter.output.limit_percent
        return limit * self._per_percent

    # The receiver's part

    def us(self, channel_us: float) -> float:
        """The port's pulse for its own channel's pulse, both in µs."""
        return self._of_deviation(channel_us - self._tx_centre)

    def situated_us(self, channels: Mapping[int, Stages]) -> float:
        """The port's pulse in a situation; a sum of channels is taken before rounding."""
        if not self.mixed:
            return self.us(channels[self.channel.number].us)
        return self.mixed_us({number: stages.exact_us for number, stages in channels.items()})

    def mixed_us(self, channel_us: Mapping[int, float]) -> float:
        """The port's pulse for the pulses of all channels that feed it."""
        if not self.mixed:
            return self.us(channel_us[self.channel.number])
        deviation = sum(
            share.factor * (channel_us[share.channel.number] - self._tx_centre)
            for share in self.shares
        )
        limit = self.mix_limit_us
        return self._of_deviation(min(max(deviation, -limit), limit))

    def _of_deviation(self, deviation: float) -> float:
        return self._image((deviation, deviation, True, True))[0]

    def _image(self, deviation: Range) -> Range:
        travel = self.entry.travel_percent
        value = negated(deviation) if self.entry.reversed else deviation
        value = shifted(scaled(value, travel.low / 100, travel.high / 100), self.centre_us)
        if self.entry.limit_us is None:
            return value
        return clipped(value, *self.entry.limit_us)

    # What it can put out

    @fact
    def reach(self) -> PortReach:
        """Everything reachable, overrides included."""
        found = self.reach_where()
        assert found is not None  # with nothing held, some combination always is possible
        return found

    @fact
    def free(self) -> PortReach | None:
        """Everything reachable while no override of its channels holds."""
        return self.reach_where(overrides=False)

    def reach_where(
        self,
        fix: Mapping[str, Position] | None = None,
        when: When = (),
        overrides: bool = True,
        alone: bool = False,
        trim_percent: float | None = None,
    ) -> PortReach | None:
        """As `ChannelPath.reach_where`.

        `alone` judges a mixed port by its own channel alone; only there does `trim_percent` count.
        """
        if alone or not self.mixed:
            reach = self.channel.reach_where(fix, when, overrides, trim_percent)
            return None if reach is None else self._of_channel(reach)
        asked = {c for share in self.shares for c in share.channel.asked_with(when)}
        held = {c: where for c, where in fix.items() if c in asked} if fix else {}
        key = (tuple(held.items()), when, overrides)
        if key not in self._joined:
            self._joined[key] = self._of_channels(held, when, overrides)
        return self._joined[key]

    def _of_channels(
        self, fix: Mapping[str, Position], when: When, overrides: bool
    ) -> PortReach | None:
        limit = self.mix_limit_us
        ends = Joined(self.path, self.shares).ends(fix, when, overrides)
        if ends is None:
            return None
        low, high = ends
        deviation = clipped((low[0], high[0], low[1], high[1]), -limit, limit)
        return self._extremes(deviation, low[2], high[2])

    def _of_channel(self, reach: Reach) -> PortReach:
        if reach not in self._alone:
            self._alone[reach] = self._through(reach)
        return self._alone[reach]

    def _through(self, reach: Reach) -> PortReach:
        centre = self._tx_centre
        deviation = (
            reach.low.us - centre,
            reach.high.us - centre,
            reach.low.attained,
            reach.high.attained,
        )
        return self._extremes(deviation, reach.low.controls, reach.high.controls)

    def _extremes(self, deviation: Range, at_low: Controls, at_high: Controls) -> PortReach:
        lo, hi, lo_closed, hi_closed = self._image(deviation)
        if self.entry.reversed:
            at_low, at_high = at_high, at_low
        return PortReach(Extreme(lo, lo, at_low, lo_closed), Extreme(hi, hi, at_high, hi_closed))

    @property
    def cut(self) -> Cut:
        """The most that the transmitter's limit cuts off of a channel that feeds this port."""
        return max((channel.reach.cut for channel in self.channels), key=lambda c: c.percent)

    # What hangs on it, and what it does when the link is lost

    @fact
    def servos(self) -> tuple[ServoPath, ...]:
        return tuple(servo for servo in self.path.servos if servo.entry.port == self.number)

    @fact
    def motors(self) -> tuple[MotorPath, ...]:
        return tuple(motor for motor in self.path.motors if motor.entry.port == self.number)

    @fact
    def failsafe(self) -> PortFailsafe:
        """A port of several channels is known only where all are preset; hold outweighs no pulses.

        Raises NotKnown where the failsafe is not recorded.
        """
        return self._failsafe(alone=False)

    @fact
    def failsafe_alone(self) -> PortFailsafe:
        """The same for the port's own channel alone."""
        return self._failsafe(alone=True)

    def _failsafe(self, alone: bool) -> PortFailsafe:
        channels = (self.channel,) if alone else self.channels
        entries = {c.number: self.path.failsafe_entry(c.number) for c in channels}
        if any(entry is None for entry in entries.values()):
            return PortFailsafe(None)
        known: dict[int, FailsafeChannel] = {n: e for n, e in entries.items() if e is not None}
        actions = {entry.action for entry in known.values()}
        if actions == {"preset"}:
            pulses = {n: self.path.preset_us(entry) for n, entry in known.items()}
            us = self.us(pulses[self.channel.number]) if alone else self.mixed_us(pulses)
            return PortFailsafe("preset", us)
        if "hold" in actions:
            return PortFailsafe("hold", None, self.reach_where(alone=alone))
        return PortFailsafe("no-pulses")
