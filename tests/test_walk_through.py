"""docs/walk-through.md can be walked: each command, in turn, prints what is shown."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.shown import ROOT, Page, assert_prints

from prebind import Inspector

if TYPE_CHECKING:
    from collections.abc import Callable

PAGE = Page("docs/walk-through.md")
EXAMPLES = ROOT / "tests" / "examples"
SETUP = Path("dunlin.setup.json")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", PAGE.text, re.MULTILINE | re.DOTALL)


def copy(command: str) -> None:
    """What a shell does, wherever this runs."""
    name, *files = shlex.split(command)
    assert name == "cp"
    shutil.copy(*files)


def edit(change: str) -> None:
    """The builder replaces one line, which stands once in the setup."""
    old, new = change.splitlines(keepends=True)
    before = SETUP.read_text(encoding="utf-8")
    assert (old[0], new[0], before.count(old[1:])) == ("-", "+", 1), change
    SETUP.write_text(before.replace(old[1:], new[1:]), encoding="utf-8")


@pytest.fixture
def walked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Path:
    """The folder after the last step of the page."""
    shutil.copy(EXAMPLES / "walk-through" / "dunlin-first-try.setup.json", tmp_path)
    monkeypatch.chdir(tmp_path)
    steps: dict[str, Callable[[str], object]] = {
        "json": lambda text: SETUP.write_text(text, encoding="utf-8"),
        "sh": copy,
        "diff": edit,
        "": lambda session: assert_prints(capsys, session),
    }
    for language, text in BLOCKS:
        steps[language](text)
    return tmp_path


def digests(file: Path) -> dict[str, str]:
    signs = json.loads(file.read_text(encoding="utf-8"))["sign_offs"]
    return {sign["check"]: sign["digest"] for sign in signs}


def test_the_whole_way(walked: Path) -> None:
    """Before the repair it is the fleet's Dunlin in all that its checks prove; after it, clean."""
    fleet = digests(EXAMPLES / "fleet" / "dunlin.setup.json")
    assert digests(walked / "dunlin-spring.setup.json") == fleet
    changed = {check for check, digest in digests(walked / SETUP).items() if digest != fleet[check]}
    assert changed == {"control-direction", "correction-direction", "throws", "failsafe"}
    for name in ("dunlin-spring.setup.json", SETUP):
        report = Inspector().inspect_file(walked / name)
        assert not report.findings, name
        assert not report.problems, name


def test_every_command_of_a_model_s_life_is_walked() -> None:
    ran = set(re.findall(r"^\$ prebind (\w+)", PAGE.text, re.MULTILINE))
    assert ran == {"inspect", "rulebook", "mend", "trace", "card", "sign", "compare"}


def test_every_block_is_walked() -> None:
    assert PAGE.text.count("```") == 2 * len(BLOCKS)


def test_links() -> None:
    links = re.findall(r"\]\(([^)#]+)\)", PAGE.text)
    assert links
    assert all((ROOT / "docs" / link).exists() for link in links)
