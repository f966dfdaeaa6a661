"""How far each surface goes with its control at the ends, and how far it is meant to go."""

from __future__ import annotations

from itertools import product
from math import prod
from typing import TYPE_CHECKING, Any

from prebind.path.facts import AXES_OF, PRIMARY, NotChecked, NotKnown
from prebind.path.proofs.directions import drivers
from prebind.path.proofs.tables import MANY, Column, Rows, Table, ordered, table, together
from prebind.path.proofs.telling import (
    Facts,
    each,
    entry,
    fitted,
    function,
    job,
    kind,
    known,
    places,
    tenth,
    unknown,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.path import Path
    from prebind.path.control import ControlPath
    from prebind.path.facts import Controls
    from prebind.path.port import PortPath
    from prebind.path.servo import ServoPath


def has_throws(path: Path) -> bool:
    return any(map(_measured, path.ports))


def throws(path: Path) -> Facts:
    ports = [port for port in path.ports if _measured(port)]
    servos = [servo for port in ports for servo in port.servos]
    strokes = [(port.number, stroke) for port in ports for stroke in _strokes(port)]
    return {
        "strokes": ordered([number, stroke.facts] for number, stroke in strokes),
        "together": together(strokes),
        "meant": each(_meant, servos),
        "servos": each(fitted, servos),
    }


def _measured(port: PortPath) -> bool:
    """Whether a surface is on it whose throw matters, or may be: not all servos are recorded."""
    if port.path.setup.servos is None:
        return not port.motors and function(port) in PRIMARY
    return any(known(_has_throw, servo) is True for servo in port.servos)


def _has_throw(servo: ServoPath) -> bool:
    if servo.surface is None:
        return servo.port.channel.function in PRIMARY
    return servo.surface.function in PRIMARY or servo.surface.throw_deg is not None


def _meant(servo: ServoPath) -> list[Any]:
    surface = servo.surface
    if surface is None:
        return [servo.entry.port]
    throw = None if surface.throw_deg is None else entry(surface.throw_deg)
    return [servo.entry.port, kind(servo), throw, surface.tolerance_deg]


def _strokes(port: PortPath) -> list[Table]:
    """What each control whose throw it is makes of the port.

    Those are the sticks of the surface's axes, sliders and knobs; where none of those sticks moves
    it, whatever does.
    """
    path = port.path
    try:
        names = dict.fromkeys(name for channel in port.channels for name in drivers(channel))
    except NotKnown as reason:
        return [Table(unknown(reason))]
    moving = [path.control(name) for name in names]
    axes = {axis for servo in port.servos for axis in path.axes_of_servo(servo)}
    axes = axes or set(AXES_OF.get(port.channel.function, ()))
    sticks = [control for control in moving if control.axis in axes]
    found = list(_alive(port, sticks))
    knobs = [c for c in moving if c.continuous and c.entry.kind != "stick"]
    others = knobs if found else [c for c in moving if c not in sticks]
    return [*found, *_alive(port, others)]


def _alive(port: PortPath, controls: Iterable[ControlPath]) -> Iterator[Table]:
    """The strokes of the controls that make a difference, or are not known to make none."""
    for control in controls:
        try:
            stroke = _stroke(port, control)
        except (NotKnown, NotChecked) as reason:
            yield Table([job(control), unknown(reason)])
            continue
        if control.id in stroke.controls:
            yield stroke


def _stroke(port: PortPath, control: ControlPath) -> Table:
    """Pulse and deflections at each place of a control, wherever the switches stand.

    The other sticks are at rest; what an override decides is no throw.
    """
    path = port.path
    every = {name: path.control(name) for c in port.channels for name in c.controls}
    rest = {name: c.rest for name, c in every.items() if c.continuous}
    moved = [control, *(c for c in every.values() if not c.continuous and c is not control)]
    if prod(len(places(c)) for c in moved) > MANY:
        moved = [control]
    rows: Rows = {}
    for here in product(*(range(len(places(c))) for c in moved)):
        at = {c.id: places(c)[place] for c, place in zip(moved, here, strict=True)}
        rows[here] = _at(port, {**rest, **at})
    columns = [Column(control.id, job(control))]
    columns += [Column(c.id, len(c.positions)) for c in moved[1:]]
    return table(columns, rows)


def _at(port: PortPath, controls: Controls) -> list[Any] | None:
    """The pulses with some controls held, and what the surfaces come to; None under an override."""
    pulses = _held(port, controls)
    return None if pulses is None else [[tenth(us), _turned(port, us)] for us in pulses]


def _held(port: PortPath, controls: Controls) -> list[float] | None:
    """The one pulse where all controls are held, else the lowest and the highest."""
    if any(name not in controls for channel in port.channels for name in channel.controls):
        reach = port.reach_where(controls, overrides=False)
        return None if reach is None else [reach.low.us, reach.high.us]
    whens = (override.when for channel in port.channels for override in channel.overrides)
    if any(port.path.holds(when, controls) for when in whens):
        return None
    return [port.situated_us({c.number: c.stages(controls) for c in port.channels})]


def _turned(port: PortPath, us: float) -> list[Any]:
    return each(lambda servo: tenth(servo.deflection(us)), port.servos)
