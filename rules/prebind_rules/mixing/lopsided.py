"""mixing/lopsided"""

from __future__ import annotations

from itertools import product
from math import prod
from typing import TYPE_CHECKING

from attrs import field, frozen

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    NotChecked,
    NotKnown,
    Place,
    Setting,
    Settings,
    fails,
    passes,
    put,
    rule,
)
from prebind_rules.mixing import _sources

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind import ChannelPath, ControlPath, Path, ServoPath
    from prebind.path.facts import Position

    Pair = tuple[ServoPath, ServoPath]
    Channels = tuple[ChannelPath, ...]

PAIRED = ("aileron", "flaperon", "elevon", "v-tail", "elevator", "flap", "airbrake", "spoiler")
"""Functions whose two sides turn the model where they move unequally."""

WAY = {"trailing-edge-up": 1, "trailing-edge-down": -1, "opens": 1, "closes": -1}
"""What a growing pulse does on either side, in one sense for both."""

MOST_COMBINATIONS = 4096


@frozen
class Lean:
    """How far left and right go, in µs, edge up or open positive, between two of its positions."""

    left_us: float = 0.0
    right_us: float = 0.0
    start: Position = 0.0
    end: Position = 0.0
    others: Mapping[str, Position] = field(factory=dict)

    @property
    def apart_us(self) -> float:
        return abs(self.left_us - self.right_us)


def _pairs(path: Path) -> Iterator[Place]:
    """Left and right servos of each function, in the order of the document."""
    sides: dict[tuple[str, str], list[ServoPath]] = {}
    known = {surface.id: surface for surface in path.setup.surfaces or ()}
    for servo in path.servos:
        surface = known.get(servo.entry.surface or "")
        if surface is not None and surface.function in PAIRED:
            sides.setdefault((surface.function, str(surface.side)), []).append(servo)
    for function in PAIRED:
        pair = sides.get((function, "left"), []), sides.get((function, "right"), [])
        for left, right in zip(*pair, strict=False):
            yield Place(left.at, (left, right))


def _mix(source: str, to: int, percent: float) -> dict[str, object]:
    return {
        "name": f"{source} to channel {to}",
        "from": {"control": source},
        "to": to,
        "rate_percent": {"low": percent, "high": percent},
    }


@rule(
    "mixing/lopsided",
    word="warning",
    title="Flap, throttle or a switch moves left and right unequally",
    each=_pairs,
    needs=("receiver", "servos", "surfaces"),
    settings={"most_percent": Setting(10, "greatest difference of left and right, % of full")},
    safety=(
        "A model that rolls by itself when flaps, brakes or throttle move is lost near the ground, "
        "where they are used. Propeller off, move each of them and look at both sides, before the "
        "first flight and after every change of a mix."
    ),
    remedy="Give both sides the same movement, or take the mix out; then look at both again.",
    bench=(
        "Propeller off, sticks for roll and yaw centred: move every other control through its "
        "whole range, in every flight phase, and see left and right move alike."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/mixes", [_mix("throttle-stick", 2, 15)]),
            why="Throttle was mixed to the ailerons instead of the elevator.",
            at="/mixes/0",
            says=("throttle-stick", "aileron-left", "aileron-right", "120 µs", "60 %"),
            start="plain",
        ),
        fails(
            put(
                "/channels/1/trim_percent",
                [
                    {"percent": 6, "when": [{"control": "cut-switch", "positions": ["cut"]}]},
                ],
            ),
            why="A switch brings its own aileron trim.",
            at="/channels/1/trim_percent",
            says=("cut-switch", "24 µs", "12 %"),
            start="plain",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 3, 15)]),
            why="The same mix, into the elevator.",
            start="plain",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 2, 2.5)]),
            why="10 % of full apart between the ends, just within the limit.",
            start="plain",
        ),
        passes(
            put("/mixes", [_mix("roll-stick", 2, 15)]),
            why="The roll stick is there to move the two sides apart.",
            start="plain",
        ),
    ],
)
def lopsided(place: Place, path: Path, settings: Settings) -> Answer:
    """Flaps, airbrakes, throttle and flight phases may move ailerons, elevons or a tail along, both
    sides alike. Where one side moves more than the other, the model rolls or turns although neither
    was commanded: most often one mix of a pair that was forgotten or entered with another rate.
    """
    pair: Pair = place.entry
    channels = tuple(dict.fromkeys(c for servo in pair for c in servo.port.channels))
    full_us = 100 * path.setup.transmitter.output.us_per_percent
    found = []
    for control in _movers(channels, path):
        lean = _worst(control, pair, channels, path)
        percent = round(100 * lean.apart_us / full_us, 6)
        if percent > settings["most_percent"]:
            found.append(_finding(control, lean, percent, pair, channels, path))
    return found or PASS


