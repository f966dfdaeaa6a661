"""The hook for commits: run as the framework runs it, on a repository made for it.

The framework is not installed for this: it takes `entry`, splits it as a shell does, adds the
staged files whose paths `files` matches, and runs that at the top of the repository.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from prebind.testing import clean

HOOKS = Path(__file__).parent.parent / ".pre-commit-hooks.yaml"


def hook() -> dict[str, str]:
    """The one hook; plain `key: value` lines, so that no YAML reader is needed."""
    text = HOOKS.read_text(encoding="utf-8")
    assert text.count("- id:") == 1
    return dict(re.findall(r"^(?:- |  )(\w+): (.+)$", text, re.MULTILINE))


def git(folder: Path, *arguments: str) -> str:
    command = ["git", "-C", str(folder), *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def commits(folder: Path) -> subprocess.CompletedProcess[str]:
    """What the hook says of what is staged; the framework refuses a commit unless it gives 0."""
    staged = git(folder, "diff", "--staged", "--name-only", "-z", "--diff-filter=ACMRTUXB")
    files = [name for name in staged.split("\0") if re.search(hook()["files"], name)]
    assert files
    environment = dict(os.environ)
    environment["PATH"] = f"{Path(sys.executable).parent}{os.pathsep}{environment['PATH']}"
    program, *rest = shlex.split(hook()["entry"])
    found = shutil.which(program, path=environment["PATH"])
    assert found
    return subprocess.run(
        [found, *rest, *files], cwd=folder, env=environment, capture_output=True, text=True
    )


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    git(tmp_path, "init", "-q")
    (tmp_path / "models").mkdir()
    (tmp_path / "notes.json").write_text("no setup", encoding="utf-8")
    return tmp_path


def stage(folder: Path, name: str, document: object) -> None:
    (folder / name).write_text(json.dumps(document, indent=2), encoding="utf-8")
    git(folder, "add", "-A")


def test_the_record() -> None:
    record = hook()
    assert (record["id"], record["language"]) == ("prebind-inspect", "python")
    assert re.search(record["files"], "models/dunlin.setup.json")
    assert not re.search(record["files"], "models/dunlin.setup.json.bak")
    assert not re.search(record["files"], "radio.json")


def test_a_clean_setup_goes_in_and_a_faulty_one_does_not(repository: Path) -> None:
    stage(repository, "models/knot one.setup.json", clean())
    ran = commits(repository)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "1 document inspected." in ran.stdout
    stage(repository, "models/tern.setup.json", clean() | {"overrides": []})
    ran = commits(repository)
    assert ran.returncode == 1
    assert re.search(
        r"^models/tern\.setup\.json:\d+:\d+: danger: throttle/no-cut: ", ran.stdout, re.MULTILINE
    )
    assert "2 documents inspected." in ran.stdout
    (repository / "models/tern.setup.json").write_text("{", encoding="utf-8")
    assert commits(repository).returncode == 2
