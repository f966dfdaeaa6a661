"""How far each surface goes: in degrees, and in millimetres at its trailing edge.

The millimetres are what a ruler reads that is laid from where the trailing edge stands at neutral
to where it stands now: the chord of the arc, 2 · c · sin(δ/2), with c from the hinge line.
"""

from __future__ import annotations

from functools import partial
from math import radians, sin
from typing import TYPE_CHECKING

from attrs import frozen

from prebind.path.facts import AXES_OF, PRIMARY, LinkageFault, NotKnown
from prebind.report.card.bench import known
from prebind.report.card.names import STICK, pulse, servo_name, stick_of
from prebind.report.card.steps import Seen, Step, grouped
from prebind.report.wording import number, where

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.document.model import Channel, Input, Surface, Throw
    from prebind.inspect.finding import Finding
    from prebind.path import Path
    from prebind.path.facts import Controls
    from prebind.path.servo import ServoPath
    from prebind.report.card.bench import Bench

CHECK = "throws"

MEASURED = (
    "Millimetres: a ruler laid from where the trailing edge stands at neutral straight to where it "
    "stands now, at that chord."
)

_WAYS = {
    "trailing-edge-up": ("up", "down"),
    "trailing-edge-down": ("down", "up"),
    "trailing-edge-left": ("left", "right"),
    "trailing-edge-right": ("right", "left"),
    "wheel-left": ("left", "right"),
    "wheel-right": ("right", "left"),
    "opens": ("open", "shut"),
    "closes": ("shut", "open"),
    "rises": ("up", "down"),
    "falls": ("down", "up"),
}
"""Which way a surface stands off neutral for a pulse above, and one below, its neutral one."""

_OPENING = (("open", "shut"), ("shut", "open"))
_ORDER = ("up", "down", "left", "right", "open", "shut")


def edge_mm(chord_mm: float, deg: float) -> float:
    """How far the trailing edge is from its neutral place, in a straight line, in mm."""
    return 2 * chord_mm * sin(radians(abs(deg)) / 2)


def travelled(servo: ServoPath, us: float) -> str:
    """Where the surface stands at a pulse: `3° down (2.4 mm)`.  Raises NotKnown or LinkageFault."""
    ways = _WAYS.get(servo.entry.increasing_pulse or "", ("", ""))
    if ways in _OPENING:
        return standing(servo, us)
    deg = servo.deflection(us)
    return _told(abs(deg), ways[0 if deg > 0 else 1], known(lambda it: it.surface, servo))


def standing(servo: ServoPath, us: float) -> str:
    """The same where the linkage is not recorded: `open (1900 µs)`."""
    ways = _WAYS.get(servo.entry.increasing_pulse or "")
    return f"{ways[0 if us > servo.centre_us else 1]} ({pulse(us)})" if ways else f"at {pulse(us)}"


def _told(deg: float, way: str, surface: Surface | None) -> str:
    chord = surface.chord_mm if surface is not None else None
    mm = "" if chord is None else f" ({edge_mm(chord, deg):.0f} mm)"
    return f"{deg:.0f}° {way}{mm}".replace("  ", " ")


@frozen
class Reached:
    """The furthest a surface goes each way, in degrees, and the controls that choose its rate.

    `fault` says why the linkage does not get there.
    """

    deg: dict[str, float]
    rates: Controls
    fault: str = ""


def throw_steps(bench: Bench) -> Iterator[Step]:
    """A step for each stick or other control, with every surface that it moves."""
    measured = False
    for controls, servos in _by_controls(bench.path).items():
        found = {servo: _ask(bench, servo) for servo in servos}
        seen = [_seen(servo, it) for servo, it in found.items() if it is not None]
        if not seen:
            continue
        measured = True
        rates = {c: at for it in found.values() if it is not None for c, at in it.rates.items()}
        yield Step(
            servos[0].at,
            f"{_moved(bench.path, controls)}{f'; {where(rates)}' if rates else ''}",
            grouped(seen),
            bench.care.still,
            proves=(CHECK,),
            rules=bench.rules("travel", partial(_about, servos)),
        )
    if not measured and CHECK in bench.path.wanted:
        yield Step(
            "/servos",
            "Each control to both ends, at the largest rate: measure what it moves",
            (Seen("throws", "as the plan says"),),
            bench.care.still,
            proves=(CHECK,),
        )


def _by_controls(path: Path) -> dict[tuple[str, ...], list[ServoPath]]:
    found: dict[tuple[str, ...], list[ServoPath]] = {}
    for servo in path.servos:
        controls = known(own_controls, servo)
        if controls and servo.entry.surface is not None:
            found.setdefault(controls, []).append(servo)
    return found


def own_controls(servo: ServoPath) -> tuple[str, ...]:
    """The sticks of the surface's axes that reach its port, else its channels' own controls."""
    path, channels = servo.path, servo.port.channels
    surface = servo.surface
    function = surface.function if surface is not None else servo.port.channel.function
    reach = {control for channel in channels for control in channel.controls}
    sticks = (stick for axis in AXES_OF.get(function, ()) for stick in path.sticks(axis))
    own = (channel.control for channel in channels if channel.control is not None)
    return tuple(stick for stick in sticks if stick in reach) or tuple(dict.fromkeys(own))


