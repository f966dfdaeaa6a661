"""docs/trust.md names tests that exist, and the matrix's figures as they are kept."""

from __future__ import annotations

import re
from importlib.util import find_spec

import pytest
from tests.shown import ROOT
from tests.trust.matrix import KEPT

PAGE = (ROOT / "docs" / "trust.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"`((?:[A-Z_]+=\d+ )?(?:pytest|python -m) [^`]*)`", PAGE)


def test_the_matrix_has_these_figures() -> None:
    (summary,) = KEPT.read_text(encoding="utf-8").splitlines()[-1:]
    mistakes, models, found = re.match(
        r"(\d+) mistakes on (\d+) models: ([\d,]+) found", summary
    ).groups()  # type: ignore[union-attr]
    assert f"{mistakes} realistic mistakes on {models} models" in PAGE
    assert f"{found} found" in PAGE
    assert "0 missed" in summary
    assert "0 false alarms" in summary


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_names_what_there_is(command: str) -> None:
    module = re.search(r"python -m (\S+)", command)
    if module is not None:
        assert find_spec(module[1]) is not None
    for path in re.findall(r"tests/\S+", command):
        assert (ROOT / path).exists(), path


def test_there_are_commands() -> None:
    assert len(COMMANDS) >= 10
