"""What changes in a document, as a unified diff that is safe for a terminal."""

from __future__ import annotations

from difflib import unified_diff
from typing import TYPE_CHECKING

from prebind.report.wording import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.format import Sheet

_COLOURS = {"-": "31", "+": "32"}


def changes(path: str, before: str, after: str, what: str, sheet: Sheet) -> Iterator[str]:
    """Line by line; `what` says how the document is then: mended, signed off."""
    name = clean(path)
    old, new = _lines(before), _lines(after)
    for line in unified_diff(old, new, name, name, "as it is", what, lineterm=""):
        shown = "\t".join(map(clean, line.split("\t")))
        colour = _COLOURS.get(line[:1]) if sheet.colour else None
        yield f"\x1b[{colour}m{shown}\x1b[0m\n" if colour else f"{shown}\n"


def _lines(text: str) -> list[str]:
    return (
        text.removeprefix("\ufeff")
        .replace("\r\n", "\n")
        .replace("\r", "\n")
        .rstrip("\n")
        .split("\n")
    )
