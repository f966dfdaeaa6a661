"""The inspector: guards, outcomes, configuration, and what makes a finding the same finding."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.strategies import any_json, mutated_setups, setups

import prebind
from prebind import Configuration, Inspector
from prebind.inspect.engine import Bound, run
from prebind.rule import PASS, Fail, NotChecked, NotKnown, Rule
from prebind.testing import clean, patched

if TYPE_CHECKING:
    from collections.abc import Callable

INSPECTOR = Inspector()
FLEET = sorted((Path(__file__).parent.parent / "examples" / "fleet").glob("*.setup.json"))


def tells(report: prebind.Report) -> bool:
    """Either the document was judged, every rule with an outcome, or a problem says why not."""
    if report.document is None:
        return bool(report.problems) and all(p.message for p in report.problems)
    return sum(report.outcomes.values()) >= len(INSPECTOR.rules) - len(report.problems)


@given(st.binary(max_size=400))
@settings(max_examples=200, deadline=None)
def test_any_bytes(data: bytes) -> None:
    assert tells(INSPECTOR.inspect(data))


@given(any_json())
@settings(max_examples=150, deadline=None)
def test_any_json(data: Any) -> None:
    report = INSPECTOR.inspect(json.dumps(data))
    assert tells(report)
    assert report.document is None


@given(mutated_setups())
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_mutation_of_a_valid_document(document: dict[str, Any]) -> None:
    report = INSPECTOR.inspect(document)
    assert tells(report)
    assert not [problem for problem in report.problems if problem.rule]  # no rule crashed


@given(setups())
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_every_finding_stands_at_a_place_and_has_all_its_parts(document: dict[str, Any]) -> None:
    report = INSPECTOR.inspect(json.dumps(document, indent=1))
    assert not report.problems
    for finding in report.findings:
        place = report.place(finding)
        assert place is not None
        assert place.line is not None
        assert finding.message
        assert finding.safety
        assert finding.remedy
        assert finding.kind != "open" or finding.bench
        json.dumps(dict(finding.evidence))
    prints = [finding.fingerprint for finding in report.findings]
    assert len(prints) == len(set(prints))


# Guards; rules that crash, lie, hang or meddle: tests/trust/test_lying_rules.py


def a_rule(judge: Callable[..., Any], **more: Any) -> Rule:
    """A built-in rule with another function in it."""
    return evolve(INSPECTOR.rules["bands/gap"], judge=judge, needs=(), **more)


def outcomes_of(judge: Callable[..., Any], each: str = "setup", *, foreign: bool = False) -> Any:
    report = INSPECTOR.inspect(clean())
    assert report.path is not None
    rule = a_rule(judge, each=each)
    bound = Bound(rule, {}, None, "invented pack 1.0", foreign=foreign)
    return run([bound], report.path, clean(), "a.setup.json")


def test_a_crash_is_an_outcome_that_names_rule_and_pack() -> None:
    def crash(*_: Any) -> Any:
        raise ZeroDivisionError("invented")

    ran = outcomes_of(crash)
    assert [(p.rule, p.pack) for p in ran.problems] == [("bands/gap", "invented pack 1.0")]
    assert "ZeroDivisionError: invented" in ran.problems[0].message
    assert sum(ran.outcomes.values()) == 0


def test_an_interrupt_is_never_swallowed() -> None:
    def interrupt(*_: Any) -> Any:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        outcomes_of(interrupt)
    with pytest.raises(KeyboardInterrupt):
        outcomes_of(interrupt, foreign=True)


def test_what_is_not_known_or_not_checked_is_open_at_that_place_only() -> None:
    def judge(channel: Any, *_: Any) -> Any:
        if channel.number == 2:
            raise NotKnown("not written down", ("/channels/1/side",))
        if channel.number == 3:
            raise NotChecked("not checked: too many", ("a", "b"), 9)
        return PASS

    ran = outcomes_of(judge, each="channels")
    assert ran.outcomes == {"pass": 4, "fail": 0, "open": 2, "review": 0, "notApplicable": 0}
    first, second = ran.findings
    assert (first.at, first.settles) == ("/channels/1", ("/channels/1/side",))
    assert (second.at, second.evidence["combinations"]) == ("/channels/2", 9)


def test_a_place_that_is_not_written_is_lifted_to_what_is() -> None:
    ran = outcomes_of(lambda *_: Fail("found", at="/channels/1/reversed"))
    assert ran.findings[0].at == "/channels/1"


# Configuration


def test_families_and_rules_left_out_do_not_run_and_are_named() -> None:
    only = Inspector(Configuration(families=("bands", "travel"), leave_out=("travel/throw",)))
    report = only.inspect(clean())
    assert "travel/throw" in report.not_run
    assert "reversal/twice" in report.not_run
    assert "bands/gap" not in report.not_run
    ran = len(only.rules) - len(report.not_run)
    assert 0 < ran < len(only.rules)


@pytest.mark.parametrize(
    ("configuration", "says"),
    [
        (
            Configuration(families=("band",)),
            "“band” is not a family of rules; did you mean “bands”",
        ),
        (Configuration(leave_out=("bands/gaps",)), "did you mean “bands/gap”"),
        (Configuration(words={"bands/gap": "alarm"}), "“alarm” is not a signal word"),  # type: ignore[dict-item]
        (Configuration(numbers={"bands/thin-margin": {"margin": 3}}), "is not a setting of"),
        (
            Configuration(numbers={"bands/thin-margin": {"margin_us": -3}}),
            "“margin_us” of “bands/thin-margin” must be a number from 0 up, not -3",
        ),
        (Configuration(numbers={"bands/thin-margin": {"margin_us": "3"}}), "a number, not '3'"),
    ],
)
def test_a_misspelt_name_leaves_no_check_out(configuration: Configuration, says: str) -> None:
    with pytest.raises(ValueError, match=says.replace("(", r"\(")):
        Inspector(configuration)


def test_a_clubs_numbers_and_words_count() -> None:
    document = patched(
        clean(),
        [
            {
                "op": "replace",
                "path": "/receiver/stabiliser/selectors/0/states/1/band/percent",
                "value": [-34, 10],
            },
            {
                "op": "replace",
                "path": "/receiver/stabiliser/selectors/0/states/2/band/percent",
                "value": [10, 150],
            },
        ],
    )
    assert "bands/thin-margin" not in fails(INSPECTOR.inspect(document))
    strict = Inspector(
        Configuration(
            numbers={"bands/thin-margin": {next(iter(margin_settings())): 60}},
            words={"bands/thin-margin": "warning"},
        )
    )
    report = strict.inspect(document)
    assert fails(report)["bands/thin-margin"] == "warning"
    assert report.grounds("warning")
    assert not report.grounds("danger")


def margin_settings() -> list[str]:
    return list(INSPECTOR.rules["bands/thin-margin"].settings)


def test_a_region_that_is_configured_leaves_the_document_to_rules() -> None:
    """Rule sheets are laid against it."""
    report = Inspector(Configuration(region="uk")).inspect(clean())
    assert report.path is not None
    assert report.path.setup.region == "uk"
    assert report.path.setup.data == clean()


def fails(report: prebind.Report) -> dict[str, str]:
    return {f.rule: f.word for f in report.findings if f.kind == "fail"}


# Sameness


def test_fingerprints_survive_reformatting_reordering_and_other_edits() -> None:
    document = clean()
    document["channels"][1]["reversed"] = True
    before = INSPECTOR.inspect(json.dumps(document))
    document["channels"].insert(0, {"channel": 9, "function": "lights", "control": "rate-switch"})
    document["channels"][1], document["channels"][2] = (
        document["channels"][2],
        document["channels"][1],
    )
    document = {key: document[key] for key in reversed(document)}
    after = INSPECTOR.inspect(json.dumps(document, indent=7))
    old = {f.fingerprint for f in before.findings if f.kind == "fail"}
    assert old
    assert old <= {f.fingerprint for f in after.findings}


def test_same_input_same_report_from_bytes_text_mapping_and_in_threads() -> None:
    document = clean()
    document["channels"][1]["reversed"] = True
    text = json.dumps(document)

    def told(data: Any) -> list[tuple[str, str, str]]:
        return [(f.rule, f.at, f.message) for f in INSPECTOR.inspect(data).findings]

    expected = told(document)
    assert expected
    assert told(text) == expected
    assert told(text.encode()) == expected
    with ThreadPoolExecutor(8) as pool:
        assert all(found == expected for found in pool.map(told, [text] * 40))


def test_files_come_in_order_with_any_executor() -> None:
    plain = [(r.path_name, dict(r.outcomes)) for r in INSPECTOR.inspect_files(FLEET)]
    with ThreadPoolExecutor(3) as pool:
        pooled = [
            (r.path_name, dict(r.outcomes)) for r in INSPECTOR.inspect_files(FLEET, executor=pool)
        ]
    assert pooled == plain
    assert [name for name, _ in plain] == [file.as_posix() for file in FLEET]


def test_a_file_that_cannot_be_read_is_a_problem() -> None:
    report = INSPECTOR.inspect_file("/nowhere/a.setup.json")
    assert report.document is None
    assert report.problems[0].path == "/nowhere/a.setup.json"
    assert "No such file" in report.problems[0].message
