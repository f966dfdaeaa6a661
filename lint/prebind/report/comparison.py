"""What a comparison says in words: each change as what was, and what is now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.report.telling import many
from prebind.report.wording import number, where

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from prebind.inspect.comparing import Change, Comparison, NotCompared, Renamed, Repeat

    Value = Mapping[str, Any] | None
    Naming = Callable[[str], str]

SECTIONS = {
    "motors": "Motors",
    "failsafe": "When the link is lost",
    "directions": "Which way surfaces go",
    "selectors": "What switch positions select",
    "surfaces": "How far surfaces go",
    "ports": "Pulses",
    "recorded": "What is written down of the parts",
}
"""Headings, in the order of the sections."""

CAUTION = (
    "Worked out from what is written down; the model itself may differ. Prove on the model what "
    "changed, propeller off and model restrained, before it flies again. The law where you fly, "
    "the site's rules, the makers' instructions and an experienced instructor come first."
)

_STICK = {"roll": "stick right", "pitch": "stick back", "yaw": "stick right"}
_HAND = {
    "roll": "rolled right by hand",
    "pitch": "nose pushed up by hand",
    "yaw": "nose turned right by hand",
}
_RELEASES = {"at-low": "only once the stick has been low", "at-once": "at once"}
_ACTIONS = {"preset": "preset", "hold": "hold", "no-pulses": "no pulses"}


class Line(NamedTuple):
    """One change in words; `head` says of what, and in which situation."""

    head: str
    before: str
    after: str

    @property
    def sentence(self) -> str:
        return f"{self.head}: was {self.before}, now {self.after}."


def line(change: Change) -> Line:
    """Names of the document are in it as they are."""
    head, said = _WORDS[change.section](change)
    if change.controls:
        head = f"{head}, {where(change.controls)}"
    before = _value(change.before, change.at_old, said)
    return Line(head, before, _value(change.after, change.at_new, said))


def _value(value: Value, at: str | None, said: Callable[[Value], str]) -> str:
    if at is None:
        return "not there"
    for key, words in (("not_checked", "beyond the bound"), ("fault", "the linkage fails")):
        if value and key in value:
            return f"not known ({words}: {value[key]})"
    if value and set(value) == {"not_known"}:
        return f"not known ({value['not_known']})"
    return said(value)


Words = tuple[str, "Callable[[Value], str]"]


def _motor(change: Change) -> Words:
    fact = change.fact
    if fact.startswith("after "):
        return f"{change.about}, when {fact.removeprefix('after ')} lets go", _released
    if fact.startswith("under "):
        return f"{change.about}, {fact}", lambda value: _state(value, "never so")
    return f"{change.about}, {fact}", lambda value: _state(value, "always overridden")


def _released(value: Value) -> str:
    if value is None:
        return "not there"
    return f"back {_RELEASES[value['release']]}" if value["release"] else "not recorded"


def _state(value: Value, nothing: str) -> str:
    if value is None:
        return nothing
    return value["state"] if value["us"] is None else f"{value['state']} at {_us(value['us'])}"


def _failsafe(change: Change) -> Words:
    said = {
        "motor": lambda value: _state(value, "no entry"),
        "pulse": _lost,
        "state": _lost_state,
        "throw": lambda value: "not known" if value is None else _deg(value["deg"], value["way"]),
    }
    return change.about, said[change.fact]


def _lost(value: Value) -> str:
    if value is None:
        return "no entry"
    pulse = "" if value["us"] is None else f" {_us(value['us'])}"
    return f"{_ACTIONS[value['action']]}{pulse}"


def _lost_state(value: Value) -> str:
    if value is None:
        return "no entry"
    if value["action"] == "preset":
        return f"preset, {_selected(value)}"
    states = " or ".join(map(_behaving, value["states"]))
    return f"{_ACTIONS[value['action']]}{f', {states}' if states else ''}"


def _direction(change: Change) -> Words:
    axis = change.about.rpartition(", ")[2]
    head = change.about.rpartition(", ")[0]
    if change.fact == "target":
        return f"{head}, {axis} stick where it sets a target", _sign
    hand = change.fact == "correction"
    return f"{head}, {(_HAND if hand else _STICK)[axis]}", _moves


def _sign(value: Value) -> str:
    if value is None:
        return "nothing"
    return {1: "the right way", -1: "the WRONG way", 0: "nowhere"}[value["sign"]]


def _moves(value: Value) -> str:
    if value is None:
        return "nothing"
    ways = " or ".join(value["moves"])
    return f"{ways.upper()}, the wrong way" if value.get("sign") == -1 else ways


def _selector(change: Change) -> Words:
    return change.about, _selecting


def _selecting(value: Value) -> str:
    if value is None:
        return "no such position"
    return "; ".join(map(_selected, value.get("stretches", [value])))


def _selected(value: Mapping[str, Any]) -> str:
    margin = value["margin_us"]
    beside = "" if margin is None else f", {_us(margin)} from an edge"
    at = value["us"]
    pulse = f"at {_us(at)}" if not isinstance(at, list) else f"from {_us(at[0])} to {_us(at[1])}"
    return f"{_states(value['states'])} {pulse}{beside}"


def _states(states: list[Mapping[str, str]]) -> str:
    names = " and ".join(map(_behaving, states))
    return names if len(states) == 1 else f"{names}: an overlap," if names else "no state: a gap,"


def _behaving(state: Mapping[str, str]) -> str:
    return f"{state['state']} ({state['behaviour']})"


def _surface(change: Change) -> Words:
    return change.about, _throw


def _throw(value: Value) -> str:
    if value is None:
        return "not there"
    ends = (_deg(value[key], value["way"]) for key in ("low_deg", "high_deg"))
    return " to ".join(ends)


def _deg(deg: float, ways: list[str] | None) -> str:
    if ways is None:
        return f"{deg:+.1f}°, which way not recorded"
    if not deg:
        return f"{deg:.1f}°"
    return f"{abs(deg):.1f}° {ways[0] if deg >= 0 else ways[1]}"


def _port(change: Change) -> Words:
    return change.about, _pulses


def _pulses(value: Value) -> str:
    if value is None:
        return "not there"
    if "us" not in value:
        return f"{_us(value['low_us'])} to {_us(value['high_us'])}"
    turned = f" ({_deg(value['deg'], value['way'])})" if "deg" in value else ""
    return f"{_us(value['us'])}{turned}"


def _recorded(change: Change) -> Words:
    if not change.fact:
        return change.about, lambda _: "there"
    return f"{change.about}, {change.fact}", lambda value: _plain(value and value[change.fact])


def _plain(value: Any) -> str:
    if value is None:
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(_plain, value)) or "none"
    return number(value) if isinstance(value, int | float) else str(value)


_WORDS: Mapping[str, Callable[[Change], Words]] = {
    "motors": _motor,
    "failsafe": _failsafe,
    "directions": _direction,
    "selectors": _selector,
    "surfaces": _surface,
    "ports": _port,
    "recorded": _recorded,
}


def _us(us: float) -> str:
    return f"{us:.1f} µs"


# Around the changes


def counted(found: Comparison) -> str:
    """How much changed, in a sentence."""
    if found.same:
        return "Nothing changed in effect."
    told = [
        f"{many(len(found.changes), 'change')} in effect",
        f"{many(len(found.gained), 'finding')} gained",
        f"{len(found.lost) or 'none'} lost",
        f"{many(len(found.repeat), 'check')} to repeat",
    ]
    if found.not_compared:
        told.append(f"{many(len(found.not_compared), 'fact')} that could not be compared")
    said = ", ".join(told)
    return f"{said[0].upper()}{said[1:]}."


def renamed(one: Renamed) -> str:
    of = "" if one.control is None else f" of “{one.control}”"
    return f"{one.what} “{one.old}”{of} is now “{one.new}”"


def not_compared(one: NotCompared) -> str:
    return f"{one.about}, {one.fact}: {one.reason}"


def signed(one: Repeat) -> str:
    """How the check stood."""
    if one.sign_off is None:
        return "was not signed off before"
    return f"was signed off by {one.sign_off.by} on {one.sign_off.on}, and is stale now"
