"""club/my-rule, as it was begun: expo beyond what the club allows.

The rule is whole and can be put in force as it stands.  Make it yours: say first, in the examples,
what must be found and what must not; then change record and function until the examples come out.
`prebind.rule` tells what else a rule may answer: Open, Review, and a Fix for a Fail.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.hooks import hookimpl
from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Setting,
    Settings,
    fails,
    passes,
    remove,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, Path
    from prebind.rule import Example, Rule

__version__ = "0.1.0"

EXPO = "/channels/1/rates/0/expo_percent"


def _examples() -> Iterable[Example]:
    """Changes to the clean setup `trainer`, whose second channel moves the ailerons."""
    yield fails(
        replace(EXPO, 60),
        why="Around its centre the stick does almost nothing.",
        at=EXPO,
        says=["aileron", "channel 2", "60 %", "40 %"],
    )
    yield passes(replace(EXPO, 40), why="Exactly as much as the club allows.")
    yield passes(
        remove("/channels/1/rates"),
        remove("/channels/2/rates"),
        why="Without rates there is no expo to judge.",
        outcome="notApplicable",
    )


@rule(
    "club/my-rule",
    word="caution",
    title="More expo than the club allows",
    each="primary-channels",
    safety="Near the end of the stick the surface moves more than the hand expects. "
    "Take expo out in small steps, and try each one high up, with an instructor.",
    remedy="Set less expo on this channel, on the radio and in the document.",
    bench="Propeller off: move the stick a little from its centre, and see the surface move.",
    source="common practice, no source",
    settings={"most_percent": Setting(40, "the most expo that the club allows, in percent")},
    examples=_examples,
)
def my_rule(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """Expo takes movement from the stick's centre and gives it back towards the ends.

    With a lot of it a beginner moves the stick further and further, and then too far.
    """
    rates = channel.entry.rates
    if path.setup.model.airframe == "multirotor" or not rates:
        return NOT_APPLICABLE
    most = settings["most_percent"]
    for number, rate in enumerate(rates):
        if rate.expo_percent > most:
            return Fail(
                f"The {channel.function} on channel {channel.number} has "
                f"{rate.expo_percent:g} % expo, more than {most:g} %.",
                at=f"{channel.at}/rates/{number}/expo_percent",
                evidence={"expo_percent": rate.expo_percent, "most_percent": most},
            )
    return PASS


@hookimpl
def prebind_rules() -> Iterable[Rule]:
    """The rules of this pack."""
    yield my_rule
