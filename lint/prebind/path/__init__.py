"""The signal path: from where each control stands to pulses, states, motors and surfaces.

A pure function of the setup.  Nothing is computed before it is asked for, and nothing twice.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from prebind.path.channel import ChannelPath
from prebind.path.conditions import Cell, Conditions
from prebind.path.control import ControlPath
from prebind.path.cubic import Cubics, constant
from prebind.path.direction import AxisPath, DirectionPath, SelectedBy, directions
from prebind.path.facts import AXES_OF, Closed, Controls, NotKnown, Position, fact
from prebind.path.motor import MotorPath
from prebind.path.names import Reference, unknown_names
from prebind.path.port import PortPath
from prebind.path.scale import half_step_us, pulse
from prebind.path.selector import SelectorPath
from prebind.path.servo import ServoPath
from prebind.path.shape import Shape
from prebind.path.situation import Situation, situation
from prebind.path.sums import cases

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.document.model import (
        Channel,
        FailsafeChannel,
        Input,
        Setup,
        SignOff,
        Stabiliser,
        When,
    )

BOUND = 100_000
"""How many cells, of combinations of controls, one fact may take."""

THRUST = frozenset({"throttle", "collective"})
"""Functions whose stick is the thrust stick where nothing else is said."""


class Path(Closed):
    """The signal path of one setup.  `bound`: how many cells one fact may take."""

    def __init__(self, setup: Setup, bound: int = BOUND) -> None:
        self.setup = setup
        self.bound = bound
        self.conditions = Conditions(setup)
        self.inputs = {made.id: made for made in setup.inputs}
        self._shapes: dict[str, Shape] = {}
        self._numbers: dict[float, Cubics] = {}
        self._selectable: dict[frozenset[str], tuple[SelectedBy, ...]] = {}
        self.at = ""

    def traced(self, setup: Setup) -> Path:
        """The path of another setup, with the same bound on combinations."""
        return Path(setup, self.bound)

    # The parts, in document order

    @fact
    def controls(self) -> Mapping[str, ControlPath]:
        controls = self.setup.transmitter.controls
        return MappingProxyType(
            {name: ControlPath(self, name, entry) for name, entry in controls.items()}
        )

    @fact
    def channels(self) -> tuple[ChannelPath, ...]:
        return tuple(ChannelPath(self, entry) for entry in self.setup.channels)

    @fact
    def ports(self) -> tuple[PortPath, ...]:
        receiver = self.setup.receiver
        return tuple(PortPath(self, entry) for entry in receiver.outputs) if receiver else ()

    @fact
    def axes(self) -> tuple[AxisPath, ...]:
        stabiliser = self.stabiliser
        return tuple(AxisPath(self, entry) for entry in stabiliser.axes) if stabiliser else ()

    @fact
    def selectors(self) -> tuple[SelectorPath, ...]:
        stabiliser = self.stabiliser
        if stabiliser is None:
            return ()
        return tuple(SelectorPath(self, entry) for entry in stabiliser.selectors)

    @fact
    def servos(self) -> tuple[ServoPath, ...]:
        return tuple(ServoPath(self, i, entry) for i, entry in enumerate(self.setup.servos or ()))

    @fact
    def motors(self) -> tuple[MotorPath, ...]:
        """The speed controls, then the engine."""
        engine = self.setup.engine
        entries = (*(self.setup.speed_controls or ()), *((engine,) if engine else ()))
        return tuple(MotorPath(self, entry) for entry in entries)

    @fact
    def directions(self) -> tuple[DirectionPath, ...]:
        return directions(self)

    @fact
    def stabiliser(self) -> Stabiliser | None:
        return self.setup.receiver.stabiliser if self.setup.receiver is not None else None

    @fact
    def flight_modes(self) -> tuple[SelectorPath, ...]:
        """The selectors that choose the flight mode."""
        return tuple(s for s in self.selectors if s.entry.purpose == "flight-mode")

    @fact
    def names(self) -> tuple[Reference, ...]:
        """References that name something which does not exist."""
        return tuple(unknown_names(self.setup))

    # Look-ups

    @fact
    def _by_number(self) -> dict[int, list[ChannelPath]]:
        found: dict[int, list[ChannelPath]] = {}
        for channel in self.channels:
            found.setdefault(channel.number, []).append(channel)
        return found

    @fact
    def _by_port(self) -> dict[int, list[PortPath]]:
        found: dict[int, list[PortPath]] = {}
        for port in self.ports:
            found.setdefault(port.number, []).append(port)
        return found

    def made_twice(self, number: int) -> bool:
        return len(self._by_number.get(number, ())) > 1

    def port_made_twice(self, number: int) -> bool:
        return len(self._by_port.get(number, ())) > 1

    def channel(self, number: int, named_at: str = "/channels") -> ChannelPath:
        """The channel of that number.  Raises NotKnown where no entry, or several, make it."""
        found = self._by_number.get(number, [])
        if not found:
            raise NotKnown(f"no entry of `channels` makes channel {number}", (named_at,))
        if len(found) > 1:
            raise NotKnown(
                f"channel {number} is made by more than one entry of `channels`", ("/channels",)
            )
        return found[0]

    def port(self, number: int, named_at: str = "/receiver/outputs") -> PortPath:
        """The port of that number.  Raises NotKnown where it is not listed, or more than once."""
        if self.setup.receiver is None:
            raise NotKnown("the receiver is not recorded", ("/receiver",))
        found = self._by_port.get(number, [])
        if not found:
            raise NotKnown(f"the receiver has no output on port {number}", (named_at,))
        if len(found) > 1:
            raise NotKnown(f"port {number} is listed more than once", ("/receiver/outputs",))
        return found[0]

    def control(self, name: str) -> ControlPath:
        found = self.controls.get(name)
        if found is None:
            raise NotKnown(f"there is no control “{name}”", ("/transmitter/controls",))
        return found

    # The pilot's inputs

    @fact
    def _axes(self) -> dict[str, str]:
        """Stick → axis: as recorded, else from the function of the channel that it drives."""
        found = {}
        drives: dict[str, str] = {}
        for entry in self.setup.channels:
            made = self.inputs.get(entry.control or "")
            name = made.control if made is not None else entry.control
            axes = AXES_OF.get(entry.function, ())
            axis = "thrust" if entry.function in THRUST else axes[0] if len(axes) == 1 else None
            if name is not None and axis is not None:
                drives.setdefault(name, axis)
        for name, control in self.setup.transmitter.controls.items():
            if control.kind == "stick":
                axis = control.axis or drives.get(name)
                if axis is not None:
                    found[name] = axis
        return found

    def axis_of(self, control: str) -> str | None:
        return self._axes.get(control)

    def sticks(self, axis: str) -> tuple[str, ...]:
        """The sticks that are the pilot's input for an axis: roll, pitch, yaw or thrust."""
        return tuple(name for name, of in self._axes.items() if of == axis)

    def stick(self, axis: str) -> str:
        found = self.sticks(axis)
        if not found:
            raise NotKnown(f"no stick is recorded for {axis}", ("/transmitter/controls",))
        return found[0]

    @fact
    def throttle_id(self) -> str | None:
        """The control that drives the throttle channels, else the thrust stick."""
        for entry in self.setup.channels:
            if entry.function != "throttle" or entry.control is None:
                continue
            made = self.inputs.get(entry.control)
            name = made.control if made is not None else entry.control
            if name in self.setup.transmitter.controls:
                return name
        return next(iter(self.sticks("thrust")), None)

    @property
    def throttle_control(self) -> str:
        if self.throttle_id is None:
            raise NotKnown(
                "no control drives the throttle, and no thrust stick is recorded",
                ("/transmitter/controls",),
            )
        return self.throttle_id

    def rest(self, *moving: str) -> dict[str, Position]:
        """Where every control but those named stands when nobody touches it."""
        return {name: at for name, at in self._rest.items() if name not in moving}

    @fact
    def _rest(self) -> dict[str, Position]:
        return {name: control.rest for name, control in self.controls.items()}

    # Values

    def input_shape(self, made: Input) -> Shape:
        if made.id not in self._shapes:
            self._shapes[made.id] = Shape(
                self.conditions, made.curves, made.rates, made.trim_percent
            )
        return self._shapes[made.id]

    def without_rate(self, entry: Channel | Input) -> Controls | None:
        """Positions in which rates are recorded here and none holds; None where that cannot be."""
        shape = Shape(self.conditions, entry.curves, entry.rates)
        if not shape.may_lack_rate or not entry.rates:
            return None
        thresholds: dict[str, tuple[float, ...]] = {}
        for when in shape.whens:
            for atom in self.conditions.atoms(when):
                name = atom.control or ""
                asked = (t for t in (atom.above_percent, atom.below_percent) if t is not None)
                thresholds[name] = (*thresholds.get(name, ()), *asked)
        cells = {name: self.conditions.cells(name, cuts) for name, cuts in thresholds.items()}
        for case in cases(tuple(cells), cells, self.bound):
            if shape.none_holds(case):
                return {name: cell.position for name, cell in case.items()}
        return None

    def number(self, value: float) -> Cubics:
        """A constant, always the same object for the same number."""
        if value not in self._numbers:
            self._numbers[value] = constant(value)
        return self._numbers[value]

    def depends(self, when: When) -> tuple[str, ...]:
        """The controls that a `when` comes down to, phases resolved."""
        asked = self.conditions.depends(when)
        return tuple(name for name in self.conditions.controls if name in asked)

    @fact
    def limit_us(self) -> tuple[float, float]:
        """The pulses of the transmitter's lower and upper limit."""
        output = self.setup.transmitter.output
        return pulse(output, -output.limit_percent), pulse(output, output.limit_percent)

    @fact
    def tolerance_us(self) -> float:
        """Against an edge written in the document a difference up to this is equality."""
        return max(0.5, half_step_us(self.setup.transmitter.output))

    # Failsafe

    def failsafe_entry(self, channel: int) -> FailsafeChannel | None:
        """The channel's entry in the failsafe; raises NotKnown where no failsafe is recorded."""
        receiver = self.setup.receiver
        if receiver is None or receiver.failsafe is None:
            at = "/receiver" if receiver is None else "/receiver/failsafe"
            raise NotKnown("the failsafe is not recorded", (at,))
        for entry in receiver.failsafe.channels:
            if entry.channel == channel:
                return entry
        return None

    def preset_us(self, entry: FailsafeChannel) -> float:
        """A preset's pulse as the receiver holds it, before the receiver's part."""
        return pulse(self.setup.transmitter.output, entry.output_percent or 0.0)

    # States that can be selected

    def selectable(self, behaviours: frozenset[str]) -> tuple[SelectedBy, ...]:
        """The flight-mode states of some behaviours that something reachable selects."""
        if behaviours not in self._selectable:
            self._selectable[behaviours] = tuple(self._selected(behaviours))
        return self._selectable[behaviours]

    def _selected(self, behaviours: frozenset[str]) -> Iterator[SelectedBy]:
        for selector in self.flight_modes:
            for state, controls in selector.reached.items():
                if selector.state(state).behaviour in behaviours:
                    yield selector.name, state, controls

    def axes_of_servo(self, servo: ServoPath) -> tuple[str, ...]:
        """The axes that a servo's surface acts on, else those of its channel's function."""
        try:
            surface = servo.surface
            function = surface.function if surface is not None else servo.port.channel.function
        except NotKnown:
            return ()
        return AXES_OF.get(function, ())

    def holds(self, when: When, controls: Controls) -> bool:
        """Whether a `when` holds with these controls, and those not named at rest."""
        return self.conditions.holds(when, self._standing(when, controls))

    def phase(self, controls: Controls) -> str | None:
        """The name of the phase that is on with these controls, those not named at rest."""
        whens = tuple(condition for phase in self.setup.phases for condition in phase.when)
        found = self.conditions.phase(self._standing(whens, controls))
        return found.name if found is not None else None

    def _standing(self, when: When, controls: Controls) -> dict[str, Cell]:
        asked = self.conditions.depends(when)
        return {
            name: self.conditions.held(name, controls.get(name, self.control(name).rest))
            for name in asked
        }

    def situation(self, controls: Controls) -> Situation:
        """Plain forward evaluation; controls that are not named stand at rest."""
        return situation(self, controls)

    @fact
    def trace(self) -> dict[str, Any]:
        """The whole of it as plain data (`trace/1`), for whoever reads and does not change it."""
        from prebind.path.plain import trace

        return trace(self)

    @fact
    def wanted(self) -> tuple[str, ...]:
        """The checks by hand for which there is something to prove here."""
        from prebind.path.digest import wanted

        return wanted(self)

    def sign_off(self, check: str) -> SignOff | None:
        """The sign-off of a check that counts: the latest, of one day the last."""
        signed = [sign_off for sign_off in self.setup.sign_offs or () if sign_off.check == check]
        return max(reversed(signed), key=lambda sign_off: sign_off.on, default=None)

    def digest(self, check: str) -> str | None:
        """SHA-256, hex, over the canonical form (RFC 8785) of the results that a check proved.

        None where there is nothing here that it proves.  Raises KeyError for what is no check.
        """
        from prebind.path.digest import digest

        return digest(self, check)


__all__ = ["BOUND", "Path"]
