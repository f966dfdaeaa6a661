"""The club's notice board: one line a model."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from prebind.format import Format
from prebind.rule import WORDS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from prebind import Problem, Report
    from prebind.format import Run, Sheet


class Board:
    def __init__(self, sheet: Sheet, run: Run) -> None:
        self._out = sheet.out
        self._run = run

    def document(self, report: Report) -> None:
        name = report.setup.model.name if report.setup else report.path_name
        self._out.write(f"{_printable(name)}: {self._state(report)}\n")

    def end(self, problems: Sequence[Problem]) -> None:
        if problems:
            self._out.write(f"Incomplete; problems, which another report names: {len(problems)}.\n")
        self._out.write("A person decides, at the model. The flight line's word comes first.\n")

    def _state(self, report: Report) -> str:
        if report.document is None:
            return "cannot be read"
        words = Counter(
            found.word if found.kind == "fail" else "not checked"
            for found in report.grounding(self._run.ground_at, self._run.complete)
        )
        if not words:
            return f"nothing found that grounds; to be checked by hand: {report.outcomes['open']}"
        counted = [f"{words[word]} × {word}" for word in (*WORDS, "not checked") if words[word]]
        return f"grounded: {', '.join(counted)}"


def _printable(text: str) -> str:
    """What a document says may hold anything; a terminal obeys control characters."""
    return "".join(char if char.isprintable() else "?" for char in text)


BOARD = Format("tern-bay-board", Board)
