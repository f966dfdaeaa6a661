"""An engine stops when the throttle is pulled back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.model import Engine
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
from prebind_rules.throttle._low import below_idle, to_blame_below_idle
from prebind_rules.throttle._motors import Pulse

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import MotorPath, Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/0/trim_percent", -8),
        start="glow",
        why="The trim is down a little, and the engine no longer idles.",
        at="/channels/0/trim_percent",
        says=["1068 µs", "2 µs below the 1070 µs"],
    )
    yield fails(
        replace("/engine/idle_us", [1110, 1190]),
        start="glow",
        why="The carburettor was set for a higher idle than low stick gives.",
        at="/channels/0",
        says=["1100 µs", "10 µs below the 1110 µs"],
    )
    yield passes(
        put("/channels/0/trim_percent", -7.5),
        start="glow",
        why="The engine idles, at the lower end of its idle: 1070 µs.",
    )
    yield passes(
        replace("/overrides/0/demand_percent", -150),
        start="glow",
        why="The engine stop goes far below the idle: that is its job.",
    )


@rule(
    "throttle/low-stops-engine",
    word="warning",
    title="An engine stops when the throttle is pulled back",
    each="motors",
    needs=("motors",),
    safety="The engine stops in the air the first time the throttle is closed, and the model must "
    "land where it is. Keep a landing place in reach until this is set right.",
    remedy="Raise the throttle's low end or its trim until the engine idles reliably with the "
    "stick low, and leave stopping it to the throttle cut.",
    bench="Model held down by a helper behind the propeller: close the throttle and see that the "
    "engine goes on idling.",
    source="common practice, no source",
    examples=_examples,
)
def low_stops_engine(motor: MotorPath, path: Path, settings: Settings) -> Answer:
    """An engine that stops cannot be started again in the air.

    Low stick must leave it idling; only the throttle cut stops it.
    """
    if not isinstance(motor.entry, Engine):
        return NOT_APPLICABLE
    lowest = below_idle(path)
    if lowest is None:
        return PASS
    found = Pulse(motor, motor.state(lowest.us), lowest.us, lowest.controls, lowest.attained)
    stick, idle_us = path.throttle_control, motor.entry.idle_us[0]
    return Fail(
        f"With {stick} low{found.where(stick)}, {found.port} gets {round(found.us, 1):g} µs, "
        f"{round(idle_us - found.us, 1):g} µs below the {idle_us:g} µs at which the engine idles.",
        at=to_blame_below_idle(path),
        evidence=found.evidence() | {"idle_us": idle_us},
    )
