"""`prebind sign`: what it lists, what it writes and how, and what it refuses."""

from __future__ import annotations

import json
import os
import shutil
import signal
import stat
import subprocess
import sys
from errno import ENOSPC
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import prebind

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Run, Write

EXAMPLES = Path(__file__).parents[1] / "examples"
BY = ("--by", "A. Builder", "--on", "2026-05-31")
PLAIN = ["control-direction", "throws", "failsafe", "balance", "range"]


def digest(file: Path, check: str) -> str | None:
    """By the library, which the command must agree with."""
    found = prebind.read(file.read_bytes(), path=file.as_posix(), root=file.parent)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup).digest(check)


def entry(file: Path, check: str, by: str = "A. Builder", on: str = "2026-05-31") -> dict[str, Any]:
    return {"check": check, "by": by, "on": on, "digest": digest(file, check)}


def signs(file: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(file.read_bytes().decode("utf-8-sig"))["sign_offs"]
    return found


def alone(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


@pytest.fixture
def knot(write: Write) -> Path:
    return write("knot.setup.json")


# --- listing --------------------------------------------------------------------------------


def standing(out: str) -> dict[str, str]:
    """Check → how it stands, from the list."""
    lines = out.split("\n\n")[1].splitlines()
    states = ("signed off", "stale", "missing", "nothing to prove")
    return {
        line.split()[0]: next(s for s in states if line.split(maxsplit=1)[1].startswith(s))
        for line in lines
        if not line.startswith(" ")
    }


def test_what_a_setup_wants(run: Run, knot: Path) -> None:
    before = knot.read_bytes()
    ran = run("sign", knot.name)
    assert (ran.code, ran.err) == (1, "")
    assert standing(ran.out) == dict.fromkeys(PLAIN, "missing")
    assert "throws             missing  every surface goes as far as it is meant to" in ran.out
    told = " ".join(ran.out.split())
    assert "sign it off: prebind sign knot.setup.json --check NAME --by WHO" in told
    assert "does not say that the model is safe to fly: a person decides" in told
    assert knot.read_bytes() == before


def test_signed_stale_and_left_over(run: Run, write: Write) -> None:
    file = write("knot.setup.json", start="trainer")
    for check in ("control-direction", "throws", "recovery", "range"):
        assert run("sign", file, "--check", check, *BY).code == 0
    document = json.loads(file.read_text("utf-8"))
    document["channels"][1]["reversed"] = True
    del document["receiver"]["stabiliser"]
    del document["receiver"]["failsafe"]["intended_states"]
    file.write_text(json.dumps(document, indent=2), encoding="utf-8")
    ran = run("sign", file)
    assert ran.code == 1
    assert standing(ran.out) == {
        "control-direction": "stale",
        "throws": "stale",
        "failsafe": "missing",
        "balance": "missing",
        "range": "signed off",
        "recovery": "nothing to prove",
    }
    told = " ".join(ran.out.split())
    assert "A. Builder on 2026-05-31: the link holds at reduced power" in told
    assert "Prove it anew." in told
    assert "Nothing is left here that recovery would prove" in told


def test_everything_is_signed_off(run: Run) -> None:
    for file in sorted((EXAMPLES / "fleet").glob("*.setup.json")):
        ran = run("sign", file)
        assert ran.code == 0, file
        assert set(standing(ran.out).values()) == {"signed off"}
        assert "sign it off" not in ran.out


def test_the_inspection_says_the_same(run: Run, knot: Path) -> None:
    assert run("sign", knot, "--check", "range", *BY).code == 0
    found = json.loads(run("inspect", "--report", "json", knot).out)["documents"][0]["findings"]
    missing = [f["evidence"]["check"] for f in found if f["rule"] == "sign-offs/missing"]
    assert sorted(missing) == sorted(set(PLAIN) - {"range"})


# --- writing --------------------------------------------------------------------------------


def test_the_first_one(run: Run, knot: Path, folder: Path) -> None:
    before = knot.read_text("utf-8")
    expected = entry(knot, "throws")
    ran = run("sign", knot.name, "--check", "throws", *BY)
    assert (ran.code, ran.err) == (0, "")
    lines = json.dumps([expected], indent=2).replace("\n", "\n  ")
    assert knot.read_text("utf-8") == before.removesuffix("\n}") + f',\n  "sign_offs": {lines}\n}}'
    diff = [line for line in ran.out.splitlines() if line[:1] in ("-", "+")]
    assert diff[:4] == [
        "--- knot.setup.json\tas it is",
        "+++ knot.setup.json\tsigned off",
        "-  }",
        "+  },",
    ]
    assert f'+      "digest": "{expected["digest"]}"' in diff
    assert "knot.setup.json is written." in ran.out
    assert "does not say that the model is safe to fly" in " ".join(ran.out.split())
    assert alone(folder) == ["knot.setup.json"]


def test_the_change_is_shown_before_it_is_written(
    run: Run, knot: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(ENOSPC, os.strerror(ENOSPC))

    monkeypatch.setattr(os, "replace", refuse)
    ran = run("sign", knot, "--check", "throws", *BY)
    assert ran.code == 2
    assert '+      "check": "throws",' in ran.out


def test_several_at_once(run: Run, knot: Path) -> None:
    given = ["--check", "balance", "--check", "throws", "--check", "balance"]
    assert run("sign", knot, *given, *BY).code == 0
    assert signs(knot) == [entry(knot, "balance"), entry(knot, "throws")]


def test_another_is_appended(run: Run, knot: Path) -> None:
    run("sign", knot, "--check", "throws", *BY)
    run("sign", knot, "--check", "range", "--by", "B. Instructor", "--on", "2026-06-01")
    assert signs(knot) == [
        entry(knot, "throws"),
        entry(knot, "range", "B. Instructor", "2026-06-01"),
    ]


def test_one_that_is_there_is_replaced_where_it_stands(run: Run, knot: Path) -> None:
    for check in ("throws", "range"):
        run("sign", knot, "--check", check, *BY)
    document = json.loads(knot.read_text("utf-8"))
    document["sign_offs"][0]["x-with"] = "a gauge"
    document["channels"][1]["subtrim_percent"] = 3
    knot.write_text(json.dumps(document, indent=2), encoding="utf-8")
    before = knot.read_text("utf-8").splitlines()
    assert run("sign", knot, "--check", "throws", "--by", "B", "--on", "2026-07-01").code == 0
    first, second = signs(knot)
    assert first == {**entry(knot, "throws", "B", "2026-07-01"), "x-with": "a gauge"}
    assert second == entry(knot, "range")
    after = knot.read_text("utf-8").splitlines()
    other = [
        now.split(":")[0].strip() for was, now in zip(before, after, strict=True) if was != now
    ]
    assert other == ['"by"', '"on"', '"digest"']


def test_of_several_for_one_check_one_stays(run: Run, write: Write) -> None:
    old = {"check": "throws", "by": "x", "digest": "0"}
    ons = ("2026-01-01", "2026-03-01", "2026-02-01")
    other = {"check": "range", "by": "x", "on": "2026-01-01", "digest": "0"}

    def sign(document: dict[str, Any]) -> None:
        document["sign_offs"] = [*({**old, "on": on} for on in ons), other]

    file = write("knot.setup.json", sign)
    assert run("sign", file, "--check", "throws", "--by", "A", "--on", "2025-12-31").code == 0
    assert signs(file) == [entry(file, "throws", "A", "2025-12-31"), other]
    assert standing(run("sign", file).out)["throws"] == "signed off"


def test_an_empty_section(run: Run, write: Write) -> None:
    file = write("knot.setup.json", lambda d: d.update(sign_offs=[]))
    assert run("sign", file, "--check", "range", *BY).code == 0
    assert signs(file) == [entry(file, "range")]


def test_signed_again_as_it_is(run: Run, knot: Path) -> None:
    run("sign", knot, "--check", "range", *BY)
    before = (knot.read_bytes(), knot.stat().st_mtime_ns)
    ran = run("sign", knot, "--check", "range", *BY)
    assert ran.code == 0
    assert "This is signed off already; nothing is to be written." in ran.out
    assert (knot.read_bytes(), knot.stat().st_mtime_ns) == before


def test_today_if_nothing_is_said(run: Run, knot: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("prebind.cli.sign.strftime", lambda layout: f"2031-02-03 {layout}"[:10])
    assert run("sign", knot, "--check", "range", "--by", "A").code == 0
    assert signs(knot)[0]["on"] == "2031-02-03"


@pytest.mark.parametrize("who", ["Ærø 🛩 “Ada”", 'a "quoted" \\ name', "  spaced  ", "a\u202eb"])
def test_names_as_given(run: Run, knot: Path, who: str) -> None:
    ran = run("sign", knot, "--check", "range", "--by", who, "--on", "2026-05-31")
    assert ran.code == 0
    assert signs(knot)[0]["by"] == who
    assert "\u202e" not in ran.out + run("sign", knot).out


# --- layouts --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("indent", "separators", "line_end", "mark", "end"),
    [
        pytest.param(2, None, "\r\n", "", "\r\n", id="CRLF"),
        pytest.param("\t", None, "\n", "", "\n", id="tabs"),
        pytest.param(None, None, "\n", "", "\n", id="one line"),
        pytest.param(None, (",", ":"), "\n", "", "", id="compact, no line end"),
        pytest.param(4, None, "\n", "\ufeff", "", id="byte order mark"),
        pytest.param(2, (",", " : "), "\r", "", "\n\n", id="old line ends, wide"),
    ],
)
def test_the_layout_stays(
    run: Run, knot: Path, indent: Any, separators: Any, line_end: str, mark: str, end: str
) -> None:
    """What stood there stands there byte for byte; what is new looks like it."""

    def laid_out(document: dict[str, Any]) -> bytes:
        text = json.dumps(document, indent=indent, separators=separators, ensure_ascii=False)
        return (mark + text.replace("\n", line_end) + end).encode()

    document = json.loads(knot.read_text("utf-8"))
    document["model"]["name"] = "Knot, Ærø 🛩"
    knot.write_bytes(laid_out(document))
    for check in ("throws", "range"):
        assert run("sign", knot, "--check", check, *BY).code == 0
    signed = {**document, "sign_offs": [entry(knot, "throws"), entry(knot, "range")]}
    assert knot.read_bytes() == laid_out(signed)


# --- shared parts ---------------------------------------------------------------------------


def test_shared_parts_are_never_touched(run: Run, folder: Path) -> None:
    shutil.copytree(EXAMPLES / "fleet", folder / "fleet")
    parts = sorted((folder / "fleet" / "parts").iterdir())
    before = [part.read_bytes() for part in parts]
    for file in sorted((folder / "fleet").glob("*.setup.json")):
        assert run("sign", file, "--check", "range", *BY).code == 0
        assert signs(file)[-1] == entry(file, "range")
    assert [part.read_bytes() for part in parts] == before
    ran = run("sign", parts[0], "--check", "range", *BY)
    assert ran.code == 2
    assert [part.read_bytes() for part in parts] == before


# --- what fails all the same ----------------------------------------------------------------


def test_what_contradicts_is_told_and_a_person_decides(run: Run, write: Write) -> None:
    file = write("knot.setup.json", lambda d: d["channels"][2].update(reversed=True))
    line = file.read_text("utf-8").splitlines().index('      "reversed": true') + 1
    ran = run("sign", file.name, "--check", "control-direction", *BY)
    assert ran.code == 0
    first, *_, last = ran.err.splitlines()
    assert first.startswith(f"knot.setup.json:{line}:")
    assert "warning: reversal/command-backwards: " in first
    assert last.startswith("prebind sign: what is signed off here fails by the document")
    assert signs(file) == [entry(file, "control-direction")]
    assert "reversal/command-backwards" in run("inspect", file).out


def test_other_faults_are_not_told(run: Run, write: Write) -> None:
    file = write("knot.setup.json", lambda d: d["channels"][2].update(reversed=True))
    for check in ("failsafe", "balance", "range"):
        assert run("sign", file, "--check", check, *BY).err == ""


def test_what_signing_mends_is_not_told(run: Run, write: Write) -> None:
    """A failsafe stored at bind that was stale is what the new sign-off is for."""
    old = {"check": "failsafe", "by": "x", "on": "2026-01-01", "digest": "0"}
    file = write("knot.setup.json", lambda d: d.update(sign_offs=[old]), start="trainer")
    assert "failsafe/stale" in run("inspect", file).out
    ran = run("sign", file, "--check", "failsafe", *BY)
    assert (ran.code, ran.err) == (0, "")


def test_what_is_waived_is_not_told(run: Run, write: Write) -> None:
    waiver = {"rule": "reversal/command-backwards", "reason": "r", "by": "b", "until": "9999-12-31"}

    def change(document: dict[str, Any]) -> None:
        document["channels"][2]["reversed"] = True
        document["waivers"] = [waiver]

    ran = run("sign", write("knot.setup.json", change), "--check", "control-direction", *BY)
    assert (ran.code, ran.err) == (0, "")


# --- what is refused ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--check", "range"], "say who did the check, with --by"),
        (["--by", "A"], "say with --check what was done: control-direction, "),
        (["--on", "2026-05-31"], "say with --check what was done"),
        (["--check", "rang", "--by", "A"], "“rang” is no check; did you mean “range”?"),
        (["--check", "range", "--by", "  "], "name the person who did the check"),
        (["--check", "range", "--by", "A", "--on", "31.5.2026"], "“31.5.2026” is no date"),
        (["--check", "range", "--by", "A", "--on", "2026-02-30"], "“2026-02-30” is no date"),
        (["--check", "range", "--by", "A", "--on", "20260531"], "as in 2026-05-31"),
        (["more.setup.json"], "unrecognized arguments"),
    ],
)
def test_usage(run: Run, knot: Path, arguments: list[str], says: str) -> None:
    before = knot.read_bytes()
    ran = run("sign", knot, *arguments)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err
    assert knot.read_bytes() == before


def test_nothing_to_prove(run: Run, knot: Path) -> None:
    before = knot.read_bytes()
    ran = run("sign", knot.name, "--check", "range", "--check", "recovery", *BY)
    assert (ran.code, ran.out, knot.read_bytes()) == (2, "", before)
    assert ran.err == (
        "knot.setup.json: problem: there is nothing to prove here by “recovery”; this setup wants "
        f"{', '.join(PLAIN)}\n"
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{,}", "knot.setup.json:1:2: problem: "),
        ('{"format": "model-setup/1"}', "`model` is missing"),
        ("", "problem: "),
    ],
)
def test_what_is_broken(run: Run, folder: Path, text: str, says: str) -> None:
    file = folder / "knot.setup.json"
    file.write_text(text, encoding="utf-8")
    for arguments in ([], ["--check", "range", *BY]):
        ran = run("sign", file.name, *arguments)
        assert (ran.code, ran.out, file.read_text("utf-8")) == (2, "", text)
        assert says in ran.err


