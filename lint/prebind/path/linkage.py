"""The planar four-bar between a servo's arm and a surface's horn, in closed form.

Freudenstein's equation (1955): K1 = d/a, K2 = d/c, K3 = (a² − b² + c² + d²)/(2ac) with arm a,
pushrod b, horn c and base d.  Angles in degrees from the base line, lengths in mm.
"""

from __future__ import annotations

from math import acos, atan2, copysign, cos, degrees, hypot, pi, radians, sin, sqrt, tau
from typing import TYPE_CHECKING

from prebind.path.facts import fact
from prebind.record import Record, record

if TYPE_CHECKING:
    from prebind.document.model import Linkage

LAST_DIGITS = 1e-12
"""A cosine this close to ±1 is ±1, spelt differently by floating point."""

IN_LINE = 1e-6
"""An end this close to a line, in parts of arm, horn and base, lies on it: a last digit's root."""


@record
class FourBar(Record):
    """`arm` to `base` are lengths, `pushrod` follows from the neutral angles."""

    arm: float
    pushrod: float
    horn: float
    base: float

    @fact
    def _k(self) -> tuple[float, float, float]:
        a, b, c, d = self.arm, self.pushrod, self.horn, self.base
        return d / a, d / c, (a * a - b * b + c * c + d * d) / (2 * a * c)

    def horn_angles(self, arm_deg: float) -> tuple[float, float] | None:
        """Both horn angles for an arm angle; None where the linkage cannot be assembled."""
        k1, k2, k3 = self._k
        theta = radians(arm_deg)
        p = cos(theta) - k1 - k2 * cos(theta) + k3
        q = -2 * sin(theta)
        r = k1 - (k2 + 1) * cos(theta) + k3
        inside = q * q - 4 * p * r
        if inside < 0:
            return None
        root = sqrt(inside)
        if abs(p) < 1e-6 * abs(r):
            # The same two roots; the other form is 0/0 where p is 0, as with arm and base alike.
            return (
                degrees(2 * atan2(2 * r, -q - root)),
                degrees(2 * atan2(2 * r, -q + root)),
            )
        return (
            degrees(2 * atan2(-q + root, 2 * p)),
            degrees(2 * atan2(-q - root, 2 * p)),
        )

    def slope(self, arm_deg: float, horn_deg: float) -> float | None:
        """Horn degrees per arm degree; None where the pushrod stands in line with the horn."""
        a, c, d = self.arm, self.horn, self.base
        arm, horn = radians(arm_deg), radians(horn_deg)
        rod = atan2(c * sin(horn) - a * sin(arm), d + c * cos(horn) - a * cos(arm))
        across = c * sin(horn - rod)
        if abs(across) < 1e-12:
            return None
        return a * sin(arm - rod) / across

    @fact
    def dead_centres(self) -> list[float]:
        """Arm angles, 0 to 360, at which the pushrod can stand in line with the arm or the horn."""
        a, b, c, d = self.arm, self.pushrod, self.horn, self.base
        found: list[float] = []

        def line_up(share: float, flip: float = 0.0) -> None:
            """At this cosine, either side of the base line; on it where all four lie in one."""
            if abs(abs(share) - 1) < LAST_DIGITS:
                share = copysign(1.0, share)
            if abs(share) <= 1:
                found.extend((acos(share) + flip, -acos(share) + flip))

        for reach, flip in ((a + b, 0.0), (abs(b - a), pi if b > a else 0.0)):
            # Horn's end at this distance from the shaft: arm and pushrod in line.
            if reach:
                line_up((d * d + reach * reach - c * c) / (2 * d * reach), flip)
        for reach in (b + c, abs(b - c)):
            # Arm's end at this distance from the hinge: pushrod and horn in line.
            line_up((a * a + d * d - reach * reach) / (2 * a * d))
        return sorted(degrees(angle % tau) for angle in found)


class Movement:
    """A linkage as it is set at neutral: deflection of the surface for an arm angle."""

    def __init__(self, entry: Linkage) -> None:
        a, c, d = entry.arm_mm, entry.horn_mm, entry.base_mm
        self.arm_at_neutral = entry.arm_at_neutral_deg
        self.horn_at_neutral = entry.horn_at_neutral_deg
        arm, horn = radians(self.arm_at_neutral), radians(self.horn_at_neutral)
        rod = hypot(d + c * cos(horn) - a * cos(arm), c * sin(horn) - a * sin(arm))
        self.bar = FourBar(a, rod, c, d)
        both = self.bar.horn_angles(self.arm_at_neutral) or (self.horn_at_neutral,) * 2
        self._branch = min((0, 1), key=lambda i: abs(between(both[i], self.horn_at_neutral)))

    def horn_deg(self, arm_deg: float) -> float | None:
        """The horn's turn from neutral, on the branch that holds at neutral."""
        both = self.bar.horn_angles(arm_deg)
        if both is None:
            return None
        return between(both[self._branch], self.horn_at_neutral)

    def slope(self, arm_deg: float) -> float | None:
        turned = self.horn_deg(arm_deg)
        return None if turned is None else self.bar.slope(arm_deg, self.horn_at_neutral + turned)

    def dead_centre_between(self, low_deg: float, high_deg: float) -> float | None:
        """An arm angle in this range at which the linkage locks on its branch; None if it does not.

        A range that the linkage cannot reach at all shows by the dead centre on the way there.
        """
        # Where the horn's end is on the shaft every arm angle is one, neutral too.
        for angle in (*self.bar.dead_centres, self.arm_at_neutral):
            # The turn nearest to the middle of the range lies in it if any does.
            at = angle + 360 * round(((low_deg + high_deg) / 2 - angle) / 360)
            if low_deg <= at <= high_deg and self._locks(at):
                return at
        return None

    def _locks(self, arm_deg: float) -> bool:
        """Whether a dead centre at this angle is one of this branch, or ends it.

        Asked by distance, not by slope: with arm, pushrod and horn in one line that is 0/0.
        """
        turned = self.horn_deg(arm_deg)
        if turned is None:
            return True
        bar = self.bar
        arm, horn = radians(arm_deg), radians(self.horn_at_neutral + turned)
        across = sin(horn - arm)
        off_the_arm = abs(bar.base * sin(arm) - bar.horn * across)  # the horn's end, from its line
        off_the_horn = abs(bar.base * sin(horn) - bar.arm * across)  # the arm's end, from its line
        return min(off_the_arm, off_the_horn) < IN_LINE * (bar.arm + bar.horn + bar.base)


def between(angle: float, reference: float) -> float:
    """The turn from a reference to an angle, −180 to 180 degrees."""
    return (angle - reference + 180) % 360 - 180
