"""Environments to measure in: made for the purpose, with bytecode and with nothing else."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks.measure import environment

CHECKOUT = Path(__file__).parents[2]


class Environment(NamedTuple):
    """A virtual environment of the Python that runs this."""

    folder: Path

    def program(self, name: str) -> str:
        return str(self.folder / "bin" / name)


def install(folder: Path, what: str) -> Environment:
    """A new environment with one distribution, by its name or its folder; pip builds the wheel."""
    _run(sys.executable, "-m", "venv", str(folder))
    made = Environment(folder)
    _run(made.program("python"), "-m", "pip", "install", "-qq", "--compile", what)
    return made


def _run(*command: str) -> None:
    quiet = {"PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    subprocess.run(command, env=environment() | quiet, check=True, stdout=sys.stderr)
