"""`prebind rulebook`: all rules, or one."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from textwrap import dedent
from typing import TYPE_CHECKING, Any

import pytest

from prebind import Inspector, __version__
from prebind.inspect.waivers import OWN
from prebind.report import rulebook_markdown
from prebind.rule import Fails, Passes
from prebind.testing import assert_conforms

if TYPE_CHECKING:
    from tests.cli.conftest import Run, Write

RULES = Inspector().rules


def flat(text: str) -> str:
    return " ".join(text.split())


def test_every_rule_is_listed(run: Run) -> None:
    ran = run("rulebook")
    assert (ran.code, ran.err) == (0, "")
    listed = dict(
        re.findall(r"^  (\S+/\S+) +(danger|warning|caution|notice) ", ran.out, re.MULTILINE)
    )
    assert listed == {rule.id: rule.word for rule in RULES.values()}
    families = re.findall(r"^(\S+)$", ran.out, re.MULTILINE)
    assert families == list(dict.fromkeys(rule.family for rule in RULES.values()))
    for rule in RULES.values():
        assert rule.title in flat(ran.out)


def test_one_family(run: Run) -> None:
    out = run("rulebook", "failsafe").out
    assert set(re.findall(r"^  (\S+/\S+)", out, re.MULTILINE)) == {
        rule.id for rule in RULES.values() if rule.family == "failsafe"
    }


@pytest.mark.parametrize("rule", RULES.values(), ids=lambda rule: rule.id)
def test_a_rule_is_explained(run: Run, monkeypatch: pytest.MonkeyPatch, rule: object) -> None:
    """With everything that its record says, and an example of each kind, in 80 columns."""
    record = RULES[rule.id]  # type: ignore[attr-defined]
    monkeypatch.setenv("COLUMNS", "80")
    out = run("rulebook", record.id).out
    assert all(len(line) <= 80 or " " not in line.strip() for line in out.splitlines())
    told = flat(out)
    for text in (
        record.title,
        record.why,
        record.safety,
        record.remedy,
        record.bench,
        record.source,
    ):
        assert flat(text) in told
    assert f"Signal word: {record.word} (" in told
    assert f"since {record.since}." in told
    for name, setting in record.settings.items():
        assert f"{name} = " in told
        assert flat(setting.meaning) in told
    examples = list(record.examples())
    if record.family == "regions":  # which remind, and never fail
        return
    fails = next(example for example in examples if isinstance(example, Fails))
    passes = next(example for example in examples if isinstance(example, Passes))
    assert out.index("\nFails, for example\n") < out.index("\nPasses, for example\n")
    for example in (fails, passes):
        assert flat(example.why) in told
        assert all(operation["path"] in told for operation in example.patch)
    said = told.partition(f"It fails at {fails.at or 'the top of the document'}: ")[2]
    assert said.startswith(f"{fails.word or record.word}: ")
    message = said.partition(" Passes, for example ")[0]
    assert all(text in message for text in fails.says)


def test_settings_and_examples_to_the_letter(run: Run) -> None:
    out = run("rulebook", "bands/thin-margin").out
    assert "\nSettings\n    margin_us = 25: " in out
    patch = "add /transmitter/controls/mode-switch/values [-39, 0, 100]"
    assert f"    On the clean setup “trainer”:\n      {patch}\n" in out


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("bands/gapp", "bands/gap"),
        ("gap", "bands/gap"),
        ("throtle/gap", "bands/gap"),
        ("failsave", "failsafe"),
    ],
)
def test_the_nearest_is_named(run: Run, name: str, near: str) -> None:
    ran = run("rulebook", name)
    assert (ran.code, ran.out) == (2, "")
    assert f"there is no rule “{name}”; did you mean “{near}”?" in ran.err


def test_nothing_is_near(run: Run) -> None:
    assert "`prebind rulebook` lists them all" in run("rulebook", "zzzz").err


def test_a_rule_of_another_pack(run: Run, crashing_rule: str) -> None:
    assert "Pack: made-pack 2.0, since 0.1.0." in run("rulebook", crashing_rule).out


def test_what_it_looks_at_the_fix_and_the_message_to_the_letter(run: Run) -> None:
    out = run("rulebook", "bands/overlap").out
    assert "\nLooks at each selector. What must be written down: the stabiliser.\n" in out
    told = flat(out)
    assert (
        " Fix `prebind mend --rule bands/overlap` shows a change to the document, and makes it "
        "once you say yes: a person must decide. Fails, for example "
    ) in told
    # 10 % is 1500 + 10 × 4 = 1540 µs on this radio
    assert (
        " It fails at /receiver/stabiliser/selectors/0/states/0/band: warning: The states “level” "
        "and “limited” of “flight mode” both claim 1364 to 1540 µs, and mode-switch at middle "
        "gives 1500.3 µs. Passes, for example "
    ) in told
    assert "stays as it is" not in told
    assert "what was meant stays as it is" in flat(run("rulebook", "reversal/twice").out)
    assert "None is offered" in run("rulebook", "bands/gap").out


# --- packs ----------------------------------------------------------------------------------


def pack_file(folder: Path, name: str, body: str) -> Path:
    """A Python pack whose `made(id, examples)` is a rule about each channel, and `body`."""
    file = folder / name
    file.write_text(f"{BEGINNING}{dedent(body)}", encoding="utf-8")
    return file


BEGINNING = """
from prebind.hooks import hookimpl
from prebind.rule import *
from prebind.rule import Fix

