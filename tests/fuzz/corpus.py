"""What the fuzzing starts from: valid, faulty, broken and hostile texts of each kind."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.fuzz.reports import written
from tests.made_sheet import sheet

import prebind_rules
from prebind import Document, Inspector, read
from prebind.rule import Fails, Passes
from prebind.testing import clean, patched
from prebind_schemas import template_text, templates

if TYPE_CHECKING:
    from collections.abc import Iterator

TESTS = Path(__file__).parents[1]
EXAMPLES = TESTS / "examples"
PARTS = ("transmitter", "receiver", "power")
BETWEEN = b"\x00"
"""Stands between the files of a folder."""

SETTINGS = """\
ground_at = "notice"
leave_out = ["pulses", "bands/gap", "x-nothing"]
packs = ["club.rules.json", "../out.rules.json", "missing.rules.json"]
without_packs = ["other"]
rule_seconds = 5.5
region = "uk"

[settings."bands/thin-margin"]
margin_us = 30.5
word = "warning"
"""


def _bytes(tree: Any) -> bytes:
    return json.dumps(tree, ensure_ascii=False).encode()


@cache
def setups() -> tuple[bytes, ...]:
    """Documents of every kind, parts laid in: fleet, faulty, templates, and rules' examples."""
    every_key = TESTS / "schemas" / "every-key.setup.json"
    found = [template_text(name).encode() for name in templates()]
    for file in [every_key, *sorted(EXAMPLES.glob("*/*.setup.json"))]:
        document = read(file.read_bytes(), path=file.as_posix(), root=file.parent)
        if isinstance(document, Document):
            found.append(_bytes(document.data))
    for rule in prebind_rules.prebind_rules():
        for example in rule.examples():
            if isinstance(example, Fails | Passes):
                found.append(_bytes(patched(clean(example.start), example.patch)))
    return tuple(dict.fromkeys(found))


def broken() -> tuple[bytes, ...]:
    files = sorted((EXAMPLES / "broken").glob("*.setup.json"))
    return (*(file.read_bytes() for file in files), *HOSTILE)


HOSTILE = (
    b"",
    b"{}",
    b"[" * 1000,
    b'{"format": "model-setup/1"',
    b'\xef\xbb\xbf{"format": "model-setup/2"}',
    '{"format": "model-setup/1"}'.encode("utf-16"),
    b'{"a": 1, "\\u0061": 2}',
    b'{"a": "' + b"\\ud800" * 50 + b'"}',
    b'{"\xed\xa0\x80": 1}',
    b'{"a": ' + b"9" * 5000 + b"}",
    b'{"a"\r:\n1e5,\r\n"b" : [ 1 , 2\t] }\r',
)


@cache
def waived() -> tuple[bytes, ...]:
    """Faulty documents whose findings are waived, one way or another, and signed off."""
    found, inspector = [], Inspector()
    for data in setups()[::8]:
        report = inspector.inspect(data)
        if report.document is None:
            continue
        notes = {"reason": "Invented.", "by": "A. Builder", "until": "2031-03-31"}
        waivers = [{"rule": f.rule, "at": f.at, **notes} for f in report.findings[:6] if f.at]
        signs = [
            {"check": check, "by": "A. Builder", "on": "2026-02-01", "digest": "0f"}
            for check in ("control-direction", "failsafe", "throttle-cut")
        ]
        found.append(
            _bytes({**report.document.data, "waivers": waivers or [{**notes, "rule": "a/b"}]})
        )
        found.append(_bytes({**report.document.data, "sign_offs": signs}))
    return tuple(found)


@cache
def folders() -> tuple[bytes, ...]:
    """A document whose three sections come from files, and those files."""
    found = []
    for data in setups()[:40]:
        document = json.loads(data)
        texts = [_bytes(document.get(part, {})) for part in PARTS]
        asks = {part: {"from": f"{part}.json"} for part in PARTS if part in document}
        if "power" in asks:
            asks["power"] |= {"x-own": 1}
        found.append(BETWEEN.join([_bytes(document | asks), *texts]))
    return tuple(found)


NEXT_TO_NOTHING = 5e-324
"""The least number above 0 (IEEE 754, binary64): what divides by it gets infinity."""


