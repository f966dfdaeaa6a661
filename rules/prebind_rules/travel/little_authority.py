"""A primary surface barely moves in some position of the switches."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from prebind.model import LowHigh
from prebind.rule import (
    AXES_OF,
    NOT_APPLICABLE,
    PASS,
    Answer,
    Cause,
    Fail,
    Setting,
    Settings,
    fails,
    passes,
    put,
    remove,
    replace,
    rule,
)
from prebind_rules.travel._scales import channel_scales, port_scales
from prebind_rules.travel._strokes import own_controls, pulse_at, pulses

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import ChannelPath, Least, Path, PortPath
    from prebind.rule import Controls, Example


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/2/rates/1/rate_percent", 25),
        why="With the rate switch at soft a quarter of the elevator is left.",
        at="/channels/2/rates/1/rate_percent",
        says=("25.1 %", "channel 3", "30 %"),
    )
    yield fails(
        put("/receiver/outputs/2/travel_percent", {"low": 40, "high": 40}),
        why="70 % of rate, of which the output leaves 40 %, is 28 %.",
        at="/receiver/outputs/2/travel_percent",
        says=("28 %", "output 3"),
    )
    yield passes(
        replace("/channels/2/rates/1/rate_percent", 31),
        why="31 % is little, but over the limit of 30 %.",
    )
    yield passes(
        replace("/channels/2/rates/1/rate_percent", 25),
        remove("/channels/2/rates/0/when"),
        why="The small rate never holds: the one before it always does.",
    )


@rule(
    "travel/little-authority",
    word="caution",
    title="A primary surface barely moves",
    each="primary-channels",
    safety=(
        "With so little movement the model may not rotate, flare or recover from a gust, and the "
        "pilot finds out in the air. Check the smallest rate before the first flight, and fly "
        "the first flight with the largest."
    ),
    remedy=(
        "Raise the rate, travel or mix that holds the surface back; if the throw is then too "
        "large, make it smaller on the linkage, where it keeps its resolution."
    ),
    bench=(
        "Propeller off. Put every switch in the position named, move the stick to its ends, and "
        "compare the surface's movement with the model's plan."
    ),
    source="common practice, no source",
    settings={
        "least_percent": Setting(
            30.0, "the least deviation that counts as enough, in % of full", least=0
        )
    },
    examples=_examples,
)
def little_authority(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """Rates, travel and mixes multiply, and a switch can combine small ones.

    What is left of the stick's movement in the worst combination is all that the pilot has.
    """
    axes = list(_by_axis(channel, path))
    scaling = list(_scaling_ports(channel, path))
    sure = min(_surely(channel, controls) for controls in axes)
    if sure and sure >= settings["least_percent"] and not scaling:
        return PASS
    answers = [answer for answer in (_most(channel, controls) for controls in axes) if answer]
    if not answers:
        return NOT_APPLICABLE
    control, best = min(answers, key=lambda answer: answer[1].percent)
    percent, port = best.percent, None
    for scaled in scaling:
        left = _percent_at(scaled, control, best.controls, path)
        if left < percent:
            percent, port = left, scaled
    if percent >= settings["least_percent"]:
        return PASS
    scales = port_scales(port, path, control) if port else channel_scales(channel, path, control)
    smallest = min(scales, key=lambda scale: max(scale.below, scale.above), default=None)
    at = smallest.at if smallest and max(smallest.below, smallest.above) < 100 else channel.at
    where = f"output {port.number}" if port else f"channel {channel.number}"
    others = {c: position for c, position in best.controls.items() if c != control}
    return Fail(
        f"The {channel.function} on {where} gets no more than {round(percent, 1):g} % of full from "
        f"{control} in the worst combination, and below {settings['least_percent']:g} % is little.",
        at=at,
        evidence={"percent": round(percent, 1), "control": control, "controls": others},
        because=Cause("rates/dead", at) if percent == 0 else None,
    )


def _by_axis(channel: ChannelPath, path: Path) -> Iterator[tuple[str, ...]]:
    """The sticks of each axis that reach the channel, else what drives it."""
    own = own_controls(channel.function, (channel,), path)
    axes = AXES_OF.get(channel.function, ())
    found = [tuple(stick for stick in path.sticks(axis) if stick in own) for axis in axes]
    yield from [sticks for sticks in found if sticks] or [own]


def _surely(channel: ChannelPath, controls: Iterable[str]) -> float:
    """How far one of the controls moves the channel at least, whatever else adds to it."""
    return max((channel.response(control).sure_deviation for control in controls), default=0.0)


def _most(channel: ChannelPath, controls: Iterable[str]) -> tuple[str, Least] | None:
    """The control that moves the channel furthest in its own worst combination."""
    answers = ((control, channel.response(control).least_deviation) for control in controls)
    known = [(control, least) for control, least in answers if least]
    return max(known, key=lambda answer: answer[1].percent, default=None)


def _scaling_ports(channel: ChannelPath, path: Path) -> Iterator[PortPath]:
    """The outputs with a surface that change what this channel brings."""
    for port in path.ports:
        changes = port.mixed or port.entry.limit_us or port.entry.travel_percent != LowHigh()
        if changes and port.servos and channel in port.channels:
            yield port


def _percent_at(port: PortPath, control: str, others: Controls, path: Path) -> float:
    """The greatest deviation at a port in one combination, in percent of full."""
    fix = {**path.rest(), **others}
    still = pulse_at(port, {**fix, control: path.control(control).rest})
    fix.pop(control)
    reached = pulses(port, control, fix, path)
    if reached is None:
        return inf
    full_us = 100 * path.setup.transmitter.output.us_per_percent
    return max(reached[1] - still, still - reached[0]) / full_us * 100
