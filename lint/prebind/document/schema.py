"""A schema's word on a document: yes, or what is wrong with it, in plain words.

A fast validator says yes or no.  Only after a no does a slower one say where, and `explain` finds
the words.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from prebind.document.explain import Found
    from prebind.document.fault import Fault

    Keyword = Callable[..., Any]


def check(data: dict[str, Any], name: str = "setup") -> list[Fault]:
    """What a schema has against a document, shared parts laid in, in the document's order.

    `name` is the schema's among those of `prebind_schemas`; its format is of version 1.  At most a
    hundred faults, and one that says how many more there are.  `data` is what JSON can say, no
    deeper than the reader lets through.
    """
    if _fast(name, "#").is_valid(data):
        return []
    from prebind.document.wording import MOST_FOUND, fault, shown, told

    given, read = data.get("format"), whole(name)["properties"]["format"]["const"]
    if isinstance(given, str) and _newer(given, read):
        message = (
            f"this document is of a newer format than this prebind reads ({shown(given)}; "
            f"this one reads {shown(read)}): update prebind"
        )
        return [fault(("format",), message)]
    found = list(islice(_found(data, name), MOST_FOUND))
    if not found:  # where the two validators differ, no is no
        return [fault((), f"this is not as {shown(read)} has it")]
    return told([it for _, it in sorted(found, key=_order(data))])


def _newer(given: str, read: str) -> bool:
    kind = re.escape(read.partition("/")[0])
    return bool(re.fullmatch(rf"{kind}/([2-9]|[1-9][0-9]{{1,8}})", given))


def _found(data: dict[str, Any], name: str) -> Iterator[Found]:
    from prebind.document.explain import explain

    seen = set()
    for error in _slow(name).iter_errors(data):
        for found in explain(error, data):
            if found not in seen:
                seen.add(found)
                yield found


def _order(data: dict[str, Any]) -> Callable[[Found], tuple[int, ...]]:
    """A sort key: the order in which things stand in the document."""
    ranks: dict[int, dict[str, int]] = {}

    def order(found: Found) -> tuple[int, ...]:
        node: Any = data
        places = []
        for step in found[0]:
            if isinstance(step, str):
                if id(node) not in ranks:
                    ranks[id(node)] = {key: i for i, key in enumerate(node)}
                places.append(ranks[id(node)][step])
            else:
                places.append(step)
            node = node[step]
        return tuple(places)

    return order


@cache
def whole(name: str) -> dict[str, Any]:
    """A schema of `prebind_schemas` as plain data, for whoever reads and does not change it."""
    from jiter import from_json

    from prebind_schemas import schema_text

    found: dict[str, Any] = from_json(schema_text(name).encode())
    return found


@cache
def _fast(name: str, ref: str) -> Any:
    """Says yes or no, to a whole document (`#`) or to one of its parts."""
    from jsonschema_rs import Draft202012Validator

    schema = whole(name)
    return Draft202012Validator(schema if ref == "#" else {"$ref": ref, "$defs": schema["$defs"]})


@cache
def _slow(name: str) -> Any:
    """Says where and why.  Passes by what is sound, and does not look into what is too large.

    A document made for it could otherwise keep it busy for minutes.
    """
    from jsonschema import validators

    usual = validators.Draft202012Validator.VALIDATORS
    bounded = {
        "$ref": _unless_sound(name, usual["$ref"]),
        "items": _unless_beyond("maxItems", usual["items"]),
        "additionalProperties": _unless_beyond("maxProperties", usual["additionalProperties"]),
        "propertyNames": _unless_beyond("maxProperties", usual["propertyNames"]),
    }
    extend: Any = validators.extend
    return extend(validators.Draft202012Validator, bounded)(whole(name))


def _unless_sound(name: str, follow: Keyword) -> Keyword:
    def look(validator: Any, ref: str, instance: Any, part: Any) -> Iterator[Any]:
        if isinstance(instance, list | dict) and _fast(name, ref).is_valid(instance):
            return
        yield from follow(validator, ref, instance, part)

    return look


def _unless_beyond(limit: str, keyword: Keyword) -> Keyword:
    def look(validator: Any, value: Any, instance: Any, part: Any) -> Iterator[Any]:
        if isinstance(instance, list | dict) and len(instance) > part.get(limit, len(instance)):
            return
        yield from keyword(validator, value, instance, part)

    return look
