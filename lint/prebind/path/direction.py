"""Which way each axis's command and correction move each surface: signs, right is +1.

Axes as in ISO 1151-1: x forward, y right, z down, right-hand rule.  Positive roll puts the right
wing down, positive pitch the nose up, positive yaw the nose right.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.path.facts import Closed, Controls, NotKnown, fact

if TYPE_CHECKING:
    from prebind.document.model import Axis, Expected, Surface
    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.port import PortPath
    from prebind.path.response import Response
    from prebind.path.servo import ServoPath

DIRECT = frozenset({"off", "rate-damping"})
"""Behaviours in which the pilot's command reaches the surface itself."""

TARGET = frozenset({"attitude-limit", "self-level", "heading-hold"})
"""Behaviours in which the command sets a target and the stabiliser drives to it."""

RIGHT_SIGN = {
    ("aileron", "roll"): {"right": 1, "left": -1},
    ("flaperon", "roll"): {"right": 1, "left": -1},
    ("elevon", "roll"): {"right": 1, "left": -1},
    ("elevon", "pitch"): {"right": 1, "left": 1},
    ("v-tail", "pitch"): {"right": 1, "left": 1},
    ("v-tail", "yaw"): {"right": -1, "left": 1},
}
"""For a pair: whether its edge goes up (+1) or down (−1) as the model turns positively."""

MOVES = {
    "trailing-edge-up": ("edge", 1),
    "trailing-edge-down": ("edge", -1),
    "trailing-edge-right": ("upright", 1),
    "trailing-edge-left": ("upright", -1),
    "wheel-right": ("wheel", 1),
    "wheel-left": ("wheel", -1),
}
"""How `increasing_pulse` is read: what moves, and whether up or right (+1), down or left (−1)."""

KIND = {
    "aileron": "edge",
    "flaperon": "edge",
    "elevon": "edge",
    "v-tail": "edge",
    "elevator": "edge",
    "rudder": "upright",
    "steering": "wheel",
}

LOOK = {
    "swashplate": "Main motor disconnected or rotor blades off: move each stick and see the "
    "swashplate tilt the way the stick goes; then tilt the model by hand and see the swashplate "
    "tilt against it.",
    "motors": "Propellers off, model held fast: tilt and turn the model by hand and see the motors "
    "on the falling side speed up; then move each stick and see the motors on the side that should "
    "rise speed up.",
}
"""What nobody computes here, and how to see it for oneself, by the receiver's mixing."""

SelectedBy = tuple[str, str, Controls]
"""(selector, state, witness): a state that can be selected, and how."""


def turning_sign(surface: Surface, axis: str, tail: str) -> int | None:
    """+1 where edge up, edge right or wheel right turns the model positively, −1 the other way.

    None where the side decides and is not recorded.  Raises KeyError for another function's axis.
    """
    if surface.function == "elevator" and axis == "pitch":
        return -1 if tail == "canard" else 1
    if surface.function == "rudder" and axis == "yaw":
        return 1
    if surface.function == "steering" and axis == "yaw":
        return -1 if surface.side == "rear" else 1
    sign = RIGHT_SIGN[surface.function, axis].get(str(surface.side))
    if sign is not None and tail == "inverted-v-tail" and (surface.function, axis) == _V_YAW:
        return -sign
    return sign


_V_YAW = ("v-tail", "yaw")


