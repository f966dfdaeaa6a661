"""The schema of setup documents: two validators agree on it, and so does the model."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Mapping
from itertools import cycle, product
from pathlib import Path
from typing import TYPE_CHECKING, Any, Union, get_args, get_origin, get_type_hints

import attrs
import jsonschema_rs
import pytest
from jsonschema import Draft202012Validator

from prebind.document import consistency, model, schema
from prebind.document.parts import merge
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from collections.abc import Iterator

SCHEMA: dict[str, Any] = json.loads(schema_text("setup"))
HERE = Path(__file__).parent
EXAMPLES = HERE.parent / "examples"
EVERY_KEY = json.loads((HERE / "every-key.setup.json").read_text(encoding="utf-8"))
SLOW = Draft202012Validator(SCHEMA)
FAST = jsonschema_rs.Draft202012Validator(SCHEMA)


def _examples() -> list[Path]:
    """Every example that is JSON."""
    return [path for path in sorted(EXAMPLES.rglob("*.setup.json")) if _is_json(path)]


def _is_json(path: Path) -> bool:
    try:
        json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        return False
    return True


def _resolved(data: dict[str, Any], folder: Path) -> dict[str, Any]:
    whole = dict(data)
    for section in ("transmitter", "receiver", "power"):
        part = data.get(section, {})
        if "from" in part:
            content = json.loads((folder / part["from"]).read_text(encoding="utf-8"))
            whole[section] = merge(content, {k: v for k, v in part.items() if k != "from"})
    return whole


def _deref(part: Any) -> Any:
    """A schema with its reference laid under it."""
    while isinstance(part, dict) and "$ref" in part:
        name = part["$ref"].removeprefix("#/$defs/")
        part = SCHEMA["$defs"][name] | {k: v for k, v in part.items() if k != "$ref"}
    if isinstance(part, dict) and "from" in part.get("if", {}).get("required", ()):
        return _deref(part["else"]) | {k: part[k] for k in ("title", "description")}
    return part


def _objects(part: Any, name: str = "setup") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every object that the schema describes, by the way to it."""
    part = _deref(part)
    if not isinstance(part, dict):
        return
    if "properties" in part and part.get("additionalProperties") is False:
        yield name, part
    for key, inner in part.get("properties", {}).items():
        yield from _objects(inner, f"{name}.{key}")
    yield from _objects(part.get("items"), f"{name}[]")
    yield from _objects(part.get("additionalProperties"), f"{name}.*")


def _subschemas(part: Any) -> Iterator[dict[str, Any]]:
    if not isinstance(part, dict):
        return
    yield part
    for key, inner in part.items():
        if key in ("properties", "$defs"):
            inner = list(inner.values())
        for it in inner if isinstance(inner, list) else [inner]:
            yield from _subschemas(it)


OBJECTS = dict(_objects(SCHEMA))


class TestTheSchemaItself:
    def test_is_a_schema(self) -> None:
        # JSON Schema 2020-12, the meta-schema that jsonschema-specifications carries
        Draft202012Validator.check_schema(SCHEMA)
        assert jsonschema_rs.meta.is_valid(SCHEMA)

    def test_says_what_every_key_means(self) -> None:
        for name, found in OBJECTS.items():
            for key, part in found["properties"].items():
                about = _deref(part)
                assert about["title"], f"{name}.{key}"
                assert re.match(r"[A-Z\[`-]|1", about["description"]), f"{name}.{key}"
                assert about["description"].endswith("."), f"{name}.{key}"

    def test_lets_only_x_keys_be_unknown(self) -> None:
        assert len(OBJECTS) > 40
        for name, found in OBJECTS.items():
            assert found["patternProperties"] == {"^x-": True}, name
            assert "from" not in found["properties"] or name == "setup.mixes[]"

    def test_bounds_every_number_list_and_text(self) -> None:
        for part in _subschemas(SCHEMA):
            kinds = part.get("type", ())
            kinds = {kinds} if isinstance(kinds, str) else set(kinds)
            if kinds & {"number", "integer"} and "enum" not in part and len(part) > 2:
                assert {"minimum", "exclusiveMinimum"} & set(part), part
                assert "maximum" in part, part
            if "array" in kinds:
                assert "maxItems" in part, part
            if "string" in kinds:
                assert "maxLength" in part, part
            if isinstance(part.get("items"), dict):
                assert "maxItems" in part, part
            if isinstance(part.get("additionalProperties"), dict):
                assert "maxProperties" in part, part

    def test_uses_only_what_both_validators_read_alike(self) -> None:
        for part in _subschemas(SCHEMA):
            assert not {"format", "multipleOf", "uniqueItems"} & set(part), part
            pattern = part.get("pattern")
            if isinstance(pattern, str):
                assert pattern.isascii()
                assert not re.search(r"\\[dDwWsSbBzZpP]", pattern), pattern


