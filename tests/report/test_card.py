"""The bench and field card: every direction against a table made by hand, and what stands on it."""

from __future__ import annotations

import io
import json
import re
import subprocess
from functools import cache
from itertools import pairwise
from math import cos, hypot, radians, sin
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from attrs import evolve
from hypothesis import HealthCheck, given, settings
from markdown_it import MarkdownIt
from tests.report.test_html import (
    ASK,
    CHROMIUM,
    NAMES,
    QUIET,
    assert_sound,
    axe,
    by_id,
    contrast,
    every,
    parsed,
    shape_of,
    text_of,
    with_class,
)
from tests.strategies import setups

from prebind import Inspector, Report
from prebind.document.model import Model, Surface
from prebind.format import Sheet
from prebind.inspect.finding import Waived
from prebind.inspect.inspector import Configuration
from prebind.report.card import DEFERS, OTHER_WAY, Card, Section, Step, card
from prebind.report.card.html import card_html
from prebind.report.card.markdown import card_markdown
from prebind.report.card.text import card_text
from prebind.report.card.throws import edge_mm
from prebind.report.pictures.model import WIDTH, ModelPicture, model_picture
from prebind.testing import clean
from prebind_schemas import templates

if TYPE_CHECKING:
    from collections.abc import Callable

    from prebind.report.pictures.model import Way

EXAMPLES = Path(__file__).parents[1] / "examples"
FLEET = sorted((EXAMPLES / "fleet").glob("*.setup.json"))
FILES = sorted(EXAMPLES.glob("f*/*.setup.json"))
STYLE = (Path(__file__).parents[2] / "lint/prebind/report/templates/card.css").read_text("ascii")
INSPECTOR = Inspector()
PLAIN = Inspector(Configuration(families=("reversal",), combinations=1_000))

ORDER = [
    "Left open: settle first",
    "Before power",
    "Range of controls",
    "Command direction",
    "Flaps, brakes, gear",
    "Correction direction, by hand",
    "Selectors",
    "Recovery",
    "Throttle cut",
    "Low throttle",
    "Failsafe",
    "Throws",
    "Supply",
    "Range check",
    "At the field",
]


def named(file: Path) -> str:
    return file.name.removesuffix(".setup.json")


@cache
def report_of(name: str) -> Report:
    (file,) = (file for file in FILES if named(file) == name)
    return INSPECTOR.inspect_file(file)


def card_of(name: str) -> Card:
    return card(report_of(name))


def made(
    change: Callable[[dict[str, Any]], object] = lambda _: None, start: str = "trainer"
) -> Card:
    document = clean(start)
    change(document)
    report = INSPECTOR.inspect(document)
    assert report.document is not None, report.problems
    return card(report)


def section(of: Card, name: str) -> Section:
    (found,) = (section for section in of.sections if section.name == name)
    return found


def steps(of: Card, name: str) -> tuple[Step, ...]:
    return next((section.steps for section in of.sections if section.name == name), ())


def seen(step: Step) -> dict[str, str]:
    return {one.what: one.must for one in step.see}


def wrong(step: Step) -> dict[str, str]:
    return {one.what: one.does for one in step.see if one.does}


def told(of: Card, width: int = 100) -> str:
    return "".join(card_text(of, Sheet(io.StringIO(), width)))


# --- directions, against the axes ------------------------------------------------------------

# ISO 1151-1 (from memory): x forward, y right, z down, right-hand rule, so that a positive roll
# puts the right wing down, a positive pitch the nose up, a positive yaw the nose right.  The stick
# right, back, right asks for these.  Written by hand from there, not from the code: which way
# each trailing edge, or wheel, must go for the stick right (roll), back (pitch), right (yaw).

AILERONS = {"right aileron": "up", "left aileron": "down"}
ELEVONS = {
    "roll": {"right elevon": "up", "left elevon": "down"},
    "pitch": {"right elevon": "up", "left elevon": "up"},
}

TABLE: dict[str, dict[str, dict[str, str]]] = {
    "dunlin": {"roll": AILERONS, "pitch": {"elevator": "up"}, "yaw": {"rudder": "right"}},
    "guillemot": {
        "roll": AILERONS,
        "pitch": {"elevator": "up"},
        "yaw": {"rudder": "right", "front wheel": "right"},
    },
    "little-tern-radio-mix": ELEVONS,
    "little-tern-receiver-mix": ELEVONS,
    # A canard's elevator lies before the centre of gravity: its edge goes down for nose up.
    "phalarope": {
        "roll": AILERONS,
        "pitch": {"foreplane's elevator": "down"},
        "yaw": {"rudder": "right", "front wheel": "right"},
    },
    # A wheel at the tail turns left to bring the nose right.
    "razorbill": {
        "roll": {"right flaperon": "up", "left flaperon": "down"},
        "pitch": {"elevator": "up"},
        "yaw": {"rudder": "right", "rear wheel": "left"},
    },
    "redshank": {"roll": AILERONS, "pitch": {"elevator": "up"}, "yaw": {"rudder": "right"}},
    # An inverted V: the right half's edge goes up to push the tail left, the nose right.
    "shearwater": {
        "roll": AILERONS,
        "pitch": {"right V-tail surface": "up", "left V-tail surface": "up"},
        "yaw": {"right V-tail surface": "up", "left V-tail surface": "down"},
    },
    # An upright V: the right half's edge goes down to push the tail left, the nose right.
    "whimbrel": {
        "roll": AILERONS,
        "pitch": {"right V-tail surface": "up", "left V-tail surface": "up"},
        "yaw": {"right V-tail surface": "down", "left V-tail surface": "up"},
    },
}

