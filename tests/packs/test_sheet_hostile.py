"""Sheets that mean harm: none is followed outside, none takes long, and none ends the run."""

from __future__ import annotations

import json
import socket
import sys
from functools import cache
from time import process_time
from typing import TYPE_CHECKING, Any

import jsonschema_rs
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.made_sheet import sheet

from prebind import Configuration, Inspector
from prebind.cli import main
from prebind.document import Document
from prebind.document import read as read_setup
from prebind.packs import Pack
from prebind.packs.sheet import LIMIT_BYTES, conditions, read
from prebind.packs.sheet.faults import MOST_LEVELS, MOST_SCHEMAS
from prebind.packs.sheet.verdict import MOST_STEPS
from prebind.path import Path as SignalPath
from prebind.rule import Open
from prebind.testing import clean, inspected, patched

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from prebind.problem import Problem
    from prebind.rule import Rule

Json = dict[str, Any]

SECONDS = 5
"""Generous: what blows up takes minutes, or all memory."""


@pytest.fixture(autouse=True)
def _alone(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_network(*_: Any, **__: Any) -> Any:
        raise AssertionError("a sheet reached for the network")

    monkeypatch.setattr(socket.socket, "connect", no_network)


@pytest.fixture(autouse=True)
def _in_time(request: pytest.FixtureRequest) -> Iterator[None]:
    started = process_time()
    yield
    if not hasattr(request.function, "hypothesis"):
        assert process_time() - started < SECONDS


def refused(data: Json | bytes) -> list[Problem]:
    found = read("x.rules.json", data if isinstance(data, bytes) else json.dumps(data).encode())
    assert isinstance(found, list)
    assert all(problem.line and problem.column for problem in found[:100])
    assert all(problem.message.isprintable() for problem in found)
    assert all(len(problem.message) < 1500 for problem in found)
    return found


def rule_of(schema: Any, **more: Any) -> Rule:
    found = read("x.rules.json", json.dumps(sheet(schema, **more)).encode())
    assert isinstance(found, Pack), found
    return found.rules[0]


def says(found: list[Problem], words: str) -> bool:
    return any(words in problem.message for problem in found)


# --- references -----------------------------------------------------------------------------

OUTSIDE = [
    "http://localhost:1/a.json",
    "https://json-schema.org/draft/2020-12/schema",
    "file:///etc/passwd",
    "/etc/passwd",
    "../club.rules.json",
    "urn:prebind:schema:model-setup:1",
    "//host/share",
    "json-schema:///",
    "#",
    "#/",
    "#anchor",
    "#/rules/0/require/document",
    "#/$defs/a/not",
    "#/$defs/%61",
    "#/$defs/a\n",
    "#/%24defs/a",
    "",
    5,
    None,
]


@pytest.mark.parametrize("reference", OUTSIDE)
def test_nothing_outside_the_sheet_is_referred_to(reference: Any) -> None:
    found = refused(sheet({"anyOf": [{"not": {"$ref": reference}}]}, **{"$defs": {"a": True}}))
    assert says(found, "nothing outside the sheet can be referred to")


@pytest.mark.parametrize("keyword", ["$id", "$anchor", "$dynamicRef", "$schema", "$recursiveRef"])
def test_no_address_is_given(keyword: str) -> None:
    for place in ({keyword: "https://example.org/a"}, {"properties": {"model": {keyword: "#a"}}}):
        assert says(refused(sheet(place)), "refers to nothing but `#/$defs/NAME`")


def test_circles() -> None:
    around = {f"d{i}": {"not": {"$ref": f"#/$defs/d{(i + 1) % 300}"}} for i in range(300)}
    found = refused(sheet({"$ref": "#/$defs/d0"}, **{"$defs": around}))
    assert says(found, "`d299` in `$defs` leads back to itself, through its reference to `d0`") or (
        says(found, "there are 200 more faults")
    )
    itself = {"a": {"$ref": "#/$defs/a"}, "b": {"allOf": [{"$ref": "#/$defs/a"}]}}
    (only,) = refused(sheet(True, **{"$defs": itself}))
    assert "`a` in `$defs` leads back to itself" in only.message


def test_a_schema_that_doubles_forty_times() -> None:
    defs: Json = {"d0": {"type": "object"}}
    for i in range(40):
        defs[f"d{i + 1}"] = {"allOf": [{"$ref": f"#/$defs/d{i}"}] * 2}
    (only,) = refused(sheet({"$ref": "#/$defs/d40"}, **{"$defs": defs}))
    assert f"takes the sheet beyond {MOST_SCHEMAS:,} schemas" in only.message


def test_as_many_schemas_as_there_may_be() -> None:
    """Each entry of `allOf` is one, and each way to it another."""
    hundred = {"allOf": [{"$ref": "#/$defs/one"}] * 49}
    whole = {"allOf": [{"$ref": "#/$defs/fifty"}] * 49}
    defs = {"one": {"required": ["model"]}, "fifty": hundred}
    rule = rule_of(whole, **{"$defs": defs})
    assert inspected(rule, clean()).outcomes["pass"] == 1
    whole["allOf"].append(whole["allOf"][0])
    assert says(refused(sheet(whole, **{"$defs": defs | {"one": {"enum": [1]}}})), "beyond")


def test_a_chain_of_references() -> None:
    defs: Json = {"d0": {"required": ["x-never"]}}
    for i in range(300):
        defs[f"d{i + 1}"] = {"$ref": f"#/$defs/d{i}"}
    (only,) = refused(sheet({"$ref": "#/$defs/d300"}, **{"$defs": defs}))
    assert f"goes more than {MOST_LEVELS} schemas deep" in only.message
    rule = rule_of({"$ref": "#/$defs/d48"}, **{"$defs": dict(list(defs.items())[:49])})
    assert inspected(rule, clean()).outcomes["fail"] == 1


def test_as_deep_as_schemas_may_stand() -> None:
    """JSON may be 64 levels deep, of which the sheet's own take some; references add to them."""
    deep: Any = {"required": ["model"]}
    for _ in range(48):
        deep = {"not": deep}
    more: Any = {"$ref": "#/$defs/deep"}
    for _ in range(40):
        more = {"not": more}
    rule = rule_of(more, **{"$defs": {"deep": deep}})
    assert inspected(rule, clean()).outcomes["pass"] == 1


# --- patterns -------------------------------------------------------------------------------

SLOW = ["(a+)+$", "(a|a)*$", "(a|aa)+$", "([a-z]+)*$", "(.*)*x", "(x+x+)+y", "^(a?){20}a{20}$"]


@pytest.mark.parametrize("pattern", SLOW)
def test_patterns_that_others_choke_on(pattern: str) -> None:
    """From OWASP's page on denial of service by regular expressions, from memory."""
    schema = {"additionalProperties": {"pattern": pattern}, "patternProperties": {pattern: {}}}
    rule = rule_of({"properties": {"x-texts": schema}})
    for text in ("a" * 1999 + "!", "ab" * 900, "x" * 1998):
        assert not inspected(rule, clean() | {"x-texts": {text: text}}).problems


@pytest.mark.parametrize(
    "pattern",
    ["^(a{1000}){1000}$", "((a{100}){100}){100}", "a{9999999}", "(?:(?:(?:x{99}){99}){99})"],
)
def test_patterns_that_grow(pattern: str) -> None:
    (only,) = refused(sheet({"pattern": pattern}))
    assert "is small also with its repeats written out" in only.message


@pytest.mark.parametrize(
    "pattern", ["(?<=a)b", "(?=a)a", "(?!a)b", r"(a)\1", "(?P<n>a)(?P=n)", "(", "a" * 201]
)
def test_patterns_that_need_to_look_back(pattern: str) -> None:
    assert refused(sheet({"pattern": pattern}))


def test_three_thousand_patterns() -> None:
    listed = [{"pattern": f"^(a|b){{{i % 90}}}{i}$"} for i in range(3000)]
    schema = {"allOf": [{"anyOf": listed[i : i + 100]} for i in range(0, 3000, 100)]}
    rule = rule_of({"properties": {"x-text": schema}})
    assert inspected(rule, clean() | {"x-text": "ab"}).outcomes["fail"] == 1
    assert inspected(rule, clean() | {"x-text": "ab" * 900}).outcomes["open"] == 1


def test_a_text_that_is_too_long_to_look_at_is_open() -> None:
    rule = rule_of({"properties": {"x-text": {"pattern": "^a*$"}}})
    assert inspected(rule, clean() | {"x-text": "a" * 2000}).outcomes["pass"] == 1
    (finding,) = inspected(rule, clean() | {"x-text": "a" * 2001}).findings
    assert finding.kind == "open"
    assert "`x-text` is too long to be looked at" in finding.message


# --- size -----------------------------------------------------------------------------------


def test_a_sheet_that_is_too_large() -> None:
    data = json.dumps(sheet(True) | {"x-much": "x" * LIMIT_BYTES}).encode()
    (only,) = refused(data)
    assert f"more than {LIMIT_BYTES:,} bytes" in only.message


def test_lists_that_are_too_long() -> None:
    for schema in (
        {"enum": list(range(20_000))},
        {"allOf": [True] * 20_000},
        {"required": ["a"] * 20_000},
        {"properties": {f"x-{i}": True for i in range(10_000)}},
    ):
        assert says(refused(sheet(schema)), "; it must have")
    rules = sheet(True)
    rules["rules"] *= 201
    assert says(refused(rules), "`rules` has 201 entries; it must have 1 to 200")


@pytest.mark.parametrize(
    "text",
    [
        '{"a": ' * 100_000,
        "[" * 200_000,
        '{"format": ' + "9" * 200_000 + "}",
        '{"format": 1e' + "9" * 100_000 + "}",
        '{"format": NaN}',
        '{"format": Infinity}',
        '{"rules": [], "rules": []}',
        '{"format": "\\ud800"}',
        '{"\\udc00": 1}',
        '\ufeff{"format": "a"',
    ],
)
def test_texts_that_are_hard_to_read(text: str) -> None:
    assert len(refused(text.encode())) == 1


def test_numbers_at_the_bound_of_what_is_read() -> None:
    for number in (10**39, -(10**38), 1e300, 5e-324, 0.1 + 0.2):
        schema = {"properties": {"model": {"properties": {"mass_g": {"maximum": number}}}}}
        report = inspected(rule_of(schema), clean())
        assert report.outcomes["pass" if number > 1650 else "fail"] == 1, number
        assert inspected(
            rule_of({"properties": {"x-n": {"const": number}}}), clean() | {"x-n": number}
        )


def test_many_faults_are_told_to_a_bound() -> None:
    schema = {"allOf": [{f"odd {i} {j}": 1 for j in range(40)} for i in range(90)]}
    found = refused(sheet(schema))
    assert len(found) == 101
    assert says(found, "more faults than are listed here")


# --- a sheet and a setup together -----------------------------------------------------------


@cache
def large() -> SignalPath:
    """Of a setup with 40,000 entries of 13 values each."""
    many = [{"a": i, "b": [i] * 10} for i in range(40_000)]
    document = read_setup(clean() | {"x-many": many})
    assert isinstance(document, Document)
    return SignalPath(document.setup)


def answer(schema: Json) -> list[Any]:
    found = rule_of({"properties": {"x-many": schema}}).judge(large(), large(), {})
    return found if isinstance(found, list) else [found]


BEYOND = [
    {"items": {"properties": {"b": {"items": {"minimum": 0}}}}},
    {"uniqueItems": True},
    {"not": {"const": [1]}},
    {"contains": {"enum": [5]}, "minContains": 39_000},
    {"items": {"additionalProperties": {"type": ["number", "array"]}}},
    {"items": {"patternProperties": {"^a": True, "^b": True}}},
    {"items": {"anyOf": [{"const": 1}, {"const": 2}, {"const": 3}]}},
]


@pytest.mark.parametrize("schema", BEYOND, ids=str)
def test_what_would_take_long_is_open(schema: Json) -> None:
    (outcome,) = answer(schema)
    assert isinstance(outcome, Open)
    assert outcome.message == (
        f"This is not checked: the rule and this setup together take more than {MOST_STEPS:,} "
        "comparisons."
    )


def test_forty_thousand_broken_places() -> None:
    outcomes = answer({"items": {"required": ["x-no"]}})
    assert len(outcomes) == 21
    assert "so it is at 39980 more places" in outcomes[-1].message


def test_a_document_of_switches_and_a_schema_on_its_trace() -> None:
    """Three to the fifth combinations, each an entry of the trace, all lifted to one place."""
    setup = clean()
    for i in range(5):
        name = f"switch-{i}"
        setup["transmitter"]["controls"][name] = {"kind": "switch", "positions": ["a", "b", "c"]}
        setup.setdefault("mixes", []).append(
            {
                "name": name,
                "from": {"control": name},
                "to": 5,
                "rate_percent": {"low": 1, "high": 1},
            }
        )
    made = sheet(True)
    made["rules"][0]["require"] = {
        "trace": {
            "properties": {
                "selectors": {
                    "items": {"properties": {"positions": {"items": {"required": ["x-no"]}}}}
                }
            }
        }
    }
    found = read("x.rules.json", json.dumps(made).encode())
    assert isinstance(found, Pack)
    first, second = inspected(found.rules[0], setup).findings
    assert first.at == "/receiver/stabiliser/selectors/0"
    assert first.message.endswith("and 726 more like it.")
    assert second.at == "/receiver/stabiliser/selectors/1"
    assert len(first.message) < 600


# --- examples -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "operation",
    [
        {"op": "copy", "from": "", "path": "/x-a"},
        {"op": "add", "path": "no pointer", "value": 1},
        {"op": "add", "path": "/a~2b", "value": 1},
        {"op": "add", "path": "/" + "a" * 600, "value": 1},
        {"op": "add", "path": "/x-a"},
        {"op": "move", "path": "/x-a"},
        {"op": "run", "path": "/x-a"},
        {"path": "/x-a"},
        [],
    ],
    ids=str,
)
def test_operations_that_there_are_not(operation: Any) -> None:
    made = sheet(True)
    made["rules"][0]["examples"][0]["patch"] = [operation]
    assert refused(made)