def test_a_name_that_does_not_fit(run: Run, knot: Path) -> None:
    before = knot.read_bytes()
    ran = run("sign", knot, "--check", "range", "--by", "x" * 100_000)
    assert (ran.code, ran.out, knot.read_bytes()) == (2, "", before)
    assert "sign_offs" in ran.err


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (Path.exists, "cannot be read: No such file"),
        (Path.mkdir, "this is a folder; name one setup"),
        (os.mkfifo, "this is not an ordinary file"),
    ],
)
def test_what_is_no_file(run: Run, folder: Path, make: Callable[[Path], object], says: str) -> None:
    make(folder / "knot.setup.json")
    ran = run("sign", "knot.setup.json", "--check", "range", *BY)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err


def test_standard_input(run: Run) -> None:
    ran = run("sign", "-", "--check", "range", *BY)
    assert ran.code == 2
    assert "standard input cannot be written to; name a file" in ran.err


def test_with_a_crashing_rule_nothing_is_signed(run: Run, knot: Path, crashing_rule: str) -> None:
    before = knot.read_bytes()
    ran = run("sign", knot, "--check", "range", *BY)
    assert (ran.code, knot.read_bytes()) == (2, before)
    assert crashing_rule in ran.err


def test_under_broken_settings_nothing_is_signed(run: Run, knot: Path, folder: Path) -> None:
    before = knot.read_bytes()
    (folder / "prebind.toml").write_text('leave_out = ["reversal/twise"]\n')
    ran = run("sign", knot, "--check", "range", *BY)
    assert (ran.code, knot.read_bytes()) == (2, before)
    assert "prebind.toml:1:" in ran.err


