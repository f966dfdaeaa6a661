"""The survivors that are kept: mutants that no test can notice, each with the reason."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

KEPT = Path(__file__).with_name("survivors.txt")


class Survivor(NamedTuple):
    """A line of the file, its parts with tabs between; `function` is `-` at the top of a module."""

    file: str
    function: str
    was: str
    now: str
    why: str


def kept() -> list[Survivor]:
    lines = KEPT.read_text(encoding="utf-8").splitlines()
    return [Survivor(*line.split("\t")) for line in lines]
