"""A primary surface hangs limp when the link is lost."""

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
    remove,
    replace,
    rule,
)
from prebind_rules.failsafe._presets import ENTRIES, instead, is_primary

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import FailsafeChannel
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    for number, function in ((2, "elevator"), (3, "rudder")):
        yield fails(
            replace(f"{ENTRIES}/{number}/action", "no-pulses"),
            remove(f"{ENTRIES}/{number}/output_percent"),
            why=f"The {function}'s servo gets nothing, and the air moves the surface.",
            at=f"{ENTRIES}/{number}/action",
            says=[function, f"channel {number + 1}"],
        )
    yield passes(
        replace(f"{ENTRIES}/2/action", "hold"),
        remove(f"{ENTRIES}/2/output_percent"),
        why="Held, the elevator keeps its place.",
    )
    yield passes(
        put("/channels/-", {"channel": 7, "function": "gear", "control": "rate-switch"}),
        put(f"{ENTRIES}/-", {"channel": 7, "action": "no-pulses"}),
        why="A retracted undercarriage needs no pulses to stay where it is.",
    )


@rule(
    "failsafe/surface-limp",
    word="warning",
    title="A primary surface hangs limp when the link is lost",
    each="failsafe",
    needs=("failsafe",),
    safety="A servo without pulses lets its surface trail or flutter, and the model leaves its "
    "path or breaks up. Set the failsafe right before it flies.",
    remedy="Set this surface's failsafe to a preset near its neutral, or to hold.",
    bench="Propeller off: switch the radio off, and feel gently whether the surface is still held.",
    source="common practice, no source",
    examples=_examples,
)
def surface_limp(entry: FailsafeChannel, path: Path, settings: Settings) -> Answer:
    """Many servos give way when their pulses stop.

    The air then decides where the surface goes, and a loose surface can flutter.
    """
    if not is_primary(path, entry.channel):
        return NOT_APPLICABLE
    if entry.action != "no-pulses":
        return PASS
    function = path.channel(entry.channel).function
    return Fail(
        f"When the link is lost, the {function} on channel {entry.channel} gets no pulses.",
        at=f"{entry.at}/action",
        evidence={"channel": entry.channel, "action": entry.action},
        fix=instead(path, entry),
    )
