"""Laying the fixes of findings into a document's text: one at a time, each proved by inspection."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from prebind.record import evolve, record

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from pathlib import Path

    from prebind.document import Document
    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.inspector import Inspector


@record
class Refused:
    """A finding whose fix was not laid in, and why not."""

    finding: Finding
    reason: str


@record
class Mended:
    """What came of mending one document.

    `text` is the whole document, byte order mark and all, and `report` is on it; `done` are the
    findings that are gone for it, `left` those whose fix was wanted and not laid in, both as they
    stood in the document as it was.
    """

    text: str
    report: Report
    done: tuple[Finding, ...]
    left: tuple[Refused, ...]


def mended(
    inspector: Inspector, report: Report, root: Path | None, wanted: Callable[[Finding], bool]
) -> Mended:
    """The document of a report with the fixes of the wanted findings laid in.

    A fix is kept only if the document is still sound, has lost the finding, and has gained no
    fail.  Causes come before what follows from them.  `report` must be on bytes or a text, and
    `root` is the folder that shared parts may not leave.
    """
    assert report.document is not None
    text = report.document.sources[0].data.decode()
    before = {found.fingerprint: found for found in report.findings}

    def as_it_was(found: Finding) -> Finding:
        """With the fix that it has now: before others were laid in there may have been none."""
        return evolve(before.get(found.fingerprint, found), fix=found.fix)

    done: list[Finding] = []
    refused: dict[str, Refused] = {}
    while found := next(
        (f for f in _offered(report, wanted) if f.fingerprint not in refused), None
    ):
        tried = _tried(inspector, report, root, text, found)
        if isinstance(tried, str):
            refused[found.fingerprint] = Refused(as_it_was(found), tried)
            continue
        text, report = tried
        done.append(as_it_was(found))
        refused.clear()  # what did not fit before may fit now
    return Mended(text, report, tuple(done), tuple(refused.values()))


def _offered(report: Report, wanted: Callable[[Finding], bool]) -> list[Finding]:
    fails = [found for found in report.findings if found.kind == "fail" and found.waived is None]
    offered = [found for found in fails if found.fix is not None and wanted(found)]
    return sorted(offered, key=lambda found: found.because is not None)


def _tried(
    inspector: Inspector, report: Report, root: Path | None, text: str, found: Finding
) -> tuple[str, Report] | str:
    """The text with the fix laid in, and the report on it, or why it cannot stay."""
    from prebind.document.edit import edited

    assert report.document is not None
    assert found.fix is not None
    try:
        elsewhere = _elsewhere(report.document, found.fix.patch)
        if elsewhere:
            return elsewhere
        text = edited(text, found.fix.patch)
        data = text.encode()
    except ValueError as error:
        return f"the change does not fit the document: {error}"
    after = inspector.inspect(data, path=report.path_name, root=root)
    return _objection(report, after, found) or (text, after)


def _objection(before: Report, after: Report, found: Finding) -> str | None:
    """Why a change must not stay."""
    if after.document is None:
        return f"the document would no longer be sound: {after.problems[0].message}"
    if after.problems:
        return f"the rule {after.problems[0].rule} would crash on the document"
    same = _kept(found)
    if _counted(after.findings)[same] >= _counted(before.findings)[same]:
        return "the finding would still be there, or could no longer be checked"
    gained = _counted(_fails(after)) - _counted(_fails(before))
    new = [other for other in _fails(after) if _kept(other) in gained]
    if not new:
        return None
    more = f", and {len(new) - 1} more" if len(new) > 1 else ""
    return f"the change would bring in {new[0].word} {new[0].rule} at {new[0].at}{more}"


def _fails(report: Report) -> Iterator[Finding]:
    return (found for found in report.findings if found.kind == "fail")


def _counted(findings: Iterable[Finding]) -> Counter[str]:
    return Counter(map(_kept, findings))


def _kept(found: Finding) -> str:
    """A fingerprint without the number that tells equal ones apart: that one moves."""
    return found.fingerprint.partition("-")[0]


# Shared parts


def _elsewhere(document: Document, patch: Iterable[Mapping[str, Any]]) -> str | None:
    """What to do by hand where a patch would change a shared part.  Raises ValueError."""
    for operation in patch:
        for key in ("path", "from"):
            pointer = operation.get(key, "")
            place = document.locate(pointer)
            if place.file != document.sources[0].name:
                section, _, inside = pointer[1:].partition("/")
                return (
                    f"this stands in the shared file {place.file}, line {place.line}, which other "
                    f"setups may use: {in_words({**operation, key: f'/{inside}'})} there, or lay "
                    f"it over under {section} in this document"
                )
    return None


def in_words(operation: Mapping[str, Any]) -> str:
    """One operation of a JSON Patch, for a person.  Raises ValueError for what JSON cannot say."""
    from prebind.document.layout import Layout
    from prebind.document.manner import Manner

    path, source = str(operation.get("path")), operation.get("from")
    parent, _, last = path.rpartition("/")
    value = Manner(Layout("{}")).value(operation.get("value"), "", None, one_line=True)
    match operation.get("op"):
        case "add" if last == "-":
            return f"append {value} to {parent}"
        case "add" if last.isdigit():
            return f"insert {value} at {path}"
        case "add" | "replace":
            return f"set {path} to {value}"
        case "move" | "copy" as name:
            return f"{name} {source} to {path}"
        case name:
            return f"{name} {path}"
