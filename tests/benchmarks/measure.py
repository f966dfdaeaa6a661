"""Measures commands against each other: in turn, again and again, so that all meet the same noise.

What counts is the median; what else the machine does meanwhile lengthens some runs, and shortens
none.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping

STOPWATCH = Path(__file__).with_name("stopwatch.py")


class Command(NamedTuple):
    """A command with its absolute path first, and the exit code that it must end with."""

    words: tuple[str, ...]
    code: int = 0


class Ran(NamedTuple):
    """What one run took: seconds, and those of them, or of several cores, that it was computing.

    `peak` is the memory of its largest process, in bytes.
    """

    seconds: float
    processor: float
    peak: int | None = None


def in_turn(
    commands: Mapping[str, Command], rounds: int, folder: Path, what: str
) -> dict[str, list[Ran]]:
    """Every command once a round, in a folder.  `what` is told while it runs."""
    found: dict[str, list[Ran]] = {name: [] for name in commands}
    for number in range(rounds):
        for name, command in commands.items():
            told(f"{what}: {name}, {number + 1} of {rounds}")
            found[name].append(_run(command, folder))
    return found


def told(what: str) -> None:
    print(what, file=sys.stderr, flush=True)


def environment() -> dict[str, str]:
    """This one without what changes how Python runs: bytecode must be written, and used."""
    return {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}


def _run(command: Command, folder: Path) -> Ran:
    ran = subprocess.run(
        [sys.executable, "-I", "-S", str(STOPWATCH), *command.words],
        cwd=folder,
        env=environment() | {"XDG_CACHE_HOME": str(folder / "cache")},
        capture_output=True,
        check=True,
    )
    if b"Traceback" in ran.stderr:  # a code of 1 may be a finding, or a crash half way
        raise RuntimeError(f"crashed: {' '.join(command.words)}\n{ran.stderr.decode()}")
    code, seconds, processor, peak = ran.stdout.split()
    if int(code) != command.code:
        said = " ".join(command.words)
        raise RuntimeError(f"exit code {int(code)} instead of {command.code}: {said}")
    return Ran(float(seconds), float(processor), int(peak))
