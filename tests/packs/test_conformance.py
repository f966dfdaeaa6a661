"""A pack that conforms, and one that does not in each single aspect: the test must see it."""

from __future__ import annotations

import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from attrs import evolve

import prebind_rules
from prebind.testing import assert_conforms, example_tests
from prebind.testing.conformance import ASPECTS
from prebind.testing.source import Loaded, named
from prebind.testing.trial import Trial

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from prebind.testing import Source

PACK = '''"""A pack for tests: invented."""

import time
from itertools import count

from prebind.format import Format
from prebind.hooks import hookimpl
from prebind.rule import PASS, Fail, Fix, Setting, fails, passes, replace, rule

COUNT = count()
DELAY = "/receiver/failsafe/delay_s"


def examples():
    yield fails(replace(DELAY, 3), why="Three seconds.", at=DELAY, says=["3 s"])
    yield passes(replace(DELAY, 1), why="One second.")


@rule(
    "quay/slow",
    word="caution",
    title="The failsafe is slow",
    each="setup",
    needs=("failsafe",),
    safety="The model flies on for that long. Keep it over empty ground.",
    remedy="Set a shorter delay.",
    bench="Propeller off: switch the radio off and count.",
    source="common practice, no source",
    settings={"longest_s": Setting(1.5, "longest delay, in seconds")},
    examples=examples,
)
def slow(place, path, settings):
    """Nobody controls a model that waits for its failsafe."""
    delay = path.setup.receiver.failsafe.delay_s
    if delay is None or delay <= settings["longest_s"]:
        return PASS
    return Fail(
        f"The failsafe waits {delay:g} s.",
        at=DELAY,
        evidence={"delay_s": delay},
        fix=Fix("decide", (replace(DELAY, settings["longest_s"]),)),
    )


class Lines:
    def __init__(self, sheet, run):
        self._out = sheet.out

    def document(self, report):
        self._out.write(f"{report.path_name!a}\\n")

    def end(self, problems):
        self._out.write(f"{len(problems)} problems\\n")


@hookimpl
def prebind_rules():
    yield slow


@hookimpl
def prebind_report_formats():
    yield Format("quay-lines", Lines)
'''

JUDGE = "    delay = path.setup.receiver.failsafe.delay_s\n"
SAFETY = "The model flies on for that long. Keep it over empty ground."

SECOND = '''    from attrs import evolve

    marked = []

    def second(place, path, settings):
        """Leaves a mark for another rule, or reads one."""
        marked.append(path)
        return Fail(f"It was marked {sum(it is path for it in marked)} times.")

    yield evolve(slow, id="quay/second", judge=second)
    yield evolve(slow, id="quay/tenth", judge=second)
'''

