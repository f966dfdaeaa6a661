"""docs/planning.md shows what the commands really print."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from tests.shown import Page, assert_prints

from prebind.cli import main
from prebind.plan.wishes import PREFERENCES

PAGE = Page("docs/planning.md")


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    Path("knot.wishes.json").write_text(PAGE.block("What you want", "json"), encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("heading", ["Which transmitter", "The plan"])
def test_the_plan(heading: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert_prints(capsys, PAGE.block(heading, ""))


def test_where_it_cannot_be(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "knot.wishes.json"]) == 0
    assert capsys.readouterr().err == PAGE.block("Where it cannot be", "")


def test_the_weights() -> None:
    assert json.loads(PAGE.block("The plan", "json")) == {"preferences": dict(PREFERENCES)}


def test_starting_and_inspecting(capsys: pytest.CaptureFixture[str]) -> None:
    assert_prints(capsys, PAGE.block("Start the setup", "", 1))
    assert_prints(capsys, PAGE.block("Start the setup", "", 0))
    assert_prints(capsys, PAGE.block("Inspect it", ""))


def test_the_answers() -> None:
    Path("a.json").write_text(PAGE.block("Start the setup", "json"), encoding="utf-8")
    arguments = ["start", "Knot-900", "--plan", "knot.wishes.json", "--answers", "a.json"]
    assert main(arguments) == 0
    assert json.loads(Path("knot-900.setup.json").read_bytes())["overrides"][0]["release"]


def test_every_block_is_looked_at() -> None:
    """Beside those above, and the installing, nothing on the page is marked as code."""
    assert len(re.findall("^```", PAGE.text, re.MULTILINE)) == 2 * 10
