"""The verdicts over 300 generated documents, kept in `corpus.txt`: a line a document.

    python -m tests.benchmarks.corpus

writes it anew.  A line has the document's path, digests of its text and of its reports as JSON and
as text, and the rules that fail, so that a change of the file shows what it adds and removes.
"""

from __future__ import annotations

from hashlib import sha256
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from tests.benchmarks.generate import write

from prebind import Configuration, Inspector
from prebind.format import Run, Sheet

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.inspect.finding import Report

KEPT = Path(__file__).with_name("corpus.txt")
COUNT = 300
SEED = 2026
TODAY = "2026-06-01"  # waivers run out
FORMATS = ("json", "text")


def lines(inspector: Inspector, folder: Path) -> Iterator[str]:
    """A line for each document, written into the folder, which must be the working folder."""
    write(folder, COUNT, SEED)
    paths = sorted(path.relative_to(folder) for path in folder.rglob("*.setup.json"))
    for path, report in zip(paths, inspector.inspect_files(paths), strict=True):
        text = _digest(path.read_bytes())
        reports = _digest("".join(_told(inspector, report)).encode())
        yield f"{path.as_posix()} {text} {reports} {_failing(report)}"


def inspector() -> Inspector:
    return Inspector(Configuration(today=TODAY))


def _told(inspector: Inspector, report: Report) -> Iterator[str]:
    """What the formats write between their heads, which name the version, and their ends."""
    for name in FORMATS:
        sheet = Sheet(StringIO())
        writer = inspector.formats[name].begin(sheet, Run(inspector))
        sheet.out.truncate(0)
        sheet.out.seek(0)
        writer.document(report)
        yield sheet.out.getvalue()  # type: ignore[attr-defined]
    yield "\n".join(f"{it.path}:{it.line}:{it.column}: {it.message}" for it in report.problems)


def _failing(report: Report) -> str:
    if report.document is None:
        return "broken"
    return ",".join(sorted({it.rule for it in report.findings if it.kind == "fail"})) or "-"


def _digest(data: bytes) -> str:
    return sha256(data).hexdigest()[:12]


def main() -> None:
    from contextlib import chdir

    with TemporaryDirectory() as folder, chdir(folder):
        found = list(lines(inspector(), Path(folder)))
    KEPT.write_text("".join(f"{line}\n" for line in found), encoding="ascii")


if __name__ == "__main__":
    main()
