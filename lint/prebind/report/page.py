"""What the HTML pages have in common: templates, their style, and text that stays text.

A page asks nothing of anywhere: no script, no font, no image from outside, and a policy in its
head that forbids them.  Every text passes through `clean` and the templates' escaping.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from prebind.report.wording import clean
from prebind.rule import WORDS

if TYPE_CHECKING:
    from jinja2 import Environment

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|µs|[AVΩ]|m[ms]|Hz)(?!\w))")
_CODE = re.compile(r"`([^`]+)`")


@cache
def environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("prebind.report"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_cleaned,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.filters["spoken"] = _spoken
    made.globals["signal_words"] = WORDS
    return made


def _spoken(text: str) -> Any:
    """A sentence with what stands between backticks as code."""
    from markupsafe import Markup, escape

    parts = _CODE.split(_cleaned(text))
    return Markup("").join(
        Markup("<code>{}</code>").format(part) if i % 2 else escape(part)
        for i, part in enumerate(parts)
    )


def _cleaned(value: Any) -> Any:
    """What a template puts out: markup of its own as it is, all else clean, on one line."""
    return value if hasattr(value, "__html__") else _BEFORE_UNIT.sub("\u00a0", clean(value))


@cache
def style(sheet: str) -> Any:
    """A style sheet of ours, as markup."""
    from importlib.resources import files

    from markupsafe import Markup

    file = files(__package__) / "templates" / sheet
    return Markup(file.read_text(encoding="ascii"))  # our own file: no text of a document


def digest_of(style: str) -> str:
    """The digest by which the page's policy knows its own style."""
    from base64 import b64encode
    from hashlib import sha256

    return b64encode(sha256(style.encode()).digest()).decode("ascii")


def in_ascii(text: str) -> str:
    """The same page in ASCII, whatever the encoding of the output."""
    return text.encode("ascii", "xmlcharrefreplace").decode("ascii")
