"""The schema of rule sheets: two validators agree on it, and it bounds what a sheet can be."""

from __future__ import annotations

import copy
import json
import re
from itertools import cycle, product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest
from jsonschema import Draft202012Validator

from prebind.document import schema
from prebind_schemas import schema_text, templates

if TYPE_CHECKING:
    from collections.abc import Iterator

SCHEMA: dict[str, Any] = json.loads(schema_text("sheet"))
TERN_BAY = Path(__file__).parents[1] / "examples" / "packs" / "tern-bay.rules.json"
SHEET: dict[str, Any] = json.loads(TERN_BAY.read_text(encoding="utf-8"))
SLOW = Draft202012Validator(SCHEMA)
FAST = jsonschema_rs.Draft202012Validator(SCHEMA)


def _subschemas(part: Any) -> Iterator[dict[str, Any]]:
    if not isinstance(part, dict):
        return
    yield part
    for key, inner in part.items():
        if key in ("properties", "$defs"):
            inner = list(inner.values())
        for it in inner if isinstance(inner, list) else [inner]:
            yield from _subschemas(it)


CLOSED = [part for part in _subschemas(SCHEMA) if part.get("additionalProperties") is False]


def test_is_a_schema() -> None:
    # JSON Schema 2020-12, the meta-schema that jsonschema-specifications carries
    Draft202012Validator.check_schema(SCHEMA)
    assert jsonschema_rs.meta.is_valid(SCHEMA)


def test_says_what_every_key_means() -> None:
    assert len(CLOSED) == 8
    for part in CLOSED:
        for key, of in part["properties"].items():
            target = SCHEMA["$defs"].get(of.get("$ref", "").rpartition("/")[2], {})
            if {**target, **of}.get("not") == {}:  # a keyword that cannot be used: says what can
                assert {**target, **of}["description"], key
                continue
            assert of["title"], key
            assert re.fullmatch(r"[A-Z`].*\.", of["description"]), key


def test_only_x_keys_may_be_unknown() -> None:
    for part in CLOSED:
        assert part["patternProperties"] == {"^x-": True}


def test_bounds_every_list_and_text() -> None:
    for part in _subschemas(SCHEMA):
        kinds = part.get("type", ())
        kinds = {kinds} if isinstance(kinds, str) else set(kinds)
        if "array" in kinds:
            assert "maxItems" in part, part
        if "string" in kinds:
            assert "maxLength" in part, part
        if isinstance(part.get("additionalProperties"), dict):
            assert "maxProperties" in part, part


def test_uses_only_what_both_validators_read_alike() -> None:
    for part in _subschemas(SCHEMA):
        assert not isinstance(part.get("multipleOf"), int), part
        pattern = part.get("pattern")
        if not isinstance(pattern, str):
            continue
        assert pattern.isascii()
        assert not re.search(r"\\[dDwWsSbBzZpP]", pattern), pattern
        if pattern.endswith("$"):  # Python's $ lets a line feed follow
            assert part["not"]["pattern"].startswith("[^"), pattern


def test_starts_are_the_templates() -> None:
    assert SCHEMA["$defs"]["example"]["properties"]["start"]["enum"] == templates()


def test_the_clubs_sheet_passes_both() -> None:
    assert SLOW.is_valid(SHEET)
    assert FAST.is_valid(SHEET)
    assert schema.check(SHEET, "sheet") == []


@pytest.mark.parametrize(
    "place", [("pack", "name"), ("pack", "version"), ("rules", 0, "id"), ("rules", 0, "since")]
)
def test_a_line_feed_behind_a_name_is_seen_by_both(place: tuple[Any, ...]) -> None:
    data = copy.deepcopy(SHEET)
    data["rules"][0]["since"] = "1"
    *way, last = place
    owner: Any = data
    for step in way:
        owner = owner[step]
    owner[last] += "\n"
    assert not SLOW.is_valid(data)
    assert not FAST.is_valid(data)
    (fault,) = schema.check(data, "sheet")
    assert fault.at == "".join(f"/{step}" for step in place)


def _nodes(node: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    for key, inner in node.items() if isinstance(node, dict) else enumerate(node):
        yield (*path, key)
        if isinstance(inner, dict | list):
            yield from _nodes(inner, (*path, key))


WRONG: tuple[Any, ...] = (
    None,
    True,
    "",
    "a\n",
    "#/$defs/a\n",
    "x-own",
    "n" * 2001,
    -1,
    1.0,
    1.5,
    10**7,
    [],
    [1, 2],
    ["object"],
    {},
    {"low": 1},
    {"document": True},
    {"op": "add", "path": "/x"},
)


def _mutated(every: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Sheets with one thing wrong, or only different, all over one sheet: every nth of them."""
    changes = ("replaced", "replaced", "removed", "renamed")
    wrong = cycle(WRONG)
    for i, (path, change) in enumerate(product(list(_nodes(SHEET)), changes)):
        value = next(wrong)
        if i % every:
            continue
        data = copy.deepcopy(SHEET)
        owner: Any = data
        for step in path[:-1]:
            owner = owner[step]
        if change == "replaced":
            owner[path[-1]] = value
        elif change == "removed":
            del owner[path[-1]]
        elif isinstance(owner, dict):
            owner[f"{path[-1]}s"] = owner.pop(path[-1])
        yield f"{change} {path}", data


def test_validators_agree_on_mutated_sheets() -> None:
    outcomes = {True: 0, False: 0}
    for what, data in _mutated(every=37):
        valid = FAST.is_valid(data)
        assert SLOW.is_valid(data) is valid, what
        faults = schema.check(data, "sheet")
        assert bool(faults) is not valid, what
        assert all(fault.message.isprintable() for fault in faults), what
        assert not any("is not as" in fault.message for fault in faults), what
        outcomes[valid] += 1
    assert outcomes[True] > 10
    assert outcomes[False] > 35
