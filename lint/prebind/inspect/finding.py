"""What an inspection answers with: findings, outcomes, problems."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from prebind.record import Record, field, record
from prebind.rule import WORDS, Cause, Fix, Word

if TYPE_CHECKING:
    from prebind.document import Document
    from prebind.document.model import Setup
    from prebind.document.positions import Place
    from prebind.inspect.settings import Settings
    from prebind.packs import Pack
    from prebind.path import Path
    from prebind.problem import Problem
    from prebind.rule import Rule

Kind = Literal["fail", "open", "review"]
Baseline = Literal["new", "unchanged"]
Outcomes = Mapping[str, int]


@record
class Waived(Record):
    """The waiver that a finding is accepted by."""

    reason: str
    by: str
    until: str


class Earlier(NamedTuple):
    """What an earlier report said of one finding; `at` is its JSON Pointer then."""

    rule: str
    kind: Kind
    word: Word
    at: str
    message: str
    fingerprint: str
    waived: bool = False


@record
class Finding:
    """One outcome that is not a pass.

    `at` is a JSON Pointer that exists in the resolved document; `settles` and `bench` are given for
    `open`: the keys that would settle it and the check by hand that would.  `baseline` is what it
    is against an earlier report, where there is one.
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
    baseline: Baseline | None = None

    def grounds(self, at_least: Word, complete: bool = False) -> bool:
        """Whether it is as bad as the given word; `complete` lets open outcomes ground too.

        One that is waived never does, nor one that an earlier report had already.
        """
        if self.waived is not None or self.baseline == "unchanged":
            return False
        if self.kind == "open":
            return complete
        return self.kind == "fail" and WORDS.index(self.word) <= WORDS.index(at_least)


@record
class Report:
    """The report on one document.

    `outcomes` counts pass, fail, open, notApplicable and review; `not_run` names rules left out,
    `not_applicable` those that had nothing to judge.
    `gone` is what an earlier report found and this one does not; None where none was given.
    `settings` is what a settings file says that is in force.  `document` and `path` are None where
    the document is broken; `problems` says why.  `packs` are those in force; `seconds` is how
    long each rule that was run took, facts included that it was the first to ask for.  `position`
    counts from 1 among all that were named, where only a part of them is inspected.
    """

    path_name: str
    document: Document | None
    findings: tuple[Finding, ...] = ()
    problems: tuple[Problem, ...] = ()
    outcomes: Outcomes = field(factory=dict)
    not_run: tuple[str, ...] = ()
    not_applicable: tuple[str, ...] = ()
    path: Path | None = None
    gone: tuple[Earlier, ...] | None = None
    settings: Settings | None = None
    packs: tuple[Pack, ...] = field(default=(), repr=False)
    seconds: Mapping[str, float] = field(factory=dict, repr=False)
    position: int | None = None

    @property
    def rules(self) -> dict[str, Rule]:
        """The rules of all packs in force, by id."""
        return {rule.id: rule for pack in self.packs for rule in pack.rules}

    @property
    def setup(self) -> Setup | None:
        """The document as frozen classes; None where it is broken."""
        return self.document.setup if self.document is not None else None

    def place(self, finding: Finding) -> Place | None:
        """File, line and column of a finding; None for a document that never was text."""
        return self.document.locate(finding.at) if self.document is not None else None

    def grounding(self, at_least: Word = "caution", complete: bool = False) -> list[Finding]:
        """The findings that ground: as bad as the word that the settings file says, or this one."""
        said = self.settings.ground_at if self.settings is not None else None
        return [found for found in self.findings if found.grounds(said or at_least, complete)]

    def grounds(self, at_least: Word = "caution", complete: bool = False) -> bool:
        """Whether any finding does."""
        return bool(self.grounding(at_least, complete))
