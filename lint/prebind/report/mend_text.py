"""What mending one document comes to, as text: findings, the change as a diff, what is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.inspect.mending import in_words
from prebind.report.diff_text import changes
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.format import Sheet
    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.mending import Mended

CAUTION = (
    "A change here changes what is written down, not the radio or the receiver: do there what the "
    "remedy says, then prove controls, corrections, throttle cut and failsafe on the model, "
    "propeller off. A person decides. The law where you fly, the site's rules, the makers' "
    "instructions and an experienced instructor come first."
)

_INDENT = "    "
_LABEL = 8  # characters for the words before change, safety and the rest


def mend_text(before: Report, mended: Mended, sheet: Sheet) -> Iterator[str]:
    """Line by line.  `before` is the report on the document as it was."""
    assert before.document is not None
    assert before.setup is not None
    title = f"“{clean(before.setup.model.name)}”, {clean(before.path_name)}"
    yield f"{title}\n{'=' * min(len(title), sheet.width)}\n\n"
    for found in mended.done:
        yield from _found(before, found, sheet, _changes(found))
    if mended.done:
        text = before.document.sources[0].data.decode()
        yield from changes(before.path_name, text, mended.text, "mended", sheet)
        yield "\n"
    for refused in mended.left:
        yield from _found(before, refused.finding, sheet, [("left", refused.reason)])
    yield from _rest(mended, sheet)
    yield "\n"


def _found(
    report: Report, found: Finding, sheet: Sheet, noted: list[tuple[str, str]]
) -> Iterator[str]:
    place = report.place(found)
    where = f"{clean(place.file)}:{place.line}:{place.column}: " if place and place.line else ""
    width = sheet.width if sheet.broken_lines else None
    yield paragraph(
        f"{found.rule}: {clean(found.message)}", width, f"{where}{found.word}: ", _INDENT
    )
    for label, text in (*noted, ("safety", found.safety), ("remedy", found.remedy)):
        if text:
            first = f"{_INDENT}{label:<{_LABEL}}"
            yield paragraph(clean(text), sheet.width, first, " " * len(first))
    yield "\n"


def _changes(found: Finding) -> list[tuple[str, str]]:
    assert found.fix is not None
    meant = "keeps what was meant" if found.fix.applies == "safe" else "a person must decide"
    return [("change", f"{'; '.join(map(in_words, found.fix.patch))} ({meant})")]


def _rest(mended: Mended, sheet: Sheet) -> Iterator[str]:
    """What there is to do by other means."""
    tried = {refused.finding.fingerprint for refused in mended.left}
    fails = [
        found
        for found in mended.report.findings
        if found.kind == "fail" and found.waived is None and found.fingerprint not in tried
    ]
    offered = sorted({found.rule for found in fails if found.fix is not None})
    if not (fails or mended.done or mended.left):
        yield paragraph("Nothing fails here that could be mended.", sheet.width)
    if offered:
        rules = " ".join(f"--rule {clean(rule)}" for rule in offered)
        yield paragraph(f"More changes are on offer; see them with --show {rules}", sheet.width)
    without = sum(found.fix is None for found in fails)
    if without:
        findings = "1 finding has" if without == 1 else f"{without} findings have"
        yield paragraph(
            f"{findings} no change to offer; `prebind inspect` says what to do.", sheet.width
        )
