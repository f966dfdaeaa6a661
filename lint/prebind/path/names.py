"""References in a document that name something which does not exist."""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import frozen

from prebind.path.conditions import escape, positions_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.document.model import (
        Axis,
        Channel,
        Engine,
        FailsafeChannel,
        Input,
        Port,
        Selector,
        Servo,
        Setup,
        SpeedControl,
        When,
    )


@frozen
class Reference:
    """`at` is the pointer of the name, `kind` what it should name, `known` what there is."""

    at: str
    kind: str
    name: str
    known: tuple[str, ...]

    @property
    def nearest(self) -> str | None:
        """The known name most like it, if any is alike."""
        from difflib import get_close_matches

        return next(iter(get_close_matches(self.name, self.known, 1)), None)


def unknown_names(setup: Setup) -> Iterator[Reference]:
    """Every such reference, in document order."""
    controls = setup.transmitter.controls
    inputs = {made.id: made for made in setup.inputs}
    channels = [channel.channel for channel in setup.channels]
    phases = tuple(phase.name for phase in setup.phases)

    def control(at: str, name: str, known: Iterable[str] = controls) -> Iterator[Reference]:
        if name not in known:
            yield Reference(at, "control", name, tuple(known))

    def channel(at: str, number: int) -> Iterator[Reference]:
        if number not in channels:
            yield Reference(at, "channel", str(number), tuple(map(str, channels)))

    def conditions(at: str, when: When) -> Iterator[Reference]:
        for i, condition in enumerate(when):
            for j, phase in enumerate(condition.phase or ()):
                if phase not in phases:
                    yield Reference(f"{at}/{i}/phase/{j}", "phase", phase, phases)
            if condition.control is None:
                continue
            if condition.control not in controls:
                yield from control(f"{at}/{i}/control", condition.control)
                continue
            positions = positions_of(controls[condition.control])
            for j, position in enumerate(condition.positions or ()):
                if position not in positions:
                    yield Reference(f"{at}/{i}/positions/{j}", "position", position, positions)

    for entry in setup.channels:
        if entry.control is not None:
            yield from control(f"{entry.at}/control", entry.control, (*controls, *inputs))
    for made in setup.inputs:
        yield from control(f"{made.at}/control", made.control)
    shapes: tuple[Channel | Input, ...] = (*setup.channels, *setup.inputs)
    for shaped in shapes:
        for key in ("rates", "curves", "trim_percent"):
            for i, choice in enumerate(getattr(shaped, key) or ()):
                yield from conditions(f"{shaped.at}/{key}/{i}/when", choice.when)
    for phase in setup.phases:
        yield from conditions(f"{phase.at}/when", phase.when)
    for mix in setup.mixes:
        source = mix.source
        if source.channel is not None:
            yield from channel(f"{mix.at}/from/channel", source.channel)
        if source.input is not None and source.input not in inputs:
            yield Reference(f"{mix.at}/from/input", "input", source.input, tuple(inputs))
        if source.control is not None:
            yield from control(f"{mix.at}/from/control", source.control)
        yield from channel(f"{mix.at}/to", mix.to)
        yield from conditions(f"{mix.at}/when", mix.when)
    for override in setup.overrides:
        yield from channel(f"{override.at}/channel", override.channel)
        yield from conditions(f"{override.at}/when", override.when)
    yield from _in_receiver(setup, channels)


def _in_receiver(setup: Setup, channels: list[int]) -> Iterator[Reference]:
    receiver = setup.receiver
    ports = [port.port for port in receiver.outputs] if receiver is not None else []
    numbers = tuple(map(str, channels))
    listed = tuple(map(str, ports))
    if receiver is not None:
        stabiliser = receiver.stabiliser
        carriers: list[Port | FailsafeChannel | Axis | Selector] = [
            *receiver.outputs,
            *(receiver.failsafe.channels if receiver.failsafe is not None else ()),
            *(stabiliser.axes if stabiliser is not None else ()),
            *(stabiliser.selectors if stabiliser is not None else ()),
        ]
        for entry in carriers:
            if entry.channel not in channels:
                yield Reference(f"{entry.at}/channel", "channel", str(entry.channel), numbers)
        for axis in stabiliser.axes if stabiliser is not None else ():
            for i, port in enumerate(axis.ports):
                if port.port not in ports:
                    yield Reference(f"{axis.at}/ports/{i}", "port", str(port.port), listed)
        yield from _intended(setup)
        loads: list[Servo | SpeedControl | Engine] = [
            *(setup.servos or ()),
            *(setup.speed_controls or ()),
            *((setup.engine,) if setup.engine is not None else ()),
        ]
        for loaded in loads:
            if loaded.port not in ports:
                yield Reference(f"{loaded.at}/port", "port", str(loaded.port), listed)
    surfaces = tuple(surface.id for surface in setup.surfaces or ())
    for servo in setup.servos or ():
        known = servo.surface is None or setup.surfaces is None or servo.surface in surfaces
        if not known:
            yield Reference(f"{servo.at}/surface", "surface", servo.surface, surfaces)


def _intended(setup: Setup) -> Iterator[Reference]:
    receiver = setup.receiver
    if receiver is None or receiver.failsafe is None:
        return
    selectors = receiver.stabiliser.selectors if receiver.stabiliser is not None else ()
    states = {s.name: tuple(state.state for state in s.states) for s in selectors}
    for name, state in receiver.failsafe.intended_states.items():
        at = f"/receiver/failsafe/intended_states/{escape(name)}"
        if name not in states:
            yield Reference(at, "selector", name, tuple(states))
        elif state not in states[name]:
            yield Reference(at, "state", state, states[name])
