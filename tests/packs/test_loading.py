"""Packs: how they are found, loaded, refused and told apart, and what a broken one costs."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from time import perf_counter
from types import ModuleType
from typing import TYPE_CHECKING, Any

import pluggy
import pytest

from prebind import Configuration, Inspector, hooks
from prebind.cli import main
from prebind.format import Format
from prebind.packs import Pack, Shelf, Tried, _handed, _marked, load
from prebind.rule import PASS, Rule, rule
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable

INSTALLED = load()
OWN = ["builtin", "reports", "waivers"]

HEAD = """\
from prebind.hooks import hookimpl
from prebind.rule import PASS, Fail, rule

__version__ = "3.1"

def made(id, judge):
    return rule(id, word="warning", title=id, each="setup", safety="Stop.", remedy="Mend it.",
                bench="Look.", source="invented", examples=list)(judge)

"""


def pack_of(body: str, file: str = "club_rules.py") -> str:
    Path(file).write_text(HEAD + body, encoding="utf-8")
    return file


RULES = """\
@hookimpl
def prebind_rules():
    yield made("club/second", lambda *_: PASS)
    yield made("club/first", lambda *_: Fail("It fails."))
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("a.setup.json").write_text(json.dumps(clean("plain")), encoding="utf-8")
    return tmp_path


def made(name: str, judge: Callable[..., Any] = lambda *_: PASS) -> Rule:
    return rule(
        name, word="warning", title=name, each="setup", safety="", remedy="", bench="", source="",
        examples=list,
    )(judge)  # fmt: skip


def inspected(*arguments: str) -> tuple[int, dict[str, Any]]:
    code = main(["inspect", "--report", "json=out.json", *arguments])
    return code, json.loads(Path("out.json").read_text(encoding="utf-8"))


# The installed ones


def test_the_core_comes_through_the_same_door() -> None:
    assert [pack.name for pack in INSTALLED.packs][:3] == OWN
    assert {pack.where for pack in INSTALLED.packs[:3]} == {"prebind"}
    assert not INSTALLED.problems
    builtin, reports, waivers = INSTALLED.packs[:3]
    assert len(builtin.rules) > 70
    assert "sarif" in [it.name for it in reports.formats]
    assert {rule.family for rule in waivers.rules} == {"sign-offs"}


