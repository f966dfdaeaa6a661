"""Plain text for a terminal or a page: nothing raw from a document, lines no longer than wanted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

_GLUE = "\0"  # a space at which no line may be broken; clean text never has one

_LEAST = 20  # characters of text on a line, however far it is set in

_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f"), " ")

_UNITS = {
    "m_s": "m/s",
    "v_per_cell": "V a cell",
    "us": "µs",
    "percent": "%",
    "deg": "°",
    "a": "A",
    "ampere": "A",
    "v": "V",
    "volts": "V",
    "ohm": "Ω",
    "s": "s",
    "ms": "ms",
    "hz": "Hz",
    "mm": "mm",
    "ncm": "N·cm",
}
"""The last part of a key, and the unit that it gives; the longer ones first."""


def clean(text: object) -> str:
    """Text as it may reach a terminal: on one line, control and bidi characters spelt out."""
    whole = str(text)
    if whole.isprintable():
        return whole
    whole = whole.translate(_SPACES)
    return "".join(char if char.isprintable() else _spelt(ord(char)) for char in whole)


def _spelt(code: int) -> str:
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def paragraph(text: str, width: int | None, first: str = "", rest: str = "") -> str:
    """The text wrapped to `width` characters, ending in a line feed; None leaves it on one line.

    `first` stands before its first line, `rest` before the others.  A number stays with its unit.
    """
    if width is None:
        return f"{first}{text}\n".replace(_GLUE, " ")
    import re
    from textwrap import wrap

    text = re.sub(r"(?<=\d) (?=[^\s\d]{1,4}(?:[\s,.;:)]|$))", _GLUE, text)
    room = max(width, len(rest) + _LEAST)
    begun = [first.rstrip()] if len(first) > room - _LEAST else []
    lines = begun + wrap(
        text,
        room,
        initial_indent=rest if begun else first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(lines).replace(_GLUE, " ") + "\n"


def number(value: float) -> str:
    """As a person writes it: 5, 1900.1, 0.034."""
    if value != value or value in (float("inf"), float("-inf")):
        return str(value)
    return f"{round(value, 1) + 0.0:.10g}" if abs(value) >= 10 else f"{value + 0.0:.3g}"


def where(controls: Mapping[str, Any]) -> str:
    """Control positions: `mode-switch at middle, gain-knob at 40 %`."""
    return ", ".join(
        f"{clean(name)} at {clean(at) if isinstance(at, str) else f'{number(at)} %'}"
        for name, at in controls.items()
    )


def evidence(found: Mapping[str, Any]) -> str:
    """What led to a finding, in a few words each: `margin 12.5 µs; states level, damped`."""
    return "; ".join(_fact(key, value) for key, value in found.items() if value is not None)


def _fact(key: str, value: Any) -> str:
    if key == "controls" and isinstance(value, Mapping):
        return f"with {where(value)}" if value else "wherever the controls stand"
    if isinstance(value, bool):
        value = "yes" if value else "no"
    name, unit = _unit(key)
    said = _said(value, unit)
    return f"{clean(name)} {said}" if name else said


def _unit(key: str) -> tuple[str, str]:
    """A key without its unit, and the unit."""
    for ending, unit in _UNITS.items():
        if key == ending:
            return "", unit
        if key.endswith(f"_{ending}"):
            return key.removesuffix(f"_{ending}").replace("_", " "), unit
    return key.replace("_", " "), ""


def _said(value: Any, unit: str = "") -> str:
    if isinstance(value, Mapping):
        inner = ", ".join(_fact(str(key), inside) for key, inside in value.items())
        return f"({inner})"
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, Iterable):
        return ", ".join(_said(inside, unit) for inside in value) or "none"
    if isinstance(value, int | float):
        return f"{number(value)} {unit}".rstrip()
    return clean(value)
