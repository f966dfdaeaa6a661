"""The picture of a port: its reachable pulses against what hangs on it, and the failsafe."""

from __future__ import annotations

from itertools import pairwise
from math import inf
from typing import TYPE_CHECKING, Any, Literal

from attrs import frozen

from prebind.document.model import Engine
from prebind.report.pictures.ruler import (
    Label,
    Ruler,
    Tick,
    label_at,
    lanes,
    ruler_over,
    us_text,
    us_ticks,
    width_of,
)
from prebind.report.wording import clean, where

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from prebind.path import Path
    from prebind.path.motor import MotorPath
    from prebind.path.port import PortPath
    from prebind.path.servo import ServoPath

    Json = Mapping[str, Any]

ZoneName = Literal["servo", "stop", "idle", "run", "full", "back"]

_TOP = 26  # px: below the scale
_LINE = 26  # px: a servo's range, or a motor's zones
_REACH = 40  # px: the reachable pulses with their numbers
_LOST = 34  # px: the failsafe


@frozen
class Zone:
    """A stretch of pulses with a name: a servo's range, or where a motor stops or runs full."""

    kind: ZoneName
    x: float
    width: float
    y: int
    label: Label


@frozen
class End:
    """An end of the reachable pulses; `attained` is false where it is only approached."""

    us: float
    x: float
    attained: bool
    label: Label


@frozen
class PortPicture:
    """`outside`: where from, and how wide, a stretch is that a servo may not be driven to."""

    number: int
    hangs: str
    height: int
    ticks: list[Tick]
    zones: list[Zone]
    reach_y: int
    ends: tuple[End, End] | None
    outside: list[tuple[float, float]]
    lost: End | None
    lost_y: int
    said: list[str]
    unknown: tuple[str, ...]

    @property
    def words(self) -> str:
        """The whole picture, for whoever hears it."""
        return " ".join((*self.said, *(f"{reason}." for reason in self.unknown)))


def ports_ruler(path: Path, traces: Iterable[Json]) -> Ruler:
    """One scale for all ports of a model, so that they can be compared."""
    found = [path.setup.transmitter.output.centre_us]
    for trace in traces:
        ends = (trace["low"], trace["high"], trace["failsafe"])
        found += [end["us"] for end in ends if end is not None and end["us"] is not None]
    for servo in path.servos:
        found += servo.entry.pulse_us or ()
    for motor in path.motors:
        found += _limits(motor)
    return ruler_over(found)


def _limits(motor: MotorPath) -> list[float]:
    """The pulses at which the motor's state changes, lowest first."""
    entry = motor.entry
    if isinstance(entry, Engine):
        return [entry.stop_below_us, *entry.idle_us]
    if entry.stopped_us is not None:
        return [*entry.stopped_us, entry.full_above_us]
    return [motor.stop_us, entry.full_above_us]


def port_picture(
    port: PortPath, ruler: Ruler, trace: Json, unknown: tuple[str, ...]
) -> PortPicture:
    """`trace` is the port's entry in the trace, `unknown` why it lacks what it lacks."""
    hung = [*_servo_zones(port.servos, ruler), *_motor_zones(port.motors, ruler)]
    zones = list(_stacked(hung))
    reach_y = max((zone.y for zone in zones), default=_TOP - _LINE) + _LINE + 10
    ends = _ends(trace, ruler)
    lost = trace["failsafe"]["us"]
    return PortPicture(
        port.number,
        _hangs(port),
        reach_y + _REACH + (_LOST if lost is not None else 0),
        us_ticks(ruler),
        zones,
        reach_y,
        ends,
        [] if ends is None else list(_outside(port, ruler, ends)),
        None if lost is None else _end(ruler, lost, True, f"link lost {us_text(lost)}"),
        reach_y + _REACH + 6,
        [*_reaching(trace), *_servos(port, ends), *_motors(port), _link_lost(trace, bool(unknown))],
        unknown,
    )


def _hangs(port: PortPath) -> str:
    """What is on the port: `aileron-right`, `speed control`."""
    servos = [servo.entry.surface or "a servo" for servo in port.servos]
    return ", ".join((*servos, *(motor.kind for motor in port.motors))) or "nothing recorded"


# What the pulses are held against


def _servo_zones(servos: Iterable[ServoPath], ruler: Ruler) -> Iterator[list[Zone]]:
    for servo in servos:
        if servo.entry.pulse_us is not None:
            yield [_zone(ruler, "servo", "servo range", *servo.entry.pulse_us)]


def _motor_zones(motors: Iterable[MotorPath], ruler: Ruler) -> Iterator[list[Zone]]:
    for motor in motors:
        limits = _limits(motor)
        names = _zone_names(motor)
        edges = [-inf, *limits, inf]
        yield [
            _zone(ruler, name, name, low, high)
            for name, (low, high) in zip(names, pairwise(edges), strict=True)
            if name and low < ruler.high_us and high > ruler.low_us
        ]


