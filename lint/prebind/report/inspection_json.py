"""The inspection as JSON, format `inspection/1`: schema `inspection.schema.json`.

Written document by document, a line each.  All but ASCII is escaped, so that nothing in a document
can steer a terminal.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.format import InSteps

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from prebind.format import Run, Sheet
    from prebind.inspect.finding import Earlier, Finding, Report
    from prebind.inspect.part import Part
    from prebind.inspect.settings import Settings
    from prebind.packs import Pack, Refused
    from prebind.problem import Problem

    Json = dict[str, Any]

FORMAT_NAME = "inspection/1"


class _Piece(NamedTuple):
    """A document as a line of text, None for a broken one, and what it has problems with."""

    text: str | None
    position: int | None
    problems: tuple[Problem, ...]


class InJson(InSteps[_Piece]):
    def __init__(self, sheet: Sheet, run: Run) -> None:
        self._out = sheet.out
        self._run = run
        self._first = True
        self._positions: dict[Problem, deque[int]] = {}
        self._out.write(opening(_tool(run)))

    def piece(self, report: Report) -> _Piece:
        text = dumps(document_json(report)) if report.document is not None else None
        return _Piece(text, report.position, report.problems)

    def add(self, piece: _Piece) -> None:
        if piece.position is not None:
            for problem in piece.problems:
                self._positions.setdefault(problem, deque()).append(piece.position)
        if piece.text is not None:
            self._out.write(f"{'' if self._first else ','}\n{piece.text}")
            self._first = False

    def end(self, problems: Sequence[Problem]) -> None:
        told = [self._problem(problem) for problem in problems]
        self._out.write(closing(_settings(self._run), told, self._run.part))

    def _problem(self, problem: Problem) -> Json:
        if self._run.part is None:
            return problem_json(problem)
        positions = self._positions.get(problem)
        return {**problem_json(problem), "position": positions.popleft() if positions else 0}


begin = InJson


def opening(tool: Json) -> str:
    """All before the first document; each begins a line, with a comma before it but the first."""
    return f'{dumps({"format": FORMAT_NAME, "tool": tool})[:-1]}, "documents": ['


def closing(settings: Json, problems: Sequence[Json], part: Part | None = None) -> str:
    """All behind the last document."""
    told: Json = {"settings": settings, "problems": problems}
    if part is not None:
        told["part"] = _part(part)
    return f"\n], {dumps(told)[1:]}\n"


def dumps(value: Any) -> str:
    """JSON in ASCII; what a rule pack put there and JSON cannot say, as a string."""
    from json import dumps as encode

    try:
        return encode(value, allow_nan=False)
    except (TypeError, ValueError):
        return encode(_plain(value), allow_nan=False)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(inside) for key, inside in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inside) for inside in value]
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float) and abs(value) < float("inf"):
        return value
    return str(value)


def relative(path: str) -> str:
    """A path as reports name it: from the working folder, with slashes."""
    if path == "-":
        return path
    try:
        found = os.path.relpath(path)
    except ValueError:  # another drive
        found = path
    return path_bytes(found.replace(os.sep, "/")).decode("utf-8", "replace")


def path_bytes(path: str) -> bytes:
    """A path's bytes: a name from the system's own, else what a caller put there."""
    try:
        return os.fsencode(path)
    except UnicodeEncodeError:
        return path.encode("utf-8", "surrogatepass")


def _tool(run: Run) -> Json:
    from prebind import __version__

    inspector = run.inspector
    tool = {
        "name": "prebind",
        "version": __version__,
        "packs": [_pack_json(pack) for pack in inspector.packs],
    }
    if inspector.refused:
        tool["refused"] = [_refused_json(pack) for pack in inspector.refused]
    return tool


def _pack_json(pack: Pack) -> Json:
    return {**_refused_json(pack), "rules": len(pack.rules)}


def _refused_json(pack: Pack | Refused) -> Json:
    installed = pack.origin == "installed"
    where = {"distribution": pack.where} if installed else {"file": relative(pack.where)}
    return {"name": pack.name, "version": pack.version, "origin": pack.origin, **where}


def _settings(run: Run) -> Json:
    """What decided what was run and what grounds, settings files of documents aside."""
    asked = run.inspector.configuration
    rules: Json = {}
    for rule in run.inspector.rules.values():
        numbers = {**rule.defaults(), **asked.numbers.get(rule.id, {})}
        word = asked.words.get(rule.id)
        if numbers or word:
            rules[rule.id] = {"word": word or rule.word, "numbers": numbers}
    return {
        "ground_at": run.ground_at,
        "complete": run.complete,
        "families": list(asked.families),
        "leave_out": list(asked.leave_out),
        "limit_bytes": asked.limit_bytes,
        "combinations": asked.combinations,
        "today": asked.today,
        "rules": rules,
    }


def _part(part: Part) -> Json:
    return {
        "number": part.number,
        "of": part.of,
        "entries": part.entries,
        "listing": part.listing,
    }


def document_json(report: Report) -> Json:
    """One document's part of the report; the document must not be broken."""
    assert report.document is not None
    assert report.setup is not None
    named = cache(relative)
    told: Json = {
        "path": named(report.path_name),
        "name": report.setup.model.name,
        "digest": report.document.digest,
        "outcomes": dict(report.outcomes),
        "findings": [finding_json(report, finding, named) for finding in report.findings],
        "not_run": list(report.not_run),
    }
    if report.settings is not None:
        told["settings"] = _settings_json(report.settings, report.packs)
    if report.gone is not None:
        told["gone"] = [_gone_json(earlier) for earlier in report.gone]
    if report.position is not None:
        told["position"] = report.position
    return told


