"""No combination of controls selects a state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Cause, Fail, Settings, fails, passes, put, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, SelectorPath
    from prebind.rule import Example

STATES = "/receiver/stabiliser/selectors/0/states"


def _examples() -> Iterable[Example]:
    two = {"kind": "switch", "positions": ["back", "forward"]}
    button = {"control": "mode-button", "positions": ["pressed"]}
    lift = {"name": "middle", "purpose": "other", "channel": 5, "demand_percent": 0}
    yield fails(
        put("/transmitter/controls/mode-switch/values", [-100, -50, 100]),
        why="The middle position gives −50 %: still level.",
        at=f"{STATES}/1/band",
        says=["“limited”", "1364 to 1636 µs"],
        word="caution",
    )
    yield fails(
        put("/channels/5/travel_percent", {"low": 100, "high": 0}),
        replace("/receiver/stabiliser/selectors/1/states/0/band/percent", [-150, 34]),
        replace("/receiver/stabiliser/selectors/1/states/1/band/percent", [34, 150]),
        why="With no travel on its upper side the recovery channel never gets there.",
        at="/receiver/stabiliser/selectors/1/states/1/band",
        says=["“recover”", "1636 to 2100 µs", "1500 µs"],
        word="warning",
    )
    yield passes(
        put("/transmitter/controls/mode-switch/values", [-100, -30, 100]),
        why="The middle position gives −30 %, just inside the limited band.",
    )
    yield passes(
        replace("/transmitter/controls/mode-switch", two),
        put("/transmitter/controls/mode-button", {"kind": "button"}),
        put("/overrides/-", {**lift, "when": [button]}),
        why="The switch skips the middle, but a button lays it over the channel.",
    )


@rule(
    "bands/unreachable",
    word="caution",
    title="No control position selects a state",
    each="selectors",
    needs=("stabiliser",),
    safety="A mode that cannot be chosen is missing in the moment when it is wanted, recovery "
    "above all. Try every mode on the bench, propeller off, and count on none that did not show.",
    remedy="Give a position the value of the state's band, by the channel's travel or the switch's "
    "values, or use a control with more positions.",
    bench="With the propeller off, go through all positions and note which modes the receiver "
    "shows.",
    source="common practice, no source",
    examples=_examples,
)
def unreachable(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """The receiver knows a state, and no position of any control leads there.

    All controls are looked at in all combinations, overrides and mixes too.
    """
    bands = [band for band in selector.bands if band.state.state not in selector.reached]
    if not bands:
        return PASS
    channel, reach = selector.channel, selector.channel.reach
    there = selector.control_positions()
    few = there is not None and there < len(selector.bands)
    control_at = f"{channel.at}/control" if channel.entry.control else channel.at
    return [
        Fail(
            f"No control position selects “{band.state.state}” of “{selector.name}” "
            f"({band.low_us:.0f} to {band.high_us:.0f} µs); channel {channel.number} goes from "
            f"{reach.low.us:.0f} to {reach.high.us:.0f} µs.",
            at=f"{band.state.at}/band",
            word="warning" if band.state.behaviour == "recovery" else "caution",
            evidence={
                "state": band.state.state,
                "band_us": [band.low_us, band.high_us],
                "reach_us": [reach.low.us, reach.high.us],
            },
            because=Cause("capacity/positions", control_at) if few else None,
        )
        for band in bands
    ]
