"""The card as Markdown, with boxes to tick."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.card import DEFERS
from prebind.report.card.text import RECORD, sign
from prebind.report.markdown import code, escaped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.report.card.steps import Card, Section, Seen, Step

_BLANK = "\\_" * 12
_BLANKS = f"Done by: {_BLANK} on: {_BLANK} place: {_BLANK}"


def card_markdown(card: Card) -> Iterator[str]:
    yield f"# Bench and field card: “{escaped(card.model)}”\n\n"
    yield f"{' · '.join(f'{name}: {escaped(text)}' for name, text in card.facts)}\n\n"
    yield f"{_BLANKS}\n\n> {DEFERS}\n\n"
    if card.faults:
        yield f"**{escaped(card.faults)}**\n\n"
    number = 1
    for section in card.sections:
        yield from _section(section, number)
        number += len(section.steps)
    if card.proves:
        yield f"{RECORD} {code(sign(card))}, for CHECK {', '.join(card.proves)}.\n"


def _section(section: Section, number: int) -> Iterator[str]:
    proves = f" (proves {', '.join(section.proves)})" if section.proves else ""
    yield f"## {section.name}{proves}\n\n"
    for i, step in enumerate(section.steps, number):
        yield from _step(step, i)
    yield f"\n{section.note}\n\n" if section.note else "\n"


def _step(step: Step, number: int) -> Iterator[str]:
    box = "" if step.each else "[ ] "
    yield f"- {box}**{number}.** {escaped(step.do)}\n"
    for state in step.each:
        yield f"  - [ ] in {escaped(state)}\n"
    for seen in step.see:
        yield f"  - See {_seen(seen, step)}\n"
    if step.note:
        yield f"  - {escaped(step.note)}\n"
    if step.fill:
        yield f"  - Then fill in {', '.join(map(code, step.fill))}\n"
    if step.rules and not step.wrong:
        yield f"  - Faults here: {', '.join(map(code, step.rules))}\n"
    if step.caution:
        yield f"  - *{step.caution}*\n"


def _seen(seen: Seen, step: Step) -> str:
    must = f"{escaped(seen.what)}: **{escaped(seen.must)}**"
    if not seen.does:
        return must
    see = f"; see {', '.join(map(code, step.rules))}" if step.rules else ""
    return f"{must}; **WRONG: this setup: {escaped(seen.does)}**{see}"
