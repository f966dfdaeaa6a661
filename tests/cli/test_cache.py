"""`prebind inspect` again: what was inspected before is found, and only where nothing changed."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from tests.benchmarks.generate import write as generate

import prebind
import prebind_rules
import prebind_schemas
from prebind.cli import cache
from prebind.inspect.inspector import Inspector

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Ran, Run

EXAMPLES = Path(__file__).parents[1] / "examples"
SHEET = (EXAMPLES / "packs" / "tern-bay.rules.json").read_text(encoding="utf-8")
IN_STEPS = ("json", "text", "sarif", "junit", "html")


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty cache folder, for code that may have been changed a moment ago."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "kept"))
    monkeypatch.setattr(cache, "SETTLED_S", 0.0)
    return tmp_path / "kept" / "prebind"


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The documents that were inspected, and not found in the cache."""
    names: list[str] = []
    inspect_file = Inspector.inspect_file

    def noted(inspector: Inspector, path: str, root: Path | None = None) -> Any:
        names.append(Path(path).name.removesuffix(".setup.json"))
        return inspect_file(inspector, path, root)

    monkeypatch.setattr(Inspector, "inspect_file", noted)
    return names


@pytest.fixture
def fleet(tmp_path: Path, kept: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The working folder, with two setups that share parts."""
    del kept
    place = tmp_path / "here"
    (place / "parts").mkdir(parents=True)
    monkeypatch.chdir(place)
    for name in ("dunlin", "redshank"):
        shutil.copy(EXAMPLES / "fleet" / f"{name}.setup.json", place)
    for part in (EXAMPLES / "fleet" / "parts").iterdir():
        shutil.copy(part, place / "parts")
    (place / "prebind.toml").write_text('packs = ["club.rules.json"]\n')
    (place / "club.rules.json").write_text(SHEET)
    return place


def entries(kept: Path) -> list[Path]:
    return sorted(file for file in kept.rglob("*") if file.is_file())


def changed(file: str, old: str, new: str) -> None:
    text = Path(file).read_text(encoding="utf-8")
    assert old in text
    Path(file).write_text(text.replace(old, new), encoding="utf-8")


def written(run: Run, *said: str, formats: tuple[str, ...] = IN_STEPS) -> tuple[Ran, list[bytes]]:
    files = [f"out.{name}" for name in formats]
    ran = run("inspect", *said, *(f"--report={it.removeprefix('out.')}={it}" for it in files))
    return ran, [Path(file).read_bytes() for file in files]


# The same again


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_the_second_run_reports_the_same_to_the_byte(
    run: Run, fleet: Path, kept: Path, monkeypatch: pytest.MonkeyPatch, jobs: str
) -> None:
    generate(fleet, 60, seed=4)
    shutil.copytree(EXAMPLES / "faulty", fleet / "faulty")
    shutil.copytree(EXAMPLES / "broken", fleet / "broken")
    plain = written(run, "--no-cache", "--jobs=1")
    assert plain[0].code == 2
    assert not kept.exists()
    told = json.loads(plain[1][0])
    broken = {it["path"] for it in told["problems"]}
    assert len(broken) > 3
    assert written(run, "--jobs", jobs) == plain
    assert len(entries(kept)) == len(told["documents"]) > 60
    inspect_file = Inspector.inspect_file

    def inspected(inspector: Inspector, path: str, root: Path | None = None) -> Any:
        assert str(path) in broken, path
        return inspect_file(inspector, path, root)

    monkeypatch.setattr(Inspector, "inspect_file", inspected)  # other processes are forked from it
    assert written(run, "--jobs", jobs) == plain


@pytest.mark.parametrize("format_", IN_STEPS)
def test_each_format_is_found_by_itself(
    run: Run, fleet: Path, judged: list[str], format_: str
) -> None:
    del fleet
    before = run("inspect", "--report", format_)
    assert run("inspect", "--report", format_) == before
    assert judged == ["dunlin", "redshank"]


def test_what_is_given_out_is_given_out_again(run: Run, fleet: Path, judged: list[str]) -> None:
    """The exit code, and the files that no report may take the place of."""
    shutil.copy(EXAMPLES / "faulty" / "dunlin-faulty.setup.json", fleet)
    assert [run("inspect").code for _ in range(2)] == [1, 1]
    assert judged == ["dunlin-faulty", "dunlin", "redshank"]
    before = (fleet / "parts" / "club-radio.json").read_bytes()
    for target in ("parts/club-radio.json", "prebind.toml"):
        said = [run("inspect", "--report", f"text={target}") for _ in range(2)]
        assert said[0] == said[1]
        assert "would take the place of a file it is about" in said[0].err
    assert (fleet / "parts" / "club-radio.json").read_bytes() == before


# Something changed


def another_day(patch: pytest.MonkeyPatch) -> None:
    patch.setattr("prebind.inspect.inspector.strftime", lambda _: "2031-01-31")


def another_version(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(cache, "__version__", "0.1.1")


def another_python(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(sys, "version", "3.99")


def another_library(patch: pytest.MonkeyPatch) -> None:
    Path("../library/jiter-99.dist-info").mkdir(parents=True)
    patch.syspath_prepend("../library")


CHANGES: dict[str, Callable[[], object]] = {
    "a part": lambda: changed("parts/club-radio.json", '"channels": 1', '"channels":  1'),
    "the settings": lambda: changed("prebind.toml", "packs", 'region = "eu"\npacks'),
    "what grounds": lambda: changed("prebind.toml", "packs", 'ground_at = "notice"\npacks'),
    "no settings": lambda: Path("prebind.toml").unlink(),
    "a sheet": lambda: changed("club.rules.json", "must stop its motor", "must stop the motor"),
    "a sheet, in one number": lambda: changed("club.rules.json", "7000", "7001"),
    "a sheet that breaks": lambda: changed("club.rules.json", '"rules"', '"rulez"'),
}
WORDS = {
    "complete": "--complete",
    "ground at": "--ground-at=notice",
    "a family": "--family=bands",
    "left out": "--leave-out=bands",
    "no sheet": "--without-pack=tern-bay",
    "a part of it": "--part=1/1",
    "a format": "--report=json",
    "two formats": "--report=text --report=json=out.json",
    "settings": "--settings=other/prebind.toml",
    "a pack": "--pack=other/more.rules.json",
}
AROUND = {
    "the day": another_day,
    "the version": another_version,
    "Python": another_python,
    "a library": another_library,
    "the width": lambda patch: patch.setenv("COLUMNS", "63"),
}


def changing(what: str, patch: pytest.MonkeyPatch) -> list[str]:
    """Makes the change; the words on the command line that it takes."""
    Path("other").mkdir()
    Path("other/prebind.toml").write_text('leave_out = ["travel"]\n')
    Path("other/more.rules.json").write_text(SHEET.replace("tern-bay", "tern-cove"))
    if what in CHANGES:
        CHANGES[what]()
    if what in AROUND:
        AROUND[what](patch)
    return WORDS[what].split() if what in WORDS else []


@pytest.mark.parametrize("what", [*CHANGES, *WORDS, *AROUND])
def test_what_changed_is_inspected_anew(
    run: Run, fleet: Path, judged: list[str], monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    del fleet
    run("inspect")
    run("inspect")
    assert judged == ["dunlin", "redshank"]
    said = changing(what, monkeypatch)
    found = run("inspect", *said)
    assert judged[2:] == (["dunlin"] if what == "a part" else ["dunlin", "redshank"])
    assert run("inspect", *said, "--no-cache") == found


def test_what_did_not_change_beside_it_is_found(run: Run, fleet: Path, judged: list[str]) -> None:
    run("inspect")
    changed("redshank.setup.json", '"name": "', '"name": "New ')
    (fleet / "near").mkdir()
    shutil.copy("dunlin.setup.json", "near/knot.setup.json")
    shutil.copytree("parts", "near/parts")
    judged.clear()
    run("inspect")
    assert judged == ["knot", "redshank"]
    (fleet / "near" / "prebind.toml").write_text('leave_out = ["bands"]\n')  # now the nearest
    run("inspect")
    assert judged == ["knot", "redshank", "knot"]


def test_a_document_by_another_name_is_another(run: Run, fleet: Path, judged: list[str]) -> None:
    run("inspect", "dunlin.setup.json")
    Path("dunlin.setup.json").rename("stint.setup.json")
    assert "stint.setup.json" in run("inspect", "stint.setup.json").out
    assert "dunlin.setup" not in run("inspect", str(fleet / "stint.setup.json")).out
    assert judged == ["dunlin", "stint", "stint"]


def test_a_path_is_told_from_where_one_stands(
    run: Run, fleet: Path, judged: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    Path("prebind.toml").unlink()  # which is told from there too
    for place, named in ((fleet, "dunlin"), (fleet.parent, "here/dunlin")):
        monkeypatch.chdir(place)
        told = json.loads(run("inspect", fleet / "dunlin.setup.json", "--report=json").out)
        assert told["documents"][0]["path"] == f"{named}.setup.json"
    assert judged == ["dunlin", "dunlin"]


def test_parts_come_go_and_lead_out(run: Run, fleet: Path) -> None:
    part = fleet / "parts" / "club-radio.json"
    away = fleet.parent / "away.json"
    for change, code in (
        (lambda: None, 0),
        (lambda: part.rename(away), 2),
        (lambda: away.rename(part), 0),
        (lambda: (part.rename(away), part.symlink_to(away)), 2),
        (lambda: (part.unlink(), away.rename(part)), 0),
        (lambda: part.write_text("{"), 2),
    ):
        change()
        for _ in range(2):
            found = run("inspect", "dunlin.setup.json")
            assert found.code == code, found
            assert run("inspect", "dunlin.setup.json", "--no-cache") == found


def test_a_part_may_be_named_in_any_spelling_of_json(
    run: Run, fleet: Path, judged: list[str]
) -> None:
    del fleet
    changed("dunlin.setup.json", '"from"', '"fr\\u006fm"')
    run("inspect", "dunlin.setup.json")
    CHANGES["a part"]()
    run("inspect", "dunlin.setup.json")
    assert judged == ["dunlin", "dunlin"]


def test_a_waiver_expires(run: Run, fleet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    del fleet
    waivers = '"waivers": [{"rule": "bands/thin-margin", "reason": "r", "by": "b", "until": "%s"}]'
    today = time.strftime("%Y-%m-%d")
    changed("redshank.setup.json", '"format"', f'{waivers % today}, "format"')
    before = [run("inspect", "redshank.setup.json").out for _ in range(2)]
    assert before[0] == before[1]
    another_day(monkeypatch)
    assert "expired" not in before[0]
    assert "expired" in run("inspect", "redshank.setup.json").out


# What is never kept


@pytest.mark.parametrize(
    "said", ["--no-cache", "--timing", "--since=before.json", "--report=markdown"]
)
def test_some_runs_keep_nothing(
    run: Run, fleet: Path, kept: Path, judged: list[str], said: str
) -> None:
    del fleet
    run("inspect", "--no-cache", "--report=json=before.json")
    judged.clear()
    for _ in range(2):
        assert run("inspect", said).code == 0
    assert judged == ["dunlin", "redshank"] * 2
    assert not kept.exists()


def test_standard_input_is_not_kept(run: Run, kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(2):
        data = (EXAMPLES / "fleet" / "sanderling.setup.json").read_bytes()
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
        assert "1 document inspected" in run("inspect", "-").out
    assert not kept.exists()


def test_nothing_is_kept_by_a_pack_that_lies_nowhere(
    run: Run, fleet: Path, kept: Path, crashing_rule: str
) -> None:
    del fleet
    for _ in range(2):
        assert f"made-pack 2.0: {crashing_rule}: " in run("inspect").out
    assert not kept.exists()


PACK = """
from pathlib import Path
from prebind.hooks import hookimpl
from prebind.rule import Fail, rule

@hookimpl
def prebind_rules():
    yield rule("club/day", word="notice", title="A day", each="setup", safety="", remedy="",
        bench="", source="", examples=list)(
        lambda *_: Fail(Path(__file__).with_name("said.txt").read_text()))
"""


def test_nothing_is_kept_under_a_pack_that_is_a_program(run: Run, fleet: Path, kept: Path) -> None:
    (fleet / "club.py").write_text(PACK)
    for word in ("Low tide.", "High tide."):
        (fleet / "said.txt").write_text(word)
        assert word in run("inspect", "--pack=club.py", "--trust-packs").out
    assert not kept.exists()
    Path("prebind.toml").write_text('packs = ["club.py"]\n')
    assert word in run("inspect", "--trust-packs").out
    assert not kept.exists()


def test_nothing_is_kept_by_a_sheet_that_was_just_changed(
    run: Run, fleet: Path, judged: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may have changed between being loaded and being looked at here."""
    del fleet
    monkeypatch.setattr(cache, "SETTLED_S", 30.0)
    for _ in range(2):
        run("inspect")
    assert judged == ["dunlin", "redshank"] * 2


# True processes, with code that changes


class Installed:
    """The packages in a folder of their own, with one more that has a pack."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for module in (prebind, prebind_rules, prebind_schemas):
            assert module.__file__ is not None
            here = Path(module.__file__).parent
            ignored = shutil.ignore_patterns("__pycache__")
            shutil.copytree(here, folder / here.name, ignore=ignored)
        (folder / "shore").mkdir()
        (folder / "shore" / "__init__.py").write_text(PACK)
        (folder / "shore" / "said.txt").write_text("Low tide.")
        info = folder / "shore_rules-1.0.dist-info"
        info.mkdir()
        (info / "entry_points.txt").write_text("[prebind]\nshore = shore\n")

    def inspect(self) -> tuple[int, str]:
        """How many documents were inspected, and what was said."""
        code = (
            "import sys\n"
            "from prebind.cli import cache, main\n"
            "from prebind.inspect.inspector import Inspector\n"
            "cache.SETTLED_S, inspect_file, count = 0.0, Inspector.inspect_file, []\n"
            "def noted(*given):\n"
            "    count.append(given)\n"
            "    return inspect_file(*given)\n"
            "Inspector.inspect_file = noted\n"
            "main(['inspect'])\n"
            "print(prebind_from := sys.modules['prebind'].__file__, len(count), file=sys.stderr)\n"
        )
        environment = os.environ | {"PYTHONPATH": str(self.folder), "PYTHONDONTWRITEBYTECODE": "1"}
        command = [sys.executable, "-c", code]
        ran = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
        where, count = ran.stderr.rsplit(maxsplit=1)
        assert Path(where) == self.folder / "prebind" / "__init__.py"
        return int(count), ran.stdout

    def change(self, file: str, old: str, new: str) -> None:
        """As one who says that it was never changed."""
        path = self.folder / file
        before = path.stat()
        changed(str(path), old, new)
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
        assert path.stat().st_size == before.st_size


def test_any_code_that_changed_is_noticed(tmp_path: Path, fleet: Path) -> None:
    del fleet
    installed = Installed(tmp_path / "installed")
    counts, first = installed.inspect()
    assert (counts, "Low tide." in first) == (2, True)
    assert installed.inspect() == (0, first)
    for file, old, new in (
        ("prebind_rules/bands/thin_margin.py", '"notice"', '"danger"'),
        ("prebind_rules/reversal/_changes.py", "import annotations", "import annotations"),
        ("prebind/inspect/engine.py", "import annotations", "import annotations"),
        ("prebind/report/templates/page.html.jinja", "<html", "<html"),
        ("prebind_schemas/setup.schema.json", "schema", "schema"),
        ("shore/said.txt", "Low", "Odd"),
    ):
        if old not in (installed.folder / file).read_text():
            old = new = "a"
        installed.change(file, old, new)
        count, said = installed.inspect()
        assert count == 2, file
        assert installed.inspect() == (0, said)
    assert "Odd tide." in said
    (installed.folder / "shore" / "more.py").touch()
    assert installed.inspect()[0] == 2
    (installed.folder / "shore" / "more.py").unlink()
    assert installed.inspect()[0] == 0  # as it was
    (installed.folder / "shore" / "said.txt").unlink()
    for _ in range(2):
        count, said = installed.inspect()
        assert (count, "shore-rules 1.0: club/day: " in said) == (2, True)  # which crashes


def test_two_runs_at_once(fleet: Path) -> None:
    generate(fleet, 40, seed=5, clean=True)
    code = "import sys; from prebind.cli import cache, main; cache.SETTLED_S = 0; main(['inspect'])"
    expected = subprocess.run(
        [sys.executable, "-c", code.replace("'inspect'", "'inspect', '--no-cache'")],
        capture_output=True,
        check=True,
    )
    for _ in range(2):
        both = [
            subprocess.Popen(
                [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
            )
            for _ in range(2)
        ]
        for one in both:
            assert one.communicate() == (expected.stdout, expected.stderr)
