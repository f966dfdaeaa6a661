"""A comparison as JSON, format `comparison/1`: schema `comparison.schema.json`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.record import evolve
from prebind.report.comparison import line
from prebind.report.inspection_json import finding_json, problem_json

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.inspect.comparing import Change, Comparison, Lost, Repeat
    from prebind.inspect.finding import Report
    from prebind.problem import Problem
    from prebind.report.comparison import Naming

    Json = dict[str, Any]


def comparison_json(found: Comparison, problems: Iterable[Problem], named: Naming) -> Json:
    """`named` gives a file's name as the report tells it; `problems` are rules that crashed."""
    return {
        "format": "comparison/1",
        "same": found.same,
        "old": _document(found.old, named),
        "new": _document(found.new, named),
        "changes": [_change(it) for it in found.changes],
        "findings": {
            "gained": [finding_json(found.new, it) for it in found.gained],
            "lost": [_lost(found.old, it, named) for it in found.lost],
        },
        "repeat": [_repeat(it) for it in found.repeat],
        "renamed": [
            {key: it for key, it in one._asdict().items() if it is not None}
            for one in found.renamed
        ],
        "not_compared": [one._asdict() for one in found.not_compared],
        "problems": [problem_json(problem) for problem in problems],
    }


def _document(report: Report, named: Naming) -> Json:
    assert report.document is not None
    assert report.setup is not None
    return {
        "path": named(report.path_name),
        "name": report.setup.model.name,
        "digest": report.document.digest,
    }


def _change(change: Change) -> Json:
    return {
        "section": change.section,
        "about": change.about,
        "fact": change.fact,
        "controls": None if change.controls is None else dict(change.controls),
        "before": change.before,
        "after": change.after,
        "at": {"old": change.at_old, "new": change.at_new},
        "says": line(change).sentence,
    }


def _lost(old: Report, lost: Lost, named: Naming) -> Json:
    """Its place is in the older setup; a change that would mend it is nobody's concern any more."""
    found = finding_json(old, evolve(lost.finding, at=lost.at, fix=None, because=None))
    return {**found, "file": named(lost.place.file)}


def _repeat(repeat: Repeat) -> Json:
    signed = repeat.sign_off
    by = None if signed is None else {"by": signed.by, "on": signed.on}
    return {"check": repeat.check, "sign_off": by}