FAULTS = [
    # ids
    ("ids", "    yield slow", "    yield from (slow, slow)", "is also in quay unversioned"),
    ("ids", '"quay/slow"', '"failsafe/slow"', "is also in prebind 0.1.0"),
    (
        "ids",
        "    yield slow",
        '    from attrs import evolve\n    yield evolve(slow, id="Quay/Slow")',
        "“Quay/Slow” is no id",
    ),
    # texts
    ("texts", '"The failsafe is slow"', '"the failsafe is slow"', "title begins with a capital"),
    ("texts", '"The failsafe is slow"', '"The failsafe is slow."', "title begins with a capital"),
    ("texts", '"The failsafe is slow"', '"Slow" * 30', "title has 120 characters"),
    ("texts", "Set a shorter delay.", "Set a shorter delay", "remedy does not end as a sentence"),
    ("texts", "Set a shorter delay.", " ", "remedy is empty"),
    ("texts", "Set a shorter delay.", "Set it.\\x1b[2J.", "remedy holds U+001B"),
    ("texts", "longest delay, in seconds", "", "the meaning of longest_s is empty"),
    ("texts", SAFETY, "The model flies on.", "in a sentence of its own, what to do"),
    ("texts", '    """Nobody', '    "" f"""Nobody', "the docstring is empty"),
    # claims
    ("no claim of safety", SAFETY, "It is safe to fly. Enjoy it.", "“It is safe to fly.”"),
    ("no claim of safety", "One second.", "The model is safe.", "“The model is safe.”"),
    # places, settings
    (
        "places and needs",
        "    yield slow",
        '    from attrs import evolve\n    yield evolve(slow, each="flaps")',
        "there is no `each` 'flaps'",
    ),
    (
        "places and needs",
        "    yield slow",
        '    from attrs import evolve\n    yield evolve(slow, needs=("luck",))',
        "there is no need 'luck'",
    ),
    (
        "places and needs",
        "    yield slow",
        '    from attrs import evolve\n    yield evolve(slow, word="alarm")',
        "'alarm' is no signal word",
    ),
    ("settings", "Setting(1.5", "Setting(None", "default of longest_s cannot be written"),
    ("settings", "Setting(1.5", "Setting({1.5}", "default of longest_s cannot be written"),
    ("settings", "longest_s", "longest-s", "“longest-s” is no name of a setting"),
    # examples
    (
        "examples of both kinds",
        '    yield passes(replace(DELAY, 1), why="One second.")',
        "",
        "quay/slow: no example in which it passes",
    ),
    ("examples of both kinds", "    yield fails(", "    0 and fails(", "no example in which it f"),
    ("examples of both kinds", "One second.", "", "`why` of an example is empty"),
    ("examples come out, fixes mend", '["3 s"]', '["4 s"]', "“Three seconds.”: quay/slow fails at"),
    ("examples come out, fixes mend", "replace(DELAY, 1)", "replace(DELAY, 2)", "must not fail"),
    (
        "examples come out, fixes mend",
        'replace(DELAY, settings["longest_s"])',
        'replace(DELAY, settings["longest_s"] + 1)',
        "the fix of quay/slow does not mend it",
    ),
    ("examples come out, fixes mend", "replace(DELAY, 1)", 'replace("/no", 1)', "does not fit"),
    # what it says
    ("plain findings", "waits {delay:g} s.", "waits {delay:g} s", "does not end as a sentence"),
    ("plain findings", "waits {delay:g} s.", "waits {delay:g} s.\\x07.", "holds U+0007"),
    ("plain findings", "waits {delay:g} s.", "waits {delay:g} s. Else it is safe.", "may say that"),
    ("plain findings", '{"delay_s": delay}', '{"delay_s": {delay}}', "is no plain JSON"),
    ("plain findings", '{"delay_s": delay}', '{"x": float("nan")}', "is no plain JSON"),
    (
        "plain findings",
        JUDGE,
        '    if path.setup.model.airframe == "helicopter":\n        raise KeyError("x")\n' + JUDGE,
        "on the clean setup “helicopter”: quay/slow: the rule crashed",
    ),
    # purity
    *(
        (aspect, "{delay:g} s.", "{delay:g} s, {next(COUNT)}.", says)
        for aspect, says in {
            "same in any order": "with the rules in reverse, the report is another one",
            "same alone and among others": "quay/slow says something else by itself",
            "same from bytes and from a mapping": "read from bytes, not from a mapping, the report",
        }.items()
    ),
    *(
        (aspect, "    yield slow", SECOND, says)
        for aspect, says in {
            "same in any order": "with the rules in reverse, the report is another one",
            "same alone and among others": "quay/tenth says something else by itself",
        }.items()
    ),
    (
        "same in any process",
        '{"delay_s": delay}',
        '{"words": list({str(i) for i in range(50)})}',
        "in another process, with other hashes, the report is another one",
    ),
    (
        "same in any process",
        '{"delay_s": delay}',
        '{"who": __import__("os").getpid()}',
        '"evidence": {"who": ',
    ),
    (
        "same in any process",
        "COUNT = count()",
        "COUNT = count()\nassert 'pytest' in __import__('sys').modules",
        "a fresh interpreter does not run the pack: ValueError: ",
    ),
    (
        "leaves what it is handed",
        JUDGE,
        JUDGE + '    settings["seen"] = 1\n',
        "quay/slow changes its settings",
    ),
    (
        "leaves what it is handed",
        JUDGE,
        JUDGE + '    object.__setattr__(path.setup, "region", "us")\n',
        "quay/slow changes the setup",
    ),
    ("does nothing but judge", JUDGE, JUDGE + '    print("here")\n', "something was printed: 'h"),
    ("does nothing but judge", JUDGE, JUDGE + "    open(__file__)\n", "quay/slow: open '/"),
    (
        "does nothing but judge",
        JUDGE,
        JUDGE + '    __import__("socket").socket()\n',
        "quay/slow: socket.__new__",
    ),
    (
        "does nothing but judge",
        JUDGE,
        JUDGE + '    __import__("os").system("true")\n',
        "quay/slow: os.system b'true'",
    ),
    (
        "does nothing but judge",
        'each="setup"',
        'each=lambda path: open(__file__) and [path]',
        "quay/slow: open '/",
    ),
    ("in time", JUDGE, JUDGE + "    time.sleep(0.03)\n", "more than 0.02 s"),
    # formats
    ("report formats", '"quay-lines"', '"Quay lines"', "“Quay lines” is no name of a format"),
    ("report formats", "path_name!a", "path_name", "given a hostile name: it lets U+0007, U+001B"),
    ("report formats", "path_name!a", "setup.model.name!a", "broken document: it crashed: Attrib"),
    ("report formats", ".write(f", ".isatty() or str(f", "given clean setups: it writes nothing"),
]  # fmt: skip


