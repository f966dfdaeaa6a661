"""`prebind compare`: two setups, or one and what git has of it."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from prebind.cli.committed import NotCommitted, committed
from prebind.testing import clean

if TYPE_CHECKING:
    from tests.cli.conftest import Run, Write

needs_git = pytest.mark.skipif(shutil.which("git") is None, reason="git is not here")


def reversed_rudder(document: dict[str, Any]) -> None:
    document["channels"][3]["reversed"] = False


def test_nothing_changed(run: Run, write: Write) -> None:
    old = write("old.setup.json")
    new = write("new.setup.json", lambda it: it["model"].update(name="Curlew 1100"))
    ran = run("compare", old, new)
    assert (ran.code, ran.err) == (0, "")
    title, _, _, says = ran.out.splitlines()[:4]
    assert title == "“Ringed Plover 1100” old.setup.json, then “Curlew 1100” new.setup.json"
    assert says == "Nothing changed in effect."


def test_something_changed(run: Run, write: Write) -> None:
    ran = run("compare", write("old.setup.json"), write("new.setup.json", reversed_rudder))
    assert (ran.code, ran.err) == (1, "")
    assert "- rudder (port 4), stick right: was right, now LEFT, the wrong way.\n" in ran.out
    assert "new.setup.json:" in ran.out.partition("Findings gained\n\n")[2]
    assert "warning: reversal/command-backwards: " in ran.out
    assert "- control-direction: every control moves its surface the right way; it" in ran.out


def test_a_finding_lost_is_told_in_the_older_file(run: Run, write: Write) -> None:
    ran = run("compare", write("old.setup.json", reversed_rudder), write("new.setup.json"))
    assert ran.code == 1
    assert "Findings gained" not in ran.out
    assert ran.out.partition("Findings lost\n\n")[2].startswith("old.setup.json:")


def test_formats(run: Run, write: Write) -> None:
    files = write("old.setup.json"), write("new.setup.json", reversed_rudder)
    ran = run(
        "compare",
        *files,
        "--report",
        "json=c.json",
        "--report",
        "markdown=c.md",
        "--report",
        "text",
    )
    assert ran.code == 1
    report = json.loads(Path("c.json").read_text(encoding="utf-8"))
    assert (report["format"], report["same"]) == ("comparison/1", False)
    assert (report["old"]["path"], report["new"]["path"]) == ("old.setup.json", "new.setup.json")
    assert report["problems"] == []
    (direction,) = (it for it in report["changes"] if it["section"] == "directions")
    assert direction["before"] == {"moves": ["right"], "sign": 1}
    assert direction["after"] == {"moves": ["left"], "sign": -1}
    assert direction["says"] in ran.out
    page = Path("c.md").read_text(encoding="utf-8")
    assert "| rudder (port 4), stick right | right | LEFT, the wrong way |" in page


def test_a_report_does_not_take_the_place_of_a_setup(run: Run, write: Write) -> None:
    old, new = write("old.setup.json"), write("new.setup.json")
    before = old.read_bytes()
    ran = run("compare", old, new, "--report", "json=old.setup.json")
    assert ran.code == 2
    assert old.read_bytes() == before


def test_standard_input(run: Run, write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    old = write("old.setup.json")
    data = write("new.setup.json", reversed_rudder).read_bytes()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
    ran = run("compare", old, "-", "--report", "json")
    assert (ran.code, json.loads(ran.out)["new"]["path"]) == (1, "-")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["a.json"], "name two setups, the older one first"),
        (["a.json", "b.json", "c.json"], "name two setups"),
        (["-", "-"], "only one of the two can come on standard input"),
        (["--git", "a.json", "b.json"], "with --git name one setup"),
        (["--git", "-"], "with --git name one setup"),
        (["a.json", "b.json", "--report", "html"], "“html” is no format here"),
    ],
)
@pytest.mark.usefixtures("folder")
def test_wrong_usage(run: Run, arguments: list[str], says: str) -> None:
    ran = run("compare", *arguments)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err


def test_a_broken_setup(run: Run, write: Write) -> None:
    new = write("new.setup.json")
    Path("old.setup.json").write_text('{"format": 1,}', encoding="utf-8")
    ran = run("compare", "old.setup.json", new)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("old.setup.json:1:13: problem: ")
    ran = run("compare", new, "gone.setup.json")
    assert ran.code == 2
    assert "gone.setup.json: problem: cannot be read: No such file" in ran.err
    Path("fleet").mkdir()
    assert "fleet: problem: this is a folder" in run("compare", new, "fleet").err


def test_a_rule_that_crashes(run: Run, write: Write, crashing_rule: str) -> None:
    files = write("old.setup.json"), write("new.setup.json", reversed_rudder)
    ran = run("compare", *files, "--report", "json")
    assert ran.code == 2
    assert {it["rule"] for it in json.loads(ran.out)["problems"]} == {crashing_rule}
    assert crashing_rule in ran.err
    assert "ZeroDivisionError: three" in run("compare", *files, "--traceback").err


def test_the_settings_of_the_newer_one_hold_for_both(run: Run, write: Write) -> None:
    """A rule left out where the newer setup lies is left out for the older one too."""
    old = write("then/old.setup.json", reversed_rudder)
    new = write("now/new.setup.json")
    lost = "warning: reversal/command-backwards"
    assert lost in run("compare", old, new).out
    Path("now/prebind.toml").write_text('leave_out = ["reversal"]\n', encoding="utf-8")
    assert lost not in run("compare", old, new).out
    assert lost in run("compare", new, old).out
    ran = run("compare", new, old, "--settings", "now/prebind.toml")
    assert lost not in ran.out
    Path("now/prebind.toml").write_text("leave_outs = []\n", encoding="utf-8")
    ran = run("compare", old, new)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("now/prebind.toml:1:1: problem: “leave_outs” is no setting")


# --- against git ----------------------------------------------------------------------------


def git(folder: Path, *arguments: str) -> None:
    """A commit is somebody's: nobody real."""
    who = {"NAME": "Ada Sandpiper", "EMAIL": "ada@tern-bay.invalid"}
    names = {f"GIT_{role}_{key}": it for role in ("AUTHOR", "COMMITTER") for key, it in who.items()}
    none = {"GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_SYSTEM": os.devnull}
    subprocess.run(
        ["git", "-C", folder, *arguments],
        check=True,
        capture_output=True,
        env={**os.environ, **names, **none},
    )


