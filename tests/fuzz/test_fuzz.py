"""A bounded run of every target, what was found before, and that the checks themselves can fail.

`python -m tests.fuzz` runs for as long as one likes.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.fuzz import corpus, reports, targets
from tests.fuzz.__main__ import breach_of
from tests.fuzz.crowded import CROWDED
from tests.fuzz.mutation import Mutator
from tests.fuzz.reducing import reduced
from tests.fuzz.targets import TARGETS, Breach

from prebind import Inspector, Problem, Report
from prebind.document.parse import Unreadable
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[2]
FOUND = sorted((Path(__file__).parent / "found").iterdir())
SOUND = json.dumps(clean(), indent=1).encode()
EXAMPLES = {"reader": 30, "inspection": 40, "mend": 25, "since": 4, "settings": 8, "wishes": 6}
"""About a second each; 10 of the others."""


@pytest.mark.parametrize("name", TARGETS)
def test_whatever_the_bytes(name: str) -> None:
    """An exception, a place outside the file, a malformed report, or two seconds: each fails."""
    target = TARGETS[name]
    seeds, randoms = st.sampled_from(target.seeds()), st.integers(0, 2**32).map(Random)

    @settings(
        max_examples=EXAMPLES.get(name, 10), deadline=None, suppress_health_check=list(HealthCheck)
    )
    @given(st.builds(target.mutator().mutated, seeds, randoms))
    def run(data: bytes) -> None:
        target.run(data)

    run()


@pytest.mark.parametrize("name", TARGETS)
def test_hostile_bytes(name: str) -> None:
    for data in corpus.HOSTILE:
        TARGETS[name].run(data)


@pytest.mark.parametrize("file", FOUND, ids=lambda file: str(file.name))
def test_what_was_found_before(file: Path) -> None:
    """Its name begins with its target's."""
    TARGETS[file.name.partition("-")[0]].run(file.read_bytes())


@pytest.mark.parametrize("make", CROWDED, ids=lambda make: str(make.__name__))
def test_very_many_of_one_thing(make: Callable[[], Any]) -> None:
    """In every format, two seconds of the processor for each."""
    targets.document(json.dumps(make()).encode())


def test_every_number_at_its_extremes() -> None:
    broken = {name for name, data in corpus.extremes() if breach_of("inspection", data)}
    assert broken == set()


# --- the checks themselves --------------------------------------------------------------------


class Stub:
    """An inspector that answers with what it was given."""

    def __init__(self, report: Report) -> None:
        self._report = report
        self.formats = Inspector().formats

    def inspect(self, *_: Any, **__: Any) -> Report:
        return self._report


def broken(**more: Any) -> Report:
    return Report("a.setup.json", None, problems=(Problem("a.setup.json", "It is.", **more),))


@pytest.mark.parametrize(
    ("report", "kind"),
    [
        (broken(rule="a/b", line=1, column=1), "rule a/b"),
        (broken(line=2, column=1), "place outside the file"),
        (broken(line=1, column=4), "place outside the file"),
        (broken(), "no place"),
        (Report("a.setup.json", None), "neither a document nor a problem"),
        (Report("-", None, problems=(Problem("b", "It is.", 1, 1),)), "unknown file"),
        (Report("-", None, problems=(Problem("a.setup.json", "\x1b", 1, 1),)), "message"),
    ],
)
def test_what_an_inspection_may_not_answer(
    report: Report, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(targets, "inspector", lambda: Stub(report))
    with pytest.raises(Breach, match=kind):
        targets.inspection(b"{}")


def test_a_finding_must_stand_where_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    data = json.dumps({**clean(), "channels": clean()["channels"][:2]}, indent=1).encode()
    report = Inspector().inspect(data, path="a.setup.json")
    assert report.findings
    assert report.document is not None
    targets.inspection(data)
    place = report.document.locate("/format")
    monkeypatch.setattr(type(report.document), "locate", lambda *_, **__: place)
    with pytest.raises(Breach, match="is not what stands there"):
        targets.inspection(data)


def test_no_time_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(targets, "DOCUMENT_SECONDS", 0.0)
    with pytest.raises(Breach, match=r"slow inspection [a-z]+/"):
        targets.inspection(SOUND)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("json", '{"a": NaN}'),
        ("json", "{}"),
        ("json", "{"),
        ("sarif", '{"version": "2.1.0"}'),
        ("junit", "<testsuites><testsuite></testsuites>"),
        ("junit", "<testsuites/>\x00"),
        ("html", "<p>a<script>1</script></p>"),
        ("html", '<p onclick="1">a</p>'),
        ("html", '<a href="https://example.org/">a</a>'),
        ("html", "<p><b>a</p>"),
        ("html", "<p>a"),
        ("text", "a\x1b[2J"),
        ("text", "a\u202eb"),
        ("markdown", "a\x85b"),
    ],
)
def test_what_a_report_may_not_be(name: str, text: str) -> None:
    with pytest.raises((reports.Malformed, ValueError, SyntaxError)):
        reports.check(name, text)


