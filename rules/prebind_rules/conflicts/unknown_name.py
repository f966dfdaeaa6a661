"""Something is named that does not exist."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Fix, Settings, fails, passes, put, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path, Reference
    from prebind.rule import Example


NUMBERED = frozenset({"channel", "port"})


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/4/control", "mode-swich"),
        why="A letter is missing in the control's name.",
        at="/channels/4/control",
        says=["control", "“mode-swich”", "“mode-switch”"],
    )
    yield fails(
        replace("/overrides/0/when/0/positions", ["off"]),
        why="The cut waits for a switch position that does not exist: it never comes on.",
        at="/overrides/0/when/0/positions/0",
        says=["position", "“off”", "“run”, “cut”"],
    )
    yield fails(
        replace("/receiver/outputs/4/channel", 7),
        why="Output 5 takes a channel that nothing makes.",
        at="/receiver/outputs/4/channel",
        says=["no channel 7"],
    )
    yield passes(
        replace("/channels/4/control", "rate-switch"),
        why="Another control that exists; whether it is the right one is not this rule's question.",
    )
    yield passes(
        put("/x-note", "The mode-swich sticks at times."),
        why="A misspelt name in a note names nothing.",
    )


@rule(
    "conflicts/unknown-name",
    word="warning",
    title="Something is named that does not exist",
    each="setup",
    safety="A cut, a mode or a surface that hangs on this name may not do in flight what was "
    "meant, and the inspection cannot tell. Do not rely on it before the name is put right.",
    remedy="Write the name as it stands where it is defined, or add what is missing.",
    bench="With the propeller off, work the control that was meant and see what it does.",
    source="common practice, no source",
    examples=_examples,
)
def unknown_name(setup: Path, path: Path, settings: Settings) -> Answer:
    """A name that nothing answers to is most often a slip of the pen.

    What depends on it cannot be worked out.  It is reported as open, never guessed.
    """
    return [_unknown(reference) for reference in path.names] or PASS


def _unknown(reference: Reference) -> Fail:
    kind, name = reference.kind, reference.name
    if kind in NUMBERED:
        return Fail(
            f"There is no {kind} {name}.", reference.at, {"kind": kind, "number": int(name)}
        )
    nearest = reference.nearest
    known = ", ".join(f"“{there}”" for there in reference.known)
    meant = f"; did you mean “{nearest}”?" if nearest else f"; there is {known or 'none'}."
    # A selector's name is a key: there is no value to replace.
    fixable = nearest is not None and kind != "selector"
    return Fail(
        f"There is no {kind} “{name}”{meant}",
        reference.at,
        {"kind": kind, "name": name, "known": list(reference.known)},
        fix=Fix("decide", (replace(reference.at, nearest),)) if fixable else None,
    )
