"""`prebind inspect --jobs`: the same report from any number of processes, whatever befalls one."""

from __future__ import annotations

import gc
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import psutil
import pytest
from tests.benchmarks.generate import write as generate

from prebind.cli import documents, processes
from prebind.path import Path as SignalPath
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.cli.conftest import Ran, Run

FORMATS = ("json", "text", "sarif", "junit", "markdown", "html", "board")

PACK = '''
import os, time
from prebind.format import Format
from prebind.hooks import hookimpl
from prebind.rule import PASS, Fail, rule

def judged(document, path, settings):
    """What the model's name asks for."""
    name = path.setup.model.name
    if name == "Smew":
        os._exit(3)
    if name == "Garganey":
        time.sleep(600)
    if name == "Gadwall":
        return Fail("Of no use.", evidence={"seen": 3})
    time.sleep(settings["pause_s"])
    return PASS

class Board:
    """Wants whole reports: path, packs and places."""
    def __init__(self, sheet, run):
        self._out = sheet.out
    def document(self, report):
        places = [report.place(found) for found in report.findings]
        ports = report.path and [port.number for port in report.path.ports]
        packs = [pack.label for pack in report.packs]
        print(report.path_name, places, ports, packs, file=self._out)
        if report.setup and report.setup.model.name == "Pintail":
            raise LookupError("no such duck")
    def end(self, problems):
        print(len(problems), file=self._out)

@hookimpl
def prebind_rules():
    from prebind.rule import Setting
    yield rule("club/name", word="notice", title="A name", each="setup", safety="", remedy="",
        bench="", source="", examples=list,
        settings={"pause_s": Setting(0.0, "How long to wait, in s.")})(judged)

@hookimpl
def prebind_report_formats():
    yield Format("board", Board)
'''


