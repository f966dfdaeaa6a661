from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from tests.made_pack import with_rules

from prebind.cli import main
from prebind.rule import PASS, Answer, Rule, rule
from prebind.testing import clean


class Ran(NamedTuple):
    code: int
    out: str
    err: str


Run = Callable[..., Ran]
Write = Callable[..., Path]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command in this process: its exit code, and what it wrote."""

    def running(*arguments: str | Path) -> Ran:
        code = main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Ran(code, captured.out, captured.err)

    return running


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty working folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    return tmp_path


@pytest.fixture
def write(folder: Path) -> Write:
    """Writes a clean setup, changed by a function, into the working folder."""

    def writing(
        name: str, change: Callable[[dict[str, Any]], object] | None = None, start: str = "plain"
    ) -> Path:
        document = clean(start)
        if change is not None:
            change(document)
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(json.dumps(document, indent=2), encoding="utf-8")
        return file

    return writing


def _crashing() -> Rule:
    @rule(
        "bands/breaks",
        word="warning",
        title="A rule that breaks",
        each="channels",
        safety="",
        remedy="",
        bench="",
        source="",
        examples=list,
    )
    def breaks(channel: Any, *_: object) -> Answer:
        if channel.number == 3:
            raise ZeroDivisionError("three")
        return PASS

    return breaks


@pytest.fixture
def crashing_rule(monkeypatch: pytest.MonkeyPatch) -> str:
    """One more pack, with a rule that crashes; its id."""
    with_rules(monkeypatch, _crashing())
    return "bands/breaks"
