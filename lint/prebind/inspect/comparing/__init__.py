"""Two setups laid side by side: what changed in effect, and what must be proved again.

The older one is first spelt as the newer one (`respelling`), so that nothing counts but effect.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import evolve, frozen

from prebind.inspect.comparing.changes import Change, NotCompared, changes
from prebind.inspect.comparing.respelling import Renamed, respelt
from prebind.path.proofs import CHECKS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.document.model import SignOff
    from prebind.document.positions import Place
    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.inspector import Inspector
    from prebind.path import Path

__all__ = ["Change", "Comparison", "Lost", "NotCompared", "Renamed", "Repeat", "compare"]


class Lost(NamedTuple):
    """A finding that is gone; `at` and `place` are where it stood in the older setup."""

    finding: Finding
    at: str
    place: Place


class Repeat(NamedTuple):
    """A check by hand whose results are others now; `sign_off` fitted the older setup."""

    check: str
    sign_off: SignOff | None


@frozen(eq=False)
class Comparison:
    """`repeat` is in the order of the trade: bench, then field."""

    old: Report
    new: Report
    changes: tuple[Change, ...]
    gained: tuple[Finding, ...]
    lost: tuple[Lost, ...]
    repeat: tuple[Repeat, ...]
    renamed: tuple[Renamed, ...]
    not_compared: tuple[NotCompared, ...]

    @property
    def same(self) -> bool:
        """Whether nothing changed in effect; what could not be compared may have."""
        told = (self.changes, self.gained, self.lost, self.repeat, self.not_compared)
        return not any(told)


def compare(old: Report, new: Report, inspector: Inspector) -> Comparison:
    """Both reports are this inspector's, on documents that are not broken."""
    assert old.document is not None
    assert new.document is not None
    told = respelt(old.document.data, new.document.data)
    before = old if told.same else inspector.inspect(told.data, path=old.path_name)
    assert before.path is not None
    assert new.path is not None
    changed, not_compared = changes(before.path, new.path)
    lost = [
        Lost(found, told.original(found.at), old.document.locate(told.original(found.at)))
        for found in _only(before.findings, new.findings)
    ]
    return Comparison(
        old,
        new,
        tuple(evolve(it, at_old=it.at_old and told.original(it.at_old)) for it in changed),
        tuple(_only(new.findings, before.findings)),
        tuple(lost),
        tuple(_repeat(before.path, new.path)),
        told.renamed,
        tuple(not_compared),
    )


def _only(findings: Iterable[Finding], others: Iterable[Finding]) -> list[Finding]:
    """Findings that are not among the others: at no such place, and with no such words."""
    left, right = list(findings), list(others)
    for same in (_fingerprint, _words):
        known = {same(found) for found in right}
        matched = {same(found) for found in left} & known
        left = [found for found in left if same(found) not in matched]
        right = [found for found in right if same(found) not in matched]
    return left


def _fingerprint(found: Finding) -> Any:
    return found.fingerprint, found.kind, found.word, found.waived is None


def _words(found: Finding) -> Any:
    return found.rule, found.message, found.kind, found.word, found.waived is None


def _repeat(old: Path, new: Path) -> Iterator[Repeat]:
    """The checks that prove something else now, and were not signed off anew."""
    for check in CHECKS:
        was, now = old.digest(check), new.digest(check)
        signed = new.sign_off(check)
        if now in (was, None) or (signed is not None and signed.digest == now):
            continue
        before = old.sign_off(check)
        yield Repeat(check, before if before is not None and before.digest == was else None)