# --- the file -------------------------------------------------------------------------------


def test_permissions_stay(run: Run, knot: Path) -> None:
    knot.chmod(0o640)
    owner = knot.stat().st_uid
    assert run("sign", knot, "--check", "range", *BY).code == 0
    assert stat.S_IMODE(knot.stat().st_mode) == 0o640
    assert knot.stat().st_uid == owner


def test_a_protected_file_stays(run: Run, knot: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    knot.chmod(0o444)
    monkeypatch.setattr(os, "access", lambda *_: False)  # the superuser may write all the same
    before = knot.read_bytes()
    ran = run("sign", knot, "--check", "range", *BY)
    assert (ran.code, knot.read_bytes()) == (2, before)
    assert "nothing was written: the file is protected against writing" in ran.err


def test_a_link_stays_a_link(run: Run, write: Write, folder: Path) -> None:
    target = write("kept/knot.setup.json")
    link = folder / "link.setup.json"
    link.symlink_to(Path("kept") / "knot.setup.json")
    assert run("sign", link.name, "--check", "range", *BY).code == 0
    assert link.is_symlink()
    assert signs(target) == [entry(target, "range")]


def test_changed_meanwhile(run: Run, knot: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fsync", lambda _: knot.write_text("theirs", encoding="utf-8"))
    ran = run("sign", knot, "--check", "range", *BY)
    assert ran.code == 2
    assert "nothing was written: someone changed the file meanwhile" in ran.err
    assert knot.read_text("utf-8") == "theirs"


@pytest.mark.parametrize("call", ["fsync", "replace", "chown"])
def test_a_failure_leaves_the_old_file(
    run: Run, knot: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(ENOSPC, os.strerror(ENOSPC))

    before = knot.read_bytes()
    monkeypatch.setattr(os, call, full)
    ran = run("sign", knot, "--check", "range", *BY)
    assert (ran.code, knot.read_bytes()) == (2, before)
    assert "nothing was written: No space left on device" in ran.err
    assert alone(folder) == ["knot.setup.json"]


KILLED = """
import os, signal, sys
from prebind.cli import main
os.{call} = lambda *_: os.kill(os.getpid(), signal.SIGKILL)
main(["sign", "knot.setup.json", "--check", "range", "--by", "A"])
"""


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_killed_midway(knot: Path, folder: Path, call: str) -> None:
    """With the new text half on the disk, or whole and not yet in place."""
    before = knot.read_bytes()
    program = KILLED.replace("{call}", call)
    ran = subprocess.run(
        [sys.executable, "-c", program], cwd=folder, capture_output=True, check=False
    )
    assert ran.returncode == -signal.SIGKILL
    assert knot.read_bytes() == before
