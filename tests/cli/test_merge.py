"""`prebind inspect --part` and `--merge`: parts together are the whole, or it is said why not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from tests.benchmarks.generate import write as generate

import prebind
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Ran, Run

    Change = Callable[[dict[str, Any]], object]

SAID = ("fleet/wrong", "fleet", "fleet/own", "nowhere", "fleet/own/teal.setup.json")
"""What is named: folders, one of them twice, a single file, and what is not there."""


@pytest.fixture(scope="module")
def fleet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Clean, faulty and broken setups, broken shared parts, settings and packs."""
    folder = tmp_path_factory.mktemp("merge")
    generate(folder / "fleet", 30, seed=11)
    shared = clean()
    shared["transmitter"] = {"from": "radio.json"}
    for hangar, settings in {
        "own": 'ground_at = "notice"\n[settings."bands/thin-margin"]\nmargin_us = 60\n',
        "wrong": 'ground_at = "dangr"\nleave_out = ["banjo"]\n',
        "a-wrong": 'packs = ["program.py"]\n',
    }.items():
        (folder / "fleet" / hangar).mkdir()
        (folder / "fleet" / hangar / "prebind.toml").write_text(settings)
        (folder / "fleet" / hangar / "radio.json").write_text("{,}")
        for bird in ("gadwall", "teal", "wigeon", "smew"):
            setup = shared if bird in ("teal", "smew") else clean()
            (folder / "fleet" / hangar / f"{bird}.setup.json").write_text(json.dumps(setup))
    (folder / "fleet" / "a-wrong" / "program.py").write_text("1 / 0\n")
    (folder / "fleet" / "empty").mkdir()
    return folder


@pytest.fixture(autouse=True)
def there(fleet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(fleet)


def in_parts(run: Run, of: int, *said: str) -> list[str]:
    """The reports of all parts, last one first."""
    files = []
    for number in range(of, 0, -1):
        files.append(f"part-{number}.json")
        run("inspect", *said, "--part", f"{number}/{of}", f"--report=json={files[-1]}")
    return files


def merged(run: Run, *files: str) -> Ran:
    return run("inspect", "--merge", *files)


@pytest.mark.parametrize("of", [1, 2, 5, 90])
def test_the_parts_together_are_the_whole(run: Run, of: int) -> None:
    whole = run("inspect", *SAID, "--report=json", "--leave-out=travel")
    assert whole.code == 2
    assert merged(run, *in_parts(run, of, *SAID, "--leave-out=travel")) == whole
    told = json.loads(whole.out)
    assert [it["path"] for it in told["problems"]].count("fleet/wrong/prebind.toml") == 2
    assert [it["path"] for it in told["problems"]].count("fleet/own/radio.json") == 5
    assert [it["path"] for it in told["documents"]].count("fleet/own/wigeon.setup.json") == 2


def no_cut(setup: dict[str, Any]) -> None:
    setup["overrides"] = []


def accepted(setup: dict[str, Any]) -> None:
    no_cut(setup)
    waiver = {"rule": "throttle/no-cut", "reason": "A glider.", "by": "me", "until": "9999-12-31"}
    setup["waivers"] = [waiver]


def full(setup: dict[str, Any]) -> None:
    setup["transmitter"]["channels"] = 4


def no_receiver(setup: dict[str, Any]) -> None:
    del setup["receiver"]


@pytest.mark.parametrize(
    ("change", "settings", "arguments", "code"),
    [
        (dict, "", (), 0),
        (no_cut, "", (), 1),
        (accepted, "", (), 0),
        (full, "", (), 0),
        (full, "", ("--ground-at=notice",), 1),
        (full, 'ground_at = "notice"', (), 1),
        (no_cut, '[settings."throttle/no-cut"]\nword = "notice"', (), 0),
        (no_receiver, "", (), 0),
        (no_receiver, "", ("--complete",), 1),
    ],
)
def test_it_exits_as_the_whole_would(
    run: Run, folder: Path, change: Change, settings: str, arguments: tuple[str, ...], code: int
) -> None:
    for bird in ("gadwall", "teal", "wigeon"):
        setup = clean("plain")
        if bird == "teal":
            change(setup)
        (folder / f"{bird}.setup.json").write_text(json.dumps(setup))
    (folder / "prebind.toml").write_text(settings)
    whole = run("inspect", "--report=json", *arguments)
    assert whole.code == code
    assert merged(run, *in_parts(run, 2, *arguments)) == whole


def test_against_an_earlier_report(run: Run) -> None:
    run("inspect", "fleet/hangar-000", "--report=json=before.json")
    whole = json.loads(Path("before.json").read_text())
    for document in whole["documents"][::2]:
        document["findings"] = document["findings"][1:]
    Path("before.json").write_text(json.dumps(whole))
    said = ("fleet/hangar-000", "--since", "before.json")
    alone = run("inspect", *said, "--report=json")
    files = in_parts(run, 3, *said)
    assert merged(run, *files) == alone
    run("inspect", "fleet/hangar-000", "--part=2/3", "--report=json=part-2.json")
    assert "only some parts were laid against an earlier report" in merged(run, *files).err


def test_every_report_says_which_part_it_is(run: Run) -> None:
    said = ("inspect", "fleet/own", "--part=1/2")
    for name in ("text", "markdown", "html", "junit"):
        assert "part 1 of 2" in run(*said, f"--report={name}").out, name
    (sarif,) = json.loads(run(*said, "--report=sarif").out)["runs"]
    assert sarif["automationDetails"] == {"id": "prebind/part 1 of 2"}
    part = json.loads(run(*said, "--report=json").out)["part"]
    assert (part["number"], part["of"], part["entries"]) == (1, 2, 4)


def test_a_report_may_take_the_place_of_no_setup_of_any_part(run: Run) -> None:
    file = Path("fleet/own/wigeon.setup.json")
    before = file.read_text()
    for number in (1, 2):
        ran = run("inspect", "fleet/own", f"--part={number}/2", f"--report=json={file}")
        assert ran.code == 2
        assert "a report would take the place of a file it is about" in ran.err
    assert file.read_text() == before


# --- what is refused ------------------------------------------------------------------------


def changed(change: Change, name: str = "part-2.json") -> None:
    whole = json.loads(Path(name).read_text())
    change(whole)
    Path(name).write_text(json.dumps(whole, indent=1))


@pytest.fixture
def files(run: Run) -> list[str]:
    return in_parts(run, 3, "fleet/own", "fleet/hangar-000")[::-1]


def test_a_part_that_is_missing_or_there_twice(run: Run, files: list[str]) -> None:
    ran = merged(run, files[0], files[2])
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == "part-1.json: problem: of 3 parts these are missing: 2\n"
    Path("again.json").write_text(Path(files[0]).read_text())
    ran = merged(run, *files, "again.json")
    assert ran.err == "again.json: problem: this is part 1 again, as part-1.json\n"


def test_whole_numbers_may_be_written_with_a_point(run: Run, files: list[str]) -> None:
    """JSON Schema takes 3.0 for an integer."""
    expected = merged(run, *files)
    changed(lambda w: w["part"].update(number=2.0, of=3.0))
    changed(lambda w: w["documents"][0].update(position=float(w["documents"][0]["position"])))
    assert merged(run, *files) == expected
    assert json.loads(expected.out)["documents"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda w: w["tool"].update(version="0"), "by another prebind, or with other packs"),
        (lambda w: w["tool"]["packs"].pop(), "by another prebind, or with other packs"),
        (lambda w: w["settings"].update(complete=True), "under other settings, or on another day"),
        (lambda w: w["settings"].update(today="2030-01-01"), "under other settings"),
        (lambda w: w["part"].update(of=4), "a part of something else than part-1.json"),
        (lambda w: w["part"].update(entries=7), "a part of something else than part-1.json"),
        (lambda w: w["part"].update(listing="0" * 64), "a part of something else"),
        (lambda w: w["documents"].pop(), "the parts lack setups, or have some twice"),
        (lambda w: w["documents"].append(w["documents"][0]), "the parts lack setups, or have"),
        (lambda w: w["documents"][0].update(position=10**30), "the parts lack setups, or have"),
        (lambda w: w["documents"][0].pop("position"), "the parts lack setups, or have some twice"),
        (lambda w: w.pop("part"), "the report of a whole run, not of a part"),
        (lambda w: w.update(format="inspection/2"), "/format of this report is not as prebind"),
        (lambda w: w["documents"][0].update(findings=[{}]), "/documents/0/findings/0 of this"),
        (lambda w: w["documents"][0]["outcomes"].update(fail=-1), "/documents/0/outcomes/fail of"),
        (lambda w: w.clear(), "the top of this report is not as prebind writes its JSON reports"),
    ],
)
def test_what_does_not_fit(run: Run, files: list[str], change: Change, says: str) -> None:
    changed(change)
    ran = merged(run, *files)
    assert (ran.code, ran.out) == (2, "")
    assert says in ran.err


