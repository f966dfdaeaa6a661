"""Every example of every built-in rule, what each record must say, and what every pack promises."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import prebind_rules
from prebind import Inspector
from prebind.rule import Fails, Passes, Rule
from prebind.testing import clean, conformance_tests, example_tests
from prebind_schemas import templates

RULES = sorted(prebind_rules.prebind_rules(), key=lambda rule: rule.id)

test_examples = example_tests(prebind_rules)
test_conformance = conformance_tests(prebind_rules)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_record(rule: Rule) -> None:
    """The built-in rules say more than any pack must."""
    examples = list(rule.examples())
    fails = [example for example in examples if isinstance(example, Fails)]
    assert all(example.says for example in fails)
    assert sum(isinstance(example, Passes) for example in examples) >= 2
    assert len(fails) >= 2 or not fails  # some never fail, and only remind
    assert len(rule.why) > 80
    for example in fails if rule.settings else ():
        assert any(re.search(r"\d", text) for text in example.says)


def test_a_rule_is_a_file_named_as_its_id() -> None:
    home = Path(prebind_rules.__file__).parent
    paths = (f"{file.parent.name}/{file.stem}" for file in home.glob("*/[!_]*.py"))
    files = {path.replace("_", "-") for path in paths}
    assert files == {rule.id for rule in RULES}


def test_every_rule_of_the_rulebook_is_there() -> None:
    """The ids of the families, written down from the rulebook's tables."""
    written = (Path(__file__).parent / "rulebook_ids.txt").read_text(encoding="utf-8").split()
    assert {rule.id for rule in RULES} == set(written)


@pytest.mark.parametrize("name", templates())
def test_templates_are_clean(name: str) -> None:
    report = Inspector().inspect(clean(name))
    assert not report.problems
    assert [f"{f.rule} {f.at} {f.message}" for f in report.findings if f.kind == "fail"] == []
