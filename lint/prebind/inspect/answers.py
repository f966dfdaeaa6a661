"""Whether what a rule answered can be used: rules are written by people too."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from prebind.document.positions import split
from prebind.rule import WORDS, Cause, Fix

if TYPE_CHECKING:
    from prebind.inspect.finding import Finding

_CALLED: Mapping[type, str] = {str: "text", Mapping: "object", Fix: "Fix", Cause: "Cause"}


class Nonsense(Exception):
    """An answer that cannot be used, and why not."""


def check_subject(at: str, evidence: Mapping[str, Any]) -> None:
    """Raises `Nonsense` where there is no place, or no evidence that a report can hold."""
    _pointer("at", at)
    _kind("evidence", evidence, Mapping)
    if evidence:
        _json("evidence", dict(evidence))


def check(found: Finding) -> None:
    """Raises `Nonsense` where a finding would break, or belie, the report that it is put into."""
    for name in ("message", "safety", "remedy"):
        _text(name, getattr(found, name))
    if not found.message.strip():
        raise Nonsense("its `message` is empty")
    if found.word not in WORDS:
        raise Nonsense(f"its `word` is {_said(found.word)}, none of {', '.join(WORDS)}")
    if found.bench is not None:
        _text("bench", found.bench)
    _list("settles", found.settles)
    for key in found.settles:
        _pointer("settles", key)
    if found.fix is not None:
        _fix(found.fix)
    if found.because is not None:
        _kind("because", found.because, Cause)
        _text("because.rule", found.because.rule)
        _pointer("because.at", found.because.at)


def _fix(fix: Fix) -> None:
    _kind("fix", fix, Fix)
    if fix.applies not in ("safe", "decide"):
        raise Nonsense(f"its `fix.applies` is {_said(fix.applies)}, neither safe nor decide")
    _list("fix.patch", fix.patch)
    for operation in fix.patch:
        _kind("fix.patch", operation, Mapping)
        _json("fix.patch", operation)
        for key in ("op", "path"):
            _text(f"fix.patch.{key}", operation.get(key))


def astray(data: Mapping[str, Any], at: str) -> bool:
    """Whether a place neither is in the document nor could be, by the document's format.

    A key that is left out could be, and so could an entry of a list that has only a name so far,
    as a check by hand has that nobody signed off.
    """
    from prebind.packs.sheet.formats import Shape, setup

    here: Any = data
    shape: Shape | None = setup()
    for token in split(at):
        if isinstance(here, list):
            if not token.isdecimal():
                return False
            if int(token) >= len(here):
                return True
            here, shape = here[int(token)], shape and shape.entry
        elif isinstance(here, Mapping):
            inside = shape and shape.inside(token)
            if token not in here:
                return bool(shape) and inside is None and not token.startswith("x-")
            here, shape = here[token], inside
        else:
            return True
    return False


def _text(name: str, value: object) -> None:
    _kind(name, value, str)
    try:
        str(value).encode()
    except UnicodeEncodeError:
        raise Nonsense(f"its `{name}` has half of a surrogate pair in it") from None


def _pointer(name: str, value: Any) -> None:
    _text(name, value)
    try:
        split(value)
    except ValueError as error:
        raise Nonsense(f"its `{name}`: {error}") from None


def _list(name: str, value: object) -> None:
    if not isinstance(value, tuple | list):
        raise Nonsense(f"its `{name}` is {_said(value)}, no list")


def _json(name: str, value: object) -> None:
    from json import dumps

    try:
        dumps(value, ensure_ascii=False, allow_nan=False).encode()
    except (TypeError, ValueError, RecursionError) as error:
        raise Nonsense(f"its `{name}` is no plain JSON: {error}") from None


def _kind(name: str, value: object, kind: type) -> None:
    if not isinstance(value, kind):
        raise Nonsense(f"its `{name}` is {_said(value)}, no {_CALLED[kind]}")


def _said(value: object) -> str:
    from prebind.document.wording import shown

    return shown(value) if isinstance(value, str) else f"of the type {type(value).__name__}"
