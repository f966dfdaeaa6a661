"""One control of the transmitter: its positions, its ends, and every job it does."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from prebind.document.model import Channel, Input
from prebind.path.conditions import CONTINUOUS, positions_of, values_of
from prebind.path.facts import Closed, fact
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.document.model import Control, When
    from prebind.path import Path
    from prebind.path.facts import Position


Kind = Literal["channel", "rates", "trim", "phase", "mix", "override"]


@record
class Job:
    """One thing that a control does, and where the document says so.

    `channel` is the channel concerned where there is one; `when` the condition through which the
    control acts, None where it drives.
    """

    kind: Kind
    at: str
    text: str
    channel: int | None
    when: When | None = None


_CHOOSING: dict[str, Kind] = {"rates": "rates", "curves": "rates", "trim_percent": "trim"}


class ControlPath(Closed):
    def __init__(self, path: Path, control_id: str, entry: Control) -> None:
        self.path = path
        self.id = control_id
        self.entry = entry
        self.continuous = entry.kind in CONTINUOUS
        self.positions = positions_of(entry)
        self.at = entry.at

    @fact
    def _values(self) -> dict[str, float]:
        return dict(zip(self.positions, values_of(self.entry), strict=True))

    def value(self, position: Position) -> float:
        """The percentage that a position stands for."""
        return self._values[position] if isinstance(position, str) else position

    @property
    def axis(self) -> str | None:
        """Which of the pilot's inputs a stick is: roll, pitch, yaw or thrust."""
        return self.path.axis_of(self.id)

    @property
    def sprung(self) -> bool:
        """Whether it returns by itself: as recorded, else buttons and all sticks but the thrust."""
        if self.entry.sprung is not None:
            return self.entry.sprung
        if self.entry.kind == "stick":
            return self.axis != "thrust"
        return self.entry.kind == "button"

    @fact
    def low(self) -> Position:
        """The position of its lowest value."""
        if self.continuous:
            return -100.0
        return min(self.positions, key=self.value)

    @fact
    def high(self) -> Position:
        if self.continuous:
            return 100.0
        return max(self.positions, key=self.value)

    @fact
    def rest(self) -> Position:
        """Where it stands when nobody touches it: the first position, 0, the throttle low."""
        if self.id == self.path.throttle_id:
            return self.low
        return 0.0 if self.continuous else self.positions[0]

    @fact
    def jobs(self) -> tuple[Job, ...]:
        """Everything it does, in document order; see `conflicts/control-shared`."""
        return (*self._driving(), *self._choosing(), *self._mixing(), *self._overriding())

    def _drives(self, named: str | None) -> bool:
        """Whether a channel or mix that names a control, or an input, is moved by this one."""
        made = self.path.inputs.get(named or "")
        return self.id == (made.control if made is not None else named)

    def _driving(self) -> Iterator[Job]:
        for channel in self.path.setup.channels:
            if self._drives(channel.control):
                text = f"drives channel {channel.channel} ({channel.function})"
                yield Job("channel", f"{channel.at}/control", text, channel.channel)

    def _choosing(self) -> Iterator[Job]:
        setup = self.path.setup
        shaped: tuple[Channel | Input, ...] = (*setup.channels, *setup.inputs)
        for entry in shaped:
            number = entry.channel if isinstance(entry, Channel) else None
            name = f"channel {number}" if isinstance(entry, Channel) else f"input “{entry.id}”"
            for key, kind in _CHOOSING.items():
                for i, choice in enumerate(getattr(entry, key) or ()):
                    if self._asked(choice.when):
                        at = f"{entry.at}/{key}/{i}/when"
                        text = f"chooses the {key.partition('_')[0]} of {name}"
                        yield Job(kind, at, text, number, choice.when)
        for phase in setup.phases:
            if self._asked(phase.when):
                text = f"chooses the phase “{phase.name}”"
                yield Job("phase", f"{phase.at}/when", text, None, phase.when)

    def _mixing(self) -> Iterator[Job]:
        for mix in self.path.setup.mixes:
            if self._drives(mix.source.input or mix.source.control):
                text = f"feeds channel {mix.to} through the mix “{mix.name}”"
                yield Job("mix", f"{mix.at}/from", text, mix.to)
            elif self._asked(mix.when):
                text = f"switches the mix “{mix.name}” into channel {mix.to}"
                yield Job("mix", f"{mix.at}/when", text, mix.to, mix.when)

    def _overriding(self) -> Iterator[Job]:
        for override in self.path.setup.overrides:
            if self._asked(override.when):
                text = f"switches “{override.name}” on channel {override.channel}"
                at = f"{override.at}/when"
                yield Job("override", at, text, override.channel, override.when)

    def _asked(self, when: When) -> bool:
        return any(condition.control == self.id for condition in when)
