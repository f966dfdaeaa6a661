"""Settings files: where they are found, what they may say, and that reports tell it."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import jsonschema_rs
import pytest

from prebind import Configuration, Inspector
from prebind.cli import main
from prebind.inspect.nearest import Nearest, Under
from prebind.inspect.settings import Found, read
from prebind.testing import clean
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from prebind.problem import Problem

INSPECTOR = Inspector()
RULES = INSPECTOR.rules
SHEET = Path(__file__).parents[1] / "examples" / "packs" / "tern-bay.rules.json"
SLOW = "travel/slow-primary"
VALID = jsonschema_rs.validator_for(json.loads(schema_text("inspection")))
SCHEMA = json.loads(schema_text("settings"))


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def put(text: str, file: str = "prebind.toml") -> None:
    Path(file).parent.mkdir(parents=True, exist_ok=True)
    Path(file).write_text(text, encoding="utf-8")


def slow(file: str = "a.setup.json") -> None:
    """A trainer with one finding, a caution; and no spare channel, a notice."""
    document = clean()
    document["channels"][1]["slow_s"] = 1.5
    document["transmitter"]["channels"] = 6
    put(json.dumps(document), file)


def inspected(*arguments: str) -> tuple[int, dict[str, Any]]:
    code = main(["inspect", "--report", "json=out.json", *arguments])
    report: dict[str, Any] = json.loads(Path("out.json").read_text(encoding="utf-8"))
    assert VALID.is_valid(report)
    return code, report


def rules(document: dict[str, Any]) -> list[tuple[str, str]]:
    return [(f["rule"], f["word"]) for f in document["findings"] if f["kind"] == "fail"]


# What a file may say

WHOLE = """\
ground_at = "notice"
leave_out = ["pulses", "bands/gap"]
packs = ["club.rules.json"]
region = "uk"

