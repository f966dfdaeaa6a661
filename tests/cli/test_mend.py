"""`prebind mend`: what it changes and shows, how it writes, and when it leaves a file alone."""

from __future__ import annotations

import builtins
import json
import os
import resource
import shutil
import signal
import stat
import sys
from errno import ENOSPC
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from attrs import evolve
from tests.made_pack import with_rules

from prebind.rule import PASS, Answer, Cause, Fail, Fix, Operation, Rule, put, remove, replace, rule

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Run, Write

    import prebind

EXAMPLES = Path(__file__).parents[1] / "examples"
TURNED = '"reversed": true'
RIGHT = '"reversed": false'


def turned_twice(document: dict[str, Any]) -> None:
    """The rudder is reversed at the transmitter already; taking both out is safe."""
    document["receiver"]["outputs"][3]["reversed"] = True
    document["servos"][3]["increasing_pulse"] = "trailing-edge-right"


def at_once(document: dict[str, Any]) -> None:
    """The cut lets the motor go with the stick up; a person must decide."""
    document["overrides"][0]["release"] = "at-once"


@pytest.fixture
def plover(write: Write) -> Path:
    return write("plover.setup.json", turned_twice)


def answering(monkeypatch: pytest.MonkeyPatch, answer: Callable[[], str]) -> list[str]:
    """A person at a terminal; the questions that were put."""
    questions: list[str] = []

    def asked(question: str) -> str:
        questions.append(question)
        return answer()

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setattr(builtins, "input", asked)
    return questions


