"""The inspection as text and as JSON, and how formats are found."""

from __future__ import annotations

import io
import json
import os
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import jsonschema_rs
import pytest
from attrs import evolve

from prebind import Finding, Inspector, Problem, Report
from prebind.format import Run, Sheet
from prebind.inspect.finding import Waived
from prebind.report.inspection_json import dumps, relative
from prebind.rule import Cause
from prebind.testing import clean
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from collections.abc import Sequence

EXAMPLES = Path(__file__).parents[1] / "examples"
INSPECTOR = Inspector()


def told(name: str, reports: Sequence[Report], problems: Sequence[Problem] = (), **run: Any) -> str:
    out = io.StringIO()
    writer = INSPECTOR.formats[name].begin(Sheet(out, 100), Run(INSPECTOR, **run))
    for report in reports:
        writer.document(report)
    writer.end([*problems, *(problem for report in reports for problem in report.problems)])
    return out.getvalue()


def faulty() -> Report:
    """Two failing findings, a danger and a notice, and some that stay open."""
    document = clean("plain")
    document["overrides"] = []
    document["transmitter"]["channels"] = 4
    del document["power"]
    return INSPECTOR.inspect(json.dumps(document), path="plover.setup.json")


def with_findings(report: Report, *findings: Finding) -> Report:
    return evolve(report, findings=findings)


@cache
def validators() -> tuple[Any, Any]:
    schema = json.loads(schema_text("inspection"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema), jsonschema_rs.validator_for(schema)


def assert_valid(report: dict[str, Any]) -> None:
    slow, fast = validators()
    assert [f"{e.json_path}: {e.message}" for e in slow.iter_errors(report)] == []
    assert fast.is_valid(report)


# --- formats --------------------------------------------------------------------------------


def test_formats_are_found_by_name() -> None:
    assert list(INSPECTOR.formats) == ["html", "json", "junit", "markdown", "sarif", "text"]


# --- JSON -----------------------------------------------------------------------------------


@pytest.mark.parametrize("folder", ["fleet", "faulty", "broken"])
def test_the_fleet_is_valid(folder: str) -> None:
    files = sorted((EXAMPLES / folder).glob("*.setup.json"))
    reports = list(INSPECTOR.inspect_files(files))
    report = json.loads(told("json", reports))
    assert_valid(report)
    good = [one for one in reports if one.document is not None]
    assert [document["path"] for document in report["documents"]] == [
        relative(one.path_name) for one in good
    ]
    for document, one in zip(report["documents"], good, strict=True):
        assert document["outcomes"] == one.outcomes
        assert len(document["findings"]) == len(one.findings)
    assert len(report["problems"]) == sum(len(one.problems) for one in reports)


def test_no_documents_are_valid() -> None:
    problems = [Problem("made-pack", "the rule pack cannot be loaded", pack="made-pack 1.0")]
    report = json.loads(told("json", [], problems))
    assert_valid(report)
    assert report["documents"] == []
    assert report["problems"][0] == {
        "path": "made-pack",
        "line": None,
        "column": None,
        "message": "the rule pack cannot be loaded",
        "rule": None,
        "pack": "made-pack 1.0",
    }


def test_one_finding_key_by_key() -> None:
    report = json.loads(told("json", [faulty()], ground_at="danger", complete=True))
    assert report["format"] == "inspection/1"
    assert report["tool"]["name"] == "prebind"
    assert {"name": "builtin", "distribution": "prebind"}.items() <= report["tool"]["packs"][
        0
    ].items()
    assert report["settings"]["ground_at"] == "danger"
    assert report["settings"]["complete"] is True
    assert report["settings"]["rules"]["bands/thin-margin"]["numbers"] == {"margin_us": 25}
    (document,) = report["documents"]
    assert (document["path"], document["name"]) == ("plover.setup.json", "Ringed Plover 1100")
    found = next(found for found in document["findings"] if found["rule"] == "capacity/spare")
    assert found | {
        "message": "",
        "safety": "",
        "remedy": "",
        "fingerprint": "",
        "evidence": {},
    } == {
        "rule": "capacity/spare",
        "kind": "fail",
        "word": "notice",
        "at": "/transmitter/channels",
        "file": "plover.setup.json",
        "line": 1,
        "column": found["column"],
        "message": "",
        "evidence": {},
        "safety": "",
        "remedy": "",
        "fingerprint": "",
    }
    assert found["evidence"]["spare"] == 0
    opened = next(found for found in document["findings"] if found["rule"] == "power/peak")
    assert opened["settles"] == ["/power"]
    assert "propeller off" in opened["bench"].lower()


def test_what_applies_to_a_finding_is_there_and_nothing_else() -> None:
    first, second, *_ = faulty().findings
    changed = evolve(
        second,
        because=Cause(first.rule, first.at),
        waived=Waived("the club lent it", "the safety officer", "2031-05-18"),
    )
    report = json.loads(told("json", [with_findings(faulty(), first, changed)]))
    assert_valid(report)
    plain, with_more = report["documents"][0]["findings"]
    assert not {"because", "waived", "fix", "settles", "bench", "baseline"} & plain.keys()
    assert with_more["because"] == {"rule": first.rule, "at": first.at}
    assert with_more["waived"]["by"] == "the safety officer"


@pytest.mark.parametrize(
    "change",
    [
        lambda report: report.update(extra=1),
        lambda report: report["documents"][0].update(extra=1),
        lambda report: report["documents"][0]["findings"][0].update(extra=1),
        lambda report: report["documents"][0]["findings"][0].update(word="bad"),
        lambda report: report["documents"][0]["findings"][0].update(kind="open"),
        lambda report: report["documents"][0]["findings"][0].update(at="channels"),
        lambda report: report["documents"][0]["findings"][0].update(line=0),
        lambda report: report["documents"][0].pop("digest"),
        lambda report: report["settings"].pop("rules"),
    ],
)
def test_the_schema_is_closed(change: Any) -> None:
    report = json.loads(told("json", [faulty()]))
    assert_valid(report)
    change(report)
    assert list(validators()[0].iter_errors(report))


def test_paths_are_told_from_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert relative(str(tmp_path / "here" / "a" / "b.json")) == "a/b.json"
    assert relative(str(tmp_path / "c.json")) == "../c.json"
    assert relative("./a//b.json") == "a/b.json"
    assert relative("-") == "-"
    assert relative(os.fsdecode(b"a\xff.json")) == "a\ufffd.json"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ({"a": float("nan")}, '{"a": "nan"}'),
        ({"a": [1, float("-inf"), (2.5, None)]}, '{"a": [1, "-inf", [2.5, null]]}'),
        ({(1, 2): Path("x")}, '{"(1, 2)": "x"}'),
        ("µ\x7f\u202e", '"\\u00b5\\u007f\\u202e"'),
    ],
)
def test_whatever_a_pack_gives_becomes_json(value: Any, text: str) -> None:
    assert dumps(value) == text


