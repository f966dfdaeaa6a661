"""The card as text, for a terminal or a plain page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.card import DEFERS
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.format import Sheet
    from prebind.report.card.steps import Card, Section, Seen, Step

_BOX = "[ ]"
_DEEP = " " * 8
_BLANK = "Done by ____________________   on ____________   place ____________"
_RED = "1;31"

RECORD = "Record what was proven, each check by itself:"


def card_text(card: Card, sheet: Sheet) -> Iterator[str]:
    width = sheet.width
    title = f"Bench and field card: “{clean(card.model)}”"
    yield paragraph(title, width)
    yield f"{'=' * min(len(title), width)}\n"
    yield paragraph("; ".join(f"{name}: {clean(text)}" for name, text in card.facts), width)
    yield f"\n{paragraph(_BLANK, width)}\n{paragraph(DEFERS, width)}"
    if card.faults:
        yield f"\n{_strong(paragraph(clean(card.faults), width), sheet)}"
    number = 1
    for section in card.sections:
        yield from _section(section, number, sheet)
        number += len(section.steps)
    if card.proves:
        checks = ", ".join(card.proves)
        yield f"\n{paragraph(f'{RECORD} `{sign(card)}`, for CHECK {checks}.', width)}"


def sign(card: Card) -> str:
    """The command that records a check."""
    from shlex import quote

    file = "SETUP" if card.file == "-" else quote(clean(card.file))
    return f"prebind sign {file} --check CHECK --by NAME"


def _section(section: Section, number: int, sheet: Sheet) -> Iterator[str]:
    head = section.name
    if section.proves:
        head = f"{head} ({', '.join(section.proves)})"
    yield f"\n{paragraph(head, sheet.width)}{'-' * min(len(head), sheet.width)}\n"
    for i, step in enumerate(section.steps, number):
        yield from _step(step, i, sheet)
    if section.note:
        yield paragraph(section.note, sheet.width, "    ", "    ")


def _step(step: Step, number: int, sheet: Sheet) -> Iterator[str]:
    box = f"{number:>2} {_BOX if not step.each else '   '} "
    yield paragraph(clean(step.do), sheet.width, box, _DEEP)
    if step.each:
        boxes = "   ".join(f"{_BOX} {clean(state)}" for state in step.each)
        yield paragraph(boxes, sheet.width, _DEEP, _DEEP)
    for seen in step.see:
        yield from _seen(seen, step, sheet)
    if step.note:
        yield paragraph(clean(step.note), sheet.width, _DEEP, _DEEP)
    if step.fill:
        yield paragraph(
            f"Then fill in {', '.join(map(clean, step.fill))}", sheet.width, _DEEP, _DEEP
        )
    if step.rules and not step.wrong:
        yield paragraph(
            f"Faults here: {', '.join(map(clean, step.rules))}", sheet.width, _DEEP, _DEEP
        )
    if step.caution:
        yield paragraph(step.caution, sheet.width, f"{_DEEP}! ", f"{_DEEP}  ")


def _seen(seen: Seen, step: Step, sheet: Sheet) -> Iterator[str]:
    deeper = f"{_DEEP}  "
    yield paragraph(f"{clean(seen.what)}: {clean(seen.must)}", sheet.width, f"{_DEEP}- ", deeper)
    if seen.does:
        see = f"; see {', '.join(map(clean, step.rules))}" if step.rules else ""
        text = f"WRONG: this setup: {clean(seen.does)}{see}"
        yield _strong(paragraph(text, sheet.width, deeper, f"{deeper}  "), sheet)


def _strong(text: str, sheet: Sheet) -> str:
    if not sheet.colour:
        return text
    lines = (f"\x1b[{_RED}m{line}\x1b[0m\n" for line in text.splitlines())
    return "".join(lines)
