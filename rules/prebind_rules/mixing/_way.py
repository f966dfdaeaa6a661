"""Which way a servo moves its surface, in one sense for both sides."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import NotKnown

if TYPE_CHECKING:
    from prebind import ServoPath

WAY = {"trailing-edge-up": 1, "trailing-edge-down": -1, "opens": 1, "closes": -1}


def way(servo: ServoPath) -> int:
    """+1 where a growing pulse moves the edge up or opens, −1 where it moves down or closes."""
    found = WAY.get(servo.entry.increasing_pulse or "")
    if found is None:
        raise NotKnown(
            f"which way “{servo.entry.surface}” moves as the pulse grows is not recorded",
            (f"{servo.at}/increasing_pulse",),
        )
    return found


def rises(servo: ServoPath) -> int:
    """The same for the demand of the port's own channel, where that grows."""
    port = servo.port
    return way(servo) * port.channel.direction * (-1 if port.entry.reversed else 1)
