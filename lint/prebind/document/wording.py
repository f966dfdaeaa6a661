"""How places and values of a document are put into words, for someone who did not write the schema.

What stands in the document comes from anywhere: it is shortened, and no control character in it
reaches a message.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.document.fault import Fault
from prebind.document.positions import escape

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Path = tuple[str | int, ...]
Schema = dict[str, Any]

MOST_FOUND = 1000  # a hostile document can have a fault in every byte
_MOST_TOLD = 100
_LONGEST = 40  # characters of a text that are shown
LABELS = ("name", "id", "state", "axis", "check", "rule")
_NUMBERS = ("port", "channel")
_ENDS = {
    "exclusiveMinimum": "above",
    "minimum": "from",
    "exclusiveMaximum": "below",
    "maximum": "up to",
}
_UNITS = {
    "volts": "volts",
    "percent": "percent",
    "us": "microseconds",
    "ms": "milliseconds",
    "s": "seconds",
    "mm": "millimetres",
    "deg": "degrees",
    "g": "grams",
    "a": "amperes",
    "hz": "hertz",
    "dm2": "square decimetres",
    "cm2": "square centimetres",
    "ncm": "newton centimetres",
    "mah": "milliampere-hours",
}
_WHOLE_UNITS = {
    "values": "percent",
    "points": "percent",
    "max_speed_m_s": "metres a second",
    "us_per_percent": "microseconds a percent",
    "degrees_per_us": "degrees a microsecond",
    "warning_v_per_cell": "volts a cell",
}


def fault(path: Path, message: str, *, key: bool = False) -> Fault:
    return Fault("".join(f"/{escape(str(step))}" for step in path), message, key)


def told(faults: list[Fault]) -> list[Fault]:
    """Of up to MOST_FOUND faults the first hundred, and one that says how many more there are."""
    left = len(faults) - _MOST_TOLD
    if left <= 0:
        return faults
    at_least = "at least " if len(faults) == MOST_FOUND else ""
    more = f"there are {at_least}{left} more faults than are listed here; mend these first"
    return [*faults[:_MOST_TOLD], fault((), more)]


def shown(value: object) -> str:
    """A value as it may stand in a message: short, on one line."""
    match value:
        case str():
            more = f" ({len(value)} characters)" if len(value) > _LONGEST else ""
            return f'"{plain(value)}"{more}'
        case bool():
            return "true" if value else "false"
        case None:
            return "null"
        case int() | float():
            return number(value)
        case list() if len(value) <= 4 and not any(isinstance(it, list | dict) for it in value):
            return f"[{', '.join(map(shown, value))}]"
        case list():
            return f"a list of {len(value)}"
    return "an object"


def number(value: float) -> str:
    """A number as a person writes it: 5, not 5.0."""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def quoted(key: str) -> str:
    """A key or a word of the document, marked as such."""
    return f"`{plain(key)}`"


def any_of(words: Iterable[str], last: str = "or") -> str:
    *first, end = words
    return f"{', '.join(first)} {last} {end}" if first else end


def place(data: object, path: Path, labels: Iterable[str] = LABELS) -> str:
    """`channels` entry 2 (channel 3): `travel_percent.low`.

    The last step may be a key that is missing.  `labels` are keys by which entries call themselves.
    """
    parts: list[str] = []
    keys: list[str] = []
    for step in path:
        if isinstance(step, str):
            data = data.get(step) if isinstance(data, dict) else None
            keys.append(step)
            continue
        data = data[step]  # type: ignore[index]
        parts.append(f"{quoted('.'.join(keys))} entry" if keys else "number")
        parts[-1] += f" {step + 1}{_label(data, labels)}"
        keys = []
    if not keys:
        return ", ".join(parts)
    within = f"{', '.join(parts)}: " if parts else ""
    return within + quoted(".".join(keys))


def expected(schema: Schema, path: Path = ()) -> str:
    """What may stand where `schema` applies."""
    if "anyOf" in schema:
        return ", or ".join(expected(it, path) for it in schema["anyOf"])
    if "const" in schema:
        return shown(schema["const"])
    if "enum" in schema:
        words = [quoted(it) if isinstance(it, str) else shown(it) for it in schema["enum"]]
        return f"one of {any_of(words)}" if len(words) > 2 else any_of(words)
    if "title" in schema and "description" not in schema:  # with one, both are about a key
        return str(schema["title"])
    kinds = schema["type"]
    return any_of(
        _expected(it, schema, path) for it in ([kinds] if isinstance(kinds, str) else kinds)
    )


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that was probably meant."""
    if len(word) > 2 * _LONGEST:
        return None
    from rapidfuzz.distance import JaroWinkler
    from rapidfuzz.process import extractOne

    found = extractOne(
        word,
        known,
        scorer=JaroWinkler.normalized_similarity,
        processor=lambda it: it.lower().replace("_", "-").replace(" ", "-"),
        score_cutoff=0.8,
    )
    return found[0] if found else None


def plain(text: str) -> str:
    """Cut short, and without what would steer a terminal."""
    short = text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"
    return "".join(it if it.isprintable() else f"\\u{ord(it):04x}" for it in short)


def _label(entry: object, labels: Iterable[str]) -> str:
    """What an entry of a list calls itself, in brackets."""
    if not isinstance(entry, dict):
        return ""
    for key in labels:
        if isinstance(entry.get(key), str):
            return f" ({plain(entry[key])})"
    for key in _NUMBERS:
        if type(entry.get(key)) is int:
            return f" ({key} {entry[key]})"
    return ""


def _expected(kind: str, schema: Schema, path: Path) -> str:
    match kind:
        case "number" | "integer":
            noun = "a number" if kind == "number" else "a whole number"
            return noun + _range(schema) + _unit(path)
        case "boolean":
            return "true or false"
        case "array" if schema.get("maxItems") == 2 == schema.get("minItems"):
            return "a list of two, [low, high]"
        case "array":
            return "a list, in [ and ]"
        case "string":
            return _text(schema)
        case "null":
            return "null"
    if schema.get("required"):
        return f"an object with {any_of(map(quoted, schema['required']), 'and')}"
    keys = schema.get("properties")
    return f"an object with {any_of(map(quoted, keys))}" if keys else "an object, in { and }"


def _range(schema: Mapping[str, float]) -> str:
    ends = [f"{word} {number(schema[key])}" for key, word in _ENDS.items() if key in schema]
    match ends:
        case []:
            return ""
        case [low] if "minimum" in schema:
            return f" {low} upwards"
        case [low, _] if "minimum" in schema and "maximum" in schema:
            return f" {low} to {number(schema['maximum'])}"
    return f" {any_of(ends, 'and')}"


def _text(schema: Schema) -> str:
    least, most = schema.get("minLength"), schema.get("maxLength")
    size = f" of {_between(least, most)} characters" if least or most is not None else ""
    fits = f" that fits {quoted(schema['pattern'])}" if "pattern" in schema else ""
    return f"a text{size}{fits}"


def _between(least: int | None, most: int | None) -> str:
    if least and most is not None:
        return f"{least} to {most}"
    return f"at least {least}" if least else f"at most {most}"


def _unit(path: Path) -> str:
    """The unit that the innermost key with one gives, in brackets."""
    for key in reversed(path):
        if not isinstance(key, str):
            continue
        unit = _WHOLE_UNITS.get(key) or _UNITS.get(key.rpartition("_")[2])
        if unit:
            return f" ({unit})"
    return ""
