"""That the heavy document is what it is said to be, and sound."""

from __future__ import annotations

import json

import jsonschema
import pytest
from tests.benchmarks.generate import ordinary
from tests.benchmarks.heavy import heavy

from prebind import Inspector, trace
from prebind_schemas import schema_text

INSPECTOR = Inspector()
SCHEMA = jsonschema.Draft202012Validator(json.loads(schema_text("setup")))
SEEDS = range(1, 6)


@pytest.mark.parametrize("seed", SEEDS)
def test_it_has_twenty_switches_thirty_mixes_and_curves(seed: int) -> None:
    setup = json.loads(heavy(seed))
    SCHEMA.validate(setup)
    controls = setup["transmitter"]["controls"]
    switches = {name for name, control in controls.items() if control["kind"] == "switch"}
    assert len(switches) == 20
    assert len(setup["mixes"]) == 30
    assert len({mix["name"] for mix in setup["mixes"]}) == 30
    curves = [
        it for entry in (*setup["channels"], *setup["inputs"]) for it in entry.get("curves", ())
    ]
    assert len(curves) >= 5


@pytest.mark.parametrize("seed", SEEDS)
def test_every_control_does_something(seed: int) -> None:
    """A switch on which nothing hangs would cost nothing."""
    report = INSPECTOR.inspect(heavy(seed))
    assert report.setup is not None
    idle = {name for name, control in trace(report.setup).controls.items() if not control.jobs}
    assert idle == set()


@pytest.mark.parametrize("seed", SEEDS)
def test_no_rule_fails_in_it_and_all_is_computed(seed: int) -> None:
    report = INSPECTOR.inspect(heavy(seed))
    assert not report.problems
    assert {(it.kind, it.rule) for it in report.findings} == {("open", "sign-offs/missing")}


def test_the_seed_alone_decides() -> None:
    assert heavy(3) == heavy(3)
    assert len({heavy(seed) for seed in SEEDS}) == len(SEEDS)


def test_the_ordinary_document_is_clean_and_stands_alone() -> None:
    data = ordinary()
    assert 7_500 < len(data) < 8_500
    report = INSPECTOR.inspect(data)
    assert report.document is not None
    assert len(report.document.sources) == 1
    assert [it.rule for it in report.findings if it.kind != "open"] == []
    assert report.outcomes["pass"] > 100
