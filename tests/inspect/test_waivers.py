"""Waivers: what they accept, until when, and what is wrong with them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import prebind
from prebind import Configuration, Inspector
from prebind.inspect.finding import Waived
from prebind.inspect.waivers import prebind_rules
from prebind.rule import Fails, Passes, Rule
from prebind.testing import clean, patched

if TYPE_CHECKING:
    from prebind.rule import Example

TODAY = "2030-06-15"
INSPECTOR = Inspector(Configuration(today=TODAY))
SLOW = "travel/slow-primary"


def waiver(rule: str = SLOW, until: str = "2030-12-31", **more: str) -> dict[str, str]:
    return {"rule": rule, "reason": "soft", "by": "the builder", "until": until, **more}


def inspected(
    *waivers: dict[str, str], slow: bool = True, by: Inspector = INSPECTOR
) -> prebind.Report:
    """A trainer, slow on two of its axes (/channels/1 and /channels/2) unless told otherwise."""
    document = clean()
    if slow:
        document["channels"][1]["slow_s"] = document["channels"][2]["slow_s"] = 1.5
    document["waivers"] = list(waivers)
    report = by.inspect(document)
    assert not report.problems
    return report


def waived(report: prebind.Report) -> list[tuple[str, str]]:
    return [(f.rule, f.at) for f in report.findings if f.waived]


def about(report: prebind.Report) -> list[tuple[str, str, str, str]]:
    return [
        (f.rule.partition("/")[2], f.word, f.at, f.message)
        for f in report.findings
        if f.rule.startswith("sign-offs/waiver")
    ]


def test_without_a_waiver_both_ground() -> None:
    report = inspected()
    found = [(f.at, f.waived) for f in report.findings if f.rule == SLOW]
    assert found == [("/channels/1/slow_s", None), ("/channels/2/slow_s", None)]
    assert report.grounds("caution")


def test_a_waiver_without_a_place_accepts_all_of_its_rule() -> None:
    report = inspected(waiver())
    assert waived(report) == [(SLOW, "/channels/1/slow_s"), (SLOW, "/channels/2/slow_s")]
    assert not report.grounds("notice", complete=False)
    assert about(report) == []
    first = next(f for f in report.findings if f.waived)
    assert first.waived == Waived("soft", "the builder", "2030-12-31")
    assert (first.kind, first.word) == ("fail", "caution")


@pytest.mark.parametrize("at", ["/channels/1/slow_s", "/channels/1"])
def test_a_waiver_at_the_place_or_above_accepts_what_is_there(at: str) -> None:
    report = inspected(waiver(at=at))
    assert waived(report) == [(SLOW, "/channels/1/slow_s")]
    assert report.grounds("caution")
    assert about(report) == []


def test_the_whole_document_is_above_every_place() -> None:
    assert len(waived(inspected(waiver(at="")))) == 2


@pytest.mark.parametrize("at", ["/channels/1/slow", "/channels/11", "/channels/1/slow_s/x"])
def test_a_waiver_beside_the_place_accepts_nothing_and_says_where_it_would(at: str) -> None:
    report = inspected(waiver(at=at))
    assert waived(report) == []
    assert about(report) == [
        (
            "waiver-unneeded",
            "notice",
            "/waivers/0",
            f"The waiver for “{SLOW}” matches no finding at {at}; that rule's are at "
            "/channels/1/slow_s, /channels/2/slow_s.",
        )
    ]


@pytest.mark.parametrize(("until", "holds"), [(TODAY, True), ("2030-06-14", False)])
def test_the_last_day_counts(until: str, holds: bool) -> None:
    report = inspected(waiver(until=until))
    assert bool(waived(report)) is holds
    assert report.grounds("caution") is not holds
    expired = (
        "waiver-expired",
        "notice",
        "/waivers/0/until",
        f"The waiver for “{SLOW}” ran out on {until} and waives nothing any more.",
    )
    assert about(report) == ([] if holds else [expired])


def test_left_out_the_day_is_the_current_one() -> None:
    inspector = Inspector()
    assert waived(inspected(waiver(until="9999-12-31"), by=inspector))
    assert not waived(inspected(waiver(until="2025-12-31"), by=inspector))


def test_a_waiver_that_matches_nothing_is_a_finding() -> None:
    report = inspected(waiver("rates/dead"), waiver(), slow=True)
    assert about(report) == [
        (
            "waiver-unneeded",
            "notice",
            "/waivers/0",
            "The waiver for “rates/dead” matches no finding.",
        )
    ]


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("travel/slow-primry", f"which is no rule; did you mean “{SLOW}”?"),
        ("zzz", "which is no rule; `prebind rulebook` lists them all."),
        ("sign-offs/waiver-expired", "what is wrong with a waiver cannot be waived"),
    ],
)
def test_a_waiver_that_can_never_match(name: str, says: str) -> None:
    ((rule, _, at, message),) = about(inspected(waiver(name), slow=False))
    assert (rule, at) == ("waiver-unneeded", "/waivers/0")
    assert f"“{name}”" in message
    assert says in message


def test_a_rule_that_did_not_run_says_nothing_about_its_waiver() -> None:
    for left_out in (SLOW, "travel"):
        inspector = Inspector(Configuration(leave_out=(left_out,), today=TODAY))
        assert about(inspected(waiver(), slow=False, by=inspector)) == []


def test_a_rule_that_could_not_check_the_place_says_nothing_about_its_waiver() -> None:
    report = INSPECTOR.inspect(
        {key: value for key, value in clean().items() if key != "servos"}
        | {"waivers": [waiver("travel/servo-range", at="/servos/0/pulse_us")]}
    )
    assert [f.kind for f in report.findings if f.rule == "travel/servo-range"] == ["open"]
    assert about(report) == []


def test_open_outcomes_can_be_accepted_too() -> None:
    document = {key: value for key, value in clean().items() if key != "power"}
    before = INSPECTOR.inspect(document)
    rules = {f.rule for f in before.findings if f.kind == "open"}
    assert rules
    assert before.grounds("danger", complete=True)
    document["waivers"] = [waiver(rule) for rule in sorted(rules)]
    report = INSPECTOR.inspect(document)
    assert {rule for rule, _ in waived(report)} == rules
    assert not report.grounds("danger", complete=True)


def test_of_two_waivers_the_first_that_holds_is_named() -> None:
    report = inspected(
        waiver(until="2030-01-01"), waiver(by="the club"), waiver(by="the instructor")
    )
    assert {f.waived.by for f in report.findings if f.waived} == {"the club"}
    assert [rule for rule, *_ in about(report)] == ["waiver-expired"]


# The two rules


def test_outcomes_count_each_waiver() -> None:
    def outcomes(*waivers: dict[str, str]) -> dict[str, int]:
        only = Inspector(Configuration(families=("sign-offs",), leave_out=OTHERS, today=TODAY))
        return dict(inspected(*waivers, slow=False, by=only).outcomes)

    assert outcomes()["notApplicable"] == 2
    assert outcomes(waiver(), waiver(until="2001-01-01")) == {
        "pass": 2,  # expired: one passes; unneeded: not judged twice
        "fail": 1,
        "open": 0,
        "review": 0,
        "notApplicable": 0,
    }


OTHERS = tuple(
    rule.id
    for rule in INSPECTOR.rules.values()
    if rule.family == "sign-offs" and rule not in prebind_rules()
)
EXAMPLES = [(rule, example) for rule in prebind_rules() for example in rule.examples()]


@pytest.mark.parametrize(("rule", "example"), EXAMPLES, ids=lambda it: getattr(it, "id", None))
def test_example(rule: Rule, example: Example) -> None:
    report = Inspector().inspect(patched(clean(example.start), example.patch))
    found = [(f.at, f.word, f.message) for f in report.findings if f.rule == rule.id]
    if isinstance(example, Passes):
        assert found == []
        return
    assert isinstance(example, Fails)
    ((at, word, message),) = found
    assert (at, word) == (example.at, "notice")
    assert all(text in message for text in example.says)


def test_they_can_be_left_out_and_have_another_word() -> None:
    strict = Inspector(Configuration(words={"sign-offs/waiver-unneeded": "caution"}, today=TODAY))
    assert inspected(waiver(), slow=False, by=strict).grounds("caution")
    lenient = Inspector(Configuration(leave_out=("sign-offs/waiver-unneeded",), today=TODAY))
    assert about(inspected(waiver(), slow=False, by=lenient)) == []
