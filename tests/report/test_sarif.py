"""The inspection as SARIF.

Numbers in brackets are sections of SARIF 2.1.0, from memory where the schema does not check them.
"""

from __future__ import annotations

import contextlib
import io
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import jsonschema
import jsonschema_rs
import pytest
from attrs import evolve
from jsonpatch import JsonPatch
from jsonpointer import resolve_pointer
from tests.made_pack import with_rules

import prebind
from prebind import Configuration, Document, Inspector, Problem, Report, read
from prebind.cli import main
from prebind.format import Run, Sheet
from prebind.inspect.finding import Earlier, Waived
from prebind.rule import PASS, Answer, Cause, Fails, Fix, put, remove, rule
from prebind.testing import clean, patched

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

TESTS = Path(__file__).parents[1]
EXAMPLES = TESTS / "examples"
INSPECTOR = Inspector()

# OASIS SARIF 2.1.0, errata 01: the JSON Schema, draft-04; see the README beside it
SCHEMA = json.loads((TESTS / "data" / "sarif" / "sarif-2.1.0.json").read_text(encoding="utf-8"))

# The rulebook's table of signal words
LEVELS = {"danger": "error", "warning": "error", "caution": "warning", "notice": "note"}


@cache
def validators() -> tuple[Any, Any]:
    return jsonschema.Draft4Validator(SCHEMA), jsonschema_rs.validator_for(SCHEMA)


def errors(log: dict[str, Any]) -> list[str]:
    return [f"{error.instance_path}: {error.message}" for error in validators()[1].iter_errors(log)]


def told(
    reports: Sequence[Report],
    problems: Sequence[Problem] = (),
    inspector: Inspector = INSPECTOR,
    **run: Any,
) -> dict[str, Any]:
    """The only run of a valid log."""
    out = io.StringIO()
    writer = INSPECTOR.formats["sarif"].begin(Sheet(out), Run(inspector, **run))
    for report in reports:
        writer.document(report)
    writer.end([*problems, *(problem for report in reports for problem in report.problems)])
    return only_run(json.loads(out.getvalue()))


def only_run(log: dict[str, Any]) -> dict[str, Any]:
    assert errors(log) == []
    (run,) = log["runs"]
    assert isinstance(run, dict)
    return run


def by_rule(run: dict[str, Any], name: str) -> dict[str, Any]:
    """The only result of a rule."""
    (result,) = [result for result in run["results"] if result["ruleId"] == name]
    assert isinstance(result, dict)
    return result


def text_of(path: str) -> str:
    return (EXAMPLES / path).read_bytes().decode().removeprefix("\ufeff")


def cut(text: str, region: dict[str, int]) -> str:
    """What a region covers; columns are code points, the end is the first one behind (3.30)."""
    lines = text.splitlines(keepends=True)
    starts = [sum(map(len, lines[:index])) for index in range(len(lines) + 1)]
    start = starts[region["startLine"] - 1] + region["startColumn"] - 1
    end = starts[region["endLine"] - 1] + region["endColumn"] - 1
    return text[start:end]


