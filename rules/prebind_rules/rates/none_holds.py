"""In some position of the switches no rate holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.model import Input
from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Fix,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
    spoken,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import Channel
    from prebind.rule import Example

_SOFT = [{"control": "rate-switch", "positions": ["soft"]}]


def _shaped(path: Path) -> Iterable[Channel | Input]:
    """Whatever has rates of its own: channels, and inputs."""
    return [*path.setup.channels, *path.setup.inputs]


def _examples() -> Iterable[Example]:
    yield fails(
        put("/channels/1/rates/1/when", [{"control": "mode-switch", "positions": ["back"]}]),
        why="Soft rates only in one flight mode: in the others the full movement jumps in.",
        at="/channels/1/rates",
        says=("rate-switch at soft, mode-switch at middle", "aileron on channel 2"),
    )
    yield fails(
        replace("/inputs/0/rates/1", {"rate_percent": 75, "when": [{"phase": ["landing"]}]}),
        start="glider",
        why="The roll input has no rate for cruising.",
        at="/inputs/0/rates",
        says=("phase-switch at cruise", "roll"),
    )
    yield passes(
        put("/channels/1/rates/1/when", _SOFT),
        why="Both positions of the switch have their rate.",
    )
    yield passes(
        put("/channels/1/rates/1/when", [{"control": "mode-switch", "positions": ["back"]}]),
        put("/channels/1/curves", [{"points": [[-100, -80], [100, 80]]}]),
        why="A curve that always holds replaces the rates.",
    )


@rule(
    "rates/none-holds",
    word="warning",
    title="In some position of the switches no rate holds",
    each=_shaped,
    safety=(
        "Where no rate holds the surface moves in full and without expo: at a flick of a switch "
        "the model answers far more than the pilot is used to. Give every position its rate."
    ),
    remedy=(
        "Add a last rate without a condition, or a rate for the position that has none; then try "
        "every position of the switches on the ground."
    ),
    bench=(
        "Propeller off. Hold the stick at its end and move the switches through all their "
        "positions: the surface must stand where its rate says."
    ),
    source="common practice, no source",
    examples=_examples,
)
def none_holds(shaped: Channel | Input, path: Path, settings: Settings) -> Answer:
    """The first rate whose condition holds applies; if none does, 100 % without expo.

    A position that was forgotten shows only in the air.
    """
    if not shaped.rates:
        return NOT_APPLICABLE
    forgotten = path.without_rate(shaped)
    if forgotten is None:
        return PASS
    at = f"{shaped.at}/rates"
    return Fail(
        f"With {spoken(forgotten)} none of the rates of {_name(shaped)} holds: it moves "
        "in full, without expo.",
        at=at,
        evidence={"controls": dict(forgotten)},
        fix=Fix("decide", (put(f"{at}/-", {"rate_percent": 100}),)),
    )


def _name(shaped: Channel | Input) -> str:
    if isinstance(shaped, Input):
        return f"the input “{shaped.id}”"
    return f"the {shaped.function} on channel {shaped.channel}"
