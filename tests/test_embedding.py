"""One inspector, held for a tool's life: what its page shows, no second set-up, many threads."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import prebind
from prebind import Configuration, Inspector
from prebind.format import Run, Sheet

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "docs" / "embedding.md").read_text(encoding="utf-8")
EXAMPLES = ROOT / "tests" / "examples"
DOCUMENTS = sorted(
    [*EXAMPLES.glob("fleet/*.setup.json"), *EXAMPLES.glob("faulty/*.setup.json")],
    key=lambda file: file.name,
)


def blocks(language: str) -> list[str]:
    found = re.findall(r"^```(\w*)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
    return [text for of, text in found if of == language]


# --- the page -------------------------------------------------------------------------------


def test_the_example_prints_what_the_page_shows() -> None:
    (command,) = blocks("sh")
    program, script = command.split()
    assert program == "python"
    ran = subprocess.run(
        [sys.executable, script], cwd=ROOT, capture_output=True, encoding="utf-8", check=True
    )
    assert [ran.stdout] == blocks("")
    assert ran.stderr == ""


def test_every_snippet_of_the_page_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(EXAMPLES)
    text = (EXAMPLES / "fleet" / "dunlin.setup.json").read_text(encoding="utf-8")
    names: dict[str, object] = {"text": text, "Path": Path}
    for snippet in blocks("python"):
        exec(snippet, names)
    report, strict, out = names["report"], names["strict"], names["out"]
    assert isinstance(report, prebind.Report)
    assert report.document is not None
    assert isinstance(strict, Inspector)
    assert strict.not_run == ("capacity/spare",)
    assert isinstance(out, io.StringIO)
    assert json.loads(out.getvalue())["format"] == "inspection/1"


def test_every_name_on_the_page_is_there() -> None:
    report = Inspector().inspect_file(EXAMPLES / "faulty" / "dunlin-faulty.setup.json")
    found = report.findings[0]
    each_has = re.search(r"`report\.findings`; each has (.*) \|", PAGE)
    assert each_has is not None
    of_a_finding = re.sub(r"\(.*?\)", "", each_has[1])
    assert all(hasattr(report, name) for name in re.findall(r"`report\.(\w+)", PAGE))
    assert all(hasattr(found, name) for name in re.findall(r"`finding\.(\w+)", PAGE))
    assert all(hasattr(found, name) for name in re.findall(r"`(\w+)`", of_a_finding))


# --- no second set-up -----------------------------------------------------------------------

WATCHED = """
import json, sys
from pathlib import Path

import prebind

seen = []
watching = False


def hook(event, arguments):
    if watching and event in ("import", "open", "compile", "os.listdir", "os.scandir"):
        seen.append(f"{event} {arguments[0]}")


def counted(function):
    def counting(*arguments, **options):
        if watching:
            seen.append(f"call {function.__name__}")
        return function(*arguments, **options)
    return counting


# What builds a validator (the slower one not without an import), and what loads packs.
import jsonschema_rs, prebind.inspect.inspector
jsonschema_rs.Draft202012Validator = counted(jsonschema_rs.Draft202012Validator)
prebind.inspect.inspector.load = counted(prebind.inspect.inspector.load)
sys.addaudithook(hook)

told = {}
inspector = None
for name in sys.argv[1:]:
    data = Path(name).read_bytes()
    before = set(sys.modules)
    watching = True
    inspector = inspector or prebind.Inspector()
    inspector.inspect(data, path=name, root=Path(name).parent)
    watching = False
    told[name] = [*seen, *(f"module {new}" for new in sorted(set(sys.modules) - before))]
    seen.clear()
