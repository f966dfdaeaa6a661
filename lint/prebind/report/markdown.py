"""Text that is nothing but text in Markdown, whatever site shows the page.

CommonMark with tables, and the tags that sites let through.
"""

from __future__ import annotations

import re
from textwrap import fill
from typing import TYPE_CHECKING

from prebind.report.wording import clean

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

_MARKED = re.compile(
    r"""(?P<begins>\$|[@\#!%&~](?=["\w])|:(?=//|[\w+-]*[a-z+][\w+-]*:)|(?<=\bwww)\.|(?<=\bGH)-)"""
    r"""|[\\`*_{}\[\]<>&|~^]""",
    re.IGNORECASE,
)
"""`begins`: what sites make mentions, references, signs, formulas and links of, and do not where it
stands in a tag of its own.  The others are markup, and are none as character references.
"""

_WHOLE = re.compile(r"`[^`]*`|\d [^\s\d]{1,4}(?=[\s,.;:)]|$)")
_GLUE = "\0"  # a space at which no line may be broken; escaped text never has one

_BEGINS_BLOCK = re.compile(r"^(?:(\d{1,9})(?=[.)](?:\s|$))|(?=[-+=:#]))", re.MULTILINE)
"""Where a line would begin a list, a heading or a rule, for want of a backslash."""


def escaped(text: str) -> str:
    """Text for the middle of a line."""
    return _MARKED.sub(_marked, clean(text))


def _marked(found: re.Match[str]) -> str:
    if not found["begins"]:
        return f"&#{ord(found[0])};"
    return f"<span>{'&amp;' if found[0] == '&' else found[0]}</span>"


def code(name: str) -> str:
    """A name, a place or a command, to be typed as it stands."""
    shown = clean(name)
    return f"<code>{escaped(shown)}</code>" if set(shown) & set("`|") else f"`{shown}`"


def inline(text: str) -> str:
    """Text for the middle of a line, in which what stands between backticks is code."""
    parts = text.split("`")
    if len(parts) % 2 == 0 or not all(parts[1::2]):
        return escaped(text)
    return "".join(code(part) if odd % 2 else escaped(part) for odd, part in enumerate(parts))


def block(line: str, width: int = 100) -> str:
    """A paragraph, of a line that is escaped already, and an empty line after it.

    Code is not broken, and a number stays with its unit.
    """
    kept = _WHOLE.sub(lambda found: found[0].replace(" ", _GLUE), line.strip())
    wrapped = fill(kept, width, break_long_words=False, break_on_hyphens=False)
    return _BEGINS_BLOCK.sub(r"\1\\", wrapped.replace(_GLUE, " ")) + "\n\n"


def row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |\n"


def table(heads: Sequence[str], rows: Iterable[Iterable[str]]) -> str:
    """A table of cells that are escaped already, and an empty line after it."""
    return f"{row(heads)}{row(['---'] * len(heads))}{''.join(map(row, rows))}\n"
