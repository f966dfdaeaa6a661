"""The example pack as its users have it: built, installed into a fresh environment, run there."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import venv
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from prebind import Document, read
from prebind.rule import put, replace
from prebind.testing import clean, patched

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parent.parent.parent
PACKS = ROOT / "tests" / "examples" / "packs"
PACK = PACKS / "tern_bay_rules"
SHEET = PACKS / "tern-bay.rules.json"
CHANNEL = "/channels/4/channel"


class Club:
    """A fresh virtual environment in which prebind and the pack are installed, and no more."""

    def __init__(self, home: Path) -> None:
        self.home = home
        self.site = Path(sysconfig.get_path("purelib", "venv", {"base": str(home)}))
        self._scripts = Path(sysconfig.get_path("scripts", "venv", {"base": str(home)}))

    def run(
        self, program: str, *arguments: object, cwd: Path, also: Path | None = None
    ) -> subprocess.CompletedProcess[str]:
        """`also` is one more folder of packages."""
        inherited = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
        if also is not None:
            inherited["PYTHONPATH"] = str(also)
        return subprocess.run(
            [self._scripts / program, *map(str, arguments)],
            cwd=cwd,
            env=inherited,
            capture_output=True,
            encoding="utf-8",
        )


def pip(*arguments: object) -> None:
    command = [sys.executable, "-m", "pip", "-q", "--disable-pip-version-check"]
    subprocess.run([*command, *map(str, arguments)], check=True)


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Club:
    """Nothing is fetched: what the two depend on is lent by the environment of the tests.

    Only its folder of packages is, not what its `.pth` files add: an editable prebind stays out.
    """
    folder = tmp_path_factory.mktemp("club")
    its = Club(folder / "venv")
    venv.create(its.home, with_pip=False)
    wheels = folder / "wheels"
    pip("wheel", "--no-index", "--no-deps", "--no-build-isolation", "-w", wheels, ROOT, PACK)
    python = its.home / "bin" / "python"
    pip("--python", python, "install", "--no-index", "--no-deps", *wheels.glob("*.whl"))
    lent = dict.fromkeys(sysconfig.get_path(kind) for kind in ("purelib", "platlib"))
    (its.site / "lent.pth").write_text("\n".join(lent), encoding="utf-8")
    return its


@pytest.fixture
def setups(tmp_path: Path) -> Path:
    """A folder with a clean setup, and one whose flight mode is on another channel."""
    others = ("/receiver/failsafe/channels/4/channel", "/receiver/stabiliser/selectors/0/channel")
    moved = patched(clean(), [replace(pointer, 7) for pointer in (CHANNEL, *others)])
    for name, document in {"clean": clean(), "moved": moved}.items():
        (tmp_path / f"{name}.setup.json").write_text(json.dumps(document, indent=2))
    return tmp_path


def test_it_is_the_installed_prebind_that_runs(club: Club, tmp_path: Path) -> None:
    code = "import prebind, tern_bay_rules; print(prebind.__file__, tern_bay_rules.__file__)"
    for file in club.run("python", "-c", code, cwd=tmp_path).stdout.split():
        assert Path(file).is_relative_to(club.site)


def test_it_is_listed_with_version_and_origin(club: Club, tmp_path: Path) -> None:
    listed = club.run("prebind", "rulebook", "--packs", cwd=tmp_path)
    assert re.search(
        r"^tern-bay-rules +2026\.1 +4 +1 +installed +tern-bay-rules$", listed.stdout, re.MULTILINE
    )
    assert (listed.returncode, listed.stderr) == (0, "")


def test_its_rules_find(club: Club, setups: Path) -> None:
    ran = club.run("prebind", "inspect", "moved.setup.json", cwd=setups)
    found = re.findall(r"^(\S+): (\w+): (tern-bay\S+): (.+)", ran.stdout, re.MULTILINE)
    assert found == [
        (
            f"moved.setup.json:{line_of(setups / 'moved.setup.json', CHANNEL)}",
            "caution",
            "tern-bay-rules/mode-elsewhere",
            "The flight mode is on channel 7; in this fleet it is on channel 5.",
        )
    ]
    assert ran.returncode == 1


def line_of(file: Path, pointer: str) -> str:
    """`line:column` of a value, by the library of the tests, not by what is installed."""
    document = read(file.read_bytes())
    assert isinstance(document, Document)
    place = document.locate(pointer)
    return f"{place.line}:{place.column}"


def test_it_can_be_done_without(club: Club, setups: Path) -> None:
    asked = ("--without-pack", "tern-bay-rules")
    ran = club.run("prebind", "inspect", *asked, "moved.setup.json", cwd=setups)
    assert "tern-bay-rules/" not in ran.stdout
    assert ran.returncode == 0
    listed = club.run("prebind", "rulebook", "--packs", *asked, cwd=setups)
    _, _, refused = listed.stdout.partition("settings ask\n")
    assert refused.startswith("    tern-bay-rules 2026.1, installed: tern-bay-rules\n")


def test_its_report_format_works(club: Club, setups: Path) -> None:
    (setups / "torn.setup.json").write_text("{", encoding="utf-8")
    ran = club.run("prebind", "inspect", "--report", "tern-bay-board", cwd=setups)
    first, _, rest = ran.stdout.partition("\n")
    assert re.fullmatch(
        r"Oystercatcher 1500: nothing found that grounds; to be checked by hand: \d+", first
    )
    assert rest == (
        "Oystercatcher 1500: grounded: 1 × caution\n"
        "torn.setup.json: cannot be read\n"
        "Incomplete; problems, which another report names: 1.\n"
        "A person decides, at the model. The flight line's word comes first.\n"
    )
    assert ran.returncode == 2


def test_its_own_tests_pass_there(club: Club, tmp_path: Path) -> None:
    tests = shutil.copytree(PACK / "tests", tmp_path / "tests")
    ran = club.run("python", "-m", "pytest", "-q", "-p", "no:cacheprovider", tests, cwd=tmp_path)
    assert re.search(r"^\d+ passed in ", ran.stdout, re.MULTILINE), ran.stdout
    assert ran.returncode == 0


HOOK = "from prebind.hooks import hookimpl\n\n@hookimpl\ndef prebind_rules():\n    "

BESIDE = {
    "dotterel": ("import no_such_module", "ModuleNotFoundError: No module named 'no_such_module'"),
    "fulmar": ("def broken(:", "SyntaxError: invalid syntax (fulmar.py, line 1)"),
    "gannet": (f"{HOOK}raise OSError('invented')", "OSError: invented"),
    "knot": (f"{HOOK}return ['a rule']", "TypeError: 'a rule' is not a rule"),
    "petrel": (
        HOOK.replace("_rules", "_checks") + "return ()",
        "PluginValidationError: unknown hook 'prebind_checks' in plugin <module 'petrel' from …",
    ),
}
"""Packs that are broken: a module's text each, and the reason that is given."""

