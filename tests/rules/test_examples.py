"""Every example of every built-in rule, and what each rule's record must say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import prebind_rules
from prebind import Inspector
from prebind.rule import WORDS, Example, Fails, Passes, Rule
from prebind.testing import clean, patched, try_example
from prebind_schemas import templates

RULES = sorted(prebind_rules.prebind_rules(), key=lambda rule: rule.id)
EXAMPLES = [(rule, example) for rule in RULES for example in rule.examples()]


def named(value: object) -> str:
    return value.id if isinstance(value, Rule) else getattr(value, "why", str(value))


@pytest.mark.parametrize(("rule", "example"), EXAMPLES, ids=named)
def test_example(rule: Rule, example: Example) -> None:
    try_example(rule, example)


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_record(rule: Rule) -> None:
    examples = list(rule.examples())
    assert sum(isinstance(example, Fails) for example in examples) >= 2
    assert sum(isinstance(example, Passes) for example in examples) >= 2
    assert all(example.says for example in examples if isinstance(example, Fails))
    assert rule.word in WORDS
    for text in (rule.title, rule.why, rule.safety, rule.remedy, rule.bench, rule.source):
        assert text.strip()
    assert len(rule.why) > 80
    assert rule.safety.endswith(".")


def test_a_rule_is_a_file_named_as_its_id() -> None:
    home = Path(prebind_rules.__file__).parent
    files = {
        f"{file.parent.name}/{file.stem.replace('_', '-')}" for file in home.glob("*/[!_]*.py")
    }
    assert files == {rule.id for rule in RULES}


def test_every_rule_of_the_rulebook_is_there() -> None:
    """The ids of the eleven families, written down from the rulebook's tables."""
    written = (Path(__file__).parent / "rulebook_ids.txt").read_text(encoding="utf-8").split()
    assert {rule.id for rule in RULES} == set(written)


@pytest.mark.parametrize("name", templates())
def test_templates_are_clean(name: str) -> None:
    report = Inspector().inspect(clean(name))
    assert not report.problems
    assert [f"{f.rule} {f.at} {f.message}" for f in report.findings if f.kind == "fail"] == []


@pytest.mark.parametrize(
    ("rule", "example"),
    [(rule, example) for rule, example in EXAMPLES if isinstance(example, Fails)],
    ids=named,
)
def test_every_rule_runs_on_every_example(rule: Rule, example: Fails) -> None:
    """No example of one rule makes another one crash, and the finding stands among all others."""
    report = INSPECTOR.inspect(patched(clean(example.start), example.patch))
    assert not report.problems
    assert any(f.rule == rule.id and f.at == example.at for f in report.findings)


INSPECTOR = Inspector()


def test_messages_have_numbers_where_the_rule_has_settings() -> None:
    for rule, example in EXAMPLES:
        if isinstance(example, Fails) and rule.settings:
            assert any(re.search(r"\d", text) for text in example.says), rule.id