__version__ = "3.1"
LIMIT = "/receiver/failsafe/delay_s"


def made(id, examples, fix=None, crash=False):
    @rule(id, word="caution", title="Slow", each="setup", safety="", remedy="", bench="",
          source="", examples=lambda: examples)
    def slow(place, path, settings):
        delay = path.setup.receiver.failsafe.delay_s
        if crash:
            raise RuntimeError("torn")
        if delay is None:
            return Open("The delay is not recorded.", (LIMIT,))
        return Fail(f"It waits {delay:g} s.", at=LIMIT, fix=fix) if delay > 1.5 else PASS
    return slow


SOUND = [
    fails(replace(LIMIT, 2), why="Two seconds.", at=LIMIT, says=["2 s"]),
    passes(replace(LIMIT, 1), why="One second."),
]
"""

SOUND = """
@hookimpl
def prebind_rules():
    yield made("club/slow", SOUND)
"""


def test_packs_and_where_they_come_from(run: Run, folder: Path) -> None:
    pack_file(folder, "club.py", SOUND)
    ran = run("rulebook", "--packs", "--pack", "club.py", "--trust-packs")
    assert (ran.code, ran.err) == (0, "")
    rows = [line.split() for line in ran.out.splitlines()]
    count = str(len(RULES.keys() - OWN))
    assert ["builtin", __version__, count, "0", "installed", "prebind"] in rows
    assert ["club", "3.1", "1", "0", "Python", "file", "club.py"] in rows
    assert "Refused" not in ran.out


def test_packs_refused_and_broken(run: Run, folder: Path) -> None:
    pack_file(folder, "club.py", SOUND)
    pack_file(folder, "torn.py", "1 / 0")
    ran = run(
        *("rulebook", "--packs", "--trust-packs", "--without-pack", "club"),
        *("--pack", "club.py", "--pack", "torn.py", "--pack", "gone.rules.json"),
    )
    assert ran.code == 2
    refused = ran.out.partition("\nRefused")[2]
    assert "    club unversioned, Python file: club.py\n" in refused
    broken = refused.partition("\nNot in force, or not as a whole\n")[2]
    assert "torn.py: problem: torn unversioned: " in broken
    assert "ZeroDivisionError" in broken
    assert "gone.rules.json: problem: " in broken
    assert ran.err == ""


def test_only_one_pack(run: Run, folder: Path) -> None:
    pack_file(folder, "club.py", SOUND)
    given = ("--pack", "club.py", "--trust-packs")
    for name in ("club", "club.py"):
        out = run("rulebook", "--of", name, *given).out
        assert re.findall(r"^  (\S+/\S+)", out, re.MULTILINE) == ["club/slow"]
    of_ours = run("rulebook", "--of", "prebind", *given).out
    assert set(re.findall(r"^  (\S+/\S+)", of_ours, re.MULTILINE)) == set(RULES)
    ran = run("rulebook", "--of", "clubb", *given)
    assert ran.code == 2
    assert "there is no pack “clubb”; did you mean “club”?" in ran.err


def test_the_settings_here_name_packs(run: Run, folder: Path) -> None:
    """A rule that a finding names can be looked up beside the setup."""
    pack_file(folder, "club.py", SOUND)
    (folder / "prebind.toml").write_text('packs = ["club.py"]', encoding="utf-8")
    assert run("rulebook", "club/slow", "--trust-packs").out.startswith("club/slow: Slow\n")
    ran = run("rulebook", "club/slow")
    assert ran.code == 2
    assert "club.py: problem: club unversioned: this pack is a program, and was not run" in ran.err
    assert "there is no rule “club/slow”" in ran.err


# --- the written rulebook -------------------------------------------------------------------


def test_pages_of_a_pack(run: Run, folder: Path) -> None:
    pack_file(folder, "club.py", SOUND)
    given = ("--pack", "club.py", "--trust-packs", "--pages", "written/pages")
    ran = run("rulebook", "--of", "club", *given)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == "  README.md\n  club.md\n2 pages for 1 rule written to written/pages.\n"
    pages = folder / "written" / "pages"
    assert sorted(file.name for file in pages.iterdir()) == ["README.md", "club.md"]
    page = (pages / "club.md").read_text(encoding="utf-8")
    assert page.startswith("<!-- Written by `prebind rulebook --pages`")
    assert "**caution** at `/receiver/failsafe/delay_s`: It waits 2 s.\n" in page


def test_pages_of_a_family_or_a_rule(run: Run, folder: Path) -> None:
    run("rulebook", "pulses", "--pages", "pages")
    page = (folder / "pages" / "pulses.md").read_text(encoding="utf-8")
    assert re.findall("^## (.*)", page, re.MULTILINE) == ["pulses/centre", "pulses/frame-too-fast"]
    ran = run("rulebook", "power/wire", "--pages", "pages")
    page = (folder / "pages" / "power.md").read_text(encoding="utf-8")
    assert re.findall("^## (.*)", page, re.MULTILINE) == ["power/wire"]
    assert "Of an earlier time, and not among them: pages/pulses.md." in ran.out


def test_no_other_file_is_overwritten(run: Run, folder: Path) -> None:
    (folder / "README.md").write_text("# Our club\n", encoding="utf-8")
    ran = run("rulebook", "pulses", "--pages", ".")
    assert (ran.code, ran.out) == (2, "")
    assert "README.md: this is no page of the rulebook, so nothing was written" in ran.err
    assert [file.name for file in folder.iterdir()] == ["README.md"]
    assert (folder / "README.md").read_text(encoding="utf-8") == "# Our club\n"


def test_all_pages_or_none(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run("rulebook", "pulses", "--pages", "pages")
    before = {file.name: file.read_bytes() for file in (folder / "pages").iterdir()}
    pages = rulebook_markdown.pages

    def torn(*given: Any) -> dict[str, str]:
        return {name: f"{text}more" for name, text in pages(*given).items()} | {"x/y.md": "z"}

    monkeypatch.setattr(rulebook_markdown, "pages", torn)
    ran = run("rulebook", "pulses", "--pages", "pages")
    assert (ran.code, ran.out) == (2, "")
    assert "x/y.md: No such file or directory" in ran.err
    assert {file.name: file.read_bytes() for file in (folder / "pages").iterdir()} == before


# --- a rule of one's own --------------------------------------------------------------------

AWKWARD = ["club/my-rule", "club/import", "tern-bay/fails", "club/json", "a/3-d", f"b/{'x' * 30}"]
"""Ids whose last part is a keyword, or hides a name of the file's own or a module, or is none."""


