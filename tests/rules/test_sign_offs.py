"""Sign-offs: which checks are missing, which are stale, and what each finding says of them."""

from __future__ import annotations

from typing import Any

import pytest

from prebind import Finding, Inspector, read, trace
from prebind.testing import clean, inspected
from prebind_rules.sign_offs.missing import missing
from prebind_rules.sign_offs.stale import stale

# As the rulebook gives the words.
WORDS = {
    "control-direction": "warning",
    "correction-direction": "warning",
    "failsafe": "warning",
    "states": "warning",
    "recovery": "warning",
    "throws": "caution",
    "balance": "caution",
    "range": "caution",
}
NEVER = {"correction-direction", "states", "recovery"}
"""What a model without a stabiliser has nothing to prove for."""


def signed(document: dict[str, Any], *left_out: str) -> dict[str, Any]:
    """The document with every check signed off as it is, but some."""
    found = read(document)
    assert not isinstance(found, list)
    path = trace(found.setup)
    document["sign_offs"] = [
        {"check": check, "by": "A. Builder", "on": "2026-03-01", "digest": path.digest(check)}
        for check in WORDS
        if check not in left_out and path.digest(check)
    ]
    return document


def fails(document: dict[str, Any]) -> list[Finding]:
    report = Inspector().inspect(document)
    assert report.problems == ()
    family = [f for f in report.findings if f.rule.startswith("sign-offs/")]
    return [f for f in family if f.kind == "fail"]


class TestMissing:
    @pytest.mark.parametrize(("check", "word"), WORDS.items())
    def test_each_check_by_itself(self, check: str, word: str) -> None:
        (fail,) = fails(signed(clean(), check))
        assert (fail.rule, fail.at, fail.word) == ("sign-offs/missing", "/sign_offs", word)
        assert f"“{check}” is not signed off" in fail.message
        assert f"--check {check} --by" in fail.remedy
        assert fail.evidence == {"check": check}

    def test_several_are_several_findings(self) -> None:
        document = signed(clean())
        document["sign_offs"] = []
        found = fails(document)
        assert {f.evidence["check"]: f.word for f in found} == WORDS
        prints = {f.evidence["check"]: f.fingerprint for f in found}
        assert len(set(prints.values())) == len(WORDS)
        document = signed(clean(), "range", "throws")
        left = {f.evidence["check"]: f.fingerprint for f in fails(document)}
        assert left == {check: prints[check] for check in ("range", "throws")}

    def test_everything_is_signed_off(self) -> None:
        assert fails(signed(clean())) == []
        assert inspected(missing, signed(clean())).outcomes["pass"] == 1

    @pytest.mark.parametrize("template", ["plain", "glow", "glider"])
    def test_what_is_not_there_wants_no_proof(self, template: str) -> None:
        document = signed(clean(template))
        assert {entry["check"] for entry in document["sign_offs"]} == WORDS.keys() - NEVER
        assert fails(document) == []

    def test_without_the_section_nobody_knows(self) -> None:
        report = inspected(missing, clean("plain"))
        (unknown,) = report.findings
        assert (unknown.kind, unknown.at, unknown.settles) == ("open", "", ("/sign_offs",))
        assert "control-direction, throws, failsafe, balance, range." in unknown.message
        assert unknown.bench

    def test_without_a_receiver_nobody_knows_what_is_wanted(self) -> None:
        document = clean("plain")
        del document["receiver"]
        document["sign_offs"] = []
        (unknown,) = inspected(missing, document).findings
        assert (unknown.kind, unknown.settles) == ("open", ("/receiver",))


class TestStale:
    def test_only_what_has_changed(self) -> None:
        document = signed(clean())
        document["channels"][1]["reversed"] = True  # the ailerons, at the transmitter
        found = fails(document)
        assert {f.evidence["check"] for f in found} == {"control-direction", "throws"}
        for fail in found:
            check = fail.evidence["check"]
            place = next(i for i, e in enumerate(document["sign_offs"]) if e["check"] == check)
            assert fail.at == f"/sign_offs/{place}/digest"
            assert fail.word == WORDS[check]
            assert f"“{check}” was signed off by A. Builder on 2026-03-01" in fail.message
            assert f"--check {check} --by" in fail.remedy

    def test_a_new_name_is_nothing(self) -> None:
        document = signed(clean())
        document["model"]["name"] = "Curlew"
        document["x-note"] = "A note."
        document["channels"][0]["reversed"] = False
        assert fails(document) == []

    def test_nothing_is_left_to_prove(self) -> None:
        document = signed(clean())
        del document["receiver"]["stabiliser"]
        document["receiver"]["failsafe"].pop("intended_states")
        found = {f.evidence["check"]: f for f in fails(document) if f.rule == "sign-offs/stale"}
        for check in NEVER:
            assert found[check].at.endswith("/check")
            assert "there is nothing left" in found[check].message
            assert found[check].word == "warning"

    def test_the_latest_counts(self) -> None:
        document = signed(clean())
        old = {**document["sign_offs"][0], "on": "2025-03-01", "digest": "0"}
        document["sign_offs"].append(old)
        assert fails(document) == []
        old["on"] = "2026-03-02"
        (fail,) = fails(document)
        assert fail.at == f"/sign_offs/{len(WORDS)}/digest"

    def test_without_sign_offs_it_has_nothing_to_judge(self) -> None:
        assert inspected(stale, clean()).not_applicable == ("sign-offs/stale",)

    def test_failsafe_follows_from_the_rule_of_its_own(self) -> None:
        document = signed(clean())
        document["channels"][0]["trim_percent"] = 2
        (fail,) = fails(document)
        assert fail.evidence["check"] == "failsafe"
        assert fail.because is not None
        assert fail.because.rule == "failsafe/stale"

    def test_the_finding_stays_the_same_when_another_is_signed(self) -> None:
        document = signed(clean(), "balance")
        document["channels"][1]["reversed"] = True
        before = {f.evidence["check"]: f.fingerprint for f in fails(document)}
        document["sign_offs"].insert(0, {**document["sign_offs"][0], "check": "balance"})
        after = {f.evidence["check"]: f.fingerprint for f in fails(document)}
        assert before.items() - {("balance", before["balance"])} <= after.items()