def alone(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


# --- showing, asking, writing ---------------------------------------------------------------


def test_nothing_is_written_without_a_person(run: Run, plover: Path) -> None:
    before = (plover.read_bytes(), plover.stat().st_mtime_ns)
    ran = run("mend", plover.name)
    assert (ran.code, ran.err) == (1, "")
    assert "notice: reversal/twice: Channel 4 is turned round at the transmitter" in ran.out
    assert (
        "change  set /channels/3/reversed to false; set /receiver/outputs/3/reversed to" in ran.out
    )
    assert "keeps what was meant" in " ".join(ran.out.split())
    diff = [line for line in ran.out.splitlines() if line[:1] in ("-", "+")]
    assert diff == [
        "--- plover.setup.json\tas it is",
        "+++ plover.setup.json\tmended",
        f"-      {TURNED}",
        f"+      {RIGHT}",
        f"-        {TURNED}",
        f"+        {RIGHT}",
    ]
    assert "plover.setup.json is as it was." in ran.out
    assert "--yes writes the changes" in ran.out
    assert (plover.read_bytes(), plover.stat().st_mtime_ns) == before


def test_the_caution_stands_beside_the_change(run: Run, plover: Path) -> None:
    told = " ".join(run("mend", plover).out.split())
    assert "safety Two reversals that cancel look right on the bench" in told
    assert "remedy Take both reversals out" in told
    assert "not the radio or the receiver" in told
    assert "propeller off" in told


def test_written_when_told_to(run: Run, plover: Path, folder: Path) -> None:
    before = plover.read_text(encoding="utf-8")
    ran = run("mend", "--yes", plover.name)
    assert (ran.code, ran.err) == (0, "")
    assert "plover.setup.json is written." in ran.out
    assert before.count(TURNED) == 2
    assert plover.read_text(encoding="utf-8") == before.replace(TURNED, RIGHT)
    assert "reversal/twice" not in run("inspect", plover).out
    assert alone(folder) == ["plover.setup.json"]


def test_a_second_run_changes_nothing(run: Run, plover: Path) -> None:
    run("mend", "--yes", plover)
    before = (plover.read_bytes(), plover.stat().st_mtime_ns)
    ran = run("mend", "--yes", plover)
    assert ran.code == 0
    assert "Nothing fails here that could be mended." in ran.out
    assert "written" not in ran.out
    assert (plover.read_bytes(), plover.stat().st_mtime_ns) == before


@pytest.mark.parametrize("answer", ["yes", "Y ", "YES"])
def test_a_person_agrees(
    run: Run, plover: Path, monkeypatch: pytest.MonkeyPatch, answer: str
) -> None:
    questions = answering(monkeypatch, lambda: answer)
    assert run("mend", plover.name).code == 0
    assert questions == ["Write this change to plover.setup.json? Type yes or no: "]
    assert TURNED not in plover.read_text(encoding="utf-8")


@pytest.mark.parametrize("answer", ["", "no", "yesterday", EOFError()])
def test_a_person_does_not_agree(
    run: Run, plover: Path, monkeypatch: pytest.MonkeyPatch, answer: str | EOFError
) -> None:
    def answered() -> str:
        if isinstance(answer, EOFError):
            raise answer
        return answer

    questions = answering(monkeypatch, answered)
    before = plover.read_bytes()
    ran = run("mend", plover)
    assert (ran.code, len(questions), plover.read_bytes()) == (1, 1, before)
    assert "--yes" not in ran.out


def test_nobody_is_asked_where_nothing_would_be_written(
    run: Run, plover: Path, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    questions = answering(monkeypatch, lambda: "yes")
    before = plover.read_bytes()
    assert run("mend", "--show", plover).code == 1
    assert run("mend", write("clean.setup.json")).code == 0
    assert questions == []
    assert plover.read_bytes() == before


# --- which fixes ----------------------------------------------------------------------------


def test_what_a_person_must_decide_is_not_done(run: Run, write: Write) -> None:
    file = write("plover.setup.json", at_once)
    before = file.read_bytes()
    ran = run("mend", "--yes", file)
    assert ran.code == 1  # a danger is left
    assert (
        "More changes are on offer; see them with --show --rule throttle/releases-live" in ran.out
    )
    assert file.read_bytes() == before


def test_what_a_person_decided(run: Run, write: Write) -> None:
    def both(document: dict[str, Any]) -> None:
        at_once(document)
        turned_twice(document)

    file = write("plover.setup.json", both)
    before = file.read_text(encoding="utf-8")
    ran = run("mend", "--yes", "--rule", "throttle/releases-live", file)
    assert ran.code == 0
    assert "a person must decide" in ran.out
    assert file.read_text(encoding="utf-8") == before.replace("at-once", "at-low")
    assert "see them with --show --rule reversal/twice" in ran.out


def test_what_has_no_change_to_offer(run: Run, write: Write) -> None:
    ran = run("mend", write("plover.setup.json", lambda d: d["overrides"].clear()))
    assert ran.code == 1
    assert "1 finding has no change to offer; `prebind inspect` says what to do." in ran.out


def test_what_is_waived_stays(run: Run, write: Write) -> None:
    def waived(document: dict[str, Any]) -> None:
        turned_twice(document)
        document["waivers"] = [
            {
                "rule": "reversal/twice",
                "reason": "Meant.",
                "by": "the builder",
                "until": "9999-12-31",
            }
        ]

    ran = run("mend", "--yes", write("plover.setup.json", waived))
    assert ran.code == 0
    assert "Nothing fails here" in ran.out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["plover.setup.json", "--rule", "reversal/twise"], "did you mean “reversal/twice”?"),
        (["plover.setup.json", "--rule", "knot"], "`prebind rulebook` lists them all"),
        (["-"], "standard input cannot be written to; name a file"),
        ([], "SETUP"),
        (["plover.setup.json", "--yes", "--show"], "not allowed with"),
    ],
)
def test_usage(run: Run, plover: Path, arguments: list[str], says: str) -> None:
    before = plover.read_bytes()
    ran = run("mend", *arguments)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err
    assert plover.read_bytes() == before


def test_settings_hold_here_too(run: Run, plover: Path, folder: Path) -> None:
    before = plover.read_bytes()
    toml = folder / "prebind.toml"
    toml.write_text('leave_out = ["reversal/twice"]\n')
    ran = run("mend", "--yes", plover)
    assert (ran.code, plover.read_bytes()) == (0, before)
    assert "Nothing fails here" in ran.out
    other = folder / "other.toml"
    other.write_text("")
    assert run("mend", "--show", "--settings", other, plover).code == 1


def test_under_broken_settings_nothing_is_done(run: Run, write: Write, folder: Path) -> None:
    files = [write(f"{name}.setup.json", turned_twice) for name in "ab"]
    before = [file.read_bytes() for file in files]
    (folder / "prebind.toml").write_text('leave_out = ["reversal/twise"]\n')
    ran = run("mend", "--yes", *files)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.count("prebind.toml:1:") == 1
    assert [file.read_bytes() for file in files] == before