def _movers(channels: Channels, path: Path) -> list[ControlPath]:
    """The controls that can move the pair and command neither roll nor yaw.

    One that only chooses rates moves nothing by itself.
    """
    commanding = {*path.sticks("roll"), *path.sticks("yaw")}
    moving = {name for channel in channels for name in channel.controls} - commanding
    return [
        control
        for name, control in path.controls.items()
        if name in moving and any("/rates/" not in job.at for job in control.jobs)
    ]


def _worst(control: ControlPath, pair: Pair, channels: Channels, path: Path) -> Lean:
    """The greatest lean over its whole movement, in every combination that bears on it."""
    switches = _switches(control, channels, path)
    combinations = prod(len(path.control(name).positions) for name in switches)
    if combinations > MOST_COMBINATIONS:
        raise NotChecked(
            f"not checked: what “{control.id}” moves depends on {len(switches)} switches",
            (control.id, *switches),
            combinations,
        )
    positions = _positions(control, channels, path)
    worst = Lean()
    for chosen in product(*(path.control(name).positions for name in switches)):
        others = dict(zip(switches, chosen, strict=True))
        stands = [_stand(pair, {**others, control.id: position}, path) for position in positions]
        apart = [left - right for left, right in stands]
        first, last = sorted((apart.index(min(apart)), apart.index(max(apart))))
        left, right = (b - a for a, b in zip(stands[first], stands[last], strict=True))
        lean = Lean(left, right, positions[first], positions[last], others)
        worst = max(worst, lean, key=lambda one: one.apart_us)
    return worst


def _switches(control: ControlPath, channels: Channels, path: Path) -> list[str]:
    """The other switches that decide what this control does to these channels."""
    found: set[str] = set()
    for channel in channels:
        found.update(channel.built.override_controls)
        for term in channel.terms():
            if control.id == term.source or control.id in term.deps:
                found |= term.deps
    found.discard(control.id)
    return [name for name in path.controls if name in found and not path.control(name).continuous]


def _positions(control: ControlPath, channels: Channels, path: Path) -> list[Position]:
    """Every position; of a continuous control the ends, the middles and wherever it has a kink."""
    if not control.continuous:
        return sorted(control.positions, key=control.value)
    cells = [cell for channel in channels for cell in channel.cells({}).get(control.id, ())]
    curves = [c for e in (*path.setup.channels, *path.setup.inputs) for c in e.curves or ()]
    ends = {end for cell in cells for end in (cell.lo, cell.value, cell.hi)}
    return sorted({0.0, *ends, *(x for curve in curves for x, _ in curve.points)})


def _stand(pair: Pair, controls: Mapping[str, Position], path: Path) -> tuple[float, float]:
    """Where the two stand, in µs, edge up or open positive."""
    ports = path.situation(controls).ports
    left, right = (ports[servo.port.number] * _way(servo) for servo in pair)
    return left, right


def _way(servo: ServoPath) -> int:
    way = WAY.get(servo.entry.increasing_pulse or "")
    if way is None:
        raise NotKnown(
            f"which way “{servo.entry.surface}” moves as the pulse grows is not recorded",
            (f"{servo.at}/increasing_pulse",),
        )
    return way


def _finding(
    control: ControlPath, lean: Lean, percent: float, pair: Pair, channels: Channels, path: Path
) -> Fail:
    moved = " and ".join(
        f"{servo.entry.surface} goes {abs(us):.0f} µs {'up' if us > 0 else 'down'}"
        for servo, us in zip(pair, (lean.left_us, lean.right_us), strict=True)
    )
    start, end = (p if isinstance(p, str) else f"{p:g} %" for p in (lean.start, lean.end))
    return Fail(
        f"As {control.id} goes from {start} to {end}, {moved}: "
        f"{round(percent, 1):g} % of full apart.",
        at=_cause(control.id, pair, channels, path),
        evidence={
            "controls": {**lean.others, control.id: lean.end},
            "from": lean.start,
            "left_us": lean.left_us,
            "right_us": lean.right_us,
            "percent": percent,
        },
    )


def _cause(name: str, pair: Pair, channels: Channels, path: Path) -> str:
    """What brings the movement: a mix, a trim, the channel, or else the receiver's output."""
    numbers = {channel.number for channel in channels}
    for mix in path.setup.mixes:
        asked = {*path.depends(mix.when), _sources.control_of(mix, path)}
        if mix.to in numbers and name in asked:
            return mix.at
    for channel in channels:
        if any(name in path.depends(trim.when) for trim in channel.entry.trim_percent):
            return f"{channel.at}/trim_percent"
    return channels[0].at if len(channels) > 1 else pair[0].port.at
