"""Keys and words in a sheet's schemas that no setup and no trace has.

A misspelling must not leave a check out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.document.wording import any_of, fault, nearest, place, quoted, shown
from prebind.packs.sheet.language import inside, referred, roots

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.document.fault import Fault
    from prebind.document.wording import Path as Way
    from prebind.packs.sheet.formats import Shape

Json = dict[str, Any]

_HAVE = {"document": "a setup has", "trace": "a trace has"}


def unknown(sheet: Json) -> Iterator[Fault]:
    """For a sheet whose references are sound."""
    defs = sheet.get("$defs", {})
    waiting: list[tuple[Way, Any, Shape | None, str]] = [
        (way, schema, shape, _HAVE[str(way[-1])]) for way, schema, shape in roots(sheet)
    ]
    met: set[tuple[int, int]] = set()
    while waiting:
        way, schema, shape, whose = waiting.pop()
        if not isinstance(schema, dict) or shape is None or (id(schema), id(shape)) in met:
            continue
        met.add((id(schema), id(shape)))
        if shape.closed:
            yield from _unknown_keys(sheet, way, schema, shape, whose)
        if shape.words:
            yield from _unknown_words(sheet, way, schema, shape, whose)
        for step, inner in inside(schema):
            waiting.append(((*way, *step), inner, _shape(shape, step), whose))
        name = referred(schema)
        if name is not None:
            waiting.append((("$defs", name), defs[name], shape, whose))


def _shape(shape: Shape, step: Way) -> Shape | None:
    """What a schema inside another one is about, where the outer one is about this."""
    match step:
        case ("properties", str(key)):
            return shape.inside(key)
        case ("items" | "contains" | "prefixItems", *_):
            return shape.entry
        case ("additionalProperties" | "patternProperties", *_):
            return shape.named
        case ("propertyNames",):
            return None
    return shape


def _unknown_keys(sheet: Json, way: Way, schema: Json, shape: Shape, whose: str) -> Iterator[Fault]:
    named: list[tuple[Way, str, bool]] = [
        (("properties", key), key, True) for key in schema.get("properties", ())
    ]
    named += [(("required", i), key, False) for i, key in enumerate(schema.get("required", ()))]
    for step, key, is_key in named:
        if key in shape.keys or key.startswith("x-"):
            continue
        where = place(sheet, (*way, step[0]))
        message = (
            f"{where}: {quoted(key)} is not a key that {whose} there{_meant(key, list(shape.keys))}"
        )
        yield fault((*way, *step), message, key=is_key)


def _unknown_words(
    sheet: Json, way: Way, schema: Json, shape: Shape, whose: str
) -> Iterator[Fault]:
    asked: list[tuple[Way, Any]] = [(("const",), schema.get("const"))]
    asked += [(("enum", i), word) for i, word in enumerate(schema.get("enum", ()))]
    for step, word in asked:
        if not isinstance(word, str) or word in shape.words or word.startswith("x-"):
            continue
        at = (*way, *step)
        rest = _meant(word, sorted(shape.words))
        message = f"{place(sheet, at)}: {shown(word)} is not a word that {whose} there{rest}"
        yield fault(at, message)


def _meant(word: str, known: list[str]) -> str:
    meant = nearest(word, known)
    if meant:
        return f"; did you mean {quoted(meant)}?"
    return f"; it has {any_of(map(quoted, known), 'and')}"
