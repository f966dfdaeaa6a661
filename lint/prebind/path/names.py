"""References in a document that name something which does not exist."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.path.conditions import escape, positions_of
from prebind.record import Record, record

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.document.model import Setup, When


@record
class Reference(Record):
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
    """Every such reference, section by section."""
    yield from _Names(setup).unknown()


class _Names:
    """What there is to name in one setup."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.controls = tuple(setup.transmitter.controls)
        self.inputs = tuple(made.id for made in setup.inputs)
        self.phases = tuple(phase.name for phase in setup.phases)
        self.channels = tuple(str(entry.channel) for entry in setup.channels)
        outputs = setup.receiver.outputs if setup.receiver is not None else ()
        self.ports = tuple(str(output.port) for output in outputs)
        self.surfaces = tuple(surface.id for surface in setup.surfaces or ())

    def unknown(self) -> Iterator[Reference]:
        for named in self._named():
            if named.name not in named.known:
                yield named

    def _named(self) -> Iterator[Reference]:
        """Every name that refers to something, known or not."""
        yield from self._in_channels()
        yield from self._in_mixes()
        for override in self.setup.overrides:
            yield self._channel(f"{override.at}/channel", override.channel)
            yield from self._conditions(f"{override.at}/when", override.when)
        if self.setup.receiver is not None:
            yield from self._in_receiver()
            yield from self._on_ports()
        if self.setup.surfaces is not None:
            for servo in self.setup.servos or ():
                if servo.surface is not None:
                    at = f"{servo.at}/surface"
                    yield Reference(at, "surface", servo.surface, self.surfaces)

    def _in_channels(self) -> Iterator[Reference]:
        setup = self.setup
        for entry in setup.channels:
            if entry.control is not None:
                known = (*self.controls, *self.inputs)
                yield Reference(f"{entry.at}/control", "control", entry.control, known)
        for made in setup.inputs:
            yield Reference(f"{made.at}/control", "control", made.control, self.controls)
        for shaped in (*setup.channels, *setup.inputs):
            for key in ("rates", "curves", "trim_percent"):
                for i, choice in enumerate(getattr(shaped, key) or ()):
                    at = getattr(shaped, "at")  # noqa: B009 - both kinds of entry have a place
                    yield from self._conditions(f"{at}/{key}/{i}/when", choice.when)
        for phase in setup.phases:
            yield from self._conditions(f"{phase.at}/when", phase.when)

    def _in_mixes(self) -> Iterator[Reference]:
        for mix in self.setup.mixes:
            at, source = f"{mix.at}/from", mix.source
            if source.channel is not None:
                yield self._channel(f"{at}/channel", source.channel)
            if source.input is not None:
                yield Reference(f"{at}/input", "input", source.input, self.inputs)
            if source.control is not None:
                yield Reference(f"{at}/control", "control", source.control, self.controls)
            yield self._channel(f"{mix.at}/to", mix.to)
            yield from self._conditions(f"{mix.at}/when", mix.when)

    def _in_receiver(self) -> Iterator[Reference]:
        receiver = self.setup.receiver
        assert receiver is not None  # asked only where there is one
        stabiliser, failsafe = receiver.stabiliser, receiver.failsafe
        for output in receiver.outputs:
            yield self._channel(f"{output.at}/channel", output.channel)
        for entry in failsafe.channels if failsafe is not None else ():
            yield self._channel(f"{entry.at}/channel", entry.channel)
        for axis in stabiliser.axes if stabiliser is not None else ():
            yield self._channel(f"{axis.at}/channel", axis.channel)
            for i, port in enumerate(axis.ports):
                yield self._port(f"{axis.at}/ports/{i}", port.port)
        selectors = stabiliser.selectors if stabiliser is not None else ()
        for selector in selectors:
            yield self._channel(f"{selector.at}/channel", selector.channel)
        states = {s.name: tuple(state.state for state in s.states) for s in selectors}
        for name, state in (failsafe.intended_states if failsafe is not None else {}).items():
            at = f"/receiver/failsafe/intended_states/{escape(name)}"
            yield Reference(at, "selector", name, tuple(states))
            if name in states:
                yield Reference(at, "state", state, states[name])

    def _on_ports(self) -> Iterator[Reference]:
        for servo in self.setup.servos or ():
            yield self._port(f"{servo.at}/port", servo.port)
        for speed_control in self.setup.speed_controls or ():
            yield self._port(f"{speed_control.at}/port", speed_control.port)
        if self.setup.engine is not None:
            yield self._port(f"{self.setup.engine.at}/port", self.setup.engine.port)

    def _channel(self, at: str, number: int) -> Reference:
        return Reference(at, "channel", str(number), self.channels)

    def _port(self, at: str, number: int) -> Reference:
        return Reference(at, "port", str(number), self.ports)

    def _conditions(self, at: str, when: When) -> Iterator[Reference]:
        for i, condition in enumerate(when):
            for j, phase in enumerate(condition.phase or ()):
                yield Reference(f"{at}/{i}/phase/{j}", "phase", phase, self.phases)
            if condition.control is None:
                continue
            yield Reference(f"{at}/{i}/control", "control", condition.control, self.controls)
            yield from self._positions(f"{at}/{i}", condition.control, condition.positions or ())

    def _positions(self, at: str, control: str, names: Sequence[str]) -> Iterator[Reference]:
        entry = self.setup.transmitter.controls.get(control)
        known = positions_of(entry) if entry is not None else ()
        for j, name in enumerate(names if entry is not None else ()):
            yield Reference(f"{at}/positions/{j}", "position", name, known)