STABILISED: dict[str, dict[str, set[str]]] = {
    "dunlin": {"roll": set(AILERONS), "pitch": {"elevator"}, "yaw": {"rudder"}},
    "guillemot": {"roll": set(AILERONS), "pitch": {"elevator"}, "yaw": {"rudder"}},
    "little-tern-receiver-mix": {axis: set(ELEVONS["roll"]) for axis in ("roll", "pitch")},
    "phalarope": {"roll": set(AILERONS), "pitch": {"foreplane's elevator"}, "yaw": {"rudder"}},
    "shearwater": {
        "roll": set(AILERONS),
        "pitch": {"right V-tail surface", "left V-tail surface"},
        "yaw": {"right V-tail surface", "left V-tail surface"},
    },
}
"""What each model's stabiliser corrects; the others have none, or rotors."""

OPPOSITE = {"up": "down", "down": "up", "left": "right", "right": "left"}
STICK = {"roll": "Stick right (roll", "pitch": "Stick back (pitch", "yaw": "Stick right (yaw"}
HAND = {
    "roll": "Roll the model right by hand",
    "pitch": "Push the model's nose up by hand",
    "yaw": "Turn the model's nose right by hand",
}


def by_axis(found: tuple[Step, ...], begins: dict[str, str]) -> dict[str, Step]:
    axes = {axis: step for axis, b in begins.items() for step in found if step.do.startswith(b)}
    assert len(axes) == len(found)
    return axes


@pytest.mark.parametrize("name", TABLE)
def test_commands_of_the_fleet(name: str) -> None:
    found = by_axis(steps(card_of(name), "Command direction"), STICK)
    assert {axis: seen(step) for axis, step in found.items()} == TABLE[name]
    assert not any(step.wrong for step in found.values())
    assert section(card_of(name), "Command direction").note == OTHER_WAY


@pytest.mark.parametrize("name", TABLE)
def test_corrections_of_the_fleet(name: str) -> None:
    """As the model is turned, what the stabiliser moves goes against the turn."""
    found = by_axis(steps(card_of(name), "Correction direction, by hand"), HAND)
    assert {axis: seen(step) for axis, step in found.items()} == {
        axis: {what: OPPOSITE[TABLE[name][axis][what]] for what in whats}
        for axis, whats in STABILISED.get(name, {}).items()
    }
    assert not any(step.wrong for step in found.values())


def test_the_table_has_every_model() -> None:
    rotors = {"sanderling", "turnstone"}
    assert set(TABLE) | rotors == {named(file) for file in FLEET}


Vector = tuple[float, float, float]


def cross(a: Vector, b: Vector) -> Vector:
    return a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]


SLOPE = radians(40)
# Where a surface is (x forward, y right, z down), and the way its upper, or right, side faces.
SURFACES: dict[str, tuple[Vector, Vector]] = {
    "right aileron": ((0, 1, 0), (0, 0, -1)),
    "left aileron": ((0, -1, 0), (0, 0, -1)),
    "elevator": ((-1, 0, 0), (0, 0, -1)),
    "foreplane's elevator": ((1, 0, 0), (0, 0, -1)),
    "rudder": ((-1, 0, 0), (0, 1, 0)),
    "right elevon": ((-0.5, 1, 0), (0, 0, -1)),
    "left elevon": ((-0.5, -1, 0), (0, 0, -1)),
    "whimbrel right V-tail surface": ((-1, 0.1, 0), (0, -sin(SLOPE), -cos(SLOPE))),
    "whimbrel left V-tail surface": ((-1, -0.1, 0), (0, sin(SLOPE), -cos(SLOPE))),
    "shearwater right V-tail surface": ((-1, 0.1, 0), (0, sin(SLOPE), -cos(SLOPE))),
    "shearwater left V-tail surface": ((-1, -0.1, 0), (0, -sin(SLOPE), -cos(SLOPE))),
}


@pytest.mark.parametrize("name", TABLE)
def test_the_table_agrees_with_moments(name: str) -> None:
    """An edge that goes to one side is pushed to the other; the moment r × F turns the model."""
    for axis, moves in TABLE[name].items():
        for what, way in moves.items():
            if "wheel" in what:
                continue
            kind = what.replace("flaperon", "aileron")
            at, faces = SURFACES.get(kind) or SURFACES[f"{name} {kind}"]
            sign = -1 if way in ("up", "right") else 1
            force = (sign * faces[0], sign * faces[1], sign * faces[2])
            moment = cross(at, force)[("roll", "pitch", "yaw").index(axis)]
            assert moment > 0.05, (axis, what)


@pytest.mark.parametrize("name", TABLE)
def test_what_the_pulses_do_agrees_with_the_table(name: str) -> None:
    """Plain forward evaluation, the stick at its end: the pulse, and what the servo does then."""
    path = report_of(name).path
    assert path is not None
    names = {"foreplane": "foreplane's elevator", "nose-wheel": "front wheel"}
    for axis, moves in TABLE[name].items():
        at_end = path.situation({path.stick(axis): 100.0}).ports
        at_rest = path.situation({}).ports
        for servo in path.servos:
            surface = servo.entry.surface or ""
            what = names.get(surface) or " ".join(reversed(surface.split("-")))
            what = {"wheel tail": "rear wheel"}.get(what, what).replace("tail", "V-tail surface")
            way = moves.get(what)
            if way is None:
                continue
            grows = at_end[servo.entry.port] > at_rest[servo.entry.port]
            moved = (servo.entry.increasing_pulse or "").rpartition("-")[2]
            assert (moved if grows else OPPOSITE[moved]) == way, (axis, what)


def test_states_in_which_to_look() -> None:
    found = by_axis(steps(card_of("guillemot"), "Command direction"), STICK)
    assert found["roll"].each == ("level", "damped", "off")
    by_hand = by_axis(steps(card_of("guillemot"), "Correction direction, by hand"), HAND)
    assert by_hand["roll"].each == ("level", "damped"), "off corrects nothing"
    assert steps(card_of("redshank"), "Command direction")[0].each == ()


