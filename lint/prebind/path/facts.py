"""What the signal path answers with, and how it says that it cannot answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

from prebind.record import Record, field, record

_put = object.__setattr__  # a part whose `__dict__` was asked for is slower to read ever after

if TYPE_CHECKING:
    from collections.abc import Callable
    from functools import cached_property

    fact = cached_property
else:

    class fact:  # noqa: N801 - a decorator
        """What is computed when it is first asked for, and then known.

        functools' own takes a lock each time.  Two threads may compute the same here, and get the
        same.
        """

        def __init__(self, ask: Callable[[Any], Any]) -> None:
            self._ask = ask
            self._name = ask.__name__
            self.__doc__ = ask.__doc__

        def __get__(self, part: Any, kind: type | None = None) -> Any:
            if part is None:
                return self
            found = self._ask(part)
            _put(part, self._name, found)
            return found


class Closed:
    """A part of the signal path, which nobody can write over: rules share it.

    It is closed once its place, `at`, is set.
    """

    def __setattr__(self, name: str, value: object) -> None:
        if hasattr(self, "at"):
            raise AttributeError(f"{name!r} of a {type(self).__name__} cannot be changed")
        _put(self, name, value)

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"{name!r} of a {type(self).__name__} cannot be deleted")


Position = str | float
"""Where a control stands: a position's name, or a percentage for a stick, slider or knob."""

Controls = Mapping[str, Position]
"""Control positions by control id: a situation, or the witness that one is possible."""

MotorWord = Literal["stopped", "idling", "running", "full"]

PRIMARY = frozenset(
    {
        "aileron",
        "flaperon",
        "elevator",
        "rudder",
        "elevon",
        "v-tail",
        "cyclic-roll",
        "cyclic-pitch",
        "collective",
        "tail-rotor",
    }
)
"""Functions without which the model cannot be controlled."""

AXES_OF: Mapping[str, tuple[str, ...]] = {
    "aileron": ("roll",),
    "flaperon": ("roll",),
    "cyclic-roll": ("roll",),
    "elevator": ("pitch",),
    "cyclic-pitch": ("pitch",),
    "rudder": ("yaw",),
    "steering": ("yaw",),
    "tail-rotor": ("yaw",),
    "elevon": ("roll", "pitch"),
    "v-tail": ("pitch", "yaw"),
}
"""The axes that a function turns the model about (ISO 1151-1: x forward, y right, z down)."""


class NotKnown(Exception):
    """The document does not say enough.

    `settles` names the keys (JSON Pointers) that would, `bench` the check by hand where the asking
    rule's own would not fit.
    """

    def __init__(
        self,
        message: str,
        settles: tuple[str, ...] = (),
        at: str | None = None,
        bench: str | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.settles = settles
        self.at = at
        self.bench = bench


class NotChecked(Exception):
    """More combinations than the bound: which controls meet, and how many cells that makes."""

    def __init__(self, message: str, controls: tuple[str, ...], cells: int) -> None:
        super().__init__(message)
        self.message = message
        self.controls = controls
        self.cells = cells


class LinkageFault(Exception):
    """The four-bar linkage cannot be assembled, or stands in line, at this pulse."""

    def __init__(self, us: float, reason: str) -> None:
        super().__init__(reason)
        self.us = us
        self.reason = reason


@record
class Extreme(Record):
    """An end of a reachable set, with the control positions that lead there.

    `value` is percent of output for a channel (`percent` repeats it), µs for a port.  Where it is
    approached but never attained, `controls` is the next representable position.
    """

    value: float
    us: float
    controls: Controls
    attained: bool = True
    percent: float | None = None


@record
class Cut(Record):
    """How much of a demand the limit cut off, in percent of output, and where."""

    percent: float = 0.0
    controls: Controls = field(factory=dict)
