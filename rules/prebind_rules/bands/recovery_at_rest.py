"""Recovery is active with its control released."""

from __future__ import annotations

from typing import TYPE_CHECKING

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

    from prebind import Path, Selected, SelectorPath
    from prebind.rule import Example

SELECTOR = "/receiver/stabiliser/selectors/1"


def _examples() -> Iterable[Example]:
    reverse = put("/channels/5/reversed", True)
    yield fails(
        reverse,
        why="The reversed channel goes low when the button is pressed.",
        at="/channels/5/reversed",
        says=["recovery-button at released", "1900", "“recover”"],
    )
    yield fails(
        replace(f"{SELECTOR}/states/0/behaviour", "recovery"),
        replace(f"{SELECTOR}/states/1/behaviour", "off"),
        why="The two states were written down the wrong way round.",
        at=f"{SELECTOR}/states/0/band",
        says=["recovery-button at released", "1100", "“off”"],
    )
    yield passes(
        reverse,
        replace(f"{SELECTOR}/states/0/band/percent", [0, 150]),
        replace(f"{SELECTOR}/states/1/band/percent", [-150, 0]),
        why="Channel and bands are both the other way round.",
    )
    yield passes(
        put("/transmitter/controls/recovery-button/values", [-5, 100]),
        why="Released, the button gives −5 %: close to the edge, but off.",
    )


@rule(
    "bands/recovery-at-rest",
    word="warning",
    title="Recovery is active with its control released",
    each="selectors",
    needs=("stabiliser",),
    safety="The receiver flies the recovery all the time and lets go when the button is pressed: "
    "the pilot does not have the model. Put it right, and try the button with the propeller off.",
    remedy="Reverse the recovery channel at the transmitter, or read the bands from the receiver "
    "again.",
    bench="With the propeller off, leave the control alone and see that the receiver shows no "
    "recovery; then press it and see that it does.",
    source="common practice, no source",
    examples=_examples,
)
def recovery_at_rest(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """Recovery must wait until it is asked for.

    Only controls that spring back have a released position.  A latching control of the same
    selector may stand anywhere; recovery that one of its positions selects on purpose is none of
    this rule's business, unless every position does.
    """
    recovery = {s.state for s in selector.entry.states if s.behaviour == "recovery"}
    sprung = [c for c in map(path.control, selector.controls) if c.sprung]
    if not recovery or not sprung:
        return NOT_APPLICABLE
    released = list(selector.positions_where({control.id: control.rest for control in sprung}))
    latching = [c for c in selector.controls if not path.control(c).sprung]
    active = [s for s in released if recovery & set(s.states)]
    if _where(active, latching) != _where(released, latching):
        return PASS
    worst, channel = active[0], selector.channel
    state = next(name for name in worst.states if name in recovery)
    return Fail(
        f"With {spoken(worst.controls)}, channel {channel.number} puts out {worst.us:.0f} µs, "
        f"which selects “{state}” of “{selector.name}”: recovery is active before anybody asks.",
        at=f"{channel.at}/reversed"
        if channel.entry.reversed
        else f"{selector.state(state).at}/band",
        evidence={
            "controls": dict(worst.controls),
            "us": worst.us,
            "percent": worst.percent,
            "state": state,
        },
        fix=_turned(selector, path, worst.us, recovery),
    )


def _where(selected: list[Selected], controls: list[str]) -> set[tuple[object, ...]]:
    """Where some controls stand in these combinations."""
    return {tuple(s.controls[control] for control in controls) for s in selected}


def _turned(selector: SelectorPath, path: Path, us: float, recovery: set[str]) -> Fix | None:
    """The channel the other way round, where that alone lets go of recovery."""
    channel = selector.channel
    entry = channel.entry
    lopsided = entry.subtrim_percent or entry.travel_percent.low != entry.travel_percent.high
    mirrored = 2 * path.setup.transmitter.output.centre_us - us
    if (
        lopsided
        or channel.mixes
        or channel.overrides
        or recovery & set(selector.states_at(mirrored))
    ):
        return None
    return Fix("decide", (put(f"{channel.at}/reversed", not entry.reversed),))
