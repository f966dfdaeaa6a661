"""The linkage gives another throw than the one that is wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    PRIMARY,
    Answer,
    Fail,
    LinkageFault,
    NotKnown,
    Open,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.travel._strokes import edge_up, full_stroke, own_controls

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, ServoPath
    from prebind.model import Surface
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/surfaces/2/throw_deg/up", 30),
        why="The plan wants 30° of elevator, and the linkage gives 23°.",
        at="/surfaces/2/throw_deg",
        says=("elevator", "23°", "30°", "up"),
    )
    yield fails(
        put("/receiver/outputs/3/travel_percent", {"low": 70, "high": 100}),
        why="The rudder's output takes 70 % of one side.",
        at="/surfaces/3/throw_deg",
        says=("rudder", "right", "22°"),
    )
    yield passes(
        replace("/surfaces/2/throw_deg/up", 25),
        why="Wanted 25°, tolerated 2°, computed 23.03°.",
    )
    yield passes(
        replace("/surfaces/2/throw_deg", {"up": 16, "down": 15}),
        replace("/channels/2/rates/0/rate_percent", 70),
        why="Smaller at every rate, and so is the throw that is wanted.",
    )


@rule(
    "travel/throw",
    word="caution",
    title="A surface's throw is not the one that is wanted",
    each="servos",
    needs=("receiver", "servos", "surfaces"),
    safety=(
        "Far more throw than planned makes a model twitchy or stalls it, far less leaves no "
        "authority; both can cost it on the first flight. Measure the throws before you fly."
    ),
    remedy=(
        "Move the pushrod to another hole of the arm or the horn, or change the travel at the "
        "receiver's output (at the transmitter where no stabiliser is in between), until the "
        "throw fits; or correct the throw that is wanted."
    ),
    bench=(
        "Propeller off. Set the largest rate, move the stick to each end, and measure the "
        "surface's deflection."
    ),
    source="four-bar linkage: Freudenstein 1955; the limits: common practice, no source",
    examples=_examples,
)
def throw(servo: ServoPath, path: Path, settings: Settings) -> Answer:
    """The plan's throws are what the model was balanced and flown with.

    Computed from arm, horn, base line and the servo's turn, with the surface's own stick at its
    ends, the largest rate, and all else at rest.
    """
    surface = servo.surface
    if surface is None:
        return NOT_APPLICABLE
    wanted = _wanted(surface)
    if not wanted:
        return _nothing_wanted(surface)
    try:
        reached = _reached(servo, surface, path)
    except LinkageFault as fault:
        return Open(
            f"The throw of {surface.id} cannot be computed: {fault.reason}.",
            (f"{servo.at}/linkage",),
        )
    off = {way: reached[way] - deg for way, deg in wanted.items()}
    way = max(off, key=lambda way: abs(off[way]))
    if abs(off[way]) <= surface.tolerance_deg:
        return PASS
    digits = 1 if abs(off[way]) > surface.tolerance_deg + 0.05 else 3
    return Fail(
        f"{surface.id} goes {round(reached[way], digits):g}° {way} where {wanted[way]:g}° is "
        f"wanted, give or take {surface.tolerance_deg:g}°.",
        at=f"{surface.at}/throw_deg",
        evidence={
            **{f"reached_{w}_deg": round(reached[w], 1) for w in wanted},
            **{f"wanted_{w}_deg": deg for w, deg in wanted.items()},
            "tolerance_deg": surface.tolerance_deg,
        },
    )


def _wanted(surface: Surface) -> dict[str, float]:
    throw = surface.throw_deg
    if throw is None:
        return {}
    ways = {"up": throw.up, "down": throw.down, "left": throw.left, "right": throw.right}
    return {way: deg for way, deg in ways.items() if deg is not None}


def _nothing_wanted(surface: Surface) -> Answer:
    if surface.function not in PRIMARY:
        return NOT_APPLICABLE
    return Open(
        f"The throw that {surface.id} should have is not recorded.", (f"{surface.at}/throw_deg",)
    )


def _reached(servo: ServoPath, surface: Surface, path: Path) -> dict[str, float]:
    """The furthest that the surface goes each way over its own sticks, one at a time."""
    up = down = 0.0
    port = servo.port
    for control in own_controls(surface.function, port.channels, path):
        reached = full_stroke(port, control, path)
        if reached is None:
            raise NotKnown(
                f"with the other controls at rest an override holds {surface.id}, so that how far "
                f"{control} moves it is not worked out"
            )
        ends = [edge_up(servo) * servo.deflection(us) for us in reached]
        up, down = max(up, *ends), max(down, *(-deg for deg in ends))
    return {"up": up, "left": up, "down": down, "right": down}
