"""The schemas of a sheet: where they stand, what is in each, and what they refer to.

Nothing outside the sheet can be referred to, so what a sheet asks for is all in it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.packs.sheet.formats import setup, trace

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from prebind.document.wording import Path as Way
    from prebind.packs.sheet.formats import Shape

    Link = Callable[[Any], Any]

Json = dict[str, Any]

_ONE = ("items", "contains", "additionalProperties", "propertyNames", "not", "if", "then", "else")
_LISTED = ("prefixItems", "allOf", "anyOf", "oneOf")
_NAMED = ("properties", "patternProperties")
_PREFIX = "#/$defs/"


def referred(schema: Json) -> str | None:
    """The name in `$defs` that a schema refers to."""
    return schema["$ref"].removeprefix(_PREFIX) if "$ref" in schema else None


def inside(schema: Json) -> Iterator[tuple[Way, Any]]:
    """The schemas directly in a schema, each with the way to it."""
    for keyword, value in schema.items():
        if keyword in _ONE:
            yield (keyword,), value
        elif keyword in _LISTED:
            yield from (((keyword, i), each) for i, each in enumerate(value))
        elif keyword in _NAMED:
            yield from (((keyword, name), each) for name, each in value.items())


def roots(sheet: Json) -> Iterator[tuple[Way, Any, Shape]]:
    """The schemas that rules begin with, and what each is laid against."""
    shapes = {"document": setup(), "trace": trace()}
    for i, rule in enumerate(sheet["rules"]):
        for part in ("when", "require"):
            for text, shape in shapes.items():
                if text in rule.get(part, ()):
                    yield ("rules", i, part, text), rule[part][text], shape


def schemas(sheet: Json) -> Iterator[tuple[Way, Json]]:
    """Every schema of a sheet that is an object."""
    waiting: list[tuple[Way, Any]] = [(way, schema) for way, schema, _ in roots(sheet)]
    waiting += [(("$defs", name), schema) for name, schema in sheet.get("$defs", {}).items()]
    while waiting:
        way, schema = waiting.pop()
        if isinstance(schema, dict):
            yield way, schema
            waiting += [((*way, *step), inner) for step, inner in inside(schema)]


def linked(sheet: Json) -> Json:
    """The sheet with what every reference leads to in its place, shared and not copied.

    For a sheet without faults.
    """
    made: dict[str, Any] = {}

    def link(schema: Any) -> Any:
        if not isinstance(schema, dict):
            return schema
        whole = {keyword: _with(link, keyword, value) for keyword, value in schema.items()}
        whole.pop("$ref", None)
        name = referred(schema)
        if name is None:
            return whole
        return {**whole, "allOf": [*whole.get("allOf", ()), named(name)]} if whole else named(name)

    def named(name: str) -> Any:
        if name not in made:
            made[name] = link(sheet["$defs"][name])
        return made[name]

    rules = [
        {**rule, **{part: _each(rule[part], link) for part in ("when", "require") if part in rule}}
        for rule in sheet["rules"]
    ]
    return {**sheet, "rules": rules}


def _each(texts: Json, link: Link) -> Json:
    return {key: it if key.startswith("x-") else link(it) for key, it in texts.items()}


def _with(link: Link, keyword: str, value: Any) -> Any:
    """A keyword's value with the schemas in it linked."""
    if keyword in _ONE:
        return link(value)
    if keyword in _LISTED:
        return [link(each) for each in value]
    if keyword in _NAMED:
        return {name: link(each) for name, each in value.items()}
    return value
