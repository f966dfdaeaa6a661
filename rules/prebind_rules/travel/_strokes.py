"""What a port does while one control moves from end to end, the others at rest."""

from __future__ import annotations

from itertools import chain, product
from math import prod
from typing import TYPE_CHECKING

from prebind.rule import AXES_OF, NotChecked, NotKnown
from prebind_rules.travel._scales import source_control

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind import ChannelPath, Path, PortPath, ServoPath
    from prebind.model import Channel, Input, When
    from prebind.rule import Controls, Position

Pulses = tuple[float, float]

_BOUND = 1_000  # combinations of the controls that choose a rate
_WHEEL = {"wheel-left": 1, "wheel-right": -1}


def own_controls(function: str, channels: Sequence[ChannelPath], path: Path) -> tuple[str, ...]:
    """The sticks of a function's axes that reach its channels, else the channels' own controls."""
    sticks = chain.from_iterable(path.sticks(axis) for axis in AXES_OF.get(function, ()))
    reach = {control for channel in channels for control in channel.controls}
    own = (channel.control for channel in channels if channel.control is not None)
    return tuple(stick for stick in sticks if stick in reach) or tuple(own)


def stroke(port: PortPath, control: str, path: Path) -> Pulses | None:
    """The lowest and highest pulse, in µs; None where an override holds with the others at rest."""
    return pulses(port, control, path.rest(control), path)


def full_stroke(port: PortPath, control: str, path: Path) -> Pulses | None:
    """As `stroke`, with the largest rate: the switches that choose one stand where it holds."""
    shapes = [shape for channel in port.channels for shape in _shapes(control, channel, path)]
    chosen = max(
        _with_each_rate(shapes, control, path),
        key=lambda fix: sum(_size(shape, fix, path) for shape in shapes),
    )
    return pulses(port, control, chosen, path)


def pulses(port: PortPath, control: str, fix: Controls, path: Path) -> Pulses | None:
    """The lowest and highest pulse while one control moves, and those that `fix` leaves out."""
    moving = {c for channel in port.channels for c in channel.controls} - fix.keys()
    if moving <= {control} and _straight(port, control, path):
        ends = path.control(control).low, path.control(control).high
        low, high = sorted(pulse_at(port, {**fix, control: end}) for end in ends)
        return low, high
    reach = port.reach_where(fix, overrides=False)
    return None if reach is None else (reach.low.us, reach.high.us)


def pulse_at(port: PortPath, controls: Controls) -> float:
    """The port's pulse in µs with every control named."""
    return port.situated_us({c.number: c.stages(controls) for c in port.channels})


def _straight(port: PortPath, control: str, path: Path) -> bool:
    """Whether the extremes must lie at the control's ends: it comes one way, and never turns."""
    ways = 0
    whens: list[When] = []
    for channel in port.channels:
        shapes = _shapes(control, channel, path)
        if channel.overrides or any(shape.curves for shape in shapes):
            return False
        ways += channel.control == control
        for mix in (m for m in channel.mixes if source_control(m.source, path) == control):
            ways += 1 if mix.rate_percent.low * mix.rate_percent.high >= 0 else 2
        whens += (mix.when for mix in channel.mixes)
        for trimmed in (channel.entry, *shapes):
            whens += (*(trim.when for trim in trimmed.trim_percent), *_choices(trimmed))
    return ways <= 1 and not any(control in path.depends(when) for when in whens if when)


def up_and_down(servo: ServoPath, reached: Pulses) -> tuple[float, float]:
    """How far the edge goes up (or left) and down (or right), in µs from the servo's neutral."""
    low, high = reached
    growing, shrinking = max(high - servo.centre_us, 0.0), max(servo.centre_us - low, 0.0)
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


def _with_each_rate(
    shapes: list[Channel | Input], control: str, path: Path
) -> Iterator[dict[str, Position]]:
    """All at rest but the controls that choose a rate, which stand anywhere; rest comes first."""
    rest = path.rest(control)
    whens = chain.from_iterable(map(_choices, shapes))
    named = dict.fromkeys(chain.from_iterable(path.depends(when) for when in whens if when))
    choosers = [path.control(name) for name in named if name != control]
    places = [dict.fromkeys((c.rest, *c.positions, c.low, c.high)) for c in choosers]
    cells = prod(map(len, places))
    if cells > _BOUND:
        raise NotChecked(
            f"{len(choosers)} controls choose the rates, in {cells} combinations",
            tuple(chooser.id for chooser in choosers),
            cells,
        )
    for positions in product(*places):
        yield rest | {c.id: at for c, at in zip(choosers, positions, strict=True)}


def _size(shape: Channel | Input, controls: Controls, path: Path) -> float:
    """How large the rate is that holds, or half the height of the curve, in percent."""
    for curve in shape.curves or ():
        if path.holds(curve.when, controls):
            values = [y for _, y in curve.points]
            return (max(values) - min(values)) / 2
    for rate in shape.rates or ():
        if path.holds(rate.when, controls):
            return rate.rate_percent
    return 100.0


def _choices(shape: Channel | Input) -> list[When]:
    """The conditions that choose a rate or a curve."""
    rates, curves = shape.rates or (), shape.curves or ()
    return [*(rate.when for rate in rates), *(curve.when for curve in curves)]


def _shapes(control: str, channel: ChannelPath, path: Path) -> list[Channel | Input]:
    """The entries whose rates and curves stand between a control and a channel."""
    mixed = [m.source.channel for m in channel.mixes if m.source.channel is not None]
    entries = [channel.entry, *(path.channel(number).entry for number in mixed)]
    fed = {entry.control for entry in entries} | {m.source.input for m in channel.mixes}
    inputs = (i for i in path.setup.inputs if i.id in fed)
    shapes: list[Channel | Input] = [*entries, *inputs]
    return [shape for shape in shapes if shape.control == control]