@pytest.mark.parametrize("kind", [[], ["--sheet"]], ids=["python", "sheet"])
@pytest.mark.parametrize("rule", AWKWARD)
def test_a_new_rule_is_whole(
    run: Run, folder: Path, write: Write, rule: str, kind: list[str]
) -> None:
    """Its examples come out, and each command that is offered next does its work."""
    ran = run("rulebook", "--new", rule, *kind)
    assert (ran.code, ran.err) == (0, "")
    (file,) = folder.iterdir()
    write("knot.setup.json")
    tried = run("rulebook", "--try", file.name, *(() if kind else ("--trust-packs",)))
    assert (tried.code, tried.err) == (0, "")
    assert tried.out.startswith(f"{rule}\n  ok     fails   ")
    assert "1 rule, 3 examples: all come out as they should." in tried.out
    commands = re.findall(r"^ +prebind (.*)", ran.out, re.MULTILINE)
    assert [command.split()[0] for command in commands] == ["rulebook", "inspect"]
    for command in commands:
        followed = run(*command.split())
        assert (followed.code, followed.err) == (0, "")


def test_a_new_rule_passes_the_linter_and_the_type_checker(run: Run, folder: Path) -> None:
    """As a pack's author may have them: strict, and with this project's own choice of rules."""
    for rule in AWKWARD:
        run("rulebook", "--new", rule)
    made = [file.name for file in folder.iterdir()]
    assert len(made) == len(AWKWARD)
    config = str(Path(__file__).parents[2] / "pyproject.toml")
    for command in (
        ["ruff", "check", "--isolated"],
        ["ruff", "check", "--config", config],
        ["ruff", "format", "--check", "--config", config],
        ["mypy", "--strict", "--cache-dir", "cache"],
    ):
        done = subprocess.run([sys.executable, "-m", *command, *made], capture_output=True)
        assert done.returncode == 0, (command, done.stdout.decode())