print(json.dumps(told))
"""


def test_a_second_inspect_does_no_set_up_work_again() -> None:
    """In a fresh interpreter: its audit events (PEP 578), its modules, and calls that are counted.

    The second document is another one; both have faults, and neither names a shared part.
    """
    files = [EXAMPLES / f"faulty/{name}-faulty.setup.json" for name in ("razorbill", "guillemot")]
    ran = subprocess.run(
        [sys.executable, "-c", WATCHED, *map(str, files)],
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    first, second = json.loads(ran.stdout).values()
    wanted = {"call load", "call Draft202012Validator", "module prebind.document.schema"}
    assert wanted <= set(first)
    assert any(event.startswith("open ") for event in first)
    # But for the `__init__` of a kind of record of which there was no entry before.
    assert [it for it in second if not it.startswith('compile b"def __init__(self')] == []


def test_a_shared_part_is_read_anew(tmp_path: Path) -> None:
    """It is part of the input: what is kept between two calls would be yesterday's radio."""
    document = json.loads((EXAMPLES / "fleet" / "redshank.setup.json").read_text(encoding="utf-8"))
    part = tmp_path / "radio.json"
    part.write_text(json.dumps(document["transmitter"]), encoding="utf-8")
    text = json.dumps({**document, "transmitter": {"from": "radio.json"}})
    inspector = Inspector()

    def channels() -> int:
        report = inspector.inspect(text, path=(tmp_path / "a.setup.json").as_posix(), root=tmp_path)
        assert report.setup is not None
        return report.setup.transmitter.channels

    before = channels()
    part.write_text(json.dumps({**document["transmitter"], "channels": before + 1}), "utf-8")
    assert channels() == before + 1


# --- threads --------------------------------------------------------------------------------

THREADS = 4


def told(inspector: Inspector, file: Path) -> str:
    report = inspector.inspect(file.read_bytes(), path=file.as_posix(), root=file.parent)
    out = io.StringIO()
    writer = inspector.formats["json"].begin(Sheet(out), Run(inspector))
    writer.document(report)
    writer.end(report.problems)
    return out.getvalue()


@pytest.fixture(scope="module")
def alone() -> dict[Path, str]:
    """Each report, by an inspector of its own that nobody else uses."""
    return {file: told(Inspector(), file) for file in DOCUMENTS}


@pytest.fixture
def often() -> Iterator[None]:
    """Threads change places about every ten microseconds, not every five milliseconds."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    yield
    sys.setswitchinterval(before)


@pytest.mark.usefixtures("often")
def test_many_threads_one_inspector(alone: dict[Path, str]) -> None:
    """Every thread begins with another document, and all of them at once."""
    inspector = Inspector()
    together = threading.Barrier(THREADS)

    def work(number: int) -> dict[Path, str]:
        together.wait()
        turned = DOCUMENTS[number:] + DOCUMENTS[:number]
        return {file: told(inspector, file) for file in turned}

    with ThreadPoolExecutor(THREADS) as pool:
        for found in pool.map(work, range(THREADS)):
            assert found == alone


@pytest.mark.usefixtures("often")
def test_while_another_is_configured(alone: dict[Path, str]) -> None:
    """Neither the one that is asked nor the one that is made of it sees the other."""
    inspector = Inspector()
    other = Configuration(families=("bands",), numbers={"bands/thin-margin": {"margin_us": 400}})
    done = threading.Event()
    made: list[Inspector] = []

    def configure() -> None:
        while not done.is_set():
            made[:] = [inspector.configured(other)]

    thread = threading.Thread(target=configure)
    thread.start()
    try:
        found = {file: told(inspector, file) for file in DOCUMENTS}
    finally:
        done.set()
        thread.join()
    assert found == alone
    report = made[0].inspect_file(EXAMPLES / "fleet" / "dunlin.setup.json")
    assert {f.rule for f in report.findings} == {"bands/thin-margin"}


def test_files_in_the_order_of_their_paths(alone: dict[Path, str]) -> None:
    with ThreadPoolExecutor(THREADS) as pool:
        reports = list(Inspector().inspect_files(DOCUMENTS, pool))
    assert [report.path_name for report in reports] == [file.as_posix() for file in DOCUMENTS]
    for report, file in zip(reports, DOCUMENTS, strict=True):
        (document,) = json.loads(alone[file])["documents"]
        assert [found.fingerprint for found in report.findings] == [
            found["fingerprint"] for found in document["findings"]
        ]