@pytest.fixture
def installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Puts a distribution with one entry point on `sys.path`, as an installer would."""

    def installing(name: str, source: str, target: str | None = None) -> None:
        site = tmp_path / "site"
        module = f"{name.replace('-', '_')}_module"
        info = site / f"{name.replace('-', '_')}-4.2.dist-info"
        info.mkdir(parents=True)
        (site / f"{module}.py").write_text(source, encoding="utf-8")
        (info / "entry_points.txt").write_text(
            f"[console_scripts]\nx = y:z\n\n[prebind]\n{name} = {target or module}\n",
            encoding="utf-8",
        )
        monkeypatch.syspath_prepend(site)
        monkeypatch.delitem(sys.modules, module, raising=False)

    return installing


def test_an_installed_pack(installed: Callable[..., None]) -> None:
    installed("far-club", HEAD + RULES)
    inspector = Inspector()
    pack = inspector.packs[-1]
    assert (pack.name, pack.version, pack.where) == ("far-club", "4.2", "far-club")
    assert pack.label == "far-club 4.2"
    assert [it.id for it in pack.rules] == ["club/first", "club/second"]  # in any order, by id
    assert "club/first" in {found.rule for found in inspector.inspect(clean()).findings}


def test_an_entry_point_may_name_an_object(installed: Callable[..., None]) -> None:
    body = (
        "class Club:\n    @hookimpl\n    def prebind_rules(self):\n        yield made('a/b', 0)\n"
    )
    installed("far-club", f"{HEAD}{body}club = Club()\n", "far_club_module:club [fast]")
    assert [it.id for it in Inspector().packs[-1].rules] == ["a/b"]


BROKEN = {
    "ImportError": "import no_such_module_at_all\n",
    "SyntaxError": "def broken(:\n",
    "SystemExit": "raise SystemExit(0)\n",
    "ZeroDivisionError": "@hookimpl\ndef prebind_rules():\n    yield 1 / 0\n",
    "TypeError: 7 is not a rule": "@hookimpl\ndef prebind_rules():\n    return [7]\n",
    "TypeError: 'text' is not a report format": (
        "@hookimpl\ndef prebind_report_formats():\n    return ['text']\n"
    ),
    "ValueError: 'Club/Rule' ": "made('Club/Rule', None)\n",
    "PluginValidationError": "@hookimpl\ndef prebind_rules(moon):\n    return []\n",
    "it hands over no rule and no report format": "def prebind_rules():\n    return []\n",
    "no report format; a hook is a function": "prebind_rules = [made('a/b', None)]\n",
    "missing 1 required positional argument": "def prebind_rules(hooks):\n    return []\n",
    "unknown hook 'prebind_moons'": "@hookimpl\ndef prebind_moons():\n    return []\n",
}


@pytest.mark.parametrize(("reason", "body"), BROKEN.items(), ids=list(BROKEN))
def test_a_broken_pack_is_named_and_costs_nobody_else(
    installed: Callable[..., None], reason: str, body: str
) -> None:
    installed("lost-club", HEAD + body)
    (problem,) = Inspector().problems
    if reason.startswith("ValueError"):
        reason = "ValueError: a rule's id is family/name, of a to z, 0 to 9 and -, not 'Club/Rule'"
    assert problem.pack == "lost-club 4.2"
    assert "“lost-club” cannot be loaded" in problem.message
    assert reason.replace("ImportError", "ModuleNotFoundError") in problem.message
    assert problem.traceback
    code, report = inspected()
    assert code == 2
    assert [it["pack"] for it in report["problems"]] == ["lost-club 4.2"]
    assert report["documents"][0]["outcomes"]["pass"] > 100
    assert inspected("--without-pack", "lost-club")[0] == 0


def test_a_refused_pack_is_not_even_imported(installed: Callable[..., None]) -> None:
    installed("slow-club", "raise RuntimeError('imported')\n")
    inspector = Inspector(Configuration(without_packs=("slow-club",)))
    assert not inspector.problems
    (refused,) = inspector.refused
    assert (refused.name, refused.version, refused.where) == ("slow-club", "4.2", "slow-club")
    assert "slow_club_module" not in sys.modules
    _, report = inspected("--without-pack", "slow-club")
    assert [it["name"] for it in report["tool"]["refused"]] == ["slow-club"]


# One name in two packs


def test_no_pack_takes_the_place_of_a_built_in_rule_or_format() -> None:
    shadow = Pack(
        "shadow", "1.0", "installed", "shadow-rules",
        (made("bands/gap"), made("shadow/own")), (Format("json", lambda *_: None),),  # type: ignore[arg-type, return-value]
    )  # fmt: skip
    shelf = Shelf([*(Tried(pack) for pack in INSTALLED.packs), Tried(shadow)], ())
    assert [it.id for it in shelf.packs[-1].rules] == ["shadow/own"]
    assert shelf.packs[-1].formats == ()
    first, second = shelf.problems
    assert first.rule == "bands/gap"
    for problem in (first, second):
        assert "shadow-rules 1.0" in problem.message
        assert f"prebind {INSTALLED.packs[0].version}" in problem.message


def test_two_packs_with_one_rule_are_both_named_and_the_first_counts() -> None:
    packs = [
        Pack(name, "1.0", "installed", name, (made("club/rule"),)) for name in ("a-club", "b-club")
    ]
    shelf = Shelf(map(Tried, packs), ())
    (problem,) = shelf.problems
    assert problem.pack == "b-club 1.0"
    assert "a-club 1.0" in problem.message
    assert [len(pack.rules) for pack in shelf.packs] == [1, 0]
    assert not Shelf(map(Tried, packs), ["a-club"]).problems  # doing without one settles it


def test_one_rule_twice_in_a_pack_is_an_error_too() -> None:
    pack = Pack("club", "1.0", "installed", "club", (made("club/rule"), made("club/rule")))
    shelf = Shelf([Tried(pack)], ())
    assert [problem.rule for problem in shelf.problems] == ["club/rule"]
    assert len(shelf.packs[0].rules) == 1


# Python files


def test_a_python_file_runs_only_with_trust() -> None:
    pack_of("raise RuntimeError('it ran')\n")
    (problem,) = load(["club_rules.py"]).problems
    assert problem.path == "club_rules.py"
    assert "--trust-packs" in problem.message
    assert "--without-pack club_rules" in problem.message
    assert "it ran" in load(["club_rules.py"], trust=True).problems[0].message
    assert not load(["club_rules.py"], trust=True, without=["club_rules"]).problems


def test_a_trusted_python_file() -> None:
    pack_of(RULES)
    code, report = inspected("--pack", "club_rules.py", "--trust-packs")
    assert code == 1
    pack = report["tool"]["packs"][-1]
    assert pack == {
        "name": "club_rules",
        "version": "3.1",
        "origin": "file",
        "file": "club_rules.py",
        "rules": 2,
    }
    assert "club/first" in {it["rule"] for it in report["documents"][0]["findings"]}
    assert [it.name for it in Path().iterdir() if "cache" in it.name] == []


def test_a_mistake_in_a_python_file_has_its_place() -> None:
    Path("club_rules.py").write_text("x = 1\nif x:\nprint(x)\n", encoding="utf-8")
    (problem,) = load(["club_rules.py"], trust=True).problems
    assert (problem.path, problem.line) == ("club_rules.py", 3)
    assert "indented block" in problem.message


def test_a_python_file_that_is_not_there() -> None:
    (problem,) = load(["club_rules.py"], trust=True).problems
    assert "No such file" in problem.message


def test_only_once_however_often_it_is_configured() -> None:
    pack_of("with open('runs', 'a') as runs:\n    runs.write('.')\n" + RULES)
    first = Inspector(Configuration(packs=("club_rules.py",), trust_packs=True))
    first.configured(Configuration(("club",), packs=("club_rules.py",), trust_packs=True))
    assert Path("runs").read_text(encoding="utf-8") == "."


# What the settings name


def settings(text: str, file: str = "prebind.toml") -> None:
    Path(file).parent.mkdir(exist_ok=True)
    Path(file).write_text(text, encoding="utf-8")


def test_a_pack_that_the_settings_name_counts_below_them_only() -> None:
    Path("club").mkdir()
    Path("club/b.setup.json").write_text(json.dumps(clean("plain")), encoding="utf-8")
    pack_of(RULES, "club/club_rules.py")
    settings('packs = ["club_rules.py"]', "club/prebind.toml")
    code, report = inspected("--trust-packs")
    found = {it["path"]: {f["rule"] for f in it["findings"]} for it in report["documents"]}
    assert code == 1
    assert "club/first" not in found["a.setup.json"]
    assert "club/first" in found["club/b.setup.json"]
    assert report["documents"][1]["settings"]["packs"] == [
        {"name": "club_rules", "version": "3.1", "origin": "file", "file": "club/club_rules.py",
         "rules": 2}
    ]  # fmt: skip
    assert [it["name"] for it in report["tool"]["packs"]] == OWN
    assert inspected("--trust-packs", "--leave-out", "club/first", "club")[0] == 0
    assert inspected("--trust-packs", "--family", "club", "club")[0] == 1


def test_rules_of_its_own_packs_may_be_set() -> None:
    pack_of(RULES)
    settings('packs = ["club_rules.py"]\n[settings."club/first"]\nword = "notice"')
    assert inspected("--trust-packs")[0] == 0
    settings('packs = ["club_rules.py"]\n[settings."club/frist"]\nword = "notice"')
    code, report = inspected("--trust-packs")
    assert code == 2
    (problem,) = report["problems"]
    assert (problem["path"], problem["line"]) == ("prebind.toml", 2)
    assert "did you mean “club/first”" in problem["message"]


@pytest.mark.parametrize("name", ["../out.py", "/etc/out.py", "link/out.py", "a/../../out.py"])
def test_settings_name_no_pack_outside_their_folder(folder: Path, name: str) -> None:
    """They come with the documents of others, and could have any file read, or run."""
    (folder / "inner").mkdir()
    (folder / "inner" / "link").symlink_to(folder)
    pack_of("raise RuntimeError('it ran')\n", "out.py")
    Path("inner/b.setup.json").write_text(json.dumps(clean("plain")), encoding="utf-8")
    settings(f'packs = ["{name}"]', "inner/prebind.toml")
    code, report = inspected("--trust-packs", "inner")
    assert code == 2
    (problem,) = report["problems"]
    assert (problem["path"], problem["line"], problem["column"]) == ("inner/prebind.toml", 1, 10)
    assert "outside this file's folder" in problem["message"]


def test_an_untrusted_pack_is_said_once_and_can_be_done_without() -> None:
    Path("b.setup.json").write_text(json.dumps(clean("plain")), encoding="utf-8")
    pack_of("raise RuntimeError('it ran')\n")
    settings('packs = ["club_rules.py"]')
    code, report = inspected()
    assert code == 2
    (problem,) = report["problems"]
    assert problem["path"] == "club_rules.py"
    assert "--trust-packs" in problem["message"]
    assert inspected("--without-pack", "club_rules")[0] == 0
    settings('packs = ["club_rules.py"]\nwithout_packs = ["club_rules"]')
    assert inspected()[0] == 0


def test_a_pack_that_does_not_exist_cannot_be_done_without(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["inspect", "--without-pack", "clubb"]) == 2
    assert "there is no pack “clubb”" in capsys.readouterr().err


# Time


SLOW = """\
import time
@hookimpl
def prebind_rules():
    yield made("club/slow", lambda *_: time.sleep(0.3) or PASS)
    yield made("club/fails", lambda *_: Fail("It fails."))
