"""An import budget: imports are most of what a short run takes.

A count does not hang on how busy the machine is.  It does on the standard library, which imports
more or fewer of its own modules in each Python.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

SIGNED = Path(__file__).parents[1] / "examples" / "fleet" / "redshank.setup.json"
INSPECT = 283
RULEBOOK = 221
"""The most modules that a command may import beyond those of `python -c pass`."""

COSTLY = (
    "asyncio",
    "cattrs",
    "concurrent.futures",
    "dataclasses",
    "difflib",
    "html",
    "importlib.metadata",
    "inspect",
    "jinja2",
    "jsonpatch",
    "jsonschema",
    "logging",
    "multiprocessing",
    "ortools",
    "pluggy",
    "rapidfuzz",
    "referencing",
    "rich",
    "shutil",
    "subprocess",
    "tempfile",
    "tomllib",
    "traceback",
    "xml",
)
"""Each takes longer than a document does, and no clean document needs it."""


def imported(*command: str) -> set[str]:
    code = (
        "import sys; from prebind.cli import main; code = main(sys.argv[1:]); "
        "sys.stderr.write(' '.join(sys.modules)); sys.exit(code)"
    )
    return _modules(code, *command) - _modules(
        "import sys; sys.stderr.write(' '.join(sys.modules))"
    )


def _modules(code: str, *given: str) -> set[str]:
    ran = subprocess.run(
        [sys.executable, "-I", "-c", code, *given], capture_output=True, text=True, check=True
    )
    return set(ran.stderr.split())


COMMANDS = {"inspect": (("inspect", str(SIGNED)), INSPECT), "rulebook": (("rulebook",), RULEBOOK)}


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_keeps_to_its_budget_and_imports_nothing_costly(name: str) -> None:
    command, most = COMMANDS[name]
    found = imported(*command)
    assert found.isdisjoint(COSTLY), sorted(found.intersection(COSTLY))
    if sys.version_info[:2] == (3, 11):
        assert len(found) <= most, f"{len(found)} modules: {sorted(found)}"


def test_the_rulebook_reads_no_document() -> None:
    assert imported("rulebook").isdisjoint({"jiter", "jsonschema_rs"})
