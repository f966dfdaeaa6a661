"""Every mistake laid on every model, and what an inspection says of it.

    python -m tests.trust.matrix            prints the matrix, and what it gains and loses
    python -m tests.trust.matrix --write    keeps it, in matrix.txt beside this file

A row is a mistake, a column a model, a letter what came of it; see LEGEND.
"""

from __future__ import annotations

import sys
from collections import Counter
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import tests.trust.faults  # noqa: F401  (fills the catalogue)
from tests.trust import models
from tests.trust.laying import FAULTS

from prebind import Configuration, Inspector

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.trust.laying import Document, Fault

    from prebind import Report

KEPT = Path(__file__).with_name("matrix.txt")
FOUND, UNSETTLED, MISSED, MISNAMED, BROKEN, UNFIT = "#?-!x."
LEGEND = f"""\
{FOUND} found, by every rule that names the cause
{UNSETTLED} open: the rule says that it cannot know, and how to find out by hand
{MISSED} missed: a rule that names the cause is silent
{MISNAMED} found, and a rule that names another cause fires too
{BROKEN} the document is refused, or a rule crashed
{UNFIT} the model has nothing on which this mistake could be made"""

INSPECTOR = Inspector(Configuration(today="2026-06-01"))


def inspected(document: Document) -> Report:
    return INSPECTOR.inspect(document)


def fired(report: Report, *kinds: str) -> set[str]:
    return {found.rule for found in report.findings if found.kind in kinds}


@cache
def clean_fails(model: str) -> frozenset[str]:
    return frozenset(fired(inspected(models.model(model)), "fail"))


def cell(fault: Fault, model: str) -> str:
    """The letter for one mistake on one model."""
    faulty = fault.on(models.model(model))
    return UNFIT if faulty is None else letter(fault, inspected(faulty))


def letter(fault: Fault, report: Report) -> str:
    if report.problems or report.document is None:
        return BROKEN
    if not fault.named_by(fired(report, "fail")):
        answered = fired(report, "fail", "review", "open")
        return UNSETTLED if fault.named_by(answered) else MISSED
    return MISNAMED if fired(report, "fail") & set(fault.quiet) else FOUND


def matrix(names: list[str]) -> dict[str, str]:
    """The row of every mistake, in the catalogue's order."""
    return {name: "".join(cell(f, m) for m in names) for name, f in FAULTS.items()}


def told(rows: dict[str, str], names: list[str]) -> str:
    """The matrix as text, the models' names as a list of columns."""
    return "\n".join(_lines(rows, names)) + "\n"


def _lines(rows: dict[str, str], names: list[str]) -> Iterator[str]:
    yield "Mistakes by models. Written by: python -m tests.trust.matrix --write"
    yield ""
    yield LEGEND
    yield ""
    for i, name in enumerate(names):
        yield f"{i + 1:3} {name}"
    yield ""
    yield "".join(f"{i:3}" for i in range(1, len(names) + 1))
    family = ""
    for name, row in rows.items():
        if FAULTS[name].family != family:
            family = FAULTS[name].family
            yield f"# {family}"
        yield f"{''.join(f'{each:>3}' for each in row)}  {name}"
    yield ""
    yield summary(rows, names)


def summary(rows: dict[str, str], names: list[str]) -> str:
    """How many there are of each letter, and of findings on models without a mistake."""
    count = Counter("".join(rows.values()))
    alarms = sum(map(len, map(clean_fails, names)))
    return (
        f"{len(rows)} mistakes on {len(names)} models: {count[FOUND]:,} found, "
        f"{count[MISNAMED]} with a wrong name beside it, {count[UNSETTLED]} open, "
        f"{count[MISSED]} missed, {count[BROKEN]} refused or crashed; "
        f"{alarms} false alarms without a mistake."
    )


def kept() -> dict[str, str]:
    """The rows that are under version control."""
    rows = {}
    wide = 3 * len(models.names())
    for line in KEPT.read_text(encoding="utf-8").splitlines():
        row, name = line[:wide].replace(" ", ""), line[wide:].strip()
        if name in FAULTS:
            rows[name] = row
    return rows


def changes(before: dict[str, str], after: dict[str, str], names: list[str]) -> Iterator[str]:
    """What one matrix gains and loses against another, a line a cell."""
    for name in before.keys() - after.keys():
        yield f"gone: {name}"
    for name, row in after.items():
        if name not in before:
            yield f"new: {name}"
            continue
        for model, was, now in zip(names, before[name], row, strict=True):
            if was != now:
                yield f"{was} became {now}: {name}, on {model}"


def main(write: bool) -> None:
    names = models.names()
    rows = matrix(names)
    text = told(rows, names)
    if KEPT.exists():
        print(*changes(kept(), rows, names), sep="\n")
    if write:
        KEPT.write_text(text, encoding="utf-8")
    else:
        print(text, end="")


if __name__ == "__main__":
    main("--write" in sys.argv[1:])
