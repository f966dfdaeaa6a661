"""The program as a whole: help, mistakes, and true processes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import prebind
from prebind.cli import COMMANDS, progress
from prebind.cli.progress import Progress

if TYPE_CHECKING:
    from tests.cli.conftest import Run, Write

EXAMPLES = Path(__file__).parents[1] / "examples"


def test_help_names_every_command(run: Run) -> None:
    ran = run("--help")
    assert ran.code == 0
    for name, about in COMMANDS.items():
        assert f"{name} " in ran.out
        assert about in ran.out


@pytest.mark.parametrize("command", COMMANDS)
def test_help_has_examples(run: Run, command: str) -> None:
    ran = run(command, "--help")
    assert ran.code == 0
    assert f"examples:\n  prebind {command}" in ran.out


def test_version(run: Run) -> None:
    assert run("--version").out == f"prebind {prebind.__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "prebind: name a command"),
        (["inspct"], "“inspct” is no command; did you mean “inspect”?"),
        (["--plain"], "prebind: name a command"),
    ],
)
def test_no_command(run: Run, arguments: list[str], says: str) -> None:
    ran = run(*arguments)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err


def process(*arguments: str, **settings: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "prebind", *arguments],
        capture_output=True,
        env={**os.environ, **settings},
        check=False,
    )


def test_a_process_exits_as_it_should() -> None:
    ran = process("inspect", str(EXAMPLES / "faulty" / "dunlin-faulty.setup.json"))
    assert ran.returncode == 1
    assert b"throttle/releases-live" in ran.stdout
    assert ran.stderr == b""


def test_a_terminal_without_our_signs() -> None:
    """What the output's encoding lacks is spelt out instead of ending the run."""
    ran = process("trace", str(EXAMPLES / "fleet" / "dunlin.setup.json"), PYTHONIOENCODING="ascii")
    assert ran.returncode == 0
    assert b"1900.1 \\xb5s" in ran.stdout


def test_whoever_reads_along_may_leave() -> None:
    reading = subprocess.Popen(
        [sys.executable, "-m", "prebind", "inspect", str(EXAMPLES)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert reading.stdout is not None
    assert reading.stderr is not None
    reading.stdout.close()
    told = reading.stderr.read()
    reading.stderr.close()
    assert reading.wait() == 2
    assert told == b""


def test_our_own_crash(run: Run, write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    """Exit 2 and one line; where it happened only when asked."""

    def breaks(*_: object) -> None:
        raise LookupError("a\x1b[31mfault")

    monkeypatch.setattr(prebind.Inspector, "inspect_file", breaks)
    file = write("plover.setup.json")
    ran = run("inspect", file)
    assert ran.code == 2
    assert "prebind crashed, which is a fault in it: LookupError: a\\u001b[31mfault" in ran.err
    assert "Traceback" not in ran.err
    assert "Traceback (most recent call last)" in run("inspect", file, "--traceback").err


def test_progress_shows_on_long_runs_alone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    now = [0.0]
    monkeypatch.setattr(progress, "monotonic", lambda: now[0])
    shown = Progress(wanted=True)
    shown.step()
    assert capsys.readouterr().err == ""
    now[0] = 1.5
    for _ in range(1233):
        shown.step()
    assert capsys.readouterr().err == "\r2 documents inspected"
    now[0] = 2.0
    shown.step()
    assert capsys.readouterr().err == "\r1,235 documents inspected"
    shown.end()
    assert capsys.readouterr().err == f"\r{' ' * 25}\r"


def test_progress_is_silent_where_it_is_not_wanted(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(progress, "_PATIENCE_S", 0.0)
    quiet = Progress(wanted=False)
    quiet.step()
    quiet.end()
    assert capsys.readouterr().err == ""


def test_no_document_is_changed(run: Run, write: Write, folder: Path) -> None:
    file = write("plover.setup.json", lambda d: d["overrides"].clear())
    before = (file.read_bytes(), file.stat().st_mtime_ns)
    for arguments in (["inspect"], ["inspect", "--report", "json"], ["trace", file]):
        run(*arguments)
    assert (file.read_bytes(), file.stat().st_mtime_ns) == before
    assert [entry.name for entry in folder.iterdir()] == ["plover.setup.json"]


def test_json_is_the_same_from_any_run(run: Run) -> None:
    one = run("inspect", EXAMPLES / "faulty", "--report", "json").out
    assert one == run("inspect", EXAMPLES / "faulty", "--report", "json").out
    assert json.loads(one)["documents"]