def extremes() -> Iterator[tuple[str, bytes]]:
    """Every number that is met in a setup, once, next to nothing and very large."""
    met = set()
    for data in setups():
        for way in _numbers(json.loads(data)):
            name = "/".join("*" if isinstance(step, int) else step for step in way)
            if name not in met:
                met.add(name)
                for value in (NEXT_TO_NOTHING, 1_000_000):
                    yield name, _bytes(_with(json.loads(data), way, value))


def _numbers(node: Any, way: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if isinstance(node, int | float) and not isinstance(node, bool):
        yield way
    elif isinstance(node, dict | list):
        for step, inner in node.items() if isinstance(node, dict) else enumerate(node):
            yield from _numbers(inner, (*way, step))


def _with(tree: Any, way: tuple[Any, ...], value: Any) -> Any:
    box = tree
    for step in way[:-1]:
        box = box[step]
    box[way[-1]] = value
    return tree


def pairs() -> tuple[bytes, ...]:
    """Documents and the same again: what is changed in one is the difference."""
    return tuple(BETWEEN.join([data, data]) for data in setups()[::3])


def settings() -> tuple[bytes, ...]:
    tables = []
    for rule in Inspector().rules.values():
        for key, number in rule.settings.items():
            value = json.dumps(number.default)
            tables.append(f'[settings."{rule.id}"]\n{key} = {value}\nword = "{rule.word}"\n')
    mostly = 'leave_out = ["pulses"]\npacks = ["club.rules.json"]\nregion = "eu"\n'
    return (SETTINGS.encode(), b"", mostly.encode(), *(table.encode() for table in tables))


def sheets() -> tuple[bytes, ...]:
    club = (EXAMPLES / "packs" / "tern-bay.rules.json").read_bytes()
    whole = json.loads(club)
    alone = [_bytes({**whole, "rules": [rule]}) for rule in whole["rules"]]
    return (club, *alone, *(_bytes(sheet(schema, **DEFS)) for schema in SCHEMAS))


DEFS: dict[str, Any] = {"$defs": {"a": {"required": ["model"]}}}
SCHEMAS: tuple[Any, ...] = (
    {"$ref": "#/$defs/a"},
    {
        "properties": {
            "channels": {"items": {"required": ["control"], "not": {"$ref": "#/$defs/a"}}}
        }
    },
    {"patternProperties": {"^(a+)+$": False, "^x-": True}, "additionalProperties": {}},
    {"properties": {"model": {"properties": {"name": {"pattern": "^(\\w+\\s?)*$"}}}}},
    {"anyOf": [{"required": ["a"]}, {"oneOf": [{"const": 1}, {"enum": [1.0, "1", True]}]}]},
    {"if": {"required": ["mixes"]}, "then": {"minProperties": 3}, "else": False},
    {
        "properties": {
            "mixes": {"contains": {"type": "object"}, "maxContains": 2, "uniqueItems": True}
        }
    },
    {"properties": {"model": {"properties": {"mass_g": {"multipleOf": 0.01, "maximum": 7000}}}}},
    {
        "dependentSchemas": {"a": {"propertyNames": {"maxLength": 3}}},
        "unevaluatedProperties": False,
    },
)


@cache
def earlier() -> tuple[bytes, ...]:
    """Reports of faulty documents, in both formats that `--since` reads."""
    inspector = Inspector()
    reports = [inspector.inspect(data, path=f"{i}.setup.json") for i, data in enumerate(judged())]
    sets = [reports[:1], reports[1:2], reports]
    return tuple(
        written(name, inspector, some).encode() for name in ("json", "sarif") for some in sets
    )


def judged() -> tuple[bytes, ...]:
    """Three documents for what is laid against documents."""
    faulty = sorted(EXAMPLES.glob("faulty/*.setup.json"))[:2]
    documents = [read(f.read_bytes(), path=f.as_posix(), root=f.parent) for f in faulty]
    return (
        *(_bytes(it.data) for it in documents if isinstance(it, Document)),
        template_text("plain").encode(),
    )


def wishes() -> tuple[bytes, ...]:
    found = []
    for file in sorted((EXAMPLES / "plan").glob("*.wishes.json")):
        whole = json.loads(file.read_bytes())
        found.append(_bytes(whole))
        for model in whole["models"]:
            if "functions" in model:
                found.append(_bytes({**whole, "models": [model]}))
    return tuple(found)
