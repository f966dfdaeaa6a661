"""What a port does while one control moves from end to end, the others at rest."""

from __future__ import annotations

from itertools import chain, product
from math import prod
from typing import TYPE_CHECKING

from prebind.rule import AXES_OF, NotChecked, NotKnown

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind import ChannelPath, Path, PortPath, PortReach, ServoPath
    from prebind.model import Channel, Input, When
    from prebind.rule import Position

_BOUND = 1_000  # combinations of the controls that choose a rate
_WHEEL = {"wheel-left": 1, "wheel-right": -1}


def own_controls(function: str, channels: Sequence[ChannelPath], path: Path) -> tuple[str, ...]:
    """The sticks of a function's axes that reach its channels, else the channels' own controls."""
    sticks = chain.from_iterable(path.sticks(axis) for axis in AXES_OF.get(function, ()))
    reach = {control for channel in channels for control in channel.controls}
    own = (channel.control for channel in channels if channel.control is not None)
    return tuple(stick for stick in sticks if stick in reach) or tuple(own)


def stroke(port: PortPath, control: str, path: Path) -> PortReach | None:
    """The port's pulses; None where an override holds with the others at rest."""
    return port.reach_where(fix=path.rest(control), overrides=False)


def full_stroke(port: PortPath, control: str, path: Path) -> PortReach | None:
    """As `stroke`, with the largest rate: the switches that choose one stand where it holds.

    A trim that such a switch also changes does not count towards the size of the rate.
    """
    best: PortReach | None = None
    for fix in _with_each_rate(port, control, path):
        reach = port.reach_where(fix=fix, overrides=False)
        if reach and (best is None or _span(reach) > _span(best) + 0.001):
            best = reach
    return best


def up_and_down(servo: ServoPath, reach: PortReach) -> tuple[float, float]:
    """How far the edge goes up (or left) and down (or right), in µs from the servo's neutral."""
    growing = max(reach.high.us - servo.centre_us, 0.0)
    shrinking = max(servo.centre_us - reach.low.us, 0.0)
    return (growing, shrinking) if edge_up(servo) > 0 else (shrinking, growing)


def edge_up(servo: ServoPath) -> int:
    """+1 where a growing pulse moves the edge up, or the edge or wheel left."""
    way = servo.edge_up or _WHEEL.get(servo.entry.increasing_pulse or "")
    if way is None:
        raise NotKnown(
            "which way the surface goes as the pulse grows is not recorded",
            (f"{servo.at}/increasing_pulse",),
        )
    return way


def _span(reach: PortReach) -> float:
    return reach.high.us - reach.low.us


def _with_each_rate(port: PortPath, control: str, path: Path) -> Iterator[dict[str, Position]]:
    choosers = _rate_choosers(port, control, path)
    rest = {c: at for c, at in path.rest(control).items() if c not in choosers}
    switches = [path.control(c) for c in choosers if not path.control(c).continuous]
    cells = prod(len(switch.positions) for switch in switches)
    if cells > _BOUND:
        raise NotChecked(
            f"{len(switches)} switches choose the rates, in {cells} combinations",
            tuple(switch.id for switch in switches),
            cells,
        )
    for positions in product(*(switch.positions for switch in switches)):
        yield rest | {s.id: at for s, at in zip(switches, positions, strict=True)}


def _rate_choosers(port: PortPath, control: str, path: Path) -> tuple[str, ...]:
    entries = chain.from_iterable(_shaped_by(control, c, path) for c in port.channels)
    whens = chain.from_iterable(_whens(entry) for entry in entries)
    named = chain.from_iterable(path.depends(when) for when in whens)
    return tuple(dict.fromkeys(c for c in named if c != control))


def _whens(entry: Channel | Input) -> list[When]:
    rates, curves = entry.rates or (), entry.curves or ()
    return [*(rate.when for rate in rates), *(curve.when for curve in curves)]


def _shaped_by(control: str, channel: ChannelPath, path: Path) -> list[Channel | Input]:
    """The entries whose rates and curves stand between a control and a channel."""
    entry, setup = channel.entry, path.setup
    fed = {entry.control} | {m.source.input for m in setup.mixes if m.to == channel.number}
    inputs = [i for i in setup.inputs if i.id in fed and i.control == control]
    return [entry, *inputs]
