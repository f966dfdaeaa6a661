"""Places in a text: JSON Pointers, spans, lines and columns."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prebind.document.positions import Lines, Place, Positions, Source, Span, escape, split

if TYPE_CHECKING:
    from random import Random

# RFC 6901, section 5: the document, and what each pointer evaluates to.
RFC_6901 = r"""{
      "foo": ["bar", "baz"],
      "": 0,
      "a/b": 1,
      "c%d": 2,
      "e^f": 3,
      "g|h": 4,
      "i\\j": 5,
      "k\"l": 6,
      " ": 7,
      "m~n": 8
   }"""
RFC_6901_TABLE = [
    ("", json.loads(RFC_6901)),
    ("/foo", ["bar", "baz"]),
    ("/foo/0", "bar"),
    ("/", 0),
    ("/a~1b", 1),
    ("/c%d", 2),
    ("/e^f", 3),
    ("/g|h", 4),
    ("/i\\j", 5),
    ('/k"l', 6),
    ("/ ", 7),
    ("/m~0n", 8),
]


@pytest.mark.parametrize(("pointer", "value"), RFC_6901_TABLE)
def test_pointers_of_rfc_6901(pointer: str, value: Any) -> None:
    span = Positions(RFC_6901).find(split(pointer))
    assert json.loads(RFC_6901[span.start : span.end]) == value


def test_a_tilde_is_unescaped_last() -> None:
    # RFC 6901, section 4: "~01" is "~1", not "/".
    assert split("/~01") == ("~1",)


@given(st.lists(st.text()))
def test_any_name_can_stand_in_a_pointer(names: list[str]) -> None:
    assert split("".join(f"/{escape(name)}" for name in names)) == tuple(names)


@pytest.mark.parametrize("pointer", ["a", "a/b", "/~", "/~2", "/a~b", " /a", "#/a"])
def test_what_is_no_pointer_is_refused(pointer: str) -> None:
    with pytest.raises(ValueError, match="is not a JSON Pointer"):
        split(pointer)


TEXT = '{\n  "servos": [\n    {"port": 2, "volts": [4.8, 6]},\n    7\n  ]\n}\n'


@pytest.mark.parametrize(
    ("pointer", "key", "place"),
    [
        ("/servos", True, (2, 3, 2, 11)),
        ("/servos", False, (2, 13, 5, 4)),
        ("/servos/0", False, (3, 5, 3, 35)),
        ("/servos/0", True, (3, 5, 3, 35)),  # entries of a list have no key
        ("/servos/0/port", True, (3, 6, 3, 12)),
        ("/servos/0/port", False, (3, 14, 3, 15)),
        ("/servos/0/volts/1", False, (3, 32, 3, 33)),
        ("", True, (1, 1, 6, 2)),
    ],
)
def test_places(pointer: str, key: bool, place: tuple[int, ...]) -> None:
    source = Source("tern.setup.json", TEXT.encode())
    assert source.place(split(pointer), key=key) == Place("tern.setup.json", *place)


@pytest.mark.parametrize(
    ("pointer", "around"),
    [
        ("/nothing", ""),
        ("/nothing/0/more", ""),
        ("/servos/2", "/servos"),
        ("/servos/00", "/servos"),  # RFC 6901, section 4: no leading zeros
        ("/servos/-", "/servos"),  # RFC 6901, section 4: the entry behind the last
        ("/servos/port", "/servos"),
        ("/servos/0/surface", "/servos/0"),
        ("/servos/1/port", "/servos/1"),
        ("/servos/0/port/x", "/servos/0/port"),
    ],
)
def test_a_missing_member_is_where_its_surroundings_are(pointer: str, around: str) -> None:
    positions = Positions(TEXT)
    assert positions.find(split(pointer), key=True) == positions.find(split(around))


def test_lines_end_in_three_ways_and_columns_count_characters() -> None:
    text = '{"a":\r\n1,\r"𝄞\u2028é":\n\t2}'
    lines = Lines(text)
    assert lines.at(text.index("1")) == (2, 1)
    assert lines.at(text.index('"𝄞')) == (3, 1)
    assert lines.at(text.index(":\n")) == (3, 6)  # U+2028 does not end a line
    assert lines.at(text.index("2}")) == (4, 2)
    assert lines.at(len(text)) == (4, 4)


def test_a_byte_order_mark_takes_no_column() -> None:
    source = Source("-", b'\xef\xbb\xbf{"a": 1}')
    assert source.place(["a"]) == Place("-", 1, 7, 1, 8)
    assert source.text == '{"a": 1}'


class Writer:
    """Writes a value as JSON with odd spacing, and notes where everything comes to stand."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.text = ""
        self.values: dict[str, Span] = {}
        self.keys: dict[str, Span] = {}

    def space(self) -> None:
        self.text += "".join(self.random.choices(" \t\n\r", k=self.random.randrange(3)))

    def scalar(self, value: Any) -> Span:
        start = len(self.text)
        self.text += json.dumps(value, ensure_ascii=self.random.random() < 0.5)
        return Span(start, len(self.text))

    def value(self, value: Any, at: str) -> None:
        self.space()
        start = len(self.text)
        if isinstance(value, dict):
            self.members("{", "}", [(name, inner, True) for name, inner in value.items()], at)
        elif isinstance(value, list):
            self.members("[", "]", [(str(i), inner, False) for i, inner in enumerate(value)], at)
        else:
            self.scalar(value)
        self.values[at] = Span(start, len(self.text))
        self.space()

    def members(self, first: str, last: str, members: list[Any], at: str) -> None:
        self.text += first
        for name, inner, named in members:
            here = f"{at}/{name.replace('~', '~0').replace('/', '~1')}"
            self.space()
            if named:
                self.keys[here] = self.scalar(name)
                self.space()
                self.text += ":"
            self.value(inner, here)
            self.text += ","
        self.text = self.text.removesuffix(",") if members else self.text
        self.space()
        self.text += last


SCALARS = st.none() | st.booleans() | st.integers(-99, 99) | st.floats(-9, 9) | st.text(max_size=5)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text('ab/~0"\\é\n', max_size=3), inner, max_size=4)
    ),
)


@given(VALUES, st.randoms(use_true_random=False))
def test_every_place_is_where_it_was_written(value: Any, random: Random) -> None:
    writer = Writer(random)
    writer.value(value, "")
    positions = Positions(writer.text)
    pointers = [*writer.values, *writer.values]
    random.shuffle(pointers)
    for pointer in pointers:
        span = positions.find(split(pointer))
        assert span == writer.values[pointer]
        key = positions.find(split(pointer), key=True)
        assert key == writer.keys.get(pointer, span)
        before = re.split(r"\r\n|\r|\n", writer.text[: span.start])
        assert positions.lines.at(span.start) == (len(before), len(before[-1]) + 1)


def test_many_look_ups_go_over_the_text_once_a_level() -> None:
    data = {"servos": [{"port": i, "pulse_us": [900, 2100]} for i in range(500)]}
    text = json.dumps(data)
    positions = Positions(text)
    scan, scanned = positions._skip_value, 0

    def counting(text: str, start: int) -> tuple[Any, int]:
        nonlocal scanned
        value, end = scan(text, start)
        scanned += end - start
        return value, end

    positions._skip_value = counting
    for i in reversed(range(500)):
        positions.find(["servos", str(i), "pulse_us", "1"])
    assert scanned < 4 * len(text)  # four levels, each once