# Which of the two sticks, by stick mode: common practice, no source.
@pytest.mark.parametrize(
    ("mode", "right"),
    [(1, {"roll"}), (2, {"roll", "pitch"}), (3, {"yaw"}), (4, {"pitch", "yaw"})],
)
def test_stick_modes(mode: int, right: set[str]) -> None:
    of = made(lambda d: d["transmitter"].update(stick_mode=mode))
    for axis, step in by_axis(steps(of, "Command direction"), STICK).items():
        side = "right" if axis in right else "left"
        assert step.do == f"{STICK[axis]}, the {side}-hand stick)"
        assert step.picture is not None
        x, to = next((stick.at[0], stick.to) for stick in step.picture.sticks if stick.to)
        assert (x > 27) == (side == "right")
        assert to is not None
    of = made(lambda d: d["transmitter"].pop("stick_mode"))
    assert by_axis(steps(of, "Command direction"), STICK)["yaw"].do == "Stick right (yaw)"


def test_rotors_are_looked_at_and_stay_open() -> None:
    """ISO 1151-1 for the axes; a motor's reaction turns the model against its own turning."""
    first = {(step.do, seen(step).get("swashplate")) for step in card_of("sanderling").steps}
    assert ("Stick right (roll, the right-hand stick)", "tilts right") in first
    assert ("Roll the model right by hand", "tilts left") in first
    assert ("Stick back (pitch, the right-hand stick)", "tilts back") in first
    opened = steps(card_of("turnstone"), ORDER[0])
    motors = {step.do: seen(step)["motors"] for step in opened if "motors" in seen(step)}
    assert motors["Stick right (roll, the right-hand stick)"] == "those on the left speed up"
    assert motors["Push the model's nose up by hand"] == "those at the rear speed up"
    assert "anticlockwise" in motors["Stick right (yaw, the left-hand stick)"]
    assert not steps(card_of("turnstone"), "Command direction")


def test_rotors_without_a_stabiliser_have_commands_alone() -> None:
    def plain(document: dict[str, Any]) -> None:
        del document["receiver"]["stabiliser"]
        del document["receiver"]["failsafe"]["intended_states"]

    opened = [step for step in made(plain, "helicopter").sections[0].steps if step.see]
    assert [seen(step) for step in opened if step.proves == ("control-direction",)] == [
        {"swashplate": "tilts right"},
        {"swashplate": "tilts back"},
        {"tail rotor": "pushes the nose right"},
    ]
    assert not any("by hand" in step.do for step in opened)


def test_without_servos_the_functions_say_what_must_be_seen() -> None:
    def bare(document: dict[str, Any]) -> None:
        for key in ("servos", "surfaces", "receiver"):
            document.pop(key, None)

    of = made(bare, "plain")
    found = by_axis(steps(of, "Command direction"), STICK)
    assert {axis: seen(step) for axis, step in found.items()} == {
        "roll": AILERONS,
        "pitch": {"elevator": "up"},
        "yaw": {"rudder": "right"},
    }
    assert all("not known" in step.note for step in found.values())


# --- flaps and the like ----------------------------------------------------------------------


def test_flaps_brakes_and_gear() -> None:
    found = {step.do: seen(step) for step in steps(card_of("guillemot"), "Flaps, brakes, gear")}
    assert found["gear-switch from down to up"] == {"gear": "goes in"}
    (flaps,) = (
        see for do, see in found.items() if do.startswith("flap-switch from up to take-off")
    )
    assert re.fullmatch(r"down 15°, then down 33°", flaps["right flap and left flap"])
    (brake,) = steps(card_of("phalarope"), "Flaps, brakes, gear")
    assert seen(brake)["airbrake"].startswith("opens ")


def test_a_flap_that_goes_up_is_told() -> None:
    (step,) = steps(card_of("whimbrel-faulty"), "Flaps, brakes, gear")
    assert seen(step)["left flap"].startswith("down ")
    assert wrong(step).keys() == {"left flap"}
    assert wrong(step)["left flap"].startswith("UP ")
    assert step.rules == ("mixing/lopsided",)


# --- contradictions --------------------------------------------------------------------------


def faulty(name: str, of: str) -> dict[str, Step]:
    return {step.do.partition(" (")[0]: step for step in steps(card_of(f"{name}-faulty"), of)}


def test_a_backward_command_is_told() -> None:
    step = faulty("little-tern-radio-mix", "Command direction")["Stick back"]
    assert seen(step) == {"right elevon": "up", "left elevon": "up"}
    assert wrong(step) == {"right elevon": "DOWN", "left elevon": "DOWN"}
    assert step.rules == ("reversal/command-backwards",)
    page = told(card_of("little-tern-radio-mix-faulty"))
    assert "WRONG: this setup: DOWN; see reversal/command-backwards" in page


def test_a_backward_command_names_its_states() -> None:
    step = faulty("little-tern-receiver-mix", "Command direction")["Stick right"]
    assert wrong(step) == {"left elevon": "UP in damped and level"}


def test_a_dead_control_is_told() -> None:
    (step,) = (
        step
        for step in steps(card_of("shearwater-faulty"), "Command direction")
        if "yaw" in step.do
    )
    assert (
        "no movement in damped and level with rate-switch at soft"
        in wrong(step)["right V-tail surface"]
    )


def test_a_backward_correction_is_told() -> None:
    step = faulty("dunlin", "Correction direction, by hand")[HAND["pitch"]]
    assert seen(step) == {"elevator": "down"}
    assert wrong(step) == {"elevator": "UP, further into the turn"}
    assert step.rules == ("reversal/correction-backwards",)
    foreplane = faulty("phalarope", "Correction direction, by hand")[HAND["pitch"]]
    assert wrong(foreplane) == {"foreplane's elevator": "DOWN, further into the turn"}


def test_two_mistakes_that_hide_each_other_in_one_mode() -> None:
    """Reversed at the transmitter and at the servo: right directly, and in a mode with a target."""

    def twice(document: dict[str, Any]) -> None:
        document["channels"][2]["reversed"] = True
        document["servos"][2]["increasing_pulse"] = "trailing-edge-down"

    of = made(twice)
    command = by_axis(steps(of, "Command direction"), STICK)["pitch"]
    assert not command.wrong, "the surface does go up, in every mode"
    assert "reversal/stabilised-axis" in command.rules
    correction = by_axis(steps(of, "Correction direction, by hand"), HAND)["pitch"]
    assert wrong(correction) == {"elevator": "UP, further into the turn"}


