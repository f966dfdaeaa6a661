"""The channels that the model needs."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from prebind import Path


def needed(path: Path) -> tuple[int, ...]:
    """The distinct channels that reach an output, an axis or a selector of the receiver."""
    taken = {port.entry.channel for port in path.ports}
    taken |= {axis.entry.channel for axis in path.axes}
    taken |= {selector.entry.channel for selector in path.selectors}
    return tuple(sorted(taken))
