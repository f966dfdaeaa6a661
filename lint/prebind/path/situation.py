"""One situation: every control somewhere, and what comes of it, by plain forward evaluation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.path.facts import Controls, NotKnown
from prebind.record import record

if TYPE_CHECKING:
    from prebind.path import Path
    from prebind.path.channel import Stages


@record
class Situation:
    """`controls` names every control; `channels` by number; `ports` µs by number.

    What cannot be computed, because something it depends on is not known, is left out.
    """

    controls: Controls
    channels: dict[int, Stages]
    ports: dict[int, float]


def situation(path: Path, controls: Controls) -> Situation:
    """Raises NotKnown for a control or a position that does not exist."""
    for name, position in controls.items():
        path.control(name)
        path.conditions.held(name, position)
    everywhere = {**path.rest(), **controls}
    channels: dict[int, Stages] = {}
    for channel in path.channels:
        try:
            channels[channel.number] = channel.stages(everywhere)
        except NotKnown:
            continue
    ports: dict[int, float] = {}
    for port in path.ports:
        try:
            ports[port.number] = port.situated_us(channels)
        except (NotKnown, KeyError):
            continue
    return Situation(everywhere, channels, ports)
