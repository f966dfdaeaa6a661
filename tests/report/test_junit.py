"""The inspection as JUnit XML."""

from __future__ import annotations

import contextlib
import io
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest
import xmlschema
from attrs import evolve

from prebind import Configuration, Inspector, Problem, Report
from prebind.cli import main
from prebind.format import Run, Sheet
from prebind.inspect.finding import Waived
from prebind.rule import Cause
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from xml.etree.ElementTree import Element

TESTS = Path(__file__).parents[1]
EXAMPLES = TESTS / "examples"
INSPECTOR = Inspector()


@cache
def schema() -> xmlschema.XMLSchema:
    """The XSD of a widespread build server; see the README beside it."""
    return xmlschema.XMLSchema(TESTS / "data" / "junit" / "junit-10.xsd")


def parsed(text: str) -> Element:
    """The root of a valid report in ASCII."""
    assert text.isascii()
    schema().validate(text)
    root = ElementTree.fromstring(text)
    for suite in root:
        cases = suite.findall("testcase")
        for name, tag in (("failures", "failure"), ("errors", "error"), ("skipped", "skipped")):
            assert suite.get(name) == str(sum(case.find(tag) is not None for case in cases))
        assert suite.get("tests") == str(len(cases))
    return root


def told(
    reports: Sequence[Report], problems: Sequence[Problem] = (), inspector: Inspector = INSPECTOR
) -> Element:
    out = io.StringIO()
    writer = INSPECTOR.formats["junit"].begin(Sheet(out), Run(inspector))
    for report in reports:
        writer.document(report)
    writer.end([*problems, *(problem for report in reports for problem in report.problems)])
    return parsed(out.getvalue())


def case(root: Element, name: str) -> Element:
    """The only test of a name."""
    (found,) = [one for one in root.iter("testcase") if one.get("name") == name]
    return found


def outcome(one: Element) -> str:
    """Tag, type and message of what a test says; empty for a plain pass."""
    return "; ".join(f"{part.tag} {part.get('type')}: {part.get('message')}" for part in one)


@cache
def plover() -> Report:
    """A setup with no cut, no power section and no spare channel."""
    document = clean("plain")
    document["overrides"] = []
    document["transmitter"]["channels"] = 4
    del document["power"]
    return INSPECTOR.inspect(json.dumps(document), path="plover.setup.json")


def as_kinds(*kinds: Any, **changes: Any) -> Report:
    """One finding as often as there are kinds."""
    report = plover()
    first = evolve(report.findings[0], **changes)
    found = tuple(
        evolve(first, kind=kind, message=f"{kind} {index}.", bench="Look at it.", settles=("/a",))
        for index, kind in enumerate(kinds)
    )
    return evolve(report, findings=found)


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Element:
    """The report on all examples, clean, faulty and broken, by the command line."""
    file = tmp_path_factory.mktemp("junit") / "all.xml"
    with contextlib.chdir(EXAMPLES), contextlib.redirect_stderr(io.StringIO()):
        code = main(["inspect", "fleet", "faulty", "broken", "--report", f"junit={file}"])
    assert code == 2
    return parsed(file.read_text(encoding="ascii"))


# --- the fleet ------------------------------------------------------------------------------


def test_the_fleet_has_a_test_of_every_rule_for_every_document(fleet: Element) -> None:
    suites = {suite.get("name"): suite for suite in fleet}
    files = [file for d in ("fleet", "faulty", "broken") for file in documents_in(d)]
    assert list(suites) == [file.relative_to(EXAMPLES).as_posix() for file in files]
    for file in files:
        suite = suites[file.relative_to(EXAMPLES).as_posix()]
        names = [one.get("name") for one in suite.iter("testcase")]
        report = INSPECTOR.inspect_file(file, EXAMPLES)
        if report.document is None:
            assert names == ["document"]
            continue
        assert names == ["document", *INSPECTOR.rules]
        failed = {found.rule for found in report.findings if found.kind == "fail"}
        other = {found.rule for found in report.findings} - failed | {*report.not_applicable}
        for one in suite.iter("testcase"):
            name = one.get("name")
            tags = [part.tag for part in one if part.tag != "system-out"]
            assert tags == ["failure"] * (name in failed) + ["skipped"] * (name in other)


