"""The demo fleet: no fault in the clean models, in the faulty ones those written beside them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from prebind import Inspector

EXAMPLES = Path(__file__).parent / "examples"
CLEAN = sorted((EXAMPLES / "fleet").glob("*.setup.json"))
FAULTY = sorted((EXAMPLES / "faulty").glob("*.setup.json"))
INSPECTOR = Inspector()


def named(path: Path) -> str:
    return path.name.removesuffix(".setup.json")


@pytest.mark.parametrize("file", CLEAN, ids=named)
def test_clean(file: Path) -> None:
    report = INSPECTOR.inspect_file(file)
    assert not report.problems
    assert [f"{f.rule} {f.at} {f.message}" for f in report.findings if f.kind == "fail"] == []


@pytest.mark.parametrize("file", FAULTY, ids=named)
def test_faulty(file: Path) -> None:
    """Every expected finding is there, and no other: a false alarm is a fault of its own."""
    noted = json.loads(file.with_name(f"{named(file)}.faults.json").read_text(encoding="utf-8"))
    report = INSPECTOR.inspect_file(file)
    assert not report.problems
    found = {(f.rule, f.at, f.word) for f in report.findings if f.kind == "fail"}
    expected = {
        (fault["rule"], fault["at"], fault["word"])
        for fault in noted["expected"]
        if fault["rule"] in INSPECTOR.rules
    }
    assert found == expected
    for fault in noted["expected"]:
        if "file" in fault:
            finding = next(f for f in report.findings if f.rule == fault["rule"])
            place = report.place(finding)
            assert place is not None
            assert place.file.endswith(fault["file"])


def test_the_fleet_is_what_it_should_be() -> None:
    documents = [json.loads(file.read_text(encoding="utf-8")) for file in CLEAN]
    assert len(documents) >= 8
    assert {named(file) + "-faulty" for file in CLEAN} <= {named(file) for file in FAULTY}
    shared = [d for d in documents if "from" in d["transmitter"]]
    assert len(shared) >= 3
    assert all("nvented" in document["x-note"] for document in documents)


@pytest.mark.parametrize("name", ["sanderling", "turnstone"])
def test_directions_of_swashplate_and_motors_are_open_with_a_step_by_hand(name: str) -> None:
    report = INSPECTOR.inspect_file(EXAMPLES / "fleet" / f"{name}.setup.json")
    rules = {"reversal/command-backwards", "reversal/correction-backwards"}
    found = [f for f in report.findings if f.rule in rules]
    assert {f.rule for f in found} == rules
    assert all(f.kind == "open" and f.bench for f in found)
