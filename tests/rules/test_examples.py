"""Every example of every built-in rule, what each record must say, and what every pack promises."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import prebind_rules
from prebind import Inspector
from prebind.rule import Fails, Passes, Rule
from prebind.testing import clean, conformance_tests, example_tests
from prebind_schemas import templates

if TYPE_CHECKING:
    from collections.abc import Callable

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


BEGIN_HIGHER = {("power/servo-weak", "chord_ratio"), ("pulses/frame-too-fast", "analogue_hz")}
"""Numbers of which the tests of their families say from where on a club may set them."""


@pytest.mark.parametrize(
    "rule", [rule for rule in RULES if rule.settings], ids=lambda rule: rule.id
)
def test_a_club_may_set_a_number_to_nothing_and_to_no_less(
    rule: Rule, refused: Callable[[str, str, float], bool]
) -> None:
    """A mass, a margin or a limit of less than nothing is a slip of the pen."""
    for key, setting in rule.settings.items():
        if not isinstance(setting.default, list) and (rule.id, key) not in BEGIN_HIGHER:
            assert not refused(rule.id, key, 0)
            assert refused(rule.id, key, -1 if setting.count else -0.5)


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
