"""What makes a finding the same finding after an edit that has nothing to do with it.

A place in a list is named by what the entry is (its channel, port, name, …), not by its number, so
neither reformatting nor another entry before it moves the fingerprint.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

NAMED_BY = ("id", "name", "state", "axis", "channel", "port", "rule", "check", "control")
"""Keys that say which entry of a list it is, the first that is there."""

SUBJECT = (
    "axis",
    "between",
    "channel",
    "port",
    "motor",
    "servo",
    "selector",
    "state",
    "surface",
    "control",
)
"""Evidence that tells two findings of one rule at one place apart."""


def existing(data: Any, pointer: str) -> str:
    """The pointer, or its deepest ancestor that exists in the document."""
    here, at = data, ""
    for token in pointer.split("/")[1:]:
        here = _member(here, token)
        if here is _MISSING:
            return at
        at = f"{at}/{token}"
    return at


def fingerprint(data: Any, rule: str, at: str, evidence: Mapping[str, Any]) -> str:
    """Thirty-two hex digits of a SHA-256 over rule, place and subject."""
    from hashlib import sha256

    parts = [rule, *_steps(data, at), *(f"{key}={evidence.get(key)}" for key in SUBJECT)]
    return sha256("\n".join(parts).encode("utf-8", "backslashreplace")).hexdigest()[:32]


_MISSING = object()


def _member(here: Any, token: str) -> Any:
    if isinstance(here, Mapping):
        return here.get(token.replace("~1", "/").replace("~0", "~"), _MISSING)
    if isinstance(here, list) and token.isascii() and token.isdigit() and int(token) < len(here):
        return here[int(token)]
    return _MISSING


def _steps(data: Any, at: str) -> list[str]:
    found, here = [], data
    for token in at.split("/")[1:]:
        inside = _member(here, token)
        name = token
        if isinstance(here, list) and isinstance(inside, Mapping):
            name = next((f"{key}:{inside[key]}" for key in NAMED_BY if key in inside), token)
        found.append(name)
        here = inside
    return found
