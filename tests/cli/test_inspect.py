"""`prebind inspect`: what it reads, what it prints, how it exits."""

from __future__ import annotations

import io
import json
import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from prebind.inspect.inspector import Inspector
from prebind.report import inspection_json

if TYPE_CHECKING:
    from tests.cli.conftest import Run, Write

EXAMPLES = Path(__file__).parents[1] / "examples"
FAULTY = EXAMPLES / "faulty"

# GNU coding standards, “Formatting Error Messages”: sourcefile:lineno:column: message
GNU = re.compile(r"^(?P<file>\S.*?):(?P<line>\d+):(?P<column>\d+): (?P<word>\w+): (?P<text>.+)$")


def no_cut(document: dict[str, Any]) -> None:
    document["overrides"] = []


def no_receiver(document: dict[str, Any]) -> None:
    del document["receiver"]


# --- exit codes -----------------------------------------------------------------------------


def test_nothing_grounds(run: Run, write: Write) -> None:
    write("plover.setup.json")
    ran = run("inspect")
    assert (ran.code, ran.err) == (0, "")
    assert "1 document inspected." in ran.out
    assert "0 failed" in ran.out


def test_a_finding_grounds_from_its_word_up(run: Run, write: Write) -> None:
    file = write("plover.setup.json", lambda d: d["transmitter"].update(channels=4))
    ran = run("inspect", file)  # no spare channel: a notice
    assert ran.code == 0
    assert "notice: capacity/spare" in ran.out
    assert run("inspect", "--ground-at", "notice", file).code == 1
    cut = write("cut.setup.json", no_cut)
    assert run("inspect", "--ground-at", "danger", cut).code == 1


def test_open_outcomes_ground_when_asked(run: Run, write: Write) -> None:
    file = write("plover.setup.json", no_receiver)
    ran = run("inspect", file)
    assert ran.code == 0
    assert re.search(
        r"Nothing was found that grounds \(caution or worse\), but \d+ checks", ran.out
    )
    ran = run("inspect", "--complete", file)
    assert ran.code == 1
    assert "(caution or worse, or not checked)" in ran.out


def test_a_broken_document_beside_good_ones(run: Run, write: Write, folder: Path) -> None:
    write("a.setup.json")
    write("c.setup.json", no_cut)
    (folder / "b.setup.json").write_text('{\n  "format": "model-setup/1",\n}\n')
    ran = run("inspect")
    assert ran.code == 2
    assert "2 documents inspected." in ran.out
    assert "throttle/no-cut" in ran.out
    assert re.search(r"^b\.setup\.json:2:28: problem: .*comma", ran.out, re.MULTILINE)
    assert "Not to be trusted: 1 problem." in ran.out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--ground-at", "dangr"], "“dangr” is no signal word; did you mean “danger”?"),
        (["--report", "jsn"], "“jsn” is no format here; did you mean “json”?"),
        (["--report", "json="], "name the file after json="),
        (["--report", "json", "--report", "text"], "two reports cannot both go to the output"),
        (["--family", "throtle"], "did you mean “throttle”?"),
        (["--leave-out", "bands/gapp"], "did you mean “bands/gap”?"),
        (["--fam", "throttle"], "unrecognized arguments: --fam"),
    ],
)
def test_wrong_usage(run: Run, write: Write, arguments: list[str], says: str) -> None:
    ran = run("inspect", write("plover.setup.json"), *arguments)
    assert ran.code == 2
    assert says in ran.err
    assert "prebind inspect --help" in ran.err
    assert ran.out == ""


# --- what is read ---------------------------------------------------------------------------


def test_folders_are_read_in_the_order_of_paths(run: Run, write: Write, folder: Path) -> None:
    for name in ("z/b.setup.json", "a.setup.json", "z/a.setup.json", "m/x.setup.json"):
        write(name)
    write("m/notes.json", lambda d: d.clear())
    loop = folder / "m" / "loop"
    loop.symlink_to(folder, target_is_directory=True)
    ran = run("inspect", "--report", "json")
    paths = [document["path"] for document in json.loads(ran.out)["documents"]]
    assert paths == ["a.setup.json", "m/x.setup.json", "z/a.setup.json", "z/b.setup.json"]
    ran = run("inspect", "--report", "json", "z", "a.setup.json", "z")
    paths = [document["path"] for document in json.loads(ran.out)["documents"]]
    assert paths == ["z/a.setup.json", "z/b.setup.json", "a.setup.json"]


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("empty", "empty: problem: there is no file *.setup.json in this folder or below it"),
        ("gone.setup.json", "gone.setup.json: problem: cannot be read: No such file"),
        ("links", "links/dead.setup.json: problem: cannot be read: No such file"),
    ],
)
def test_nothing_to_read_is_a_problem(run: Run, folder: Path, path: str, says: str) -> None:
    (folder / "empty").mkdir()
    (folder / "links").mkdir()
    (folder / "links" / "dead.setup.json").symlink_to("nowhere.json")
    ran = run("inspect", path)
    assert ran.code == 2
    assert says in ran.out
    assert "no documents inspected." in ran.out
    assert "grounds" not in ran.out


