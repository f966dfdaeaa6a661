"""What an inspection answers with: findings, outcomes, problems."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

from attrs import field, frozen

from prebind.rule import WORDS, Cause, Fix, Word

if TYPE_CHECKING:
    from prebind.document import Document
    from prebind.document.model import Setup
    from prebind.document.positions import Place
    from prebind.path import Path
    from prebind.problem import Problem

Kind = Literal["fail", "open", "review"]
Outcomes = Mapping[str, int]


@frozen
class Waived:
    """The waiver that a finding is accepted by."""

    reason: str
    by: str
    until: str


@frozen(eq=False)
class Finding:
    """One outcome that is not a pass.

    `at` is a JSON Pointer that exists in the resolved document; `settles` and `bench` are given for
    `open`: the keys that would settle it and the check by hand that would.
    """

    rule: str
    kind: Kind
    word: Word
    at: str
    message: str
    evidence: Mapping[str, Any]
    safety: str
    remedy: str
    fingerprint: str
    bench: str | None = None
    settles: tuple[str, ...] = ()
    fix: Fix | None = None
    because: Cause | None = None
    waived: Waived | None = None

    def grounds(self, at_least: Word, complete: bool = False) -> bool:
        """Whether it is as bad as the given word; `complete` lets open outcomes ground too."""
        if self.waived is not None:
            return False
        if self.kind == "open":
            return complete
        return self.kind == "fail" and WORDS.index(self.word) <= WORDS.index(at_least)


@frozen(eq=False)
class Report:
    """The report on one document.

    `outcomes` counts pass, fail, open, notApplicable and review; `not_run` names rules left out.
    `document` and `path` are None where the document is broken; `problems` says why.
    """

    path_name: str
    document: Document | None
    findings: tuple[Finding, ...] = ()
    problems: tuple[Problem, ...] = ()
    outcomes: Outcomes = field(factory=dict)
    not_run: tuple[str, ...] = ()
    path: Path | None = None

    @property
    def setup(self) -> Setup | None:
        """The document as attrs classes; None where it is broken."""
        return self.document.setup if self.document is not None else None

    def place(self, finding: Finding) -> Place | None:
        """File, line and column of a finding; None for a document that never was text."""
        return self.document.locate(finding.at) if self.document is not None else None

    def grounds(self, at_least: Word = "caution", complete: bool = False) -> bool:
        """Whether any finding is as bad as the given signal word."""
        return any(finding.grounds(at_least, complete) for finding in self.findings)
