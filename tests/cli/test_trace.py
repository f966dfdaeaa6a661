"""`prebind trace`: tables and JSON of one document."""

from __future__ import annotations

import io
import json
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Run, Write

EXAMPLES = Path(__file__).parents[1] / "examples"


def rows(text: str, head: str) -> list[list[str]]:
    """The cells of the table under a heading, split where two spaces stand."""
    section = text.partition(f"\n{head}")[2].partition("─\n")[2].partition("\n\n")[0]
    return [re.split(r"  +", line.strip()) for line in section.splitlines()]


def test_tables(run: Run, write: Write) -> None:
    """Pulses by hand: 1500 µs and 4 µs a percent, no steps; the rudder is reversed."""
    ran = run("trace", write("plover.setup.json"))
    assert (ran.code, ran.err) == (0, "")
    channels = rows(ran.out, "Channels")
    assert channels[:2] == [
        ["1", "throttle", "-100.0 %", "1100.0 µs", "cut-switch at run, throttle-stick at -100 %"],
        ["100.0 %", "1900.0 µs", "cut-switch at run, throttle-stick at 100 %"],
    ]
    assert channels[6:] == [
        ["4", "rudder", "-100.0 %", "1100.0 µs", "yaw-stick at 100 %"],
        ["100.0 %", "1900.0 µs", "yaw-stick at -100 %"],
    ]
    assert rows(ran.out, "Ports")[2] == ["1100.0 µs", "link lost: preset"]
    assert rows(ran.out, "Motors") == [["1", "stopped", "full", "stopped", "stopped"]]
    # A rudder reversed at the transmitter, on a servo whose growing pulse moves the edge left, is
    # right; nothing is corrected without a stabiliser.
    assert ["yaw", "4", "rudder", "right", "-", "-"] in rows(ran.out, "Directions")
    assert "Prove it on the bench, propeller off" in " ".join(ran.out.split())


def test_selectors(run: Run, write: Write) -> None:
    """By hand, without steps: −100, 0 and 100 % against edges at −34 and 34 %, 4 µs a percent."""
    file = write("o.setup.json", lambda d: d["transmitter"]["output"].pop("steps"), "trainer")
    out = run("trace", file).out
    assert rows(out, "Selector “flight mode”") == [
        ["back", "-100.0 %", "1100.0 µs", "level", "264.0 µs"],
        ["middle", "0.0 %", "1500.0 µs", "limited", "136.0 µs"],
        ["forward", "100.0 %", "1900.0 µs", "damped", "264.0 µs"],
    ]
    assert "Link lost: preset 1100.0 µs, state level" in out
    assert "the command goes to the surface in damped" in out


def test_stretches_of_a_knob(run: Run, write: Write) -> None:
    def on_a_knob(document: dict[str, Any]) -> None:
        document["transmitter"]["output"].pop("steps")
        document["transmitter"]["controls"]["mode-knob"] = {"kind": "knob"}
        document["channels"][4]["control"] = "mode-knob"
        states = document["receiver"]["stabiliser"]["selectors"][0]["states"]
        states[1]["band"]["percent"] = [-34, 20]

    out = run("trace", write("o.setup.json", on_a_knob, "trainer")).out
    found = rows(out, "Selector “flight mode”")
    # Edges are equal up to 0.5 µs, an eighth of a percent; a shared end goes to the upper band.
    assert [row[1:] for row in found] == [
        ["-100.0 to -34.1 %", "1100.0 to 1363.5 µs", "level", "-"],
        ["-34.1 to 20.1 %", "1363.5 to 1580.5 µs", "limited", "-"],
        ["20.1 to 33.9 %", "1580.5 to 1635.5 µs", "none: a gap", "-"],
        ["33.9 to 100.0 %", "1635.5 to 1900.0 µs", "damped", "-"],
    ]


def test_what_is_cut_off(run: Run, write: Write) -> None:
    """150 % of travel and 20 % of sub-trim ask for 170 %, and the limit is 150 %."""

    def wide(document: dict[str, Any]) -> None:
        document["channels"][1].update(travel_percent={"low": 100, "high": 150}, subtrim_percent=20)

    out = run("trace", write("plover.setup.json", wide)).out
    assert ["150.0 %", "2100.0 µs", "roll-stick at 100 %"] in rows(out, "Channels")
    assert ["the limit cuts off up to 20 %"] in rows(out, "Channels")