@pytest.mark.skipif(os.name == "nt", reason="no named pipes")
def test_a_pipe_in_a_folder_does_not_stop_the_run(run: Run, write: Write, folder: Path) -> None:
    write("a.setup.json")
    os.mkfifo(folder / "pipe.setup.json")
    assert run("inspect").code == 0


def test_standard_input(run: Run, write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    data = write("plover.setup.json", no_cut).read_bytes()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
    ran = run("inspect", "-", "--report", "json")
    assert ran.code == 1
    (document,) = json.loads(ran.out)["documents"]
    assert document["path"] == "-"
    assert {found["file"] for found in document["findings"]} == {"-"}
    assert "throttle/no-cut" in {found["rule"] for found in document["findings"]}


def test_shared_parts_may_lie_anywhere_in_this_folder(
    run: Run, write: Write, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def shares(document: dict[str, Any]) -> None:
        part = folder / "parts" / "radio.json"
        part.parent.mkdir()
        part.write_text(json.dumps(document["transmitter"]))
        document["transmitter"] = {"from": "../parts/radio.json"}

    file = write("models/plover.setup.json", shares)
    assert run("inspect", "models/plover.setup.json").code == 0
    assert run("inspect", ".").code == 0
    monkeypatch.chdir(folder / "parts")  # the document lies outside: its own folder holds
    ran = run("inspect", file)
    assert ran.code == 2
    assert "leads out of the folder that is inspected" in ran.out


# --- which rules ----------------------------------------------------------------------------


def test_families_and_rules_are_left_out(run: Run, write: Write) -> None:
    file = write("plover.setup.json", no_cut)
    ran = run("inspect", file, "--leave-out", "throttle/no-cut", "--leave-out", "bands")
    assert ran.code == 0
    assert re.search(r"Left out, not run: bands \(all \d+\), .*throttle/no-cut", ran.out, re.DOTALL)
    ran = run("inspect", file, "--family", "throttle", "--report", "json")
    (document,) = json.loads(ran.out)["documents"]
    assert [found["rule"] for found in document["findings"]] == ["throttle/no-cut"]
    assert "bands/gap" in document["not_run"]
    assert "throttle/low-runs" not in document["not_run"]


def test_a_rule_that_crashes(run: Run, write: Write, crashing_rule: str) -> None:
    file = write("plover.setup.json", no_cut)
    ran = run("inspect", file, "--report", "text", "--report", "json=out.json")
    assert ran.code == 2
    assert "throttle/no-cut" in ran.out  # everyone else's findings
    line = next(line for line in ran.out.splitlines() if "problem: " in line)
    assert "made-pack 2.0: bands/breaks" in line
    assert "ZeroDivisionError: three" in line
    assert "Traceback" not in ran.out + ran.err
    report = json.loads(Path("out.json").read_text())
    (problem,) = report["problems"]
    assert (problem["rule"], problem["pack"]) == (crashing_rule, "made-pack 2.0")
    assert [document["path"] for document in report["documents"]] == ["plover.setup.json"]


@pytest.mark.usefixtures("crashing_rule")
def test_where_it_crashed_is_told_when_asked(run: Run, write: Write) -> None:
    ran = run("inspect", write("plover.setup.json"), "--traceback")
    assert ran.code == 2
    assert "Traceback (most recent call last)" in ran.err
    assert 'raise ZeroDivisionError("three")' in ran.err


# --- what is printed ------------------------------------------------------------------------


def test_every_finding_can_be_jumped_to(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each line with a place names the file, line and column that JSON names for the finding."""
    monkeypatch.chdir(EXAMPLES)
    ran = run("inspect", "faulty", "--report", "text")
    lines = [match for line in ran.out.splitlines() if (match := GNU.match(line))]
    told = {
        (m["file"], int(m["line"]), int(m["column"]), m["text"].partition(":")[0])
        for m in lines
        if m["word"] not in ("open", "problem")
    }
    report = json.loads(run("inspect", "faulty", "--report", "json").out)
    findings = [found for document in report["documents"] for found in document["findings"]]
    wanted = {
        (f["file"], f["line"], f["column"], f["rule"]) for f in findings if f["kind"] != "open"
    }
    assert told == wanted
    assert len(wanted) > 50
    released = next(f for f in findings if f["rule"] == "throttle/releases-live")
    text = Path(released["file"]).read_text().splitlines()[released["line"] - 1]
    assert text[released["column"] - 1 :].startswith('"at-once"')


def test_a_finding_in_full(run: Run, write: Write) -> None:
    """Sentence, evidence, safety note and remedy, in this order."""
    write("plover.setup.json", lambda d: d["overrides"][0].update(release="at-once"))
    out = run("inspect").out
    parts = [
        "Danger",
        "danger: throttle/releases-live: ",
        "    evidence   release at-once; channel 1",
        "    change     to the document (a person must decide): "
        'replace /overrides/0/release "at-low"',
        "    safety     ",
        "    remedy     ",
        "(1 danger)",
        "A person decides.",
    ]
    places = [out.find(part) for part in parts]
    assert -1 not in places
    assert places == sorted(places)


def test_the_worst_comes_first(run: Run) -> None:
    out = run("inspect", FAULTY / "guillemot-faulty.setup.json").out
    heads = [
        line for line in out.splitlines() if line in ("Danger", "Warning", "Caution", "Notice")
    ]
    assert heads == ["Danger", "Warning", "Caution", "Notice"]


def test_a_consequence_stands_under_its_cause(run: Run) -> None:
    """A notice under the caution that it follows from."""
    out = run("inspect", FAULTY / "guillemot-faulty.setup.json").out
    told = [m["text"] for line in out.splitlines() if (m := GNU.match(line))]
    cause = next(i for i, text in enumerate(told) if text.startswith("bands/unreachable"))
    assert told[cause + 1].startswith("bands/same-state")
    assert re.search(r"because    it follows from bands/unreachable above \(line \d+\)", out)


def test_a_missing_section_is_one_entry(run: Run, write: Write) -> None:
    """With the key that settles it, and what to do by hand, the most dangerous first."""
    write("plover.setup.json", no_receiver)
    out = run("inspect").out
    assert out.count("open: the receiver is not recorded") == 1
    entry = out.partition("open: the receiver is not recorded")[2].partition("\n\n")[0]
    assert "settled by /receiver\n" in entry
    assert re.search(r"danger +failsafe/motor-runs, .*Propeller off", entry)
    assert re.search(r"caution +\S.*travel/throw.*`prebind rulebook RULE`", entry, re.DOTALL)


def test_it_never_says_safe_to_fly(run: Run) -> None:
    out = run("inspect", EXAMPLES / "fleet").out
    assert not re.search(r"safe to fly|ready to fly|airworthy", out, re.IGNORECASE)
    assert "A person decides." in out
    assert "an experienced instructor" in " ".join(out.split())


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_text_keeps_to_the_width(run: Run, monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    """All but the lines that programs read, and what has no space in it."""
    monkeypatch.setenv("COLUMNS", str(columns))
    out = run("inspect", FAULTY / "redshank-muddled-faulty.setup.json").out
    long = [line for line in out.splitlines() if len(line) > columns and not GNU.match(line)]
    assert [line for line in long if " " in line.strip()] == []


# --- hostile documents ----------------------------------------------------------------------

HOSTILE = {
    "escape sequences": ("\x1b[2J\x1b]0;owned\x07", 2),
    "line breaks": ("one\ntwo\r\u2028three\x85\x9b31m", 2),
    "right to left": ("\u202etxt.exe\u2066", 1),
    "invisible": ("cut\u200b\ufeff\U000e0041", 1),
}


@pytest.mark.parametrize("report", ["text", "json"])
@pytest.mark.parametrize(("name", "code"), HOSTILE.values(), ids=HOSTILE)
def test_control_characters_never_arrive_raw(
    run: Run, write: Write, name: str, code: int, report: str
) -> None:
    """Names with control characters are refused, and the message shows them spelt out."""

    def renamed(document: dict[str, Any]) -> None:
        document["model"]["name"] = name
        document["overrides"][0]["name"] = name
        document["overrides"][0]["release"] = "at-once"
        document["channels"][1]["control"] = name
        document["x-note"] = name

    write("plover.setup.json", renamed)
    ran = run("inspect", "--report", report)
    assert ran.code == code
    assert "conflicts/unknown-name" in ran.out or "control characters" in ran.out
    raw = {char for char in ran.out + ran.err if not char.isprintable() and char != "\n"}
    assert raw == set()


def test_a_file_name_cannot_steer_the_terminal(run: Run, write: Write) -> None:
    write("plover\x1b[31m\n.setup.json", no_cut)
    ran = run("inspect")
    assert ran.code == 1
    assert "plover\\u001b[31m\\u000a.setup.json:1:1: danger: throttle/no-cut" in ran.out
    assert "\x1b" not in ran.out


def test_a_key_cannot_look_like_a_finding(run: Run, write: Write) -> None:
    fake = "x\nplover.setup.json:1:1: danger: bands/gap: made up"
    write("plover.setup.json", lambda d: d["model"].update({fake: 1}))
    out = run("inspect").out
    assert {m["word"] for line in out.splitlines() if (m := GNU.match(line))} == {"problem"}
    assert "x\\u000aplover" in out


# --- colour ---------------------------------------------------------------------------------


def test_colour_is_never_alone(run: Run, write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm")
    file = write("plover.setup.json", no_cut)
    coloured = run("inspect", file).out
    assert "\x1b[1;37;41mdanger\x1b[0m:" in coloured
    plain = run("inspect", "--plain", file).out
    assert "\x1b" not in plain
    assert re.sub(r"\x1b\[[\d;]*m", "", coloured) == plain
    monkeypatch.setenv("NO_COLOR", "1")
    assert run("inspect", file).out == plain


def test_no_colour_where_there_is_no_terminal(run: Run, write: Write) -> None:
    assert "\x1b" not in run("inspect", write("plover.setup.json", no_cut)).out


# --- report files ---------------------------------------------------------------------------


def test_reports_go_to_files_and_to_the_output(run: Run, write: Write) -> None:
    file = write("plover.setup.json", no_cut)
    ran = run(
        "inspect", file, "--report", "text", "--report", "json=out.json", "--report=text=o.txt"
    )
    assert ran.code == 1
    assert ran.out == Path("o.txt").read_text()
    assert json.loads(Path("out.json").read_text())["format"] == "inspection/1"
    ran = run("inspect", file, "--report", "json=out.json")
    assert (ran.out, ran.err) == ("", "")


def test_without_text_problems_go_to_standard_error(run: Run, folder: Path) -> None:
    (folder / "a.setup.json").write_text("[]")
    ran = run("inspect", "--report", "json=out.json")
    assert ran.code == 2
    assert ran.err.startswith("a.setup.json:1:1: problem: ")
    (problem,) = json.loads(Path("out.json").read_text())["problems"]
    assert (problem["path"], problem["line"], problem["column"]) == ("a.setup.json", 1, 1)


def test_a_report_is_written_whole_or_not_at_all(
    run: Run, write: Write, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = write("plover.setup.json", no_cut)
    (folder / "out.json").write_text("what was there before")

    def breaks(*_: object) -> None:
        raise RuntimeError("in the middle")

    monkeypatch.setattr(inspection_json, "finding_json", breaks)
    ran = run("inspect", file, "--report", "json=out.json")
    assert ran.code == 2
    assert "RuntimeError: in the middle" in ran.err
    assert (folder / "out.json").read_text() == "what was there before"
    assert {entry.name for entry in folder.iterdir()} == {"out.json", "plover.setup.json"}


def test_an_interrupt_is_not_swallowed(
    run: Run, write: Write, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Inspector, "inspect_file", interrupted)
    ran = run("inspect", write("plover.setup.json"), "--report", "json=out.json")
    assert ran.code == 130
    assert not (folder / "out.json").exists()


def test_no_report_takes_the_place_of_a_document(run: Run, write: Write, folder: Path) -> None:
    file = write("plover.setup.json", no_cut)
    before = file.read_bytes()
    (folder / "link.json").symlink_to(file)
    for target in ("plover.setup.json", "link.json"):
        ran = run("inspect", "--report", f"json={target}")
        assert ran.code == 2
        assert "a report would take the place of a file it is about" in ran.err
        assert file.read_bytes() == before


def test_no_report_takes_the_place_of_a_shared_part(run: Run, write: Write, folder: Path) -> None:
    def shares(document: dict[str, Any]) -> None:
        (folder / "radio.json").write_text(json.dumps(document["transmitter"]))
        document["transmitter"] = {"from": "radio.json"}

    write("plover.setup.json", shares)
    before = (folder / "radio.json").read_bytes()
    assert run("inspect", "--report", "json=radio.json").code == 2
    assert (folder / "radio.json").read_bytes() == before


def test_a_folder_that_is_not_there(run: Run, write: Write) -> None:
    ran = run("inspect", write("plover.setup.json"), "--report", "json=gone/out.json")
    assert ran.code == 2
    assert ran.err == "prebind: gone/out.json: No such file or directory\n"


@pytest.mark.skipif(os.name == "nt", reason="no /dev/null")
def test_a_device_is_not_replaced(run: Run, write: Write) -> None:
    assert run("inspect", write("plover.setup.json"), "--report", "json=/dev/null").code == 0
    assert not Path("/dev/null").is_file()
