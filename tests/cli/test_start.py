"""`prebind start`: what it writes, what it asks, and that nothing is lost."""

from __future__ import annotations

import builtins
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator

from prebind import Inspector
from prebind.document.edit import edited
from prebind.plan.start import blank, operations, questions, understood
from prebind_schemas import schema_text, template_text, templates

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.cli.conftest import Run

EXAMPLES = Path(__file__).parents[1] / "examples"
INSPECTOR = Inspector()

TRAINER = ("start", "Knot 900", "--airframe", "trainer")
STOP = "/speed_controls/0/stop_below_us"
FULL = "/speed_controls/0/full_above_us"


def load(file: Path) -> Any:
    return json.loads(file.read_bytes())


def outcomes(file: Path) -> Any:
    report = INSPECTOR.inspect_file(file)
    assert not report.problems
    return report.outcomes


def answering(monkeypatch: pytest.MonkeyPatch, answers: dict[str, Any]) -> list[str]:
    """A person at a terminal, who answers questions by a part of their text, else with Return.

    An exception is raised instead of an answer.  Gives the questions that were put.
    """
    asked: list[str] = []
    left: dict[str, Iterator[Any]] = {
        part: iter(it if isinstance(it, list) else [it]) for part, it in answers.items()
    }

    def put(question: str) -> str:
        asked.append(question)
        for part, each in left.items():
            if part in question:
                answer = next(each, "")
                if isinstance(answer, type):
                    raise answer
                return str(answer)
        return ""

    monkeypatch.setattr(sys.stdin, "isatty", lambda: True)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setattr(builtins, "input", put)
    return asked


@pytest.mark.parametrize("airframe", templates())
def test_every_airframe_starts_without_a_fail(run: Run, folder: Path, airframe: str) -> None:
    ran = run("start", "Knot 900", "--airframe", airframe)
    assert (ran.code, ran.err) == (0, "")
    file = folder / "knot-900.setup.json"
    found = outcomes(file)
    assert found["fail"] == 0
    assert found["open"] > 0
    assert f"{found['open']} not checked." in ran.out
    setup = load(file)
    assert setup["model"]["name"] == "Knot 900"
    assert "power" not in setup
    assert "power" in setup["x-not-known"]


def test_nothing_measured_on_the_template_stays(run: Run, folder: Path) -> None:
    run(*TRAINER)
    setup = load(folder / "knot-900.setup.json")
    assert not {"speed_controls", "power", "sign_offs", "waivers"} & setup.keys()
    assert not {"mass_g", "wing", "max_speed_m_s"} & setup["model"].keys()
    assert all(set(it) == {"port", "surface", "x-not-known"} for it in setup["servos"])
    assert all(not {"throw_deg", "area_cm2"} & it.keys() for it in setup["surfaces"])
    assert "release" not in setup["overrides"][0]
    assert "start_checks" not in setup["transmitter"]
    assert all("reversed" not in it for it in setup["receiver"]["outputs"])


def test_the_to_do_list_begins_with_the_motor(run: Run, folder: Path) -> None:
    ran = run(*TRAINER)
    todo = ran.out.split("To do, the most urgent first:\n")[1]
    assert todo.startswith("  danger: record /speed_controls; 8 checks wait for it.\n    by hand: ")
    assert "  warning: record /servos/…/increasing_pulse; 11 checks wait for it.\n" in todo
    words = [
        it.split(":")[0].strip() for it in todo.splitlines() if it.startswith("  ") and it[2] != " "
    ]
    order = ["danger", "warning", "caution", "notice"]
    assert words == sorted(words, key=order.index)
    assert (folder / "knot-900.setup.json").exists()


def test_from_wishes_and_from_their_plan_it_is_the_same(run: Run, folder: Path) -> None:
    wishes = EXAMPLES / "plan" / "avocet.wishes.json"
    assert run("start", "Avocet 1300", "--plan", wishes).code == 0
    assert run("plan", wishes, "--report", "json=a.plan.json").code == 0
    assert run("start", "Avocet 1300", "--plan", "a.plan.json", "--to", "b.setup.json").code == 0
    first, second = folder / "avocet-1300.setup.json", folder / "b.setup.json"
    assert first.read_bytes() == second.read_bytes()
    assert outcomes(first)["fail"] == 0


def test_a_model_that_the_plan_does_not_have(run: Run, folder: Path) -> None:
    wishes = EXAMPLES / "plan" / "avocet.wishes.json"
    ran = run("start", "Avocet 1301", "--plan", wishes)
    assert ran.code == 2
    assert "has no setup for “Avocet 1301”; did you mean “Avocet 1300”?" in ran.err
    assert list(folder.iterdir()) == []