@pytest.mark.parametrize("kind", [[], ["--sheet"]], ids=["python", "sheet"])
def test_a_new_rule_finds_something(run: Run, folder: Path, write: Write, kind: list[str]) -> None:
    run("rulebook", "--new", "club/my-rule", *kind)
    (file,) = folder.iterdir()
    assert_conforms(str(file), seconds=60)

    def change(document: dict[str, Any]) -> None:
        document["channels"][1]["rates"] = [{"expo_percent": 55}]

    write("knot.setup.json", change, start="trainer")
    (folder / "prebind.toml").write_text(f'packs = ["{file.name}"]', encoding="utf-8")
    ran = run("inspect", "--trust-packs", "--report", "json", "knot.setup.json")
    findings = json.loads(ran.out)["documents"][0]["findings"]
    (found,) = [found for found in findings if found["rule"] == "club/my-rule"]
    assert (found["kind"], found["word"]) == ("fail", "caution")
    assert found["at"] == "/channels/1/rates/0/expo_percent"
    assert "55" in found["message"]
    assert "40 %" in found["message"]


@pytest.mark.parametrize(
    ("rule", "why"),
    [
        ("my-rule", "family/name"),
        ("club/", "family/name"),
        ("Club/my-rule", "small letters"),
        ("club/my_rule", "small letters, digits and single hyphens"),
        ("club/../../x", "family/name"),
        ("club/my-rule/more", "family/name"),
        ("club/" + "x" * 31, "31 characters, more than 30"),
        ("bands/gap", "there is a rule “bands/gap” already"),
    ],
)
def test_what_is_no_id_of_a_new_rule(run: Run, folder: Path, rule: str, why: str) -> None:
    ran = run("rulebook", "--new", rule)
    assert (ran.code, ran.out) == (2, "")
    assert f"“{rule}”" in ran.err or why in ran.err
    assert why in ran.err
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize(
    ("kind", "name"),
    [([], "my_rule.py"), (["--sheet"], "club.rules.json")],
    ids=["python", "sheet"],
)
def test_a_new_rule_overwrites_nothing(run: Run, folder: Path, kind: list[str], name: str) -> None:
    file = folder / name
    file.write_text("mine", encoding="utf-8")
    ran = run("rulebook", "--new", "club/my-rule", *kind)
    assert (ran.code, ran.out) == (2, "")
    assert f"{name}: this file is there already, and stays as it is" in ran.err
    assert file.read_text(encoding="utf-8") == "mine"


# --- a pack's examples tried ----------------------------------------------------------------


