"""`prebind plan`: reports, exit codes, and what is said without the solver."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from jsonschema import Draft202012Validator

from prebind_schemas import schema_text

if TYPE_CHECKING:
    from tests.cli.conftest import Run

EXAMPLES = Path(__file__).parents[1] / "examples"
AVOCET = EXAMPLES / "plan" / "avocet.wishes.json"
FLEET = EXAMPLES / "plan" / "tern-bay.wishes.json"


@pytest.fixture
def wishes(folder: Path) -> Any:
    """The example wishes for one model, changed by a function, in the working folder."""

    def writing(change: Any = None) -> Path:
        document = json.loads(AVOCET.read_bytes())
        if change is not None:
            change(document)
        file = folder / "avocet.wishes.json"
        file.write_text(json.dumps(document, indent=2), encoding="utf-8")
        return file

    return writing


def more_flaps(document: Any) -> None:
    document["models"][0]["functions"].append({"function": "flap", "positions": 3})


def test_text(run: Run, wishes: Any) -> None:
    ran = run("plan", wishes().name, "--plain")
    assert (ran.code, ran.err) == (0, "")
    assert "The best plan on “Reed, eight channels”: proven" in ran.out
    assert "middle    1500.0 µs  limited  136.0 µs" in ran.out
    assert "Throttle cut: right-front at “forward”." in ran.out
    assert ran.out.endswith("experienced instructor come first.\n")


@pytest.mark.parametrize("file", [AVOCET, FLEET], ids=lambda it: it.name)
def test_json_keeps_to_its_schema(run: Run, file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(EXAMPLES)
    ran = run("plan", file.relative_to(EXAMPLES), "--trades", "--report", "json")
    assert ran.code == 0
    data = json.loads(ran.out)
    Draft202012Validator(json.loads(schema_text("plan"))).validate(data)
    assert data["path"] == f"plan/{file.name}"
    setup = Draft202012Validator(json.loads(schema_text("setup")))
    for model in data["answers"][0]["models"]:
        if model["setup"] is not None:
            setup.validate(model["setup"])


@pytest.mark.parametrize("name", ["wishes", "plan"])
def test_schemas_are_schemas(name: str) -> None:
    Draft202012Validator.check_schema(json.loads(schema_text(name)))


@pytest.mark.parametrize("file", [AVOCET, FLEET], ids=lambda it: it.name)
def test_the_example_wishes_keep_to_their_schema(file: Path) -> None:
    schema = Draft202012Validator(json.loads(schema_text("wishes")))
    schema.validate(json.loads(file.read_bytes()))


def test_a_contradiction(run: Run, wishes: Any) -> None:
    file = wishes(more_flaps)
    ran = run("plan", file.name)
    assert ran.code == 1
    lines = file.read_text(encoding="utf-8").splitlines()
    flap = next(i for i, it in enumerate(lines) if '"flap"' in it)  # its bracket is one line up
    mode = next(i for i, it in enumerate(lines) if '"name": "flight mode"' in it)
    hands = ran.err.splitlines()[:4]
    assert hands == [
        f"avocet.wishes.json:{flap}:9: contradiction: “Avocet 1300” does not fit “Reed, eight "
        "channels”: “flap” and “flight mode” want 2 controls of their own; of those that will do "
        "“Reed, eight channels” has only one: left-front.",
        f"avocet.wishes.json:{flap}:9: wish: “flap” asks for a switch of 3 positions that stays",
        f"avocet.wishes.json:{mode}:9: wish: “flight mode” asks for a switch of 3 positions that "
        "stays",
        f"avocet.wishes.json:{flap}:9: remedy: do without one of these; or take a transmitter with "
        "a switch of 3 positions that stays in addition",
    ]
    assert "0 of 1" in ran.out


def test_the_remedy_helps(run: Run, wishes: Any) -> None:
    def mended(document: Any) -> None:
        more_flaps(document)
        controls = document["transmitters"]["Reed, eight channels"]["controls"]
        controls["third"] = {"kind": "switch", "positions": ["a", "b", "c"]}

    assert run("plan", wishes(mended).name).code == 0


def test_wrong_wishes(run: Run, wishes: Any) -> None:
    file = wishes(lambda it: it["models"][0].update(receiver="seven outputs"))
    ran = run("plan", file.name)
    assert (ran.code, ran.out) == (2, "")
    line = file.read_text(encoding="utf-8").splitlines().index('      "receiver": "seven outputs",')
    assert ran.err.startswith(
        f"avocet.wishes.json:{line + 1}:19: problem: there is no receiver “seven outputs”"
    )


def test_no_such_file_or_transmitter(run: Run, wishes: Any) -> None:
    assert run("plan", "nowhere.json").err == (
        "nowhere.json: problem: cannot be read: No such file or directory\n"
    )
    ran = run("plan", wishes().name, "--transmitter", "Reed, eigth channels")
    assert ran.code == 2
    assert "did you mean “Reed, eight channels”?" in ran.err


def test_for_a_transmitter_that_is_named(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(EXAMPLES)
    ran = run("plan", "plan/tern-bay.wishes.json", "--transmitter", "Sedge, ten channels")
    assert ran.code == 1
    assert "The best plan" not in ran.out


def test_a_report_never_takes_the_place_of_the_wishes(run: Run, wishes: Any) -> None:
    file = wishes()
    before = file.read_bytes()
    assert run("plan", file.name, "--report", f"json={file.name}").code == 2
    assert file.read_bytes() == before


def test_without_the_solver(run: Run, wishes: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [it for it in sys.modules if it.split(".")[0] == "ortools"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "ortools", None)
    ran = run("plan", wishes().name)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == (
        "prebind plan: planning needs a constraint solver that is not installed; install it with "
        "pip install 'prebind[plan]'\n"
    )


def python(*arguments: str, **environment: str) -> str:
    done = subprocess.run(
        [sys.executable, *arguments],
        capture_output=True,
        check=True,
        cwd=EXAMPLES,
        env={**os.environ, **environment},
        text=True,
    )
    return done.stdout


def test_the_same_in_every_process() -> None:
    """Sets and dictionaries come in another order in each of them."""
    command = ("-m", "prebind", "plan", "plan/tern-bay.wishes.json", "--report", "json")
    assert python(*command, PYTHONHASHSEED="1") == python(*command, PYTHONHASHSEED="2")


def test_an_inspection_imports_nothing_of_it() -> None:
    code = (
        "import sys; from prebind.cli import main; main(['inspect', 'fleet/redshank.setup.json']);"
        "print([it for it in sys.modules if it.startswith(('prebind.plan', 'ortools'))])"
    )
    assert python("-c", code).splitlines()[-1] == "[]"