def _zone_names(motor: MotorPath) -> tuple[ZoneName | None, ...]:
    """What each stretch between the limits means, lowest first; None where nothing does."""
    if isinstance(motor.entry, Engine):
        return ("stop", None, "idle", "run")
    if motor.entry.stopped_us is not None:
        return ("back", "stop", "run", "full")
    return ("stop", "run", "full")


def _zone(ruler: Ruler, kind: ZoneName, name: str, low: float, high: float) -> Zone:
    x, end = ruler.at(max(low, ruler.low_us)), ruler.at(min(high, ruler.high_us))
    text = name if width_of(name) <= end - x else ""
    return Zone(kind, x, round(end - x, 3), 0, label_at(text, round((x + end) / 2, 3)))


def _stacked(rows: Iterable[list[Zone]]) -> Iterator[Zone]:
    from attrs import evolve

    for i, row in enumerate(rows):
        yield from (evolve(zone, y=_TOP + _LINE * i) for zone in row)


# The reachable pulses


def _ends(trace: Json, ruler: Ruler) -> tuple[End, End] | None:
    low, high = trace["low"], trace["high"]
    if low is None or high is None:
        return None
    ends = [_end(ruler, e["us"], e["attained"], us_text(e["us"])) for e in (low, high)]
    if low["us"] != high["us"] and lanes([end.label.extent for end in ends]) != [0, 0]:
        text = f"{us_text(low['us'])} to {us_text(high['us'])}"
        label = label_at(text, round((ends[0].x + ends[1].x) / 2, 3))
        ends = [_end(ruler, e["us"], e["attained"], "") for e in (low, high)]
        return End(ends[0].us, ends[0].x, ends[0].attained, label), ends[1]
    return ends[0], ends[1]


def _end(ruler: Ruler, us: float, attained: bool, text: str) -> End:
    return End(us, ruler.at(us), attained, label_at(text, ruler.at(us)))


def _outside(port: PortPath, ruler: Ruler, ends: tuple[End, End]) -> Iterator[tuple[float, float]]:
    """The stretches that are reached and that some servo on the port may not be driven to."""
    ranges = [servo.entry.pulse_us for servo in port.servos if servo.entry.pulse_us is not None]
    if not ranges:
        return
    low, high = max(low for low, _ in ranges), min(high for _, high in ranges)
    if ends[0].us < low:
        yield ends[0].x, round(ruler.at(min(low, ends[1].us)) - ends[0].x, 3)
    if ends[1].us > high:
        start = ruler.at(max(high, ends[0].us))
        yield start, round(ends[1].x - start, 3)


# Words


def _reaching(trace: Json) -> Iterator[str]:
    low, high = trace["low"], trace["high"]
    if low is None or high is None:
        yield "Which pulses can reach it is not known."
        return
    yield f"It gets from {_end_words(low)} to {_end_words(high)}."


def _end_words(end: Json) -> str:
    near = "" if end["attained"] else " (approached, not reached)"
    controls = where(end["controls"])
    return f"{us_text(end['us'])}{near}{f' with {controls}' if controls else ''}"


def _servos(port: PortPath, ends: tuple[End, End] | None) -> Iterator[str]:
    for servo in port.servos:
        name = f"The servo of {clean(servo.entry.surface)}" if servo.entry.surface else "The servo"
        if servo.entry.pulse_us is None:
            yield f"{name}: what pulses it may be driven to is not written down."
            continue
        low, high = servo.entry.pulse_us
        beyond = "" if ends is None else _beyond(low, high, ends)
        yield f"{name} may be driven from {us_text(low)} to {us_text(high)}{beyond}."


def _beyond(low: float, high: float, ends: tuple[End, End]) -> str:
    under, over = low - ends[0].us, ends[1].us - high
    said = [f"{us_text(under)} below"] if under > 0 else []
    said += [f"{us_text(over)} above"] if over > 0 else []
    return f"; the pulses go {' and '.join(said)} that" if said else "; the pulses stay inside"


def _motors(port: PortPath) -> Iterator[str]:
    for motor in port.motors:
        entry = motor.entry
        stopped, *others = map(us_text, _limits(motor))
        if isinstance(entry, Engine):
            yield f"The engine stops at or below {stopped} and idles from {' to '.join(others)}."
        elif entry.stopped_us is not None:
            yield f"The motor is stopped from {stopped} to {others[0]}, full from {others[1]} up."
        else:
            yield f"The motor is stopped at or below {stopped}, full from {others[0]} up."
        if port.mixed:
            yield "The receiver mixes other channels into this port as well."


def _link_lost(trace: Json, unknown: bool) -> str:
    action, preset = trace["failsafe"]["action"], trace["failsafe"]["us"]
    if action == "preset":
        return f"Link lost: preset {us_text(preset)}."
    if action == "hold":
        return "Link lost: it holds whatever it had last."
    if action == "no-pulses":
        return "Link lost: no pulses."
    return f"Link lost: {'not known' if unknown else 'no entry'}."