@pytest.mark.parametrize(
    "path",
    ["/channels/99999999999999999999", "/channels/-1", "/channels/01", "/format/0", "/a/b/c"],
)
def test_operations_that_do_not_fit_say_so(path: str) -> None:
    made = sheet(True)
    made["rules"][0]["examples"][0]["patch"] = [{"op": "add", "path": path, "value": 1}]
    found = read("x.rules.json", json.dumps(made).encode())
    assert isinstance(found, Pack)
    for example in found.rules[0].examples():
        if example.patch:
            with pytest.raises(ValueError, match="does not fit the setup"):
                patched(clean(), example.patch)


def test_too_many_operations() -> None:
    made = sheet(True)
    made["rules"][0]["examples"][0]["patch"] = [{"op": "remove", "path": "/x"}] * 51
    assert says(refused(made), "`patch` has 51 entries; it must have at most 50")


# --- texts ----------------------------------------------------------------------------------

RAW = ["\x1b[31m", "\x07", "\x9b", "\u202e", "\u2066", "\r", "\x00"]


@pytest.mark.parametrize("raw", RAW, ids=ascii)
def test_no_control_character_reaches_a_terminal(
    raw: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Refused where it is one; where it only turns the writing round it is spelt out."""
    monkeypatch.chdir(tmp_path)
    made = sheet({"properties": {"model": {"title": f"a{raw}b", "const": f"c{raw}d"}}})
    for key in ("title", "message", "why", "safety", "remedy", "bench", "source"):
        made["rules"][0][key] = f"x{raw}y"
    (tmp_path / "x.rules.json").write_text(json.dumps(made), encoding="utf-8")
    (tmp_path / "a.setup.json").write_text(json.dumps(clean()), encoding="utf-8")
    for arguments in (
        ["inspect", "--plain", "--pack", "x.rules.json", "a.setup.json"],
        ["rulebook", "--pack", "x.rules.json", "club/test"],
        ["rulebook", "--try", "x.rules.json"],
    ):
        main(arguments)
        out, err = capsys.readouterr()
        assert raw not in out + err
        assert out + err


def test_keys_of_a_sheet_are_told_without_control_characters() -> None:
    for schema in ({"\x1b[31m": 1}, {"properties": {"\x1b[31m": True}}, {"required": ["\x9b"]}):
        assert refused(sheet(schema))


# --- whatever comes -------------------------------------------------------------------------


def test_a_panic_of_the_validator_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    class PanicException(BaseException):
        """As pyo3, by which jsonschema-rs is bound, calls what it raises."""

    def panics(*_: Any, **__: Any) -> Any:
        raise PanicException("index out of bounds")

    rule = rule_of({"properties": {"model": {"type": "string"}}})
    monkeypatch.setattr(jsonschema_rs, "Draft202012Validator", panics)
    (problem,) = inspected(rule, clean()).problems
    assert "index out of bounds" in problem.message
    assert says(refused(sheet({"pattern": "a new one"})), "cannot be used")


def test_an_interrupt_is_not_swallowed(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: Any, **__: Any) -> Any:
        raise KeyboardInterrupt

    rule = rule_of({"properties": {"model": {"type": "string"}}})
    monkeypatch.setattr(jsonschema_rs, "Draft202012Validator", interrupted)
    with pytest.raises(KeyboardInterrupt):
        inspected(rule, clean())


def test_a_sheet_that_is_refused_leaves_all_others_in_force(tmp_path: Path) -> None:
    bad, good = tmp_path / "bad.rules.json", tmp_path / "good.rules.json"
    bad.write_text(json.dumps(sheet({"$ref": "http://localhost:1/"})), encoding="utf-8")
    good.write_text(json.dumps(sheet({"required": ["x-no"]})), encoding="utf-8")
    inspector = Inspector(Configuration(packs=(str(bad), str(good))))
    (problem,) = inspector.problems
    assert problem.path == str(bad)
    report = inspector.inspect(clean())
    assert [f.rule for f in report.findings if f.kind == "fail"] == ["club/test"]


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=20,
)
PLACES = [
    (),
    ("pack",),
    ("pack", "name"),
    ("rules",),
    ("rules", 0),
    ("rules", 0, "id"),
    ("rules", 0, "when"),
    ("rules", 0, "require"),
    ("rules", 0, "require", "document"),
    ("rules", 0, "require", "document", "properties"),
    ("rules", 0, "require", "document", "properties", "model"),
    ("rules", 0, "require", "document", "if"),
    ("rules", 0, "require", "document", "patternProperties"),
    ("rules", 0, "require", "document", "$ref"),
    ("rules", 0, "examples"),
    ("rules", 0, "examples", 0),
    ("rules", 0, "examples", 0, "patch"),
    ("rules", 0, "examples", 0, "patch", 0),
    ("$defs",),
    ("$defs", "one"),
]
KEYWORDS = [
    "type",
    "const",
    "enum",
    "minimum",
    "pattern",
    "items",
    "contains",
    "properties",
    "patternProperties",
    "additionalProperties",
    "propertyNames",
    "required",
    "allOf",
    "not",
    "if",
    "then",
    "$ref",
    "$id",
    "format",
    "x-a",
]
LIKE_SCHEMAS = st.recursive(
    JSON | st.sampled_from(["#/$defs/one", "^a", "object", "mass_g"]),
    lambda inner: (
        st.dictionaries(
            st.sampled_from([*KEYWORDS, "model", "channels", "mass_g"]), inner, max_size=4
        )
        | st.lists(inner, max_size=3)
    ),
    max_leaves=12,
)


@settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.sampled_from(PLACES), LIKE_SCHEMAS, st.booleans())
def test_any_json_is_a_sheet_or_a_list_of_problems(place: Any, value: Any, both: bool) -> None:
    made: Any = sheet(
        {
            "properties": {"model": True},
            "if": True,
            "$ref": "#/$defs/one",
            "patternProperties": {},
        },
        **{"$defs": {"one": {"type": "object"}}},
    )
    rule = made["rules"][0]
    rule["when"] = {}
    rule["examples"][0]["patch"] = [{"op": "remove", "path": "/x"}]
    if place:
        here = made
        for step in place[:-1]:
            here = here[step]
        here[place[-1]] = value
        if both:
            rule["require"] = {"document": value, "trace": value}
    else:
        made = value
    _holds(read("x.rules.json", json.dumps(made).encode()))


@settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.binary(max_size=60) | st.text(max_size=60).map(lambda it: it.encode("utf-8", "replace")))
def test_any_bytes_are_a_list_of_problems(data: bytes) -> None:
    assert isinstance(read("x.rules.json", data), list)


def _holds(found: Pack | list[Problem]) -> None:
    """Either there are problems, or the rules can be laid against a setup."""
    if isinstance(found, list):
        assert found
        assert all(problem.message.isprintable() for problem in found)
        return
    for rule in found.rules:
        assert not inspected(rule, clean()).problems


def test_recursion_has_room_enough() -> None:
    """The deepest sheet that is let through, from deep within a program."""
    defs: Json = {"d0": {"required": ["x-never"]}}
    for i in range(97):
        defs[f"d{i + 1}"] = {"properties": {"x-a": {"$ref": f"#/$defs/d{i}"}}}
        defs[f"d{i + 1}"] = {"allOf": [{"$ref": f"#/$defs/d{i}"}]}
    rule = rule_of({"$ref": "#/$defs/d48"}, **{"$defs": defs})
    frames = 0
    frame: Any = sys._getframe()
    while frame is not None:
        frames, frame = frames + 1, frame.f_back
    limit = sys.getrecursionlimit()
    sys.setrecursionlimit(frames + 500)
    try:
        assert inspected(rule, clean()).outcomes["fail"] == 1
    finally:
        sys.setrecursionlimit(limit)


def test_the_validator_is_the_one_that_cannot_blow_up() -> None:
    """What is relied on: without `RegexOptions` jsonschema-rs matches by backtracking."""
    assert jsonschema_rs.RegexOptions(size_limit=1)
    assert not conditions.fits("(a+)+$", "a" * 2000 + "!")
