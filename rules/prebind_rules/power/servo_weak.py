"""A servo is too weak for the air's force on its surface."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    LinkageFault,
    Open,
    Setting,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.power._hinge import hinge_moment_nm

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, ServoPath
    from prebind.model import Servo, Surface
    from prebind.rule import Example

FLAPS = frozenset({"aileron", "flaperon", "elevator", "rudder", "elevon", "v-tail", "flap"})
"""Functions whose surface is a hinged trailing edge, to which the formula applies."""


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/servos/2/torque_ncm", 6),
        why="A tiny servo on the elevator.",
        at="/servos/2/torque_ncm",
        says=["elevator", "24 m/s", "6 N cm"],
    )
    yield fails(
        replace("/model/max_speed_m_s", 60),
        put("/servos/0/torque_ncm", 200),
        put("/servos/1/torque_ncm", 200),
        put("/servos/3/torque_ncm", 200),
        why="Two and a half times as fast is more than six times the load.",
        at="/servos/2/torque_ncm",
        says=["60 m/s", "22 N cm"],
    )
    yield passes(
        replace("/servos/2/torque_ncm", 9),
        why="A small servo, and enough for this elevator at this speed.",
    )
    yield passes(
        replace("/servos/2/torque_ncm", 6),
        replace("/model/max_speed_m_s", 18),
        why="The tiny servo is strong enough for a slower model.",
    )
    yield passes(
        remove("/surfaces/2/chord_mm"),
        why="Without the elevator's chord its load is not known.",
        outcome="open",
    )


@rule(
    "power/servo-weak",
    word="warning",
    title="A servo is too weak for the air's force on its surface",
    each="servos",
    needs=("servos", "surfaces"),
    safety="At speed the air pushes the surface back against a servo that cannot hold it, and the "
    "model does not answer or flutters. Do not fly faster than the weakest servo can hold.",
    remedy="Fit a stronger servo, use a shorter servo arm or a longer horn, reduce the throw, or "
    "fly slower.",
    bench="Compare the servo's torque with its maker's figures and those of the plan for a model "
    "of this size and speed, and ask an experienced builder.",
    source="Glauert, R&M 1095 (thin-aerofoil flap); ISO 2533 (density of air)",
    settings={
        "chord_ratio": Setting(
            0.25, "chord of the surface over that of the whole", least=0.01, most=1
        )
    },
    examples=_examples,
)
def servo_weak(servo: ServoPath, path: Path, settings: Settings) -> Answer:
    """The faster a model flies, and the further a surface moves, the harder the air pushes back.

    The load grows with the square of the speed.  The figure is that of thin-aerofoil theory, and
    real surfaces stay below it: a servo that passes is not thereby strong enough for flutter, wear
    or a jammed hinge.
    """
    if servo.entry.surface is None:
        return NOT_APPLICABLE
    surface = servo.surface
    if surface is None or surface.function not in FLAPS:
        return NOT_APPLICABLE
    missing = _missing(servo.entry, surface, path)
    if missing:
        return Open(f"The load on “{surface.id}” cannot be worked out.", missing)
    try:
        needed, deflection = max(_loads(servo, surface, path, settings))
    except LinkageFault as fault:
        return Open(
            f"The load on “{surface.id}” cannot be worked out: {fault.reason}.",
            (f"{servo.at}/linkage",),
        )
    torque = servo.entry.torque_ncm or 0.0
    if needed <= torque:
        return PASS
    speed = path.setup.model.max_speed_m_s
    return Fail(
        f"At {speed:g} m/s and {deflection:.1f}° the air asks {needed:.1f} N cm of the servo on "
        f"port {servo.entry.port} that moves “{surface.id}”, which gives {torque:g} N cm.",
        at=f"{servo.at}/torque_ncm",
        evidence={
            "needed_ncm": round(needed, 2),
            "torque_ncm": torque,
            "deflection_deg": round(deflection, 1),
            "speed_m_s": speed,
        },
    )


def _missing(servo: Servo, surface: Surface, path: Path) -> tuple[str, ...]:
    """JSON Pointers of what the load depends on and is not recorded."""
    keys = {
        "/model/max_speed_m_s": path.setup.model.max_speed_m_s,
        f"{servo.at}/torque_ncm": servo.torque_ncm,
        f"{servo.at}/degrees_per_us": servo.degrees_per_us,
        f"{servo.at}/linkage": servo.linkage,
        f"{surface.at}/area_cm2": surface.area_cm2,
        f"{surface.at}/chord_mm": surface.chord_mm,
    }
    return tuple(pointer for pointer, value in keys.items() if value is None)


def _loads(
    servo: ServoPath, surface: Surface, path: Path, settings: Settings
) -> Iterable[tuple[float, float]]:
    """Torque in N cm and deflection in degrees at both ends of the servo's reach.

    By virtual work the servo's torque is the hinge moment times the leverage.  Servos that move one
    surface together share its load.
    """
    together = sum(1 for other in path.setup.servos or () if other.surface == surface.id)
    for us in (servo.port.reach.low.us, servo.port.reach.high.us):
        deflection = abs(servo.deflection(us))
        moment = hinge_moment_nm(
            surface.area_cm2 or 0.0,
            surface.chord_mm or 0.0,
            deflection,
            path.setup.model.max_speed_m_s or 0.0,
            settings["chord_ratio"],
        )
        yield 100 * moment * abs(servo.leverage(us)) / together, deflection