class TestKeysOfModelAndSchema:
    """The schema and the model say the same keys, needs and defaults."""

    RENAMED = (("Mix", "source", "from"), ("Waiver", "pointer", "at"))
    # The document's own keys, which no rule asks for.
    ONLY_SCHEMA = (("setup", "format"), ("setup", "arming"))

    def test_agree(self) -> None:
        met: set[str] = set()
        self._compare(model.Setup, SCHEMA, "setup", met)
        classes = {n for n, c in vars(model).items() if isinstance(c, type) and attrs.has(c)}
        assert met == classes

    def _compare(self, kind: type, part: Any, name: str, met: set[str]) -> None:
        met.add(kind.__name__)
        part = _deref(part)
        properties = {
            key: _deref(inner)
            for key, inner in part["properties"].items()
            if (name, key) not in self.ONLY_SCHEMA
        }
        hints = get_type_hints(kind)
        fields = {
            self._key(kind, field.name): field
            for field in attrs.fields(kind)
            if field.init and (name, field.name) != ("setup", "extra")
        }
        assert set(properties) == set(fields), name
        needed = {key for key, field in fields.items() if field.default is attrs.NOTHING}
        if name != "setup.mixes.rate_percent":  # a mix gives both; travel has defaults
            assert set(part.get("required", ())) - {"format"} == needed, name
            for key, field in fields.items():
                assert self._default(field, properties[key]), f"{name}.{key}"
        for key, field in fields.items():
            for inner, inner_part in self._inner(hints[field.name], properties[key]):
                self._compare(inner, inner_part, f"{name}.{key}", met)

    def _key(self, kind: type, field: str) -> str:
        renamed = [
            key for owner, old, key in self.RENAMED if (kind.__name__, field) == (owner, old)
        ]
        return renamed[0] if renamed else field

    def _default(self, field: Any, part: dict[str, Any]) -> bool:
        default = field.default
        if default is attrs.NOTHING or default is None:
            return "default" not in part
        if isinstance(default, attrs.Factory):  # type: ignore[arg-type]
            default = default.factory()
        if field.name == "trim_percent":  # no trim at all, or none that holds: both are 0
            return bool(default == () and part["default"] == 0)
        return bool(self._plain(default) == self._filled(part, part["default"]))

    def _plain(self, value: Any) -> Any:
        if attrs.has(type(value)):
            plain = {k: self._plain(v) for k, v in attrs.asdict(value, recurse=False).items()}
            return {k: v for k, v in plain.items() if v is not None}
        return list(value) if isinstance(value, tuple) else value

    def _filled(self, part: dict[str, Any], value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        inner = {key: _deref(it) for key, it in part.get("properties", {}).items()}
        defaults = {key: it["default"] for key, it in inner.items() if "default" in it}
        return {**defaults, **value}

    def _inner(self, hint: Any, part: dict[str, Any]) -> Iterator[tuple[type, Any]]:
        """Classes of the model within a type, each with its place in the schema."""
        if isinstance(hint, type) and attrs.has(hint):
            yield hint, part
            return
        origin = get_origin(hint)
        for argument in get_args(hint):
            if origin is tuple:
                yield from self._inner(argument, _deref(part.get("items", {})))
            elif origin is Mapping:
                values = part.get("additionalProperties") or next(iter(part["properties"].values()))
                yield from self._inner(argument, _deref(values))
            elif origin is Union or "|" in str(hint):
                yield from self._inner(argument, part)


class TestDocuments:
    def test_one_has_every_key(self) -> None:
        used: set[tuple[str, str]] = set()
        self._use(EVERY_KEY, SCHEMA, "setup", used)
        wanted = {(name, key) for name, found in OBJECTS.items() for key in found["properties"]}
        # what stands in one kind of mix, band, condition … stands for the others
        assert {key for _, key in wanted} == {key for _, key in used}
        assert schema.check(EVERY_KEY) == []

    def _use(self, data: Any, part: Any, name: str, used: set[tuple[str, str]]) -> None:
        part = _deref(part)
        if isinstance(data, list) and isinstance(part, dict):
            for entry in data:
                self._use(entry, part.get("items"), f"{name}[]", used)
        if isinstance(data, dict) and isinstance(part, dict):
            for key, value in data.items():
                inner = part.get("properties", {}).get(key)
                if inner is not None:
                    used.add((name, key))
                    self._use(value, inner, f"{name}.{key}", used)
                elif isinstance(part.get("additionalProperties"), dict):
                    self._use(value, part["additionalProperties"], f"{name}.*", used)

    @pytest.mark.parametrize(
        "path", _examples(), ids=lambda it: it.name.removesuffix(".setup.json")
    )
    def test_examples_pass_both(self, path: Path) -> None:
        data = json.loads(path.read_text(encoding="utf-8"))
        resolved = _resolved(data, path.parent)
        for document in (data, resolved):
            assert SLOW.is_valid(document)
            assert FAST.is_valid(document)
        assert schema.check(resolved) == []
        assert consistency.check(resolved) == []

    def test_there_are_examples(self) -> None:
        assert len(_examples()) >= 12

    def test_a_shared_part_is_not_judged_before_it_is_laid_in(self) -> None:
        data = EVERY_KEY | {"receiver": {"from": "parts/receiver.json", "frame_ms": None}}
        assert SLOW.is_valid(data)
        assert FAST.is_valid(data)
        for wrong in (5, "", "a\nb"):
            data = EVERY_KEY | {"power": {"from": wrong}}
            assert not SLOW.is_valid(data)
            assert not FAST.is_valid(data)

    def test_x_keys_may_stand_in_every_object(self) -> None:
        data = copy.deepcopy(EVERY_KEY)
        count = 0
        for node in [data, *(node for _, node in _nodes(data) if isinstance(node, dict))]:
            if node is not data["transmitter"]["output"]["native"]:  # there they are functions
                node["x-more"] = {"any": [1, None]}
                count += 1
        assert count > 60
        assert schema.check(data) == []
        assert consistency.check(data) == []


def _nodes(node: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[Any, Any]]:
    children = node.items() if isinstance(node, dict) else enumerate(node)
    for key, inner in list(children):
        yield (*path, key), inner
        if isinstance(inner, dict | list):
            yield from _nodes(inner, (*path, key))


WRONG: tuple[Any, ...] = (
    None,
    True,
    "",
    "back",
    "a\n",
    "\x85",
    "x-own",
    "x-own\n",
    "n" * 201,
    "2024-02-29\n",
    -1,
    -0.0,
    1.0,
    1.5,
    181,
    10**6,
    1e39,
    [],
    [1, 2],
    [2, 1.5, 0],
    ["back", "back"],
    {},
    {"low": 1},
    {"channel": 1, "control": "gas"},
    {"phase": ["cruise"], "control": "dial"},
)


def _mutated(every: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Documents with one thing wrong, or only different, all over one document: every nth of them.

    The slow validator takes a few milliseconds for each.
    """
    changes = ("replaced", "replaced", "replaced", "removed", "renamed")
    wrong = cycle(WRONG)
    for i, (path, change) in enumerate(product([path for path, _ in _nodes(EVERY_KEY)], changes)):
        value = next(wrong)
        if i % every:
            continue
        data = copy.deepcopy(EVERY_KEY)
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


class TestValidatorsAgree:
    def test_on_mutated_documents(self) -> None:
        outcomes = {True: 0, False: 0}
        for what, data in _mutated(every=7):
            valid = FAST.is_valid(data)
            assert SLOW.is_valid(data) is valid, what
            outcomes[valid] += 1
        assert outcomes[True] > 50
        assert outcomes[False] > 150

    def test_on_where_the_faults_are(self) -> None:
        """The bounded search finds what the whole one does."""
        for what, data in _mutated(every=31):
            places = {
                "".join(f"/{step}" for step in it.absolute_path) for it in SLOW.iter_errors(data)
            }
            found = {it.at for it in schema.check(data)}
            assert bool(places) is bool(found), what
            for (
                at
            ) in places:  # an unknown key, or a list that is too long, speaks for what is in it
                assert any(f"{it}/".startswith(f"{at}/") or at.startswith(f"{it}/") for it in found)
            for at in found:
                assert at in places or at.rpartition("/")[0] in places, what
