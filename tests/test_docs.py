"""docs/packs.md shows what the commands really print."""

from __future__ import annotations

import json
import re
import sys
import tomllib
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from tests.shown import ROOT, Page, assert_prints, printed

from prebind.hooks import HOOKS
from prebind.rule import replace
from prebind.testing import assert_conforms, clean, patched

if TYPE_CHECKING:
    from collections.abc import Iterator

PAGE = Page("docs/packs.md")
PACK = ROOT / "tests" / "examples" / "packs" / "tern_bay_rules"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the two setups that the page speaks of."""
    monkeypatch.chdir(tmp_path)
    heavy = [replace("/model/mass_g", 9000), replace("/receiver/failsafe/delay_s", 2)]
    for name, document in {"trainer": clean(), "heavy": patched(clean(), heavy)}.items():
        Path(f"{name}.setup.json").write_text(json.dumps(document, indent=2), encoding="utf-8")
    return tmp_path


@pytest.fixture
def installed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """The example pack, found as if it were installed; another test really installs it."""
    info = tmp_path / "site" / "tern_bay_rules-2026.1.dist-info"
    info.mkdir(parents=True)
    (info / "entry_points.txt").write_text("[prebind]\ntern-bay-rules = tern_bay_rules\n")
    monkeypatch.syspath_prepend(info.parent)
    monkeypatch.syspath_prepend(PACK)
    yield
    for name in [name for name in sys.modules if name.startswith("tern_bay_rules")]:
        del sys.modules[name]


def sheet() -> Path:
    file = Path("club.rules.json")
    file.write_text(PAGE.block("A rule sheet", "json"), encoding="utf-8")
    return file


def test_a_rule_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    assert_conforms(sheet())
    assert_prints(capsys, PAGE.block("A rule sheet", ""))


def test_a_python_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert_prints(capsys, PAGE.block("A Python file", ""))
    assert_conforms("my_rule.py")


@pytest.mark.usefixtures("installed")
def test_an_installed_package(capsys: pytest.CaptureFixture[str]) -> None:
    heading = "An installed package"
    assert_prints(capsys, PAGE.block(heading, ""))
    project = (PACK / "pyproject.toml").read_text(encoding="utf-8")
    assert tomllib.loads(PAGE.block(heading, "toml"))["project"].items() <= (
        tomllib.loads(project)["project"].items()
    )
    pack = import_module("tern_bay_rules")
    rules, (board,) = list(pack.prebind_rules()), pack.prebind_report_formats()
    names: dict[str, Any] = {rule.judge.__name__: rule for rule in rules} | {"BOARD": board}
    exec(PAGE.block(heading, "python"), names)
    assert list(names["prebind_rules"]()) == rules
    assert list(names["prebind_report_formats"]()) == [board]


def test_settings(capsys: pytest.CaptureFixture[str]) -> None:
    sheet()
    Path("prebind.toml").write_text(PAGE.block("Settings", "toml"), encoding="utf-8")
    assert ": danger: club/slow-failsafe: " in printed(capsys, "inspect", "heavy.setup.json")
    without = printed(capsys, "inspect", "--without-pack", "club", "heavy.setup.json")
    assert "club/slow-failsafe: " not in without


@pytest.mark.usefixtures("installed")
def test_tests() -> None:
    assert PAGE.block("Tests", "python").strip() in (PACK / "tests" / "test_pack.py").read_text()
    names = dict(vars(import_module("tern_bay_rules.heavy_runs_on")))
    exec(PAGE.block("Tests", "python", 1), names)
    names["test_a_second_and_a_half"]()


def test_every_block_is_looked_at() -> None:
    """Beside those above nothing on the page is marked as code."""
    assert PAGE.text.count("```") == 2 * 9


def test_links() -> None:
    links = re.findall(r"\]\(([^)#]+)\)", PAGE.text)
    assert len(links) == 2
    assert all((ROOT / "docs" / link).exists() for link in links)


def test_the_version_of_the_hooks() -> None:
    assert f"`prebind.hooks.HOOKS`, now {HOOKS}." in PAGE.text