def test_a_mistake_that_shows_only_in_a_mode_with_a_target() -> None:
    """Reversed at transmitter and output, and the sense with them: only the wish is wrong."""

    def wish(document: dict[str, Any]) -> None:
        document["channels"][2]["reversed"] = True
        document["receiver"]["outputs"][2]["reversed"] = True
        document["receiver"]["stabiliser"]["axes"][1]["sense"] = "reversed"

    of = made(wish)
    assert not by_axis(steps(of, "Correction direction, by hand"), HAND)["pitch"].wrong
    command = by_axis(steps(of, "Command direction"), STICK)["pitch"]
    assert wrong(command) == {"elevator": "DOWN in level and limited"}


def test_motors_that_run_are_told() -> None:
    cut = faulty("redshank", "Throttle cut")[
        "throttle cut: cut-switch at cut, then the throttle slowly to full"
    ]
    assert wrong(cut) == {"motor": "full (1920 µs) with cut-switch at cut"}
    assert cut.rules == ("throttle/cut-runs",)
    low, up = steps(card_of("redshank-faulty"), "Low throttle")
    assert seen(low) == {"motor": "stopped"}
    # This radio's centre is 1520 µs, and 100 % are 400 µs.
    assert wrong(low)["motor"].startswith("full (1920 µs)")
    assert wrong(up)["motor"].startswith("stopped (1120 µs)")
    assert up.rules == ("reversal/throttle",)
    left = faulty("dunlin", "Throttle cut")[
        "throttle cut: cut-switch at cut, then the throttle slowly to full"
    ]
    assert wrong(left) == {"left with the stick up": "starts at once"}


def test_an_engine_must_idle_when_low_and_shut_when_cut() -> None:
    (cut,) = steps(card_of("razorbill"), "Throttle cut")
    assert seen(cut) == {"throttle servo": "shut (1100 µs)"}
    low, _ = steps(card_of("razorbill"), "Low throttle")
    # −75 % of 4 µs a percent from 1500 µs.
    assert seen(low) == {"throttle servo": "at idle (1200 µs)"}
    assert wrong(steps(card_of("razorbill-faulty"), "Low throttle")[0]) == {
        "throttle servo": "shut (1120 µs) with cut-switch at run"
    }


def test_a_phase_made_to_run_is_no_fault_but_said() -> None:
    low, _ = steps(card_of("sanderling"), "Low throttle")
    assert not low.wrong
    assert low.note.startswith("In the phase “idle-up” the motor runs with the throttle low")


def test_gaps_and_overlaps_are_told() -> None:
    flight_mode = next(
        step
        for step in steps(card_of("little-tern-receiver-mix-faulty"), "Selectors")
        if "flight mode" in step.do
    )
    assert wrong(flight_mode) == {"middle (1500 µs)": "none: a gap"}
    assert "bands/gap" in flight_mode.rules


def test_failsafe_against_what_is_intended() -> None:
    step, again = steps(card_of("dunlin"), "Failsafe")
    assert step.do == "Motor running slowly, sticks held over: switch the transmitter off"
    assert seen(step) == {
        "motor": "stopped within 1 s",
        "“flight mode”": "level",
        "“recovery”": "off",
        "right aileron, left aileron, elevator and rudder": "neutral",
    }
    assert step.proves == again.proves == ("failsafe",)
    step, _ = steps(card_of("dunlin-faulty"), "Failsafe")
    assert wrong(step) == {"“flight mode”": "damped"}
    assert step.rules == ("failsafe/state", "failsafe/slow")
    step, _ = steps(card_of("guillemot-faulty"), "Failsafe")
    assert "has no failsafe" in wrong(step).values()


def test_where_surfaces_stand_at_failsafe() -> None:
    """−12 % of 4 µs is 48 µs, 4.8° of the arm, and 9 to 15 mm make 2.9° of it (small angles)."""
    step, _ = steps(card_of("whimbrel"), "Failsafe")
    assert seen(step)["right V-tail surface"] == "3° down (2 mm)"
    assert seen(step)["left V-tail surface"] == "3° up (2 mm)"


# --- open steps ------------------------------------------------------------------------------


def with_gaps(document: dict[str, Any]) -> None:
    del document["servos"][3]["increasing_pulse"]
    del document["overrides"][0]["release"]
    del document["receiver"]["failsafe"]["delay_s"]
    del document["speed_controls"]


def test_open_steps_come_first_each_with_its_key() -> None:
    of = made(with_gaps)
    assert of.sections[0].name == ORDER[0]
    off, *first = of.sections[0].steps
    assert off.do.startswith("Propeller off"), "before anything that has to be tried"
    keys = [key for step in first for key in step.fill]
    assert {
        "/servos/3/increasing_pulse",
        "/overrides/0/release",
        "/receiver/failsafe/delay_s",
        "/speed_controls",
    } <= set(keys)
    assert len(keys) == len(set(keys))
    assert all(step.fill for step in first)
    assert not any(step.fill for section in of.sections[1:] for step in section.steps)
    page = told(of)
    assert page.index("Then fill in /overrides/0/release") < page.index("Before power")


@pytest.mark.parametrize("reversed_", [False, True])
def test_an_open_direction_says_what_to_write(reversed_: bool) -> None:
    """Without reversing, the yaw stick to the right makes the pulse grow."""

    def unknown(document: dict[str, Any]) -> None:
        del document["servos"][3]["increasing_pulse"]
        document["receiver"]["outputs"][3]["reversed"] = reversed_

    (step,) = (s for s in made(unknown).steps if "/servos/3/increasing_pulse" in s.fill)
    assert seen(step) == {"rudder": "right"}
    assert step.each == ("damped",), "where the stick goes to the surface itself"
    must, other = ("left", "right") if reversed_ else ("right", "left")
    assert f"if it goes right, as it must, write trailing-edge-{must}" in step.note
    assert f"if it goes left, write trailing-edge-{other}" in step.note


