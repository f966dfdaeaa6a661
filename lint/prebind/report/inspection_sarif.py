"""The inspection as SARIF 2.1.0, for code scanning and editors.

Written result by result, a line each, so that no more than one document is held in memory.  Numbers
in brackets are sections of the standard.
"""

from __future__ import annotations

import os
import re
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.document.positions import Place
from prebind.format import InSteps
from prebind.report.inspection_json import dumps, path_bytes
from prebind.report.inspection_text import REMINDER
from prebind.report.wording import clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from prebind.document import Document
    from prebind.document.positions import Source
    from prebind.format import Run, Sheet
    from prebind.inspect.finding import Earlier, Finding, Report
    from prebind.packs import Pack
    from prebind.problem import Problem
    from prebind.rule import Fix, Operation, Rule, Word

    Json = dict[str, Any]

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)

LEVELS: Mapping[Word, str] = {
    "danger": "error",
    "warning": "error",
    "caution": "warning",
    "notice": "note",
}

FINGERPRINT = "prebind/v1"

_ROOT = "%SRCROOT%"
_MARKDOWN = re.compile(r"[\\`*_\[\]<>#|~]")
_LONG = 256 * 1024  # characters; a change of a longer text is told as a patch alone
_NOTHING = "Nothing was found, wherever this rule applies."
_NOT_APPLICABLE = "There is nothing here for this rule to judge."
_APPLIES = {"safe": "Keeps what was meant.", "decide": "A person must decide."}
_WRITTEN_DOWN = "This changes what is written down, not the radio."


class _Piece(NamedTuple):
    """Each result of a document: its rule, and its text less that; rules that are not in every run.

    `grounds`: whether any finding does.
    """

    results: list[tuple[str, str]]
    rules: list[Json]
    grounds: bool


class InSarif(InSteps["_Piece | None"]):
    def __init__(self, sheet: Sheet, run: Run) -> None:
        self._out = sheet.out
        self._run = run
        self._separator = "\n"
        self._grounded = False
        self._indexes: dict[str, int] = {}
        self._rules: list[Json] = []
        self._keep(self._new_rules(run.inspector.packs))
        log = {"$schema": SCHEMA, "version": "2.1.0"}
        head: Json = {
            "language": "en-GB",
            "columnKind": "unicodeCodePoints",
            "newlineSequences": ["\r\n", "\n", "\r"],
            "originalUriBaseIds": {
                _ROOT: {"description": {"text": "The folder that prebind was started in."}}
            },
        }
        if run.part is not None:
            head["automationDetails"] = {"id": f"prebind/{run.part}"}  # 3.17.3
        self._out.write(f'{dumps(log)[:-1]}, "runs": [\n{dumps(head)[:-1]}, "results": [')

    def piece(self, report: Report) -> _Piece | None:
        if report.document is None:
            return None
        return _Piece(
            [(name, dumps(result)) for name, result in _results(report, report.document)],
            self._new_rules(report.packs),
            report.grounds(self._run.ground_at, self._run.complete),
        )

    def add(self, piece: _Piece | None) -> None:
        if piece is None:
            return
        self._keep(piece.rules)
        self._grounded |= piece.grounds
        for name, result in piece.results:
            rule = dumps(self._rule(name))
            self._out.write(f"{self._separator}{rule[:-1]}, {result[1:]}")
            self._separator = ",\n"

    def end(self, problems: Sequence[Problem]) -> None:
        invocation = {
            "executionSuccessful": not problems,
            "exitCode": 2 if problems else int(self._grounded),
            "ruleConfigurationOverrides": list(self._overrides()),
            "toolExecutionNotifications": [self._notification(problem) for problem in problems],
        }
        tool = {"driver": {**_driver(), "rules": self._rules}}
        self._out.write(
            f'\n], "invocations": [{dumps(invocation)}],\n"tool": {dumps(tool)}}}\n]}}\n'
        )

    def _new_rules(self, packs: Iterable[Pack]) -> list[Json]:
        """Rules that are met for the first time: a setup's settings can bring packs."""
        return [
            _rule_record(rule, pack.label)
            for pack in packs
            for rule in pack.rules
            if rule.id not in self._indexes
        ]

    def _keep(self, rules: Iterable[Json]) -> None:
        for rule in rules:
            if rule["id"] not in self._indexes:
                self._indexes[rule["id"]] = len(self._rules)
                self._rules.append(rule)

    def _rule(self, name: str) -> Json:
        index = self._indexes.get(name)
        return {"ruleId": name} if index is None else {"ruleId": name, "ruleIndex": index}

    def _descriptor(self, name: str) -> Json:
        index = self._indexes.get(name)
        return {"id": name} if index is None else {"id": name, "index": index}

    def _overrides(self) -> Iterator[Json]:
        """What was asked for that differs from the rules' own records (3.20.5)."""
        inspector = self._run.inspector
        for name, word in inspector.configuration.words.items():
            level = {"level": LEVELS[word]}
            yield {"configuration": level, "descriptor": self._descriptor(name)}
        for name in inspector.not_run:
            yield {"configuration": {"enabled": False}, "descriptor": self._descriptor(name)}

    def _notification(self, problem: Problem) -> Json:
        told: Json = {"level": "error", "message": {"text": _text(problem.message)}}
        if problem not in self._run.inspector.problems:  # those are of packs, not of a file
            place = Place(problem.path, problem.line, problem.column)
            told["locations"] = [{"physicalLocation": _physical(place)}]
        if problem.rule is not None:
            told["associatedRule"] = self._descriptor(problem.rule)
        if problem.pack is not None:
            told["properties"] = {"pack": problem.pack}
        return told