def test_what_is_not_known(run: Run, write: Write) -> None:
    """Question marks, the keys that settle them, and what to do by hand; never a guess."""

    def bare(document: dict[str, Any]) -> None:
        del document["receiver"]["failsafe"]
        del document["servos"][3]["increasing_pulse"]

    out = run("trace", write("plover.setup.json", bare)).out
    assert rows(out, "Ports")[2] == ["link lost: ?"]
    assert rows(out, "Motors") == [["1", "stopped", "full", "stopped", "?"]]
    assert ["yaw", "4", "rudder", "?", "-", "-"] in rows(out, "Directions")
    unsettled = " ".join(out.partition("Not known")[2].split())
    assert "the failsafe is not recorded (settled by /receiver/failsafe)" in unsettled
    assert "(settled by /servos/3/increasing_pulse)" in unsettled
    assert unsettled.count("the failsafe is not recorded") == 1
    assert "By hand: Propeller off, model restrained. Switch the transmitter off" in unsettled


def test_a_channel_that_the_failsafe_leaves_out(run: Run, write: Write) -> None:
    file = write("p.setup.json", lambda d: d["receiver"]["failsafe"]["channels"].pop(0))
    out = run("trace", file).out
    assert rows(out, "Ports")[2] == ["link lost: no entry"]
    assert rows(out, "Motors") == [["1", "stopped", "full", "stopped", "no entry"]]


def test_a_hold_may_keep_any_state(run: Run, write: Write) -> None:
    def holds(document: dict[str, Any]) -> None:
        document["receiver"]["failsafe"]["channels"][4] = {"channel": 5, "action": "hold"}

    out = run("trace", write("o.setup.json", holds, "trainer")).out
    assert "Link lost: hold, in whichever it was: level, limited, damped" in out


def test_more_combinations_than_fit_a_page(run: Run, write: Write) -> None:
    """Left out rows are counted, not hidden."""

    def crowded(document: dict[str, Any]) -> None:
        controls = document["transmitter"]["controls"]
        document["mixes"] = []
        for i in range(7):
            controls[f"switch-{i}"] = {"kind": "switch", "positions": ["off", "on"]}
            mix = {"name": f"mix {i}", "from": {"control": f"switch-{i}"}, "to": 5}
            document["mixes"].append({**mix, "rate_percent": {"low": 0, "high": 1}})

    file = write("o.setup.json", crowded, "trainer")
    out = run("trace", file).out
    assert f"and {3 * 2**7 - 100} more; --report json has them all" in out
    trace = json.loads(run("trace", file, "--report", "json").out)
    assert len(trace["selectors"][0]["positions"]) == 3 * 2**7


# --- one situation --------------------------------------------------------------------------


def test_one_situation(run: Run, write: Write) -> None:
    """By hand: at half stick, expo 25: 100·(0.75·0.5 + 0.25·0.125) = 40.625 %."""
    file = write("plover.setup.json")
    ran = run("trace", file, "--set", "roll-stick=50", "--set", "throttle-stick=100")
    assert ran.code == 0
    assert ["roll-stick", "50.0 %"] in rows(ran.out, "Controls")
    assert ["cut-switch", "run"] in rows(ran.out, "Controls")
    aileron = ["2", "aileron", *["40.6 %"] * 4, "1662.5 µs", "-"]
    assert aileron in rows(ran.out, "Channels")
    assert ["2", "1662.5 µs"] in rows(ran.out, "Ports")
    assert rows(ran.out, "Motors") == [["1", "full"]]
    found = run("trace", file, "--set", "roll-stick=50", "--report", "json").out
    situation = json.loads(found)
    assert situation["format"] == "situation/1"
    assert situation["channels"][1]["shape"] == pytest.approx(40.625)
    assert situation["channels"][1]["us"] == pytest.approx(1662.5)


def test_the_cut_in_one_situation(run: Run, write: Write) -> None:
    file = write("plover.setup.json")
    out = run("trace", file, "--set", "throttle-stick=100", "--set", "cut-switch=cut").out
    assert ["1", "throttle", "100.0 %", "100.0 %", *["-100.0 %"] * 2, "1100.0 µs", "-"] in rows(
        out, "Channels"
    )
    assert rows(out, "Motors") == [["1", "stopped"]]


