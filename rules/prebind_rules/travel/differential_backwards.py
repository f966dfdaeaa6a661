"""Ailerons go further down than up."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    LinkageFault,
    NotKnown,
    Setting,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.travel._scales import port_scales
from prebind_rules.travel._strokes import edge_up, own_controls, stroke, up_and_down

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import ChannelPath, Path, ServoPath
    from prebind.rule import Example


class _Throw(NamedTuple):
    """An aileron's way up and down over the whole roll stick."""

    servo: ServoPath
    stick: str
    up: float
    down: float
    unit: str

    @property
    def more(self) -> float:
        """How much further it goes down than up, in percent of up."""
        return 100 * (self.down / self.up - 1) if self.up else 100.0


def _ailerons(path: Path) -> list[ChannelPath]:
    return [c for c in path.channels if c.function in ("aileron", "flaperon")]


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/1/travel_percent", {"low": 100, "high": 60}),
        start="glider",
        why="The differential of the right aileron set on the wrong side of the channel.",
        at="/channels/1/travel_percent",
        says=("aileron-right", "27°", "17°", "down"),
    )
    yield fails(
        replace("/channels/2/travel_percent", {"low": 80, "high": 100}),
        remove("/servos/1/linkage"),
        start="glider",
        why="Without a linkage the pulses are compared: 400 µs down, 320 µs up.",
        at="/channels/2/travel_percent",
        says=("aileron-left", "400", "320", "down"),
    )
    yield passes(
        replace("/channels/1/travel_percent", {"low": 100, "high": 92}),
        start="glider",
        why="The linkage gives a little more down than up: within 10 %.",
    )
    yield passes(
        replace("/channels/1/travel_percent", {"low": 100, "high": 60}),
        replace("/servos/0/increasing_pulse", "trailing-edge-down"),
        put("/channels/1/reversed", True),
        start="glider",
        why="The servo is mounted the other way round: here the low side is up.",
    )


@rule(
    "travel/differential-backwards",
    word="caution",
    title="Ailerons go further down than up",
    each=_ailerons,
    needs=("receiver", "servos", "surfaces"),
    safety=(
        "An aileron that goes further down than up drags its wing back: the model yaws against "
        "the turn and can drop that wing when slow, near the ground. Give more up than down, or "
        "as much."
    ),
    remedy=(
        "Exchange the two sides of this channel's travel (or of the differential), or mend the "
        "linkage: the edge must go at least as far up as down."
    ),
    bench=(
        "Propeller off. Move the roll stick to both ends and measure how far each aileron goes up "
        "and down."
    ),
    source="common practice, no source",
    settings={
        "more_percent": Setting(10.0, "how much further down than up is allowed, in %", least=0)
    },
    examples=_examples,
)
def differential_backwards(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """The aileron that goes down makes the more drag: it pulls its own wing back.

    Differential counters that with less down than up.  Set on the wrong side it doubles the trouble
    (adverse yaw), most of all at low speed.  Measured in degrees where the linkage is recorded,
    else in pulses.
    """
    throws = list(_throws(channel, path))
    if not throws:
        return NOT_APPLICABLE
    worst = max(throws, key=lambda throw: throw.more)
    if worst.more <= settings["more_percent"]:
        return PASS
    return Fail(
        f"{worst.servo.entry.surface} goes {round(worst.down, 1):g}{worst.unit} down and only "
        f"{round(worst.up, 1):g}{worst.unit} up with {worst.stick}.",
        at=_cause(worst, path),
        evidence={
            "stick": worst.stick,
            "up_deg" if worst.unit == "°" else "up_us": round(worst.up, 1),
            "down_deg" if worst.unit == "°" else "down_us": round(worst.down, 1),
        },
    )


def _throws(channel: ChannelPath, path: Path) -> Iterator[_Throw]:
    for port in path.ports:
        if channel.at not in {fed.at for fed in port.channels}:
            continue
        for servo in port.servos:
            surface = servo.surface
            if surface is None or surface.function not in ("aileron", "flaperon"):
                continue
            for stick in own_controls(surface.function, port.channels, path):
                reached = stroke(port, stick, path)
                if reached and reached[0] < reached[1]:  # one that stands still has no two ways
                    yield _measured(servo, stick, reached)


def _measured(servo: ServoPath, stick: str, reached: tuple[float, float]) -> _Throw:
    sign = edge_up(servo)
    try:
        low, high = (sign * servo.deflection(us) for us in reached)
    except (NotKnown, LinkageFault):
        return _Throw(servo, stick, *up_and_down(servo, reached), " µs")
    return _Throw(servo, stick, max(low, high, 0.0), max(-low, -high, 0.0), "°")


def _cause(throw: _Throw, path: Path) -> str:
    """The first setting that favours down, else the linkage."""
    up = edge_up(throw.servo)
    scales = port_scales(throw.servo.port, path, throw.stick)
    favours = next((s.at for s in scales if s.on(-up) > s.on(up)), None)
    return favours or f"{throw.servo.at}/linkage"