@pytest.fixture
def repository(folder: Path) -> Path:
    git(folder, "init", "--quiet")
    return folder


def commit(folder: Path) -> None:
    git(folder, "add", "--all")
    git(folder, "commit", "--quiet", "--message", "A setup")


@needs_git
def test_against_what_was_committed(run: Run, write: Write, repository: Path) -> None:
    file = write("fleet/plover.setup.json")
    commit(repository)
    ran = run("compare", "--git", file)
    assert (ran.code, ran.err) == (0, "")
    write("fleet/plover.setup.json", reversed_rudder)
    ran = run("compare", "--git", "fleet/plover.setup.json")
    assert (ran.code, ran.err) == (1, "")
    assert ran.out.startswith(
        "“Ringed Plover 1100” HEAD:fleet/plover.setup.json, then “Ringed Plover 1100” "
        "fleet/plover.setup.json\n"
    )
    assert "rudder (port 4), stick right: was right, now LEFT" in ran.out
    git(repository, "add", "--all")  # what is only staged is not committed
    assert run("compare", "--git", file).code == 1
    commit(repository)
    assert run("compare", "--git", file).code == 0


@needs_git
def test_findings_lost_since_the_commit(run: Run, write: Write, repository: Path) -> None:
    """Where they stood, by the name that git gives it; no copy is left behind."""
    write("plover.setup.json", reversed_rudder)
    commit(repository)
    file = write("plover.setup.json")
    found = run("compare", "--git", file).out.partition("Findings lost\n\n")[2]
    assert found.startswith("HEAD:plover.setup.json:")
    report = json.loads(run("compare", "--git", file, "--report", "json").out)
    assert report["old"]["path"] == "HEAD:plover.setup.json"
    assert {it["file"] for it in report["findings"]["lost"]} == {"HEAD:plover.setup.json"}
    assert "prebind-" not in json.dumps(report)


@pytest.fixture
def shared(repository: Path) -> Path:
    """A committed setup whose receiver is in a file of its own; the setup's path."""
    document = clean("plain")
    (repository / "fleet" / "parts").mkdir(parents=True)
    part = repository / "fleet" / "parts" / "receiver.json"
    part.write_text(json.dumps(document["receiver"]), encoding="utf-8")
    document["receiver"] = {"from": "parts/receiver.json"}
    file = repository / "fleet" / "plover.setup.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    commit(repository)
    return file


def reverse_output(part: Path) -> None:
    receiver = json.loads(part.read_text(encoding="utf-8"))
    receiver["outputs"][3]["reversed"] = True
    part.write_text(json.dumps(receiver), encoding="utf-8")


@needs_git
def test_shared_parts_are_as_committed_too(run: Run, shared: Path) -> None:
    reverse_output(shared.parent / "parts" / "receiver.json")
    ran = run("compare", "--git", shared)
    assert ran.code == 1
    assert "rudder (port 4), stick right: was right, now LEFT" in ran.out
    assert "reversal/command-backwards" in ran.out.partition("Findings gained")[2]


