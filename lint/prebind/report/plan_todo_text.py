"""What is left to do on a setup that was begun: its inspection's open outcomes, by what settles."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from prebind.report.wording import clean, paragraph
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.inspect.finding import Finding, Report

_CAUTION = (
    "What is not known counts as not safe. Take the propeller off and restrain the model before "
    "each step; a person decides when it may fly. The law where you fly, the site's rules, the "
    "makers' instructions and an experienced instructor come first."
)


def todo_text(report: Report, width: int) -> Iterator[str]:
    """Fails first, should there be any; then the to-do list, the most urgent first."""
    fails = [it for it in report.findings if it.kind == "fail"]
    for found in fails:
        text = f"{found.word}: {found.rule}: {clean(found.message)} {clean(found.remedy)}"
        yield paragraph(text, width, "", "    ")
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for found in report.findings:
        if found.kind == "open":
            groups.setdefault(_keys(found), []).append(found)
    if groups:
        yield paragraph("To do, the most urgent first:", width, "\n" if fails else "")
    ordered = sorted(groups.items(), key=lambda it: (_urgency(it[1]), -len(it[1])))
    for keys, group in ordered:
        yield from _step(keys, group, width)
    yield f"\n{paragraph(_CAUTION, width)}"


def _urgency(group: list[Finding]) -> int:
    return min(WORDS.index(found.word) for found in group)


def _keys(found: Finding) -> tuple[str, ...]:
    """What would settle it, the same for all entries of a list."""
    places = (re.sub(r"/[0-9]+", "/…", place) for place in found.settles or (found.at,))
    return tuple(dict.fromkeys(clean(place) or "the document" for place in places))


def _step(keys: tuple[str, ...], group: list[Finding], width: int) -> Iterator[str]:
    """What to record, how many checks wait for it, and what to try by hand."""
    word = WORDS[_urgency(group)]
    checks = "1 check waits" if len(group) == 1 else f"{len(group)} checks wait"
    yield paragraph(f"{word}: record {', '.join(keys)}; {checks} for it.", width, "  ", "    ")
    for bench in dict.fromkeys(found.bench for found in group if found.bench):
        yield paragraph(f"by hand: {clean(bench)}", width, "    ", "    ")
