"""A broken place in words: what stands there, and what must."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.document.wording import any_of, expected, quoted, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from prebind.document.wording import Path as Way
    from prebind.packs.sheet.laid import Text
    from prebind.packs.sheet.verdict import Breach, Schema

_LONGEST = 500  # characters: a sheet may name hundreds of words
_ABOUT = {
    "number": {"minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"},
    "string": {"pattern", "minLength", "maxLength"},
    "array": {"items", "prefixItems", "contains", "minItems", "maxItems", "uniqueItems"},
    "object": {"properties", "required", "patternProperties", "propertyNames", "minProperties"},
}


def told(breaches: Iterable[Breach], text: Text) -> Iterator[str]:
    """A sentence for each breach of one place; an entry of a list is named in the first alone."""
    named = ""
    for breach in breaches:
        yield _told(breach, text).removeprefix(named)
        depth = max((i for i, step in enumerate(breach.way, 1) if isinstance(step, int)), default=0)
        named = f"{text.place(breach.way[:depth])}: " if depth else ""


def _told(breach: Breach, text: Text) -> str:
    """`receiver.failsafe.delay_s` is 2; it must be a number up to 1 (seconds)."""
    tell = _TELLERS.get(breach.keyword, _value)
    about = ""
    if isinstance(breach.schema, dict) and "description" in breach.schema:
        about = f": {breach.schema['description'].rstrip('.')}"
    said = f"{tell(breach, _there(breach.way, text))}{about}"
    return said if len(said) <= _LONGEST else f"{said[: _LONGEST - 1]}…"


def wanted(schema: Schema, way: Way = ()) -> str:
    """What a schema asks for, as a noun; a title says it in the sheet's own words."""
    if isinstance(schema, bool):
        return "anything" if schema else "nothing"
    if "title" in schema:
        return str(schema["title"])
    for keyword, last in (("anyOf", "or"), ("oneOf", "or"), ("allOf", "and")):
        if keyword in schema:
            return any_of((wanted(each, way) for each in schema[keyword]), last)
    kind = schema.get("type") or _implied(schema)
    if "const" in schema or "enum" in schema or kind:
        return expected({**schema, "type": kind}, way)
    if "not" in schema:
        return f"something other than {wanted(schema['not'], way)}"
    return "something else"


def required(breach: Breach) -> Any:
    """The value of the keyword that was broken, short enough for a report."""
    if breach.key is not None:
        return breach.key
    if isinstance(breach.schema, bool):
        return wanted(breach.schema)
    value = breach.schema[breach.keyword]
    if breach.keyword in ("anyOf", "oneOf"):
        return wanted(breach.schema)
    return wanted(value) if breach.keyword in ("contains", "not") else short(value)


def short(value: Any) -> Any:
    """A plain value as it is, all others as they are shown in a message."""
    plain = isinstance(value, int | float) or value is None
    return value if plain or (isinstance(value, str) and len(value) <= 200) else shown(value)


def _there(way: Way, text: Text) -> str:
    return text.place(way) or f"the {'setup' if text.kind == 'document' else text.kind}"


def _implied(schema: Mapping[str, Any]) -> str | None:
    """The kind of value that conditions without a type are about."""
    return next((kind for kind, keywords in _ABOUT.items() if keywords & schema.keys()), None)


def _value(breach: Breach, there: str) -> str:
    value = round(breach.value, 3) if isinstance(breach.value, float) else breach.value
    return f"{there} is {shown(value)}; it must be {wanted(breach.schema, breach.way)}"


def _missing(breach: Breach, there: str) -> str:
    return f"{quoted(breach.key or '')} is missing from {there}"


def _odd_name(breach: Breach, there: str) -> str:
    return f"{there} is not called as it must be, {wanted(breach.schema)}"


def _refused(breach: Breach, there: str) -> str:  # noqa: ARG001
    return f"{there} must not be there"


def _not(breach: Breach, there: str) -> str:
    assert isinstance(breach.schema, dict)
    refused = wanted(breach.schema["not"], breach.way)
    return f"{there} is {shown(breach.value)}; it must not be {refused}"


def _lacking(breach: Breach, there: str) -> str:
    assert isinstance(breach.schema, dict)
    least = breach.schema.get("minContains", 1)
    entries = "an entry" if least == 1 else f"{least} entries"
    return f"{there} must have {entries} that {_are(least)} {wanted(breach.schema['contains'])}"


def _crowded(breach: Breach, there: str) -> str:
    assert isinstance(breach.schema, dict)
    most = breach.schema["maxContains"]
    found = wanted(breach.schema["contains"])
    return f"{there} must have at most {most} of {found}"


def _twice(breach: Breach, there: str) -> str:  # noqa: ARG001
    return f"{there} has an entry twice; each may stand there once"


def _size(breach: Breach, there: str) -> str:
    assert isinstance(breach.schema, dict)
    count, bound = len(breach.value), breach.schema[breach.keyword]
    entries = "1 entry" if count == 1 else f"{count} entries"
    most = breach.keyword.startswith("max")
    return f"{there} has {entries}; it must have at {'most' if most else 'least'} {bound}"


def _several(breach: Breach, there: str) -> str:
    return f"{there} must be only one of {wanted(breach.schema)}"


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


_TELLERS: dict[str, Callable[[Breach, str], str]] = {
    "required": _missing,
    "propertyNames": _odd_name,
    "false": _refused,
    "not": _not,
    "contains": _lacking,
    "maxContains": _crowded,
    "uniqueItems": _twice,
    "oneOf": _several,
    "minItems": _size,
    "maxItems": _size,
    "minProperties": _size,
    "maxProperties": _size,
}
