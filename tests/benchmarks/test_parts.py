"""What each part takes over an ordinary document and a heavy one.

    python -m pytest -n0 --benchmark-enable tests/benchmarks/test_parts.py

measures; otherwise each part runs once and its result is looked at, never its time.
"""

from __future__ import annotations

import json
from io import StringIO
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

import pytest
from tests.benchmarks.generate import ordinary
from tests.benchmarks.heavy import heavy

from prebind import Configuration, Document, Inspector, Path, read
from prebind.document.parse import parse_object
from prebind.document.schema import check
from prebind.document.structure import structure
from prebind.format import Run, Sheet

if TYPE_CHECKING:
    from pytest_benchmark.fixture import BenchmarkFixture

    from prebind.inspect.finding import Report

INSPECTOR = Inspector()
DOCUMENTS = {"ordinary": ordinary(), "heavy": heavy()}
FAULTY = FilePath(__file__).parents[1] / "examples" / "faulty" / "guillemot-faulty.setup.json"
ROUNDS = 50  # of what is made anew for each


@pytest.fixture(params=DOCUMENTS)
def data(request: pytest.FixtureRequest) -> bytes:
    return DOCUMENTS[request.param]


def document(data: bytes) -> Document:
    found = read(data)
    assert isinstance(found, Document)
    return found


def faulty() -> Report:
    return INSPECTOR.inspect_file(FAULTY)


def test_reading(benchmark: BenchmarkFixture, data: bytes) -> None:
    assert benchmark(parse_object, data, len(data)) == json.loads(data)


def test_schema(benchmark: BenchmarkFixture, data: bytes) -> None:
    assert benchmark(check, json.loads(data)) == []


def test_structuring(benchmark: BenchmarkFixture, data: bytes) -> None:
    told = json.loads(data)
    setup = benchmark(structure, told)
    assert [it.channel for it in setup.channels] == [it["channel"] for it in told["channels"]]


def test_path(benchmark: BenchmarkFixture, data: bytes) -> None:
    setup = document(data).setup
    trace = benchmark(lambda: Path(setup).trace)
    assert all(channel["low"] and channel["high"] for channel in trace["channels"])
    assert "not_checked" not in json.dumps(trace)


@pytest.mark.parametrize("family", sorted(INSPECTOR.families))
def test_family(benchmark: BenchmarkFixture, data: bytes, family: str) -> None:
    """With reading, which is little beside it, and the facts of the path that its rules ask for."""
    inspector = INSPECTOR.configured(Configuration(families=(family,)))
    report = benchmark(inspector.inspect, data)
    assert not report.problems
    assert sum(report.outcomes.values()) >= len(report.seconds) > 0


@pytest.mark.parametrize("name", sorted(INSPECTOR.formats))
def test_report(benchmark: BenchmarkFixture, name: str) -> None:
    """Of a document with findings, with the lines and columns that the format tells."""

    def made() -> tuple[tuple[StringIO, Report], dict[str, object]]:
        return (StringIO(), faulty()), {}

    def told(out: StringIO, report: Report) -> str:
        writer = INSPECTOR.formats[name].begin(Sheet(out), Run(INSPECTOR))
        writer.document(report)
        writer.end(())
        return out.getvalue()

    text = benchmark.pedantic(told, setup=made, rounds=ROUNDS)
    assert all(finding.rule in text for finding in faulty().findings if finding.kind == "fail")


def test_positions(benchmark: BenchmarkFixture, data: bytes) -> None:
    """The first look-ups in a text: one for each channel, from the last."""
    entries = json.loads(data)["channels"]
    pointers = [f"/channels/{index}/function" for index in reversed(range(len(entries)))]

    def made() -> tuple[tuple[Document], dict[str, object]]:
        return (document(data),), {}

    def found(document: Document) -> list[tuple[int | None, int | None]]:
        places = map(document.locate, pointers)
        return [(place.line, place.column) for place in places]

    lines = data.decode().splitlines()
    places = benchmark.pedantic(found, setup=made, rounds=ROUNDS)
    read_there = [lines[line - 1][column - 1 :] for line, column in places]
    wanted = [json.dumps(entry["function"]) for entry in reversed(entries)]
    assert all(map(str.startswith, read_there, wanted))
