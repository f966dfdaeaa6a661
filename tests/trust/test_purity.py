"""Same input, same report: whatever the process, locale, time zone, hash seed, order or form.

Bytes, text, mapping and threads: tests/inspect/test_inspector.py.  Order of rules, other processes
and hash seeds on the rules' own examples: the conformance tests in tests/rules/test_examples.py.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

import pytest
from tests.trust import models

from prebind import Configuration, Inspector

if TYPE_CHECKING:
    from prebind import Report

EXAMPLES = Path(__file__).parents[1] / "examples"
CORPUS = sorted(p.relative_to(EXAMPLES).as_posix() for p in EXAMPLES.rglob("*.setup.json"))
INSPECTOR = Inspector(Configuration(today="2026-06-01"))


def told(report: Report) -> list[object]:
    """All that a report says, as plain values."""
    findings = [
        (f.rule, f.kind, f.word, f.at, f.message, dict(f.evidence), f.remedy, f.fingerprint)
        + ((f.because.rule, f.because.at) if f.because else ())
        + ((f.fix.applies, *f.fix.patch) if f.fix else ())
        for f in report.findings
    ]
    problems = [(p.path, p.message, p.line, p.column) for p in report.problems]
    return [findings, problems, dict(report.outcomes), report.not_applicable]


def of(name: str) -> list[object]:
    file = EXAMPLES / name
    return told(INSPECTOR.inspect(file.read_bytes(), path=file.as_posix(), root=file.parent))


def test_in_any_order_of_documents() -> None:
    first = {name: of(name) for name in CORPUS}
    shuffled = Random("order").sample(CORPUS, len(CORPUS))
    assert {name: of(name) for name in shuffled} == first


@pytest.mark.parametrize("name", models.names())
def test_whatever_the_order_of_keys(name: str) -> None:
    """An object has no order: the same things are found at the same places."""
    report = INSPECTOR.inspect(models.model(name))
    turned = INSPECTOR.inspect(dict(reversed(models.model(name).items())))
    said = [{(f.rule, f.at, f.kind, f.message) for f in r.findings} for r in (report, turned)]
    assert said[0] == said[1]


def test_from_a_file_as_from_bytes() -> None:
    for name in CORPUS:
        assert told(INSPECTOR.inspect_file(EXAMPLES / name)) == of(name)


SURROUNDINGS: list[dict[str, str]] = [
    {"PYTHONHASHSEED": "1", "TZ": "UTC", "LC_ALL": "C"},
    {"PYTHONHASHSEED": "77", "TZ": "Pacific/Kiritimati", "LC_ALL": "C.UTF-8"},
    {"PYTHONHASHSEED": "4242", "TZ": "Etc/GMT+12", "LC_ALL": "tr_TR.UTF-8", "PYTHONUTF8": "0"},
]


@pytest.mark.parametrize("form", ["json", "text", "sarif"])
def test_in_any_process_locale_time_zone_and_hash_seed(form: str) -> None:
    """Byte for byte, but for the day, which is that of the time zone."""
    command = [sys.executable, "-m", "prebind", "inspect", "--report", form, "fleet", "faulty"]
    env = os.environ | {"COLUMNS": "100", "PYTHONIOENCODING": "utf-8"}
    ran = [
        subprocess.run(command, cwd=EXAMPLES, env=env | one, capture_output=True, check=False)
        for one in SURROUNDINGS
    ]
    assert {r.returncode for r in ran} == {1}
    assert len({re.sub(rb'"today": "[-0-9]+"', b"", r.stdout) for r in ran}) == 1
