"""A motor runs although the throttle cut is on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Cause,
    Fail,
    Fix,
    NotChecked,
    NotKnown,
    Open,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.throttle._as_if import as_if, blame
from prebind_rules.throttle._low import running_low, runs_low
from prebind_rules.throttle._motors import is_cut, safe_under, unsafe

if TYPE_CHECKING:
    from collections.abc import Iterable
    from typing import Any

    from prebind import ChannelPath, MotorPath, Path
    from prebind.model import Override, When
    from prebind.rule import Example, Operation
    from prebind_rules.throttle._motors import Pulse

    Alternative = tuple[dict[str, Any], tuple[Operation, ...]]

DEMANDS = (-100.0, -125.0, -150.0, 0.0)
"""What a cut may demand, gentlest first; the middle stops a reversible speed control."""


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/overrides/0/demand_percent", -80),
        why="The cut does not go low enough to stop the motor.",
        at="/overrides/0/demand_percent",
        says=["throttle cut", "port 1", "1180.2 µs", "30.2 µs above the 1150 µs"],
    )
    yield fails(
        put("/overrides/0/when/-", {"control": "throttle-stick", "below_percent": -90}),
        why="The cut holds only while the stick is low: with the switch at cut it starts again.",
        at="/overrides/0/when",
        says=["cut-switch at cut", "throttle-stick at 100 %"],
    )
    yield fails(
        replace("/overrides/0/demand_percent", -100),
        start="glow",
        why="The engine only idles under its cut.",
        at="/overrides/0/demand_percent",
        says=["1100 µs", "60 µs above the 1040 µs at which the engine stops"],
    )
    yield passes(
        replace("/overrides/0/demand_percent", -88),
        why="The cut's pulse is just low enough: 1148 µs.",
    )
    yield passes(
        replace("/overrides/0/demand_percent", -100),
        replace("/overrides/0/purpose", "throttle-hold"),
        start="glow",
        why="A throttle hold may leave an engine idling.",
    )


@rule(
    "throttle/cut-runs",
    word="danger",
    title="A motor runs although the throttle cut is on",
    each="overrides",
    needs=("motors",),
    safety="Whoever sees the switch at cut takes the motor for dead and reaches into the "
    "propeller. Take the propeller off before you set this right.",
    remedy="With the propeller off, let the cut act last, on every motor, with the throttle's "
    "lowest value, and on a switch alone, whatever the stick does.",
    bench="Propeller off, model held down: with the cut on, move the throttle and every switch, "
    "and see that the motor stays still.",
    source="common practice, no source",
    examples=_examples,
)
def cut_runs(override: Override, path: Path, settings: Settings) -> Answer:
    """A throttle cut is the one thing that people trust with their hands near a propeller.

    It must stop every motor while its switch is on, wherever the throttle stands and whatever the
    other switches do.  A cut that also waits for the stick to be low is none.
    """
    if not is_cut(override):
        return NOT_APPLICABLE
    if not path.motors:
        return Open("No speed control or engine is recorded.", ("/speed_controls", "/engine"))
    switches = _switches(override)
    found = _running(path, override, switches)
    if found is None:
        return _never_on(path, override)
    at, fix = _mended(path, override, found.motor)
    return Fail(
        f"With “{override.name}” on{found.where()}, {found.port} gets {round(found.us, 1):g} µs, "
        f"{found.against(may_idle=override.purpose == 'throttle-hold')}.",
        at=f"{override.at}/{at}",
        evidence=found.evidence(),
        fix=fix,
        because=_cause(path, override, found.motor.channel),
    )


def _cause(path: Path, override: Override, channel: ChannelPath) -> Cause | None:
    """The one setting that also lets the motor run with the stick low, where that is all."""
    if not runs_low(path, channel.number):
        return None
    switches = _switches(override)
    at = blame(
        path,
        channel,
        lambda other: (
            running_low(other, channel.number) is None
            and _running(other, override, switches) is None
        ),
    )
    return Cause("throttle/low-runs", at) if at != channel.at else None


def _never_on(path: Path, override: Override) -> Answer:
    """A cut whose conditions exclude each other stops nothing."""
    if any(motor.under(override) is not None for motor in path.motors):
        return PASS
    return Fail(
        f"The conditions of “{override.name}” can never all hold, so it is never on.",
        at=f"{override.at}/when",
    )


def _switches(override: Override) -> When:
    """The conditions that a person sets; those on a stick or slider may hold or not."""
    return tuple(c for c in override.when if c.positions is not None or c.phase is not None)


def _running(path: Path, override: Override, switches: When) -> Pulse | None:
    return unsafe(path.motors, lambda motor: motor.worst(when=switches), safe_under(override))


def _mended(path: Path, override: Override, motor: MotorPath) -> tuple[str, Fix | None]:
    """What of the override is to blame, and the gentlest change of it that stops every motor."""
    switches = _switches(override)
    if not switches:
        return "when", None
    for changes, patch in _alternatives(override, switches):
        try:
            if _running(as_if(path, "overrides", override, **changes), override, switches) is None:
                return next(iter(changes)), Fix("decide", patch)
        except (NotKnown, NotChecked):
            continue
    return ("demand_percent" if motor.channel.number == override.channel else "channel"), None


def _alternatives(override: Override, switches: When) -> Iterable[Alternative]:
    if switches != override.when:
        places = range(len(override.when) - 1, -1, -1)
        unwanted = [i for i in places if override.when[i] not in switches]
        yield {"when": switches}, tuple(remove(f"{override.at}/when/{i}") for i in unwanted)
    if override.acts != "last":
        yield {"acts": "last"}, (replace(f"{override.at}/acts", "last"),)
    for demand in DEMANDS:
        changed = {"demand_percent": demand}
        yield changed, (replace(f"{override.at}/demand_percent", demand),)
