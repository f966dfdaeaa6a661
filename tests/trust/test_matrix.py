"""Mistakes on models: what is kept still holds, no false alarm, and no mistake hides another.

A seeded part of the matrix runs here; `python -m tests.trust.matrix` runs all of it.  Of pairs of
mistakes 180 run; PREBIND_PAIRS=2000 in the environment makes it thousands.
"""

from __future__ import annotations

import os
from random import Random

import pytest
from tests.trust import models
from tests.trust.laying import FAULTS
from tests.trust.matrix import (
    BROKEN,
    KEPT,
    MISNAMED,
    MISSED,
    cell,
    clean_fails,
    inspected,
    kept,
    told,
)
from tests.trust.pairs import hidden

from prebind import Inspector

NAMES = models.names()
CELLS = Random("cells").sample([(f, m) for f in FAULTS for m in NAMES], 200)
ONCE_HIDDEN = [("dunlin", "one aileron with half the travel", "surface of a servo renamed")]
PAIRS = ONCE_HIDDEN + Random("pairs").sample(
    [(m, a, b) for m in NAMES for a in FAULTS for b in FAULTS if a != b],
    int(os.environ.get("PREBIND_PAIRS", "180")),
)


def test_the_catalogue_is_wide() -> None:
    assert len(FAULTS) >= 100
    assert len({fault.family for fault in FAULTS.values()}) == 12
    rows = kept()
    assert [name for name, row in rows.items() if set(row) == {"."}] == []  # each fits some model


def test_every_rule_that_a_mistake_names_exists() -> None:
    named = {r for f in FAULTS.values() for rule in f.rules for r in rule.split("|")}
    quiet = {rule for fault in FAULTS.values() for rule in fault.quiet}
    assert named | quiet <= Inspector().rules.keys()


def test_the_kept_matrix_is_whole_and_written_by_the_command() -> None:
    rows = kept()
    assert list(rows) == list(FAULTS)
    assert {len(row) for row in rows.values()} == {len(NAMES)}
    assert KEPT.read_text(encoding="utf-8") == told(rows, NAMES)


def test_recall() -> None:
    """Every mistake is found wherever it can be made, but for what is written above."""
    lost = {name for name, row in kept().items() if set(row) & {MISSED, MISNAMED, BROKEN}}
    assert lost == set()


def test_a_part_of_the_matrix_is_as_it_is_kept() -> None:
    rows = kept()
    now = {(f, m): cell(FAULTS[f], m) for f, m in CELLS}
    then = {(f, m): rows[f][NAMES.index(m)] for f, m in CELLS}
    assert now == then, "python -m tests.trust.matrix tells what is gained and lost"


@pytest.mark.parametrize("model", NAMES)
def test_no_false_alarm_on_a_clean_model(model: str) -> None:
    assert clean_fails(model) == set()


@pytest.mark.parametrize("airframe", models.AIRFRAMES)
def test_no_false_alarm_on_more_of_them(airframe: str) -> None:
    for seed in range(100, 120):
        report = inspected(models.made(airframe, seed))
        assert not report.problems
        fails = [(f.rule, f.at, f.message) for f in report.findings if f.kind == "fail"]
        assert fails == [], f"seed {seed}"


def test_a_second_mistake_never_hides_the_first() -> None:
    found = {
        (model, one, other): rules
        for model, one, other in PAIRS
        if (rules := hidden(models.model(model), FAULTS[one], FAULTS[other]))
    }
    assert found == {}
