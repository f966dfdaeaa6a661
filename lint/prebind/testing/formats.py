"""Whether a pack's report formats write what they are given."""

from __future__ import annotations

from io import StringIO
from typing import TYPE_CHECKING
from unicodedata import category

from prebind.testing.examples import clean
from prebind.testing.records import NAME

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.format import Format
    from prebind.inspect.finding import Report
    from prebind.inspect.inspector import Inspector
    from prebind.testing.trial import Trial

_HOSTILE = "Knot\x1b[2J\x07\x9b1m"
"""A name that clears a terminal which is shown it raw."""


def formats(trial: Trial) -> Iterator[str]:
    from prebind.inspect.inspector import Configuration, Inspector

    if not trial.pack.formats:
        return
    files = () if trial.pack.origin == "installed" else (trial.name,)
    inspector = Inspector(Configuration(packs=files, trust_packs=True))
    runs = {
        "no document": (),
        "clean setups": tuple(inspector.inspect(data) for _, data in trial.templates()),
        "a broken document": (inspector.inspect(b'{"format": '),),
        "a hostile name": (inspector.inspect(_named(_HOSTILE), path=f"{_HOSTILE}.setup.json"),),
    }
    for it in trial.pack.formats:
        if not NAME.fullmatch(it.name):
            yield f"“{it.name}” is no name of a format: a to z, 0 to 9 and -"
        for what, reports in runs.items():
            yield from (
                f"{it.name}, given {what}: {wrong}" for wrong in _odd(it, inspector, reports)
            )


def _named(name: str) -> dict[str, object]:
    setup = clean()
    setup["model"]["name"] = name
    return setup


def _odd(it: Format, inspector: Inspector, reports: Sequence[Report]) -> Iterator[str]:
    from prebind.format import Run, Sheet

    out = StringIO()
    try:
        writer = it.begin(Sheet(out), Run(inspector))
        for report in reports:
            writer.document(report)
        writer.end([problem for report in reports for problem in report.problems])
    except Exception as error:
        yield f"it crashed: {type(error).__name__}: {error}"
        return
    text = out.getvalue()
    if reports and not text.strip():
        yield "it writes nothing"
    raw = {char for char in text if category(char) == "Cc"} - {"\n", "\t"}
    if raw:
        yield f"it lets {', '.join(f'U+{ord(char):04X}' for char in sorted(raw))} through"
