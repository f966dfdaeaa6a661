"""That the throttle cut stops the motor, and that it stays stopped with the throttle low."""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import evolve

from prebind.path.facts import NotKnown
from prebind.path.motor import STATES
from prebind.report.card.bench import known
from prebind.report.card.names import motor_name, powered, pulse, said_when
from prebind.report.card.steps import Seen, Step, grouped, listed
from prebind.report.wording import where

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from prebind.document.model import Override, When
    from prebind.inspect.finding import Finding
    from prebind.path import Path
    from prebind.path.facts import Position
    from prebind.path.motor import MotorPath, MotorState
    from prebind.report.card.bench import Bench

CUTS = ("throttle-cut", "throttle-hold")

_STOPPED = frozenset({"stopped"})
_RUNNING = frozenset({"running", "full"})
_UP = "runs, then stops"
_OPENS = "opens, then back to idle"

_MOTOR = {state: state for state in STATES}
_ENGINE = {"stopped": "shut", "idling": "at idle", "running": "open", "full": "open"}
"""How a state is said of a motor, and of the throttle servo of an engine that does not run."""


# The cut


def cut_steps(bench: Bench) -> Iterator[Step]:
    """A step for each throttle cut or hold, and for a receiver's arming."""
    for override in bench.path.setup.overrides:
        if override.purpose in CUTS:
            yield _cut(bench, override)
    yield from _arming(bench)


def _cut(bench: Bench, override: Override) -> Step:
    on = said_when(override.when)
    hold = override.purpose == "throttle-hold"
    settle = Step(override.at, f"{on}, throttle up: see what the motor does", (), bench.care.held)
    seen = _each_motor(
        bench,
        settle,
        lambda motor: motor.worst(when=_switches(override.when)),
        lambda motor: motor.safe_low if hold else _STOPPED,
    )
    return Step(
        override.at,
        f"{override.name}: {on}, then the throttle slowly to full",
        (*seen, *_left(bench, override)),
        bench.care.held,
        rules=bench.rules("throttle", _about_cut),
    )


def _about_cut(found: Finding) -> bool:
    return "cut" in found.rule or "release" in found.rule


def _switches(when: When) -> When:
    """The conditions that a hand sets; the throttle's own place is not one of them."""
    fixed = tuple(c for c in when if c.above_percent is None and c.below_percent is None)
    return fixed or when


def _left(bench: Bench, override: Override) -> Iterator[Seen]:
    """What must be seen as the cut is left; an engine is started by hand."""
    if any(motor.kind == "engine" for motor in bench.path.motors):
        return
    seen = Seen("left with the stick up", "stopped until the stick has been low")
    if override.release is None:
        step = Step(
            override.at,
            f"Leave “{override.name}” with the throttle up, and see whether the motor starts",
            (seen,),
            bench.care.held,
        )
        reason = "whether the motor starts as the cut is left is not recorded"
        bench.settle(step, NotKnown(reason, (f"{override.at}/release",)))
    yield evolve(seen, does="starts at once" if override.release == "at-once" else "")


def _arming(bench: Bench) -> Iterator[Step]:
    """Disarmed at the receiver, whatever the throttle does."""
    path = bench.path
    arming = [channel for channel in path.channels if channel.function == "arm"]
    motors = "motor" if len(path.motors) < 2 else f"all {len(path.motors)} motors"
    for channel in arming:
        for selector in (s for s in path.selectors if s.entry.channel == channel.number):
            off = {s.state for s in selector.entry.states if s.behaviour == "off"}
            for found in known(lambda it: it.positions, selector) or ():
                if off.intersection(found.states):
                    yield Step(
                        channel.at,
                        f"Disarmed ({where(found.controls)}): the throttle slowly to full",
                        (Seen(motors, "stopped"),),
                        bench.care.held,
                    )


# The throttle low


