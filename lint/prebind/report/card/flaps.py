"""Which way flaps, airbrakes, spoilers and gear must go as their control moves."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from attrs import frozen

from prebind.path.facts import NotKnown
from prebind.report.card.bench import known
from prebind.report.card.directions import COMMAND
from prebind.report.card.names import place, servo_name
from prebind.report.card.steps import Seen, Step, grouped
from prebind.report.pictures.model import model_picture

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.document.model import Surface
    from prebind.inspect.finding import Finding
    from prebind.path import Path
    from prebind.path.control import ControlPath
    from prebind.path.facts import Position
    from prebind.path.servo import ServoPath
    from prebind.path.situation import Situation
    from prebind.report.card.bench import Bench
    from prebind.report.pictures.model import ModelPicture, Way

FUNCTIONS = frozenset({"flap", "airbrake", "spoiler", "gear"})
"""Functions whose positive demand puts something further out."""

_STILL = 1e-6  # less demand, or µs, than this is no movement

_WAYS: dict[str, tuple[Way, Way]] = {"flap": ("down", "up")}
_OPENING = {"opens": 1, "closes": -1}
_EDGE = {"trailing-edge-down": "down", "trailing-edge-up": "up"}


@frozen
class _Mover:
    """A servo on such a channel.  `out` is the sign of a pulse that grows: +1 further out."""

    servo: ServoPath
    name: str
    function: str
    channel: int
    out: int | None

    @property
    def ways(self) -> tuple[str, str]:
        """What is seen as it comes out, and as it goes in."""
        if self.function == "gear":
            return "comes out", "goes in"
        if self.servo.entry.increasing_pulse in _OPENING:
            return "opens", "closes"
        return _WAYS.get(self.function, ("up", "down"))


def flap_steps(bench: Bench) -> Iterator[Step]:
    """A step for each control of such functions, with everything that it moves."""
    for name, movers in _by_control(bench.path).items():
        control = bench.path.control(name)
        first, *others = map(place, _places(control))
        do = f"{name} from {first} to {', then '.join(others)}"
        yield Step(
            movers[0].servo.at,
            do,
            grouped(_seen(bench, mover, control) for mover in movers),
            bench.care.still,
            proves=(COMMAND,),
            rules=bench.rules("mixing", partial(_moved_by, name)),
            picture=_picture(bench.path, do, movers),
        )


def _moved_by(control: str, found: Finding) -> bool:
    return control in found.evidence.get("controls", ())


def _by_control(path: Path) -> dict[str, list[_Mover]]:
    found: dict[str, list[_Mover]] = {}
    for servo in path.servos:
        channel = known(lambda it: it.port.channel, servo)
        control = known(lambda it: it.control, channel) if channel is not None else None
        if channel is None or control is None or channel.function not in FUNCTIONS:
            continue
        out = _out(servo.entry.increasing_pulse, channel.function)
        mover = _Mover(servo, servo_name(path, servo), channel.function, channel.number, out)
        found.setdefault(control, []).append(mover)
    return found


def _out(pulse: str | None, function: str) -> int | None:
    """The sign of a growing pulse; spoilers and airbrakes with an edge come up to come out."""
    if pulse in _OPENING:
        return _OPENING[pulse]
    edge = _EDGE.get(pulse or "")
    return None if edge is None else 1 if edge == _WAYS.get(function, ("up", ""))[0] else -1


def _places(control: ControlPath) -> list[Position]:
    """Where the control goes, one after another, from where it rests."""
    if control.continuous:
        return [control.low, control.high]
    return [control.rest, *(p for p in control.positions if p != control.rest)]


def _seen(bench: Bench, mover: _Mover, control: ControlPath) -> Seen:
    if mover.out is None:
        step = Step(
            mover.servo.at,
            f"Move {control.id}, and see which way {mover.name} goes",
            caution=bench.care.still,
            proves=(COMMAND,),
        )
        reason = f"which way {mover.name} moves as the pulse grows is not recorded"
        bench.settle(step, NotKnown(reason, (f"{mover.servo.at}/increasing_pulse",)))
        return Seen(mover.name, "out and in as it is meant to")
    rest, *moves = (bench.path.situation({control.id: at}) for at in _places(control))
    told = [_told(mover, rest, move) for move in moves]
    must, does = (", then ".join(part) for part in zip(*told, strict=True))
    return Seen(mover.name, must, does.upper() if does != must else "")


def _told(mover: _Mover, rest: Situation, move: Situation) -> tuple[str, str]:
    """What must be seen against where it rested, and what is."""
    channel, port = mover.channel, mover.servo.entry.port
    try:
        meant = move.channels[channel].demand - rest.channels[channel].demand
        before, after = rest.ports[port], move.ports[port]
    except KeyError:
        return "not known", "not known"
    deg = known(lambda servo: abs(servo.deflection(after) - servo.deflection(before)), mover.servo)
    far = "" if deg is None else f" {round(deg):g}°"
    return _way(mover, meant, far), _way(mover, (after - before) * (mover.out or 0), far)


def _way(mover: _Mover, outward: float, far: str) -> str:
    if abs(outward) <= _STILL:
        return "as before"
    return f"{mover.ways[0 if outward > 0 else 1]}{far}"


def _picture(path: Path, title: str, movers: Sequence[_Mover]) -> ModelPicture | None:
    """The surfaces as they come out."""
    moves: list[tuple[Surface, str, Way]] = []
    for mover in movers:
        surface, way = known(lambda it: it.surface, mover.servo), mover.ways[0]
        if surface is not None and way in ("up", "down"):
            moves.append((surface, mover.name, "up" if way == "up" else "down"))
    return model_picture(title, path.setup.model, moves)