def test_wishes_that_do_not_fit_start_nothing(run: Run, folder: Path) -> None:
    document = json.loads((EXAMPLES / "plan" / "avocet.wishes.json").read_bytes())
    document["transmitters"]["Reed, eight channels"]["channels"] = 5
    (folder / "w.json").write_text(json.dumps(document), encoding="utf-8")
    ran = run("start", "Avocet 1300", "--plan", "w.json")
    assert ran.code == 2
    assert "contradiction: “Avocet 1300” does not fit" in ran.err
    assert [it.name for it in folder.iterdir()] == ["w.json"]


def test_a_file_that_is_no_plan(run: Run, folder: Path) -> None:
    (folder / "p.json").write_text('{"format": "plan/1"}', encoding="utf-8")
    ran = run("start", "Knot 900", "--plan", "p.json")
    assert ran.code == 2
    assert "p.json: problem: `path` is missing from the document" in ran.err


def test_an_unknown_airframe(run: Run, folder: Path) -> None:
    ran = run("start", "Knot 900", "--airframe", "trainr")
    assert ran.code == 2
    assert "there is no airframe “trainr”; did you mean “trainer”?" in ran.err
    assert list(folder.iterdir()) == []


def test_a_file_that_exists_is_left_alone(run: Run, folder: Path) -> None:
    file = folder / "knot-900.setup.json"
    file.write_text("mine", encoding="utf-8")
    ran = run(*TRAINER)
    assert ran.code == 2
    assert ran.err == (
        "knot-900.setup.json: problem: exists already; name another file with --to, or say "
        "--replace\n"
    )
    assert file.read_text(encoding="utf-8") == "mine"
    assert run(*TRAINER, "--replace").code == 0
    assert load(file)["model"]["name"] == "Knot 900"


def answers(folder: Path, given: Any) -> str:
    (folder / "a.json").write_text(json.dumps({"answers": given}, indent=1), encoding="utf-8")
    return "a.json"


def test_answers_from_a_file(run: Run, folder: Path) -> None:
    given = {
        "/transmitter/channels": 12,
        "/transmitter/start_checks": ["throttle-low"],
        "/overrides/0/release": "at-low",
        STOP: 1150,
        FULL: 1880,
        "/servos/0/increasing_pulse": "trailing-edge-up",
        "/servos/0/pulse_us": [900, 2100],
        "/model/mass_g": 900,
        "/receiver/failsafe/stored": "by-menu",
        "/receiver/frame_ms": None,
    }
    ran = run(*TRAINER, "--answers", answers(folder, given))
    assert (ran.code, ran.err) == (0, "")
    setup = load(folder / "knot-900.setup.json")
    assert setup["transmitter"]["channels"] == 12
    assert "x-not-known" not in setup["transmitter"]
    assert setup["speed_controls"] == [{"port": 1, "stop_below_us": 1150, "full_above_us": 1880}]
    assert setup["x-not-known"] == ["power", "sign_offs"]
    assert setup["servos"][0]["pulse_us"] == [900, 2100]
    assert "increasing_pulse" not in setup["servos"][0]["x-not-known"]
    assert setup["receiver"]["failsafe"]["x-not-known"] == ["delay_s"]
    assert setup["receiver"]["x-not-known"] == ["frame_ms"]


def test_half_an_answer_about_a_motor_is_none(run: Run, folder: Path) -> None:
    """A speed control of which only one end is known cannot be written down."""
    assert run(*TRAINER, "--answers", answers(folder, {STOP: 1150})).code == 0
    setup = load(folder / "knot-900.setup.json")
    assert "speed_controls" not in setup
    assert "speed_controls" in setup["x-not-known"]


@pytest.mark.parametrize(
    ("pointer", "value", "message"),
    [
        ("/model/mas_g", 900, "nothing is asked at “/model/mas_g”; did you mean “/model/mass_g”?"),
        ("/model/mass_g", "heavy", '`model.mass_g` is "heavy"; it must be a number'),
        ("/overrides/0/release", "low", '`release` is "low"; it must be `at-low` or `at-once`'),
        ("/servos/0/pulse_us", [2100, 900], "low end"),
        ("/speed_controls/0/stop_below_us", -5, "stop_below_us` is -5"),
    ],
)
def test_an_answer_that_is_none(
    run: Run, folder: Path, pointer: str, value: Any, message: str
) -> None:
    given = {pointer: value}
    if pointer == STOP:
        given[FULL] = 1880
    ran = run(*TRAINER, "--answers", answers(folder, given))
    assert ran.code == 2
    assert ran.err.startswith("a.json:3:"), ran.err
    assert message in ran.err
    assert [it.name for it in folder.iterdir()] == ["a.json"]


def test_an_answer_that_fails_is_written_and_told(run: Run, folder: Path) -> None:
    ran = run(*TRAINER, "--answers", answers(folder, {"/overrides/0/release": "at-once"}))
    assert ran.code == 1
    assert "danger: throttle/releases-live:" in ran.out
    assert load(folder / "knot-900.setup.json")["overrides"][0]["release"] == "at-once"