class AxisPath(Closed):
    """One axis that the stabiliser corrects: an entry of `/receiver/stabiliser/axes`."""

    def __init__(self, path: Path, entry: Axis) -> None:
        self.path = path
        self.entry = entry
        self.axis = entry.axis
        self.at = entry.at

    @property
    def channel(self) -> ChannelPath:
        """The channel that brings the pilot's command."""
        return self.path.channel(self.entry.channel, f"{self.at}/channel")

    @fact
    def stick(self) -> str:
        """The pilot's stick for this axis that reaches the channel, else the channel's control."""
        channel = self.channel
        for stick in self.path.sticks(self.axis):
            if stick in channel.controls:
                return stick
        control = channel.control
        if control is None or self.path.control(control).entry.kind != "stick":
            raise NotKnown(
                f"no stick is recorded for {self.axis} on channel {channel.number}",
                (f"{channel.at}/control",),
            )
        return control

    @property
    def response(self) -> Response:
        """How the channel answers to that stick."""
        return self.channel.response(self.stick)

    @property
    def direction(self) -> dict[int, Controls]:
        """The direction at the transmitter: which signs occur, each with a witness."""
        return self.response.signs

    @fact
    def expected(self) -> Expected:
        """How the stabiliser wants the channel to arrive; direction +1 where nothing is said."""
        from prebind.document.model import Expected

        stabiliser = self.path.stabiliser
        said = stabiliser.expects.get(self.axis) if stabiliser is not None else None
        if said is None:
            return Expected(direction=1)
        return Expected(said.direction or 1, said.low_us, said.centre_us, said.high_us)

    @fact
    def directions(self) -> tuple[DirectionPath, ...]:
        return tuple(d for d in self.path.directions if d.axis_path is self)

    @fact
    def target_reachable(self) -> SelectedBy | None:
        """A state that can be selected and drives to a target; None if there is none."""
        return next(iter(self.path.selectable(TARGET)), None)

    @fact
    def direct_reachable(self) -> SelectedBy | None:
        """A state in which the command counts directly, ("", "", {}) where it always does."""
        return next(iter(self.path.selectable(DIRECT)), None)


