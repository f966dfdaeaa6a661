"""The card as one HTML page to print: boxes to tick, and a picture for each direction.

The page asks nothing of anywhere: no script, no font, no image from outside, and a policy in its
head that forbids them.  Every text passes through `clean` and the template's escaping.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.card import DEFERS
from prebind.report.card.text import RECORD, sign
from prebind.report.page import digest_of, environment, in_ascii, style
from prebind.report.pictures.model import WIDTH

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.report.card.steps import Card

_SHEET = "card.css"


def card_html(card: Card) -> Iterator[str]:
    from prebind import __version__

    page = environment().get_template("card.html.jinja")
    parts = page.generate(
        card=card,
        defers=DEFERS,
        record=RECORD,
        sign=sign(card),
        first=[1 + sum(len(s.steps) for s in card.sections[:i]) for i in range(len(card.sections))],
        width=WIDTH,
        style=style(_SHEET),
        style_hash=digest_of(style(_SHEET)),
        version=__version__,
    )
    for part in parts:
        yield in_ascii(part)