def test_settings_that_differ_from_place_to_place(run: Run, files: list[str]) -> None:
    def other(whole: dict[str, Any]) -> None:
        for document in whole["documents"]:
            document.get("settings", {}).update(ground_at="danger")

    with_settings = [name for name in files if "fleet/own/prebind.toml" in Path(name).read_text()]
    assert len(with_settings) > 1
    changed(other, with_settings[1])
    ran = merged(run, *files)
    assert (ran.code, ran.out) == (2, "")
    assert "own/prebind.toml said something else where another part was run" in ran.err


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "part-2.json:1:1: problem: "),
        ("[]", "part-2.json:1:1: problem: this must be one object"),
        ('{"format": "inspection/1",\n "format": 1}', "part-2.json:2:2: problem: "),
        ("\x1b[2J", "part-2.json:1:1: problem: "),
        ("[" * 100_000, "part-2.json:1:65: problem: "),
    ],
)
def test_what_is_no_report(run: Run, files: list[str], text: str, says: str) -> None:
    Path("part-2.json").write_text(text)
    ran = merged(run, *files)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(says)
    assert "\x1b" not in ran.err
    assert merged(run, "gone.json").err.startswith("gone.json: problem: the report cannot be read")


def test_a_report_that_is_too_large(
    run: Run, files: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("prebind.report.merging.LIMIT_BYTES", 1000)
    assert "more than 1,000 bytes" in merged(run, *files).err


def test_wrong_usage(run: Run, files: list[str]) -> None:
    ran = run("inspect", "--merge", *files, "--report=text")
    assert "“text” is no format here; known are json" in ran.err
    ran = run("inspect", "--merge", *files, "--complete")
    assert "--complete belongs to the runs of the parts" in ran.err
    ran = run("inspect", "--report=json=part-1.json", "--merge", *files)
    assert "a report would take the place of a file it is about" in ran.err
    assert json.loads(Path("part-1.json").read_text())["tool"]["version"] == prebind.__version__
