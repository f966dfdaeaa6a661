"""A reachable value falls into no state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Cause,
    Fail,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
    spoken,
)
from prebind_rules.bands._blame import blamed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, SelectorPath
    from prebind.rule import Example

SELECTOR = "/receiver/stabiliser/selectors/0"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(f"{SELECTOR}/states/2/band/percent", [34, 90]),
        why="The damped band is said to end at 90 %, and the switch goes to 100 %.",
        at=f"{SELECTOR}/states/2/band",
        says=["mode-switch at forward", "1900", "no state", "“flight mode”"],
    )
    yield fails(
        put("/transmitter/controls/mode-knob", {"kind": "knob"}),
        replace("/channels/4/control", "mode-knob"),
        replace(f"{SELECTOR}/states/1/band/percent", [-34, 30]),
        why="A knob passes every value, the four percent between two bands too.",
        at=f"{SELECTOR}/states/1/band",
        says=["no state", "“flight mode”"],
    )
    yield passes(
        replace(f"{SELECTOR}/states/1/band/percent", [-34, 30]),
        why="The same four percent are skipped by a switch.",
    )
    yield passes(
        put("/transmitter/controls/mode-switch/values", [100, 0, -100]),
        replace(f"{SELECTOR}/states/0/band/percent", [34, 150]),
        replace(f"{SELECTOR}/states/2/band/percent", [-150, -34]),
        why="Switch values and bands are both the other way round.",
    )
    yield passes(
        replace(f"{SELECTOR}/states/2/band/percent", [34, 100]),
        why="The band ends exactly where the switch does: an end belongs to the band.",
    )


@rule(
    "bands/gap",
    word="warning",
    title="A value that the control can give selects no state",
    each="selectors",
    needs=("stabiliser",),
    safety="What the receiver does in the gap is not known: it may keep the last mode, or choose "
    "one of its own. Prove each position on the bench, propeller off, before flying.",
    remedy="Bring the value into a band with the channel's travel or the switch's values, or read "
    "the band's ends from the receiver again.",
    bench="With the propeller off, put the controls there and see which mode the receiver shows.",
    source="common practice, no source",
    examples=_examples,
)
def gap(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """Every value that can arrive must mean something.

    All controls are looked at, in all combinations, those that reach the channel through mixes and
    overrides too.
    """
    found = selector.gap
    if found is None:
        return PASS
    us, controls = found
    return Fail(
        f"With {spoken(controls)}, channel {selector.channel.number} puts out {round(us, 1):g} µs, "
        f"which lies in no state of “{selector.name}”.",
        at=blamed(selector, path, us),
        evidence={"controls": dict(controls), "us": us},
        because=_mixed_in(selector, path),
    )


def _mixed_in(selector: SelectorPath, path: Path) -> Cause | None:
    """The mix into the channel, where without a touch of the mix's controls there is no gap."""
    mixes = selector.channel.mixes
    if not mixes:
        return None
    rest = path.rest(*selector.controls)
    still = {control: rest[control] for control in selector.channel.controls if control in rest}
    if all(selected.states for selected in selector.positions_where(still)):
        return Cause("mixing/into-selector", mixes[0].at)
    return None
