"""What happens when the link is lost, and everything that the throttle can be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.path.proofs.tables import ordered
from prebind.path.proofs.telling import (
    Facts,
    each,
    ends,
    entry,
    fitted,
    function,
    kind,
    known,
    tenth,
)

if TYPE_CHECKING:
    from prebind.path import Path
    from prebind.path.motor import MotorPath
    from prebind.path.port import PortPath
    from prebind.path.selector import SelectorPath
    from prebind.path.servo import ServoPath


def failsafe(path: Path) -> Facts:
    receiver = path.setup.receiver
    recorded = receiver.failsafe if receiver is not None else None
    return {
        "delay": None if recorded is None else recorded.delay_s,
        "ports": ordered([port.number, known(_port, port)] for port in path.ports),
        "selectors": each(_selector, path.selectors),
        "motors": each(_motor, path.motors),
        "surfaces": each(_surface, path.servos),
        "throttle": each(_throttle, filter(_is_throttle, path.ports)),
        "servos": each(fitted, path.servos),
        "speed controls": each(lambda motor: entry(motor.entry), path.motors),
    }


def _port(port: PortPath) -> list[Any]:
    found = port.failsafe
    return [found.action, None if found.us is None else tenth(found.us)]


def _selector(selector: SelectorPath) -> list[Any]:
    found = selector.failsafe
    us = None if found.us is None else tenth(found.us)
    states = None if found.states is None else sorted(found.states)
    return [selector.entry.channel, found.action, us, states]


def _motor(motor: MotorPath) -> list[Any]:
    found = motor.failsafe
    return [motor.entry.port, None if found is None else found.state]


def _surface(servo: ServoPath) -> list[Any]:
    us = servo.port.failsafe.us
    turned = None if us is None else known(lambda us: tenth(servo.deflection(us)), us)
    return [servo.entry.port, known(kind, servo), turned]


def _is_throttle(port: PortPath) -> bool:
    return bool(port.motors) or function(port) == "throttle"


def _throttle(port: PortPath) -> list[Any]:
    """What a throttle's port can be, anywhere and at the throttle's ends: reversing swaps those."""
    alone = any(motor.judged_alone for motor in port.motors)
    return [port.number, ends(port.reach_where(alone=alone)), known(_at_ends, port)]


def _at_ends(port: PortPath) -> list[Any]:
    alone = any(motor.judged_alone for motor in port.motors)
    control = port.path.control(port.path.throttle_control)
    lows = [motor.low_end for motor in port.motors] or [control.low]
    held = ({control.id: end} for end in (*lows, control.high))
    return [ends(port.reach_where(fix, overrides=False, alone=alone)) for fix in held]
