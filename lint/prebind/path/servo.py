"""One servo: its neutral, and what its surface does at each pulse."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from prebind.path.facts import Closed, Extreme, LinkageFault, NotKnown, fact
from prebind.path.linkage import Movement

if TYPE_CHECKING:
    from prebind.document.model import Servo, Surface
    from prebind.path import Path
    from prebind.path.port import PortPath


class Ends(Protocol):
    """Anything with a lowest and a highest pulse, in µs."""

    @property
    def low(self) -> Extreme: ...
    @property
    def high(self) -> Extreme: ...


EDGE = {
    "trailing-edge-up": 1,
    "trailing-edge-left": 1,
    "trailing-edge-down": -1,
    "trailing-edge-right": -1,
}
"""Which way an edge goes as the pulse grows: +1 up or left, −1 down or right."""


class ServoPath(Closed):
    def __init__(self, path: Path, place: int, entry: Servo) -> None:
        self.path = path
        self.place = place
        self.entry = entry
        self.at = entry.at

    @fact
    def port(self) -> PortPath:
        return self.path.port(self.entry.port, f"{self.at}/port")

    @fact
    def surface(self) -> Surface | None:
        """The surface it moves; None where none is recorded.  Raises NotKnown for a wrong name."""
        if self.entry.surface is None:
            return None
        for surface in self.path.setup.surfaces or ():
            if surface.id == self.entry.surface:
                return surface
        raise NotKnown(
            f"the surface “{self.entry.surface}” is not in `surfaces`", (f"{self.at}/surface",)
        )

    @fact
    def centre_us(self) -> float:
        """The neutral pulse: the servo's own, else the output's centre."""
        if self.entry.centre_us is not None:
            return self.entry.centre_us
        return self.port.centre_us

    @property
    def edge_up(self) -> int | None:
        """+1 where a growing pulse moves the edge up (or left), −1 down (right), None unknown."""
        return EDGE.get(self.entry.increasing_pulse or "")

    @fact
    def _movement(self) -> tuple[Movement, float]:
        missing = tuple(
            f"{self.at}/{key}"
            for key in ("linkage", "degrees_per_us")
            if getattr(self.entry, key) is None
        )
        if missing or self.entry.linkage is None or self.entry.degrees_per_us is None:
            raise NotKnown("how far the surface moves is not known", missing)
        return Movement(self.entry.linkage), self.entry.degrees_per_us

    def arm_deg(self, us: float) -> float:
        """The arm's angle from the base line at a pulse."""
        movement, per_us = self._movement
        return movement.arm_at_neutral + per_us * (us - self.centre_us)

    @fact
    def _sense(self) -> int:
        """Which way the horn's angle goes as the pulse grows, at neutral."""
        movement, per_us = self._movement
        slope = movement.slope(movement.arm_at_neutral)
        return -1 if (slope or 1.0) * per_us < 0 else 1

    def deflection(self, us: float) -> float:
        """The surface's deflection in degrees; positive is the way `increasing_pulse` says.

        Raises NotKnown without linkage, LinkageFault where it cannot be assembled there or only
        beyond a dead centre.
        """
        movement, _ = self._movement
        fault = self._fault(min(us, self.centre_us), max(us, self.centre_us))
        turned = movement.horn_deg(self.arm_deg(us))
        if fault is not None or turned is None:
            raise fault or LinkageFault(us, "the linkage cannot be assembled there")
        return turned * self._sense

    def leverage(self, us: float) -> float:
        """Surface degrees per degree of the servo's arm, as a positive number."""
        movement, _ = self._movement
        slope = movement.slope(self.arm_deg(us))
        if slope is None:
            raise LinkageFault(us, "the pushrod stands in line with the horn")
        return abs(slope)

    def linkage_fault(self, reach: Ends) -> LinkageFault | None:
        """Where the linkage locks or cannot be assembled within a range of pulses; None if fine."""
        return self._fault(min(reach.low.us, self.centre_us), max(reach.high.us, self.centre_us))

    def _fault(self, low_us: float, high_us: float) -> LinkageFault | None:
        movement, per_us = self._movement
        low, high = sorted((self.arm_deg(low_us), self.arm_deg(high_us)))
        locked = movement.dead_centre_between(low, high)
        if locked is None:
            return None
        us = self.centre_us + (locked - movement.arm_at_neutral) / per_us
        if movement.horn_deg(locked) is None:
            return LinkageFault(us, "the linkage cannot be assembled beyond there")
        return LinkageFault(us, "the pushrod stands in line with the arm or the horn")