def named(name: str) -> str:
    setup = clean()
    setup["model"]["name"] = name
    return json.dumps(setup, indent=1)


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Clean, faulty and broken setups, under settings of their own, broken settings and packs."""
    folder = tmp_path_factory.mktemp("jobs")
    generate(folder / "fleet", 45, seed=4)
    (folder / "club.py").write_text(PACK)
    for hangar, settings in {
        "own": 'ground_at = "notice"\nleave_out = ["capacity"]\n[settings."bands/thin-margin"]\n'
        "margin_us = 60\n",
        "broken": 'ground_at = "dangr"\n',
        "packs": 'packs = ["own.rules.json", "program.py"]\n',
    }.items():
        (folder / "fleet" / hangar).mkdir()
        (folder / "fleet" / hangar / "prebind.toml").write_text(settings)
        for bird in ("gadwall", "teal", "wigeon"):
            text = named(bird.title()).replace("wing", "wimg" if bird == "teal" else "wing")
            (folder / "fleet" / hangar / f"{bird}.setup.json").write_text(text)
    sheet = Path(__file__).parents[1] / "examples" / "packs" / "tern-bay.rules.json"
    (folder / "fleet" / "packs" / "own.rules.json").write_text(sheet.read_text())
    (folder / "fleet" / "packs" / "program.py").write_text("1 / 0\n")
    (folder / "fleet" / "empty").mkdir()
    return folder


@pytest.fixture(autouse=True)
def there(fleet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(fleet)


def reported(
    run: Run, *arguments: str, formats: tuple[str, ...] = FORMATS
) -> tuple[Ran, dict[str, str]]:
    """What the command did and wrote, each report to a file."""
    wanted = [f"--report={name}=out.{name}" for name in formats]
    ran = run("inspect", "--pack", "club.py", "--trust-packs", *arguments, *wanted)
    written = {}
    for name in formats:
        file = Path(f"out.{name}")
        assert file.exists(), ran
        written[name] = file.read_text(encoding="utf-8")
        file.unlink()
    return ran, written


def test_any_number_of_processes_reports_the_same(run: Run) -> None:
    one = reported(run, "fleet", "nowhere", "--jobs", "1")
    assert one[0].code == 2
    assert reported(run, "fleet", "nowhere", "--jobs", "3") == one
    assert "dangr" in one[0].err  # broken settings
    assert "program" in one[0].err  # a pack that nobody trusts
    assert "nowhere" in one[0].err
    assert len(json.loads(one[1]["json"])["documents"]) > 45


def test_against_an_earlier_report(run: Run) -> None:
    run("inspect", "fleet/hangar-000", "--report=json=before.json", "--jobs=1")
    before = Path("before.json").read_text()
    whole = json.loads(before)
    for document in whole["documents"][::2]:
        document["findings"] = document["findings"][1:]
    Path("before.json").write_text(json.dumps(whole))
    said = ("fleet", "--since", "before.json")
    one = reported(run, *said, "--jobs", "1")
    assert reported(run, *said, "--jobs", "2") == one
    assert {
        found["baseline"]
        for d in json.loads(one[1]["json"])["documents"]
        for found in d["findings"]
    } == {"new", "unchanged"}


def test_under_one_settings_file_and_with_rules_left_out(run: Run) -> None:
    said = ("fleet", "--settings", "fleet/own/prebind.toml", "--leave-out", "bands")
    said = (
        *said,
        "--family",
        "bands",
        "--family",
        "capacity",
        "--family",
        "throttle",
        "--complete",
    )
    one = reported(run, *said, "--jobs", "1")
    assert reported(run, *said, "--jobs", "2") == one
    assert one[0].code == 2


def test_standard_input_among_many(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    found = []
    for jobs in ("1", "2"):
        data = named("Gadwall").encode()
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
        found.append(reported(run, "fleet", "-", "--jobs", jobs, formats=("json",)))
    assert found[0] == found[1]
    assert json.loads(found[0][1]["json"])["documents"][-1]["path"] == "-"


def test_signal_paths_are_freed_on_the_way(run: Run) -> None:
    """As the program runs: parts of a path hold each other, and nobody else looks for those."""
    gc.disable()
    try:
        run("inspect", "fleet", "--jobs", "1", "--no-cache")
        alive = sum(type(it) is SignalPath for it in gc.get_objects())
    finally:
        gc.unfreeze()
        gc.enable()
    assert alive == 1


def test_timing_is_told_of_all(run: Run) -> None:
    told = [run("inspect", "fleet", "--timing", "--jobs", jobs).err for jobs in ("1", "2")]
    rules = [sorted(re.findall(r"^ .* ([\w-]+/[\w-]+)  ", text, re.MULTILINE)) for text in told]
    assert rules[0] == rules[1]
    assert len(rules[0]) > 50
    heads = [text.partition("\n")[0] for text in told]
    assert heads[0] == heads[1]


@pytest.fixture
def bad(fleet: Path) -> Iterator[Path]:
    """A place among the others, for a setup that is up to no good."""
    file = fleet / "fleet" / "hangar-000" / "000020-bad.setup.json"
    yield file
    file.unlink()


def test_a_setup_that_kills_its_process_is_a_problem_and_no_other(run: Run, bad: Path) -> None:
    without, there = reported(run, "fleet", "--jobs", "2", formats=("json", "junit"))
    bad.write_text(named("Smew"))
    ran, made = reported(run, "fleet", "--jobs", "2", formats=("json", "junit"))
    assert ran.code == 2
    (line,) = set(ran.err.splitlines()) - set(without.err.splitlines())
    assert line.startswith(
        "fleet/hangar-000/000020-bad.setup.json: problem: the process that inspected this setup "
        "died (exit code 3), so nothing of it was checked. Inspect it alone; "
    )
    before, after = json.loads(there["json"]), json.loads(made["json"])
    assert after["documents"] == before["documents"]
    problem = next(it for it in after["problems"] if it["path"].endswith("000020-bad.setup.json"))
    assert [it for it in after["problems"] if it != problem] == before["problems"]
    assert 'name="fleet/hangar-000/000020-bad.setup.json"' in made["junit"]


def test_a_setup_that_never_ends_is_a_problem(
    run: Run, bad: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(processes, "SECONDS", 3)
    bad.write_text(named("Garganey"))
    ran, _ = reported(run, "fleet", "--jobs", "3", formats=("json",))
    assert ran.code == 2
    assert "took longer than 3 s and was ended, so nothing of it was checked" in ran.err


def test_a_format_that_crashes_is_named(run: Run, bad: Path) -> None:
    bad.write_text(named("Pintail"))
    said = ("inspect", "fleet", "--pack=club.py", "--trust-packs", "--report=board=out.board")
    told = [run(*said, "--jobs", jobs) for jobs in ("1", "2")]
    assert told[0] == told[1]
    assert "the report format “board” of club unversioned crashed" in told[0].err
    assert not Path("out.board").exists()


def test_a_handful_starts_no_process(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def started(*_: object, **__: object) -> None:
        raise AssertionError("processes were started")

    monkeypatch.setattr(processes, "shared_out", started)
    assert run("inspect", "fleet/own", "--jobs", "8").code == 2
    monkeypatch.setattr(documents, "FEW", 2)
    assert "AssertionError" in run("inspect", "fleet/own", "--jobs", "8").err
    assert run("inspect", "fleet/own", "--jobs", "1").code == 2


def test_what_only_many_need_is_not_imported_for_one() -> None:
    names = ("multiprocessing", "pickle", "signal", "threading", "concurrent", "unicodedata")
    code = (
        "import sys; from prebind.cli import main\n"
        "main(['inspect', 'fleet/own/wigeon.setup.json'])\n"
        f"print([name for name in {names} if name in sys.modules], file=sys.stderr)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert ran.stderr == b"[]\n"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--jobs", "0"], "“0” is no number from 1 to 1024"),
        (["--jobs", "many"], "“many” is no number from 1 to 1024"),
        (["--part", "0/3"], "“0/3” is no part: write 3/8 for the third of eight"),
        (["--part", "4/3"], "“4/3” is no part"),
        (["--part", "4"], "“4” is no part"),
        (["--part", "1/²"], "“1/²” is no part"),
    ],
)
def test_wrong_usage(run: Run, arguments: list[str], says: str) -> None:
    ran = run("inspect", "fleet", *arguments)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err


# --- true processes -------------------------------------------------------------------------


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """Two hundred setups, each of which takes a moment."""
    for number in range(200):
        (tmp_path / f"{number:03}.setup.json").write_text(named("Wigeon"))
    (tmp_path / "club.py").write_text(PACK)
    settings = '[settings."club/name"]\npause_s = 0.03\n'
    (tmp_path / "prebind.toml").write_text(settings)
    return tmp_path


def _interruptible() -> None:
    """Also where the tests themselves run in the background, which is never interrupted."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