"""


def test_a_rule_over_its_bound_is_stopped_and_named(capsys: pytest.CaptureFixture[str]) -> None:
    pack_of(SLOW)
    trusted = ("--pack", "club_rules.py", "--trust-packs", "--family", "club")
    assert inspected(*trusted)[0] == 1
    settings("rule_seconds = 0.05")
    code, report = inspected(*trusted)
    assert code == 2
    (problem,) = report["problems"]
    assert (problem["rule"], problem["pack"]) == ("club/slow", "club_rules 3.1")
    assert problem["message"] == "the rule was stopped after 0.05 s, and its result is missing"
    (document,) = report["documents"]
    assert [it["rule"] for it in document["findings"]] == ["club/fails"]
    assert document["outcomes"]["pass"] == 0
    capsys.readouterr()
    inspected(*trusted, "--traceback", "--timing")
    said = capsys.readouterr().err
    assert "club_rules.py" in said.partition("Traceback")[2]  # where it was
    lines = said.splitlines()
    slow = next(line.split() for line in lines if line.endswith("club/slow"))
    assert 50 <= float(slow[0]) < 250
    pack = next(line.split() for line in lines if "all rules of club_rules 3.1" in line)
    assert float(pack[0]) >= 50


def test_a_rule_that_hangs_costs_the_run_nothing_else() -> None:
    hang = "def hang(*_):\n    while True:\n        pass\n\n"
    pack_of(hang + SLOW.replace("lambda *_: time.sleep(0.3) or PASS", "hang"))
    settings("rule_seconds = 0.2")
    started = perf_counter()
    code, report = inspected("--pack", "club_rules.py", "--trust-packs")
    assert perf_counter() - started < 10
    assert code == 2
    assert [it["rule"] for it in report["problems"]] == ["club/slow"]
    assert report["documents"][0]["outcomes"]["pass"] > 100
    assert "club/fails" in [it["rule"] for it in report["documents"][0]["findings"]]


def test_only_programs_of_others_are_stopped(installed: Callable[..., None]) -> None:
    """A sheet has bounds of its own, and nothing is set up for prebind's rules."""
    sheet = Path(__file__).parents[1] / "examples" / "packs" / "tern-bay.rules.json"
    pack_of(RULES)
    installed("far-club", HEAD + RULES.replace("club/", "far/"))
    asked = Configuration(packs=("club_rules.py", str(sheet)), trust_packs=True)
    bound = Inspector(asked)._bound
    assert str(sheet) in {pack.where for pack in Inspector(asked).packs}
    assert {it.rule.id for it in bound if it.foreign} == {
        "club/first",
        "club/second",
        "far/first",
        "far/second",
    }


