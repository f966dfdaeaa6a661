"""Whether a schema of a sheet holds, against two other implementations of JSON Schema 2020-12, and
what is not known against every way in which it could be.
"""

from __future__ import annotations

import copy
import json
from itertools import product
from typing import TYPE_CHECKING, Any

import jsonschema
import jsonschema_rs
from hypothesis import given, settings
from hypothesis import strategies as st

from prebind.packs.sheet.laid import Unknown
from prebind.packs.sheet.language import linked
from prebind.packs.sheet.verdict import _LOOKS, NOTES, Judge, Plans, Steps, Verdict
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from collections.abc import Collection

KEYS = st.sampled_from(["a", "b", "c"])
SCALARS = st.sampled_from([None, True, False, 0, 1, 1.0, 2.5, -3, "", "a", "ab", "b"])
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=8,
)
COUNTS = st.integers(0, 3)
NUMBERS = st.integers(-3, 3)
KINDS = ["object", "array", "string", "number", "integer", "boolean", "null", ["string", "null"]]
LEAVES: dict[str, st.SearchStrategy[Any]] = {
    "type": st.sampled_from(KINDS),
    "minimum": NUMBERS,
    "maximum": NUMBERS,
    "exclusiveMinimum": NUMBERS,
    "exclusiveMaximum": NUMBERS,
    "minLength": COUNTS,
    "maxLength": COUNTS,
    "pattern": st.sampled_from(["^a", "b$", "[0-9]", "^$", "a|b"]),
    "minItems": COUNTS,
    "maxItems": COUNTS,
    "minContains": COUNTS,
    "maxContains": COUNTS,
    "required": st.lists(KEYS, max_size=2, unique=True),
    "title": st.just("a value"),
    "$ref": st.sampled_from(["#/$defs/one", "#/$defs/two"]),
}
ONE = ("items", "contains", "not", "if", "then", "else")
LISTED = ("prefixItems", "allOf", "anyOf", "oneOf")
BARE = (*LEAVES, *ONE, *LISTED, "properties", "properties", "required")
"""Without keywords that look at which keys there are, to which a missing one is not there."""

WHOLE: dict[str, st.SearchStrategy[Any]] = {
    "const": VALUES,
    "enum": st.lists(VALUES, min_size=1, max_size=3),
    "uniqueItems": st.booleans(),
    "minProperties": COUNTS,
    "maxProperties": COUNTS,
}
ALL = (*BARE, *WHOLE, "patternProperties", "additionalProperties", "propertyNames")


@st.composite
def schemas(draw: Any, keywords: tuple[str, ...] = ALL, depth: int = 3, ref: bool = True) -> Any:
    if depth < 3 and draw(st.integers(0, 7)) == 0:
        return draw(st.booleans())
    asked: dict[str, Any] = {}
    for keyword in draw(st.lists(st.sampled_from(keywords), max_size=3, unique=True)):
        inner = schemas(keywords, depth - 1, ref)
        if keyword in LEAVES | WHOLE and (ref or keyword != "$ref"):
            asked[keyword] = draw((LEAVES | WHOLE)[keyword])
        elif depth == 0 or keyword == "$ref":
            continue
        elif keyword in LISTED:
            asked[keyword] = draw(st.lists(inner, min_size=1, max_size=3))
        elif keyword == "patternProperties":
            asked[keyword] = {draw(st.sampled_from(["^a", "[bc]"])): draw(inner)}
        elif keyword == "properties":
            under = st.dictionaries(KEYS, inner, max_size=2)
            asked[keyword] = {k: it for k, it in draw(under).items() if it is not False}
        else:
            asked[keyword] = draw(inner)
    return asked


@st.composite
def about(draw: Any, asked: Any) -> Any:
    """What `asked` makes of a value, put together with other schemas in every way there is."""
    one, other, third = (
        asked(draw(schemas(BARE, 1))),
        draw(schemas(BARE, 2)),
        draw(schemas(BARE, 1)),
    )
    forms = (
        {"allOf": [one, other]},
        {"anyOf": [one, other]},
        {"oneOf": [other, one, third]},
        {"not": {"anyOf": [one, other]}},
        {"if": one, "then": other, "else": third},
        {"if": other, "then": one, "else": third},
    )
    return draw(st.sampled_from(forms))


def defs_of(keywords: tuple[str, ...]) -> st.SearchStrategy[Any]:
    plain = schemas(keywords, 1, ref=False).filter(lambda it: it is not False)
    return st.fixed_dictionaries({"one": plain, "two": plain})


