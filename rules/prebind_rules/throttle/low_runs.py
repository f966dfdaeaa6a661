"""A motor runs although the throttle is low."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Cause,
    Fail,
    Review,
    Settings,
    fails,
    passes,
    put,
    rule,
)
from prebind_rules.throttle._low import running_low, to_blame, to_blame_below_idle, without_idle_up
from prebind_rules.throttle._motors import stands_for

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import MotorPath, Path
    from prebind.rule import Example
    from prebind_rules.throttle._motors import Pulse


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/0/trim_percent", 20),
        why="The throttle's trim was pushed up, and stays up.",
        at="/channels/0/trim_percent",
        says=["port 1", "1180.2 µs", "30.2 µs above the 1150 µs"],
    )
    power = {
        "name": "power for the mode",
        "from": {"control": "mode-switch"},
        "to": 1,
        "rate_percent": {"low": 0, "high": 30},
    }
    yield fails(
        put("/mixes", [power]),
        why="One position of the mode switch adds power, whatever the stick says.",
        at="/mixes/0",
        says=["mode-switch at forward", "1220.1 µs", "70.1 µs above"],
    )
    yield fails(
        put("/channels/0/travel_percent", {"low": 80, "high": 100}),
        start="glow",
        why="An engine that neither idles nor stops with the stick low.",
        at="/channels/0/travel_percent/low",
        says=["1180 µs", "20 µs above the 1160 µs"],
    )
    yield passes(
        put("/channels/0/trim_percent", 12),
        why="The trim is up a little, and the motor still stopped, at 1148 µs.",
    )
    yield passes(
        put("/channels/0/travel_percent", {"low": 85, "high": 100}),
        start="glow",
        why="The engine idles, at the upper end of its idle.",
    )
    yield passes(
        start="helicopter",
        why="A flight phase keeps the motor running with the stick low: it is made for that.",
        outcome="review",
    )


@rule(
    "throttle/low-runs",
    word="danger",
    title="A motor runs although the throttle is low",
    each="motors",
    needs=("motors",),
    safety="The propeller turns although the stick says stop, and cuts whoever reaches into it. "
    "Take the propeller off before you set this right, and keep everyone out of its plane.",
    remedy="With the propeller off, bring the throttle's low end, its trim and what is mixed into "
    "it down until the motor is stopped (an engine: idles) with the stick low, whatever the "
    "switches do.",
    bench="Propeller off, model held down: leave the stick low, move every switch, and see that "
    "the motor stays still.",
    source="common practice, no source",
    examples=_examples,
)
def low_runs(motor: MotorPath, path: Path, settings: Settings) -> Answer:
    """With the stick low everyone takes the motor for stopped.

    A trim, a mix, a curve or a short travel can keep it running in one position of a switch that
    nobody thinks of.  A flight phase that keeps a helicopter's rotor at speed does so on purpose,
    and is left to a person's judgement.
    """
    if not stands_for(motor, path):
        return NOT_APPLICABLE
    channel = motor.channel
    found = running_low(path, channel.number)
    if found is None:
        return PASS
    stick = path.throttle_control
    message = (
        f"With {stick} low{found.where(stick)}, {found.port} gets {round(found.us, 1):g} µs, "
        f"{found.against(may_idle=True)}."
    )
    at = to_blame(path, channel)
    meant = without_idle_up(path, channel)
    if meant is not None and running_low(meant, channel.number) is None:
        return Review(
            message,
            at=at,
            evidence=found.evidence(),
            remedy="A flight phase keeps the motor running. Make sure that nobody chooses it by "
            "accident, and that the throttle hold or cut stops the motor in it.",
        )
    return Fail(message, at=at, evidence=found.evidence(), because=_cause(found, path, at))


def _cause(found: Pulse, path: Path, at: str) -> Cause:
    """What comes first, if it is a finding: an engine about to stop, or a reversed throttle."""
    idle = getattr(found.motor.entry, "idle_us", None)
    if idle is not None and found.us <= idle[0]:
        return Cause("throttle/low-stops-engine", to_blame_below_idle(path))
    return Cause("reversal/throttle", at)
