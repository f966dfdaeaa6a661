"""The tow release shares its control, or its control stays where it is put."""

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
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import ChannelPath, ControlPath, Path
    from prebind.rule import Example

BUTTON = "/transmitter/controls/tow-button"


def _examples() -> Iterable[Example]:
    def tow(control: str) -> dict[str, object]:
        return put("/channels/-", {"channel": 7, "function": "tow-release", "control": control})

    button = put(BUTTON, {"kind": "button"})
    yield fails(
        tow("rate-switch"),
        why="The tow release was put on the switch for the rates.",
        at="/transmitter/controls/rate-switch",
        says=["“rate-switch” stays where it is put", "chooses the rates of channel 2"],
    )
    yield fails(
        put(BUTTON, {"kind": "switch", "positions": ["held", "released"]}),
        tow("tow-button"),
        why="A switch that stays: the hook is left open, and the next tow line falls off.",
        at=BUTTON,
        says=["“tow-button” stays where it is put."],
    )
    yield fails(
        button,
        tow("tow-button"),
        put("/channels/-", {"channel": 8, "function": "lights", "control": "tow-button"}),
        why="The button turns the lights on, too.",
        at=BUTTON,
        says=["“tow-button” drives channel 8 (lights), too."],
    )
    yield fails(
        put("/channels/-", {"channel": 7, "function": "tow-release"}),
        why="No control releases the line.",
        at="/channels/6",
        says=["no control of its own"],
    )
    yield passes(button, tow("tow-button"), why="A button of its own.")
    yield passes(
        put(BUTTON, {"kind": "switch", "positions": ["held", "released"], "sprung": True}),
        tow("tow-button"),
        why="A switch of its own that springs back.",
    )
    yield passes(why="A model that nobody tows.", outcome="notApplicable")


@rule(
    "tern-bay-rules/tow-not-own",
    word="warning",
    title="The tow release has no sprung control of its own",
    each="channels",
    safety="A line let go by accident falls on people; one that does not let go drags both models "
    "down. Try the release under load before each tow.",
    remedy="Put the tow release on a button, or on a sprung switch, that does nothing else.",
    bench="Hang the line in, pull, and release; let go of the control and see the hook close.",
    source="towing rules of the invented Tern Bay Model Flying Club",
    examples=_examples,
    since="2026.1",
)
def tow_not_own(channel: ChannelPath, path: Path, _settings: Settings) -> Answer:
    """The hand must find the release without a look, and find nothing else there."""
    if channel.function != "tow-release":
        return NOT_APPLICABLE
    if channel.control is None:
        return Fail(f"The tow release on channel {channel.number} has no control of its own.")
    control = path.control(channel.control)
    wrong = list(_wrong(control, channel))
    if not wrong:
        return PASS
    return Fail(
        f"The tow release is on “{control.id}”, and “{control.id}” {', and '.join(wrong)}.",
        at=control.at,
        evidence={"control": control.id, "sprung": control.sprung},
    )


def _wrong(control: ControlPath, channel: ChannelPath) -> Iterator[str]:
    if not control.sprung:
        yield "stays where it is put"
    for job in control.jobs:
        if job.at != f"{channel.at}/control":
            yield f"{job.text}, too"