def test_it_asks_on_a_terminal(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = answering(
        monkeypatch,
        {
            "How many channels does the transmitter": "9",
            "stand still": "1160",
            "full power": ["fast", "1870"],
            "insist on": "cut-on, throttle-low",
            "only once the stick was low": "at-l",
            "aileron-right go?": "trailing-edge-up",
        },
    )
    assert run(*TRAINER).code == 0
    assert "transmitter send? [10]" in asked[0]
    assert asked[0].startswith(f"1/{len(asked) - 1} ")  # one was put twice
    setup = load(folder / "knot-900.setup.json")
    assert setup["transmitter"]["channels"] == 9
    assert setup["transmitter"]["start_checks"] == ["cut-on", "throttle-low"]
    assert setup["overrides"][0]["release"] == "at-low"
    assert setup["speed_controls"] == [{"port": 1, "stop_below_us": 1160, "full_above_us": 1870}]
    assert setup["servos"][0]["increasing_pulse"] == "trailing-edge-up"
    assert setup["receiver"]["failsafe"]["stored"] == "at-bind"
    assert "Propeller off, model restrained" in next(it for it in asked if "stand still" in it)


@pytest.mark.parametrize("leaving", [".", EOFError, KeyboardInterrupt])
def test_what_was_answered_is_kept_whenever_one_leaves(
    run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch, leaving: Any
) -> None:
    answers = {"stand still": "1160", "full power": "1870", "insist on": leaving}
    asked = answering(monkeypatch, answers)
    assert run(*TRAINER).code == 0
    assert "insist on" in asked[-1]
    file = folder / "knot-900.setup.json"
    setup = load(file)
    assert setup["speed_controls"][0]["full_above_us"] == 1870
    assert outcomes(file)["fail"] == 0
    assert [it.name for it in folder.iterdir()] == ["knot-900.setup.json"]


def test_one_can_go_on_later(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(*TRAINER, "--answers", answers(folder, {STOP: 1160, FULL: 1870}))
    file = folder / "knot-900.setup.json"
    text = file.read_text(encoding="utf-8").replace('"Knot 900"', '"Knot 900, the red one"')
    file.write_text(text, encoding="utf-8")
    asked = answering(monkeypatch, {"insist on": "cut-on", "weigh": "880"})
    assert run("start", "--continue", file.name).code == 0
    assert not [it for it in asked if "stand still" in it or "transmitter send" in it]
    setup = load(file)
    assert setup["model"]["name"] == "Knot 900, the red one"
    assert setup["model"]["mass_g"] == 880
    assert setup["transmitter"]["start_checks"] == ["cut-on"]
    changed = file.read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if line in changed.splitlines()]
    assert len(kept) >= len(text.splitlines()) - 4  # the rest keeps its lines


def test_going_on_without_a_person_changes_nothing(run: Run, folder: Path) -> None:
    run(*TRAINER)
    file = folder / "knot-900.setup.json"
    before = file.read_bytes()
    assert run("start", "--continue", file.name).code == 0
    assert file.read_bytes() == before


def test_the_questions_can_be_listed(run: Run, folder: Path) -> None:
    ran = run(*TRAINER, "--questions")
    assert ran.code == 0
    pointers = [it for it in ran.out.splitlines() if it.startswith("/")]
    assert pointers[:6] == [
        "/transmitter/channels",
        "/transmitter/stick_mode",
        "/receiver/inputs",
        STOP,
        FULL,
        "/transmitter/start_checks",
    ]
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("airframe", templates())
def test_every_question_takes_an_answer(airframe: str) -> None:
    """With all that is asked answered, the setup still keeps to its schema."""
    setup = blank(json.loads(template_text(airframe)), "Knot 900")
    typed = {"number": "5", "pair": "5 8"}
    given = {
        it.id: understood(it, typed.get(it.kind) or it.choices[0])
        for it in questions(setup, structure=True)
        if it.id != "/transmitter/stick_mode"
    }
    text = edited(json.dumps(setup, indent=2), operations(setup, given))
    made = json.loads(text)
    Draft202012Validator(json.loads(schema_text("setup"))).validate(made)
    assert questions(made) == []


def test_a_name_that_is_none_is_not_written(run: Run, folder: Path) -> None:
    ran = run("start", "Knot\t900", "--airframe", "plain")
    assert ran.code == 2
    assert "`model.name` is" in ran.err
    assert list(folder.iterdir()) == []


def test_names_are_needed(run: Run) -> None:
    assert "say what the model is called" in run("start", "--airframe", "plain").err
    ran = run("start", "Knot 900", "--continue", "a.setup.json")
    assert "leave NAME and --to out" in ran.err