def _refuse(_: bytes) -> Any:
    raise Unreadable("no")


@pytest.mark.parametrize(
    ("parse", "data", "kind"),
    [
        (lambda _: {}, b'{"a": 1, "a": 2}', "accepts"),
        (lambda _: {}, b"[NaN]", "accepts"),
        (lambda _: {}, b"1" * 41, "accepts"),
        (_refuse, b"{}", "refuses"),
        (lambda _: {"a": 1.0}, b'{"a": 1}', "another value"),
    ],
)
def test_what_the_reader_may_not_do(
    parse: Any, data: bytes, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    targets.reader(data)
    monkeypatch.setattr(targets, "parse", parse)
    with pytest.raises(Breach, match=kind):
        targets.reader(data)


def test_changed_documents_are_near_valid() -> None:
    """Some are still sound and some are not, or most of the code would never be reached."""
    mutator, inspector = Mutator(corpus.setups()), Inspector()
    changed = [mutator.mutated(corpus.setups()[n], Random(n)) for n in range(60)]
    sound = sum(inspector.inspect(data).document is not None for data in changed)
    assert 15 <= sound <= 50
    assert len({*changed} & {*corpus.setups()}) < 10
    assert changed[7] == mutator.mutated(corpus.setups()[7], Random(7))


def test_what_breaks_something_is_made_small() -> None:
    whole = {"a": [1, {"b": "long"}, 3], "c": {"d": [None] * 9}}
    small = reduced(json.dumps(whole).encode(), lambda data: b'"b"' in data)
    assert json.loads(small) == {"a": [{"b": 0}]}
    assert reduced(b"\xffabcdef\x00", lambda data: b"d" in data) == b"d"


def test_an_exception_is_named_by_its_place(monkeypatch: pytest.MonkeyPatch) -> None:
    def crash(_: bytes) -> None:
        raise ZeroDivisionError("invented")

    monkeypatch.setitem(TARGETS, "reader", TARGETS["reader"]._replace(run=crash))
    found = breach_of("reader", b"")
    assert found is not None
    assert found[0].startswith("ZeroDivisionError in test_fuzz.py")


PLANTED = """
import os, sys
from tests.fuzz import __main__ as fuzz
def run(data):
    if b"razorbill" in data.lower():
        os.kill(os.getpid(), 9)
    if b'"helicopter"' in data:
        raise KeyError("planted")
fuzz.TARGETS["reader"] = fuzz.TARGETS["reader"]._replace(run=run)
fuzz.main(["reader"])
"""


def test_a_long_run_outlives_what_kills_it(tmp_path: Path) -> None:
    told = subprocess.run(
        [sys.executable, "-c", PLANTED],
        cwd=ROOT,
        env={**os.environ, "PREBIND_FUZZ_MINUTES": "0.01", "PREBIND_FUZZ_FOUND": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert "ended by SIGKILL" in told
    assert b"razorbill" in next(tmp_path.glob("reader-ended-*.whole")).read_bytes().lower()
    small = next(tmp_path.glob("reader-*.input")).read_text(encoding="utf-8")
    assert json.loads(small) == {"model": {"airframe": "helicopter"}}
