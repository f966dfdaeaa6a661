"""What a page of documentation shows, taken out of it to be run and compared."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from prebind.cli import main

if TYPE_CHECKING:
    import pytest

ROOT = Path(__file__).parent.parent
_BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Page:
    """A page in Markdown; `name` is its path from the repository's top."""

    def __init__(self, name: str) -> None:
        self.text = (ROOT / name).read_text(encoding="utf-8")

    def block(self, heading: str, language: str, nth: int = 0) -> str:
        """A code block below a heading."""
        section = self.text.split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]
        return [text for of, text in _BLOCK.findall(section) if of == language][nth]


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """What a command prints to its output, whatever its exit code."""
    main(arguments)
    return capsys.readouterr().out


def assert_prints(capsys: pytest.CaptureFixture[str], session: str) -> None:
    """Each `$ prebind …` of a session prints what is shown below it; `...` leaves lines out."""
    _, *runs = session.split("$ prebind ")
    assert runs
    for run in runs:
        command, _, shown = run.partition("\n")
        there = printed(capsys, *command.split())
        parts = map(re.escape, shown.split("...\n"))
        assert re.fullmatch("(?:.*\n)*?".join(parts), there), f"{command} prints:\n{there}"
