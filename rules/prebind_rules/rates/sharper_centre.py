"""Negative expo makes the stick's centre sharper than linear."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Fix,
    Place,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import Path
    from prebind.rule import Example


def _shaped(path: Path) -> Iterator[Place]:
    """Whatever has rates of its own: channels, and inputs."""
    for channel in path.setup.channels:
        name = f"the {channel.function} on channel {channel.channel}"
        yield Place(channel.at, (name, channel.rates or ()))
    for source in path.setup.inputs:
        yield Place(source.at, (f"the input “{source.id}”", source.rates or ()))


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/1/rates/1/expo_percent", -30),
        why="Copied from a radio with the opposite sign: with soft rates the ailerons are nervous.",
        at="/channels/1/rates/1/expo_percent",
        says=("aileron", "-30 %", "1.6 times"),
    )
    yield fails(
        replace("/inputs/1/rates/0/expo_percent", -25),
        start="glider",
        why="One shaped input drives both halves of the tail.",
        at="/inputs/1/rates/0/expo_percent",
        says=("pitch", "-25 %", "1.5 times"),
    )
    yield passes(
        replace("/channels/1/rates/1/expo_percent", 0),
        why="Linear is not sharper than linear.",
    )
    yield passes(
        put("/channels/1/travel_percent", {"low": 150, "high": 150}),
        replace("/channels/1/rates/0/expo_percent", 40),
        why="Large travel with positive expo: lively at the ends, soft at the centre.",
    )


@rule(
    "rates/sharper-centre",
    word="caution",
    title="Negative expo makes the centre sharper than linear",
    each=_shaped,
    safety=(
        "Around the centre the model answers more than the stick is moved: it twitches, and a "
        "pilot who corrects makes it swing. Check the sign of expo on this radio before flying."
    ),
    remedy=(
        "Use positive expo (softer at the centre on the scale of this document), and look at the "
        "radio's own curve: some radios count expo the other way round."
    ),
    bench=(
        "Propeller off. Move the stick a little from its centre: the surface must move less than "
        "in proportion, not more."
    ),
    source="common practice, no source",
    examples=_examples,
)
def sharper_centre(place: Place, path: Path, settings: Settings) -> Answer:
    """Radios do not agree which sign of expo is soft.

    A value copied from one to the other turns a gentle model into a nervous one, most of all around
    the centre, where the stick is nearly all the time.
    """
    name, rates = place.entry
    if not rates:
        return NOT_APPLICABLE
    sharp = [(k, rate.expo_percent) for k, rate in enumerate(rates) if rate.expo_percent < 0]
    if not sharp:
        return PASS
    first, expo = sharp[0]
    at = f"{place.at}/rates/{first}/expo_percent"
    steeper = 1 + 2 * abs(expo) / 100
    return Fail(
        f"With expo {expo:g} % {name} moves {steeper:.3g} times as far around the stick's centre "
        "as without.",
        at=at,
        evidence={
            "expo_percent": expo,
            "centre_slope": round(steeper, 2),
            "entries": [k for k, _ in sharp],
        },
        fix=Fix(
            "decide",
            tuple(replace(f"{place.at}/rates/{k}/expo_percent", -each) for k, each in sharp),
        ),
    )