def written(folder: Path, text: str) -> Path:
    file = folder / "quay.py"
    file.write_text(text, encoding="utf-8")
    return file


def wrong(file: Path, aspect: str) -> Iterator[str]:
    return ASPECTS[aspect](Trial(file, seconds=0.02 if aspect == "in time" else 5))


def test_a_pack_that_conforms(tmp_path: Path) -> None:
    assert_conforms(written(tmp_path, PACK), seconds=5)


@pytest.mark.parametrize(("aspect", "right", "fault", "says"), FAULTS, ids=lambda text: text[:30])
def test_each_fault_is_seen(tmp_path: Path, aspect: str, right: str, fault: str, says: str) -> None:
    assert right in PACK
    told = list(wrong(written(tmp_path, PACK.replace(right, fault)), aspect))
    assert any(says in what for what in told), told


def test_every_aspect_can_fail() -> None:
    assert {aspect for aspect, *_ in FAULTS} == set(ASPECTS)


def test_what_is_to_go_is_a_warning(tmp_path: Path) -> None:
    trial = Trial(written(tmp_path, PACK))
    pack = evolve(trial.pack, notes=("`moon` goes with version 3",))
    trial.loaded = Loaded(pack, ())
    with pytest.warns(DeprecationWarning, match="^quay unversioned: `moon` goes with version 3$"):
        assert not list(ASPECTS["ids"](trial))


def test_assert_conforms_names_all_that_is_wrong(tmp_path: Path) -> None:
    file = written(tmp_path, PACK.replace("Set a shorter delay.", "").replace("One second.", ""))
    with pytest.raises(AssertionError) as told:
        assert_conforms(file, seconds=5)
    assert str(told.value).splitlines() == [
        "texts: quay/slow: remedy is empty",
        "examples of both kinds: quay/slow: `why` of an example is empty",
    ]


TESTS = """
import prebind.testing

test_examples = prebind.testing.example_tests("quay.py")
test_conformance = prebind.testing.conformance_tests("quay.py", seconds=5)
"""


def test_both_lines_under_pytest(tmp_path: Path) -> None:
    """A failure names the example, or the aspect, and says what is wrong."""
    written(tmp_path, PACK.replace('["3 s"]', '["4 s"]'))
    (tmp_path / "test_quay.py").write_text(TESTS, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-q", "-rA"]
    ran = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    said = re.findall(r"^(PASSED|FAILED) test_quay\.py::(.+?\])", ran.stdout, re.MULTILINE)
    cases = [f"test_examples[quay/slow: {why}]" for why in ("Three seconds.", "One second.")]
    cases += [f"test_conformance[{aspect}]" for aspect in ASPECTS]
    wrong = [cases[0], "test_conformance[examples come out, fixes mend]"]
    assert sorted(said) == sorted(("FAILED" if c in wrong else "PASSED", c) for c in cases)
    assert ran.stdout.count("says otherwise: caution at '/receiver/failsafe/delay_s': The ") >= 2
    assert ran.returncode == 1


@pytest.mark.parametrize(
    ("source", "says"),
    [
        ("quay", "no pack “quay” is installed"),
        ("prebind", "“prebind” has several packs: name one of builtin, reports, waivers"),
        (re, "the module re is no installed pack: install its distribution"),
        ("/nowhere/quay.py", "/nowhere/quay.py: the pack “quay” cannot be loaded: FileNotFoundErr"),
        ("/nowhere/quay.rules.json", "/nowhere/quay.rules.json: the rule sheet cannot be read: No"),
    ],
)
def test_what_is_no_pack(source: Source, says: str) -> None:
    with pytest.raises(ValueError, match=re.escape(says)):
        example_tests(source)


def test_an_installed_pack_by_its_module_and_by_its_name() -> None:
    assert named(prebind_rules) == "builtin"
    assert Trial(prebind_rules).pack.rules == Trial("builtin").pack.rules


def test_rules_by_themselves(tmp_path: Path) -> None:
    """Examples of rules that are in no pack yet."""
    its = Trial(written(tmp_path, PACK)).rules
    for given in (its, its[0]):
        (mark,) = example_tests(given).pytestmark
        assert [case.id for case in mark.args[1]] == [
            "quay/slow: Three seconds.",
            "quay/slow: One second.",
        ]
