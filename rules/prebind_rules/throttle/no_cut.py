"""An electric model has no throttle cut."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Settings, fails, passes, put, remove, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example


def _examples() -> Iterable[Example]:
    yield fails(
        remove("/overrides"),
        why="Nothing keeps the motor still but the throttle stick.",
        at="",
        says=["no throttle cut"],
    )
    yield fails(
        replace("/overrides/0/purpose", "other"),
        why="An override that nobody calls a throttle cut.",
        at="/overrides",
        says=["no throttle cut"],
    )
    yield fails(
        replace("/overrides/0/purpose", "throttle-hold"),
        why="A throttle hold is a helicopter's; an aeroplane needs a cut.",
        at="/overrides",
        says=["no throttle cut"],
    )
    yield passes(
        remove("/overrides"),
        put("/channels/-", {"channel": 7, "function": "arm", "control": "cut-switch"}),
        why="No cut, and the receiver lets the motor run only while it is armed.",
    )
    yield passes(
        remove("/overrides"),
        start="glow",
        why="Without a cut a glow engine starts no more by itself than with one.",
        outcome="notApplicable",
    )
    yield passes(
        put("/overrides/0/name", "hold"),
        start="helicopter",
        why="A helicopter's throttle hold is its cut.",
    )


@rule(
    "throttle/no-cut",
    word="danger",
    title="An electric model has no throttle cut",
    each="setup",
    needs=("electric",),
    safety="A sleeve that brushes the throttle stick starts the propeller, and it cuts whoever "
    "carries the model. Keep the propeller off until there is a throttle cut.",
    remedy="Set a throttle cut on a switch of its own (a helicopter: a throttle hold), so that the "
    "motor stays still wherever the throttle stands.",
    bench="Propeller off, model held down: with the cut on, move the throttle up, and see that the "
    "motor stays still.",
    source="common practice, no source",
    examples=_examples,
)
def no_cut(place: Path, path: Path, settings: Settings) -> Answer:
    """An electric motor is ready to run from the moment its pack is connected.

    The stick alone does not keep it still: it is knocked while the model is carried.  A switch of
    its own does.
    """
    setup = path.setup
    asked = ["throttle-cut"]
    if setup.model.airframe == "helicopter":
        asked.append("throttle-hold")
    if any(override.purpose in asked for override in setup.overrides):
        return PASS
    if any(channel.function == "arm" for channel in setup.channels):
        return PASS
    return Fail(
        f"This electric {setup.model.airframe} has no {' or '.join(asked).replace('-', ' ')}, and "
        "no channel that arms it.",
        at="/overrides" if setup.overrides else "",
        evidence={"purposes": [override.purpose for override in setup.overrides]},
    )
