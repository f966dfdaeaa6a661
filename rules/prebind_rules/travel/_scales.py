"""The written settings that scale a control's movement on its way to a channel or a port.

A finding points at the value that the remedy changes: these are the candidates.
"""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING, NamedTuple

from prebind.model import LowHigh

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, Path, PortPath
    from prebind.model import Channel, Input, Mix, Port, Source

_SECTIONS = ("channels", "inputs", "mixes")  # then the receiver's outputs


class Scale(NamedTuple):
    """One setting: its place, and its percent for values below and above the centre."""

    at: str
    below: float
    above: float

    def on(self, side: int) -> float:
        return self.above if side > 0 else self.below


def channel_scales(channel: ChannelPath, path: Path, control: str | None = None) -> list[Scale]:
    """The settings between a control and a channel's output, in document order.

    Without a control: those of all of them.
    """
    entry, setup = channel.entry, path.setup
    into = [mix for mix in setup.mixes if mix.to == channel.number]
    fed = {entry.control} | {mix.source.input for mix in into}
    inputs = [i for i in setup.inputs if i.id in fed and control in (None, i.control)]
    mixes = [m for m in into if control in (None, source_control(m.source, path))]
    return [
        *(_rates(entry) if control in (None, entry.control) else ()),
        *_travel(entry),
        *chain.from_iterable(map(_rates, inputs)),
        *map(_mix, mixes),
    ]


def port_scales(
    port: PortPath, path: Path, control: str | None = None, alone: bool = False
) -> list[Scale]:
    """The same as far as a port's pulse: the channels that feed it, then its own travel.

    `alone`: of the channels only the port's own.
    """
    channels = (port.channel,) if alone else port.channels
    fed = chain.from_iterable(channel_scales(c, path, control) for c in channels)
    turned = [Scale(s.at, s.above, s.below) if port.entry.reversed else s for s in fed]
    return [*turned, *_travel(port.entry)]


def source_control(source: Source, path: Path) -> str | None:
    """The control whose movement a mix takes, if there is one."""
    if source.channel is not None:
        return path.channel(source.channel).control
    by_id = {i.id: i.control for i in path.setup.inputs}
    return source.control if source.input is None else by_id.get(source.input)


def first_beyond_full(scales: Iterable[Scale]) -> str | None:
    """The first setting that makes a movement larger than it came."""
    return next((s.at for s in scales if max(s.below, s.above) > 100), None)


def first_in_document(pointers: Iterable[str]) -> str | None:
    """The first of several places, with the sections in the order of the document's format."""

    def order(at: str) -> tuple[int, int]:
        section, index = at.split("/")[1:3]
        if section == "receiver":
            return len(_SECTIONS), int(at.split("/")[3])
        return _SECTIONS.index(section), int(index)

    return min(pointers, key=order, default=None)


def _rates(entry: Channel | Input) -> list[Scale]:
    rates = enumerate(entry.rates or ())
    return [
        Scale(f"{entry.at}/rates/{k}/rate_percent", r.rate_percent, r.rate_percent)
        for k, r in rates
    ]


def _travel(entry: Channel | Port) -> list[Scale]:
    travel = entry.travel_percent
    written = travel != LowHigh()
    return [Scale(f"{entry.at}/travel_percent", travel.low, travel.high)] if written else []


def _mix(mix: Mix) -> Scale:
    """A negative rate sends the control's low side up."""
    rate = mix.rate_percent
    return Scale(f"{mix.at}/rate_percent", max(rate.low, -rate.high), max(rate.high, -rate.low))
