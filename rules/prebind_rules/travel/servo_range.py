"""A servo is driven beyond the pulses that it may be driven to."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Fix,
    NotKnown,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.travel._scales import first_beyond_full, port_scales

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import Path, PortPath, PortReach, ServoPath
    from prebind.model import Pair
    from prebind.rule import Controls, Example, Word


class _Driven(NamedTuple):
    """A pulse that can occur, where it comes from, and the value that would change it."""

    us: float
    when: str
    controls: Controls
    word: Word
    at: str | None = None


def _examples() -> Iterable[Example]:
    yield fails(
        put("/receiver/outputs/3/travel_percent", {"low": 100, "high": 155}),
        why="155 % at the output drives the rudder servo to 2120 µs, and it bears 2100 µs.",
        at="/receiver/outputs/3/travel_percent",
        says=("2120", "2100"),
        word="notice",
    )
    yield fails(
        replace("/receiver/failsafe/channels/3/output_percent", 151),
        why="Link lost, the rudder servo stays driven against its stop.",
        at="/receiver/failsafe/channels/3/output_percent",
        says=("896", "900", "link is lost"),
        word="warning",
    )
    yield fails(
        replace("/servos/0/pulse_us", [1150, 1850]),
        why="A servo of smaller range on an output of full travel: something must hold it back.",
        at="/servos/0/pulse_us",
        says=("1099.9", "1150"),
        word="notice",
    )
    yield passes(
        put("/receiver/outputs/3/travel_percent", {"low": 100, "high": 149}),
        why="2096 µs is within 2100 µs.",
    )
    yield passes(
        put("/receiver/outputs/3/travel_percent", {"low": 100, "high": 155}),
        put("/receiver/outputs/3/limit_us", [900, 2100]),
        why="The output's own limit holds the pulse back.",
    )


@rule(
    "travel/servo-range",
    word="notice",
    title="A servo is driven beyond its range",
    each="servos",
    needs=("receiver", "servos"),
    safety=(
        "A servo driven against its own stop hums, heats up and draws its stall current, and can "
        "fail or pull the supply down. Held there by failsafe or throttle cut it stays so. Keep "
        "every pulse inside the servo's range."
    ),
    remedy=(
        "Reduce travel, sub-trim or the failsafe value, or set a limit at the receiver's output, "
        "so that no control, failsafe or throttle cut drives this servo beyond its range."
    ),
    bench=(
        "Propeller off. Move every control that reaches this servo to its ends, then switch the "
        "transmitter off: the servo must not hum against a stop."
    ),
    source="common practice, no source",
    examples=_examples,
)
def servo_range(servo: ServoPath, path: Path, settings: Settings) -> Answer:
    """Its maker says between which pulses a servo may be driven.

    Beyond them it meets its own end stop, where it stalls: it wears, heats up, and takes current
    that the other servos need.
    """
    if servo.entry.pulse_us is None:
        raise NotKnown(
            "the pulses that this servo may be driven to are not recorded",
            (f"{servo.at}/pulse_us",),
        )
    port, bears = servo.port, servo.entry.pulse_us
    if all(_excess(us, bears) <= path.tolerance_us for us in _outermost(port, path)):
        return PASS
    beyond = [d for d in _driven(port, path) if _excess(d.us, bears) > path.tolerance_us]
    if not beyond:  # a port that sums channels is known within 0.001 % alone
        return PASS
    worst = max(beyond, key=lambda d: (d.word == "warning", _excess(d.us, bears)))
    by_itself = all(d.at for d in beyond)
    at = worst.at if by_itself else first_beyond_full(port_scales(port, path))
    edge = bears[0] if worst.us < bears[0] else bears[1]
    return Fail(
        f"{worst.when}, output {port.number} drives its servo to {round(worst.us, 1):g} µs, "
        f"beyond the {edge:g} µs that it may be driven to.",
        at=at or f"{servo.at}/pulse_us",
        word=worst.word,
        evidence={
            "us": round(worst.us, 1),
            "servo_low_us": bears[0],
            "servo_high_us": bears[1],
            "controls": dict(worst.controls),
        },
        fix=_held_back(servo, by_itself, bears),
    )


def _held_back(servo: ServoPath, by_itself: bool, bears: Pair) -> Fix | None:
    """Limits at the output, where they take no throw from a surface that a stick moves."""
    if servo.surface is not None and not by_itself:
        return None
    return Fix("decide", (put(f"{servo.port.at}/limit_us", _limits(servo.port, bears)),))


def _outermost(port: PortPath, path: Path) -> list[float]:
    preset = _preset(port, path)
    return [port.reach.low.us, port.reach.high.us, *([preset[0]] if preset else ())]


def _driven(port: PortPath, path: Path) -> Iterator[_Driven]:
    """The outermost pulses: wherever the controls stand, under throttle cut, with the link lost."""
    for us, controls in _ends(port.free):
        yield _Driven(us, "With the controls at their worst", controls, "notice")
    fed = {channel.number for channel in port.channels}
    for override in (o for o in path.setup.overrides if o.channel in fed):
        word: Word = "warning" if override.purpose == "throttle-cut" else "notice"
        for us, controls in _ends(port.reach_where(when=override.when)):
            at = f"{override.at}/demand_percent"
            yield _Driven(us, f"Under “{override.name}”", controls, word, at)
    preset = _preset(port, path)
    if preset:
        us, at = preset
        yield _Driven(us, "When the link is lost", {}, "warning", at)


def _ends(reach: PortReach | None) -> list[tuple[float, Controls]]:
    return [(end.us, end.controls) for end in (reach.low, reach.high)] if reach else []


def _preset(port: PortPath, path: Path) -> tuple[float, str] | None:
    """The pulse at failsafe and where it is written; None where none is preset or recorded."""
    receiver = path.setup.receiver
    if receiver is None or receiver.failsafe is None or port.failsafe.us is None:
        return None
    fed = {channel.number for channel in port.channels}
    entry = next(entry for entry in receiver.failsafe.channels if entry.channel in fed)
    return port.failsafe.us, f"{entry.at}/output_percent"


def _excess(us: float, bears: Pair) -> float:
    return max(bears[0] - us, us - bears[1])


def _limits(port: PortPath, bears: Pair) -> list[float]:
    low, high = port.entry.limit_us or bears
    return [max(low, bears[0]), min(high, bears[1])]