def test_what_does_not_come_out_is_told(run: Run, folder: Path) -> None:
    body = """
    @hookimpl
    def prebind_rules():
        yield made("club/slow", [
            *SOUND,
            fails(replace(LIMIT, 1), why="Too quick.", at=LIMIT, says=["1 s"]),
            fails(replace(LIMIT, 4), why="Other words.", at=LIMIT, says=["5 s"], word="danger"),
            fails(remove(LIMIT), why="Not known.", at=LIMIT, says=["s"]),
            passes(replace(LIMIT, 3), why="No pass."),
            passes(replace(LIMIT, 1), why="Not open.", outcome="open"),
            passes(remove("/no/such/place"), why="No place."),
            passes(why="No such setup.", start="kite"),
        ])
        yield made("club/fixed", [SOUND[0]], fix=Fix("safe", (replace(LIMIT, 1.8),)))
        yield made("club/torn", SOUND[1:], crash=True)
        yield made("club/bare", [])
        yield made("club/odd", None)
    """
    pack_file(folder, "club.py", body)
    ran = run("rulebook", "--try", "club.py", "--trust-packs")
    assert (ran.code, ran.err) == (1, "")
    told = dict(re.findall(r"^(club/\S+)\n(.*?)\n\n", ran.out, re.MULTILINE | re.DOTALL))
    slow = flat(told["club/slow"])
    assert "ok fails Two seconds. " in slow
    assert "ok passes One second. " in slow
    at = "/receiver/failsafe/delay_s"
    for text in (
        f"WRONG fails Too quick. expected caution at {at}, and says “1 s” found pass",
        f"WRONG fails Other words. expected danger at {at}, and says “5 s” "
        f"found caution at {at}: It waits 4 s.",
        f"WRONG fails Not known. expected caution at {at}, and says “s” "
        "found open at the top of the document: The delay is not recorded.",
        f"WRONG passes No pass. expected pass, and no fail anywhere found caution at {at}: "
        "It waits 3 s.",
        "WRONG passes Not open. expected open, and no fail anywhere found pass",
        "WRONG passes No place. expected pass, and no fail anywhere "
        "found The example cannot be tried: the patch does not fit the setup: ",
        "WRONG passes No such setup. expected pass, and no fail anywhere "
        "found The example cannot be tried: there is no clean setup “kite”; known are glider, ",
    ):
        assert text in slow
    assert "found the fix of club/fixed does not mend it" in flat(told["club/fixed"])
    assert "the rule crashed and its result is missing (RuntimeError: torn)" in flat(
        told["club/torn"]
    )
    assert "WRONG It has no examples" in flat(told["club/bare"])
    assert "WRONG Its examples cannot be made: TypeError" in flat(told["club/odd"])
    assert ran.out.endswith(
        "5 rules, 11 examples: 9 not as they should be; 2 rules without examples.\n"
    )


def test_a_rule_without_examples_proves_nothing(run: Run, folder: Path) -> None:
    body = """
    @hookimpl
    def prebind_rules():
        yield made("club/bare", [])
    """
    pack_file(folder, "club.py", body)
    ran = run("rulebook", "--try", "club.py", "--trust-packs")
    assert ran.code == 1
    assert ran.out.endswith("\n1 rule, no examples: 1 rule without examples.\n")


def test_what_is_no_pack_is_not_tried(run: Run, folder: Path) -> None:
    pack_file(folder, "club.py", SOUND)
    ran = run("rulebook", "--try", "club.py")
    assert (ran.code, ran.out) == (2, "")
    assert "club.py: problem: club unversioned: this pack is a program, and was not run" in ran.err
    pack_file(folder, "empty.py", "")
    ran = run("rulebook", "--try", "empty.py", "--trust-packs")
    assert (ran.code, ran.out) == (2, "")
    assert "it hands over no rule and no report format" in ran.err
    pack_file(folder, "torn.py", "1 / 0")
    assert "ZeroDivisionError" in run("rulebook", "--try", "torn.py", "--trust-packs").err
    ran = run("rulebook", "--try", "gone.rules.json")
    assert (ran.code, ran.out) == (2, "")
    assert "gone.rules.json: problem: " in ran.err


def test_an_id_that_is_taken_is_told(run: Run, folder: Path) -> None:
    body = """
    @hookimpl
    def prebind_rules():
        yield made("club/slow", SOUND)
        yield made("bands/gap", SOUND)
    """
    pack_file(folder, "club.py", body)
    ran = run("rulebook", "--try", "club.py", "--trust-packs")
    assert ran.code == 2
    assert "1 rule, 2 examples" in ran.out
    assert "the rule “bands/gap” of club 3.1 is also in prebind" in ran.err


@pytest.mark.parametrize(
    "given",
    [
        ("--packs", "bands"),
        ("--new", "club/x", "bands"),
        ("--try", "x.py", "--of", "builtin"),
        ("--sheet",),
        ("--packs", "--new", "club/x"),
        ("--try", "x.py", "--without-pack", "x"),
    ],
)
def test_what_does_not_go_together(run: Run, folder: Path, given: tuple[str, ...]) -> None:
    ran = run("rulebook", *given)
    assert (ran.code, ran.out) == (2, "")
    assert "`prebind rulebook --help` says what can be given." in ran.err
    assert list(folder.iterdir()) == []
