"""A flight mode, recovery or another selector on the wrong kind of control."""

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
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import ChannelPath, ControlPath, Path
    from prebind.rule import Example, Word


def _examples() -> Iterable[Example]:
    knob = put("/transmitter/controls/side-knob", {"kind": "knob"})
    on_knob = replace("/channels/4/control", "side-knob")
    yield fails(
        replace("/channels/5/control", "rate-switch"),
        why="Recovery on a switch stays on after the hand has left it.",
        at="/channels/5/control",
        says=["recovery", "“rate-switch”", "does not spring back"],
        word="notice",
    )
    yield fails(
        knob,
        replace("/channels/5/control", "side-knob"),
        why="Recovery on a knob is neither found in a hurry nor let go of.",
        at="/channels/5/control",
        says=["recovery", "“side-knob”"],
        word="caution",
    )
    yield fails(
        replace("/channels/4/control", "recovery-button"),
        why="A flight mode on a button lasts only while the button is held.",
        at="/channels/4/control",
        says=["flight-mode", "“recovery-button”", "springs back"],
        word="caution",
    )
    yield fails(
        knob,
        on_knob,
        why="On a knob a flight mode cannot be told by hand, nor kept away from a band's edge.",
        at="/channels/4/control",
        says=["flight-mode", "“side-knob”", "continuous"],
        word="caution",
    )
    yield passes(
        put("/transmitter/controls/rate-switch/sprung", True),
        replace("/channels/5/control", "rate-switch"),
        why="A sprung switch lets go of recovery as a button does.",
    )
    yield passes(
        knob,
        on_knob,
        replace("/channels/4/function", "gain"),
        replace("/receiver/stabiliser/selectors/0/purpose", "gain"),
        why="A gain may well sit on a knob.",
    )


@rule(
    "conflicts/kind",
    word="caution",
    title="A selector on the wrong kind of control",
    each="channels",
    safety="In a moment of fright the hand must find the mode and be sure of it; a control of the "
    "wrong kind leaves the model in a mode that the pilot does not expect. Practise finding each "
    "control without looking, on the ground.",
    remedy="Put recovery on a sprung button, a flight mode on a switch that stays, and keep "
    "sliders and knobs for gains.",
    bench="Choose each mode and recovery without looking, and let go: see what stays selected.",
    source="common practice, no source",
    examples=_examples,
)
def kind(channel: ChannelPath, path: Path, settings: Settings) -> Answer:
    """Recovery is held down in need and let go again: it wants a control that springs back.

    A flight mode must stay where it was put, so a button does not suit it.  A slider or knob has
    no positions that stand still; only a gain is at home there.
    """
    purposes = {channel.function} & {"flight-mode", "recovery"}
    purposes |= {s.entry.purpose for s in path.selectors if s.entry.channel == channel.number}
    if not purposes or channel.control is None:
        return NOT_APPLICABLE
    control = path.control(channel.control)
    for purpose in sorted(purposes):
        fault = _fault(purpose, control)
        if fault is not None:
            word, what = fault
            return Fail(
                f"Channel {channel.number} selects {purpose} with “{control.id}”, {what}.",
                at=f"{channel.at}/control",
                word=word,
                evidence={
                    "channel": channel.number,
                    "purpose": purpose,
                    "control": control.id,
                    "kind": control.entry.kind,
                    "sprung": control.sprung,
                },
            )
    return PASS


def _fault(purpose: str, control: ControlPath) -> tuple[Word, str] | None:
    kind = control.entry.kind
    if purpose == "recovery" and not control.sprung:
        return (
            "caution" if control.continuous else "notice"
        ), f"a {kind} that does not spring back"
    if purpose == "flight-mode" and control.sprung and not control.continuous:
        return "caution", f"a {kind} that springs back"
    if purpose != "gain" and control.continuous:
        return "caution", f"a {kind}, which is continuous and has no positions"
    return None