def documents_in(folder: str) -> Iterator[Path]:
    return iter(sorted((EXAMPLES / folder).glob("*.setup.json")))


def test_one_faulty_document(fleet: Element) -> None:
    """Rule, place and word as noted beside the document; the line counted by hand."""
    suite = next(one for one in fleet if one.get("name") == "faulty/dunlin-faulty.setup.json")
    noted = json.loads((EXAMPLES / "faulty" / "dunlin-faulty.faults.json").read_text("utf-8"))
    failed = {
        one.get("name"): failure
        for one in suite.iter("testcase")
        for failure in one.findall("failure")
    }
    assert {(name, failure.get("type")) for name, failure in failed.items()} == {
        (fault["rule"], fault["word"]) for fault in noted["expected"]
    }
    for fault in noted["expected"]:
        assert f" {fault['at']}\n" in (failed[fault["rule"]].text or "")
    text = failed["throttle/releases-live"].text or ""
    lines = text.splitlines()
    assert lines[0].startswith("danger: “throttle cut” releases channel 3 at once")
    assert lines[1] == ("at         faulty/dunlin-faulty.setup.json:61:18 /overrides/0/release")
    assert lines[2] == "evidence   release at-once; channel 3"
    assert lines[3].startswith("safety     A knock against the switch starts the motor")
    assert lines[4].startswith("remedy     Let the cut release only once")
    assert failed["throttle/releases-live"].get("message") == lines[0]
    one = case(suite, "throttle/releases-live")
    assert one.get("classname") == "throttle"


def test_a_broken_document_is_an_error(fleet: Element) -> None:
    name = "broken/redshank-trailing-comma.setup.json"
    suite = next(one for one in fleet if one.get("name") == name)
    assert (suite.get("tests"), suite.get("errors")) == ("1", "1")
    (error,) = case(suite, "document")
    assert error.tag == "error"
    assert "remove this comma" in (error.get("message") or "")
    assert f"\nat         {name}:160:61\n" in (error.text or "")


def test_a_pass_proves_nothing_about_the_model(fleet: Element) -> None:
    for suite in fleet:
        assert "A person decides." in (suite.findtext("system-out") or "")


# --- outcomes -------------------------------------------------------------------------------


def test_what_is_open_is_skipped_and_says_what_settles_it() -> None:
    one = case(told([plover()]), "power/peak")
    (skipped,) = one
    assert (skipped.tag, skipped.get("type")) == ("skipped", "open")
    assert (skipped.get("message") or "").startswith("open: ")
    assert "\nsettled by /power\n" in (skipped.text or "")
    found = next(found for found in plover().findings if found.rule == "power/peak")
    assert f"\nby hand    {found.bench}\n" in (skipped.text or "")


def test_what_a_person_must_judge_is_skipped() -> None:
    one = case(told([as_kinds("review")]), "throttle/no-cut")
    assert outcome(one) == "skipped review: review: review 0."
    assert (one[0].text or "").startswith("review, danger: review 0.\nat ")
    assert "\nremedy     " in (one[0].text or "")


def test_a_fail_outweighs_the_rest_and_nothing_is_lost() -> None:
    one = case(told([as_kinds("fail", "open", "fail", "review")]), "throttle/no-cut")
    failure, beside = one
    assert failure.tag == "failure"
    assert failure.get("message") == "danger: fail 0. (and 1 more)"
    assert "danger: fail 0.\n" in (failure.text or "")
    assert "danger: fail 2.\n" in (failure.text or "")
    assert beside.tag == "system-out"
    assert "open, danger: open 1.\n" in (beside.text or "")
    assert "review, danger: review 3.\n" in (beside.text or "")


def test_what_is_waived_passes_and_is_still_shown() -> None:
    waived = Waived("flown with care", "the safety officer", "2031-05-18")
    one = case(told([as_kinds("fail", "open", waived=waived)]), "throttle/no-cut")
    (shown,) = one
    assert shown.tag == "system-out"
    assert "danger: fail 0.\n" in (shown.text or "")
    assert "\nwaived     by the safety officer until 2031-05-18: flown with care\n" in (
        shown.text or ""
    )


