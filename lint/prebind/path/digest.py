"""Digests: what binds a sign-off to the results that the check proved, not to the spelling.

SHA-256 over the canonical form (RFC 8785) of the computed facts, together with the entries by which
they are judged.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from prebind.path.proofs import CHECKS

if TYPE_CHECKING:
    from prebind.path import Path

_TEXT = re.compile(r'"(?:[^"\\]|\\.)*"')
_POINT_NOUGHT = re.compile(r"\.0(?=[,\]}]|$)")
_OTHERWISE = re.compile(r"\de|\d{16}|-0(?!\.[0-9]*[1-9])|[NI]")
"""Numbers that RFC 8785 writes otherwise, or not at all."""


def wanted(path: Path) -> tuple[str, ...]:
    """The checks by hand for which this setup has something to prove, in the order of the trade."""
    return tuple(name for name, check in CHECKS.items() if check.applies(path))


def digest(path: Path, check: str) -> str | None:
    """Sixty-four hex digits; None where the setup has nothing that the check proves.

    Raises KeyError for a check that there is not.
    """
    if not CHECKS[check].applies(path):
        return None
    from hashlib import sha256

    facts = {"check": check, "facts": CHECKS[check].facts(path)}
    return sha256(canonical(facts)).hexdigest()


def canonical(value: Any) -> bytes:
    """The canonical form of what JSON can say (RFC 8785).

    The standard library writes it several times faster than a library that is made for it, and
    alike where texts are ASCII and numbers neither very large nor very small, once `.0` is off.
    """
    from json import dumps

    text = dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    numbers = _TEXT.sub("", text)
    alike = text.isascii() and numbers.count(".0") == text.count(".0")
    if alike and not _OTHERWISE.search(numbers):
        return _POINT_NOUGHT.sub("", text).encode()
    import rfc8785

    return rfc8785.dumps(value)
