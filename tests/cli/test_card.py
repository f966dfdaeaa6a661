"""`prebind card`: the card of one setup, to a terminal, a page or a file."""

from __future__ import annotations

import io
import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from prebind.testing import clean

if TYPE_CHECKING:
    from tests.cli.conftest import Run, Write

EXAMPLES = Path(__file__).parents[1] / "examples"


def test_a_card(run: Run, write: Write) -> None:
    ran = run("card", write("o.setup.json", start="trainer"))
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Bench and field card: “Oystercatcher 1500”\n====")
    assert "        - right aileron: up\n        - left aileron: down\n" in ran.out
    assert "`prebind sign o.setup.json --check CHECK --by NAME`" in " ".join(ran.out.split())
    spaced = run("card", write("my o.setup.json", start="trainer")).out
    assert "`prebind sign 'my o.setup.json' --check" in " ".join(spaced.split())


def test_a_faulty_setup_has_a_card_too(run: Run) -> None:
    ran = run("card", EXAMPLES / "faulty" / "dunlin-faulty.setup.json")
    assert ran.code == 0
    assert "WRONG: this setup: UP, further into the turn" in ran.out


def test_formats(run: Run, write: Write) -> None:
    file = write("o.setup.json", start="trainer")
    assert run("card", file, "--report", "html").out.lstrip().startswith("<!DOCTYPE html>")
    assert run("card", file, "--report", "markdown").out.startswith("# Bench and field card")
    assert run("card", file, "--report", "text").out == run("card", file).out
    ran = run("card", file, "--report", "json")
    assert ran.code == 2
    assert "“json” is no format here; known are html, markdown, text" in ran.err


def test_files_are_written_whole(run: Run, write: Write) -> None:
    file = write("o.setup.json", start="trainer")
    ran = run("card", file, "--report", "html=o.html", "--report", "markdown=o.md")
    assert (ran.code, ran.out) == (0, "")
    assert Path("o.html").read_text("ascii").rstrip().endswith("</html>")
    assert "- [ ] **2.**" in Path("o.md").read_text("utf-8")
    before = file.read_bytes()
    ran = run("card", file, "--report", "text=o.setup.json")
    assert ran.code == 2
    assert "a report would take the place of a file it is about" in ran.err
    assert file.read_bytes() == before


def test_the_same_card_each_time(run: Run, write: Write) -> None:
    file = write("o.setup.json", start="glow")
    pages = {run("card", file, "--report", name).out for name in ("html", "html")}
    assert len(pages) == 1


def test_standard_input(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = json.dumps(clean("wing")).encode()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
    ran = run("card", "-")
    assert ran.code == 0
    assert "Setup: -; Airframe: flying-wing" in ran.out
    assert "prebind sign SETUP --check CHECK" in ran.out
    assert folder.is_dir()


@pytest.mark.parametrize("columns", [80, 120])
def test_it_keeps_to_the_terminal(
    run: Run, write: Write, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    file = write("o.setup.json", start="helicopter")
    monkeypatch.setenv("COLUMNS", str(columns))
    widest = max(map(len, run("card", file).out.splitlines()))
    assert columns - 20 < widest <= columns


def test_a_broken_document(run: Run, folder: Path) -> None:
    ran = run("card", EXAMPLES / "broken" / "redshank-duplicate-key.setup.json")
    assert (ran.code, ran.out) == (2, "")
    assert re.search(r"\.setup\.json:68:7: problem: the key `reversed` stands twice", ran.err)
    ran = run("card", folder / "gone.setup.json", "--report", "text=card.txt")
    assert ran.code == 2
    assert "cannot be read: No such file or directory" in ran.err
    assert not Path("card.txt").exists()


def test_a_folder_is_no_setup(run: Run, folder: Path) -> None:
    ran = run("card", folder)
    assert (ran.code, ran.out) == (2, "")
    assert "is a folder; a card is for one setup" in ran.err


def test_a_rule_that_crashes(run: Run, write: Write, crashing_rule: str) -> None:
    ran = run("card", write("o.setup.json", start="trainer"))
    assert ran.code == 2
    assert "Not every rule was run: 1 problem." in ran.out
    assert crashing_rule in ran.err
    assert "ZeroDivisionError" not in ran.out


def test_settings_count(run: Run, write: Write) -> None:
    def reverse(document: dict[str, Any]) -> None:
        document["servos"][2]["increasing_pulse"] = "trailing-edge-down"

    file = write("o.setup.json", reverse, "trainer")
    assert "see reversal/command-backwards" in run("card", file).out
    Path("prebind.toml").write_text('leave_out = ["reversal"]\n', "utf-8")
    out = run("card", file).out
    assert "WRONG: this setup: DOWN" in out, "what the setup does is no matter of rules"
    assert "reversal/" not in out
    Path("prebind.toml").write_text('leave_uot = ["reversal"]\n', "utf-8")
    ran = run("card", file)
    assert ran.code == 2
    assert "leave_uot" in ran.err
    assert "see reversal/command-backwards" in ran.out


def test_a_shared_part(run: Run) -> None:
    out = run("card", EXAMPLES / "fleet" / "dunlin.setup.json").out
    assert "Tern Bay club radio, ten channels: choose the model memory" in out


def test_plain(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm")
    file = EXAMPLES / "faulty" / "dunlin-faulty.setup.json"
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    assert "\x1b[1;31m" in run("card", file).out
    assert "\x1b" not in run("card", file, "--plain").out