def test_what_is_left_grounds_by_the_settings(run: Run, write: Write, folder: Path) -> None:
    file = write("plover.setup.json", lambda d: d["transmitter"].update(channels=4))
    assert run("mend", file).code == 0  # no spare channel: a notice
    (folder / "prebind.toml").write_text('ground_at = "notice"\n')
    assert run("mend", file).code == 1


def test_a_change_that_is_offered_only_after_another(run: Run, folder: Path) -> None:
    """What stands in the failsafe can be told once the throttle is the right way round."""
    document = {
        "format": "model-setup/1",
        "model": {"name": "Dotterel", "airframe": "aeroplane"},
        "transmitter": {"channels": 8, "controls": {"throttle-stick": {"kind": "stick"}}},
        "channels": [{"channel": 1, "function": "throttle", "control": "throttle-stick"}],
        "receiver": {
            "inputs": 6,
            "outputs": [{"port": 1, "channel": 1, "reversed": True}],
            "failsafe": {"stored": "by-menu", "channels": []},
        },
        "speed_controls": [{"port": 1, "stop_below_us": 1150, "full_above_us": 1900}],
    }
    file = folder / "dotterel.setup.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    ran = run("mend", "--yes", "--rule", "reversal/throttle", "--rule", "failsafe/missing", file)
    assert ran.err == ""
    assert 'append {"channel": 1, "action": "preset", "output_percent": -100}' in ran.out
    assert json.loads(file.read_text())["receiver"]["failsafe"]["channels"]


# --- layouts --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("indent", "separators", "line_end", "mark", "end"),
    [
        pytest.param(2, None, "\r\n", "", "\r\n", id="CRLF"),
        pytest.param("\t", None, "\n", "", "\n", id="tabs"),
        pytest.param(None, None, "\n", "", "\n", id="one line"),
        pytest.param(None, (",", ":"), "\n", "", "", id="compact, no line end"),
        pytest.param(4, None, "\n", "\ufeff", "", id="byte order mark"),
        pytest.param(2, (" ,", " : "), "\r", "", "\n\n", id="old line ends, wide"),
    ],
)
def test_every_other_byte_stays(
    run: Run, plover: Path, indent: Any, separators: Any, line_end: str, mark: str, end: str
) -> None:
    document = json.loads(plover.read_text(encoding="utf-8"))
    document["model"]["name"] = "Ringed plover, Ærø 🛩"
    text = json.dumps(document, indent=indent, separators=separators, ensure_ascii=False)
    before = (mark + text.replace("\n", line_end) + end).encode()
    plover.write_bytes(before)
    ran = run("mend", "--yes", plover)
    assert ran.code == 0
    assert sum(line[:1] in ("-", "+") for line in ran.out.splitlines()) == (6 if indent else 4)
    colon = separators[1] if separators else ": "
    said, meant = (f'"reversed"{colon}{word}'.encode() for word in ("true", "false"))
    assert before.count(said) == 2
    assert plover.read_bytes() == before.replace(said, meant)


# --- shared parts ---------------------------------------------------------------------------


def test_a_shared_part_is_left_alone(run: Run, write: Write, folder: Path) -> None:
    file = write("plover.setup.json", turned_twice)
    document = json.loads(file.read_text(encoding="utf-8"))
    part = folder / "parts" / "club.json"
    part.parent.mkdir()
    part.write_text(json.dumps(document["receiver"], indent=2), encoding="utf-8")
    document["receiver"] = {"from": "parts/club.json"}
    file.write_text(json.dumps(document), encoding="utf-8")
    before = (file.read_bytes(), part.read_bytes())
    line = part.read_text(encoding="utf-8").splitlines().index(f"      {TURNED}") + 1
    ran = run("mend", "--yes", file.name)
    told = " ".join(ran.out.split())
    assert (
        f"left this stands in the shared file parts/club.json, line {line}, which other setups "
        "may use: set /outputs/3/reversed to false there, or lay it over under receiver in this "
        "document" in told
    )
    assert (file.read_bytes(), part.read_bytes()) == before
    assert ran.code == 0  # a notice does not ground


