"""The written rulebook: what stands in it, and what no text of a pack can do in it.

Rendered by markdown-it-py: CommonMark, tables, and the raw HTML that sites let through.
"""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any, get_args

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from tests.report.test_markdown import NAMES, SITE

from prebind import Inspector
from prebind.packs import Pack, Shelf, Tried
from prebind.report.markdown import block, inline
from prebind.report.rulebook_markdown import pages
from prebind.report.rulebook_telling import looks_at
from prebind.report.wording import clean
from prebind.rule import (
    Each,
    Fail,
    Fails,
    Fix,
    Need,
    Passes,
    Setting,
    fails,
    passes,
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.rule import Example, Rule

MARKDOWN = MarkdownIt("commonmark", {"html": True}).enable("table")

DELAY = "/receiver/failsafe/delay_s"

TAGS = {
    *("a", "p", "strong", "em", "h1", "h2", "h3", "ul", "li", "code", "pre", "span"),
    *("table", "thead", "tbody", "tr", "th", "td", "details", "summary"),
}

HOSTILE = [
    *NAMES,
    "1. one\n2. two",
    "- item\n\n    code",
    "2019. A year",
    "Title\n===\nand ---",
    ":---",
    "```\nfence",
    "a `b | c` d",
    "`<b>`",
    "``",
    "` lone",
    "--> <!--",
]


class Page(HTMLParser):
    """The tags of a page, where its links lead, and its text."""

    def __init__(self, markdown: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.links: list[str] = []
        self.text = ""
        self.pieces: list[str] = []  # of text that is no code, each between two tags
        self._code = 0
        self._open: list[str] = []
        self.feed(MARKDOWN.render(markdown))
        self.close()
        assert self._open == [], "every tag is closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self._open.append(tag)
        self._code += tag == "code"
        names = {name for name, _ in attrs}
        assert names <= {"a": {"href", "id"}, "code": {"class"}}.get(tag, set())
        self.links += [value or "" for name, value in attrs if name == "href"]

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag
        self._code -= tag == "code"

    def handle_data(self, data: str) -> None:
        self.text += data
        self.pieces += [] if self._code else [data]

    def handle_comment(self, data: str) -> None:
        assert data.startswith(" Written by `prebind rulebook")


def made(
    text: str = "Plain.", name: str = "club/slow", examples: Iterable[Example] = (), **more: Any
) -> Rule:
    """A rule about the delay of the failsafe, which says `text` wherever a rule says a thing."""

    def slow(_: Any, path: Any, __: Any) -> Any:
        delay = path.setup.receiver.failsafe.delay_s
        return Fail(f"{delay:g} s. {text}", at=DELAY, fix=more.get("fix")) if delay > 2 else ()

    slow.__doc__ = more.get("why", f"{text}\n\n{text}")
    bound = rule(
        "club/slow",
        word="caution",
        title=text,
        each="setup",
        safety=text,
        remedy=text,
        bench=text,
        source=text,
        settings={text: Setting(text, text)},
        examples=lambda: examples,
        since=text,
    )(slow)
    return evolve(bound, id=name)  # whatever a pack may put there


def written(*rules: Rule, pack: str = "made") -> dict[str, str]:
    inspector = Inspector()
    inspector._shelf = Shelf([Tried(Pack(pack, "1", "file", "made.py", rules))], ())
    return pages(rules, inspector)


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("text", HOSTILE)
def test_no_text_becomes_anything_but_text(text: str) -> None:
    example = fails(
        replace(DELAY, 3), put("/x-note", text), why=text, at=DELAY, says=["3 s"], start="trainer"
    )
    for page in written(made(text, f"club/{text}", [example])).values():
        seen = Page(page)
        assert seen.tags <= TAGS
        assert all(
            re.fullmatch(r"([a-z-]+\.md|README\.md)?(#[a-z0-9-]*)?", it) for it in seen.links
        )
        assert not [piece for piece in seen.pieces if SITE.search(piece)]
        assert squeezed(clean(text)).replace("`", "") in squeezed(seen.text).replace("`", "")


@given(st.text("ab12 \\`*_{}[]<>&|~^$@#!%:/.-+=()\"'\u202e\u00b5", max_size=40))
def test_a_paragraph_says_what_it_is_given(text: str) -> None:
    seen = Page(block(inline(text), 20))
    assert seen.tags <= {"p", "code", "span"}
    assert seen.links == []
    assert squeezed(seen.text).replace("`", "") == squeezed(clean(text)).replace("`", "")


def test_what_a_rule_looks_at_and_needs_has_words_of_its_own() -> None:
    for each in get_args(Each):
        assert re.fullmatch(r"Looks at (the|each) .+\.", looks_at(evolve(made(), each=each)))
    for need in get_args(Need):
        told = looks_at(evolve(made(), needs=(need,)))
        assert re.search(r"What must be written down: (the|what|that) .+\.$", told)


def test_families_cannot_name_other_files() -> None:
    names = ["../../x/slow", "readme/slow", "Über all/slow", "/slow", "plain"]
    for name in names:
        index, page = written(made(name=name))
        assert index == "README.md"
        assert re.fullmatch(r"(?!readme\.md)[a-z0-9-]+\.md", page)


def test_a_page_tells_everything() -> None:
    more = [
        fails(replace(DELAY, 3), why="Three.", at=DELAY, says=["3 s"]),
        passes(replace(DELAY, 1), why="One.", outcome="notApplicable"),
        fails(replace(DELAY, 4), why="Four.", at=DELAY, says=["4 s"]),
    ]
    fix = Fix("safe", (replace(DELAY, 1),))
    index, page = written(made("Slow", examples=more, why="Because.", fix=fix)).values()
    seen = Page(page)
    for part in (
        "Slow. Signal word: caution. Looks at the setup as a whole.",
        "Why. Because.",
        "Safety. Slow",
        "Remedy. Slow",
        "On the bench. Slow",
        "Fix. prebind mend shows a change to the document",
        "Fails, for example. Three. On the clean setup trainer:",
        f"caution at {DELAY}: 3 s. Slow",
        "Passes, for example. One. On the clean setup trainer:",
        "The outcome is notApplicable.",
        "1 more example",
        "Fails. Four.",
        f"caution at {DELAY}: 4 s. Slow",
        "Source. Slow",
        "In the pack “made” since Slow.",
    ):
        assert squeezed(part) in squeezed(seen.text)
    assert "| [club/slow](club.md#slow) | caution | Slow | keeps what was meant |" in index
    assert '<a id="slow"></a>\n\n## club/slow\n' in page


def test_examples_are_json_patches_as_they_are() -> None:
    """Also where they are laid out on several lines."""
    value = [{"name": f"entry {number}", "µ": ["\u202e", 1.5, None, True]} for number in range(5)]
    example = passes(put("/x-note", value), put("/x-more", {}), why="Long.")
    (_, page) = written(made(examples=[example])).values()
    (shown,) = re.findall(r"^```json\n(.*?)^```$", page, re.MULTILINE | re.DOTALL)
    assert json.loads(shown) == list(example.patch)
    assert "µ" in shown
    assert max(map(len, shown.splitlines())) <= 96
    assert shown.count("\n") > 5


def test_an_example_that_does_not_come_out_says_so() -> None:
    examples: list[Fails | Passes] = [
        fails(replace(DELAY, 1), why="No.", at=DELAY, says=["1 s"]),
        passes(replace(DELAY, 5), why="No."),
        passes(replace("/none", 5), why="No."),
    ]
    (_, page) = written(made("Slow", examples=examples)).values()
    text = squeezed(Page(page).text)
    assert squeezed("It is meant to fail, and does not fail so.") in text
    assert squeezed("It is meant to pass, and fails: 5 s. Slow") in text
    assert squeezed("The example cannot be tried: the patch does not fit") in text
