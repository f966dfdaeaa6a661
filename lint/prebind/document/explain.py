"""What a validator's error means, in words for the person who wrote the document."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from prebind.document.wording import any_of, expected, fault, nearest, place, quoted, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from prebind.document.fault import Fault
    from prebind.document.wording import Path

    Found = tuple[Path, Fault]

_MOST_WORDS = 10
_MOST_KEYS = 25
_WHOLE = {
    "model-setup/1": "a setup document",
    "rule-sheet/1": "a rule sheet",
    "wishes/1": "a document of wishes",
}
_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")


def explain(error: Any, data: dict[str, Any]) -> Iterator[Found]:
    """The faults behind one jsonschema error, each with its path, where its sort order comes from.

    Two errors that come to the same are explained in the same words.
    """
    path = tuple(error.absolute_path)
    if _about_a_name(error):
        return _odd_name(error, data, path)
    return _TELLERS.get(error.validator, _value)(error, data, path)


def _about_a_name(error: Any) -> bool:
    """Whether the error is a key's name, and not a value under a key called `propertyNames`."""
    steps = iter(error.absolute_schema_path)
    for step in steps:
        if step == "propertyNames":
            return True
        if step == "properties":
            next(steps, None)
    return False


def _missing(error: Any, data: Any, path: Path) -> Iterator[Found]:
    known = error.schema.get("properties", {})
    whose = _inner(path) or ("" if path else "the document")
    for key in error.validator_value:
        if key not in error.instance:
            of = f" from {whose}" if whose else ""
            about = _first_sentence(known.get(key, error.schema)["description"])
            message = f"{_entry(data, path)}{quoted(key)} is missing{of}: {about}"
            yield path, fault(path, message)


def _unknown(error: Any, data: Any, path: Path) -> Iterator[Found]:
    known = error.schema.get("properties", {})
    free = [k for k, of in known.items() if k not in error.instance and of.get("not") != {}]
    whose = _inner(path) or ("this entry" if path else _WHOLE[known["format"]["const"]])
    for key in error.instance:
        if key in known or key.startswith("x-"):
            continue
        meant = nearest(key, free)
        if meant:
            rest = f"; did you mean {quoted(meant)}?"
        elif not known:
            rest = "; only keys that begin with `x-` can stand there"
        else:
            few = 0 < len(free) <= _MOST_KEYS
            rest = f"; it may have {any_of(map(quoted, free))}" if few else ""
        message = f"{_entry(data, path)}{quoted(key)} is not a key of {whose}{rest}"
        yield (*path, key), fault((*path, key), message, key=True)


def _refused(error: Any, data: Any, path: Path) -> Iterator[Found]:
    """A key that another one rules out, or a text with a character that is ruled out."""
    if error.validator_value:
        yield from _value(error, data, path)
        return
    message = f"{place(data, path)} cannot stand here: {error.schema['description']}"
    yield path, fault(path, message, key=True)


def _choice(error: Any, data: Any, path: Path) -> Iterator[Found]:
    """Of several keys exactly one must be given."""
    if not isinstance(error.instance, dict):  # its type is wrong, which is said elsewhere
        return
    keys = [branch["required"][0] for branch in error.validator_value]
    given = [key for key in error.instance if key in keys]
    if given:
        path = (*path, given[1])
        message = f"{any_of(map(quoted, given), 'and')} exclude each other; give only one of them"
        yield path, fault(path, _entry(data, path) + message, key=True)
        return
    whose = _inner(path)
    of = f" from {whose}" if whose else ""
    message = f"{_entry(data, path)}one of {any_of(map(quoted, keys))} is missing{of}"
    yield path, fault(path, message)


def _size(error: Any, data: Any, path: Path) -> Iterator[Found]:
    schema, count = error.schema, len(error.instance)
    most = schema.get("maxItems", schema.get("maxProperties"))
    least = schema.get("minItems", schema.get("minProperties", 0))
    wanted = f"{least} to {most}" if least else f"at most {most}"
    if least == most:
        wanted = f"exactly {most}"
    entries = "1 entry" if count == 1 else f"{count} entries"
    message = f"{place(data, path)} has {entries}; it must have {wanted}{_reason(schema)}"
    yield path, fault(path, message)


def _value(error: Any, data: Any, path: Path) -> Iterator[Found]:
    message = f"{place(data, path)} is {_judged(error.instance, error.schema, path)}"
    yield path, fault(path, message)


def _odd_name(error: Any, data: Any, path: Path) -> Iterator[Found]:
    at = (*path, error.instance)
    message = f"a key of {place(data, path)} is {_judged(error.instance, error.schema, at)}"
    yield at, fault(at, message, key=True)


def _judged(value: object, schema: dict[str, Any], path: Path) -> str:
    """What stands there, and what may."""
    wanted = expected(schema, path)
    words = _words(schema)
    meant = nearest(value, words) if isinstance(value, str) else None
    if meant:
        more = "" if len(words) > _MOST_WORDS else f" It must be {wanted}"
        return f"{shown(value)}; did you mean {quoted(meant)}?{more}"
    return f"{shown(value)}; it must be {wanted}{_reason(schema)}{_hint(value, wanted)}"


def _hint(value: object, wanted: str) -> str:
    if value is None:
        return "; a key whose value is not known is left out"
    if isinstance(value, str) and _NUMBER.fullmatch(value) and "number" in wanted:
        return "; write the number without quotes"
    return ""


def _words(schema: dict[str, Any]) -> list[str]:
    """The fixed words that a value may be."""
    words = [it for it in schema.get("enum", ()) if isinstance(it, str)]
    return words + [word for branch in schema.get("anyOf", ()) for word in _words(branch)]


def _reason(schema: dict[str, Any]) -> str:
    """What the schema says beside a condition.  With a title, it says what a key means."""
    return "" if "title" in schema or "description" not in schema else f": {schema['description']}"


def _first_sentence(text: str) -> str:
    sentence = text.split(". ")[0].removesuffix(".")
    return sentence[0].lower() + sentence[1:]


def _entry(data: Any, path: Path) -> str:
    """The entry of a list that an object is, or stands in."""
    outer = path[: _depth_of_entry(path)]
    return f"{place(data, outer)}: " if outer else ""


def _inner(path: Path) -> str:
    """An object's keys from that entry, or from the document, down."""
    keys = path[_depth_of_entry(path) :]
    return quoted(".".join(map(str, keys))) if keys else ""


def _depth_of_entry(path: Path) -> int:
    return max((i for i, step in enumerate(path, 1) if isinstance(step, int)), default=0)


_TELLERS: dict[str, Callable[[Any, Any, Path], Iterator[Found]]] = {
    "required": _missing,
    "additionalProperties": _unknown,
    "not": _refused,
    "oneOf": _choice,
    "minItems": _size,
    "maxItems": _size,
    "minProperties": _size,
    "maxProperties": _size,
}