def _moved(path: Path, controls: tuple[str, ...]) -> str:
    """What the pilot moves, one control after the other."""
    axes = {name: path.axis_of(name) for name in controls}
    said = [
        f"Stick both ways ({stick_of(path, axis)})" if axis in STICK else f"{name} to its ends"
        for name, axis in axes.items()
    ]
    alone = ", each alone" if len(said) > 1 else ""
    return f"{', then '.join([said[0], *(s[0].lower() + s[1:] for s in said[1:])])}{alone}"


def _ask(bench: Bench, servo: ServoPath) -> Reached | None:
    """What is reached; where that does not matter, only if it is known."""
    surface = servo.surface
    if surface is not None and surface.function not in PRIMARY and surface.throw_deg is None:
        return known(reached, servo)
    step = Step(
        servo.at,
        f"Move {servo_name(bench.path, servo)} to both ends, and measure it from neutral",
        caution=bench.care.still,
        proves=(CHECK,),
    )
    try:
        return bench.ask(reached, servo, step)
    except LinkageFault as fault:
        return Reached({}, {}, f"at {pulse(fault.us)} {fault.reason}")


def reached(servo: ServoPath) -> Reached:
    """The furthest over the surface's own sticks, one at a time, with the largest rate.

    Raises NotKnown where linkage or direction are not recorded, LinkageFault, or NotChecked.
    """
    ways = _WAYS.get(servo.entry.increasing_pulse or "")
    if ways is None:
        raise NotKnown(
            "which way the surface goes as the pulse grows is not recorded",
            (f"{servo.at}/increasing_pulse",),
        )
    deg = dict.fromkeys(ways, 0.0)
    chosen: dict[str, str | float] = {}
    for control in own_controls(servo):
        choosers = _choosers(servo.path, control)
        held = {c: at for c, at in servo.path.rest(control).items() if c not in choosers}
        reach = servo.port.reach_where(held, overrides=False)
        if reach is None:
            continue
        for end in (reach.low, reach.high):
            turned = servo.deflection(end.us)
            way = ways[0 if turned > 0 else 1]
            if abs(turned) > deg[way]:
                deg[way] = abs(turned)
                chosen |= {c: at for c, at in end.controls.items() if c in choosers}
    if ways in _OPENING:  # measured from where it is shut
        deg = {"open": deg["open"] + deg["shut"]}
    return Reached(deg, chosen)


def _choosers(path: Path, control: str) -> frozenset[str]:
    """The controls that choose among the rates and curves of this one."""
    entries: list[Channel | Input] = [m for m in path.setup.inputs if m.control == control]
    entries += [c.entry for c in path.channels if known(lambda it: it.control, c) == control]
    whens = [rate.when for entry in entries for rate in entry.rates or ()]
    whens += [curve.when for entry in entries for curve in entry.curves or ()]
    return frozenset(c for when in whens for c in path.depends(when)) - {control}


def _seen(servo: ServoPath, found: Reached) -> Seen:
    """What is reached, beside what is planned; where it misses that, the plan is what must be."""
    surface, name = servo.surface, servo_name(servo.path, servo)
    if surface is not None and surface.chord_mm is not None:
        name = f"{name} (chord {number(surface.chord_mm)} mm)"
    wanted = _wanted(surface.throw_deg if surface is not None else None)
    ways = [way for way in _ORDER if found.deg.get(way) or wanted.get(way)]
    told = ", ".join(_told(found.deg.get(way, 0.0), way, surface) for way in ways)
    tolerance = f"±{surface.tolerance_deg:g}°" if surface is not None else ""
    plan = "/".join(dict.fromkeys(f"{wanted[way]:g}" for way in ways if way in wanted))
    planned = ", ".join(_told(wanted.get(way, 0.0), way, surface) for way in ways)
    if found.fault:
        return Seen(name, f"{planned}, {tolerance}" if plan else "free to both ends", found.fault)
    if not plan or surface is None:
        return Seen(name, told)
    off = (abs(found.deg.get(way, 0.0) - deg) for way, deg in wanted.items())
    if max(off) <= surface.tolerance_deg:
        return Seen(name, f"{told}; plan {plan}{tolerance}")
    return Seen(name, f"{planned}, {tolerance}", told)


def _wanted(throw: Throw | None) -> dict[str, float]:
    if throw is None:
        return {}
    ways = {"up": throw.up, "down": throw.down, "left": throw.left, "right": throw.right}
    return {way: deg for way, deg in ways.items() if deg is not None}


def _about(servos: Sequence[ServoPath], finding: Finding) -> bool:
    """Whether a finding's place is one of these servos', or of its surface."""
    own = [servo.at for servo in servos]
    own += [surface.at for servo in servos if (surface := servo.surface) is not None]
    return any(f"{finding.at}/".startswith(f"{place}/") for place in own)
