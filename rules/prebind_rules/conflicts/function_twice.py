"""The same function and side stands on two channels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Place, Settings, fails, passes, put, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example


def _functions(path: Path) -> Iterable[Place]:
    """One place per function and side.  `other` names no function, so it cannot stand twice."""
    found: dict[tuple[str, str | int | None], Place] = {}
    for channel in path.setup.channels:
        if channel.function != "other":
            key = (channel.function, channel.side)
            place = found.setdefault(key, Place(f"{channel.at}/function", []))
            place.entry.append(channel)
    return found.values()


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/-", {"channel": 7, "function": "aileron", "control": "roll-stick"}),
        why="A second aileron channel does not say which side it moves.",
        at="/channels/1/function",
        says=["aileron", "channels 2 and 7"],
        word="notice",
    )
    yield fails(
        replace("/channels/3/function", "elevator"),
        why="The rudder's channel was copied from the elevator's, its function with it.",
        at="/channels/2/function",
        says=["elevator", "channels 3 and 4"],
    )
    yield passes(
        put("/channels/1/side", "right"),
        put(
            "/channels/-",
            {"channel": 7, "function": "aileron", "side": "left", "control": "roll-stick"},
        ),
        why="Two aileron channels, one for each side.",
    )
    yield passes(
        put("/channels/-", {"channel": 7, "function": "lights", "side": 1}),
        put("/channels/-", {"channel": 8, "function": "lights", "side": 2}),
        why="Two light channels, told apart by a number.",
    )


@rule(
    "conflicts/function-twice",
    word="notice",
    title="The same function and side stands on two channels",
    each=_functions,
    safety="One of the two may be left behind when the other is adjusted, and left and right "
    "cannot be told apart by the checks that compare them. Watch both surfaces before you adjust "
    "either.",
    remedy="Say which side each channel moves, number them, or remove the one that is not used.",
    bench="Move the control and note which channels of the radio's display answer.",
    source="common practice, no source",
    examples=_examples,
)
def function_twice(place: Place, path: Path, settings: Settings) -> Answer:
    """Two channels of one function are two sides, two of a number, or a slip.

    Without the side the document does not say which, and nothing can be checked side against
    side.  Channels with the function `other` are left alone.
    """
    numbers = sorted({channel.channel for channel in place.entry})
    if len(numbers) == 1:
        return PASS
    first = place.entry[0]
    side = "" if first.side is None else f", side {first.side},"
    return Fail(
        f"The function {first.function}{side} stands on channels "
        f"{' and '.join(map(str, numbers))}.",
        evidence={"function": first.function, "side": first.side, "channels": numbers},
    )