def test_what_an_earlier_report_had_is_no_failure() -> None:
    report = as_kinds("fail", "fail", baseline="unchanged")
    one = case(told([report]), "throttle/no-cut")
    assert outcome(one) == "skipped known: known: fail 0. (and 1 more)"
    assert (one[0].text or "").startswith("known, danger: fail 0.\nat ")
    first, second = report.findings
    both = evolve(report, findings=(first, evolve(second, baseline="new")))
    failure, beside = case(told([both]), "throttle/no-cut")
    assert (failure.tag, failure.get("message")) == ("failure", "danger: fail 1.")
    assert (beside.text or "").startswith("known, danger: fail 0.\n")


def test_a_consequence_names_its_cause() -> None:
    one = case(told([as_kinds("fail", because=Cause("bands/gap", "/a"))]), "throttle/no-cut")
    assert "\nbecause    it follows from bands/gap at /a\n" in (one[0].text or "")


def test_what_does_not_apply_is_skipped() -> None:
    root = told([evolve(plover(), not_applicable=("bands/gap",))])
    assert outcome(case(root, "bands/gap")) == "skipped None: not applicable"
    assert outcome(case(root, "capacity/channels")) == ""


def test_what_was_left_out_is_no_pass() -> None:
    inspector = Inspector(Configuration(families=("throttle",)))
    report = inspector.inspect(json.dumps(clean("plain")), path="a.setup.json")
    root = told([report], inspector=inspector)
    assert outcome(case(root, "bands/gap")) == "skipped None: left out, not run"
    assert outcome(case(root, "throttle/no-cut")) == ""
    (suite,) = root
    others = [name for name in INSPECTOR.rules if not name.startswith("throttle/")]
    assert suite.get("skipped") == str(len(others) + len(report.not_applicable))


def test_a_rule_that_crashed_is_an_error() -> None:
    crash = Problem("plover.setup.json", "crashed", rule="capacity/channels", pack="made-pack 2.0")
    root = told([evolve(plover(), problems=(crash,))])
    (error,) = case(root, "capacity/channels")
    assert (error.tag, error.get("message")) == ("error", "problem: crashed")
    assert "\npack       made-pack 2.0\n" in (error.text or "")
    assert outcome(case(root, "document")) == ""
    assert [suite.get("errors") for suite in root] == ["1"]  # not told twice


def test_problems_of_no_document_have_a_suite_of_their_own() -> None:
    lost = Problem("made-pack", "the rule pack cannot be loaded", pack="made-pack 1.0")
    root = told([plover()], [lost, Problem("gone", "cannot be read")])
    _, suite = root
    assert (suite.get("name"), suite.get("tests"), suite.get("errors")) == ("prebind", "2", "2")
    assert outcome(case(suite, "made-pack 1.0")).endswith("the rule pack cannot be loaded")
    assert outcome(case(suite, "gone")) == "error problem: problem: cannot be read"


def test_documents_are_written_one_by_one() -> None:
    out = io.StringIO()
    writer = INSPECTOR.formats["junit"].begin(Sheet(out), Run(INSPECTOR))
    writer.document(plover())
    first = out.getvalue()
    writer.document(evolve(plover(), path_name="second.setup.json"))
    assert out.getvalue().startswith(first)
    writer.end([])
    assert [suite.get("name") for suite in parsed(out.getvalue())] == [
        "plover.setup.json",
        "second.setup.json",
    ]


def test_no_documents_are_valid() -> None:
    assert len(told([])) == 0


# --- hostile documents ----------------------------------------------------------------------

HOSTILE = {
    "end of a section": "]]><error/><![CDATA[",
    "markup": "</failure></testcase>&lt;\"'&#0;&bogus;<!--",
    "control characters": "a\x00b\x1b[31m\x07\x0bc\ufffe\uffff\ud800\x85\u2028",
    "right to left": "\u202etxt.exe\u2066",
    # Commands that build servers take from a line of output, from memory
    "a command on a new line": "x\n::set-output name=a::b\r\n##[error]no\r##vso[task]y",
    "a command at once": "::error file=a::b",
    "a command within": "x ##[add-mask]y ##teamcity[z] ####[w]",
}


