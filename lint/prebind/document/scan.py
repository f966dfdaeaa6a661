"""Goes over a text and names the first thing that keeps it from being JSON as we read it."""

from __future__ import annotations

import math
import re
from functools import partial
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import TYPE_CHECKING, NoReturn

from prebind.document.parse import MAX_DEPTH, MAX_NUMBER, Unreadable
from prebind.document.positions import Lines, after_space
from prebind.document.wording import quoted, shown

if TYPE_CHECKING:
    from collections.abc import Callable

_PLAIN = re.compile(r'[^"\\\x00-\x1f]*')
_HEX = re.compile(r"[0-9A-Fa-f]{4}")
_LOW_HALF = re.compile(r"\\u[Dd][C-Fc-f][0-9A-Fa-f]{2}")
_NUMBER = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?")
_NUMBER_LIKE = re.compile(r"[0-9+.\-][0-9A-Za-z_+.\-]*")
_WORD = re.compile(r"[^\W\d][\w\-]*")
_CONSTANTS = ("true", "false", "null")
_NOT_NUMBERS = ("nan", "inf", "infinity")
_ESCAPED = tuple('"\\/bfnrt')

_COMMENT = (
    "JSON has no comments; remove this one, or keep it as the value of a key that begins with x-"
)
_STRAIGHT = 'put straight double quotes (") around keys and texts'
_MINUS = "write the minus sign as the hyphen of the keyboard (-)"
_HINTS = {
    "#": _COMMENT,
    "//": _COMMENT,
    "/*": _COMMENT,
    "'": 'put double quotes (") around keys and texts, not single ones',
    "‘": _STRAIGHT,
    "’": _STRAIGHT,
    "“": _STRAIGHT,
    "”": _STRAIGHT,
    "„": _STRAIGHT,
    "−": _MINUS,
    "–": _MINUS,
    "\u00a0": "a no-break space stands here; put an ordinary space in its place",
    "\x00": "this does not look like UTF-8; save the file as UTF-8",
}


def check(text: str) -> None:
    """Raises Unreadable at the first fault."""
    _Scanner(text).document()