def _settings_json(settings: Settings, packs: Sequence[Pack]) -> Json:
    rules: Json = {name: {"word": word} for name, word in settings.words.items()}
    for name, numbers in settings.numbers.items():
        rules.setdefault(name, {})["numbers"] = dict(numbers)
    said = {
        "ground_at": settings.ground_at,
        "leave_out": list(settings.leave_out),
        "packs": [_pack_json(pack) for pack in packs if pack.where in settings.packs],
        "without_packs": list(settings.without_packs),
        "rule_seconds": settings.rule_seconds,
        "region": settings.region,
        "rules": rules,
    }
    return {"file": relative(settings.file)} | {key: it for key, it in said.items() if it}


def _gone_json(earlier: Earlier) -> Json:
    return {
        "rule": earlier.rule,
        "kind": earlier.kind,
        "word": earlier.word,
        "at": earlier.at,
        "message": earlier.message,
        "fingerprint": earlier.fingerprint,
        "baseline": "absent",
    }


def finding_json(report: Report, finding: Finding, named: Callable[[str], str] = relative) -> Json:
    """One finding.  Keys that do not apply to it are left out; `named` gives a file's name."""
    place = report.place(finding)
    found: Json = {
        "rule": finding.rule,
        "kind": finding.kind,
        "word": finding.word,
        "at": finding.at,
        "file": named(report.path_name if place is None else place.file),
        "line": place.line if place is not None else None,
        "column": place.column if place is not None else None,
        "message": finding.message,
        "evidence": dict(finding.evidence),
        "safety": finding.safety,
        "remedy": finding.remedy,
        "fingerprint": finding.fingerprint,
    }
    if finding.kind == "open":
        found |= {"settles": list(finding.settles), "bench": finding.bench}
    if finding.fix is not None:
        found["fix"] = {"applies": finding.fix.applies, "patch": list(finding.fix.patch)}
    if finding.because is not None:
        found["because"] = {"rule": finding.because.rule, "at": finding.because.at}
    if finding.waived is not None:
        waived = finding.waived
        found["waived"] = {"reason": waived.reason, "by": waived.by, "until": waived.until}
    if finding.baseline is not None:
        found["baseline"] = finding.baseline
    return found


def problem_json(problem: Problem) -> Json:
    """One problem; line, column, rule and pack are null where there is none to name."""
    return {
        "path": relative(problem.path),
        "line": problem.line,
        "column": problem.column,
        "message": problem.message,
        "rule": problem.rule,
        "pack": problem.pack,
    }