def test_a_rule_that_leaves_the_process_is_a_crash() -> None:
    pack_of("import sys\n@hookimpl\ndef prebind_rules():\n    yield made('club/out', sys.exit)\n")
    code, report = inspected("--pack", "club_rules.py", "--trust-packs")
    assert code == 2
    assert [it["rule"] for it in report["problems"]] == ["club/out"]


# Report formats

BOARD = """\
from prebind.format import Format

class Board:
    def __init__(self, sheet, run):
        self.out = sheet.out
        self.out.write("BOARD\\n")

    def document(self, report):
        self.out.write(f"{report.path_name}: {report.outcomes['fail']}\\n")

    def end(self, problems):
        self.out.write(f"{len(problems)}\\n")

@hookimpl
def prebind_report_formats(hooks):
    yield Format("board", Board)
"""


def test_a_report_format_of_a_pack(capsys: pytest.CaptureFixture[str]) -> None:
    pack_of(BOARD)
    assert main(["inspect", "--pack", "club_rules.py", "--trust-packs", "--report", "board"]) == 0
    assert capsys.readouterr().out == "BOARD\na.setup.json: 0\n0\n"


def test_a_report_format_that_crashes_is_named_and_leaves_no_file(
    capsys: pytest.CaptureFixture[str],
) -> None:
    pack_of(BOARD.replace("report.path_name", "report.nonsense"))
    asked = ["inspect", "--pack", "club_rules.py", "--trust-packs", "--report", "board=out.txt"]
    assert main(asked) == 2
    assert "the report format “board” of club_rules 3.1 crashed" in capsys.readouterr().err
    assert not Path("out.txt").exists()