begin = InSarif


# Texts


def _text(*paragraphs: str) -> str:
    """A plain text message: no document can put a link (3.11.6) or a placeholder (3.11.5) in it."""
    text = "\n\n".join(clean(paragraph) for paragraph in paragraphs if paragraph)
    return text.replace("](", "] (").replace("{", "{{").replace("}", "}}")


def _unwrapped(text: str) -> Iterator[str]:
    """The paragraphs of a docstring, each on one line."""
    return (" ".join(paragraph.split()) for paragraph in text.split("\n\n"))


def _marked(text: str) -> str:
    """Markdown that says just this."""
    return _MARKDOWN.sub(r"\\\g<0>", text)


# Rules


def _driver() -> Json:
    from prebind import __version__

    return {
        "name": "prebind",
        "version": __version__,
        "semanticVersion": __version__,
        "shortDescription": {"text": "Inspects how radio-control models are set up."},
        "fullDescription": {"text": REMINDER},
        "language": "en-GB",
    }


def _rule_record(rule: Rule, pack: str) -> Json:
    advice = {
        "Safety": rule.safety,
        "Remedy": rule.remedy,
        "On the bench": rule.bench,
        "Source": rule.source,
    }
    said = {label: _text(*_unwrapped(text)) for label, text in advice.items() if text}
    return {
        "id": rule.id,
        "name": "".join(word.capitalize() for word in re.split(r"[^0-9A-Za-z]+", rule.id)),
        "shortDescription": {"text": _text(rule.title)},
        "fullDescription": {"text": _text(*_unwrapped(rule.why or rule.title))},
        "help": {
            "text": "\n\n".join(f"{label}: {text}" for label, text in said.items()),
            "markdown": "\n\n".join(
                f"**{label}:** {_marked(text)}" for label, text in said.items()
            ),
        },
        "defaultConfiguration": {"level": LEVELS[rule.word]},
        "properties": {"tags": [rule.family], "word": rule.word, "pack": pack},
    }


# Results


def _results(report: Report, document: Document) -> Iterator[tuple[str, Json]]:
    """Each with the id of its rule."""
    for finding in report.findings:
        yield finding.rule, _finding(document, finding)
    artifact = {"artifactLocation": _artifact(report.path_name)}
    for earlier in report.gone or ():
        yield earlier.rule, _gone(earlier, artifact)
    told = {*report.not_run, *(finding.rule for finding in report.findings)}
    told.update(problem.rule for problem in report.problems if problem.rule is not None)
    not_applicable = report.not_applicable
    for name in report.rules:
        if name not in told:
            outcome = _no_finding(name not in not_applicable)
            compared = _compared(report, name)
            location = {"physicalLocation": artifact}
            yield name, {**outcome, **compared, "locations": [location]}


def _finding(document: Document, finding: Finding) -> Json:
    failed = finding.kind == "fail"
    found: Json = {
        "kind": finding.kind,
        "level": LEVELS[finding.word] if failed else "none",
        "message": {"text": _text(*_said(finding))},
        "locations": [_location(document, finding.at)],
        "partialFingerprints": {FINGERPRINT: finding.fingerprint},
        "suppressions": _suppressions(finding),
        "properties": _properties(finding),
    }
    if finding.because is not None:
        cause = _location(document, finding.because.at)
        message = {"text": _text(f"It follows from {finding.because.rule} here.")}
        found["relatedLocations"] = [{**cause, "message": message}]
    fixes = _fixes(document, finding.fix) if finding.fix is not None else []
    if fixes:
        found["fixes"] = fixes
    if finding.baseline is not None:
        found["baselineState"] = finding.baseline
    return found


def _gone(earlier: Earlier, artifact: Json) -> Json:
    """What an earlier report found; the place may be gone too."""
    place = {"fullyQualifiedName": earlier.at}
    return {
        "kind": earlier.kind,
        "level": LEVELS[earlier.word] if earlier.kind == "fail" else "none",
        "message": {"text": _text(earlier.message)},
        "locations": [{"physicalLocation": artifact, "logicalLocations": [place]}],
        "partialFingerprints": {FINGERPRINT: earlier.fingerprint},
        "suppressions": [],
        "properties": {"word": earlier.word},
        "baselineState": "absent",
    }


