"""What every report for a person tells alike: the verdict, counts, causes, changes and places."""

from __future__ import annotations

from collections import Counter
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from prebind.report.wording import clean
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from prebind.format import Run
    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.inspector import Inspector
    from prebind.inspect.settings import Settings
    from prebind.rule import Fix, Word


class Counted(NamedTuple):
    """What counts of one document: outcomes, what failed and what grounds by word.

    `since`: whether an earlier report was laid beside it; `level`: from which word up it grounds;
    `left_out`: the rules that its own settings leave out.
    """

    outcomes: Mapping[str, int]
    failed: Mapping[str, int]
    grounding: Mapping[str, int]
    since: bool
    level: Word
    settings: Settings | None
    left_out: tuple[str, ...]


def counted(report: Report, run: Run) -> Counted | None:
    """None for a broken document, which has nothing to count."""
    if report.document is None:
        return None
    settings = report.settings
    left_out = [name for name in report.not_run if name not in run.inspector.not_run]
    return Counted(
        report.outcomes,
        failed(report.findings),
        Counter(found.word for found in report.grounding(run.ground_at, run.complete)),
        report.gone is not None,
        (settings and settings.ground_at) or run.ground_at,
        settings,
        tuple(left_out) if settings is not None else (),
    )


class Tally:
    """What all documents so far came to, by outcome or by word."""

    def __init__(self, run: Run) -> None:
        self._run = run
        self._levels: set[Word] = set()
        self._decided: dict[str, tuple[Settings, dict[str, None]]] = {}
        self.documents = 0
        self.outcomes: Counter[str] = Counter()
        self.failed: Counter[str] = Counter()
        self.grounding: Counter[str] = Counter()
        self.since = False

    def add(self, one: Counted | None) -> None:
        if one is None:
            return
        self.documents += 1
        self.since |= one.since
        self.outcomes.update(one.outcomes)
        self.failed.update(one.failed)
        self.grounding.update(one.grounding)
        self._levels.add(one.level)
        if one.settings is not None:
            left_out = self._decided.setdefault(one.settings.file, (one.settings, {}))[1]
            left_out.update(dict.fromkeys(one.left_out))

    @property
    def inspected(self) -> str:
        """How many documents were, and which part of all that is."""
        part = f" ({self._run.part})" if self._run.part is not None else ""
        return f"{many(self.documents, 'document')} inspected{part}"

    @property
    def verdict(self) -> str:
        """In a sentence; it never says that a model is safe."""
        levels = [word for word in WORDS if word in self._levels]
        level = "as the settings of each say"
        if len(levels) == 1:
            level = "danger" if levels[0] == "danger" else f"{levels[0]} or worse"
        if self._run.complete:
            level = f"{level}, or not checked"
        if self.since:
            level = f"{level}; only what is new"
        if self.grounding:
            return f"Grounded by {many(self.grounding.total(), 'finding')} ({level})."
        unproven = self.outcomes["open"]
        but = f", but {many(unproven, 'check')} could not be made" if unproven else ""
        return f"Nothing was found that grounds ({level}){but}."

    @property
    def decided(self) -> Iterator[str]:
        """What each settings file decided: what it says, and the rules that it left out."""
        from prebind.report.settings_text import spoken

        for settings, left_out in self._decided.values():
            file = clean(settings.file)
            said = "; ".join(clean(one) for one in spoken(settings))
            if said:
                yield f"Settings of {file}: {said}."
            if left_out:
                yield f"Left out by {file}, not run: {', '.join(map(clean, left_out))}."


def left_out(inspector: Inspector) -> Iterator[str]:
    """The rules that are not run, by family where that is a whole one: `bands (all 9)`."""
    sizes = Counter(rule.family for rule in inspector.rules.values())
    for family, names in groupby(inspector.not_run, lambda name: name.partition("/")[0]):
        its = list(names)
        whole = len(its) == sizes[family] > 1
        yield from [f"{family} (all {len(its)})"] if whole else its


SINCE = {"new": "new since the earlier report", "unchanged": "known from the earlier report"}
"""What an earlier report makes of a finding, in words."""


def failed(findings: Iterable[Finding]) -> Counter[str]:
    """How many failed, by word."""
    return Counter(found.word for found in findings if found.kind == "fail")


def worded(counted: Mapping[str, int]) -> str:
    """Counts by word, worst first: `2 danger, 1 warning`."""
    return ", ".join(f"{counted[word]} {word}" for word in WORDS if counted.get(word))


def counts(outcomes: Mapping[str, int], failures: Mapping[str, int]) -> str:
    words = worded(failures)
    return (
        f"{outcomes.get('pass', 0)} passed, {outcomes.get('fail', 0)} failed"
        f"{f' ({words})' if words else ''}, {outcomes.get('open', 0)} not checked, "
        f"{outcomes.get('review', 0)} to judge, {outcomes.get('notApplicable', 0)} not applicable"
    )


def many(count: int, noun: str) -> str:
    return f"{count or 'no'} {noun}{'' if count == 1 else 's'}"


def place(file: str, line: int | None, column: int | None) -> str:
    """A place as the GNU coding standards write it: `file:line:column`."""
    at = "" if line is None else f":{line}:{column}"
    return f"{clean(file)}{at}"


def chained(findings: list[Finding]) -> Iterator[tuple[Finding, Finding | None, Finding]]:
    """(the first cause, its own cause, the finding): each consequence under its cause."""
    by_place = {(found.rule, found.at): found for found in reversed(findings)}
    consequences: dict[int, list[Finding]] = {}
    causes: dict[int, Finding] = {}
    for found in findings:
        cause = by_place.get((found.because.rule, found.because.at)) if found.because else None
        if cause is not None and not _leads_to(found, cause, causes):
            causes[id(found)] = cause
            consequences.setdefault(id(cause), []).append(found)

    def below(top: Finding, found: Finding) -> Iterator[tuple[Finding, Finding | None, Finding]]:
        yield top, causes.get(id(found)), found
        for consequence in consequences.get(id(found), ()):
            yield from below(top, consequence)

    for found in findings:
        if id(found) not in causes:
            yield from below(found, found)


def _leads_to(found: Finding, cause: Finding | None, causes: dict[int, Finding]) -> bool:
    """Whether a cause already follows from the finding: two that blame each other."""
    while cause is not None:
        if cause is found:
            return True
        cause = causes.get(id(cause))
    return False


def change(fix: Fix) -> str:
    """What a fix does to the document, and who decides."""
    from json import dumps

    whose = "keeps what was meant" if fix.applies == "safe" else "a person must decide"
    steps = []
    for operation in fix.patch:
        value = f" {dumps(operation['value'])}" if "value" in operation else ""
        source = f" from {clean(operation['from'])}" if "from" in operation else ""
        steps.append(f"{operation['op']} {clean(operation['path'])}{source}{value}")
    return f"to the document ({whose}): {'; '.join(steps)}"