[settings."bands/thin-margin"]
margin_us = 30.5
word = "warning"
"""


def test_everything_that_can_be_said() -> None:
    put(WHOLE)
    read_file = read("prebind.toml", INSPECTOR)
    assert isinstance(read_file, Found)
    found = read_file.settings
    assert (found.ground_at, found.leave_out) == ("notice", ("pulses", "bands/gap"))
    assert (found.packs, found.region) == (("club.rules.json",), "uk")
    assert found.words == {"bands/thin-margin": "warning"}
    assert found.numbers == {"bands/thin-margin": {"margin_us": 30.5}}
    assert found.lines == {
        ("ground_at",): 1,
        ("leave_out",): 2,
        ("packs",): 3,
        ("region",): 4,
        ("settings",): 6,
        ("settings", "bands/thin-margin", "margin_us"): 7,
        ("settings", "bands/thin-margin", "word"): 8,
    }
    assert found.over(Configuration(leave_out=("power",))).leave_out == (
        "power",
        "pulses",
        "bands/gap",
    )
    jsonschema.validate(tomllib.loads(WHOLE), SCHEMA)


FAULTS = [
    ('groundat = "notice"', "1:1", "“groundat” is no setting; did you mean “ground_at”?"),
    (
        "zzz = 1",
        "1:1",
        "“zzz” is no setting; known are ground_at, leave_out, packs, without_packs, ",
    ),
    ("\nground_at = 3", "2:1", "`ground_at` must be danger, warning, caution or notice, not 3"),
    ('ground_at = "dangr"', "1:1", "not “dangr”; did you mean “danger”?"),
    ('region = "fr"', "1:1", "`region` must be us, eu or uk, not “fr”"),
    ('leave_out = "bands"', "1:1", '`leave_out` must be a list of texts, as in ["a", "b"], not'),
    ("leave_out = [true]", "1:1", "`leave_out` must be a list of texts; it has true in it"),
    ("packs = {}", "1:1", "`packs` must be a list of texts, as in"),
    ("settings = 1979-05-27", "1:1", "`settings` must be tables"),
    ('[settings]\n"bands/gap" = 4', "2:1", "what is set for “bands/gap” must be a table, not 4"),
    ("[settings.bands.gap]\nword = 1", "1:11", "“bands” is no rule; write a rule in quotes: [se"),
    (
        '[settings."bands/gap"]\nword = "bad"',
        "2:1",
        "`word` must be danger, warning, caution or notice, not “bad”",
    ),
]
BEYOND_THE_SCHEMA = [
    (
        '[settings."pulses/frame-too-fast"]\nanalogue_hz = 5e-324',
        "2:1",
        "`analogue_hz` of “pulses/frame-too-fast” must be a number from 1 up, not 5e-324",
    ),
    (
        '[settings."bands/thin-margin"]\nmargin_us = -40',
        "2:1",
        "`margin_us` of “bands/thin-margin” must be a number from 0 up, not -40",
    ),
    (
        '[settings."power/servo-weak"]\nchord_ratio = -0.5',
        "2:1",
        "`chord_ratio` of “power/servo-weak” must be a number from 0.01 to 1, not -0.5",
    ),
    (
        '[settings."power/peak"]\nstalled = 1.5',
        "2:1",
        "`stalled` of “power/peak” must be a whole number from 0 up, not 1.5",
    ),
    (
        '[settings."power/peak"]\nstalled = -1',
        "2:1",
        "`stalled` of “power/peak” must be a whole number from 0 up, not -1",
    ),
    (
        '[settings."regions/eu-classes"]\nbelow_g = [250]',
        "2:1",
        "`below_g` of “regions/eu-classes” must be a list of 5, not a list of 1",
    ),
    (
        '[settings."regions/eu-classes"]\nbelow_g = [250, 900, "a", 25000, 25000]',
        "2:1",
        "`below_g` of “regions/eu-classes” must be a list of 5, each a number, not a list of 5",
    ),
    ('leave_out = [\n "bands",\n "bandz",\n]', "3:2", "“bandz” is no rule or family; did you mean"),
    ('[settings."bands/gapp"]', "1:11", "“bands/gapp” is no rule; did you mean “bands/gap”?"),
    (
        'region = "us" # margin\n[settings."bands/thin-margin"]\nmargin = 3',
        "3:1",
        "“margin” is no setting of “bands/thin-margin”; did you mean “margin_us”?",
    ),
    (
        '[settings."bands/thin-margin"]\nmargin_us = "3"',
        "2:1",
        "`margin_us` of “bands/thin-margin” must be a number, not “3”",
    ),
    (
        '[settings."bands/thin-margin"]\nmargin_us = true',
        "2:1",
        "`margin_us` of “bands/thin-margin” must be a number, not true",
    ),
    ('settings."bands/thin-margin".margin_us = nan', "1:30", "must be a number, not nan"),
]
NO_TOML = [
    ("ground_at = ", "1:13", "this is not TOML: Invalid value"),
    ("a = 1\na = 2", "2:6", "this is not TOML: Cannot overwrite a value"),
    ("a = [", None, "this is not TOML: Invalid value"),
    ("a = " + "[" * 5000, None, "this is nested too deeply"),
    ("a = " + "9" * 5000, None, "this is not TOML: "),
    ("#" * 300_000, None, "the settings have more than 262,144 bytes"),
]


@pytest.mark.parametrize(("text", "at", "says"), FAULTS + BEYOND_THE_SCHEMA + NO_TOML)
def test_what_is_wrong_is_told_with_its_place(text: str, at: str | None, says: str) -> None:
    put(text)
    problem = only(read("prebind.toml", INSPECTOR))
    assert problem.path == "prebind.toml"
    assert says in problem.message
    if at is not None:
        assert f"{problem.line}:{problem.column}" == at


def only(found: object) -> Problem:
    assert isinstance(found, list)
    (problem,) = found
    return problem


@pytest.mark.parametrize("text", [text for text, *_ in FAULTS])
def test_an_editor_with_the_schema_says_so_too(text: str) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    validator = jsonschema.Draft202012Validator(SCHEMA)
    given = json.loads(json.dumps(tomllib.loads(text), default=str))
    assert not validator.is_valid(given)


@pytest.mark.parametrize("text", [text for text, *_ in BEYOND_THE_SCHEMA[:-1]])
def test_names_of_rules_are_beyond_the_schema(text: str) -> None:
    jsonschema.validate(tomllib.loads(text), SCHEMA)


def test_no_number_of_ours_can_be_negative() -> None:
    """A margin below nothing would silence its rule without a word."""
    numbers = [
        (rule.id, name)
        for rule in RULES.values()
        for name, setting in rule.settings.items()
        if isinstance(setting.default, int | float) and not isinstance(setting.default, bool)
    ]
    assert len(numbers) > 20
    for rule, name in numbers:
        put(f'[settings."{rule}"]\n{name} = -1')
        problem = only(read("prebind.toml", INSPECTOR))
        assert f"`{name}` of “{rule}” must be a " in problem.message


def test_several_faults_come_by_line() -> None:
    put('zzz = 1\nground_at = 2\n[settings."bands/gap"]\nmargin = 1\n')
    found = read("prebind.toml", INSPECTOR)
    assert isinstance(found, list)
    assert [problem.line for problem in found] == [1, 2, 4]


def test_not_utf_8() -> None:
    Path("prebind.toml").write_bytes(b"# a\nregion = '\xff'")
    problem = only(read("prebind.toml", INSPECTOR))
    assert (problem.line, problem.message) == (2, "this is not UTF-8; save the file as UTF-8")


def test_a_folder_of_that_name() -> None:
    Path("prebind.toml").mkdir()
    assert only(read("prebind.toml", INSPECTOR)).message == (
        "the settings cannot be read: it is no file"
    )


# Which file


def test_the_nearest_upward_counts() -> None:
    put('region = "uk"')
    put('region = "us"', "club/prebind.toml")
    Path("club/deep/er").mkdir(parents=True)
    nearest = Nearest(INSPECTOR)

    def region(path: str) -> str | None:
        found = nearest.of(path)
        assert isinstance(found, Under)
        return found.settings.region if found.settings is not None else None

    assert region("a.setup.json") == region("-") == "uk"
    assert region("club/a.setup.json") == region("club/deep/er/a.setup.json") == "us"
    assert nearest.of("club/deep/a.setup.json") is nearest.of("club/b.setup.json")


def test_each_folder_is_looked_into_once(monkeypatch: pytest.MonkeyPatch) -> None:
    from prebind.inspect import settings

    asked: list[str] = []
    there = settings.os.path.lexists
    monkeypatch.setattr(
        settings.os.path, "lexists", lambda path: bool(asked.append(path)) or there(path)
    )
    nearest = Nearest(INSPECTOR)
    for name in ("x/y/a.setup.json", "x/y/b.setup.json", "x/c.setup.json", "d.setup.json"):
        assert nearest.of(name) == Under(nearest.plain)
    assert len(asked) == len(set(asked))
    assert asked[0] == str(Path.cwd() / "x" / "y" / "prebind.toml")


# In an inspection


def test_each_document_under_its_own() -> None:
    slow()
    slow("club/a.setup.json")
    put('ground_at = "notice"\nleave_out = ["travel"]', "club/prebind.toml")
    code, report = inspected("club")
    assert code == 1  # no spare channel
    outer, inner = inspected()[1]["documents"]
    assert rules(outer) == [(SLOW, "caution"), ("capacity/spare", "notice")]
    assert rules(inner) == [("capacity/spare", "notice")]
    assert "settings" not in outer
    assert inner["settings"] == {
        "file": "club/prebind.toml",
        "ground_at": "notice",
        "leave_out": ["travel"],
    }
    assert SLOW in inner["not_run"]
    assert SLOW not in outer["not_run"]
    assert report["settings"]["ground_at"] == "caution"


def test_words_and_numbers_count() -> None:
    slow()
    put(f'[settings."{SLOW}"]\nword = "notice"\n[settings."capacity/spare"]\nspare = 0')
    code, report = inspected()
    assert code == 0
    (document,) = report["documents"]
    assert rules(document) == [(SLOW, "notice")]
    assert document["settings"]["rules"] == {
        SLOW: {"word": "notice"},
        "capacity/spare": {"numbers": {"spare": 0}},
    }


def test_the_command_line_wins() -> None:
    slow()
    put('ground_at = "danger"\nleave_out = ["travel"]')
    assert inspected()[0] == 0
    code, report = inspected("--ground-at", "notice", "--leave-out", "bands")
    assert code == 1
    (document,) = report["documents"]
    assert (SLOW, "caution") in rules(document)
    assert document["settings"] == {"file": "prebind.toml"}
    assert report["settings"]["leave_out"] == ["bands"]


def test_a_named_file_counts_alone() -> None:
    slow("club/a.setup.json")
    put('ground_at = "danger"', "club/prebind.toml")
    put("", "trusted.toml")
    assert inspected()[0] == 0
    assert inspected("--settings", "trusted.toml")[0] == 1


def test_the_text_says_what_a_file_left_out(capsys: pytest.CaptureFixture[str]) -> None:
    slow()
    shutil.copy(SHEET, "club.rules.json")
    put(f'leave_out = ["{SLOW}", "rates"]\npacks = ["club.rules.json"]')
    assert main(["inspect", "--leave-out", "bands/gap"]) == 1
    assert "Left out by" not in capsys.readouterr().out
    assert main(["inspect"]) == 0
    text = capsys.readouterr().out
    assert f"Settings of prebind.toml: leave_out {SLOW}, rates; packs club.rules.json." in text
    assert "Left out by prebind.toml, not run: rates/dead, rates/none-holds," in text


def test_the_text_names_the_word_that_grounds(capsys: pytest.CaptureFixture[str]) -> None:
    slow()
    slow("club/a.setup.json")
    put('ground_at = "notice"', "club/prebind.toml")
    main(["inspect", "club"])
    assert "Grounded by 2 findings (notice or worse)." in capsys.readouterr().out
    main(["inspect"])
    assert "Grounded by 3 findings (as the settings of each say)." in capsys.readouterr().out


def test_documents_under_a_broken_file_are_inspected_without_it() -> None:
    slow()
    slow("b.setup.json")
    put('ground_at = "danger"\nleaveout = ["travel"]')
    code, report = inspected()
    assert code == 2
    assert [rules(document)[0] for document in report["documents"]] == [(SLOW, "caution")] * 2
    (problem,) = report["problems"]
    assert (problem["path"], problem["line"], problem["column"]) == ("prebind.toml", 2, 1)
    assert "did you mean “leave_out”?" in problem["message"]


def test_a_named_file_that_is_broken_ends_the_run(capsys: pytest.CaptureFixture[str]) -> None:
    slow()
    put("region = 1", "mine.toml")
    for name in ("mine.toml", "gone.toml"):
        assert main(["inspect", "--settings", name]) == 2
    out, error = capsys.readouterr()
    assert out == ""
    mine, gone = error.splitlines()
    assert mine == "mine.toml:1:1: problem: `region` must be us, eu or uk, not 1"
    assert gone == "gone.toml: problem: the settings cannot be read: No such file or directory"


def test_no_report_takes_the_place_of_the_settings() -> None:
    slow()
    put('region = "uk"')
    assert main(["inspect", "--report", "json=prebind.toml"]) == 2
    assert Path("prebind.toml").read_text(encoding="utf-8") == 'region = "uk"'


def test_what_is_in_force_and_who_decided(capsys: pytest.CaptureFixture[str]) -> None:
    put(WHOLE)
    assert main(["inspect", "--show-settings", "a.setup.json", "--ground-at", "danger"]) == 0
    lines = [re.split(" {2,}", line) for line in capsys.readouterr().out.splitlines()]
    told = {key: (value, origin) for key, value, origin in lines}
    assert told["ground_at"] == ("danger", "--ground-at")
    assert told["leave_out"] == ("pulses, bands/gap", "prebind.toml:2")
    assert told["region"] == ("uk", "prebind.toml:4")
    assert told["bands/thin-margin margin_us"] == ("30.5", "prebind.toml:7")
    assert told["bands/thin-margin word"] == ("warning", "prebind.toml:8")
    assert told["capacity/spare spare"] == ("2", "default")
    assert told["bands/gap word"] == ("warning", "default")
    put('region = "us"', "club/prebind.toml")
    assert main(["inspect", "--show-settings", "club"]) == 0
    assert re.search(r"^region +us +club/prebind\.toml:1$", capsys.readouterr().out, re.MULTILINE)
    put("x = 1", "club/prebind.toml")
    assert main(["inspect", "--show-settings", "club"]) == 2
    assert capsys.readouterr().err.startswith("club/prebind.toml:1:1: problem: ")
