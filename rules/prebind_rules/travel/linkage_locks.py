"""A linkage passes dead centre, or cannot be assembled, within the reachable range."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, ServoPath
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/servos/2/linkage/arm_mm", 18),
        replace("/servos/2/linkage/horn_mm", 9),
        why="A long arm on a short horn: the pushrod comes in line with the horn.",
        at="/servos/2/linkage",
        says=("elevator", "µs"),
    )
    yield fails(
        replace("/servos/2/degrees_per_us", 0.25),
        why="A servo that turns 100° takes its arm beyond the line of the pushrod.",
        at="/servos/2/linkage",
        says=("elevator", "µs"),
    )
    yield passes(
        replace("/servos/2/linkage/arm_mm", 14),
        why="Nearly as long as the horn, and still free at both ends.",
    )
    yield passes(
        replace("/servos/2/degrees_per_us", 0.25),
        put("/receiver/outputs/2/travel_percent", {"low": 50, "high": 50}),
        why="The output takes half of it: 50° either way.",
    )


@rule(
    "travel/linkage-locks",
    word="warning",
    title="A linkage can lock",
    each="servos",
    needs=("receiver", "servos"),
    safety=(
        "Past dead centre a linkage pushes the surface the wrong way or holds it fast, and the "
        "servo cannot bring it back: in flight that is a surface stuck hard over. Change the "
        "geometry, or keep the servo well away from that point."
    ),
    remedy=(
        "Use a shorter servo arm or a longer horn, move the neutral angles nearer to 90°, or limit "
        "the pulses at the receiver's output."
    ),
    bench=(
        "Propeller off, and the arm's screw out so that nothing can break. Turn the arm by hand to "
        "both ends of its travel: the surface must follow all the way, and return."
    ),
    source="four-bar linkage: Freudenstein 1955; Norton, Design of Machinery, position analysis",
    examples=_examples,
)
def linkage_locks(servo: ServoPath, path: Path, settings: Settings) -> Answer:
    """Arm, pushrod, horn and base line make a four-bar linkage.

    Where the pushrod comes in line with the arm the surface stands still while the servo turns, and
    where it comes in line with the horn the surface can flip to the other side.
    """
    if servo.entry.surface is None and servo.entry.linkage is None:
        return NOT_APPLICABLE
    port = servo.port
    fault = servo.linkage_fault(port.reach)
    if fault is None:
        return PASS
    name = servo.entry.surface or f"the servo on output {port.number}"
    return Fail(
        f"The linkage of {name} locks at {round(fault.us, 1):g} µs, which lies within the "
        f"{round(port.reach.low.us, 1):g} to {round(port.reach.high.us, 1):g} µs that its output "
        f"can reach: {fault.reason}.",
        at=f"{servo.at}/linkage",
        evidence={
            "us": round(fault.us, 1),
            "low_us": round(port.reach.low.us, 1),
            "high_us": round(port.reach.high.us, 1),
        },
    )
