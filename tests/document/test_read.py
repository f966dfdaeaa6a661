"""Reading as a whole: from bytes to a setup, or to everything that is wrong with it."""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prebind.document import Document, Place, read
from prebind.problem import Problem

EXAMPLES = Path(__file__).parents[1] / "examples"
AVOCET = """{
  "format": "model-setup/1",
  "model": {"name": "Avocet 900", "airframe": "glider"},
  "transmitter": {
    "channels": 6,
    "controls": {
      "mode": {"kind": "switch", "positions": ["back", "forward"]}
    }
  },
  "channels": [
    {"channel": 1, "function": "aileron", "control": "mode"},
    {"channel": 2, "function": "flap", "control": "mode"}
  ]
}
"""


def good(data: Any, **more: Any) -> Document:
    result = read(data, **more)
    assert isinstance(result, Document), result
    return result


def bad(data: Any, **more: Any) -> list[Problem]:
    result = read(data, **more)
    assert isinstance(result, list)
    assert result
    return result


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("f*/*.setup.json")), ids=lambda it: it.name)
def test_the_demo_fleet_is_read(path: Path) -> None:
    document = good(path.read_bytes(), path=str(path), root=path.parent)
    assert document.setup.model.name == document.data["model"]["name"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("redshank-duplicate-key", "stands twice in this object, first at line"),
        ("redshank-trailing-comma", "remove this comma"),
    ],
)
def test_broken_examples_are_refused(name: str, words: str) -> None:
    path = EXAMPLES / f"broken/{name}.setup.json"
    [problem] = bad(path.read_bytes(), path="redshank.setup.json")
    assert words in problem.message
    assert problem.path == "redshank.setup.json"
    line = path.read_text().splitlines()[(problem.line or 0) - 1]
    assert line[(problem.column or 0) - 1] in '",'


@pytest.mark.parametrize(
    "data",
    [
        AVOCET,
        AVOCET.encode(),
        bytearray(AVOCET.encode()),
        b"\xef\xbb\xbf" + AVOCET.encode(),
        json.loads(AVOCET),
        OrderedDict(json.loads(AVOCET)),
        MappingProxyType(json.loads(AVOCET)),
    ],
    ids=["text", "bytes", "bytearray", "marked", "dict", "ordered", "proxy"],
)
def test_a_document_may_come_as_bytes_text_or_parsed(data: Any) -> None:
    document = good(data)
    assert document.path == "-"
    assert document.data == json.loads(AVOCET)
    assert [channel.function for channel in document.setup.channels] == ["aileron", "flap"]


def test_a_mapping_is_copied() -> None:
    data = json.loads(AVOCET)
    document = good(data)
    data["channels"][0]["channel"] = 99
    assert document.data == json.loads(AVOCET)


def test_places() -> None:
    document = good(AVOCET, path="models/avocet.setup.json")
    name = "models/avocet.setup.json"
    assert document.locate("/channels/1/function") == Place(name, 12, 32, 12, 38)
    assert document.locate("/channels/1/function", key=True) == Place(name, 12, 20, 12, 30)
    assert document.locate("/servos/3/port") == Place(name, 1, 1, 14, 2)
    assert document.sources[0].text == AVOCET
    with pytest.raises(ValueError, match="is not a JSON Pointer"):
        document.locate("channels")


def test_a_parsed_document_has_no_places() -> None:
    document = good(json.loads(AVOCET), path="avocet")
    assert document.locate("/channels/1") == Place("avocet", None, None, None, None)
    assert document.sources == ()


def test_digests() -> None:
    assert good(AVOCET).digest == hashlib.sha256(AVOCET.encode()).hexdigest()
    marked = b"\xef\xbb\xbf" + AVOCET.encode()
    assert good(marked).digest == hashlib.sha256(marked).hexdigest()
    assert good(AVOCET + " ").digest != good(AVOCET).digest


def test_the_digest_covers_the_parts(tmp_path: Path) -> None:
    raw = json.loads(AVOCET)
    part = json.dumps(raw["transmitter"])
    text = json.dumps({**raw, "transmitter": {"from": "radio.json"}})
    (tmp_path / "radio.json").write_text(part)
    document = good(text, path=str(tmp_path / "avocet.setup.json"), root=tmp_path)
    assert document.digest == hashlib.sha256(f"{text}{part}".encode()).hexdigest()


