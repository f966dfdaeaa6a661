"""The stabiliser falls into a wrong state, or none, when the link is lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Fix,
    Open,
    Settings,
    fails,
    passes,
    remove,
    replace,
    rule,
)
from prebind_rules.failsafe._presets import ENTRIES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, SelectorPath
    from prebind.model import FailsafeChannel
    from prebind.rule import Example

ENTRY = f"{ENTRIES}/4"
PRESET = f"{ENTRY}/output_percent"
WANTED = "/receiver/failsafe/intended_states"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(PRESET, 100),
        why="The failsafe was stored with the mode switch forward.",
        at=PRESET,
        says=["flight mode", "1900 µs", "damped", "level"],
    )
    yield fails(
        replace("/receiver/stabiliser/selectors/0/states/0/band/percent", [-90, -34]),
        why="The preset lies below the lowest band.",
        at=PRESET,
        says=["flight mode", "1100 µs", "no state"],
    )
    yield fails(
        replace(f"{ENTRY}/action", "hold"),
        remove(PRESET),
        why="Held, the flight mode is the one that happened to be on.",
        at=f"{ENTRY}/action",
        says=["flight mode", "holds", "limited"],
    )
    yield passes(
        replace(PRESET, -34.2),
        why="Just inside the band of the intended state.",
    )
    yield passes(
        replace(PRESET, 100),
        replace(f"{WANTED}/flight mode", "damped"),
        why="The state that the builder wants.",
    )
    yield passes(
        remove(f"{WANTED}/flight mode"),
        why="A state is selected, and which one is wanted is not recorded.",
        outcome="open",
    )


@rule(
    "failsafe/state",
    word="warning",
    title="The stabiliser falls into a wrong state, or none, when the link is lost",
    each="selectors",
    needs=("stabiliser", "failsafe"),
    safety="Without a link nobody can correct what the stabiliser does, and the model can fly away "
    "or dive. Prove the state with the propeller off before the model flies.",
    remedy="Set the failsafe of this channel to a value in the middle of the band of the state "
    "that you want, and write down which one that is.",
    bench="Propeller off: switch the radio off, tilt the model, and see from its surfaces which "
    "state the stabiliser is in.",
    source="common practice, no source",
    examples=_examples,
)
def state(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
    """When the link is lost the flight mode stays or goes where the failsafe says.

    A mode that keeps the wings level gives the model a chance.  A value between two bands, or one
    that is simply held, leaves it to luck.
    """
    if selector.entry.purpose not in ("flight-mode", "recovery"):
        return NOT_APPLICABLE
    entry = path.failsafe_entry(selector.entry.channel)
    if entry is None:
        return Open(
            f"The failsafe has no entry for channel {selector.entry.channel}, which selects "
            f"“{selector.name}”.",
            (ENTRIES,),
        )
    states = selector.failsafe.states or ()
    if entry.action == "no-pulses":
        return _undetermined(selector, entry, "sends no pulses")
    if entry.action == "hold" and (len(states) != 1 or selector.gap is not None):
        held = " or ".join(states) or "no state"
        return _undetermined(selector, entry, f"holds, and may be in {held}")
    return _fallen(selector, path, entry, states)


def _undetermined(selector: SelectorPath, entry: FailsafeChannel, how: str) -> Fail:
    return Fail(
        f"When the link is lost, channel {entry.channel}, which selects “{selector.name}”, {how}.",
        at=f"{entry.at}/action",
        evidence={"channel": entry.channel, "action": entry.action},
    )


def _fallen(
    selector: SelectorPath, path: Path, entry: FailsafeChannel, states: tuple[str, ...]
) -> Answer:
    """Judges the states that the selector certainly falls into."""
    wanted = _wanted(selector, path)
    if states and wanted is None:
        return Open(
            f"Which state of “{selector.name}” is wanted when the link is lost is not recorded; it "
            f"is {' and '.join(states)}.",
            (f"{WANTED}/{selector.name.replace('~', '~0').replace('/', '~1')}",),
        )
    if states and states == (wanted,):
        return PASS
    preset = entry.action == "preset"
    at = f"{entry.at}/{'output_percent' if preset else 'action'}"
    us = path.preset_us(entry)
    falls = f"in {' and '.join(states)}, not in {wanted}" if states else "in no state"
    return Fail(
        f"When the link is lost, “{selector.name}” "
        f"{f'gets {round(us, 1):g} µs' if preset else 'holds'} and is {falls}.",
        at=at,
        evidence={
            "action": entry.action,
            "percent": entry.output_percent,
            "us": us if preset else None,
            "states": list(states),
            "intended": wanted,
        },
        fix=_fix(selector, path, at, wanted) if preset else None,
    )


def _wanted(selector: SelectorPath, path: Path) -> str | None:
    """The intended state; None where none is recorded.  A name that no state has is unknown."""
    receiver = path.setup.receiver
    intended = receiver.failsafe.intended_states if receiver and receiver.failsafe else {}
    wanted = intended.get(selector.name)
    known = {state.state for state in selector.entry.states}
    return wanted if wanted in known else None


def _fix(selector: SelectorPath, path: Path, at: str, wanted: str | None) -> Fix | None:
    """The middle of the intended band, within what the transmitter can send."""
    least, most = path.limit_us
    for band in selector.bands:
        if band.state.state == wanted:
            us = (max(band.low_us, least) + min(band.high_us, most)) / 2
            output = path.setup.transmitter.output
            percent = round((us - output.centre_us) / output.us_per_percent, 1)
            return Fix("decide", (replace(at, percent),))
    return None