OWN = (
    *("danger: ", "warning: ", "caution: ", "notice: ", "open, ", "review, ", "problem: "),
    *("at ", "because ", "evidence ", "waived ", "settled by ", "by hand "),
    *("safety ", "remedy ", "pack "),
)
"""What a line of the report may begin with."""


def assert_harmless(text: str) -> None:
    """No line begins with, and none holds, what begins a command; nothing is invisible."""
    for line in text.splitlines():
        assert "##" not in line
        assert "::" not in line
        assert line.isprintable()


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize("kind", ["fail", "open", "review", "waived"])
def test_a_document_cannot_write_into_the_report(name: str, kind: Any) -> None:
    report = plover()
    hostile = evolve(
        report.findings[0],
        kind="fail" if kind == "waived" else kind,
        message=name,
        evidence={name: name, "controls": {name: name}},
        safety=name,
        remedy=name,
        bench=name,
        settles=(name,),
        because=Cause(name, name),
        waived=Waived(name, name, name) if kind == "waived" else None,
    )
    path = name.replace("\ud800", "\udc80")  # as a byte of a file name that is not UTF-8 arrives
    problem = Problem(path, name, 1, 2)
    crash = Problem("plover.setup.json", name, rule="bands/gap", pack=name)
    changed = evolve(report, findings=(hostile,), problems=(crash,), path_name=path)
    root = told([changed], [problem])
    assert [one.tag for one in root] == ["testsuite", "testsuite"]
    for element in root.iter():
        for value in element.attrib.values():
            assert_harmless(value)
        assert_harmless(element.text or "")
    said = [part.text or "" for one in root.iter("testcase") for part in one]
    assert len(said) > 2
    assert all(line.startswith(OWN) for text in said for line in text.splitlines())


@pytest.mark.parametrize("name", HOSTILE.values(), ids=HOSTILE)
def test_hostile_names_in_a_document(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    def renamed(document: dict[str, Any], wanted: str) -> dict[str, Any]:
        document["model"]["name"] = wanted
        document["overrides"][0] |= {"name": wanted, "release": "at-once"}
        document["channels"][1]["control"] = wanted
        return document

    visible = "".join(char for char in name if char.isprintable())
    for file, wanted in (("a", name), ("b", visible)):
        text = json.dumps(renamed(clean("plain"), wanted))
        Path(f"{file}.setup.json").write_text(text, encoding="utf-8")
    main(["inspect", "--report", "junit=out.xml"])
    text = Path("out.xml").read_text(encoding="ascii")
    root = parsed(text)
    assert_harmless(text)
    assert [suite.get("name") for suite in root] == ["a.setup.json", "b.setup.json"]
    failure = case(root[1], "conflicts/unknown-name").find("failure")
    assert failure is not None
    spelt = visible.replace("##", "#\\u0023").replace("::", ":\\u003a")
    assert spelt in (failure.get("message") or "")


@pytest.mark.parametrize("name", ["::error::x.setup.json", "##[x]&<>\n\x1b.setup.json"])
def test_hostile_file_names(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path(name).write_text(json.dumps({**clean("plain"), "overrides": []}), encoding="utf-8")
    assert main(["inspect", "--report", "junit=out.xml"]) == 1
    text = Path("out.xml").read_text(encoding="ascii")
    assert_harmless(text)
    (suite,) = parsed(text)
    assert (suite.get("name") or "").endswith(".setup.json")


def test_what_is_harmless_stays_as_it_is() -> None:
    report = plover()
    said = "Kanal „Höhe“: 1900 µs, a & b < c > d, #3 of 4: [x]"
    changed = evolve(report, findings=(evolve(report.findings[0], message=said),))
    failure = case(told([changed]), "throttle/no-cut").find("failure")
    assert failure is not None
    assert failure.get("message") == f"danger: {said}"
