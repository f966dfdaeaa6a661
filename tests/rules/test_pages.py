"""The written rulebook, `rules/README.md` and the pages beside it, says what the rules say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from prebind.cli import main

COMMAND = "prebind rulebook --pages rules --of prebind"

ROOT = Path(__file__).parents[2]
PAGES = sorted((ROOT / "rules").glob("*.md"))


def text_of(folder: Path) -> dict[str, str]:
    return {file.name: file.read_text(encoding="utf-8") for file in folder.glob("*.md")}


def test_the_pages_have_not_drifted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every example is run anew; a page too many or too few is a drift as well."""
    monkeypatch.chdir(ROOT)
    arguments = COMMAND.replace("--pages rules", f"--pages {tmp_path}").split()[1:]
    assert main(arguments) == 0, capsys.readouterr().err
    made, written = text_of(tmp_path), text_of(ROOT / "rules")
    drifted = sorted(name for name in made | written if made.get(name) != written.get(name))
    assert not drifted, f"{', '.join(drifted)}: `{COMMAND}`, at the top of the repository, mends it"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    """An anchor is one that is written there, or a heading's, made of it as usual."""
    text = page.read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#]*)(?:#([^)]*))?\)", text)
    assert links
    for file, anchor in links:
        target = (page.parent / file).read_text(encoding="utf-8") if file else text
        headings = re.findall(r"^#+ (.+)$", target, re.MULTILINE)
        slugs = {heading.lower().replace(" ", "-") for heading in headings}
        assert not anchor or f'<a id="{anchor}"></a>' in target or anchor in slugs, (file, anchor)


def test_no_anchor_stands_twice_on_a_page() -> None:
    for page in PAGES:
        anchors = re.findall(r'<a id="([^"]*)">', page.read_text(encoding="utf-8"))
        assert len(anchors) == len(set(anchors)), page.name


def test_no_example_is_in_trouble() -> None:
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        assert not re.findall(r"It is meant to|cannot be tried|cannot be made", text), page.name