def test_what_an_open_step_says_mends_the_document() -> None:
    """What the note says to write for what must be seen leaves no wrong and no open direction."""
    document = clean("trainer")
    for i in range(4):
        document["servos"][i].pop("increasing_pulse")
    report = INSPECTOR.inspect(document)
    for step in card(report).sections[0].steps:
        found = re.search(r"as it must, write ([a-z-]+);", step.note)
        if found is not None:
            document["servos"][int(step.fill[0].split("/")[2])]["increasing_pulse"] = found[1]
    assert document == clean("trainer")


def test_a_missing_section_is_one_step() -> None:
    of = made(lambda d: d.pop("power"))
    (step,) = (step for step in of.steps if "/power" in step.fill)
    assert "make this card anew" in step.do
    assert "power/peak" in step.note


def test_what_only_a_sign_off_settles_points_to_the_steps_that_prove_it() -> None:
    report = INSPECTOR.inspect(clean("trainer"))
    assert {found.settles for found in report.findings if found.kind == "open"} == {("/sign_offs",)}
    (step,) = card(report).sections[0].steps
    assert step.fill == ("/sign_offs",)
    assert step.do.startswith("8 checks to sign off")
    assert "--check CHECK --by NAME`, for CHECK balance, control-direction" in " ".join(
        told(card(report)).split()
    )


@pytest.mark.parametrize("name", [*map(named, FILES), *templates()])
def test_a_card_proves_what_wants_proof(name: str) -> None:
    report = INSPECTOR.inspect(clean(name)) if name in templates() else report_of(name)
    assert report.path is not None
    assert set(card(report).proves) == set(report.path.wanted)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(setups())
def test_any_setup_has_a_card(document: dict[str, Any]) -> None:
    """In every form, and proving just what wants proof."""
    report = PLAIN.inspect(document)
    assert report.path is not None
    of = card(report)
    assert set(of.proves) == set(report.path.wanted)
    assert told(of).startswith("Bench and field card")
    assert "".join(card_markdown(of)).startswith("# Bench and field card")
    root = parsed(page_of(of))
    assert len(with_class(root, "step")) == len(of.steps)


# --- the steps that a setup needs, and no others --------------------------------------------


@pytest.mark.parametrize("file", FILES, ids=named)
def test_the_order_of_the_trade(file: Path) -> None:
    names = [section.name for section in card_of(named(file)).sections]
    assert names == [name for name in ORDER if name in names]
    assert all(section.steps for section in card_of(named(file)).sections)


def test_without_a_stabiliser_nothing_of_one() -> None:
    names = {section.name for section in card_of("whimbrel").sections}
    assert not names & {"Correction direction, by hand", "Selectors", "Recovery"}
    assert "correction-direction" not in card_of("whimbrel").proves
    assert "by hand" not in told(card_of("whimbrel"))


def test_a_glider_without_a_motor_has_no_motor_steps() -> None:
    def unpowered(document: dict[str, Any]) -> None:
        document["model"]["propulsion"] = {"kind": "none"}
        document["channels"] = [c for c in document["channels"] if c["function"] != "throttle"]
        for key in ("speed_controls", "overrides"):
            del document[key]
        receiver = document["receiver"]
        receiver["outputs"] = [o for o in receiver["outputs"] if o["channel"] != 1]
        failsafe = receiver["failsafe"]["channels"]
        receiver["failsafe"]["channels"] = [c for c in failsafe if c["channel"] != 1]
        document["mixes"] = [m for m in document["mixes"] if m["from"] != {"channel": 1}]
        document["power"].pop("flight_pack", None)

    of = made(unpowered, "glider")
    names = {section.name for section in of.sections}
    assert not names & {"Throttle cut", "Low throttle"}
    page = told(of).lower()
    assert not re.search(r"motor|propell|throttle", page)
    assert "fingers clear" in page


def test_a_small_setup_without_modes_flaps_or_supply() -> None:
    names = {section.name for section in card_of("redshank").sections}
    assert "Flaps, brakes, gear" not in names
    assert "Supply" not in {section.name for section in card_of("turnstone").sections}


def test_recovery_is_tried_on_the_bench_and_at_height() -> None:
    of = card_of("dunlin")
    (bench,) = steps(of, "Recovery")
    assert seen(bench) == {"released (1100 µs)": "off", "pressed (1900 µs)": "recover"}
    assert bench.proves == ("recovery", "states")
    assert any(
        "High, and away from people: recovery-button at pressed for a" in step.do
        for step in of.steps
    )
    (first,) = (step for step in of.steps if step.do.startswith("First flight"))
    assert (first.do, seen(first)) == (
        "First flight with mode-switch at back",
        {"“flight mode”": "level"},
    )


def test_selectors_with_every_position() -> None:
    """−100, 0 and 100 % at 4 µs a percent; the middle one a step off (2048 steps)."""
    (modes,) = steps(card_of("dunlin"), "Selectors")
    assert seen(modes) == {
        "back (1100 µs)": "level",
        "middle (1500 µs)": "limited",
        "forward (1900 µs)": "damped",
    }
    assert "in damped only while it turns" in modes.note
    _, gain = steps(card_of("guillemot"), "Selectors")
    assert list(seen(gain).values()) == ["low", "medium", "high"]


def test_a_selector_of_many_positions_is_cut_and_says_so() -> None:
    def many(document: dict[str, Any]) -> None:
        controls = document["transmitter"]["controls"]
        controls["mode-switch"]["positions"] = [f"p{i}" for i in range(6)]
        controls["other"] = {"kind": "switch", "positions": ["a", "b", "c"]}
        document["mixes"] = [
            {
                "name": "m",
                "from": {"control": "other"},
                "to": 5,
                "rate_percent": {"low": 1, "high": 1},
            }
        ]

    (modes,) = steps(made(many), "Selectors")
    assert len(modes.see) == 12
    assert "6 positions more" in modes.note
    assert "mode-switch at p0, other at a (1096 µs)" in seen(modes)


