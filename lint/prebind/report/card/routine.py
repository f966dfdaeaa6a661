"""What stands before and after the proofs: power, the range of controls, supply, and the field."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.card.bench import known
from prebind.report.card.motors import CUTS
from prebind.report.card.names import (
    engine_name,
    function_name,
    motor_name,
    powered,
    pulse,
    said_when,
    servo_name,
)
from prebind.report.card.steps import Seen, Step, grouped, listed
from prebind.report.wording import number, where

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.document.model import FlightPack, Supply
    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.port import PortPath
    from prebind.path.reach import Reach
    from prebind.path.selector import Selected, SelectorPath
    from prebind.report.card.bench import Bench

_GENTLEST = ("self-level", "attitude-limit", "heading-hold", "rate-damping", "off")
"""Behaviours of a flight mode, the most protective first; recovery is no mode to start in."""

_CHECKS = {
    "throttle-low": ("the throttle up", "the throttle is low"),
    "cut-on": ("the cut off", "the cut is on"),
    "first-positions": ("a switch thrown", "every switch is in its first position"),
}
"""What a radio insists on when switched on: how to try it, and what it must wait for."""

_CHEMISTRY = {"lipo": "LiPo", "liion": "Li-ion", "life": "LiFe", "nimh": "NiMH"}


def _cuts(path: Path) -> str:
    return listed(said_when(o.when) for o in path.setup.overrides if o.purpose in CUTS)


# Before power


def make_safe(bench: Bench) -> Iterator[Step]:
    """What can turn is taken off, before anything has power."""
    if bench.care.off:
        yield Step("/model", bench.care.off, caution="Before any battery is connected.")


def before_power(bench: Bench) -> Iterator[Step]:
    """The model memory, the leads, the pack, the balance; then power, in order."""
    path, setup = bench.path, bench.path.setup
    yield Step(
        "/model/name",
        f"{setup.transmitter.name or 'Transmitter'}: choose the model memory",
        (Seen("memory", f"“{setup.model.name}”"),),
    )
    if setup.transmitter.start_checks and powered(path):
        yield _start_checks(setup.transmitter.start_checks)
    leads = "; ".join(filter(None, map(_lead, path.ports)))
    if leads:
        yield Step("/receiver/outputs", f"Leads by port: {leads}")
    pack = setup.power.flight_pack if setup.power is not None else None
    if pack is not None:
        yield _pack(pack)
    yield Step(
        "/model",
        "Ready to fly, its battery in place: balance the model",
        (Seen("balance", "as its plan says"),),
        bench.care.still,
        proves=("balance",),
    )
    ready = ["throttle low"] if powered(path) else []
    ready += [_cuts(path)] if _cuts(path) else []
    yield Step(
        "/transmitter",
        f"{', '.join(['Transmitter on first', *ready])}; then the receiver",
        tuple(_at_rest(path)),
        bench.care.held,
    )


def _at_rest(path: Path) -> Iterator[Seen]:
    if path.servos or not powered(path):
        yield Seen("surfaces", "in the middle, no servo hums")
    if powered(path) and path.setup.engine is None:
        yield Seen("motor", "still")


def _start_checks(checks: tuple[str, ...]) -> Step:
    """That the radio insists on what it is said to insist on."""
    tried, wanted = (listed(_CHECKS[check][i] for check in checks) for i in (0, 1))
    return Step(
        "/transmitter/start_checks",
        f"Switch the radio on with {tried}",
        (Seen("radio", f"refuses until {wanted}"),),
        "Model without power.",
    )


def _lead(port: PortPath) -> str:
    """What hangs on a port: `1 right aileron`."""
    names = [servo_name(port.path, servo) for servo in port.servos if not port.motors]
    names += [motor_name(motor).partition(" on port")[0] for motor in port.motors]
    channel = known(lambda it: it.channel, port)
    if not names and channel is not None:
        names = [function_name(channel.function, channel.side)]
    return f"{port.number} {listed(names)}" if names else ""


def _pack(pack: FlightPack) -> Step:
    capacity = f", {number(pack.capacity_mah)} mAh" if pack.capacity_mah is not None else ""
    seen = [Seen("pack", "charged, undamaged, held in place")]
    each = pack.warning_v_per_cell
    if each is not None:
        volts = f"{number(each * pack.cells)} V ({number(each)} V a cell)"
        seen.append(Seen("alarm", f"at {volts}"))
    what = f"Flight pack: {_CHEMISTRY[pack.chemistry]}, {pack.cells} cells{capacity}"
    return Step("/power/flight_pack", what, tuple(seen))


# The range of controls


def range_of_controls(bench: Bench) -> Iterator[Step]:
    """What each channel that moves something puts out over its own controls."""
    path = bench.path
    selecting = {selector.entry.channel for selector in path.selectors}
    moving = (c for c in path.channels if c.function not in ("throttle", "arm"))
    seen = [_ends(c) for c in moving if c.number not in selecting]
    ends = grouped(one for one in seen if one is not None)
    free = (Seen("surfaces", "free all the way, no servo hums at an end"),)
    if ends:
        yield Step(
            "/channels",
            "Each control alone to both ends; the output monitor reads",
            (*ends, *(free if path.servos or path.setup.servos is None else ())),
            bench.care.still,
            rules=(*bench.rules("rates"), *bench.rules("travel", lambda f: "clipped" in f.rule)),
        )


def _ends(channel: ChannelPath) -> Seen | None:
    reach = known(_own_reach, channel)
    if reach is None or reach.low.us == reach.high.us:
        return None
    name = f"{channel.number} {function_name(channel.function, channel.side)}"
    low, high = (f"{round(end.value) + 0:g}" for end in (reach.low, reach.high))
    return Seen(name, f"{reach.low.us:.0f} to {pulse(reach.high.us)} ({low} to {high} %)")


def _own_reach(channel: ChannelPath) -> Reach | None:
    """Over its own control and the sticks, all else at rest."""
    path = channel.path
    moving = {name for name in channel.controls if path.axis_of(name) in ("roll", "pitch", "yaw")}
    moving |= {channel.control} if channel.control is not None else set()
    return channel.reach_where(path.rest(*moving), overrides=False)


# Supply


def supply(bench: Bench) -> Iterator[Step]:
    """That the supply carries all servos together."""
    if not bench.path.servos:
        return
    power = bench.path.setup.power
    source = power.receiver_supply if power is not None else None
    yield Step(
        "/servos" if source is None else "/power/receiver_supply",
        "Stir all sticks for ten seconds, a voltmeter on the supply",
        (*_volts(bench.path, source), Seen("servos", "none slows, the receiver stays on")),
        bench.care.held,
        rules=bench.rules("power"),
    )


def _volts(path: Path, source: Supply | None) -> Iterator[Seen]:
    """The supply's voltage, and the least that every servo takes."""
    least = max((s.entry.volts[0] for s in path.servos if s.entry.volts is not None), default=None)
    said = []
    if source is not None:
        volts = source.volts if isinstance(source.volts, tuple) else (source.volts,)
        said.append(f"{' to '.join(map(number, volts))} V")
    if least is not None:
        said.append(f"never below {number(least)} V (the servos’ least)")
    if said:
        name = {"bec": "BEC", "battery": "receiver battery"}.get(source.source if source else "")
        yield Seen(name or "supply", ", ".join(said))


