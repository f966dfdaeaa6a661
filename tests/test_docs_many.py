"""docs/many.md shows what the commands really print, and what its snippets do."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from tests.shown import ROOT, Page, assert_prints

from prebind.cli.documents import FEW
from prebind.cli.processes import SECONDS

PAGE = Page("docs/many.md")
MACHINES = "On several machines"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder with the demo fleet."""
    monkeypatch.chdir(tmp_path)
    shutil.copytree(ROOT / "tests" / "examples" / "fleet", "fleet")


def test_on_one_machine(capsys: pytest.CaptureFixture[str]) -> None:
    assert_prints(capsys, PAGE.block("On one machine", ""))
    assert f"With {FEW} setups or more" in PAGE.text
    assert (SECONDS, "longer than a minute" in PAGE.text) == (60, True)


def test_on_several_machines(capsys: pytest.CaptureFixture[str]) -> None:
    assert_prints(capsys, PAGE.block(MACHINES, ""))
    parts = [Path(f"part-{number}.json").read_bytes() for number in (1, 2)]
    assert_prints(capsys, PAGE.block(MACHINES, "", 1))
    assert_prints(capsys, "$ prebind inspect fleet --report json=alone.json\n")
    assert Path("whole.json").read_bytes() == Path("alone.json").read_bytes()
    program = f'prebind() {{ "{sys.executable}" -m prebind "$@"; }}\n'
    for number in (1, 2):
        script = f"{program}PART={number}\n{PAGE.block(MACHINES, 'sh')}"
        subprocess.run(["bash", "-euc", script], check=True)
        assert Path(f"part-{number}.json").read_bytes() == parts[number - 1]


def test_from_a_program() -> None:
    names: dict[str, Any] = {"paths": sorted(Path("fleet").glob("*.setup.json"))}
    exec(PAGE.block("From a program, with Dask", "python"), names)
    assert names["grounded"] == []


def test_every_block_is_looked_at() -> None:
    assert PAGE.text.count("```") == 2 * 5


def test_links() -> None:
    links = [link for link in re.findall(r"\]\(([^)#]+)\)", PAGE.text) if "://" not in link]
    assert links == ["embedding.md"]
    assert all((ROOT / "docs" / link).exists() for link in links)
