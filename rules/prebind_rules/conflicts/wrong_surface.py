"""A surface hangs on a port whose channels are for other axes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    AXES_OF,
    NOT_APPLICABLE,
    PASS,
    PRIMARY,
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
        replace("/receiver/outputs/2/channel", 4),
        replace("/receiver/outputs/3/channel", 3),
        why="The plugs of elevator and rudder are swapped, or the channels of their outputs.",
        at="/servos/2/surface",
        says=("port 3", "elevator", "channel 4 (rudder)"),
    )
    yield fails(
        replace("/servos/0/port", 3),
        replace("/servos/2/port", 2),
        why="The plugs of the right aileron and the elevator are swapped.",
        at="/servos/0/surface",
        says=("port 3", "aileron-right", "channel 3 (elevator)"),
    )
    yield passes(
        put("/surfaces/2/on_purpose", "All-moving tail, worked by the rudder channel's mix."),
        replace("/receiver/outputs/2/channel", 4),
        why="Meant so, and the reason is written down.",
    )
    yield passes(
        replace("/surfaces/0/function", "flaperon"),
        why="A flaperon rolls the model, as the channel for the aileron does.",
    )


@rule(
    "conflicts/wrong-surface",
    word="warning",
    title="A surface hangs on a channel that is for something else",
    each="servos",
    needs=("servos", "surfaces", "receiver"),
    safety="The stick for one axis moves another, and the model is lost at take-off. Do not fly "
    "before each stick has been seen to move its own surface, with the propeller off.",
    remedy="Plug the servo into the port of its channel, or give the port the channel that the "
    "surface is for.",
    bench="Propeller off: move one stick after the other and look which surface answers.",
    source="common practice, no source",
    examples=_examples,
)
def wrong_surface(servo: ServoPath, path: Path, settings: Settings) -> Answer:
    """Two plugs are swapped in a moment, and everything still moves.

    What a surface turns the model about must be among what the channels on its port are for, those
    that the receiver mixes into it included.
    """
    if servo.entry.surface is None:
        return NOT_APPLICABLE
    surface = servo.surface
    if surface is None or surface.function not in PRIMARY:
        return NOT_APPLICABLE
    channels = servo.port.channels
    axes = {axis for channel in channels for axis in AXES_OF.get(channel.function, ())}
    if surface.on_purpose or not axes or axes & set(AXES_OF.get(surface.function, axes)):
        return PASS
    fed = " and ".join(f"channel {channel.number} ({channel.function})" for channel in channels)
    return Fail(
        f"“{surface.id}” is on port {servo.entry.port}, which gets {fed}: that turns the model "
        f"about another axis than the {surface.function} does.",
        at=f"{servo.at}/surface",
        evidence={
            "port": servo.entry.port,
            "surface": surface.id,
            "channels": [channel.number for channel in channels],
        },
    )
