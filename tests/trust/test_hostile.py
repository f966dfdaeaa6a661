"""Folders and documents from somebody who means harm: what must happen, said for each.

Encodings, duplicate keys, and what is just within the bounds: tests/document/test_parse.py.  Paths
of shared parts that lead out, links, circles, pipes as parts: tests/document/test_parts.py.  Any
bytes at all: tests/inspect/test_inspector.py.  Rule sheets: tests/packs/test_sheet_hostile.py.
"""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread
from time import process_time
from typing import TYPE_CHECKING, Any

import pytest

from prebind import Inspector
from prebind.cli import main
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

INSPECTOR = Inspector()
SOUND = json.dumps(clean("plain"))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder with one sound document in it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sound.setup.json").write_text(SOUND, encoding="utf-8")
    return tmp_path


def inspected(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, Any]:
    code = main(["inspect", "--report", "json", *arguments])
    return code, json.loads(capsys.readouterr().out)


def paths(report: Any) -> list[str]:
    return [document["path"] for document in report["documents"]]


@contextmanager
def at_most(seconds: float) -> Iterator[None]:
    """Of work: others may be busy on the machine."""
    started = process_time()
    yield
    assert process_time() - started < seconds


# --- folders ---


def test_a_folder_that_links_to_itself(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It is looked into once."""
    (folder / "again").symlink_to(folder, target_is_directory=True)
    (folder / "below").mkdir()
    (folder / "below" / "up").symlink_to("..", target_is_directory=True)
    _, report = inspected(capsys, ".")
    assert paths(report) == ["sound.setup.json"]


def test_pipes_and_devices_in_a_folder(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """They are no documents: nobody waits for the other end of one, or reads an endless one."""
    os.mkfifo(folder / "pipe.setup.json")
    (folder / "endless.setup.json").symlink_to("/dev/zero")
    code, report = inspected(capsys, ".")
    assert code == 0
    assert paths(report) == ["sound.setup.json"]


NO_FILE = "this is not an ordinary file"


def test_pipes_and_devices_that_are_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nor then; somebody may have put them where a document was."""
    os.mkfifo(folder / "pipe.setup.json")
    (folder / "endless.setup.json").symlink_to("/dev/zero")
    code, report = inspected(capsys, "pipe.setup.json", "endless.setup.json", "sound.setup.json")
    assert code == 2
    assert [(p["path"], p["message"]) for p in report["problems"]] == [
        (name, f"cannot be read: {NO_FILE}") for name in ("pipe.setup.json", "endless.setup.json")
    ]
    assert "sound.setup.json" in paths(report)


@pytest.mark.parametrize(
    "command",
    [
        ("trace", "pipe"),
        ("card", "pipe"),
        ("mend", "pipe"),
        ("sign", "pipe", "--check", "range", "--by", "A"),
        ("compare", "sound.setup.json", "pipe"),
        ("plan", "pipe"),
        ("start", "new.setup.json", "--plan", "pipe"),
        ("inspect", "--since", "pipe"),
        ("inspect", "--merge", "pipe"),
        ("inspect", "--pack", "pipe"),
        ("inspect", "--settings", "pipe"),
    ],
    ids=lambda command: f"{command[0]} {command[1]}",
)
def test_a_pipe_wherever_a_file_is_named(
    folder: Path, capsys: pytest.CaptureFixture[str], command: tuple[str, ...]
) -> None:
    os.mkfifo(folder / "pipe")
    try:
        code: Any = main(list(command))
    except SystemExit as end:
        code = end.code
    assert code == 2
    captured = capsys.readouterr()
    assert "no file" in captured.err or NO_FILE in captured.out + captured.err


def test_a_pipe_that_wishes_name(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Here it is no user who names it, but whoever wrote the wishes."""
    os.mkfifo(folder / "pipe")
    wishes = {
        "format": "wishes/1",
        "transmitters": {"radio": {"channels": 8, "controls": {}}},
        "receivers": {},
        "models": [{"setup": "pipe"}],
    }
    (folder / "w.wishes.json").write_text(json.dumps(wishes), encoding="utf-8")
    assert main(["plan", "w.wishes.json"]) == 2
    assert NO_FILE in capsys.readouterr().err


@contextmanager
def nobody_in_particular() -> Iterator[None]:
    """As somebody who may not read everything, where the tests run as somebody who may."""
    if os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="rights are another matter there")
def test_what_may_not_be_read(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each file and folder is named, and the others are inspected."""
    with tempfile.TemporaryDirectory() as name:  # pytest's own lies below one that is closed
        monkeypatch.chdir(name)
        folder = Path(name)
        folder.chmod(0o755)
        (folder / "sound.setup.json").write_text(SOUND, encoding="utf-8")
        (folder / "secret.setup.json").write_text(SOUND, encoding="utf-8")
        (folder / "closed").mkdir()
        inspected(capsys, ".")  # all that is needed is imported
        (folder / "secret.setup.json").chmod(0)
        (folder / "closed").chmod(0)
        with nobody_in_particular():
            code, report = inspected(capsys, ".")
        (folder / "closed").chmod(0o755)
    assert code == 2
    assert {(p["path"], p["message"].rpartition(": ")[2]) for p in report["problems"]} == {
        ("secret.setup.json", "Permission denied"),
        ("closed", "Permission denied"),
    }
    assert "sound.setup.json" in paths(report)


def test_a_name_that_is_not_utf_8(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The report is still one, and the others are in it."""
    (folder / os.fsdecode(b"\xff\xfe.setup.json")).write_bytes(SOUND.encode())
    _, report = inspected(capsys, ".")
    assert len(paths(report)) == 2
    assert "sound.setup.json" in paths(report)


@pytest.mark.parametrize("form", ["text", "markdown", "html", "junit", "sarif", "json"])
def test_a_name_that_would_steer_the_terminal(
    folder: Path, capsys: pytest.CaptureFixture[str], form: str
) -> None:
    name = "a\x1b]0;owned\x07\x1b[2J\u202egnp.setup.json"
    (folder / name).write_text(SOUND.replace('"electric"', '"steam"'), encoding="utf-8")
    main(["inspect", "--report", form, "."])
    captured = capsys.readouterr()
    for stream in (captured.out, captured.err):
        assert not {"\x1b", "\x07", "\u202e"} & set(stream)


def test_a_file_that_vanishes_before_it_is_read(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was there when the folder was listed."""
    from prebind.inspect import inspector

    gone = folder / "gone.setup.json"
    gone.write_text(SOUND, encoding="utf-8")
    before = inspector.Inspector.inspect_file

    def inspect_file(self: Any, path: Any, *given: Any, **more: Any) -> Any:
        gone.unlink(missing_ok=True)
        return before(self, path, *given, **more)

    monkeypatch.setattr(inspector.Inspector, "inspect_file", inspect_file)
    code, report = inspected(capsys, ".")
    assert code == 2
    assert [p["path"] for p in report["problems"]] == ["gone.setup.json"]
    assert "sound.setup.json" in paths(report)


def test_a_file_that_changes_while_it_is_read(folder: Path) -> None:
    """Each report is on one of the two contents, or says that what was read is no document."""
    file, over = folder / "sound.setup.json", Event()
    other = SOUND.replace("reversed", "sprung") + " " * 20_000

    def change() -> None:
        while not over.is_set():
            for text in (other, SOUND):
                file.write_text(text, encoding="utf-8")  # empty, and half written, in between

    writer = Thread(target=change)
    writer.start()
    try:
        reports = [INSPECTOR.inspect_file(file) for _ in range(60)]
    finally:
        over.set()
        writer.join()
    for report in reports:
        assert (report.document is None) == bool(report.problems)
        assert report.document is None or report.document.data in (
            json.loads(SOUND),
            json.loads(other),
        )


@pytest.mark.parametrize(
    "part", ["../Parts/radio.json", "PARTS/../../radio.json", "parts/RADIO.JSON"]
)
def test_case_tricks_lead_nowhere_else(
    folder: Path, capsys: pytest.CaptureFixture[str], part: str
) -> None:
    """Not out of the folder, and where names differ by case not to another file either."""
    (folder / "in" / "parts").mkdir(parents=True)
    (folder / "radio.json").write_text(json.dumps(clean("plain")["transmitter"]), encoding="utf-8")
    document = clean("plain") | {"transmitter": {"from": part}}
    (folder / "in" / "m.setup.json").write_text(json.dumps(document), encoding="utf-8")
    code, report = inspected(capsys, "in")
    assert code == 2
    (problem,) = report["problems"]
    assert "leads out of the folder" in problem["message"] or "no file" in problem["message"]


# --- documents that take long, or much room ---

MEBIBYTE = 1024 * 1024
BOMBS = {
    "lists in lists": "[" * MEBIBYTE + "]" * MEBIBYTE,
    "lists in lists without an end": "[" * 4 * MEBIBYTE,
    "objects in objects": '{"a":' * 500_000,
    "lists in a note": SOUND[:-1] + ', "x-note": ' + "[" * MEBIBYTE + "]" * MEBIBYTE + "}",
    "a long list": SOUND[:-1] + ', "mixes": [' + "0," * 1_000_000 + "0]}",
    "a long list of channels": '{"channels": [' + '{"channel": 1},' * 200_000 + "{}]}",
    "a million empty lists": SOUND[:-1] + ', "servos": [' + "[]," * 1_000_000 + "[]]}",
    "a long number": SOUND[:-1] + ', "x-note": ' + "9" * 4_000_000 + "}",
    "a long fraction": SOUND[:-1] + ', "x-note": 0.' + "9" * 4_000_000 + "}",
    "a large exponent": SOUND[:-1] + ', "x-note": 1e' + "9" * 1_000_000 + "}",
    "a long text": SOUND[:-1] + ', "x-note": "' + "x" * 4_000_000 + '"}',
    "a long text of escapes": SOUND[:-1] + ', "region": "' + r"\u0041" * 600_000 + '"}',
    "a long key": SOUND[:-1] + ', "' + "x" * 4_000_000 + '": 1}',
    "many keys": SOUND[:-1] + "".join(f', "k{i}": 1' for i in range(300_000)) + "}",
    "one key many times": SOUND[:-1] + ', "x-a": 1' * 400_000 + "}",
    "ever more spaces": SOUND[:-1] + " " * 4_000_000 + "}",
    "lines without an end": SOUND[:-1] + "\n" * 4_000_000,
}


@pytest.mark.parametrize("bomb", BOMBS)
def test_bombs(bomb: str) -> None:
    """Read, or refused with a place and in few words; in seconds, however slow the machine."""
    with at_most(10):
        report = INSPECTOR.inspect(BOMBS[bomb])
    assert (report.document is None) == bool(report.problems)
    assert len(report.problems) <= 101
    for problem in report.problems:
        assert problem.line is not None
        assert len(problem.message) < 400


def crowded(count: int) -> dict[str, Any]:
    """That many switches, all mixed into the elevator."""
    document = clean("plain")
    elevator = next(c for c in document["channels"] if c["function"] == "elevator")
    for i in range(count):
        positions = {"kind": "switch", "positions": ["a", "b", "c"]}
        document["transmitter"]["controls"][f"switch-{i}"] = positions
        document.setdefault("mixes", []).append(
            {
                "name": f"mix {i}",
                "from": {"control": f"switch-{i}"},
                "to": elevator["channel"],
                "rate_percent": {"low": 1, "high": 1},
            }
        )
    return document


def conditioned(count: int) -> dict[str, Any]:
    """That many switches which all have a say in one mix's conditions: 3 to that power cells."""
    document = crowded(count)
    names = [f"switch-{i}" for i in range(count)]
    for mix in document["mixes"]:
        mix["when"] = [{"control": name, "positions": ["a"]} for name in names]
    return document


@pytest.mark.parametrize(("make", "count"), [(crowded, 150), (conditioned, 40)])
def test_many_controls_in_one_channel(make: Any, count: int) -> None:
    """As many as the schema lets through: all rules come to their end, in seconds."""
    with at_most(10):
        report = INSPECTOR.inspect(make(count))
    assert report.problems == ()
    assert "conflicts/control-shared" in report.seconds


@pytest.mark.parametrize(("make", "count"), [(crowded, 1_000), (conditioned, 300)])
def test_too_many_controls_are_refused(make: Any, count: int) -> None:
    with at_most(10):
        report = INSPECTOR.inspect(make(count))
    assert "at most" in report.problems[0].message or "the most" in report.problems[0].message


def test_keys_that_all_look_alike() -> None:
    """Each is compared with the known ones, not with each other."""
    document = clean("plain") | {f"channel{'s' * (i % 50)}{i}": 1 for i in range(20_000)}
    text = json.dumps(document)
    with at_most(5):
        report = INSPECTOR.inspect(text)
    assert 1 <= len(report.problems) <= 101


def test_a_long_name_is_cut_short_in_messages() -> None:
    document = clean("plain")
    document["channels"][0]["control"] = "x" * 100_000
    (problem,) = INSPECTOR.inspect(document).problems
    assert "100000 characters" in problem.message
    assert len(problem.message) < 300
