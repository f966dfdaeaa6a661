"""What motor, surfaces and selectors do when the link is lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.path.facts import NotKnown
from prebind.report.card.bench import known
from prebind.report.card.motors import judged
from prebind.report.card.names import powered, servo_name
from prebind.report.card.steps import Seen, Step, grouped, listed
from prebind.report.card.throws import standing, travelled
from prebind.report.wording import number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.document.model import Failsafe
    from prebind.path import Path
    from prebind.path.motor import MotorPath, MotorState
    from prebind.path.selector import SelectorPath
    from prebind.path.servo import ServoPath
    from prebind.report.card.bench import Bench

CHECK = "failsafe"

_NEUTRAL_US = 15.0  # a surface this near its neutral pulse, in µs, looks neutral


def failsafe_steps(bench: Bench) -> Iterator[Step]:
    """The transmitter off, and on again."""
    path, receiver = bench.path, bench.path.setup.receiver
    failsafe = receiver.failsafe if receiver is not None else None
    do = f"{_before(path)}: switch the transmitter off"
    settle = Step(_at(path), do, _wanted(path), bench.care.held, proves=(CHECK,))
    if failsafe is None:
        bench.settle(settle, NotKnown("the failsafe is not recorded", (_at(path),)))
        seen = _wanted(path)
    else:
        seen = grouped(_set(bench, failsafe, settle))
    at_bind = failsafe is not None and failsafe.stored == "at-bind"
    yield Step(
        _at(path),
        do,
        seen,
        bench.care.held,
        proves=(CHECK,),
        note="Stored at bind: after every change bind again, throttle low." if at_bind else "",
        rules=bench.rules("failsafe"),
    )
    low = "Throttle low, switch" if powered(path) else "Switch"
    still = (_still(path),) if powered(path) else ()
    back = Seen("controls", "answer again")
    yield Step(
        _at(path), f"{low} the transmitter on again", (*still, back), bench.care.held, (), (CHECK,)
    )


def _at(path: Path) -> str:
    return "/receiver" if path.setup.receiver is None else "/receiver/failsafe"


def _before(path: Path) -> str:
    if path.setup.engine is not None:
        return "Throttle half open, sticks held over"
    return "Motor running slowly, sticks held over" if powered(path) else "Sticks held over"


def _wanted(path: Path) -> tuple[Seen, ...]:
    """What must be seen of any model."""
    surfaces = Seen("surfaces", "where you want them, none far over")
    return (_still(path), surfaces) if powered(path) else (surfaces,)


def _still(path: Path, within: str = "") -> Seen:
    """What must be seen of what drives the model, whatever is recorded."""
    if path.setup.engine is not None:
        return Seen("throttle servo", f"at idle or shut{within}")
    return Seen("motor", f"stopped{within}")


def _set(bench: Bench, failsafe: Failsafe, settle: Step) -> Iterator[Seen]:
    """What the failsafe is set to do, motors first."""
    path = bench.path
    within = f" within {number(failsafe.delay_s)} s" if failsafe.delay_s is not None else ""
    for motor in path.motors:
        yield _motor(bench, motor, within, settle)
    if powered(path) and not path.motors:
        yield _still(path, within)
    for selector in path.selectors:
        yield _selector(bench, selector, failsafe.intended_states.get(selector.name), settle)
    motors = {motor.entry.port for motor in path.motors}
    for servo in path.servos:
        if servo.entry.port not in motors:
            yield _surface(path, servo)


def _motor(bench: Bench, motor: MotorPath, within: str, settle: Step) -> Seen:
    found = bench.ask(_at_failsafe, motor, settle)
    seen = judged(motor, found, motor.safe_low)
    if found is not None and not seen.does:
        return Seen(seen.what, f"{seen.must.partition(' (')[0]}{within}")
    must = f"{'at idle or shut' if motor.kind == 'engine' else 'stopped'}{within}"
    action = known(lambda it: it.port_failsafe.action or "unset", motor)
    return Seen(seen.what, must, "has no failsafe" if action == "unset" else seen.does)


def _at_failsafe(motor: MotorPath) -> MotorState | None:
    found = motor.failsafe
    if found is None and motor.port_failsafe.action == "no-pulses":
        raise NotKnown(
            "what the speed control does without pulses is not recorded",
            (f"{motor.at}/on_signal_loss",),
        )
    return found


def _selector(bench: Bench, selector: SelectorPath, wanted: str | None, settle: Step) -> Seen:
    name = f"“{selector.name}”"
    found = bench.ask(lambda it: it.failsafe, selector, settle)
    if found is None:
        return Seen(name, wanted or "as you want it")
    does = {None: "has no failsafe", "no-pulses": "gets no pulses"}.get(found.action) or (
        listed(found.states or (), "or" if found.action == "hold" else "and") or "no state: a gap"
    )
    if wanted is None:
        return Seen(name, does)
    return Seen(name, wanted, "" if found.states == (wanted,) else does)


def _surface(path: Path, servo: ServoPath) -> Seen:
    name = servo_name(path, servo)
    found = known(lambda it: it.port.failsafe, servo)
    if found is None or found.action is None:
        return Seen(name, "as you want it", "" if found is None else "has no failsafe")
    if found.us is None:
        return Seen(name, "stays where it was" if found.action == "hold" else "goes limp")
    us = found.us
    if abs(us - servo.centre_us) <= _NEUTRAL_US:
        return Seen(name, "neutral")
    return Seen(name, known(lambda it: travelled(it, us), servo) or standing(servo, us))