def test_documents_are_written_one_by_one() -> None:
    out = io.StringIO()
    writer = INSPECTOR.formats["json"].begin(Sheet(out), Run(INSPECTOR))
    writer.document(faulty())
    first = out.getvalue()
    writer.document(evolve(faulty(), path_name="second.setup.json"))
    assert out.getvalue().startswith(first)
    writer.end([])
    paths = [document["path"] for document in json.loads(out.getvalue())["documents"]]
    assert paths == ["plover.setup.json", "second.setup.json"]
    assert max(map(len, out.getvalue().splitlines())) < len(first)


# --- text -----------------------------------------------------------------------------------


def test_findings_that_a_waiver_accepts() -> None:
    report = faulty()
    waived = Waived("flown with care", "the safety\nofficer", "2031-05-18")
    text = told("text", [with_findings(report, evolve(report.findings[0], waived=waived))])
    part = text.partition("Accepted by a waiver: 1 finding\n")[2]
    assert "plover.setup.json:1:1: danger: throttle/no-cut: " in part
    assert "waived     by the safety\\u000aofficer until 2031-05-18: flown with care" in part
    assert "safety     " in part
    assert "Nothing was found that grounds (caution or worse)" in text
    assert "\nDanger\n" not in text


def test_what_a_person_must_judge() -> None:
    report = faulty()
    text = told("text", [with_findings(report, evolve(report.findings[0], kind="review"))])
    part = text.partition("For a person to judge: 1 finding\n")[2]
    assert "danger: throttle/no-cut: " in part
    assert "remedy     " in part


def test_two_that_blame_each_other_are_both_told() -> None:
    report = faulty()
    first, second = report.findings[:2]
    text = told(
        "text",
        [
            with_findings(
                report,
                evolve(first, because=Cause(second.rule, second.at)),
                evolve(second, because=Cause(first.rule, first.at)),
            )
        ],
    )
    assert text.count(f"{first.rule}: ") == 1
    assert text.count(f"{second.rule}: ") == 1
    assert len(re.findall(r"because +it follows from", text)) == 1


def test_findings_of_one_rule_share_what_they_have_in_common() -> None:
    report = faulty()
    first = report.findings[0]
    other = evolve(first, message="Another one.", fingerprint="x")
    text = told("text", [with_findings(report, first, other)])
    assert text.count("throttle/no-cut: ") == 2
    assert text.count("    safety ") == 1
    different = evolve(other, safety="Something else.")
    text = told("text", [with_findings(report, first, different)])
    assert text.count("    safety ") == 2


def test_messages_are_shown_as_they_are_and_nothing_raw() -> None:
    report = faulty()
    hostile = evolve(
        report.findings[0],
        message="a\x1b[31m\nb",
        safety="c\u202e",
        remedy="d\x07",
        evidence={"e\x1b": "f\x1b", "controls": {"g\x1b": "h\x1b"}},
    )
    text = told("text", [with_findings(report, hostile)])
    assert {char for char in text if not char.isprintable()} == {"\n"}
    assert "a\\u001b[31m\\u000ab" in text


def test_counts_of_all_documents() -> None:
    text = told("text", [faulty(), faulty()])
    once = re.search(r"(\d+) passed, 2 failed \(1 danger, 1 notice\), (\d+) not checked", text)
    assert once is not None
    both = (
        f"{2 * int(once[1])} passed, 4 failed (2 danger, 2 notice), {2 * int(once[2])} not checked"
    )
    assert both in text
    assert "2 documents inspected." in text
    assert "Grounded by 2 findings (caution or worse)." in text


def test_problems_of_packs_and_rules_are_told_apart() -> None:
    problems = [
        Problem("made-pack", "cannot be loaded", pack="made-pack 1.0"),
        Problem("a.setup.json", "crashed", rule="bands/x", pack="p 2.0"),
        Problem("b.setup.json", "not JSON", 3, 7),
    ]
    text = told("text", [], problems)
    assert "made-pack: problem: made-pack 1.0: cannot be loaded\n" in text
    assert "a.setup.json: problem: p 2.0: bands/x: crashed\n" in text
    assert "b.setup.json:3:7: problem: not JSON\n" in text
    assert "Not to be trusted: 3 problems." in text
