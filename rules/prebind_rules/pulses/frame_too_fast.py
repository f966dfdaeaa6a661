"""pulses/frame-too-fast"""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    PRIMARY,
    Answer,
    Fail,
    Fix,
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

if TYPE_CHECKING:
    from prebind import Path, ServoPath


@rule(
    "pulses/frame-too-fast",
    word="notice",
    title="The receiver sends pulses faster than the servo accepts",
    each="servos",
    needs=("receiver", "servos"),
    settings={
        "analogue_hz": Setting(
            60, "fastest pulse rate of an analogue servo without a record, Hz", least=1
        ),
    },
    safety=(
        "A servo driven too fast gets hot, hums, and can fail in the air with its surface "
        "anywhere. Choose a slower frame before the servo is connected."
    ),
    remedy=(
        "Set a longer frame time at the receiver, or fit servos that its maker says take this rate."
    ),
    bench=(
        "Look up the fastest pulse rate in the servo maker's data; feel after some minutes on the "
        "bench, propeller off, whether the servo gets warm at rest."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            replace("/servos/2/max_rate_hz", 50),
            why="An elevator servo for slow pulses on a receiver with a fast frame.",
            at="/receiver/frame_ms",
            says=("elevator", "90.9", "50 Hz"),
            word="caution",
        ),
        fails(
            put("/receiver/frame_ms", 11),
            why="Analogue servos without a recorded rate: taken for 60 Hz.",
            at="/receiver/frame_ms",
            says=("90.9", "60 Hz"),
            word="caution",
            start="plain",
        ),
        fails(
            replace("/servos/4/max_rate_hz", 50),
            why="No primary surface hangs on this servo, only a flap.",
            at="/receiver/frame_ms",
            says=("flap-right", "55.6 Hz", "50 Hz"),
            word="notice",
            start="glider",
        ),
        passes(
            replace("/servos/2/max_rate_hz", 91),
            why="Just fast enough for a frame of 11 ms (90.9 Hz).",
        ),
        passes(
            replace("/receiver/frame_ms", 17),
            why="58.8 Hz: an analogue servo follows.",
            start="plain",
        ),
        passes(
            remove("/receiver/frame_ms"),
            why="How fast the receiver sends is not recorded.",
            outcome="open",
        ),
    ],
)
def frame_too_fast(servo: ServoPath, path: Path, settings: Settings) -> Answer:
    """A receiver sends each servo a pulse once in a frame. Digital servos take short frames;
    analogue ones are made for about 20 ms, and faster pulses keep their motor on nearly all the
    time.
    """
    frame = path.setup.receiver and path.setup.receiver.frame_ms
    if not frame:
        return Open("The receiver's frame time is not recorded.", settles=("/receiver/frame_ms",))
    fastest = _fastest(servo, settings)
    if fastest is None:
        return Open(
            f"How fast a pulse rate the servo on port {servo.entry.port} accepts is not recorded.",
            settles=(f"{servo.at}/max_rate_hz",),
        )
    rate = 1000 / frame
    if rate <= fastest:
        return PASS
    recorded = "accepts" if servo.entry.max_rate_hz else "(analogue, nothing recorded) is taken for"
    return Fail(
        f"The receiver sends a pulse every {frame:g} ms ({rate:.1f} Hz), and the servo of "
        f"{_name(servo)} {recorded} {fastest:g} Hz.",
        at="/receiver/frame_ms",
        evidence={
            "port": servo.entry.port,
            "frame_ms": frame,
            "rate_hz": round(rate, 1),
            "max_rate_hz": fastest,
        },
        word="caution" if _moves_primary(servo, path) else None,
        fix=_slower(path, settings),
    )


def _fastest(servo: ServoPath, settings: Settings) -> float | None:
    """The fastest pulse rate the servo accepts, in Hz; None where nothing tells."""
    if servo.entry.max_rate_hz is None and servo.entry.kind == "analogue":
        return float(settings["analogue_hz"])
    return servo.entry.max_rate_hz


def _name(servo: ServoPath) -> str:
    return servo.entry.surface or f"port {servo.entry.port}"


def _moves_primary(servo: ServoPath, path: Path) -> bool:
    surface = next((s for s in path.setup.surfaces or () if s.id == servo.entry.surface), None)
    return (surface.function if surface else servo.port.channel.function) in PRIMARY


def _slower(path: Path, settings: Settings) -> Fix:
    """The shortest frame in whole milliseconds that every servo with a known rate accepts."""
    rates = [rate for servo in path.servos if (rate := _fastest(servo, settings))]
    frame = ceil(1000 / min(rates))
    return Fix("decide", ({"op": "replace", "path": "/receiver/frame_ms", "value": frame},))
