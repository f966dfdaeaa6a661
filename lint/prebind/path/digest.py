"""Digests: what binds a sign-off to the results that the check proved, not to the spelling.

SHA-256 over the canonical form (RFC 8785) of the computed facts, together with the entries by which
they are judged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.path.proofs import CHECKS

if TYPE_CHECKING:
    from prebind.path import Path


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
    """The canonical form of what JSON can say (RFC 8785)."""
    import rfc8785

    return rfc8785.dumps(value)
