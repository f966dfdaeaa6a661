"""HTML and Markdown: whole, without a script or a request, and nothing in a document can inject."""

from __future__ import annotations

import json
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from prebind.cli import main
from prebind.testing import clean

EXAMPLES = Path(__file__).parent.parent / "examples"
HOSTILE = (
    "</style><script>alert(1)</script> \"'><img src=x onerror=y> ![a](http://e.example) @all | `"
)


class Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: Counter[str] = Counter()
        self.ids: Counter[str] = Counter()
        self.links: list[str] = []
        self.handlers: list[str] = []
        self.pictures: list[list[str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        if tag == "svg":
            self.pictures.append([])
        elif self.pictures and tag in ("title", "desc"):
            self.pictures[-1].append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids[value or ""] += 1
            if name in ("href", "src", "action", "xlink:href"):
                self.links.append(value or "")
            if name.startswith("on"):
                self.handlers.append(name)


def reported(tmp_path: Path, *paths: Path, form: str) -> str:
    file = tmp_path / f"report.{form}"
    main(["inspect", "--report", f"{form}={file}", *map(str, paths)])
    return file.read_text(encoding="utf-8")


def hostile(tmp_path: Path) -> Path:
    document: dict[str, Any] = clean("trainer")
    document["model"]["name"] = HOSTILE[:190]
    document["channels"][1]["reversed"] = True
    document["receiver"]["stabiliser"]["selectors"][0]["name"] = HOSTILE[:100]
    document["receiver"]["stabiliser"]["selectors"][0]["states"][0]["state"] = HOSTILE[:60]
    document["receiver"]["failsafe"].pop("intended_states")
    file = tmp_path / "hostile.setup.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("pages")
    return reported(folder, EXAMPLES / "fleet", EXAMPLES / "faulty", form="html")


def test_one_page_that_asks_nothing_of_anybody(fleet: str) -> None:
    page = Page(fleet)
    assert page.tags["script"] == page.tags["link"] == page.tags["img"] == page.tags["iframe"] == 0
    assert page.handlers == []
    assert all(link.startswith("#") for link in page.links)
    assert "@import" not in fleet
    assert fleet.count("url(") == fleet.count("url(#")
    assert "Content-Security-Policy" in fleet
    assert page.tags["html"] == page.tags["main"] == 1


def test_links_lead_somewhere_and_ids_are_distinct(fleet: str) -> None:
    page = Page(fleet)
    assert [name for name, times in page.ids.items() if times > 1] == []
    assert {link.removeprefix("#") for link in page.links} <= page.ids.keys()


def test_every_picture_says_in_words_what_it_shows(fleet: str) -> None:
    page = Page(fleet)
    assert len(page.pictures) > 100
    assert all("title" in words for words in page.pictures)


def test_light_dark_and_print(fleet: str) -> None:
    assert "prefers-color-scheme: dark" in fleet
    assert "@media print" in fleet


def test_signal_words_stand_in_words(fleet: str) -> None:
    for word in ("danger", "warning", "caution", "notice"):
        assert word in fleet.lower()


def test_a_document_injects_nothing_into_html(tmp_path: Path) -> None:
    page = Page(reported(tmp_path, hostile(tmp_path), form="html"))
    assert page.tags["script"] == page.tags["img"] == 0
    assert page.handlers == []


def test_a_document_injects_nothing_into_markdown(tmp_path: Path) -> None:
    text = reported(tmp_path, hostile(tmp_path), form="markdown")
    assert "<script" not in text
    assert "<img" not in text
    assert "![a](" not in text
    assert "@all" not in text


def test_markdown_says_the_verdict_first_and_who_decides_last(tmp_path: Path) -> None:
    text = reported(tmp_path, EXAMPLES / "faulty" / "dunlin-faulty.setup.json", form="markdown")
    assert text.startswith("**Grounded by 6 findings (caution or worse): 1 danger, 3 warning")
    assert "dunlin-faulty.setup.json:61:18" in text
    assert "A person decides" in text.splitlines()[-1]