def test_start_checks_are_tried_as_recorded() -> None:
    (check,) = (s for s in card_of("razorbill").steps if s.at == "/transmitter/start_checks")
    assert check.do == "Switch the radio on with the cut off"
    assert seen(check) == {"radio": "refuses until the cut is on"}


def test_the_alarm_and_the_supply() -> None:
    (pack,) = (step for step in card_of("dunlin").steps if step.at == "/power/flight_pack")
    assert seen(pack)["alarm"] == "at 10.8 V (3.6 V a cell)"  # three cells
    (supply,) = steps(card_of("razorbill"), "Supply")
    assert seen(supply)["receiver battery"] == "6 to 7.2 V, never below 4.8 V (the servos’ least)"


# --- throws ----------------------------------------------------------------------------------


@pytest.mark.parametrize("deg", [0, 1, 15, 22, 36.5, 60, 90])
@pytest.mark.parametrize("chord", [30, 45, 75.5])
def test_millimetres_at_the_trailing_edge(chord: float, deg: float) -> None:
    """The straight line between the edge's two places, by their coordinates about the hinge."""
    there = (chord * cos(radians(deg)), chord * sin(radians(deg)))
    assert edge_mm(chord, deg) == pytest.approx(hypot(chord - there[0], there[1]), abs=1e-9)
    assert edge_mm(chord, -deg) == edge_mm(chord, deg)


def test_throws_in_degrees_and_millimetres() -> None:
    """100 % is 400 µs, 40° of the arm; by the report of `travel/throw` 23° up and 22.4° down."""
    roll, pitch, yaw = steps(card_of("dunlin"), "Throws")
    assert roll.do == "Stick both ways (roll, the right-hand stick); rate-switch at full"
    # 45 mm: 2 · 45 · sin 11.5° = 17.9 and 2 · 45 · sin 11.2° = 17.5.
    assert (
        seen(roll)["right aileron (chord 45 mm)"] == "23° up (18 mm), 22° down (17 mm); plan 22±2°"
    )
    assert seen(pitch)["elevator (chord 50 mm)"].startswith("22° up (19 mm), 23° down (20 mm)")
    assert yaw.do == "Stick both ways (yaw, the left-hand stick)"
    assert section(card_of("dunlin"), "Throws").note.startswith("Millimetres: a ruler laid from")


def test_throws_agree_with_the_rule_that_judges_them() -> None:
    for name in ("redshank-faulty", "whimbrel-faulty"):
        report = report_of(name)
        found = {f.at: f.evidence for f in report.findings if f.rule == "travel/throw"}
        assert found
        surfaces = (
            {f"{s.at}/throw_deg": s for s in report.setup.surfaces or ()} if report.setup else {}
        )
        said = {
            what: does
            for step in steps(card(report), "Throws")
            for what, does in wrong(step).items()
        }
        assert len(found) == sum(len(re.split(" and |, ", what)) for what in said)
        for at, evidence in found.items():
            surface = surfaces[at]
            does = next(
                d
                for w, d in said.items()
                if f"{surface.side} {surface.function}" in w or surface.id in w
            )
            for way in ("up", "down", "left", "right"):
                reached = evidence.get(f"reached_{way}_deg")
                if reached:
                    shown = re.search(rf"(\d+)° {way}", does)
                    assert shown is not None
                    assert float(shown[1]) == pytest.approx(reached, abs=0.56)


def test_a_linkage_that_locks_is_told() -> None:
    found = {
        w: d for s in steps(card_of("shearwater-faulty"), "Throws") for w, d in wrong(s).items()
    }
    assert "in line with the arm or the horn" in found["right aileron (chord 50 mm)"]


# --- cautions --------------------------------------------------------------------------------

WITHOUT_POWER = re.compile(
    r"choose the model memory|^Leads by port|^Flight pack|checks? to sign off|make this card anew"
)


@pytest.mark.parametrize("name", [*map(named, FILES), *templates()])
def test_every_physical_step_has_its_caution(name: str) -> None:
    of = made(start=name) if name in templates() else card_of(name)
    for step in of.steps:
        assert bool(step.caution) != bool(WITHOUT_POWER.search(step.do)), step
    for listed in ("Command direction", "Throttle cut", "Low throttle", "Failsafe"):
        for step in steps(of, listed):
            assert re.search(r"Propellers? off|Rotor blades off|propeller off", step.caution)
    for step in (*steps(of, "Failsafe"), *steps(of, "Low throttle")):
        assert re.search("model (restrained|held fast)", step.caution)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda d: d["model"]["propulsion"].update(motors=2), "nobody in the propellers' planes"),
        (lambda d: d["model"]["propulsion"].update(kind="turbine"), "fuel shut off"),
        (lambda d: d["model"].update(airframe="helicopter"), "Rotor blades off"),
        (lambda d: d["model"].pop("propulsion"), "Propeller off, model restrained"),
    ],
)
def test_cautions_fit_the_model(change: Callable[[dict[str, Any]], object], says: str) -> None:
    assert any(says in step.caution for step in steps(made(change), "Failsafe"))


def test_it_defers_and_never_says_safe() -> None:
    for file in FILES:
        of = card_of(named(file))
        page = " ".join(told(of).split())
        assert DEFERS in page
        assert "law where you fly" in page
        assert not re.search(r"\bis safe\b", page.replace(DEFERS, ""))
        assert page.count("safe to fly") == 1
    assert "does not say that the model is safe to fly" in DEFERS


# --- text ------------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [80, 100])
@pytest.mark.parametrize("file", FILES, ids=named)
def test_text_keeps_to_the_width(file: Path, width: int) -> None:
    page = told(card_of(named(file)), width)
    assert [line for line in page.splitlines() if len(line) > width] == []
    numbers = [int(n) for n in re.findall(r"^ ?(\d+) (?:\[ \]|   )", page, re.MULTILINE)]
    assert numbers == list(range(1, len(card_of(named(file)).steps) + 1))