@pytest.mark.parametrize("where", ["cut-switch=100", "cut-switch=100%", "cut-switch = cut"])
def test_positions_may_be_given_as_percentages(run: Run, write: Write, where: str) -> None:
    ran = run("trace", write("plover.setup.json"), "--set", where.replace(" = ", "="))
    assert ["cut-switch", "cut"] in rows(ran.out, "Controls")


@pytest.mark.parametrize(
    ("where", "says"),
    [
        ("roll-stik=50", "there is no control “roll-stik”; did you mean “roll-stick”?"),
        ("zz=50", "known are throttle-stick, roll-stick, pitch-stick, yaw-stick, cut-switch"),
        ("cut-switch=cute", "“cut-switch” has no position “cute”; did you mean “cut”?"),
        ("cut-switch=0", "“cut-switch” has no position “0”; known are run, cut"),
        ("roll-stick=up", "“roll-stick” is a stick: put it at a percentage from -100 to 100"),
        ("roll-stick=100.5", "from -100 to 100, not at “100.5”"),
        ("roll-stick=nan", "not at “nan”"),
        ("roll-stick", "write CONTROL=POSITION, as in --set roll-stick=50"),
    ],
)
def test_what_cannot_be_set(run: Run, write: Write, where: str, says: str) -> None:
    ran = run("trace", write("plover.setup.json"), "--set", where)
    assert ran.code == 2
    assert ran.out == ""
    assert says in ran.err


def test_names_with_an_equals_sign(run: Run, write: Write) -> None:
    def odd(document: dict[str, Any]) -> None:
        controls = document["transmitter"]["controls"]
        controls["gear=flap"] = {"kind": "switch", "positions": ["up=out", "down"]}

    ran = run("trace", write("plover.setup.json", odd), "--set", "gear=flap=up=out")
    assert ["gear=flap", "up=out"] in rows(ran.out, "Controls")


# --- reading and writing --------------------------------------------------------------------


def test_a_broken_document(run: Run) -> None:
    ran = run("trace", EXAMPLES / "broken" / "redshank-duplicate-key.setup.json")
    assert (ran.code, ran.out) == (2, "")
    assert re.search(r"\.setup\.json:68:7: problem: the key `reversed` stands twice", ran.err)


def test_a_document_that_is_not_there(run: Run, folder: Path) -> None:
    ran = run("trace", folder / "gone.json")
    assert ran.code == 2
    assert ran.err.endswith("gone.json: problem: cannot be read: No such file or directory\n")


def test_standard_input(run: Run, write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    data = write("plover.setup.json").read_bytes()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(data)))
    trace = json.loads(run("trace", "-", "--report", "json").out)
    assert trace["path"] == "-"
    assert [channel["channel"] for channel in trace["channels"]] == [1, 2, 3, 4]


def test_report_files(run: Run, write: Write) -> None:
    file = write("plover.setup.json")
    ran = run("trace", file, "--report", "text=t.txt", "--report", "json=t.json")
    assert (ran.code, ran.out) == (0, "")
    assert json.loads(Path("t.json").read_text())["format"] == "trace/1"
    assert Path("t.txt").read_text() == run("trace", file).out
    before = file.read_bytes()
    ran = run("trace", file, "--report", "json=plover.setup.json")
    assert ran.code == 2
    assert file.read_bytes() == before


@pytest.mark.parametrize("columns", [80, 120])
@pytest.mark.parametrize("file", sorted(EXAMPLES.glob("f*/*.setup.json")), ids=lambda f: f.stem)
def test_tables_keep_to_the_width(
    run: Run, monkeypatch: pytest.MonkeyPatch, file: Path, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    ran = run("trace", file)
    assert ran.code == 0
    body = ran.out.splitlines()[2:]
    assert [line for line in body if len(line) > columns] == []


def test_hostile_names(run: Run, write: Write) -> None:
    """Neither markup nor marks that turn text round are taken for what they look like."""
    name = "[red]cut[/red]\u202e"

    def renamed(document: dict[str, Any]) -> None:
        document["transmitter"]["controls"][name] = {"kind": "switch", "positions": ["a", "b"]}
        document["channels"][1]["control"] = name
        document["overrides"][0]["name"] = name

    file = write("plover.setup.json", renamed)
    for arguments in ([], ["--set", "roll-stick=1"]):
        out = run("trace", file, *arguments).out
        assert "[red]cut[/red]\\u202e" in "".join(out.split())
        assert "\u202e" not in out
    assert "\u202e" not in run("trace", file, "--set", f"{name}=c").err