class Text:
    """Something that a schema is laid against; keys in `lacking` are not known where missing."""

    kind = "document"

    def __init__(self, value: Any, lacking: Collection[str] = ()) -> None:
        self.value = value
        self._lacking = lacking

    def left_out(self, way: Any, owner: Any, key: str) -> Unknown | None:  # noqa: ARG002
        return Unknown(f"{key} is not recorded", "") if key in self._lacking else None

    def unsettled(self, way: Any, value: Any) -> Unknown | None:  # noqa: ARG002
        return Unknown("null", "") if "null" in self._lacking and value is None else None

    def place(self, way: Any) -> str:
        return str(way)

    def at(self, way: Any) -> str:  # noqa: ARG002
        return ""

    def controls(self, way: Any) -> None:  # noqa: ARG002
        return None


def verdict(schema: Any, defs: Any, text: Text) -> Verdict:
    sheet = {"$defs": defs, "rules": [{"require": {"document": schema}}]}
    (rule,) = linked(sheet)["rules"]
    whole: Any = text
    return Judge(whole, Plans(), Steps()).whole(rule["require"]["document"])


def others_say(schema: Any, defs: Any, value: Any) -> bool:
    """What jsonschema and jsonschema-rs say, where they agree."""
    whole = {**schema, "$defs": defs} if isinstance(schema, dict) else schema
    slow = jsonschema.Draft202012Validator(whole).is_valid(value)
    assert jsonschema_rs.Draft202012Validator(whole).is_valid(value) is slow
    return slow


def test_the_language_is_what_the_sheets_schema_says() -> None:
    sheet = json.loads(schema_text("sheet"))
    allowed = set()
    for keyword, of in sheet["$defs"]["schema"]["properties"].items():
        target = sheet["$defs"].get(of.get("$ref", "").rpartition("/")[2], {})
        if {**target, **of}.get("not") != {}:
            allowed.add(keyword)
    assert allowed == {*ALL, *NOTES}
    assert set(ALL) >= _LOOKS.keys()


@settings(max_examples=150, deadline=None)
@given(schemas(), defs_of(ALL), VALUES)
def test_where_all_is_known_three_implementations_agree(schema: Any, defs: Any, value: Any) -> None:
    found = verdict(schema, defs, Text(value))
    assert found.holds is others_say(schema, defs, value)
    for breach in found.breaches:
        here = value
        for step in breach.way:
            here = here[step]


def test_what_is_forbidden_and_not_there_is_met() -> None:
    assert verdict({"properties": {"a": False}}, {}, Text({}, {"a"})).holds is True
    assert verdict({"properties": {"a": False}}, {}, Text({"a": 1}, {"a"})).holds is False


def _lacking(value: Any) -> list[dict[str, Any]]:
    """The objects without `a`, the outermost first."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    own = [value] if isinstance(value, dict) and "a" not in value else []
    return own + [it for each in inner for it in _lacking(each)]


@settings(max_examples=150, deadline=None)
@given(
    about(lambda it: {"properties": {"a": it}} if it else {"required": ["a"]}),
    defs_of(BARE),
    st.dictionaries(st.sampled_from(["b", "c"]), VALUES, max_size=3),
)
def test_an_answer_holds_however_the_unknown_turns_out(schema: Any, defs: Any, value: Any) -> None:
    """The key `a` may be missing anywhere: known answers are right whatever it is."""
    found = verdict(schema, defs, Text(value, {"a"})).holds
    for filling in product(
        (None, 1, "ab", {"a": 1, "b": 2}, [1]), repeat=min(2, len(_lacking(value)))
    ):
        completed = copy.deepcopy(value)
        for owner, it in zip(_lacking(completed), [*filling, *[0] * 8], strict=False):
            owner["a"] = it
        if found is not None:
            assert others_say(schema, defs, completed) is found, completed


@settings(max_examples=80, deadline=None)
@given(
    about(lambda it: {"contains": it, "items": it} if it else {"contains": {"type": "null"}}),
    defs_of(BARE),
    st.lists(SCALARS, max_size=2),
)
def test_an_answer_holds_however_a_null_turns_out(schema: Any, defs: Any, value: Any) -> None:
    value.insert(len(value) // 2, None)
    found = verdict(schema, defs, Text(value, {"null"})).holds
    for filling in product((1, -3, "ab", True, {}), repeat=value.count(None)):
        rest = iter(filling)
        completed = [next(rest) if it is None else it for it in value]
        if found is not None:
            assert others_say(schema, defs, completed) is found, completed