class DirectionPath(Closed):
    """One axis, one port, one servo: where a command or a correction can go the wrong way."""

    def __init__(
        self,
        path: Path,
        axis: str,
        port: int,
        servo: ServoPath | None,
        axis_path: AxisPath | None,
        sign: int,
        at: str,
    ) -> None:
        self.path = path
        self.axis = axis
        self.port_number = port
        self.servo = servo
        self.axis_path = axis_path
        self.sign = sign
        self.at = at

    @property
    def port(self) -> PortPath:
        return self.path.port(self.port_number, self.at)

    @property
    def surface(self) -> Surface | None:
        return self.servo.surface if self.servo is not None else None

    @property
    def turning_at(self) -> str:
        """Where it stands which way the servo turns; the direction's own place without a servo."""
        return self.at if self.servo is None else f"{self.at}/increasing_pulse"

    @fact
    def phys(self) -> int:
        """+1 where a growing pulse turns the model positively about the axis, −1 the other way."""
        stabiliser = self.path.stabiliser
        mixing = stabiliser.mixing if stabiliser is not None and self.axis_path else "none"
        if mixing in LOOK:
            what = "the swashplate" if mixing == "swashplate" else "motors"
            raise NotKnown(
                f"which way {what} answer{'s' if mixing == 'swashplate' else ''} on "
                f"{self.axis} (port {self.port_number}) is not computed: look at the model",
                bench=LOOK[mixing],
            )
        if self.servo is None:
            raise NotKnown(f"no servo is recorded on port {self.port_number}", ("/servos",))
        surface = self.surface
        if surface is None:
            raise NotKnown("the servo's surface is not recorded", (f"{self.at}/surface",))
        pulse = self.servo.entry.increasing_pulse
        if pulse is None:
            raise NotKnown(
                f"which way “{surface.id}” moves as the pulse grows is not recorded",
                (self.turning_at,),
            )
        moved = MOVES.get(pulse)
        if moved is None or moved[0] != KIND.get(surface.function):
            raise NotKnown(
                f"“{pulse}” does not say which way {surface.function} “{surface.id}” moves",
                (self.turning_at,),
            )
        try:
            turning = turning_sign(surface, self.axis, self.path.setup.model.tail)
        except KeyError:
            raise NotKnown(
                f"{surface.function} “{surface.id}” is not known to act on {self.axis}",
                (f"{surface.at}/function",),
            ) from None
        if turning is None:
            raise NotKnown(
                f"the side of “{surface.id}” is not recorded (`left` or `right`)",
                (f"{surface.at}/side",),
            )
        return turning * moved[1]

    @property
    def _output_sign(self) -> int:
        return -1 if self.port.entry.reversed else 1

    @fact
    def command(self) -> dict[int, Controls]:
        """The sign of the command at the port, before the receiver's output."""
        if self.axis_path is not None and self.port.mixed:
            return {t * self.sign: at for t, at in self.axis_path.direction.items()}
        channel = self.port.channel
        for stick in self.path.sticks(self.axis):
            if stick in channel.controls:
                return channel.response(stick).signs
        if self.axis_path is not None and self.axis_path.stick in channel.controls:
            return channel.response(self.axis_path.stick).signs
        raise NotKnown(
            f"no stick is recorded that commands {self.axis} on channel {channel.number}",
            (f"{channel.at}/control",),
        )

    @fact
    def direct(self) -> dict[int, Controls]:
        """The direct command's signs, +1 right, −1 wrong, 0 dead, each with a witness."""
        factor = self._output_sign * self.phys
        return {sign * factor: at for sign, at in self.command.items()}

    @fact
    def target(self) -> dict[int, Controls] | None:
        """The signs of a command that sets a target; None where the axis is not stabilised."""
        if self.axis_path is None:
            return None
        expected = self.axis_path.expected.direction or 1
        return {t * expected: at for t, at in self.axis_path.direction.items()}

    @fact
    def correction(self) -> int | None:
        """The correction's sign; None where the axis is not stabilised."""
        if self.axis_path is None:
            return None
        sense = -1 if self.axis_path.entry.sense == "reversed" else 1
        return sense * self.sign * self._output_sign * self.phys

    @fact
    def direct_counts(self) -> dict[str, list[str]]:
        """Selector → states in which the direct command counts; empty: it always counts."""
        return self._counts(DIRECT)

    @fact
    def target_counts(self) -> dict[str, list[str]]:
        return self._counts(TARGET)

    def _counts(self, behaviours: frozenset[str]) -> dict[str, list[str]]:
        if self.axis_path is None:
            return {}
        return {
            selector.name: [s.state for s in selector.entry.states if s.behaviour in behaviours]
            for selector in self.path.flight_modes
        }

    @fact
    def selectable_direct(self) -> tuple[SelectedBy, ...]:
        """The states that can be selected in which the direct command counts.

        One without a name where no flight mode can be selected: the command is then direct.
        """
        if self.axis_path is None or not self.path.flight_modes:
            return (("", "", {}),)
        return tuple(self.path.selectable(DIRECT))

    @fact
    def selectable_target(self) -> tuple[SelectedBy, ...]:
        if self.axis_path is None:
            return ()
        return tuple(self.path.selectable(TARGET))


def directions(path: Path) -> tuple[DirectionPath, ...]:
    """Every direction there is to judge: stabilised axes first, then the rest of the servos."""
    found: list[DirectionPath] = []
    seen: set[tuple[str, int]] = set()
    for axis in path.axes:
        for i, port in enumerate(axis.entry.ports):
            seen.add((axis.axis, port.port))
            on_port: list[ServoPath | None] = [s for s in path.servos if s.entry.port == port.port]
            for servo in on_port or [None]:
                at = servo.at if servo is not None else f"{axis.at}/ports/{i}"
                found.append(DirectionPath(path, axis.axis, port.port, servo, axis, port.sign, at))
    for servo in path.servos:
        for name in path.axes_of_servo(servo):
            if (name, servo.entry.port) not in seen:
                port_number = servo.entry.port
                found.append(DirectionPath(path, name, port_number, servo, None, 1, servo.at))
    return tuple(found)