class _Scanner:
    """Each method takes the offset where its part begins, and gives the offset behind it."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._depth = 0

    def document(self) -> None:
        start = self._space(0)
        if start == len(self._text):
            self._refuse(0, "nothing stands here; a document is one object, in { and }")
        after = self._space(self._value(start))
        if after < len(self._text):
            self._unexpected(after, "the document has ended before this; remove what follows")

    def _space(self, at: int) -> int:
        return after_space(self._text, at)

    def _value(self, at: int) -> int:
        match self._text[at : at + 1]:
            case '"':
                return self._string(at)
            case "{":
                return self._members(at, "}", partial(self._pair, {}))
            case "[":
                return self._members(at, "]", self._value)
            case "" | "," | "]" | "}" | ":":
                self._unexpected(at, "a value is missing here")
        if word := _WORD.match(self._text, at):
            return self._constant(at, word[0])
        if number := _NUMBER_LIKE.match(self._text, at):
            return self._number(at, number[0])
        return self._unexpected(
            at, f"{shown(self._text[at])} cannot stand here; a value is expected"
        )

    def _members(self, start: int, closing: str, member: Callable[[int], int]) -> int:
        self._depth += 1
        if self._depth > MAX_DEPTH:
            self._refuse(start, f"this is more than {MAX_DEPTH} levels deep; nest less")
        at = self._space(start + 1)
        while not self._text.startswith(closing, at):
            at = self._next_member(start, closing, member(at))
        self._depth -= 1
        return at + 1

    def _next_member(self, start: int, closing: str, end: int) -> int:
        """From the end of one member to the next one, or to the closing bracket."""
        at = self._space(end)
        if self._text.startswith(closing, at):
            return at
        if not self._text.startswith(",", at):
            self._no_comma(start, closing, end, at)
        following = self._space(at + 1)
        if self._text.startswith(closing, following):
            self._refuse(at, f"remove this comma: nothing follows it before the closing {closing}")
        return following

    def _pair(self, seen: dict[str, int], at: int) -> int:
        if not self._text.startswith('"', at):
            self._no_key(at)
        end = self._string(at)
        key, _ = scanstring(self._text, at + 1)
        if key in seen:
            self._refuse(
                at,
                f"the key {quoted(key)} stands twice in this object, first at "
                f"{self._place(seen[key])}; remove one of the two",
            )
        seen[key] = at
        colon = self._space(end)
        if not self._text.startswith(":", colon):
            message = f"a colon (:) is missing after the key {quoted(key)}"
            self._unexpected(colon, message, place=end)
        return self._value(self._space(colon + 1))

    def _string(self, start: int) -> int:
        at = start + 1
        while True:
            at = _PLAIN.match(self._text, at).end()  # type: ignore[union-attr]
            match self._text[at : at + 1]:
                case '"':
                    return at + 1
                case "\\":
                    at = self._escape(at)
                case _:
                    self._broken_text(start, at)

    def _escape(self, at: int) -> int:
        letter = self._text[at + 1 : at + 2]
        if letter in _ESCAPED:
            return at + 2
        if letter != "u":
            self._unexpected_end(at + 1)
            self._refuse(
                at,
                'a backslash may stand only before one of " \\ / b f n r t u; '
                "write a backslash itself as \\\\",
            )
        if not _HEX.match(self._text, at + 2):
            self._refuse(at, "\\u needs four hexadecimal digits behind it, as in \\u00B0")
        code = int(self._text[at + 2 : at + 6], 16)
        if not 0xD800 <= code <= 0xDFFF:
            return at + 6
        if code > 0xDBFF or not _LOW_HALF.match(self._text, at + 6):
            self._refuse(
                at,
                f"{self._text[at : at + 6]} is half of a surrogate pair; "
                "write the character itself, or both halves",
            )
        return at + 12

    def _number(self, at: int, written: str) -> int:
        if not _NUMBER.fullmatch(written):
            self._refuse(at, _odd_number(written))
        if len(written) > MAX_NUMBER:
            self._refuse(
                at,
                f"this number has {len(written)} characters; round it to {MAX_NUMBER} or fewer",
            )
        if math.isinf(float(written)):
            self._refuse(at, f"the number {written} is too large; is its exponent right?")
        return at + len(written)

    def _constant(self, at: int, word: str) -> int:
        if word in _CONSTANTS:
            return at + len(word)
        if word.lower() in _NOT_NUMBERS:
            self._refuse(at, not_a_number(word))
        if word.lower() in _CONSTANTS:
            self._refuse(at, f"write {word.lower()} in small letters")
        return self._refuse(at, f'{quoted(word)} is no value; write a text in double quotes (")')

    # What went wrong

    def _refuse(self, at: int, message: str) -> NoReturn:
        raise Unreadable(message, *Lines(self._text).at(at))

    def _place(self, at: int) -> str:
        line, column = Lines(self._text).at(at)
        return f"line {line}, column {column}"

    def _unexpected(self, at: int, message: str, *, place: int | None = None) -> NoReturn:
        """Refuses what stands at `at`, with a better message where its first character tells."""
        self._unexpected_end(at)
        hint = _HINTS.get(self._text[at : at + 2]) or _HINTS.get(self._text[at])
        if hint:
            self._refuse(at, hint)
        self._refuse(at if place is None else place, message)

    def _unexpected_end(self, at: int) -> None:
        if at == len(self._text):
            self._refuse(at, "the document ends in the middle; is it complete?")

    def _no_comma(self, start: int, closing: str, end: int, at: int) -> NoReturn:
        opened = f"the {self._text[start]} of {self._place(start)}"
        if at == len(self._text):
            self._refuse(at, f"the document ends before {opened} is closed with {closing}")
        if self._text[at] in "]}":
            message = f"{self._text[at]} cannot stand here; {closing} must close {opened}"
            self._refuse(at, message)
        self._unexpected(at, f"a comma, or the closing {closing}, is missing here", place=end)

    def _no_key(self, at: int) -> NoReturn:
        if word := _WORD.match(self._text, at):
            self._refuse(at, f'write the key {quoted(word[0])} in double quotes (")')
        if self._text[at : at + 1].isdigit():
            self._refuse(
                at,
                'a key in double quotes (") is expected here; if the comma before this is a '
                "decimal comma, write a point",
            )
        self._unexpected(at, 'a key in double quotes (") is expected here')

    def _broken_text(self, start: int, at: int) -> NoReturn:
        if at == len(self._text):
            self._refuse(
                at, f'the document ends before the text of {self._place(start)} is closed with "'
            )
        match self._text[at]:
            case "\n" | "\r":
                self._refuse(
                    at,
                    'this text is not closed on its line; end it with ", '
                    "or write a line break inside it as \\n",
                )
            case "\t":
                self._refuse(at, "a tab stands inside a text; write \\t, or spaces")
            case other:
                self._refuse(
                    at,
                    f"the control character U+{ord(other):04X} stands inside a text; remove it",
                )


def not_a_number(written: str) -> str:
    return f"{written} is no number in JSON; leave the key out where it is not known"


def _odd_number(written: str) -> str:
    digits = written.lstrip("+-")
    if digits.lower() in _NOT_NUMBERS:
        return not_a_number(written)
    if written.startswith("+"):
        return "write the number without the plus sign"
    if digits.startswith("."):
        return "a number needs a digit before its point; write 0 there"
    if re.match(r"0[0-9]", digits):
        return "a number may not begin with a 0 that another digit follows; remove the 0"
    if re.search(r"\.(?![0-9])", digits):
        return "a number needs a digit after its point; write 0 there, or remove the point"
    return f"{quoted(written)} is not a number"