def start(folder: Path, *arguments: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "prebind", "inspect", "--report=json=out.json"]
    return subprocess.Popen(
        [*command, "--pack=club.py", "--trust-packs", *arguments],
        cwd=folder,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
        preexec_fn=_interruptible,
    )


def working(running: subprocess.Popen[bytes], wanted: int) -> list[Any]:
    """Its processes, once so many are at work."""
    main = psutil.Process(running.pid)
    until = time.monotonic() + 30
    while time.monotonic() < until and running.poll() is None:
        children: list[Any] = main.children()
        if len(children) >= wanted:
            return children
        time.sleep(0.01)
    raise AssertionError("it does not work in several processes")


@pytest.mark.skipif(os.name == "nt", reason="no groups of processes")
def test_an_interrupt_leaves_nothing_behind(many: Path) -> None:
    running = start(many, "--jobs", "3")
    children = working(running, 3)
    time.sleep(0.05)
    os.killpg(running.pid, signal.SIGINT)
    began = time.monotonic()
    out, err = running.communicate(timeout=20)
    assert time.monotonic() - began < 5
    assert (running.returncode, out) == (130, b"")
    assert err == b"prebind: interrupted; nothing was finished\n"
    assert not any(child.is_running() for child in children)
    assert not [file.name for file in many.iterdir() if "out.json" in file.name]


@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL")
def test_processes_end_with_the_one_that_started_them(many: Path) -> None:
    running = start(many, "--jobs", "3")
    children = working(running, 3)
    running.kill()
    running.communicate(timeout=20)
    gone, left = psutil.wait_procs(children, timeout=10)
    assert (len(gone), left) == (3, [])


@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL")
def test_processes_that_are_killed_by_chance_cost_nothing(many: Path) -> None:
    spared = start(many, "--jobs", "2")
    assert spared.communicate(timeout=60) == (b"", b"")
    expected = (many / "out.json").read_bytes()
    (many / "out.json").unlink()
    running = start(many, "--jobs", "2")
    for _ in range(3):
        time.sleep(0.7)
        working(running, 2)[0].kill()
    assert running.communicate(timeout=60) == (b"", b"")
    assert (running.returncode, (many / "out.json").read_bytes()) == (0, expected)