def test_what_is_laid_over_a_shared_part_is_mended(run: Run, write: Write, folder: Path) -> None:
    file = write("plover.setup.json", turned_twice)
    document = json.loads(file.read_text(encoding="utf-8"))
    part = folder / "club.json"
    part.write_text(json.dumps(document["receiver"]), encoding="utf-8")
    document["receiver"] = {"from": "club.json", "outputs": document["receiver"]["outputs"]}
    file.write_text(json.dumps(document), encoding="utf-8")
    before = (file.read_text(encoding="utf-8"), part.read_bytes())
    assert run("mend", "--yes", file).code == 0
    assert file.read_text(encoding="utf-8") == before[0].replace(TURNED, RIGHT)
    assert part.read_bytes() == before[1]


# --- fixes that cannot stay -----------------------------------------------------------------


def made(name: str, judge: Callable[[dict[str, Any]], Fail | None], word: Any = "warning") -> Rule:
    """A rule that judges the document's own keys."""

    def judged(_: Any, path: prebind.Path, __: object) -> Answer:
        own = {"name": path.setup.model.name, **path.setup.extra}
        return judge(own) or PASS

    return rule(
        f"made/{name}",
        word=word,
        title="Made for a test",
        each="setup",
        safety="",
        remedy="",
        bench="",
        source="",
        examples=list,
    )(judged)


def fixed_by(*patch: Operation, because: Cause | None = None) -> Fail:
    return Fail("It fails.", "", fix=Fix("safe", patch), because=because)


