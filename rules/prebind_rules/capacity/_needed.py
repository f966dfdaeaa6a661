"""The channels that the model needs."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from prebind import Path


def needed(path: Path) -> tuple[int, ...]:
    """The distinct channels that reach an output, an axis or a selector of the receiver."""
    taken = {place.entry.channel for place in (*path.ports, *path.axes, *path.selectors)}
    return tuple(sorted(taken))