def test_an_unknown_format_is_told_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["inspect", "--report", "jsn"]) == 2
    assert "did you mean “json”" in capsys.readouterr().err


# Hooks have versions


def next_hooks() -> ModuleType:
    """The hooks as a later version might have them: `hooks` is to go, `moon` has come."""
    later = ModuleType("later")
    spec = pluggy.HookspecMarker(hooks.PROJECT)

    def prebind_rules(hooks: int, moon: str) -> None: ...

    def prebind_report_formats(hooks: int, moon: str) -> None: ...

    going = DeprecationWarning("`hooks` goes with version 3; read prebind.hooks.HOOKS instead")
    for function in (prebind_rules, prebind_report_formats):
        setattr(later, function.__name__, spec(warn_on_impl_args={"hooks": going})(function))
    return later


def plugin(function: Callable[..., Any]) -> ModuleType:
    module = plain(function)
    hooks.hookimpl(module.prebind_rules)
    return module


def plain(function: Callable[..., Any]) -> ModuleType:
    module = ModuleType("made_for_today")
    function.__name__ = "prebind_rules"
    module.prebind_rules = function  # type: ignore[attr-defined]
    return module


@pytest.mark.parametrize(
    ("function", "noted"),
    [(lambda: [made("club/rule")], False), (lambda hooks: [made(f"club/made-for-{hooks}")], True)],
    ids=["takes no argument", "takes one that is to go"],
)
def test_a_pack_made_for_these_hooks_goes_on_working(
    function: Callable[..., Any], noted: bool
) -> None:
    """An argument that is to go is handed over still, and whoever takes it is told."""
    handed, _, notes = _handed(plugin(function), next_hooks(), moon="new")
    assert len(handed) == 1
    assert any("goes with version 3" in note for note in notes) is noted


def test_a_hook_without_a_mark_is_called_as_it_is(installed: Callable[..., None]) -> None:
    installed("far-club", HEAD + RULES.replace("@hookimpl\n", ""))
    installed(
        "near-club",
        HEAD
        + RULES.replace("club/", "near/")
        + BOARD.replace("@hookimpl\n", "").replace("(hooks)", "()"),
    )
    far, near = Inspector().packs[-2:]
    assert [it.id for it in far.rules] == ["club/first", "club/second"]
    assert [it.id for it in near.rules] == ["near/first", "near/second"]
    assert [it.name for it in near.formats] == ["board"]


def test_the_mark_is_pluggy_s() -> None:
    """pluggy's own look-up and ours agree on what is marked (pluggy 1.5, `parse_hookimpl_opts`)."""
    manager = pluggy.PluginManager(hooks.PROJECT)
    for make, marked in ((plugin, True), (plain, False)):
        module = make(lambda: [made("club/rule")])
        assert (manager.parse_hookimpl_opts(module, "prebind_rules") is not None) is marked
        assert _marked(module.prebind_rules) is marked


def test_today_nothing_is_to_go(installed: Callable[..., None]) -> None:
    installed("far-club", HEAD + RULES.replace("prebind_rules()", "prebind_rules(hooks)"))
    assert Inspector().packs[-1].notes == ()
