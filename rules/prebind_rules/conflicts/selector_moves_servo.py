"""A selector's channel also moves a servo or drives a motor."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Open,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, SelectorPath
    from prebind.model import Setup
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/receiver/outputs/4/channel", 5),
        why="Port 5 was left on channel 5 when the flight mode moved there.",
        at="/receiver/outputs/4/channel",
        says=["flight mode", "channel 5", "servo on port 5"],
    )
    yield fails(
        replace("/receiver/stabiliser/selectors/1/channel", 1),
        why="Recovery listens to the throttle's channel.",
        at="/receiver/outputs/0/channel",
        says=["recovery", "channel 1", "speed control on port 1"],
    )
    yield passes(
        put("/receiver/outputs/-", {"port": 6, "channel": 5}),
        why="Output 6 carries the flight mode's channel, but nothing is plugged into it.",
    )
    yield passes(
        replace("/receiver/outputs/4/channel", 5),
        remove("/servos/1"),
        why="Port 5 is free: its servo has been taken out.",
    )


@rule(
    "conflicts/selector-moves-servo",
    word="warning",
    title="A selector's channel also moves a servo or drives a motor",
    each="selectors",
    needs=("stabiliser",),
    safety="Choosing a flight mode or recovery moves a surface or starts a motor that nobody "
    "commanded. Give the selector a channel of its own, and prove it with the propeller off.",
    remedy="Give the selector a channel that goes to no output, or put the output on its proper "
    "channel.",
    bench="With the propeller off, change the mode and watch every surface and the motor: none may "
    "move.",
    source="common practice, no source",
    examples=_examples,
)
def selector_moves_servo(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """A selector's channel jumps from one end to the other.

    Where the same channel goes to an output, what is plugged in there jumps with it.
    """
    number = selector.entry.channel
    ports = [port for port in path.ports if port.entry.channel == number]
    moved = [(port, what) for port in ports if (what := _plugged(path.setup, port.number))]
    if moved:
        names = " and ".join(f"the {what} on port {port.number}" for port, what in moved)
        return Fail(
            f"The selector “{selector.name}” listens to channel {number}, which also moves "
            f"{names}.",
            at=f"{moved[0][0].at}/channel",
            evidence={"channel": number, "ports": [port.number for port, _ in moved]},
        )
    if ports and path.setup.servos is None:
        return Open(
            f"The selector “{selector.name}” listens to channel {number}, which also goes to port "
            f"{ports[0].number}; whether a servo is plugged in there is not recorded.",
            settles=("/servos",),
        )
    return PASS


def _plugged(setup: Setup, port: int) -> str | None:
    if any(control.port == port for control in setup.speed_controls or ()):
        return "speed control"
    if setup.engine and setup.engine.port == port:
        return "engine's throttle"
    if any(servo.port == port for servo in setup.servos or ()):
        return "servo"
    return None
