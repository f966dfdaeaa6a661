"""`prebind rulebook`: all rules, or one."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from prebind import Inspector
from prebind.rule import Fails, Passes

if TYPE_CHECKING:
    from tests.cli.conftest import Run

RULES = Inspector().rules


def flat(text: str) -> str:
    return " ".join(text.split())


def test_every_rule_is_listed(run: Run) -> None:
    ran = run("rulebook")
    assert (ran.code, ran.err) == (0, "")
    listed = dict(
        re.findall(r"^  (\S+/\S+) +(danger|warning|caution|notice) ", ran.out, re.MULTILINE)
    )
    assert listed == {rule.id: rule.word for rule in RULES.values()}
    families = re.findall(r"^(\S+)$", ran.out, re.MULTILINE)
    assert families == list(dict.fromkeys(rule.family for rule in RULES.values()))
    for rule in RULES.values():
        assert rule.title in flat(ran.out)


def test_one_family(run: Run) -> None:
    out = run("rulebook", "failsafe").out
    assert set(re.findall(r"^  (\S+/\S+)", out, re.MULTILINE)) == {
        rule.id for rule in RULES.values() if rule.family == "failsafe"
    }


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_a_rule_is_explained(run: Run, rule: object) -> None:
    """With everything that its record says, and an example of each kind."""
    record = RULES[rule.id]  # type: ignore[attr-defined]
    out = run("rulebook", record.id).out
    told = flat(out)
    for text in (
        record.title,
        record.why,
        record.safety,
        record.remedy,
        record.bench,
        record.source,
    ):
        assert flat(text) in told
    assert f"Signal word: {record.word}." in told
    assert f"since {record.since}." in told
    for name, setting in record.settings.items():
        assert f"{name} = " in told
        assert flat(setting.meaning) in told
    examples = list(record.examples())
    fails = next(example for example in examples if isinstance(example, Fails))
    passes = next(example for example in examples if isinstance(example, Passes))
    assert out.index("\nFails, for example\n") < out.index("\nPasses, for example\n")
    for example in (fails, passes):
        assert flat(example.why) in told
        assert all(operation["path"] in told for operation in example.patch)
    assert f"It fails at {fails.at or 'the top of the document'}." in told


def test_settings_and_examples_to_the_letter(run: Run) -> None:
    out = run("rulebook", "bands/thin-margin").out
    assert "\nSettings\n    margin_us = 25: " in out
    patch = "add /transmitter/controls/mode-switch/values [-39, 0, 100]"
    assert f"    On the clean setup “trainer”:\n      {patch}\n" in out


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("bands/gapp", "bands/gap"),
        ("gap", "bands/gap"),
        ("throtle/gap", "bands/gap"),
        ("failsave", "failsafe"),
    ],
)
def test_the_nearest_is_named(run: Run, name: str, near: str) -> None:
    ran = run("rulebook", name)
    assert (ran.code, ran.out) == (2, "")
    assert f"there is no rule “{name}”; did you mean “{near}”?" in ran.err


def test_nothing_is_near(run: Run) -> None:
    assert "`prebind rulebook` lists them all" in run("rulebook", "zzzz").err


def test_a_rule_of_another_pack(run: Run, crashing_rule: str) -> None:
    assert "Pack: made-pack 2.0, since 0.1.0." in run("rulebook", crashing_rule).out