def test_the_digest_of_a_parsed_document_does_not_hang_on_the_order_of_keys() -> None:
    data = json.loads(AVOCET)
    other = dict(reversed(data.items()))
    assert good(data).digest == good(other).digest
    other["region"] = "uk"
    assert good(data).digest != good(other).digest


def test_all_faults_are_reported_sorted_by_place() -> None:
    text = (
        AVOCET.replace('"glider"', '"blimp"')
        .replace('"function": "flap"', '"functon": "flap"')
        .replace('"channel": 1', '"channel": 0')
    )
    problems = bad(text, path="avocet.setup.json")
    places = [(it.path, it.line, it.column) for it in problems]
    assert places == [
        ("avocet.setup.json", 3, 47),  # the airframe
        ("avocet.setup.json", 11, 17),  # the channel's number
        ("avocet.setup.json", 12, 5),  # the function that is missing
        ("avocet.setup.json", 12, 20),  # the key that nobody knows
    ]
    for problem, words in zip(problems, ["blimp", "channel", "function", "functon"], strict=True):
        assert words in problem.message


def test_what_no_schema_can_say_is_reported_with_its_place() -> None:
    text = AVOCET.replace('"forward"]', '"forward"], "values": [0, 1, 2]')
    [problem] = bad(text)
    assert (problem.line, problem.column) == (7, 78)
    assert "3 values for 2 positions" in problem.message


def test_faults_of_a_parsed_document_name_the_pointer() -> None:
    data = json.loads(AVOCET)
    data["channels"][1]["channel"] = "two"
    [problem] = bad(data, path="avocet")
    assert problem.message.startswith("/channels/1/channel: ")
    assert (problem.path, problem.line, problem.column) == ("avocet", None, None)
    [problem] = bad({"a": {"b": float("nan")}})
    assert (
        problem.message == "/a/b: nan is no number in JSON; leave the key out where it is not known"
    )


@pytest.mark.parametrize("data", ["{", b"{", b"\xff", "\ud800", {"a": {1}}, {}, "{}", b"[]"])
def test_bad_input_is_a_problem_with_its_path(data: Any) -> None:
    for problem in bad(data, path="models/avocet.setup.json"):
        assert problem.path == "models/avocet.setup.json"
        assert (problem.line is None) == isinstance(data, dict)


def test_too_large() -> None:
    limit = len(AVOCET)
    good(AVOCET, limit_bytes=limit)
    words = f"this has more than {limit - 1} bytes, the most that is read"
    assert bad(AVOCET, limit_bytes=limit - 1) == [Problem("-", words, 1, 1)]
    [problem] = bad(json.loads(AVOCET), limit_bytes=100)
    assert "more than 100 characters" in problem.message


@given(st.binary(max_size=60) | st.text(max_size=60))
def test_nothing_raises(data: bytes | str) -> None:
    for problem in bad(data):
        assert problem.message
        assert problem.line is not None


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=3) | st.binary(max_size=1),
    lambda inner: (
        st.lists(inner, max_size=2)
        | st.dictionaries(
            st.sampled_from(["from", "channels", "controls", "x-a"]) | st.integers(0, 1),
            inner,
            max_size=3,
        )
    ),
    max_leaves=8,
)


@given(
    st.dictionaries(
        st.sampled_from(["format", "model", "transmitter", "receiver", "channels", "x-b"]),
        JSON,
        max_size=5,
    )
)
def test_nothing_raises_on_parsed_documents(data: dict[str, Any]) -> None:
    for problem in bad(data):
        assert problem.message


@given(st.integers(0, len(AVOCET)), st.integers(0, 3), st.sampled_from([*'{}[],:"\\1-', "x", ""]))
def test_a_slip_of_the_hand_never_raises(at: int, gone: int, put: str) -> None:
    result = read(AVOCET[:at] + put + AVOCET[at + gone :])
    if isinstance(result, list):
        assert all(problem.line and problem.column for problem in result)
    else:
        assert result.setup.model.airframe
