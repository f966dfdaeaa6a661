"""What a report must be whatever the document was: well-formed, and harmless where it is shown."""

from __future__ import annotations

import json
import re
from functools import cache
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree
from zlib import crc32

import html5lib
import jsonschema_rs

from prebind.format import Run, Sheet
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Inspector, Report

SARIF = Path(__file__).parents[1] / "data" / "sarif" / "sarif-2.1.0.json"
_NOT_TEXT = re.compile(r"[^\n\x20-\x7e\x80-\U0010ffff]|[\x80-\x9f\u2028-\u202e\u2066-\u2069]")
_VOID = {"meta", "br", "hr", "input", "col", "wbr", "link", "img"}
_BANNED = {"script", "iframe", "object", "embed", "form", "base", "link", "img", "foreignobject"}


class Malformed(Exception):
    """A report is not what its format demands."""


def written(name: str, inspector: Inspector, reports: Iterable[Report], width: int = 100) -> str:
    out = StringIO()
    problems = []
    writer = inspector.formats[name].begin(Sheet(out, width), Run(inspector))
    for report in reports:
        writer.document(report)
        problems += report.problems
    writer.end(problems)
    return out.getvalue()


def check(name: str, text: str) -> None:
    """Raises Malformed, or what a parser raises."""
    _CHECKS.get(name, plain)(text)


def strict_json(text: str) -> Any:
    plain(text)
    return json.loads(text, parse_constant=_no_constant)


def _no_constant(name: str) -> Any:
    raise Malformed(f"{name} is no JSON")


def plain(text: str) -> None:
    found = _NOT_TEXT.search(text)
    if found is not None:
        raise Malformed(f"U+{ord(found[0]):04X} stands in the text")


def _json(text: str) -> None:
    _valid(_validator("inspection"), strict_json(text))


def _comparison(text: str) -> None:
    _valid(_validator("comparison"), strict_json(text))


def _sarif(text: str) -> None:
    _valid(_validator("sarif"), strict_json(text))


@cache
def _validator(name: str) -> Any:
    text = SARIF.read_text(encoding="utf-8") if name == "sarif" else schema_text(name)
    return jsonschema_rs.validator_for(json.loads(text))


def _valid(validator: Any, value: Any) -> None:
    if validator.is_valid(value):
        return
    for error in validator.iter_errors(value):
        raise Malformed(f"{error.instance_path}: {str(error.message)[:200]}")


def _junit(text: str) -> None:
    plain(text)
    ElementTree.fromstring(text)


def page(text: str) -> None:
    plain(text)
    reader = _Page()
    reader.feed(text)
    reader.close()
    if reader.open:
        raise Malformed(f"<{reader.open[-1]}> is never closed")
    if crc32(text.encode()) % 16 == 0:  # it takes long
        html5lib.HTMLParser(strict=True).parse(text)


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _BANNED:
            raise Malformed(f"<{tag}> stands in the page")
        for name, value in attrs:
            if name.startswith("on") or (name == "href" and not (value or "").startswith("#")):
                raise Malformed(f"{name}={value!r} stands in the page")
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in _VOID and (not self.open or self.open.pop() != tag):
            raise Malformed(f"</{tag}> closes nothing")


_CHECKS = {
    "json": _json,
    "comparison": _comparison,
    "sarif": _sarif,
    "junit": _junit,
    "html": page,
}