def test_text_marks_what_is_wrong_with_colour_and_word() -> None:
    page = "".join(card_text(card_of("dunlin-faulty"), Sheet(io.StringIO(), 80, colour=True)))
    assert re.search(r"\x1b\[1;31m +WRONG: this setup: UP", page)
    assert "\x1b" not in told(card_of("dunlin-faulty"))


def test_a_waived_fault_is_left_out_of_the_head_and_marked_all_the_same() -> None:
    report = report_of("dunlin-faulty")
    waived = Waived("meant so", "someone", "2099-01-01")
    of = card(evolve(report, findings=[evolve(found, waived=waived) for found in report.findings]))
    assert of.faults == ""
    assert any(step.wrong for step in of.steps)


def test_faults_of_the_head() -> None:
    page = " ".join(told(card_of("dunlin-faulty")).split())
    assert "The inspection found 6 faults (1 danger, 3 warning, 2 caution): " in page
    assert "First set that right" in page
    assert card_of("dunlin").faults == ""


def renamed(name: str) -> Card:
    """A card of a setup in which a name stands wherever a document may choose one."""
    document = clean("trainer")
    with_gaps(document)
    text = json.dumps(document)
    for old in (
        "Oystercatcher 1500",
        "Club radio A",
        "Six outputs, ten inputs, stabilised",
        "mode-switch",
        "roll-stick",
        "flight mode",
        "limited",
        "middle",
        "aileron-right",
        "throttle cut",
    ):
        assert json.dumps(old) in text, old
        text = text.replace(json.dumps(old), json.dumps(f"{name} {old[:2]}"))
    report = INSPECTOR.inspect(text, path=f"{name}.setup.json")
    assert report.document is not None, report.problems
    return card(report)


@pytest.mark.parametrize("sign", ["\u202e", "\u2066", "\u200f"])
def test_signs_that_steer_are_spelt_out(sign: str) -> None:
    """A document has no control characters; a file's name may."""
    of = evolve(renamed(f"a{sign}b"), file="x\x1b[31my\n.setup.json")
    for page in (told(of), "".join(card_markdown(of)), "".join(card_html(of))):
        spelt = page.replace("&#92;", "\\")
        assert f"a\\u{ord(sign):04x}b" in spelt
        assert "x\\u001b" in spelt
        assert not {char for char in page if not char.isprintable()} - {"\n"}


# --- Markdown --------------------------------------------------------------------------------

MARKDOWN = MarkdownIt("commonmark", {"html": True})


def shape(page: str) -> list[str]:
    return re.findall(r"</?\w+", MARKDOWN.render(page))


def test_markdown_has_boxes_and_everything_that_must_be_seen() -> None:
    of = card_of("dunlin")
    page = "".join(card_markdown(of))
    boxes = sum(max(1, len(step.each)) for step in of.steps)
    assert len(re.findall(r"^ *- \[ \] ", page, re.MULTILINE)) == boxes
    words = re.sub(r"<[^>]+>", "", MARKDOWN.render(page))
    for step in of.steps:
        for one in step.see:
            assert f"{one.what}: {one.must}" in words.replace("&quot;", '"')
        assert step.caution in words
    assert "WRONG: this setup: UP" in "".join(card_markdown(card_of("dunlin-faulty")))


@pytest.mark.parametrize("name", ["<script>x</script>", "**b**", "[a](b)", "`c`", "- [ ] d", "# e"])
def test_names_make_no_markup_in_markdown(name: str) -> None:
    harmless = "".join(sign if sign == " " else "n" for sign in name)
    assert shape("".join(card_markdown(renamed(name)))) == shape(
        "".join(card_markdown(renamed(harmless)))
    )


# --- HTML ------------------------------------------------------------------------------------


def page_of(of: Card) -> str:
    return "".join(card_html(of))


@pytest.mark.parametrize("file", FILES, ids=named)
def test_every_card_makes_a_sound_page(file: Path) -> None:
    of = card_of(named(file))
    page = page_of(of)
    assert page.isascii()
    assert "://" not in page
    root = parsed(page)
    assert_sound(root)
    items = with_class(root, "step")
    assert [item.get("value") for item in items] == [str(n) for n in range(1, len(of.steps) + 1)]
    for item, step in zip(items, of.steps, strict=True):
        boxes = [box for box in every(item, "input") if box.get("type") == "checkbox"]
        assert len(boxes) == max(1, len(step.each))
        assert all(text_of(label) for label in every(item, "label"))
        words = text_of(item)
        for one in step.see:
            assert " ".join(f"{one.what}: {one.must}".split()) in words
            assert ("WRONG: this setup" in words) == step.wrong
        assert step.caution in words
        assert bool(every(item, "svg")) == (step.picture is not None)


@pytest.mark.parametrize("name", TABLE)
def test_every_direction_has_its_picture(name: str) -> None:
    of = card_of(name)
    for step in (*steps(of, "Command direction"), *steps(of, "Correction direction, by hand")):
        assert step.picture is not None
        assert all(f"{one.what} {one.must}" in step.picture.words for one in step.see)


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_only_ever_text(name: str) -> None:
    root = parsed(page_of(renamed(name)))
    assert_sound(root)
    harmless = "".join(sign if sign in " -" else "n" for sign in name)
    assert shape_of(root) == shape_of(parsed(page_of(renamed(harmless))))
    assert " ".join(name.split()) in text_of(root)


