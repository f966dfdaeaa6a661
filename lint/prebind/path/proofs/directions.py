"""Which way controls move surfaces, and which way the stabiliser corrects them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.path.facts import NotChecked, NotKnown
from prebind.path.proofs.tables import ordered
from prebind.path.proofs.telling import Facts, each, fitted, job, kind, known, places
from prebind.path.sums import cases

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.control import ControlPath
    from prebind.path.direction import DirectionPath
    from prebind.path.port import PortPath
    from prebind.path.servo import ServoPath


def has_directions(path: Path) -> bool:
    return bool(path.directions) or any(_movers(path).values())


def control_direction(path: Path) -> Facts:
    """What every control moves, which way, and whether that is right."""
    return {
        **_movers(path),
        "directions": each(_command, path.directions),
        "servos": each(_turning, path.servos),
    }


def _turning(servo: ServoPath) -> list[Any]:
    """How far it turns and moves what makes no difference to directions."""
    return fitted(servo, "centre_us", "degrees_per_us", "linkage")


def _movers(path: Path) -> Facts:
    """For each control: what it is, and the ports that it moves, with the signs that occur."""
    found: dict[str, list[Any]] = {}
    lost: list[Any] = []
    for port in path.ports:
        try:
            for name, signs in _answers(port).items():
                found.setdefault(name, []).append([port.number, signs])
        except (NotKnown, NotChecked) as reason:
            lost.append([port.number, type(reason).__name__])
    moves = ([job(path.control(name)), ordered(moved)] for name, moved in found.items())
    return {"moves": ordered(moves), "not known": ordered(lost)}


def _answers(port: PortPath) -> dict[str, Any]:
    """The signs with which the port answers to each control that moves it, from end to end."""
    at_port = -1 if port.entry.reversed else 1
    found: dict[str, list[Any]] = {}
    for share in port.shares:
        way = at_port * _sign(share.factor)
        for name in drivers(share.channel):
            signs = {way * sign for sign in _moves(share.channel, port.path.control(name))}
            if signs != {0}:
                found.setdefault(name, []).append(sorted(signs))
    return {name: ordered(signs) for name, signs in found.items()}


def drivers(channel: ChannelPath) -> dict[str, frozenset[str]]:
    """The controls that move a channel, its own and those of its mixes, and what decides on how."""
    found: dict[str, frozenset[str]] = {}
    for term in (channel.built.shape, *channel.built.mixes):
        if term is not None and term.source is not None:
            found[term.source] = found.get(term.source, frozenset()) | term.deps
    return found


def _moves(channel: ChannelPath, control: ControlPath) -> Iterator[int]:
    """Which way the channel goes with a control, in each case of what decides on that.

    All else is at rest.
    """
    path = channel.path
    asked = sorted(drivers(channel)[control.id] - {control.id})
    first, last = places(control)[0], places(control)[-1]
    for case in cases(tuple(asked), channel.cells({}), path.bound):
        where = {**path.rest(), **{name: cell.position for name, cell in case.items()}}
        start, end = (channel.stages({**where, control.id: at}).us for at in (first, last))
        yield _sign(round(end - start, 6))


def _sign(value: float) -> int:
    return (value > 0) - (value < 0)


def _command(direction: DirectionPath) -> list[Any]:
    """With the stick that a target hangs on, and whether a direct command or a target counts."""
    return [
        *_where(direction),
        known(_targeting, direction),
        known(lambda d: sorted(d.direct), direction),
        known(lambda d: sorted(d.target or ()), direction),
        known(lambda d: [bool(d.selectable_direct), bool(d.selectable_target)], direction),
    ]


def _targeting(direction: DirectionPath) -> str | None:
    axis = direction.axis_path
    return None if axis is None else job(axis.path.control(axis.stick))


def _where(direction: DirectionPath) -> list[Any]:
    servo = direction.servo
    surface = None if servo is None else known(kind, servo)
    return [direction.axis, direction.port_number, surface]


def has_corrections(path: Path) -> bool:
    return any(direction.axis_path is not None for direction in path.directions)


def correction_direction(path: Path) -> Facts:
    """Which way every stabilised port is corrected, and whether that is right."""
    corrected = [d for d in path.directions if d.axis_path is not None]
    servos = dict.fromkeys(d.servo for d in corrected if d.servo is not None)
    return {
        "corrections": each(_correction, corrected),
        "servos": each(_turning, servos),
    }


def _correction(direction: DirectionPath) -> list[Any]:
    """Also how it goes at the port, for where nobody knows which way the surface moves."""
    return [
        *_where(direction),
        known(_at_port, direction),
        known(lambda d: d.correction, direction),
    ]


def _at_port(direction: DirectionPath) -> int:
    assert direction.axis_path is not None
    sense = -1 if direction.axis_path.entry.sense == "reversed" else 1
    return sense * direction.sign * (-1 if direction.port.entry.reversed else 1)