CRASHING = f"""
from prebind.rule import rule

@rule("skua/crash", word="notice", title="Crashes", each="setup", safety="None. None.",
      remedy="None.", bench="None.", source="invented", examples=list)
def crash(place, path, settings):
    raise KeyError("invented")

{HOOK}yield crash
"""


def test_broken_packs_beside_it_cost_it_nothing(club: Club, setups: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    texts = {name: text for name, (text, _) in BESIDE.items()} | {"skua": CRASHING}
    for name, text in texts.items():
        info = site / f"{name}_rules-3.1.dist-info"
        info.mkdir(parents=True)
        (info / "entry_points.txt").write_text(f"[prebind]\n{name} = {name}\n", encoding="utf-8")
        (site / f"{name}.py").write_text(text, encoding="utf-8")
    ran = club.run("prebind", "inspect", "moved.setup.json", cwd=setups, also=site)
    assert "caution: tern-bay-rules/mode-elsewhere: " in ran.stdout
    assert ran.returncode == 2
    said = [line for line in ran.stdout.splitlines() if ": problem: " in line]
    assert [re.sub("(?<= from ).*", "…", line) for line in said] == [
        *(
            f"{name}-rules: problem: {name}-rules 3.1: the pack “{name}” cannot be loaded: {reason}"
            for name, (_, reason) in BESIDE.items()
        ),
        "moved.setup.json: problem: skua-rules 3.1: skua/crash: the rule crashed and its result is "
        "missing (KeyError: 'invented')",
    ]
    listed = club.run("prebind", "rulebook", "--packs", cwd=setups, also=site)
    assert listed.returncode == 2
    for name in BESIDE:
        assert f"{name}-rules 3.1: the pack “{name}” cannot be loaded" in listed.stdout


# The sheet says the same


def variants() -> Iterator[tuple[str, object]]:
    """The fleet, good and bad, as it is and changed so that the club's rules find something."""
    button = put("/transmitter/controls/tow-button", {"kind": "button"})
    for file in sorted((ROOT / "tests" / "examples").glob("f[la]*/*.setup.json")):
        document = read(file.read_bytes(), path=str(file), root=file.parent)
        assert isinstance(document, Document)
        name, data = file.name.partition(".")[0], document.data
        switch = next(
            (of for of, it in data["transmitter"]["controls"].items() if it["kind"] == "switch"), ""
        )
        yield name, data
        heavy = [put("/model/mass_g", 9000), put("/x-use", "club-trainer"), button]
        yield f"{name}-heavy-trainer", patched(data, [*heavy, tow("tow-button")])
        moved = [
            replace(f"/channels/{i}/channel", 15)
            for i, channel in enumerate(data["channels"])
            if channel["function"] == "flight-mode"
        ]
        yield f"{name}-tows-moved", patched(data, [*moved, tow(switch)])
        yield f"{name}-tows-without", patched(data, [tow(None)])
        bare = {key: value for key, value in data.items() if key not in ("receiver", "waivers")}
        bare["model"] = {key: data["model"][key] for key in ("name", "airframe")}
        yield f"{name}-bare", bare | {"x-use": "club-trainer"}


SAME = {"heavy-runs-on", "mode-elsewhere", "tow-not-own", "trainer-throws"}
"""The rules of the pack; the sheet has two more."""


def tow(control: str | None) -> dict[str, object]:
    channel = {"channel": 16, "function": "tow-release"}
    return put("/channels/-", channel if control is None else channel | {"control": control})


def test_the_sheet_and_the_pack_agree(club: Club, tmp_path: Path) -> None:
    """The same setups, places and words, and open where the other is."""
    for name, data in variants():
        (tmp_path / f"{name}.setup.json").write_text(json.dumps(data), encoding="utf-8")
    families = ("--family", "tern-bay", "--family", "tern-bay-rules")
    club.run(
        "prebind", "inspect", "--pack", SHEET, *families, "--report", "json=out.json", cwd=tmp_path
    )
    report = json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))
    assert report["problems"] == []
    told: dict[str, set[tuple[str, ...]]] = {"tern-bay": set(), "tern-bay-rules": set()}
    for document in report["documents"]:
        for found in document["findings"]:
            family, _, rule = found["rule"].partition("/")
            place = (found["at"], found["word"]) if found["kind"] == "fail" else ()
            if rule in SAME:
                told[family].add((document["path"], rule, found["kind"], *place))
    assert told["tern-bay"] == told["tern-bay-rules"]
    failed = {rule for _, rule, kind, *_ in told["tern-bay"] if kind == "fail"}
    assert failed == SAME
    assert len(told["tern-bay"]) > 100
