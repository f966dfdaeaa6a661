"""The stopwatch and the table; no test looks at how long something took."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest
from tests.benchmarks.measure import Command, Ran, in_turn
from tests.benchmarks.table import Group, markdown

if TYPE_CHECKING:
    from pathlib import Path

MEBIBYTE = 1024 * 1024
SMALL = Command((sys.executable, "-I", "-S", "-c", "pass"))


def python(code: str, exits: int = 0) -> Command:
    return Command((sys.executable, "-I", "-S", "-c", code), exits)


def test_the_peak_is_that_of_the_command_and_not_of_who_started_it(tmp_path: Path) -> None:
    here = bytearray(b"x" * (200 * MEBIBYTE))
    large = python("x = b'x' * (100 * 1024 * 1024)")
    ran = in_turn({"small": SMALL, "large": large}, 1, tmp_path, "peaks")
    assert len(here) > 100 * MEBIBYTE > ran["small"][0].peak
    assert ran["large"][0].peak > 100 * MEBIBYTE


def test_the_peak_is_that_of_the_largest_process(tmp_path: Path) -> None:
    code = "x = b'x' * (100 * 1024 * 1024)"
    parent = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {code!r}])"
    ran = in_turn({"parent": Command((sys.executable, "-c", parent))}, 1, tmp_path, "peaks")
    assert 200 * MEBIBYTE > ran["parent"][0].peak > 100 * MEBIBYTE


def test_commands_take_turns_in_the_folder(tmp_path: Path) -> None:
    commands = {name: python(f"open('order', 'a').write('{name}')") for name in "ab"}
    ran = in_turn(commands, 3, tmp_path, "turns")
    assert (tmp_path / "order").read_text() == "ababab"
    assert {name: len(runs) for name, runs in ran.items()} == {"a": 3, "b": 3}


def test_a_command_that_ends_otherwise_than_it_must_is_no_measurement(tmp_path: Path) -> None:
    in_turn({"three": python("raise SystemExit(3)", 3)}, 1, tmp_path, "codes")
    with pytest.raises(RuntimeError, match="exit code 3 instead of 0"):
        in_turn({"three": python("raise SystemExit(3)")}, 1, tmp_path, "codes")


def test_a_crash_is_no_measurement_whatever_its_code(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError, match="ZeroDivisionError"):
        in_turn({"crash": python("1 / 0", 1)}, 1, tmp_path, "crashes")


def test_bytecode_may_be_written_whatever_is_set_here(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    code = "import sys; raise SystemExit(7 if sys.dont_write_bytecode else 0)"
    in_turn({"asks": Command((sys.executable, "-c", code))}, 1, tmp_path, "bytecode")


def test_the_table_compares_medians_within_a_group() -> None:
    taken = {"floor": [0.03, 0.01, 0.02], "check": [0.2, 0.3, 0.1], "ours": [0.05]}
    ran = {
        name: [Ran(seconds, seconds / 2, MEBIBYTE + round(seconds * MEBIBYTE)) for seconds in its]
        for name, its in taken.items()
    }
    many = Group("many", ran, documents=100)
    alone = Group("alone", {"ours": [Ran(1e-5, 2e-6), Ran(3e-5, 4e-6)]}, compared=False)
    assert markdown([many, alone]).splitlines()[2:] == [
        "| many | floor | 20 ms | 10 ms | 1 | 0.1 | 10 ms | 5,000 | 1.0 | 3 |",
        "| many | check | 200 ms | 100 ms | 10 | 1 | 100 ms | 500 | 1.3 | 3 |",
        "| many | ours | 50 ms | 50 ms | 2.5 | 0.25 | 25 ms | 2,000 | 1.1 | 1 |",
        "| alone | ours | 20 µs | 10 µs |  |  | 3 µs |  |  | 2 |",
    ]