@cache
def plover(change: Callable[[dict[str, Any]], object] | None = None) -> Report:
    """A setup with no cut, no power section and no spare channel, then changed."""
    document = clean("plain")
    document["overrides"] = []
    document["transmitter"]["channels"] = 4
    del document["power"]
    if change is not None:
        change(document)
    return INSPECTOR.inspect(json.dumps(document), path="plover.setup.json")


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The log on all examples, clean, faulty and broken, by the command line."""
    file = tmp_path_factory.mktemp("sarif") / "all.sarif"
    with contextlib.chdir(EXAMPLES), contextlib.redirect_stderr(io.StringIO()):
        code = main(["inspect", "fleet", "faulty", "broken", "--report", f"sarif={file}"])
    assert code == 2
    log: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return log


# --- the standard ---------------------------------------------------------------------------


def test_the_fleet_is_valid(fleet: dict[str, Any]) -> None:
    assert errors(fleet) == []
    assert fleet["$schema"] == SCHEMA["id"]
    assert fleet["version"] == "2.1.0"


def test_two_validators_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(EXAMPLES)
    report = INSPECTOR.inspect_file("faulty/dunlin-faulty.setup.json")
    out = io.StringIO()
    writer = INSPECTOR.formats["sarif"].begin(Sheet(out), Run(INSPECTOR))
    writer.document(report)
    writer.end([])
    log = json.loads(out.getvalue())
    slow, fast = validators()
    assert [error.message for error in slow.iter_errors(log)] == []
    assert fast.is_valid(log)
    log["runs"][0]["results"][0]["level"] = "danger"
    assert [error.json_path for error in slow.iter_errors(log)] == ["$.runs[0].results[0].level"]
    assert not fast.is_valid(log)


def test_a_level_goes_with_a_fail_and_with_nothing_else(fleet: dict[str, Any]) -> None:
    """3.27.10; the schema does not check it."""
    results = only_run(fleet)["results"]
    assert {result["kind"] for result in results} >= {"pass", "fail", "open"}
    for result in results:
        wanted = LEVELS[result["properties"]["word"]] if result["kind"] == "fail" else "none"
        assert result["level"] == wanted, result


@pytest.mark.parametrize("kind", ["open", "review"])
def test_a_word_is_no_level_where_nothing_failed(kind: Any) -> None:
    report = plover()
    changed = evolve(report, findings=tuple(evolve(f, kind=kind) for f in report.findings))
    results = [result for result in told([changed])["results"] if "properties" in result]
    assert {(result["kind"], result["level"]) for result in results} == {(kind, "none")}
    assert {result["properties"]["word"] for result in results} >= {"danger", "notice"}


def test_the_fleet_has_one_outcome_of_every_rule_for_every_document(fleet: dict[str, Any]) -> None:
    run = only_run(fleet)
    rules = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    assert rules == list(INSPECTOR.rules)
    documents = [f"{d}/{f.name}" for d in ("fleet", "faulty") for f in documents_in(d)]
    shared = {result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] for result in
              run["results"]} - set(documents)  # fmt: skip
    assert shared
    assert all("/parts/" in uri for uri in shared)
    quiet = [r for r in run["results"] if r["kind"] in ("pass", "notApplicable")]
    for file in documents:
        report = INSPECTOR.inspect_file(EXAMPLES / file)
        passed = [result["ruleId"] for result in quiet if at_document(result) == file]
        assert sorted({*passed, *(f.rule for f in report.findings)}) == sorted(rules)
        assert not set(passed) & {f.rule for f in report.findings}
        assert len(passed) == len(set(passed))


def documents_in(folder: str) -> list[Path]:
    return sorted((EXAMPLES / folder).glob("*.setup.json"))


def at_document(result: dict[str, Any]) -> str:
    (location,) = result["locations"]
    assert location["physicalLocation"].keys() == {"artifactLocation"}
    uri = location["physicalLocation"]["artifactLocation"]["uri"]
    assert isinstance(uri, str)
    return uri


# --- rules ----------------------------------------------------------------------------------


def test_every_rule_is_described() -> None:
    run = told([])
    driver = run["tool"]["driver"]
    assert driver["name"] == "prebind"
    assert driver["version"] == prebind.__version__
    assert "A person decides." in driver["fullDescription"]["text"]
    for record, known in zip(driver["rules"], INSPECTOR.rules.values(), strict=True):
        assert record["id"] == known.id
        assert record["shortDescription"]["text"] == known.title
        assert record["fullDescription"]["text"].split() == known.why.split()
        assert record["defaultConfiguration"]["level"] == LEVELS[known.word]
        assert record["properties"]["tags"] == [known.family]
        assert record["properties"]["word"] == known.word
        assert known.safety in record["help"]["text"]
        assert f"Remedy: {known.remedy}" in record["help"]["text"]
        assert "**On the bench:** " in record["help"]["markdown"]
    gap = next(record for record in driver["rules"] if record["id"] == "bands/thin-margin")
    assert gap["name"] == "BandsThinMargin"


def test_what_a_rule_says_is_no_markup(monkeypatch: pytest.MonkeyPatch) -> None:
    with_rule(monkeypatch, "bands/marked", safety="<b>a</b>\n[b](c)\n\n*d* {0}")
    rules = told([], inspector=Inspector())["tool"]["driver"]["rules"]
    record = next(record for record in rules if record["id"] == "bands/marked")
    assert record["help"]["text"] == "Safety: <b>a</b> [b] (c)\n\n*d* {{0}}"
    assert record["help"]["markdown"] == "**Safety:** \\<b\\>a\\</b\\> \\[b\\] (c)\n\n\\*d\\* {{0}}"


def test_results_point_to_their_rule(fleet: dict[str, Any]) -> None:
    run = only_run(fleet)
    rules = run["tool"]["driver"]["rules"]
    assert all(rules[result["ruleIndex"]]["id"] == result["ruleId"] for result in run["results"])


def test_settings_in_force_are_told() -> None:
    asked = Configuration(leave_out=("travel",), words={"bands/gap": "notice"})
    inspector = Inspector(asked)
    run = told([inspector.inspect(json.dumps(clean("plain")), path="a")], inspector=inspector)
    named = {result["ruleId"].partition("/")[0] for result in run["results"]}
    assert "bands" in named
    assert "travel" not in named
    rules = run["tool"]["driver"]["rules"]
    overrides = {
        override["descriptor"]["id"]: override["configuration"]
        for override in run["invocations"][0]["ruleConfigurationOverrides"]
    }
    assert overrides.pop("bands/gap") == {"level": "note"}
    assert overrides == {
        rule["id"]: {"enabled": False} for rule in rules if rule["id"].startswith("travel/")
    }


# --- findings -------------------------------------------------------------------------------


def test_one_faulty_document(fleet: dict[str, Any]) -> None:
    """Rule, place and word as noted beside the document; lines and columns counted by hand."""
    file = "faulty/dunlin-faulty.setup.json"
    found = [
        (
            result["ruleId"],
            result["level"],
            physical["region"],
            logical["fullyQualifiedName"],
        )
        for result in only_run(fleet)["results"]
        for location in result["locations"]
        if result["kind"] == "fail"
        for physical, (logical,) in [(location["physicalLocation"], location["logicalLocations"])]
        if physical["artifactLocation"] == {"uri": file, "uriBaseId": "%SRCROOT%"}
    ]

    def on_line(line: int, start: int, end: int) -> dict[str, int]:
        return {"startLine": line, "startColumn": start, "endLine": line, "endColumn": end}

    noted = json.loads(text_of("faulty/dunlin-faulty.faults.json"))["expected"]
    assert {(name, level, at) for name, level, _, at in found} == {
        (fault["rule"], LEVELS[fault["word"]], fault["at"]) for fault in noted
    }
    assert {(name, *region.values()) for name, _, region, _ in found} == {
        ("throttle/releases-live", *on_line(61, 18, 27).values()),
        ("failsafe/state", *on_line(81, 62, 65).values()),
        ("reversal/correction-backwards", *on_line(68, 45, 50).values()),
        ("reversal/stabilised-axis", *on_line(42, 19, 23).values()),
        ("failsafe/slow", *on_line(75, 18, 21).values()),
        ("travel/stabilised-axis-centre", *on_line(28, 26, 27).values()),
    }
    assert cut(text_of(file), on_line(61, 18, 27)) == '"at-once"'


def test_regions_cover_the_value_that_is_meant(fleet: dict[str, Any]) -> None:
    checked = 0
    for result in only_run(fleet)["results"]:
        physical = result["locations"][0]["physicalLocation"]
        if "region" not in physical:
            continue
        uri = physical["artifactLocation"]["uri"]
        if "/parts/" in uri:
            continue
        pointer = result["locations"][0]["logicalLocations"][0]["fullyQualifiedName"]
        text = text_of(uri)
        assert json.loads(cut(text, physical["region"])) == resolve_pointer(
            json.loads(text), pointer
        )
        checked += 1
    assert checked > 100


def test_columns_count_code_points() -> None:
    document = clean("plain")
    document["overrides"][0] |= {"name": "𝄞𝄞 cut", "release": "at-once"}
    text = json.dumps(document, ensure_ascii=False)
    run = told([INSPECTOR.inspect(text, path="a.setup.json")])
    assert run["columnKind"] == "unicodeCodePoints"
    region = by_rule(run, "throttle/releases-live")["locations"][0]["physicalLocation"]["region"]
    start = text.index('"at-once"')
    assert (region["startColumn"], region["endColumn"]) == (start + 1, start + 10)


def test_what_a_finding_says() -> None:
    result = by_rule(told([plover()]), "throttle/no-cut")
    sentence, safety, remedy = result["message"]["text"].split("\n\n")
    found = next(found for found in plover().findings if found.rule == "throttle/no-cut")
    assert (sentence, safety, remedy) == (
        found.message,
        found.safety,
        f"Remedy: {found.remedy}",
    )
    told_too = result["properties"]
    assert told_too["word"] == "danger"
    assert (told_too["safety"], told_too["remedy"]) == (found.safety, found.remedy)
    assert told_too["evidence"] == found.evidence
    assert result["partialFingerprints"] == {"prebind/v1": found.fingerprint}


def test_what_is_open_says_what_settles_it() -> None:
    result = by_rule(told([plover()]), "power/peak")
    assert (result["kind"], result["level"]) == ("open", "none")
    assert result["properties"]["settles"] == ["/power"]
    assert result["message"]["text"].endswith(f"\n\nBy hand: {result['properties']['bench']}")
    assert "propeller off" in result["properties"]["bench"].lower()


def test_a_consequence_names_its_cause() -> None:
    report = plover()
    first, second, *_ = report.findings
    changed = evolve(second, because=Cause(first.rule, "/channels/2"))
    (result,) = told([evolve(report, findings=(changed,))])["results"][:1]
    assert result["properties"]["because"] == {"rule": first.rule, "at": "/channels/2"}
    (related,) = result["relatedLocations"]
    assert related["message"]["text"] == f"It follows from {first.rule} here."
    assert related["logicalLocations"] == [{"fullyQualifiedName": "/channels/2"}]


def test_a_waived_finding_is_suppressed_and_no_other() -> None:
    """Either every result of a run has `suppressions`, or none has (3.27.23)."""
    report = plover()
    first, *others = report.findings
    waived = evolve(first, waived=Waived("on loan", "the safety officer", "2031-05-18"))
    results = told([evolve(report, findings=(waived, *others))])["results"]
    suppressed, *rest = results
    assert suppressed["suppressions"] == [
        {
            "kind": "inSource",
            "status": "accepted",
            "justification": "on loan",
            "properties": {"by": "the safety officer", "until": "2031-05-18"},
        }
    ]
    assert suppressed["kind"] == "fail"
    assert all(result["suppressions"] == [] for result in rest)


def test_what_an_earlier_report_had_is_told() -> None:
    """Either every result of a run has a `baselineState`, or none has (3.27.24)."""
    report = plover()
    first, second, *_ = report.findings
    assert not any("baselineState" in result for result in told([report])["results"])
    found = (evolve(first, baseline="new"), evolve(second, baseline="unchanged"))
    earlier = Earlier("bands/gap", "fail", "warning", "/x/1", "A {gap}.", "ab12")
    lost = Earlier("other/rule", "open", "danger", "/y", "Not known.", "cd34")
    compared = evolve(report, findings=found, gone=(earlier, lost))
    new, known, gone, left, *passed = told([compared])["results"]
    assert (new["ruleId"], new["baselineState"]) == (first.rule, "new")
    assert (known["ruleId"], known["baselineState"]) == (second.rule, "unchanged")
    index = list(INSPECTOR.rules).index("bands/gap")
    assert gone == {
        "ruleId": "bands/gap",
        "ruleIndex": index,
        "kind": "fail",
        "level": "error",
        "message": {"text": "A {{gap}}."},
        "locations": [
            {
                "physicalLocation": {
                    "artifactLocation": {"uri": "plover.setup.json", "uriBaseId": "%SRCROOT%"}
                },
                "logicalLocations": [{"fullyQualifiedName": "/x/1"}],
            }
        ],
        "partialFingerprints": {"prebind/v1": "ab12"},
        "suppressions": [],
        "properties": {"word": "warning"},
        "baselineState": "absent",
    }
    assert (left["kind"], left["level"]) == ("open", "none")
    assert "ruleIndex" not in left  # a rule that is not here any more
    states = {result["ruleId"]: result["baselineState"] for result in passed}
    assert states.pop("bands/gap") == "new"
    assert set(states.values()) == {"unchanged"}


def test_a_rule_that_does_not_apply_is_no_pass() -> None:
    report = evolve(plover(), not_applicable=("bands/gap",))
    run = told([report])
    assert by_rule(run, "bands/gap")["kind"] == "notApplicable"
    assert by_rule(run, "bands/gap")["level"] == "none"
    assert by_rule(run, "capacity/channels")["kind"] == "pass"


@pytest.mark.parametrize("name", ["{0} {{1}}", "[here](https://example.org)", "a\u202eb\x1b[31m"])
def test_a_document_cannot_write_links_or_placeholders(name: str) -> None:
    """Embedded links, 3.11.6; placeholders, 3.11.5: braces are doubled."""
    report = plover()
    hostile = evolve(report.findings[0], message=f"{name} fails.", evidence={"name": name})
    (result, *_) = told([evolve(report, findings=(hostile,))])["results"]
    said = result["message"]["text"].partition(" fails.")[0]
    assert "](" not in said
    assert said.replace("{{", "").replace("}}", "").count("{") == 0
    assert said.isprintable()
    assert result["properties"]["evidence"] == {"name": name}


# --- files ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    ["a b#c?d%41.setup.json", "möwe/тест.setup.json", "c:x.setup.json", "a\\b\n&<>.setup.json"],
)
def test_file_names_are_uris(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    file = tmp_path / name
    file.parent.mkdir(exist_ok=True)
    file.write_text(json.dumps(clean("plain")), encoding="utf-8")
    assert main(["inspect", "--report", "sarif=out.sarif"]) == 0
    run = only_run(json.loads(Path("out.sarif").read_text(encoding="ascii")))
    for result in run["results"]:
        artifact = result["locations"][0]["physicalLocation"]["artifactLocation"]
        assert artifact["uriBaseId"] in run["originalUriBaseIds"]
        assert unquote(artifact["uri"]) == name
        # RFC 3986: only unreserved characters and slashes; no colon in the first segment (4.2)
        assert set(artifact["uri"]) <= set(
            "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~%/"
        )


def test_a_file_outside_the_folder_has_a_whole_uri(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    (tmp_path / "a b.setup.json").write_text(json.dumps(clean("plain")), encoding="utf-8")
    assert main(["inspect", "../a b.setup.json", "--report", "sarif=out.sarif"]) == 0
    run = only_run(json.loads(Path("out.sarif").read_text(encoding="ascii")))
    artifact = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert artifact == {"uri": f"{tmp_path.as_uri()}/a%20b.setup.json"}


def test_standard_input_is_no_file() -> None:
    report = evolve(plover(), document=read(json.dumps(clean("plain"))), path_name="-")
    for result in told([report])["results"]:
        artifact = result["locations"][0]["physicalLocation"]["artifactLocation"]
        assert artifact == {"uri": "-", "description": {"text": "standard input"}}


def test_a_setup_that_never_was_text_has_no_regions() -> None:
    document = clean("plain")
    document["overrides"][0]["release"] = "at-once"
    result = by_rule(told([INSPECTOR.inspect(document)]), "throttle/releases-live")
    (location,) = result["locations"]
    assert "region" not in location["physicalLocation"]
    assert location["logicalLocations"] == [{"fullyQualifiedName": "/overrides/0/release"}]
    assert "fixes" not in result
    assert result["properties"]["patch"][0]["value"] == "at-low"


# --- fixes ----------------------------------------------------------------------------------


def mended(text: str, fix: dict[str, Any]) -> str:
    """The text with a fix laid on it, from behind so that places stay right."""
    (change,) = fix["artifactChanges"]
    regions = [replacement["deletedRegion"] for replacement in change["replacements"]]
    order = sorted(range(len(regions)), key=lambda i: list(regions[i].values()), reverse=True)
    for index in order:
        region = regions[index]
        before = {**region, "startLine": 1, "startColumn": 1,
                  "endLine": region["startLine"], "endColumn": region["startColumn"]}  # fmt: skip
        start = cut(text, before)
        after = text[len(start) + len(cut(text, region)) :]
        text = start + change["replacements"][index]["insertedContent"]["text"] + after
    return text


def assert_exact(text: str, result: dict[str, Any], path: Path, root: Path) -> None:
    """The mended text must say just what the patch makes of the document."""
    before = read(text, path=str(path), root=root)
    after = read(mended(text, result["fixes"][0]), path=str(path), root=root)
    assert isinstance(before, Document)
    assert isinstance(after, Document), after
    assert after.data == JsonPatch(result["properties"]["patch"]).apply(before.data)


def test_fixes_of_the_fleet_are_exact(fleet: dict[str, Any]) -> None:
    fixed = [result for result in only_run(fleet)["results"] if "fixes" in result]
    for result in fixed:
        (fix,) = result["fixes"]
        uri = fix["artifactChanges"][0]["artifactLocation"]["uri"]
        assert_exact(text_of(uri), result, EXAMPLES / uri, EXAMPLES)
        assert ("Keeps" in fix["description"]["text"]) == (
            result["properties"]["applies"] == "safe"
        )
        assert "not the radio" in fix["description"]["text"]
    assert {"reversal/twice", "throttle/releases-live", "failsafe/state"} <= {
        result["ruleId"] for result in fixed
    }


def test_fixes_of_the_rules_examples_are_exact(tmp_path: Path) -> None:
    texts: dict[str, str] = {}
    reports: list[Report] = []
    for known in INSPECTOR.rules.values():
        if known.family == "regions":  # which remind, and never fail
            continue
        example = next(example for example in known.examples() if isinstance(example, Fails))
        texts[known.id] = json.dumps(patched(clean(example.start), example.patch), indent=1)
        report = INSPECTOR.inspect(texts[known.id], path="a.setup.json")
        found = tuple(one for one in report.findings if one.rule == known.id and one.fix)
        reports.append(evolve(report, findings=found, not_run=tuple(INSPECTOR.rules)))
    results = told(reports)["results"]
    assert len(results) > 30
    for result in results:
        assert_exact(texts[result["ruleId"]], result, tmp_path / "a.setup.json", tmp_path)


NOT_AS_TEXT: dict[str, list[dict[str, Any]]] = {
    "no place": [{"op": "replace", "path": "channels", "value": 1}],
    "no path": [{"op": "replace", "value": 1}],
    "nothing there": [{"op": "add", "path": "/x-a/x-b", "value": 1}],
    "the second does not fit": [
        {"op": "replace", "path": "/channels/0/channel", "value": 7},
        {"op": "remove", "path": "/channels/77"},
    ],
}
AS_TEXT: dict[str, list[dict[str, Any]]] = {
    "a value": [{"op": "replace", "path": "/model/name", "value": "Möwe 𝄞"}],
    "a value that is there already": [{"op": "add", "path": "/model/name", "value": "{}"}],
    "a new section": [{"op": "add", "path": "/x-a", "value": {"b": [1, None]}}],
    "a new member with slashes": [{"op": "add", "path": "/model/x-a~1b~0", "value": None}],
    "the first member": [{"op": "add", "path": "/x-empty/a", "value": "\u202e"}],
    "the last item": [{"op": "add", "path": "/x-list/-", "value": {"b": 2}}],
    "a removal": [{"op": "remove", "path": "/x-list/0"}],
    "two far apart": [
        {"op": "replace", "path": "/model/name", "value": "Whimbrel"},
        {"op": "add", "path": "/x-list/0", "value": 1},
    ],
    "one inside the other": [
        {"op": "replace", "path": "/x-list/1", "value": {"a": 1}},
        {"op": "add", "path": "/x-list/1/b", "value": True},
    ],
}


def with_patch(operations: list[dict[str, Any]]) -> tuple[str, dict[str, Any]]:
    """A text, and a result whose finding has this patch."""
    text = json.dumps(
        {**clean("plain"), "overrides": [], "x-empty": {}, "x-list": [[], 2]}, indent=2
    )
    report = INSPECTOR.inspect(text, path="a.setup.json")
    changed = evolve(report.findings[0], fix=Fix("safe", tuple(operations)))
    return text, told([evolve(report, findings=(changed,))])["results"][0]


@pytest.mark.parametrize("operations", NOT_AS_TEXT.values(), ids=NOT_AS_TEXT)
def test_a_change_that_text_does_not_say_exactly_is_told_as_a_patch(
    operations: list[dict[str, Any]],
) -> None:
    _, result = with_patch(operations)
    assert "fixes" not in result
    assert result["properties"]["patch"] == operations


def test_a_change_of_a_very_long_text_is_told_as_a_patch() -> None:
    document = clean("plain") | {"x-note": "tern " * 60_000}
    document["overrides"][0]["release"] = "at-once"
    result = by_rule(told([INSPECTOR.inspect(json.dumps(document))]), "throttle/releases-live")
    assert "fixes" not in result
    assert result["properties"]["patch"][0]["path"] == "/overrides/0/release"


@pytest.mark.parametrize("operations", AS_TEXT.values(), ids=AS_TEXT)
def test_a_change_as_text(operations: list[dict[str, Any]], tmp_path: Path) -> None:
    text, result = with_patch(operations)
    assert_exact(text, result, tmp_path / "a.setup.json", tmp_path)


@pytest.mark.parametrize(
    ("operation", "as_text"),
    [
        (put("/transmitter/channels", 5), True),  # laid over the part
        (put("/transmitter/x-new", [{}]), True),
        (put("/transmitter/name", "Club set"), True),  # the part has another
        (put("/transmitter/x-note", "back"), True),  # taken out with null
        (put("/transmitter/x-list/-", 2), True),
        (put("/transmitter/output/x-new", 1), False),  # would have to go into the part
        (put("/transmitter/x-new", {"a": 1}), False),  # could be merged
        (put("/transmitter/x-inner", {"c": 1}), False),
        (put("/transmitter/x-new", None), False),  # would take it out
        (remove("/transmitter/channels"), False),  # would bare the part's
        (remove("/transmitter"), False),
    ],
)
def test_a_change_over_a_shared_part(
    operation: dict[str, Any], as_text: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    document = clean("plain")
    own = {"from": "radio.json", "channels": 4, "x-note": None, "x-inner": {"b": 2}, "x-list": [1]}
    part = {**document["transmitter"], "name": "Club", "x-note": "old", "x-inner": {"a": 1}}
    Path("radio.json").write_text(json.dumps(part), encoding="utf-8")
    text = json.dumps({**document, "overrides": [], "transmitter": own})
    report = INSPECTOR.inspect(text, path="a.setup.json", root=tmp_path)
    assert not report.problems
    fix = Fix("decide", (operation,))
    (result, *_) = told([evolve(report, findings=(evolve(report.findings[0], fix=fix),))])[
        "results"
    ]
    assert ("fixes" in result) == as_text
    if as_text:
        assert_exact(text, result, tmp_path / "a.setup.json", tmp_path)


# --- the run --------------------------------------------------------------------------------


def with_rule(
    monkeypatch: pytest.MonkeyPatch, name: str, judge: Callable[..., Answer] = lambda *_: PASS,
    safety: str = "",
) -> None:  # fmt: skip
    """One more pack with one rule."""
    made = rule(
        name, word="warning", title=name, each="setup", safety=safety, remedy="", bench="",
        source="", examples=list,
    )(judge)  # fmt: skip
    with_rules(monkeypatch, made)


def test_exit_codes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    document = clean("plain")
    for name, overrides in (("good", document["overrides"]), ("bad", [])):
        text = json.dumps(document | {"overrides": overrides})
        Path(f"{name}.setup.json").write_text(text, encoding="utf-8")
    Path("broken.setup.json").write_text('{\n  "format": "model-setup/1",\n}\n', encoding="utf-8")
    ended = {}
    for name in ("good", "bad", "broken"):
        code = main(["inspect", f"{name}.setup.json", "--report", "sarif=out.sarif"])
        run = only_run(json.loads(Path("out.sarif").read_text(encoding="utf-8")))
        (invocation,) = run["invocations"]
        assert invocation["exitCode"] == code
        ended[name] = (code, invocation["executionSuccessful"])
    assert ended == {"good": (0, True), "bad": (1, True), "broken": (2, False)}
    (note,) = invocation["toolExecutionNotifications"]
    assert note["level"] == "error"
    assert "comma" in note["message"]["text"]
    assert note["locations"] == [
        {
            "physicalLocation": {
                "artifactLocation": {"uri": "broken.setup.json", "uriBaseId": "%SRCROOT%"},
                "region": {"startLine": 2, "startColumn": 28},
            }
        }
    ]
    assert run["results"] == []


def test_ground_at_and_complete_decide_the_exit_code() -> None:
    spare = plover(lambda document: document.update(overrides=clean("plain")["overrides"]))
    assert {found.word for found in spare.findings if found.kind == "fail"} == {"notice"}

    def code(**run: Any) -> int:
        number = told([spare], **run)["invocations"][0]["exitCode"]
        assert isinstance(number, int)
        return number

    assert (code(), code(ground_at="notice"), code(complete=True)) == (0, 1, 1)


def test_a_rule_that_crashes_is_no_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object) -> Answer:
        raise ZeroDivisionError("{three}")

    with_rule(monkeypatch, "bands/breaks", breaks)
    inspector = Inspector()
    report = inspector.inspect(json.dumps(clean("plain")), path="a.setup.json")
    pack = Problem("lost-pack", "the rule pack cannot be loaded", pack="lost-pack 1.0")
    monkeypatch.setattr(Inspector, "problems", (pack,))
    run = told([report], [pack], inspector)
    assert "bands/breaks" not in {result["ruleId"] for result in run["results"]}
    lost, crash = run["invocations"][0]["toolExecutionNotifications"]
    assert "ZeroDivisionError: {{three}}" in crash["message"]["text"]
    index = crash["associatedRule"].pop("index")
    assert crash["associatedRule"] == {"id": "bands/breaks"}
    assert run["tool"]["driver"]["rules"][index]["id"] == "bands/breaks"
    assert crash["properties"] == {"pack": "made-pack 2.0"}
    uri = crash["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert uri == "a.setup.json"
    assert lost["properties"] == {"pack": "lost-pack 1.0"}
    assert "locations" not in lost  # a pack is no file of the run


def test_documents_are_written_one_by_one() -> None:
    out = io.StringIO()
    writer = INSPECTOR.formats["sarif"].begin(Sheet(out), Run(INSPECTOR))
    writer.document(plover())
    first = out.getvalue()
    writer.document(evolve(plover(), path_name="second.setup.json"))
    second = out.getvalue()
    assert second.startswith(first)
    assert first.count('"ruleIndex"') * 2 == second.count('"ruleIndex"')
    writer.end([])
    assert out.getvalue().startswith(second)
    assert out.getvalue().isascii()


def test_no_documents_are_valid() -> None:
    assert told([])["results"] == []


# --- fingerprints ---------------------------------------------------------------------------


def turned(value: Any) -> Any:
    """The members of every object in the opposite order."""
    if isinstance(value, dict):
        return {name: turned(inner) for name, inner in reversed(value.items())}
    return [turned(inner) for inner in value] if isinstance(value, list) else value


def reworded(document: dict[str, Any]) -> dict[str, Any]:
    return {"x-note": "another note", **document, "model": {**document["model"], "name": "Other"}}


def entries_moved(document: dict[str, Any]) -> dict[str, Any]:
    lists = {name: value[::-1] for name, value in document.items() if isinstance(value, list)}
    return document | lists


@pytest.mark.parametrize(
    ("change", "indent"),
    [(dict, None), (dict, 7), (turned, 2), (reworded, 2), (entries_moved, 2)],
    ids=["one line", "another indent", "keys in another order", "other words", "entries moved"],
)
@pytest.mark.parametrize("name", ["redshank-faulty", "razorbill-faulty", "phalarope-faulty"])
def test_fingerprints_survive_what_has_nothing_to_do_with_them(
    name: str, change: Callable[[dict[str, Any]], dict[str, Any]], indent: int | None
) -> None:
    file = EXAMPLES / "faulty" / f"{name}.setup.json"
    text = file.read_text(encoding="utf-8")
    edited = json.dumps(change(json.loads(text)), indent=indent)
    assert edited != text

    def prints(data: str) -> list[tuple[str, str]]:
        run = told([INSPECTOR.inspect(data, path=str(file), root=EXAMPLES)])
        return sorted(
            (result["ruleId"], result["partialFingerprints"]["prebind/v1"])
            for result in run["results"]
            if "partialFingerprints" in result
        )

    before = prints(text)
    assert len(before) > 4
    assert prints(edited) == before
    assert len({fingerprint for _, fingerprint in before}) == len(before)
