"""Strict reading of JSON: RFC 8259 in UTF-8, without duplicate keys (RFC 7493, section 2.3).

A sound text is read by a fast parser.  Where that parser refuses, or the text might pass one of our
limits, a scanner of our own goes over it and names the first fault with its place.  Both accept the
same texts.
"""

from __future__ import annotations

import re
from typing import Any

MAX_DEPTH = 64
MAX_NUMBER = 40  # characters

_BOM = b"\xef\xbb\xbf"
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")

# Digits, exponents, brackets, and what bounds them; everything else falls out.
_MARKS = bytes.maketrans(b"123456789E{}", b"000000000e[]")
_REST = bytes(set(range(256)) - set(b'0123456789eE{}[],"\\'))
_ESCAPE = re.compile(rb"\\.")
# Signs, point and a short exponent aside, a number that is too long has this many digits in a row.
_LONG = b"0" * (MAX_NUMBER + 1 - len("-.e+99"))
_LARGE = b"0e000"


class Unreadable(Exception):
    """The text is not what we read.  `line` and `column` count from 1, in characters."""

    def __init__(self, message: str, line: int = 1, column: int = 1) -> None:
        super().__init__(message)
        self.message = message
        self.line = line
        self.column = column


def parse_object(data: bytes, limit_bytes: int) -> dict[str, Any]:
    """The one object that a document is.  Raises Unreadable."""
    if len(data) > limit_bytes:
        raise Unreadable(f"this has more than {limit_bytes:,} bytes, the most that is read")
    value = parse(data)
    if isinstance(value, dict):
        return value
    from prebind.document.positions import Lines, after_space

    text = text_of(data)
    raise Unreadable(
        f"this must be one object, in {{ and }}, but {_kind(value)} stands here",
        *Lines(text).at(after_space(text, 0)),
    )


def parse(data: bytes) -> Any:
    """The value of one JSON text, whatever its kind.  Raises Unreadable."""
    from jiter import from_json

    body = data.removeprefix(_BOM)
    try:
        value = from_json(body, catch_duplicate_keys=True, allow_inf_nan=False)
    except ValueError:
        return _parse_slowly(data)
    return value if _surely_within_limits(body) else _parse_slowly(data)


def text_of(data: bytes) -> str:
    """The characters of a document, without its byte order mark.  Raises Unreadable."""
    body = data.removeprefix(_BOM)
    try:
        return body.decode()
    except UnicodeDecodeError as error:
        good = body[: error.start].decode()
    if data.startswith(_UTF_16):
        raise Unreadable("byte 1 is not UTF-8, and this looks like UTF-16; save the file as UTF-8")
    from prebind.document.positions import Lines

    at = len(data) - len(body) + len(good.encode())
    raise Unreadable(
        f"byte {at + 1} (hexadecimal {data[at]:02X}) is not UTF-8; save the file as UTF-8",
        *Lines(good).at(len(good)),
    )


def encode(text: str) -> bytes:
    """The bytes of a document that came as characters.  Raises Unreadable."""
    try:
        return text.encode()
    except UnicodeEncodeError as error:
        at = error.start
    from prebind.document.positions import Lines

    raise Unreadable(
        f"U+{ord(text[at]):04X} is half of a surrogate pair, not a character; remove it",
        *Lines(text).at(at),
    )


def _kind(value: object) -> str:
    match value:
        case str():
            return "a text"
        case list():
            return "a list"
        case bool() | None:
            return "true, false or null"
    return "a number"


def _surely_within_limits(data: bytes) -> bool:
    """Whether depth and numbers keep to the limits, in bytes that are known to be JSON."""
    if _clear(data.translate(_MARKS, _REST)):
        return True
    marks = _ESCAPE.sub(b"", data).translate(_MARKS, _REST)
    outside_texts = marks.split(b'"')[::2]
    return _clear(b"".join(outside_texts))


def _clear(marks: bytes) -> bool:
    if _LONG in marks or _LARGE in marks:
        return False
    # A text leaves nothing between its quotes unless a bracket or a backslash stands in it.
    brackets = marks.translate(None, b"0e,").replace(b'""', b"")
    if b'"' in brackets:
        return False
    for _ in range(MAX_DEPTH):
        if not brackets:
            break
        brackets = brackets.replace(b"[]", b"")  # takes the innermost level away
    return not brackets


def _parse_slowly(data: bytes) -> Any:
    from json import loads

    from prebind.document.scan import check

    text = text_of(data)
    check(text)
    return loads(text)