def _compared(report: Report, rule: str) -> Json:
    """A pass against an earlier report: either all results have a state, or none (3.27.24)."""
    if report.gone is None:
        return {}
    before = any(earlier.rule == rule for earlier in report.gone)
    return {"baselineState": "new" if before else "unchanged"}


def _no_finding(passed: bool) -> Json:
    return {
        "kind": "pass" if passed else "notApplicable",
        "level": "none",
        "message": {"text": _NOTHING if passed else _NOT_APPLICABLE},
        "suppressions": [],
    }


def _said(finding: Finding) -> Iterator[str]:
    """The sentence first: viewers may show no more (3.11.3)."""
    yield finding.message
    if finding.kind == "open":
        yield f"By hand: {finding.bench}" if finding.bench else ""
        return
    yield finding.safety
    yield f"Remedy: {finding.remedy}" if finding.remedy else ""


def _properties(finding: Finding) -> Json:
    told: Json = {
        "word": finding.word,
        "evidence": dict(finding.evidence),
        "safety": finding.safety,
        "remedy": finding.remedy,
    }
    if finding.kind == "open":
        told |= {"settles": list(finding.settles), "bench": finding.bench}
    if finding.fix is not None:
        told |= {"applies": finding.fix.applies, "patch": list(finding.fix.patch)}
    if finding.because is not None:
        told["because"] = {"rule": finding.because.rule, "at": finding.because.at}
    return told


def _suppressions(finding: Finding) -> list[Json]:
    """Never left out: either all results of a run have them, or none (3.27.23)."""
    waived = finding.waived
    if waived is None:
        return []
    return [
        {
            "kind": "inSource",  # the waiver stands in the document
            "status": "accepted",
            "justification": clean(waived.reason),
            "properties": {"by": waived.by, "until": waived.until},
        }
    ]


# Places


def _location(document: Document, at: str) -> Json:
    physical = _physical(document.locate(at))
    return {"physicalLocation": physical, "logicalLocations": [{"fullyQualifiedName": at}]}


def _physical(place: Place) -> Json:
    physical: Json = {"artifactLocation": _artifact(place.file)}
    if place.line is not None:
        physical["region"] = _region(place)
    return physical


def _region(place: Place) -> Json:
    region = {
        "startLine": place.line,
        "startColumn": place.column,
        "endLine": place.end_line,
        "endColumn": place.end_column,
    }
    return {name: number for name, number in region.items() if number is not None}


def _artifact(path: str) -> Json:
    """A file below the working folder relative to it, any other by its whole URI (3.4)."""
    if path == "-":
        return {"uri": "-", "description": {"text": "standard input"}}
    from pathlib import Path
    from urllib.parse import quote

    whole = Path(os.path.abspath(path))  # noqa: PTH100 - without following links
    try:
        inside = whole.relative_to(Path.cwd())
    except ValueError:
        return {"uri": f"file://{quote(path_bytes(whole.as_posix()))}"}
    return {"uri": quote(path_bytes(inside.as_posix())), "uriBaseId": _ROOT}


# Fixes


def _fixes(document: Document, fix: Fix) -> list[Json]:
    """The change as text, where that is exact; none where it is not."""
    from prebind.document.edit import edited

    main = next((source for source in document.sources if source.name == document.path), None)
    if main is None or len(main.text) > _LONG:
        return []
    try:
        if any(_is_merged(document, operation) for operation in fix.patch):
            return []
        after = edited(main.text, fix.patch)
    except (KeyError, ValueError):  # it stands in a shared part, or a pack gave no JSON Patch
        return []
    change = {
        "artifactLocation": _artifact(document.path),
        "replacements": [_replacement(main, after)],
    }
    description = {"text": f"{_APPLIES[fix.applies]} {_WRITTEN_DOWN}"}
    return [{"description": description, "artifactChanges": [change]}]


def _is_merged(document: Document, operation: Operation) -> bool:
    """Whether what is laid over a shared part would say something else than the patch.

    There objects are merged, null takes out, and what is removed bares the part's own.
    """
    section = "/".join(operation["path"].split("/")[:2])
    if document.locate(f"{section}/from") == document.locate(section):
        return False
    sets = operation["op"] in ("add", "replace")
    return not sets or isinstance(operation["value"], dict | None)


def _replacement(source: Source, after: str) -> Json:
    """What differs between the first and the last difference."""
    before = source.text
    start = _alike(before, after)
    same = _alike(before[start:][::-1], after[start:][::-1])
    at = source.lines.at
    region = _region(Place("", *at(start), *at(len(before) - same)))
    return {
        "deletedRegion": region,
        "insertedContent": {"text": after[start : len(after) - same]},
    }


def _alike(one: str, other: str) -> int:
    """How many characters both begin with."""
    alike, most = 0, min(len(one), len(other))
    while alike < most:
        middle = (alike + most + 1) // 2
        if one[alike:middle] == other[alike:middle]:
            alike = middle
        else:
            most = middle - 1
    return alike
