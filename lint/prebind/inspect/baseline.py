"""An earlier report, against which findings are new, unchanged or gone.

Reads our own JSON report, and SARIF 2.1.0 that prebind wrote; numbers in brackets are sections of
that standard.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

from prebind.document.contents import contents
from prebind.document.parse import Unreadable, parse_object
from prebind.document.positions import Source, escape
from prebind.document.wording import plain
from prebind.inspect.finding import Earlier, Report
from prebind.problem import Problem
from prebind.record import Record, evolve, record
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from prebind.inspect.finding import Finding

    Said = tuple[str, Earlier | None]  # a document or file, and what was found there

LIMIT_BYTES = 512 * 1024 * 1024

_KINDS = ("fail", "open", "review")
"""Those that can ground first."""

_FINGERPRINT = "prebind/v1"
_LEAST = {"error": "warning", "warning": "caution", "note": "notice"}
"""The least that a SARIF level stands for, where the signal word is lost."""


@record
class Baseline:
    """What an earlier report found, by document and fingerprint.

    `by_file`: it says in which file a finding stood, not in which document; they differ in shared
    parts (SARIF).
    """

    documents: Mapping[str, Mapping[str, Earlier]]
    by_file: bool

    def compared(self, report: Report, named: Callable[[str], str]) -> Report:
        """The report, each finding marked, and what is gone.

        `named` gives a path as reports name it.  A finding that was waived or that weighed less is
        new: it did not ground then.  What was not run now is not gone.
        """
        if report.document is None:
            return report
        name = named(report.path_name)
        there = self.documents.get(name, {})
        findings = []
        for finding in report.findings:
            place = report.place(finding) if self.by_file else None
            known = self.documents.get(named(place.file), {}) if place is not None else there
            was = known.get(finding.fingerprint)
            same = was is not None and _as_bad(was, finding)
            findings.append(evolve(finding, baseline="unchanged" if same else "new"))
        now = {finding.fingerprint for finding in findings}
        silent = {*report.not_run, *(problem.rule for problem in report.problems)}
        gone = tuple(
            was for was in there.values() if was.fingerprint not in now and was.rule not in silent
        )
        return evolve(report, findings=tuple(findings), gone=gone)


def _as_bad(was: Earlier, now: Finding) -> bool:
    if was.waived and now.waived is None:
        return False
    if _KINDS.index(was.kind) > _KINDS.index(now.kind):
        return False
    return now.kind != "fail" or WORDS.index(was.word) <= WORDS.index(now.word)


def read(path: str) -> Baseline | Problem:
    """The report in a file, or why it cannot be used, and where."""
    try:
        data = contents(path, LIMIT_BYTES + 1)
    except OSError as error:
        return Problem(path, f"the earlier report cannot be read: {error.strerror}")
    try:
        whole = parse_object(data, LIMIT_BYTES)
    except Unreadable as error:
        return Problem(path, error.message, error.line, error.column)
    try:
        return _from(whole)
    except _Odd as odd:
        place = Source(path, data).place(odd.tokens)
        return Problem(path, odd.message, place.line, place.column)


def _from(whole: dict[str, Any]) -> Baseline:
    top = _Value(whole, ())
    by_file = "runs" in whole
    if not by_file and "format" not in whole:
        raise _Odd((), "this is no report of prebind: neither its JSON nor SARIF")
    documents: dict[str, dict[str, Earlier]] = {}
    for name, found in _sarif(top) if by_file else _json(top):
        there = documents.setdefault(name, {})
        if found is not None:
            there[found.fingerprint] = found
    return Baseline(documents, by_file)


def _json(top: _Value) -> Iterator[Said]:
    top["format"].one_of("inspection/1")
    for document in top["documents"].each():
        name = document["path"].text()
        yield name, None
        for finding in document["findings"].each():
            yield (
                name,
                Earlier(
                    rule=finding["rule"].text(),
                    kind=finding["kind"].one_of(*_KINDS),
                    word=finding["word"].one_of(*WORDS),
                    at=finding["at"].text(),
                    message=finding["message"].text(),
                    fingerprint=finding["fingerprint"].text(),
                    waived="waived" in finding,
                ),
            )


def _sarif(top: _Value) -> Iterator[Said]:
    top["version"].one_of("2.1.0")
    ours = [run for run in top["runs"].each() if run["tool"]["driver"]["name"].text() == "prebind"]
    if not ours:
        raise _Odd(("runs",), "this SARIF report has no run of prebind in it")
    for run in ours:
        for result in run["results"].each() if "results" in run else ():
            kind = result["kind"].text() if "kind" in result else "fail"  # 3.27.9
            gone = "baselineState" in result and result["baselineState"].text() == "absent"
            for location in result["locations"].each():
                name = _path(location["physicalLocation"]["artifactLocation"])
                found = _result(result, location, kind) if kind in _KINDS and not gone else None
                yield name, found


def _result(result: _Value, location: _Value, kind: Any) -> Earlier:
    places = location["logicalLocations"].each() if "logicalLocations" in location else ()
    message = result["message"]["text"].text().partition("\n")[0]
    return Earlier(
        rule=result["ruleId"].text(),
        kind=kind,
        word=_word(result),
        at=next((place["fullyQualifiedName"].text() for place in places), ""),
        message=message.replace("{{", "{").replace("}}", "}"),
        fingerprint=result["partialFingerprints"][_FINGERPRINT].text(),
        waived="suppressions" in result and any(result["suppressions"].each()),
    )


def _word(result: _Value) -> Any:
    if "properties" in result and "word" in result["properties"]:
        return result["properties"]["word"].one_of(*WORDS)
    level = result["level"].text() if "level" in result else "warning"  # 3.27.10
    return _LEAST.get(level, "notice")


def _path(artifact: _Value) -> str:
    from urllib.parse import unquote_to_bytes, urlsplit

    uri = artifact["uri"].text()
    if "uriBaseId" in artifact or not uri.startswith("file:"):
        return unquote_to_bytes(uri).decode("utf-8", "replace")
    try:
        path = os.path.relpath(os.fsdecode(unquote_to_bytes(urlsplit(uri).path)))
    except ValueError:  # no URI, or another drive
        return uri
    return path.replace(os.sep, "/")


class _Odd(Exception):
    """The report is not what it should be, at the value with these names."""

    def __init__(self, tokens: tuple[str, ...], message: str) -> None:
        super().__init__(message)
        self.tokens = tokens
        self.message = message


@record
class _Value(Record):
    """A value of the report, which knows where it stands and asks what it should be."""

    _value: Any
    _tokens: tuple[str, ...]

    def __contains__(self, key: str) -> bool:
        return isinstance(self._value, dict) and key in self._value

    def __getitem__(self, key: str) -> _Value:
        if not isinstance(self._value, dict):
            raise self._odd("an object")
        if key not in self._value:
            raise _Odd(self._tokens, f"`{key}` is missing from {self._name()} of this report")
        return _Value(self._value[key], (*self._tokens, key))

    def each(self) -> Iterator[_Value]:
        if not isinstance(self._value, list):
            raise self._odd("a list")
        for index, inside in enumerate(self._value):
            yield _Value(inside, (*self._tokens, str(index)))

    def text(self) -> str:
        if not isinstance(self._value, str):
            raise self._odd("a text")
        return self._value

    def one_of(self, *known: Any) -> Any:
        if self.text() in known:
            return self._value
        raise self._odd(f"{' or '.join(known)}, not “{plain(self._value)}”")

    def _odd(self, wanted: str) -> _Odd:
        return _Odd(self._tokens, f"{self._name()} of this report must be {wanted}")

    def _name(self) -> str:
        return plain("".join(f"/{escape(token)}" for token in self._tokens)) or "the top"
