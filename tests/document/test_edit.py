"""Laying a JSON Patch on a text: what comes of it, and that nothing else moves."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import jsonpatch
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prebind.document.edit import edited
from prebind.document.parse import parse
from prebind.document.positions import Positions, escape

EXAMPLES = Path(__file__).parents[1] / "examples"
DATA = Path(__file__).parents[1] / "data" / "json-patch"

Patch = list[dict[str, Any]]


def read(text: str) -> Any:
    return parse(text.encode())


def same(one: Any, other: Any) -> bool:
    """Equality in which true is not 1; 5 and 5.0 are one number."""
    return _spelt(one) == _spelt(other)


def _spelt(value: Any) -> str:
    whole = isinstance(value, float) and value.is_integer()
    if isinstance(value, dict):
        return f"{{{sorted((key, _spelt(inside)) for key, inside in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(_spelt, value))}]"
    return repr(int(value) if whole else value)


# --- the published suite --------------------------------------------------------------------

# RFC 6902, appendix A (spec_tests.json), and its community's further cases (tests.json):
# npm `json-patch-test-suite` 1.1.0.
SUITE = [
    (case, f"{file}-{number}")
    for file in ("spec_tests", "tests")
    for number, case in enumerate(json.loads((DATA / f"{file}.json").read_text(encoding="utf-8")))
]
WAYS: list[dict[str, Any]] = [{}, {"separators": (",", ":")}, {"indent": 2}, {"indent": "\t"}]


# Each has a key twice in its patch, and is switched off in the suite: no JSON that we read.
NOT_JSON = {"A.13 Invalid JSON Patch Document", "duplicate ops"}


def test_the_suite_is_all_there() -> None:
    comments = {case.get("comment") for case, _ in SUITE}
    assert len(SUITE) == 95
    assert comments >= NOT_JSON


@pytest.mark.parametrize(
    "case",
    [pytest.param(case, id=name) for case, name in SUITE if case.get("comment") not in NOT_JSON],
)
def test_published_case(case: dict[str, Any]) -> None:
    for way in WAYS:
        text = json.dumps(case["doc"], **way)
        if "error" in case:
            with pytest.raises(ValueError, match=r"^operation \d"):
                edited(text, case["patch"])
            continue
        done = read(edited(text, case["patch"]))
        assert same(done, case.get("expected", case["doc"]))
        assert same(done, jsonpatch.apply_patch(case["doc"], case["patch"]))


# --- any document, any patch ----------------------------------------------------------------

keys = st.text(st.sampled_from('ab/~é"\\ 0-🛩'), max_size=2)
scalars = st.none() | st.booleans() | st.integers(-99, 99) | st.sampled_from([0.5, -2.5e-3]) | keys
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=12,
)


@st.composite
def texts(draw: Any) -> tuple[str, Any]:
    """A document in some layout, tidy or wild."""
    value = draw(values)
    mark = draw(st.sampled_from(["", "\ufeff"]))
    end = draw(st.sampled_from(["", "\n", "\r\n", " \t\n\n"]))
    if draw(st.booleans()):
        space = st.text(st.sampled_from(" \t\n\r"), max_size=3)
        return mark + draw(space) + _wild(value, lambda: draw(space)) + end, value
    text = json.dumps(
        value,
        indent=draw(st.sampled_from([None, 1, 2, 4, "\t"])),
        ensure_ascii=draw(st.booleans()),
        separators=draw(st.sampled_from([None, (",", ":"), (" ,", " : ")])),
    )
    return mark + text.replace("\n", draw(st.sampled_from(["\n", "\r\n", "\r"]))) + end, value


def _wild(value: Any, space: Any) -> str:
    if isinstance(value, dict):
        inner = ",".join(
            f"{space()}{json.dumps(key)}{space()}:{space()}{_wild(inside, space)}{space()}"
            for key, inside in value.items()
        )
        return f"{{{inner or space()}}}"
    if isinstance(value, list):
        inner = ",".join(f"{space()}{_wild(inside, space)}{space()}" for inside in value)
        return f"[{inner or space()}]"
    return json.dumps(value, ensure_ascii=False)


def pointers(value: Any, at: str = "") -> list[str]:
    inside = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    return [
        at,
        *(p for key, each in inside for p in pointers(each, f"{at}/{escape(str(key))}")),
    ]


def at(value: Any, pointer: str) -> Any:
    return jsonpatch.JsonPointer(pointer).resolve(value)


@st.composite
def operations(draw: Any, value: Any) -> dict[str, Any]:
    """An operation that may well fit, at a place that is there or could be."""
    there = pointers(value)
    containers = [p for p in there if isinstance(at(value, p), dict | list)]
    path = draw(st.sampled_from(there))
    name = draw(st.sampled_from(["add", "remove", "replace", "move", "copy", "test"]))
    if name in ("add", "move", "copy") and containers and draw(st.integers(0, 3)):
        parent = draw(st.sampled_from(containers))
        inside = at(value, parent)
        names = (
            keys if isinstance(inside, dict) else st.sampled_from([*range(len(inside) + 2), "-"])
        )
        path = f"{parent}/{escape(str(draw(names)))}"
    found: dict[str, Any] = {"op": name, "path": path}
    if name in ("add", "replace"):
        found["value"] = draw(values)
    if name == "test":
        found["value"] = at(value, path) if draw(st.booleans()) else draw(values)
    if name in ("move", "copy"):
        found["from"] = draw(st.sampled_from(there))
    return found


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_agrees_with_the_package(data: st.DataObject) -> None:
    """PyPI `jsonpatch` on the parsed document, and we on its text, come to the same."""
    text, value = data.draw(texts())
    assert same(read(text), value)
    for _ in range(data.draw(st.integers(1, 3))):
        operation = data.draw(operations(value))
        if operation["op"] == "remove" and not operation["path"]:
            continue  # there would be no document left; the package crashes on it
        if operation["op"] == "test" and not same(at(value, operation["path"]), operation["value"]):
            with pytest.raises(ValueError, match="another value"):  # the package takes 1 for true
                edited(text, [operation])
            continue
        try:
            after = jsonpatch.apply_patch(copy.deepcopy(value), [operation])
        except (jsonpatch.JsonPatchException, jsonpatch.JsonPointerException, TypeError):
            with pytest.raises(ValueError, match=r"^operation 1 "):
                edited(text, [operation])
            continue
        text, value = edited(text, [operation]), after
        assert same(read(text), value)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_nothing_else_moves(data: st.DataObject) -> None:
    """Around the container that an operation works in, and of what stays in it, no byte changes."""
    text, value = data.draw(texts())
    operation = data.draw(operations(value))
    if operation["op"] not in ("add", "remove", "replace") or not operation["path"]:
        return
    try:
        after = edited(text, [operation])
    except ValueError:
        return
    parent, _, name = operation["path"].rpartition("/")
    mark = text[: len(text) - len(text.removeprefix("\ufeff"))]
    assert after.startswith(mark)
    before, after = text.removeprefix("\ufeff"), after.removeprefix("\ufeff")
    start, end = _span(before, parent)
    start_after, end_after = _span(after, parent)
    assert before[:start] == after[:start_after]
    assert before[end:] == after[end_after:]
    one, other = _entries(before, parent), _entries(after, parent)
    key = name.replace("~1", "/").replace("~0", "~")
    if isinstance(one, dict) and isinstance(other, dict):
        one.pop(key, None)
        other.pop(key, None)
        assert list(one.items()) == list(other.items())
        return
    assert isinstance(one, list)
    assert isinstance(other, list)
    number = len(one) if key == "-" else int(key)
    if operation["op"] != "add":
        del one[number]
    if operation["op"] != "remove":
        del other[number]
    assert one == other


def _span(text: str, pointer: str) -> tuple[int, int]:
    names = [t.replace("~1", "/").replace("~0", "~") for t in pointer.split("/")[1:]]
    found = Positions(text).find(names)
    return found.start, found.end


def _entries(text: str, pointer: str) -> dict[str, str] | list[str]:
    """The text of each entry of a container."""
    inside = at(read(text), pointer)

    def written(name: object) -> str:
        start, end = _span(text, f"{pointer}/{escape(str(name))}")
        return text[start:end]

    if isinstance(inside, dict):
        return {key: written(key) for key in inside}
    return [written(number) for number in range(len(inside))]


# --- the manner of the neighbours -----------------------------------------------------------

RATES = {"rate_percent": 80.0, "expo_percent": -20}


def put(path: str, value: Any) -> dict[str, Any]:
    return {"op": "add", "path": path, "value": value}


def gone(path: str) -> dict[str, Any]:
    return {"op": "remove", "path": path}


@pytest.mark.parametrize(
    ("text", "operation", "expected"),
    [
        pytest.param('{"a":1}', put("/b", [1, {"c": 2}]), '{"a":1,"b":[1,{"c":2}]}', id="compact"),
        pytest.param('{"a": 1}', put("/b", RATES), '{"a": 1, "b": {"rate_percent": 80, '
                     '"expo_percent": -20}}', id="one line"),
        pytest.param('{ "a" : 1 }\n', put("/b", {"c": 2}), '{ "a" : 1, "b" : { "c" : 2 } }\n',
                     id="one line, padded"),
        pytest.param("[1 , 2]", put("/-", [3, 4]), "[1 , 2 , [3 , 4]]", id="comma set off inside"),
        pytest.param('[1, 2,\n 3]', put("/2", 9), '[1, 2,\n 9,\n 3]', id="where a line begins"),
        pytest.param('{\n  "a": [0],\n  "b": {\n    "c": 1\n  }\n}', put("/a/0", {"d": 1}),
                     '{\n  "a": [{"d": 1}, 0],\n  "b": {\n    "c": 1\n  }\n}', id="in one line"),
        pytest.param('{\n  "a": [0],\n  "b": {\n    "c": 1\n  }\n}',
                     {"op": "replace", "path": "/a/0", "value": {"d": 1}},
                     '{\n  "a": [{"d": 1}],\n  "b": {\n    "c": 1\n  }\n}', id="one line stays"),
        pytest.param('[\n  [\n    {\n      "a": 1\n    }\n  ],\n  {"a": 1},\n  {"a": 1000000}\n]',
                     put("/0/-", {"a": 2}),
                     '[\n  [\n    {\n      "a": 1\n    },\n    {\n      "a": 2\n    }\n  ],\n'
                     '  {"a": 1},\n  {"a": 1000000}\n]', id="as the one beside it"),
        pytest.param('[\n  {\n    "a": 1\n  },\n  {\n    "a": 2\n  },\n  {"a": 3},\n  0\n]',
                     put("/-", {"a": 4}),
                     '[\n  {\n    "a": 1\n  },\n  {\n    "a": 2\n  },\n  {"a": 3},\n  0,\n  {\n'
                     '    "a": 4\n  }\n]', id="as most of its kind"),
        pytest.param('{\n  "a":\n  {\n    "b": 1\n  }\n}', put("/c", 2),
                     '{\n  "a":\n  {\n    "b": 1\n  },\n  "c": 2\n}', id="bracket below its key"),
        pytest.param("[1 , 2]", put("/1", 9), "[1 , 9 , 2]", id="comma set off"),
        pytest.param('{\r\n\t"a": 1\r\n}\r\n', put("/b", {"c": [True]}),
                     '{\r\n\t"a": 1,\r\n\t"b": {\r\n\t\t"c": [\r\n\t\t\ttrue\r\n\t\t]\r\n\t}\r\n}'
                     "\r\n", id="CRLF, tabs"),
        pytest.param('{\n   "a": [\n      1\n   ]\n}', put("/a/0", [2]),
                     '{\n   "a": [\n      [\n         2\n      ],\n      1\n   ]\n}', id="three"),
        pytest.param('{\r  "a": 1\r}', put("/b", 2), '{\r  "a": 1,\r  "b": 2\r}', id="CR alone"),
        pytest.param('{ "a": 1\n, "b": 2\n}', put("/c", 3), '{ "a": 1\n, "b": 2\n, "c": 3\n}',
                     id="comma first"),
        pytest.param('[\n  1,\n\n  2\n]', put("/-", 3), '[\n  1,\n\n  2,\n  3\n]',
                     id="a blank line is not repeated"),
        pytest.param('{"p": [[-100, 0],\n      [100, 0]]}', put("/p/1", [0, 5]),
                     '{"p": [[-100, 0],\n      [0, 5],\n      [100, 0]]}', id="hanging"),
        pytest.param('[1, 2,\n 3, 4]', put("/-", 5), '[1, 2,\n 3, 4, 5]', id="filled lines"),
        pytest.param('{\n  "c": [\n    1\n  ],\n  "d": [\n    1\n  ],\n'
                     '  "a": [{"x": 1}],\n  "b": []\n}',
                     put("/b/-", {"x": 2}), '{\n  "c": [\n    1\n  ],\n  "d": [\n    1\n  ],\n'
                     '  "a": [{"x": 1}],\n  "b": [{"x": 2}]\n}', id="as the list beside it"),
        pytest.param('{\n  "a": {"x": 1},\n  "b": [\n    {"x": 1}\n  ]\n}', put("/b/-", {"x": 2}),
                     '{\n  "a": {"x": 1},\n  "b": [\n    {"x": 1},\n    {"x": 2}\n  ]\n}',
                     id="one line each"),
        pytest.param('{\n  "a": [1, 2],\n  "b": 0\n}', put("/c", [0, 1, 2, 3]),
                     '{\n  "a": [1, 2],\n  "b": 0,\n  "c": [\n    0,\n    1,\n    2,\n    3'
                     "\n  ]\n}", id="lines grow no longer"),
        pytest.param('{\n  "a": [1, 2, 3],\n  "b": 0\n}', put("/long-name", [4, 5]),
                     '{\n  "a": [1, 2, 3],\n  "b": 0,\n  "long-name": [\n    4,\n    5\n  ]\n}',
                     id="a key takes room"),
        pytest.param('{\n  "a": 1.50,\n  "b": 1E+2\n}', put("/a", 2),
                     '{\n  "a": 2,\n  "b": 1E+2\n}', id="numbers as they were spelt"),
        pytest.param('{"a": "\\u00e9"}', put("/b", "é"), '{"a": "\\u00e9", "b": "\\u00e9"}',
                     id="escapes where they are used"),
        pytest.param('{"a": "é"}', put("/b", "🛩"), '{"a": "é", "b": "🛩"}', id="none elsewhere"),
        pytest.param('\ufeff{}', put("/é", 1), '\ufeff{"é": 1}', id="byte order mark"),
        pytest.param('{\n  "a": 1,\n  "b": 2\n}', gone("/b"), '{\n  "a": 1\n}', id="the last"),
        pytest.param('{\n  "a": 1,\n  "b": 2\n}', gone("/a"), '{\n  "b": 2\n}', id="the first"),
        pytest.param('[ 1 ]', gone("/0"), "[]", id="the only one"),
        pytest.param('{\n  "a": {\n    "b": [1.0,\n      2]\n  }\n}',
                     {"op": "move", "from": "/a/b", "path": "/b"},
                     '{\n  "a": {},\n  "b": [1.0,\n    2]\n}', id="moved as it stands"),
        pytest.param('{"a": 1e0, "b": [0]}', {"op": "copy", "from": "/a", "path": "/b/0"},
                     '{"a": 1e0, "b": [1e0, 0]}', id="copied as it stands"),
    ],
)  # fmt: skip
def test_manner(text: str, operation: dict[str, Any], expected: str) -> None:
    assert edited(text, [operation]) == expected


@pytest.mark.parametrize(
    "file", sorted(EXAMPLES.glob("fleet/[dr][eu]*.setup.json")), ids=lambda f: f.stem
)
def test_a_setup_comes_back_as_it_was(file: Path) -> None:
    """Put in at the end and taken out again, at every list of a real document."""
    text = file.read_bytes().decode()
    data = json.loads(text)
    for pointer in pointers(data):
        inside = at(data, pointer)
        if isinstance(inside, list) and inside:
            longer = edited(text, [put(f"{pointer}/-", inside[-1])])
            assert longer != text
            assert edited(longer, [gone(f"{pointer}/{len(inside)}")]) == text
            longer = edited(text, [put(f"{pointer}/0", inside[0])])
            assert edited(longer, [gone(f"{pointer}/0")]) == text


# --- refusals -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("operation", "says"),
    [
        (put("/a/b/c", 1), "operation 2 (add /a/b/c): nothing stands there"),
        (put("/l/2", 1), "operation 2 (add /l/2): 2 is beyond the end of the list"),
        (put("/l/01", 1), "operation 2 (add /l/01): '01' is no place in a list"),
        (put("/l/²", 1), "operation 2 (add /l/²): '²' is no place in a list"),
        (put("/a/b", 1), "operation 2 (add /a/b): nothing can be put into what stands there"),
        (put("a", 1), "operation 2 (add a): 'a' is not a JSON Pointer (RFC 6901)"),
        (put("/a", float("nan")), "operation 2 (add /a): Out of range float"),
        (put("/a", {1: 2}), "operation 2 (add /a): the key 1 is not a text"),
        (put("/a", {1, 2}), "operation 2 (add /a): Object of type set is not JSON"),
        (gone("/l/-"), "operation 2 (remove /l/-): nothing stands there"),
        (gone(""), "operation 2 (remove ): the whole document cannot be removed"),
        ({"op": "replace", "path": "/b", "value": 1}, "operation 2 (replace /b): nothing stands"),
        ({"op": "test", "path": "/one", "value": True}, "operation 2 (test /one): what stands"),
        ({"op": "test", "path": "/t", "value": 1}, "operation 2 (test /t): what stands"),
        ({"op": "move", "from": "/l", "path": "/l/0"}, "cannot be moved into itself"),
        ({"op": "move", "path": "/l/0"}, "it needs a JSON Pointer as its `from`"),
        ({"op": "add", "path": "/l/0"}, "it needs a `value`"),
        ({"op": ["add"], "path": "/l/0"}, "this is no operation of a JSON Patch (RFC 6902)"),
        ("add", "operation 2: this is no operation"),
    ],
)
def test_all_or_none(operation: Any, says: str) -> None:
    with pytest.raises(ValueError) as refused:  # noqa: PT011 - the message is compared below
        edited('{"a": 0, "l": [0], "one": 1, "t": true}', [put("/x", 1), operation])
    assert says in str(refused.value)
