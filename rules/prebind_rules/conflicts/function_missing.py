"""The airframe cannot be flown with the functions that are there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    AXES_OF,
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

    from prebind import Path
    from prebind.model import Setup
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/2/function", "flap"),
        why="Without an elevator nothing commands pitch.",
        at="/channels",
        says=["pitch"],
    )
    yield fails(
        replace("/channels/1/function", "flap"),
        replace("/channels/3/function", "steering"),
        why="A steering wheel does not turn a model in the air.",
        at="/channels",
        says=["neither roll nor yaw"],
    )
    yield fails(
        replace("/channels/0/function", "lights"),
        why="An electric model without a throttle channel.",
        at="/channels",
        says=["throttle"],
    )
    yield passes(
        replace("/channels/1/function", "lights"),
        why="Rudder and elevator are enough for many trainers.",
    )
    yield passes(
        replace("/channels/1/function", "elevon"),
        replace("/channels/2/function", "elevon"),
        put("/channels/1/side", "right"),
        put("/channels/2/side", "left"),
        why="Elevons are roll and pitch together.",
    )
    yield passes(
        replace("/channels/0/function", "tow-release"),
        replace("/model/propulsion/kind", "none"),
        why="A model without a motor needs no throttle.",
    )
    yield passes(
        replace("/channels/0/function", "lights"),
        remove("/model/propulsion"),
        remove("/speed_controls"),
        why="Whether the model has a motor at all is not recorded.",
        outcome="open",
    )


@rule(
    "conflicts/function-missing",
    word="caution",
    title="The airframe cannot be flown with the functions that are there",
    each="setup",
    safety="A model that lacks pitch, or any way to turn, cannot be brought back. Check with the "
    "propeller off that every surface has a control before the first flight.",
    remedy="Add the missing channel, or correct the function of the channel that should do it.",
    bench="With the propeller off, move each stick and see that roll or yaw, pitch and throttle "
    "answer.",
    source="common practice, no source",
    examples=_examples,
)
def function_missing(setup: Path, path: Path, settings: Settings) -> Answer:
    """Flying takes pitch, and roll or yaw, and a throttle where there is a motor.

    The functions of the channels tell: an elevon is roll and pitch, a V-tail pitch and yaw, a
    flaperon roll.  Steering is for the ground.
    """
    functions = {channel.function for channel in path.setup.channels}
    axes = {axis for function in functions - {"steering"} for axis in AXES_OF.get(function, ())}
    powered = _powered(path.setup)
    missing = [] if "pitch" in axes else ["no pitch"]
    if not axes & {"roll", "yaw"}:
        missing.append("neither roll nor yaw")
    if powered and "throttle" not in functions:
        missing.append("no throttle")
    if missing:
        return Fail(
            f"The functions of the channels give the model {' and '.join(missing)}.",
            at="/channels",
            evidence={"lacks": missing, "functions": sorted(functions)},
        )
    if powered is None and "throttle" not in functions:
        return Open(
            "There is no throttle channel, and whether the model has a motor is not recorded.",
            settles=("/model/propulsion/kind",),
        )
    return PASS


def _powered(setup: Setup) -> bool | None:
    """Whether the model has a motor; None where the document does not tell."""
    kind = setup.model.propulsion.kind if setup.model.propulsion else None
    if kind is not None:
        return kind != "none"
    return True if setup.speed_controls or setup.engine else None