# The field


def range_check(bench: Bench) -> Iterator[Step]:
    """At the power and the distance that the radio's maker gives."""
    path = bench.path
    motor = f", {engine_name(path)} off, then running" if powered(path) else ""
    yield Step(
        "/transmitter",
        f"Reduced power, at the distance that the radio’s maker gives{motor}: move every stick",
        (Seen("surfaces", "follow at once, none jerks"),),
        bench.care.field,
        proves=("range",),
    )


def field(bench: Bench) -> Iterator[Step]:
    """What is done again before the flight, and first tried in it."""
    path, care = bench.path, bench.care
    correction = " and each axis by hand" if path.axes else ""
    what = "surfaces" if path.servos else "model"
    yield Step(
        "/channels",
        f"Each stick{correction} once more, before every flight",
        (Seen(what, "as on this card"),),
        care.field,
    )
    cuts = _cuts(path)
    if cuts and path.setup.engine is not None:
        seen = (Seen("engine", "stops at once"),)
        yield Step("/overrides", f"Engine running: {cuts}", seen, care.field)
    elif cuts:
        yield Step(
            "/overrides",
            f"Keep {cuts} until the model stands ready for take-off, and again after landing",
            caution=care.field,
        )
    for selector in path.flight_modes:
        found = _gentlest(selector)
        if found is not None:
            yield Step(
                selector.at,
                f"First flight with {where(found.controls)}",
                (Seen(f"“{selector.name}”", found.states[0]),),
                care.field,
            )
    for selector in path.selectors:
        found = _first_with(selector, "recovery")
        if found is not None:
            yield Step(
                selector.at,
                f"High, and away from people: {where(found.controls)} for a moment",
                (Seen("model", "levels; let go, and it is yours again"),),
                "An experienced instructor beside you.",
            )


def _gentlest(selector: SelectorPath) -> Selected | None:
    """A position of the most protective flight mode that can be selected for certain."""
    found = (_first_with(selector, behaviour) for behaviour in _GENTLEST)
    return next((one for one in found if one is not None), None)


def _first_with(selector: SelectorPath, behaviour: str) -> Selected | None:
    """The first position that selects a state of a behaviour, and no other."""
    for found in known(lambda it: it.positions, selector) or ():
        states = [selector.state(state) for state in found.states]
        if len(states) == 1 and states[0].behaviour == behaviour:
            return found
    return None
