"""README shows what the commands really print."""

from __future__ import annotations

import json
import re
import shutil
from typing import TYPE_CHECKING

from tests.shown import ROOT, Page, printed

from prebind import Inspector

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

README = Page("README.md")


def test_main_command(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    command = README.block("Inspect the demo fleet", "sh")
    arguments = command.split(".venv/bin/prebind ")[1].split()
    monkeypatch.chdir(ROOT)
    assert printed(capsys, *arguments).endswith(README.block("Inspect the demo fleet", ""))


def test_smallest_setup_is_one() -> None:
    text = README.block("Write a setup", "json")
    report = Inspector().inspect(text)
    assert not report.problems
    assert json.loads(text)["channels"]


def test_mistakes(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    text = README.block("Write a setup", "json")
    wrong = text.replace('"channels": 8', '"chanels": 8').replace('"axis": "roll"', '"axis": "rol"')
    (tmp_path / "bad.setup.json").write_text(wrong, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    lines = printed(capsys, "inspect", "--plain", "bad.setup.json").splitlines(keepends=True)
    told = "".join(line for line in lines if line.startswith("bad.setup.json:"))
    assert told == README.block("Write a setup", "")


def test_a_finding(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(ROOT / "tests" / "examples" / "faulty")
    shown = README.block("Read a report", "")
    command, _, rest = shown.partition("\n\n")
    arguments = command.removeprefix("$ prebind ").split()
    whole = printed(capsys, arguments[0], "--plain", *arguments[1:])
    assert whole.startswith(rest.removesuffix("\n...\n"))


def test_python_example() -> None:
    names = {"data": README.block("Write a setup", "json")}
    exec(README.block("From Python", "python"), names)
    assert names["path"].channel(1).reach.high.us == 1900  # type: ignore[attr-defined]


def test_settings_and_waiver(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    heading = "In review, in CI, on paper"
    (tmp_path / "prebind.toml").write_text(README.block(heading, "toml"), encoding="utf-8")
    document = json.loads(README.block("Write a setup", "json"))
    document |= json.loads(f"{{{README.block(heading, 'json')}}}")
    (tmp_path / "a.setup.json").write_text(json.dumps(document), encoding="utf-8")
    shutil.copy(ROOT / "tests/examples/packs/tern-bay.rules.json", tmp_path / "club.rules.json")
    monkeypatch.chdir(tmp_path)
    shown = printed(capsys, "inspect", "--show-settings", "a.setup.json")
    assert re.search(r"^bands/thin-margin margin_us +40 +prebind\.toml:5$", shown, re.MULTILINE)
    assert not Inspector().inspect(json.dumps(document)).problems