@needs_git
@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links here")
def test_links_are_followed_inside_the_repository(run: Run, shared: Path) -> None:
    parts = shared.parent / "parts"
    (parts / "receiver.json").rename(parts / "real.json")
    (parts / "receiver.json").symlink_to("real.json")
    (shared.parent / "link.setup.json").symlink_to(shared.name)
    commit(shared.parents[1])
    reverse_output(parts / "real.json")
    for file in (shared, shared.parent / "link.setup.json"):
        ran = run("compare", "--git", file)
        assert ran.code == 1, ran.err
        assert "rudder (port 4), stick right: was right, now LEFT" in ran.out


@needs_git
@pytest.mark.parametrize("outside", ["../../elsewhere.json", "parts/gone.json"])
def test_a_part_that_was_not_committed(run: Run, shared: Path, outside: str) -> None:
    """Never read from the files of today instead."""
    document = json.loads(shared.read_text(encoding="utf-8"))
    document["receiver"] = {"from": outside}
    whole = shared.read_text(encoding="utf-8")
    shared.write_text(json.dumps(document), encoding="utf-8")
    commit(shared.parents[1])
    shared.write_text(whole, encoding="utf-8")
    (shared.parent / "parts" / "gone.json").write_text("{}", encoding="utf-8")
    ran = run("compare", "--git", shared)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("HEAD:fleet/plover.setup.json:1:")
    assert "prebind-" not in ran.err


@needs_git
def test_a_broken_setup_was_committed(run: Run, write: Write, repository: Path) -> None:
    file = write("plover.setup.json")
    whole = file.read_bytes()
    file.write_bytes(b"{,}")
    commit(repository)
    file.write_bytes(whole)
    ran = run("compare", "--git", file)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("HEAD:plover.setup.json:1:2: problem: ")


@needs_git
def test_not_committed_yet(run: Run, write: Write, repository: Path) -> None:
    file = write("plover.setup.json")
    ran = run("compare", "--git", file)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == "plover.setup.json: problem: nothing is committed yet in this repository\n"
    commit(repository)
    other = write("dunlin.setup.json")
    says = "dunlin.setup.json: problem: it is not committed yet, so there is nothing to compare it"
    assert run("compare", "--git", other).err.startswith(says)


@needs_git
def test_no_repository(
    run: Run, write: Write, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(folder.parent))
    ran = run("compare", "--git", write("plover.setup.json"))
    assert ran.code == 2
    assert "plover.setup.json: problem: it lies in no git repository" in ran.err


def test_no_git(run: Run, write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    file = write("plover.setup.json")
    monkeypatch.setenv("PATH", "")
    ran = run("compare", "--git", file)
    assert ran.code == 2
    assert "problem: git is not installed here, or not found" in ran.err


@needs_git
@pytest.mark.parametrize("name", ["-x.setup.json", ":(top)a*.setup.json", "ø [1] é.setup.json"])
def test_odd_names_of_files(run: Run, write: Write, repository: Path, name: str) -> None:
    write(name)
    commit(repository)
    file = write(name, reversed_rudder)
    ran = run("compare", "--git", file)
    assert (ran.code, ran.err) == (1, "")


@needs_git
def test_nothing_that_a_repository_configures_is_run(
    run: Run, write: Write, repository: Path
) -> None:
    """Filters, text conversion, a file-system monitor, hooks, a pager, an alias."""
    write("plover.setup.json")
    (repository / ".gitattributes").write_text("*.json filter=own diff=own\n", encoding="utf-8")
    commit(repository)
    ran_it = repository / "ran"
    touch = f"touch '{ran_it}'; cat"
    for key in (
        "filter.own.smudge",
        "filter.own.clean",
        "diff.own.textconv",
        "diff.external",
        "core.fsmonitor",
        "core.pager",
        "core.sshCommand",
        "alias.cat-file",
        "alias.ls-tree",
    ):
        value = f"!{touch}" if key.startswith("alias") else touch
        git(repository, "config", key, value)
    file = write("plover.setup.json", reversed_rudder)
    assert run("compare", "--git", file).code == 1
    assert not ran_it.exists()


@needs_git
def test_inside_a_hook_of_another_repository(
    run: Run, write: Write, repository: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = write("plover.setup.json")
    commit(repository)
    monkeypatch.setenv("GIT_DIR", str(repository / "elsewhere"))
    monkeypatch.setenv("GIT_INDEX_FILE", "elsewhere")
    assert run("compare", "--git", file).code == 0


@needs_git
def test_a_committed_file_beyond_the_limit(write: Write, repository: Path) -> None:
    file = write("plover.setup.json")
    commit(repository)
    with (
        pytest.raises(NotCommitted, match=r"is larger than 100 bytes"),
        committed(str(file), repository, 100),
    ):
        pass


def test_help(run: Run) -> None:
    ran = run("compare", "--help")
    assert ran.code == 0
    assert ran.out.startswith("usage: prebind compare [OPTION ...] OLD NEW\n")