@pytest.fixture
def pack(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Puts rules into the place of all others."""

    def packing(*rules: Rule) -> None:
        with_rules(monkeypatch, *rules, alone=True)

    return packing


def _if_crash(own: dict[str, Any]) -> None:
    if own["name"] == "crash":
        raise ZeroDivisionError


@pytest.mark.parametrize(
    ("patch", "says"),
    [
        ([put("/x-a", 1), put("/nowhere/x-b", 1)], "does not fit the document: operation 2 (add"),
        ([replace("/model/name", 5)], "would no longer be sound: `model.name` is 5; it must"),
        ([replace("/model/name", "other")], "the finding would still be there"),
        ([replace("/model/name", "crash")], "the rule made/crashes would crash"),
        ([replace("/model/name", "worse")], "would bring in danger made/worse at"),
    ],
)
def test_a_fix_that_cannot_stay(
    run: Run, write: Write, pack: Callable[..., None], patch: list[Operation], says: str
) -> None:
    pack(
        made("fails", lambda own: None if own["name"] == "worse" else fixed_by(*patch)),
        made("worse", lambda own: Fail("Worse.") if own["name"] == "worse" else None, "danger"),
        made("crashes", _if_crash),
    )
    file = write("plover.setup.json", lambda d: d["model"].update(name="it"))
    before = file.read_bytes()
    ran = run("mend", "--yes", file)
    assert ran.code == 1
    assert "warning: made/fails: It fails." in ran.out
    assert says in " ".join(ran.out.split())
    assert "More changes" not in ran.out  # this one was not forgotten
    assert file.read_bytes() == before


def test_what_does_not_fit_at_first_may_fit_later(
    run: Run, write: Write, pack: Callable[..., None]
) -> None:
    """The worse finding is tried first, and only the other one's fix makes room for its own."""
    pack(
        made("first", lambda own: None if "x-a" in own else fixed_by(put("/x-a", 1)), "danger"),
        made("second", lambda own: None if "x-b" in own else fixed_by(put("/x-b", 1))),
        made("both", lambda own: Fail("No.") if "x-a" in own and "x-b" not in own else None),
    )
    file = write("plover.setup.json")
    assert run("mend", "--yes", file).code == 0
    document = json.loads(file.read_text(encoding="utf-8"))
    assert list(document)[-2:] == ["x-b", "x-a"]


def test_a_cause_is_mended_before_its_consequence(
    run: Run, write: Write, pack: Callable[..., None]
) -> None:
    def unless_set(value: str, because: Cause | None = None) -> Callable[..., Fail | None]:
        fail = fixed_by(put("/x-a", value), because=because)
        return lambda own: None if "x-a" in own else fail

    pack(
        made("consequence", unless_set("late", Cause("made/cause", "")), "danger"),
        made("cause", unless_set("early")),
    )
    file = write("plover.setup.json")
    assert run("mend", "--yes", file).code == 0
    assert json.loads(file.read_text(encoding="utf-8"))["x-a"] == "early"


def test_one_after_the_other_in_one_list(run: Run, write: Write, pack: Callable[..., None]) -> None:
    """Places move as entries go; what is told is where each stood."""

    def judge(mix: Any, *_: object) -> Answer:
        at = mix.at if mix.name != "bad 3" else "/nowhere"
        return Fail("It fails.", fix=Fix("safe", (remove(at),))) if "bad" in mix.name else PASS

    pack(evolve(made("fails", lambda _: None), each="mixes", judge=judge))
    mix = {"from": {"channel": 1}, "to": 2, "rate_percent": {"low": 1, "high": 1}}
    names = ["bad 1", "good", "bad 2", "bad 3"]
    file = write("plover.setup.json", lambda d: d.update(mixes=[{"name": n, **mix} for n in names]))
    lines = file.read_text(encoding="utf-8").splitlines()
    places = [lines.index(f'      "name": "{name}",') for name in names if name != "good"]
    ran = run("mend", "--yes", file.name)
    assert ran.code == 1
    for line in places:
        assert f"plover.setup.json:{line}:5: warning: made/fails" in ran.out
    left = [mix["name"] for mix in json.loads(file.read_text("utf-8"))["mixes"]]
    assert left == ["good", "bad 3"]


def test_one_of_two_findings_that_look_alike(
    run: Run, write: Write, pack: Callable[..., None]
) -> None:
    """The other one is then the first, and takes over its fingerprint."""

    def judge(_: Any, path: prebind.Path, __: object) -> Answer:
        fixes = {1: Fix("safe", (remove("/x-a/0"),))}
        return [Fail("It fails.", fix=fixes.get(each)) for each in path.setup.extra["x-a"]] or PASS

    pack(evolve(made("fails", lambda _: None), judge=judge))
    file = write("plover.setup.json", lambda d: d.update({"x-a": [1, 2]}))
    assert run("mend", "--yes", file).code == 1
    assert json.loads(file.read_text("utf-8"))["x-a"] == [2]


def test_both_halves_of_a_pair_are_turned_together(run: Run, folder: Path) -> None:
    """On a true document: each of two mixes alone would set left against right."""
    shutil.copytree(EXAMPLES / "faulty", folder / "fleet")
    file = folder / "fleet" / "little-tern-radio-mix-faulty.setup.json"
    before = json.loads(file.read_text("utf-8"))["mixes"]
    ran = run("mend", "--yes", "--rule", "reversal/command-backwards", file)
    after = json.loads(file.read_text("utf-8"))["mixes"]
    turned = [i for i, mix in enumerate(before) if mix != after[i]]
    assert (ran.code, turned) == (1, [2, 3])
    for i in turned:
        rates, now = before[i]["rate_percent"], after[i]["rate_percent"]
        assert now == {end: -rate for end, rate in rates.items()}


# --- many, and broken ones ------------------------------------------------------------------


def test_a_folder(run: Run, write: Write, folder: Path) -> None:
    one, two = (write(f"fleet/{name}.setup.json", turned_twice) for name in "ab")
    (folder / "fleet" / "c.setup.json").write_text("{,}")
    ran = run("mend", "--yes", "fleet")
    assert ran.code == 2
    assert "fleet/c.setup.json:1:2: problem: " in ran.err
    for file in (one, two):
        assert TURNED not in file.read_text(encoding="utf-8")


def test_nothing_there(run: Run, folder: Path) -> None:
    ran = run("mend", "--yes", "knot.setup.json", ".")
    assert ran.code == 2
    assert "knot.setup.json: problem: cannot be read: No such file or directory" in ran.err
    assert "there is no file *.setup.json in this folder" in ran.err
    assert alone(folder) == []


def test_with_a_rule_missing_no_change_is_proved(
    run: Run, plover: Path, crashing_rule: str
) -> None:
    before = plover.read_bytes()
    ran = run("mend", "--yes", plover)
    assert (ran.code, plover.read_bytes()) == (2, before)
    assert crashing_rule in ran.err


def test_a_pipe_is_not_waited_for(run: Run, folder: Path) -> None:
    os.mkfifo(folder / "pipe.setup.json")
    ran = run("mend", "--yes", "pipe.setup.json")
    assert ran.code == 2
    assert "this is not an ordinary file; nothing was done" in ran.err


def test_nothing_steers_the_terminal(run: Run, write: Write) -> None:
    def named(document: dict[str, Any]) -> None:
        turned_twice(document)
        document["receiver"]["outputs"][3]["x-\u202e\x1b[31m\x85"] = "\u202e"

    file = write("plover.setup.json", named)
    document = json.loads(file.read_text(encoding="utf-8"))
    file.write_text(json.dumps(document, indent=1, ensure_ascii=False), encoding="utf-8")
    ran = run("mend", file)
    assert '   "x-\\u202e\\u001b[31m\\u0085": "\\u202e"' in ran.out
    assert not any(char in ran.out + ran.err for char in "\u202e\x1b\x85")


# --- writing --------------------------------------------------------------------------------


def test_permissions_stay(run: Run, plover: Path) -> None:
    plover.chmod(0o640)
    owner = plover.stat().st_uid
    assert run("mend", "--yes", plover).code == 0
    assert stat.S_IMODE(plover.stat().st_mode) == 0o640
    assert plover.stat().st_uid == owner
    assert TURNED not in plover.read_text(encoding="utf-8")


def test_a_protected_file_stays(
    run: Run, plover: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plover.chmod(0o444)
    monkeypatch.setattr(os, "access", lambda *_: False)  # the superuser may write all the same
    before = plover.read_bytes()
    ran = run("mend", "--yes", plover)
    assert (ran.code, plover.read_bytes()) == (2, before)
    assert "nothing was written: the file is protected against writing" in ran.err
    assert alone(folder) == ["plover.setup.json"]


def test_a_link_stays_a_link(run: Run, write: Write, folder: Path) -> None:
    target = write("kept/plover.setup.json", turned_twice)
    link = folder / "link.setup.json"
    link.symlink_to(Path("kept") / "plover.setup.json")
    assert run("mend", "--yes", link).code == 0
    assert link.is_symlink()
    assert TURNED not in target.read_text(encoding="utf-8")


def test_a_link_does_not_lead_out_of_a_folder(run: Run, write: Write, folder: Path) -> None:
    target = write("elsewhere/plover.setup.json", turned_twice)
    (folder / "fleet").mkdir()
    link = folder / "fleet" / "link.setup.json"
    link.symlink_to(target)
    before = target.read_bytes()
    ran = run("mend", "--yes", "fleet")
    assert (ran.code, target.read_bytes()) == (2, before)
    assert "leads out of the folder that is worked on" in ran.err
    assert run("mend", "--yes", link).code == 0  # it was named
    assert target.read_bytes() != before


def test_changed_meanwhile(
    run: Run, plover: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def someone_writes() -> str:
        plover.write_text("theirs", encoding="utf-8")
        return "yes"

    answering(monkeypatch, someone_writes)
    ran = run("mend", plover)
    assert ran.code == 2
    assert "nothing was written: someone changed the file meanwhile" in ran.err
    assert plover.read_text(encoding="utf-8") == "theirs"
    assert alone(folder) == ["plover.setup.json"]


def test_changed_at_the_last_moment(
    run: Run, plover: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While the new text goes to the disk, which may take its time."""
    monkeypatch.setattr(os, "fsync", lambda _: plover.write_text("theirs", encoding="utf-8"))
    assert run("mend", "--yes", plover).code == 2
    assert plover.read_text(encoding="utf-8") == "theirs"


@pytest.mark.parametrize("call", ["fsync", "replace", "chown"])
def test_a_failure_leaves_the_old_file(
    run: Run, write: Write, folder: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    files = [write(f"{name}.setup.json", turned_twice) for name in "ab"]
    before = files[0].read_bytes()

    def full(*_: object) -> None:
        raise OSError(ENOSPC, os.strerror(ENOSPC))

    monkeypatch.setattr(os, call, full)
    ran = run("mend", "--yes", *files)
    assert ran.code == 2
    assert ran.err.count("nothing was written: No space left on device") == 2
    assert [file.read_bytes() for file in files] == [before, before]
    assert alone(folder) == ["a.setup.json", "b.setup.json"]


def test_a_disk_that_fills_up_leaves_the_old_file(run: Run, plover: Path, folder: Path) -> None:
    """Half of the text finds room, the rest does not: a true limit of the system, no stand-in."""
    before = plover.read_bytes()
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    assert signal.getsignal(signal.SIGXFSZ) is signal.SIG_IGN  # Python's own choice
    resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) // 2, limits[1]))
    try:
        ran = run("mend", "--yes", plover)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert ran.code == 2
    assert "nothing was written: File too large" in ran.err
    assert plover.read_bytes() == before
    assert alone(folder) == ["plover.setup.json"]