def low_steps(bench: Bench) -> Iterator[Step]:
    """The throttle low, with every cut off, and then up a little."""
    path = bench.path
    if not powered(path):
        return
    at = path.motors[0].at if path.motors else "/channels"
    cuts = [_off(path, override) for override in path.setup.overrides if override.purpose in CUTS]
    without = f", {listed(filter(None, cuts))}" if any(cuts) else ""
    trim = any(c.entry.trim_range_percent for c in path.channels if c.function == "throttle")
    lever = "; then its trim lever fully up too" if trim else ""
    settle = Step(at, "Throttle low: see what the motor does", (), bench.care.held)
    moves = _UP if path.setup.engine is None else _OPENS
    yield Step(
        at,
        f"Throttle low{without}{lever}",
        _each_motor(bench, settle, _at_low, _low),
        bench.care.held,
        note=" ".join(dict.fromkeys(map(_in_phase, path.motors))).strip(),
        rules=bench.rules("throttle", lambda found: not _about_cut(found)),
    )
    yield Step(
        at,
        "Throttle slowly up a little, and low again",
        _each_motor(bench, settle, lambda motor: motor.at_high, lambda _: _RUNNING, moves),
        bench.care.held,
        rules=bench.rules("reversal", lambda found: "throttle" in found.rule),
    )


def _off(path: Path, override: Override) -> str:
    """The first position of the cut's own switch in which it is off: `cut-switch at run`."""
    for condition in override.when:
        control = path.controls.get(condition.control or "")
        for position in control.positions if control is not None else ():
            if position not in (condition.positions or ()):
                return f"{condition.control} at {position}"
    return ""


def _at_low(motor: MotorPath) -> MotorState | None:
    """The worst with the throttle low in the phase at the start, its trim as it stands and up."""
    path = motor.path
    start = {**_start(path), path.throttle_control: motor.low_end}
    trims = dict.fromkeys((None, motor.channel.entry.trim_range_percent))
    found = [motor.worst(start, overrides=False, trim_percent=trim) for trim in trims]
    states = [state for state in found if state is not None]
    return next((s for s in states if s.state not in _low(motor)), next(iter(states), None))


def _low(motor: MotorPath) -> frozenset[str]:
    """What it must do with the throttle low: an engine must not stop."""
    return frozenset({"idling" if motor.kind == "engine" else "stopped"})


def _start(path: Path) -> dict[str, Position]:
    """The controls that choose a phase, where they rest."""
    whens = tuple(condition for phase in path.setup.phases for condition in phase.when)
    return {name: path.control(name).rest for name in path.depends(whens)}


def _in_phase(motor: MotorPath) -> str:
    """A phase in which the motor is meant to run with the throttle low."""
    path = motor.path
    found = known(lambda it: it.at_low, motor)
    if found is None or found.state in motor.safe_low:
        return ""
    phases = [
        known(path.phase, controls) for controls in (found.controls, known(_start, path) or {})
    ]
    if phases[0] in (None, phases[1]):
        return ""
    return (
        f"In the phase “{phases[0]}” the motor runs with the throttle low: only under throttle "
        "hold or cut may anyone be near."
    )


# What a motor does


def _each_motor(
    bench: Bench,
    settle: Step,
    does: Callable[[MotorPath], MotorState | None],
    safe: Callable[[MotorPath], frozenset[str]],
    must: str = "",
) -> tuple[Seen, ...]:
    """What every motor must do, and where one does not."""
    motors = bench.path.motors
    if not motors:
        return (Seen("motor", must or "stopped"),)
    return grouped(
        judged(motor, bench.ask(does, motor, settle), safe(motor), must) for motor in motors
    )


def judged(
    motor: MotorPath, state: MotorState | None, safe: frozenset[str], must: str = ""
) -> Seen:
    """A motor that must be in one of some states, with the pulse at which it is."""
    name, said = motor_name(motor), _ENGINE if motor.kind == "engine" else _MOTOR
    wanted = must or said["idling" if "idling" in safe else "stopped"]
    if state is None:
        return Seen(name, wanted)
    at = said[state.state] if state.us is None else f"{said[state.state]} ({pulse(state.us)})"
    if state.state in safe:
        return Seen(name, must or at)
    others = where({c: on for c, on in state.controls.items() if c != motor.path.throttle_id})
    return Seen(name, wanted, f"{at}{f' with {others}' if others else ''}")