def test_its_policy_forbids_everything_but_its_own_style() -> None:
    root = parsed(page_of(card_of("dunlin")))
    (style,) = every(root, "style")
    assert style.text == STYLE
    (policy,) = (
        it.get("content", "")
        for it in every(root, "meta")
        if it.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "url(" not in STYLE
    assert "@import" not in STYLE
    assert "size: A4" in STYLE


def test_its_colours_stand_out() -> None:
    """WCAG 2.1, 1.4.3: 4.5 to 1 for text (from memory)."""
    colours = dict(re.findall(r"--(\w+): (#\w{6})", STYLE))
    for text in ("ink", "soft", "wrong"):
        assert contrast(colours[text], colours["paper"]) >= 4.5
    assert contrast(colours["ink"], colours["tint"]) >= 4.5


# --- the picture -----------------------------------------------------------------------------

MOVES = [
    ("aileron", "right", "conventional"),
    ("aileron", "left", "conventional"),
    ("elevon", "left", "none"),
    ("flap", "right", "conventional"),
    ("elevator", None, "conventional"),
    ("elevator", "left", "conventional"),
    ("elevator", None, "canard"),
    ("v-tail", "right", "v-tail"),
    ("v-tail", "left", "v-tail"),
    ("v-tail", "right", "inverted-v-tail"),
    ("v-tail", "left", "inverted-v-tail"),
    ("rudder", None, "conventional"),
]


def drawn(function: str, side: Any, tail: Any, way: Way, turn: str = "") -> ModelPicture:
    model = Model(name="m", airframe="aeroplane", tail=tail)
    surface = Surface(id="s", function=function, side=side)
    picture = model_picture("t", model, [(surface, "s", way)], turn=turn)
    assert picture is not None
    return picture


@pytest.mark.parametrize(("function", "side", "tail"), MOVES)
def test_the_picture_shows_which_way_it_goes(function: str, side: Any, tail: Any) -> None:
    """Seen from behind: up is up on the paper, right is right, and the right side is right."""
    ways: tuple[Way, Way] = ("right", "left") if function == "rudder" else ("up", "down")
    for way in ways:
        picture = drawn(function, side, tail, way)
        (moved,) = picture.moved
        hinge, edge = moved.edge[:2], moved.edge[2:]
        by = [sum(p[i] for p in edge) / 2 - sum(p[i] for p in hinge) / 2 for i in (0, 1)]
        tip = moved.arrow[1]
        beyond = [tip[i] - sum(p[i] for p in edge) / 2 for i in (0, 1)]
        axis, sign = {"up": (1, -1), "down": (1, 1), "right": (0, 1), "left": (0, -1)}[way]
        assert by[axis] * sign > 5
        assert beyond[axis] * sign > 0 or function == "v-tail"
        assert moved.word == way
        if side is not None:
            assert all((x > WIDTH / 2) == (side == "right") for x, _ in hinge)
        for x, y in (*moved.edge, *moved.arrow, moved.at):
            assert 0 <= x <= WIDTH
            assert 0 <= y <= picture.height


def test_a_wheel_turns_as_it_is_said() -> None:
    """Seen from above, clockwise is right."""
    assert [w.degrees > 0 for w in drawn("steering", "front", "conventional", "right").wheels] == [
        True
    ]
    assert [w.degrees > 0 for w in drawn("steering", "rear", "conventional", "left").wheels] == [
        False
    ]


def test_a_roll_by_hand_puts_the_right_wing_down() -> None:
    """Clockwise on the paper, seen from behind; SVG's angles grow clockwise."""
    assert drawn("aileron", "right", "conventional", "down", "roll").tilt > 0
    assert drawn("elevator", None, "conventional", "down", "pitch").tilt == 0
    page = parsed(page_of(card_of("dunlin")))
    roll = next(item for item in with_class(page, "step") if HAND["roll"] in text_of(item))
    (group,) = every(roll, "g")
    assert group.get("transform") == "rotate(8 100 62)"
    assert text_of(by_id(page, every(roll, "svg")[0].get("aria-labelledby", "").split()[1])) == (
        "The model seen from behind: right aileron down, left aileron up."
    )


# --- in a browser ----------------------------------------------------------------------------


def browse(*arguments: str, tmp_path: Path) -> str:
    assert CHROMIUM is not None
    profile = f"--user-data-dir={tmp_path / 'profile'}"
    command = [CHROMIUM, *QUIET, profile, *arguments]
    ran = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
    return ran.stdout


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="there is no chromium here")
@pytest.mark.parametrize("name", ["dunlin", "redshank", "whimbrel"])
def test_an_ordinary_model_fits_one_sheet_of_a4(tmp_path: Path, name: str) -> None:
    page, sheet = tmp_path / "card.html", tmp_path / "card.pdf"
    page.write_text(page_of(card_of(name)), "ascii")
    browse("--no-pdf-header-footer", f"--print-to-pdf={sheet}", page.as_uri(), tmp_path=tmp_path)
    printed = sheet.read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    (box,) = set(re.findall(rb"/MediaBox\s*\[([^\]]+)\]", printed))
    # A4 is 210 by 297 mm (ISO 216), a point 1/72 inch.
    assert [float(edge) for edge in box.split()] == pytest.approx(
        [0, 0, 210 / 25.4 * 72, 297 / 25.4 * 72], abs=1
    )


@pytest.mark.browser
@pytest.mark.skipif(CHROMIUM is None, reason="there is no chromium here")
@pytest.mark.skipif(axe() is None, reason="PREBIND_AXE names no axe.min.js of axe-core")
@pytest.mark.parametrize("width", [1200, 500])
def test_axe_finds_nothing(tmp_path: Path, width: int) -> None:
    """axe-core's rules for WCAG 2.1 and its best practices, run in the page by Chromium."""
    page = re.sub(
        '<meta http-equiv="Content-Security-Policy"[^>]*>', "", page_of(card_of("dunlin-faulty"))
    )
    file = tmp_path / "card.html"
    ask = f"<script>{axe()}</script><script>{ASK}</script></body>"
    file.write_text(page.replace("</body>", ask), "utf-8")
    dumped = browse(
        f"--window-size={width},900",
        "--virtual-time-budget=60000",
        "--dump-dom",
        file.as_uri(),
        tmp_path=tmp_path,
    )
    found = json.loads(text_of(by_id(parsed_loosely(dumped), "told")))
    assert found["too_wide"] == 0
    assert found["passes"] > 15
    assert found["violations"] == []


def parsed_loosely(page: str) -> Any:
    import html5lib

    return html5lib.HTMLParser(namespaceHTMLElements=False).parse(page)


def test_sections_do_not_share_steps() -> None:
    of = card_of("dunlin")
    assert all(one.name != other.name for one, other in pairwise(of.sections))
