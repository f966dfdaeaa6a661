"""Comparisons: what changed in effect, against values by hand and against the second evaluation."""

from __future__ import annotations

import copy
import io
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import jsonschema_rs
import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tests.path import brute
from tests.strategies import setups

from prebind import Inspector
from prebind.format import Sheet
from prebind.inspect.comparing import Comparison, compare
from prebind.report.comparison import line
from prebind.report.comparison_json import comparison_json
from prebind.report.comparison_markdown import comparison_markdown
from prebind.report.comparison_text import comparison_text
from prebind.testing import clean
from prebind_schemas import schema_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

Document = dict[str, Any]

INSPECTOR = Inspector()
FLEET = sorted((Path(__file__).parents[1] / "examples").glob("f*/*.setup.json"))

some = settings(
    max_examples=20,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def compared(old: Document, new: Document, inspector: Inspector = INSPECTOR) -> Comparison:
    reports = inspector.inspect(old), inspector.inspect(new)
    assert not any(report.problems for report in reports), [r.problems for r in reports]
    return compare(*reports, inspector)


def changed(change: Callable[[Document], object], start: str = "trainer") -> Comparison:
    """A clean setup against itself with something changed."""
    new = clean(start)
    change(new)
    found = compared(clean(start), new)
    assert_valid(found)
    return found


def sentences(found: Comparison, section: str = "") -> list[str]:
    return [line(it).sentence for it in found.changes if section in ("", it.section)]


def gained(found: Comparison) -> set[str]:
    return {finding.rule for finding in found.gained}


def lost(found: Comparison) -> set[str]:
    return {it.finding.rule for it in found.lost}


def repeated(found: Comparison) -> list[str]:
    return [it.check for it in found.repeat]


# --- the schema -----------------------------------------------------------------------------


@cache
def validators() -> tuple[Any, Any]:
    schema = json.loads(schema_text("comparison"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema), jsonschema_rs.validator_for(schema)


def told(found: Comparison) -> Document:
    report: Document = json.loads(
        json.dumps(comparison_json(found, [], lambda path: path), allow_nan=False)
    )
    return report


def assert_valid(found: Comparison) -> None:
    report = told(found)
    slow, fast = validators()
    assert [f"{e.json_path}: {e.message}" for e in slow.iter_errors(report)] == []
    assert fast.is_valid(report)


@pytest.mark.parametrize("start", ["glider", "glow", "helicopter", "multirotor", "plain", "wing"])
def test_two_different_models_are_valid(start: str) -> None:
    found = compared(clean("trainer"), clean(start))
    assert not found.same
    assert_valid(found)
    assert_valid(compared(clean(start), clean("trainer")))


@pytest.mark.parametrize(
    "spoil",
    [
        lambda report: report.update(extra=1),
        lambda report: report["changes"][0].update(section="other"),
        lambda report: report["changes"][0]["before"].update(percent=1),
        lambda report: report["changes"][0]["at"].pop("old"),
        lambda report: report["repeat"][0].update(check="hum"),
        lambda report: report.update(format="comparison/2"),
    ],
)
def test_the_schema_is_closed(spoil: Callable[[Document], object]) -> None:
    report = told(changed(lambda new: new["channels"][1].update(reversed=True)))
    assert not list(validators()[0].iter_errors(report))
    spoil(report)
    assert list(validators()[0].iter_errors(report))


# --- spelling -------------------------------------------------------------------------------

UNORDERED = {
    "channels": "channel",
    "inputs": "id",
    "mixes": "name",
    "outputs": "port",
    "axes": "axis",
    "ports": None,
    "selectors": "name",
    "states": "state",
    "servos": "port",
    "speed_controls": "port",
    "surfaces": "id",
}
"""Lists whose order means nothing (the document's page)."""


def shuffled(draw: Any, here: Any, name: str = "") -> Any:
    if isinstance(here, dict):
        keys = draw(st.permutations(list(here))) if len(here) < 12 else list(here)
        return {key: shuffled(draw, here[key], key) for key in keys}
    if isinstance(here, list):
        inner = [shuffled(draw, it, "") for it in here]
        return draw(st.permutations(inner)) if name in UNORDERED and inner else inner
    return here


def with_defaults(draw: Any, doc: Document) -> None:
    """Defaults of the document's page, each written out or not."""
    for entry, defaults in defaults_of(doc):
        for key, value in defaults.items():
            if key not in entry and draw(st.booleans()):
                entry[key] = copy.deepcopy(value)
    for channel in doc["channels"]:
        if isinstance(channel.get("trim_percent"), int | float) and draw(st.booleans()):
            channel["trim_percent"] = [{"percent": channel["trim_percent"]}]
    for axis in doc["receiver"].get("stabiliser", {}).get("axes", ()):
        axis["ports"] = [
            {"port": it, "sign": 1} if isinstance(it, int) and draw(st.booleans()) else it
            for it in axis["ports"]
        ]


def defaults_of(doc: Document) -> Iterator[tuple[Document, Document]]:
    """Entries, and what holds for each where nothing is said."""
    radio, receiver = doc["transmitter"], doc["receiver"]
    output = {"centre_us": 1500, "us_per_percent": 4.0, "limit_percent": 150}
    stated = {**output, **radio.get("output", {})}
    yield doc["model"], {"tail": "conventional"}
    yield radio, {"output": {}}
    yield radio.get("output", {}), output
    for control in radio["controls"].values():
        if control["kind"] in ("switch", "button"):
            count = len(control.get("positions", ["released", "pressed"]))
            values = [-100 + 200 * i / (count - 1) for i in range(count)]
            yield control, {"values": values, "sprung": control["kind"] == "button"}
    both = {"reversed": False, "travel_percent": {"low": 100, "high": 100}}
    for channel in doc["channels"]:
        yield channel, {**both, "subtrim_percent": 0}
        yield from ((rate, {"expo_percent": 0, "when": []}) for rate in channel.get("rates", ()))
    yield from ((mix, {"offset_percent": 0}) for mix in doc.get("mixes", ()))
    yield from ((override, {"acts": "last"}) for override in doc.get("overrides", ()))
    yield from ((it, {**both, "centre_us": stated["centre_us"]}) for it in receiver["outputs"])
    if "stabiliser" in receiver:
        limit = stated["limit_percent"]
        mixes = {"mixing": "none", "mix_percent": 100, "mix_limit_percent": limit}
        yield receiver["stabiliser"], mixes
    yield from ((surface, {"tolerance_deg": 2}) for surface in doc.get("surfaces", ()))


def with_other_bands(draw: Any, doc: Document) -> None:
    """Percent bands in µs, and the other way round, exactly."""
    output = doc["transmitter"].get("output", {})
    centre, scale = output.get("centre_us", 1500), output.get("us_per_percent", 4)
    for selector in doc["receiver"].get("stabiliser", {}).get("selectors", ()):
        for state in selector["states"]:
            if draw(st.booleans()):
                ((unit, ends),) = state["band"].items()
                state["band"] = (
                    {"us": [centre + scale * end for end in ends]}
                    if unit == "percent"
                    else {"percent": [(end - centre) / scale for end in ends]}
                )


def with_other_names(doc: Document) -> None:
    """Every control, position, input, phase, mix, override and surface called otherwise."""
    with_other_controls(doc)
    for entry in objects(doc):
        if isinstance(entry.get("phase"), list):
            entry["phase"] = [f"phase {it}" for it in entry["phase"]]
        if "input" in entry:
            entry["input"] = f"in {entry['input']}"
    for key, name, how in ENTRIES:
        for entry in doc.get(key, ()):
            if name in entry:
                entry[name] = f"{how} {entry[name]}"


def with_other_controls(doc: Document) -> None:
    inputs = {entry["id"] for entry in doc.get("inputs", ())}
    controls = doc["transmitter"].pop("controls")
    buttons = {name for name, entry in controls.items() if entry["kind"] == "button"}
    for entry in objects(doc):
        name = entry.get("control")
        if isinstance(name, str):
            entry["control"] = f"{'in' if name in inputs else 'my'} {name}"
            if "positions" in entry and name not in buttons:
                entry["positions"] = [f"to {at}" for at in entry["positions"]]
    for entry in controls.values():
        if "positions" in entry:
            entry["positions"] = [f"to {at}" for at in entry["positions"]]
    doc["transmitter"]["controls"] = {f"my {name}": it for name, it in controls.items()}


ENTRIES = (
    ("mixes", "name", "our"),
    ("overrides", "name", "our"),
    ("surfaces", "id", "our"),
    ("servos", "surface", "our"),
    ("inputs", "id", "in"),
    ("phases", "name", "phase"),
)


def objects(here: Any) -> Iterator[Document]:
    if isinstance(here, dict):
        yield here
    for inside in here.values() if isinstance(here, dict) else here:
        if isinstance(inside, dict | list):
            yield from objects(inside)


@st.composite
def respelt(draw: Any) -> tuple[Document, Document]:
    """A setup, and the same in another spelling."""
    doc = draw(setups())
    other = shuffled(draw, copy.deepcopy(doc))
    with_defaults(draw, other)
    with_other_bands(draw, other)
    other["model"]["name"] = "Another name"
    other["x-note"] = "Another note"
    return doc, other


def assert_same(found: Comparison) -> None:
    assert sentences(found) == []
    assert [(it.rule, it.at, it.message) for it in found.gained] == []
    assert [(it.finding.rule, it.at, it.finding.message) for it in found.lost] == []
    assert found.repeat == ()
    assert found.not_compared == ()
    assert found.same


@some
@given(respelt())
def test_another_spelling_is_the_same(both: tuple[Document, Document]) -> None:
    doc, other = both
    assert_same(compared(doc, other))
    assert_same(compared(other, doc))


@some
@given(setups())
def test_other_names_are_the_same(doc: Document) -> None:
    other = copy.deepcopy(doc)
    with_other_names(other)
    found = compared(doc, other)
    assert_same(found)
    controls = {it.old for it in found.renamed if it.what == "control"}
    assert controls == set(doc["transmitter"]["controls"])


@pytest.mark.parametrize("file", FLEET, ids=lambda file: file.name)
def test_the_fleet_is_the_same_as_itself(file: Path) -> None:
    reports = [INSPECTOR.inspect_file(file, file.parents[1]) for _ in range(2)]
    found = compare(*reports, INSPECTOR)
    assert found.same
    assert_valid(found)


# --- pulses, against the second evaluation --------------------------------------------------

RANGES = {
    "rate_percent": (0, 150),
    "expo_percent": (-100, 100),
    "low": (0, 150),
    "high": (0, 150),
    "subtrim_percent": (-30, 30),
    "offset_percent": (-50, 50),
    "demand_percent": (-100, 100),
    "percent": (-20, 20),
    "above_percent": (-99, 99),
    "below_percent": (-99, 99),
    "mix_percent": (20, 130),
}
"""Numbers that decide pulses, and what each may be."""


@st.composite
def altered(draw: Any) -> tuple[Document, Document]:
    """A setup, and the same with one number of the transmitter or the stabiliser changed."""
    doc = draw(setups(selectors=False, motors=False, failsafe=False, steps=False))
    other = copy.deepcopy(doc)
    parts = [other["channels"], other.get("mixes", []), other.get("overrides", [])]
    parts += [other.get("inputs", []), other["receiver"].get("stabiliser", {})]
    places = [
        (entry, key)
        for entry in objects(parts)
        for key in RANGES
        if isinstance(entry.get(key), int | float)
    ]
    assume(places)
    entry, key = draw(st.sampled_from(places))
    entry[key] = draw(st.integers(*RANGES[key]))
    return doc, other


@some
@given(altered())
def test_every_pulse_that_the_grid_finds_changed_is_told(both: tuple[Document, Document]) -> None:
    """The grid can only miss a change: where it finds one, the comparison must tell of it.

    Nor is a check to be repeated without a change that says why.
    """
    found = compared(*both)
    assert found.changes or not found.repeat
    assume(not any(it.section == "ports" for it in found.not_compared))
    for i, output in enumerate(both[0]["receiver"]["outputs"]):
        port, at = output["port"], f"/receiver/outputs/{i}"
        wanted = brute.influences(both[1], brute.port_channels(both[1], port))
        positions = brute.grid(both[1], wanted)
        before, after = (brute.evaluate(doc, positions).port(port) for doc in both)
        most = float(np.max(np.abs(after - before)))
        moved = [it for it in found.changes if it.at_new == at and it.fact == "pulse"]
        assert moved or most < 0.11, (port, most)
        for change in moved:
            assert change.before is not None
            assert change.after is not None
            assert change.before["us"] != change.after["us"]
            for doc, value in zip(both, (change.before, change.after), strict=True):
                us = float(brute.evaluate(doc, change.controls or {}).port(port)[0])
                assert value["us"] == pytest.approx(us, abs=0.0501)


# --- each kind of change, by hand -----------------------------------------------------------
#
# The plain setup: 1500 µs and 4 µs a percent, without steps; so ±100 % are 1100 and 1900 µs.  Its
# speed control stops up to 1150 µs.  The trainer rounds to the nearest of 2048 steps.


def test_nothing() -> None:
    found = changed(lambda new: new["model"].update(name="Curlew 1500"))
    assert_same(found)
    report = told(found)
    assert (report["same"], report["new"]["name"]) == (True, "Curlew 1500")


def test_a_motor_that_runs_when_the_link_is_lost() -> None:
    def preset(new: Document) -> None:
        new["receiver"]["failsafe"]["channels"][0]["output_percent"] = 0

    found = changed(preset, "plain")
    assert sentences(found) == [
        "motor on port 1: was stopped at 1100.0 µs, now running at 1500.0 µs.",
        "motor on port 1: was preset 1100.0 µs, now preset 1500.0 µs.",
    ]
    assert {it.section for it in found.changes} == {"failsafe"}
    assert [it.at_new for it in found.changes] == ["/speed_controls/0", "/receiver/outputs/0"]
    assert gained(found) == {"failsafe/motor-runs"}
    assert repeated(found) == ["failsafe"]


def test_a_throttle_that_works_backwards() -> None:
    found = changed(lambda new: new["channels"][0].update(reversed=True), "plain")
    # The cut's −100 % is turned round as well.
    assert sentences(found, "motors") == [
        "motor on port 1, throttle low: was stopped at 1100.0 µs, now full at 1900.0 µs.",
        "motor on port 1, throttle high: was full at 1900.0 µs, now stopped at 1100.0 µs.",
        "motor on port 1, under “throttle cut”: was stopped at 1100.0 µs, now full at 1900.0 µs.",
    ]
    assert sentences(found, "failsafe") == []
    assert {"reversal/throttle", "throttle/cut-runs"} <= gained(found)
    assert "control-direction" in repeated(found)
    assert "failsafe" in repeated(found)


def test_a_cut_that_lets_go_at_once() -> None:
    found = changed(lambda new: new["overrides"][0].update(release="at-once"), "plain")
    assert sentences(found) == [
        "motor on port 1, when “throttle cut” lets go: was back only once the stick has been low, "
        "now back at once."
    ]
    assert gained(found) == {"throttle/releases-live"}


def test_a_cut_that_is_gone() -> None:
    found = changed(lambda new: new.pop("overrides"), "plain")
    assert sentences(found, "motors") == [
        "motor on port 1, under “throttle cut”: was stopped at 1100.0 µs, now not there.",
        "motor on port 1, when “throttle cut” lets go: was back only once the stick has been low, "
        "now not there.",
    ]
    # With the stick up, the cut held the motor stopped.
    assert sentences(found, "ports") == [
        "motor on port 1, throttle-stick at 100 %, cut-switch at cut: was 1100.0 µs, now 1900.0 µs."
    ]
    assert "override “throttle cut”: was there, now not there." in sentences(found, "recorded")
    assert "throttle/no-cut" in gained(found)


def test_a_surface_goes_the_wrong_way() -> None:
    found = changed(lambda new: new["channels"][1].update(reversed=True))
    assert sentences(found, "directions")[:2] == [
        "right aileron (port 2), stick right: was up, now DOWN, the wrong way.",
        "right aileron (port 2), roll stick where it sets a target: was the right way, now the "
        "WRONG way.",
    ]
    assert "reversal/command-backwards" in gained(found)
    assert lost(found) == set()
    assert repeated(found) == ["control-direction", "throws"]


def test_a_correction_goes_the_wrong_way() -> None:
    def turned(new: Document) -> None:
        new["receiver"]["stabiliser"]["axes"][1]["sense"] = "reversed"

    found = changed(turned)
    assert sentences(found, "directions") == [
        "elevator (port 3), nose pushed up by hand: was down, now UP, the wrong way."
    ]
    assert sentences(found, "recorded") == ["stabilised pitch, sense: was normal, now reversed."]
    assert gained(found) == {"reversal/correction-backwards"}
    assert repeated(found) == ["correction-direction"]


def test_which_way_nobody_knows_any_more() -> None:
    found = changed(lambda new: new["servos"][3].pop("increasing_pulse"), "plain")
    # A rudder reversed at the transmitter: stick right lets the pulse fall.
    (said,) = sentences(found, "directions")
    assert said == "rudder (port 4), stick right: was right, now its pulse falls."
    assert "open" in {it.kind for it in found.gained}


def turned(servo: Document, us: float) -> float:
    """Degrees to either side, by the second evaluation."""
    return abs(float(brute.deflection(clean("plain"), servo, np.array([us]))[0]))


def test_expo_alone() -> None:
    """No end changes.  By hand, at half stick: 25 % of expo is 40.625 %, 50 % is 31.25 %."""
    found = changed(lambda new: new["channels"][1]["rates"][0].update(expo_percent=50), "plain")
    right, left = sentences(found)
    servo = clean("plain")["servos"][0]
    before, after = (turned(servo, us) for us in (1337.5, 1375))
    assert right == (
        f"right aileron (port 2), roll-stick at -50 %: was 1337.5 µs ({before:.1f}° down), "
        f"now 1375.0 µs ({after:.1f}° down)."
    )
    assert left.startswith("left aileron (port 5), roll-stick at -50 %: was 1337.5 µs (")
    assert gained(found) == set()


def test_how_far_surfaces_go() -> None:
    def half(new: Document) -> None:
        new["receiver"]["outputs"][2]["travel_percent"] = {"low": 50, "high": 50}

    found = changed(half, "plain")
    servo = clean("plain")["servos"][2]
    low, high, now_low, now_high = (turned(servo, us) for us in (1100, 1900, 1300, 1700))
    assert sentences(found, "surfaces") == [
        f"elevator (port 3): was {low:.1f}° down to {high:.1f}° up, now {now_low:.1f}° down to "
        f"{now_high:.1f}° up."
    ]
    assert sentences(found, "ports")[0] == (
        "elevator (port 3): was 1100.0 µs to 1900.0 µs, now 1300.0 µs to 1700.0 µs."
    )
    assert gained(found) == {"travel/throw"}
    assert repeated(found) == ["throws"]


def test_a_position_selects_another_state() -> None:
    def swapped(new: Document) -> None:
        states = new["receiver"]["stabiliser"]["selectors"][0]["states"]
        states[1]["band"], states[2]["band"] = states[2]["band"], states[1]["band"]
        new["transmitter"]["output"].pop("steps")

    old = clean("trainer")
    old["transmitter"]["output"].pop("steps")
    new = clean("trainer")
    swapped(new)
    found = compared(old, new)
    # Bands end at ±34 %, 1364 and 1636 µs.
    assert sentences(found, "selectors") == [
        "“flight mode”, mode-switch at middle: was limited (attitude-limit) at 1500.0 µs, 136.0 µs "
        "from an edge, now damped (rate-damping) at 1500.0 µs, 136.0 µs from an edge.",
        "“flight mode”, mode-switch at forward: was damped (rate-damping) at 1900.0 µs, 264.0 µs "
        "from an edge, now limited (attitude-limit) at 1900.0 µs, 264.0 µs from an edge.",
    ]
    assert repeated(found) == ["states"]


def test_a_gap_and_an_overlap() -> None:
    def bands(new: Document) -> None:
        new["transmitter"]["output"].pop("steps")
        states = new["receiver"]["stabiliser"]["selectors"][0]["states"]
        states[1]["band"] = {"us": [1520, 2000]}

    old = clean("trainer")
    old["transmitter"]["output"].pop("steps")
    new = clean("trainer")
    bands(new)
    middle, forward = sentences(compared(old, new), "selectors")
    assert middle.endswith("now no state: a gap, at 1500.0 µs.")
    assert forward.endswith(
        "now damped (rate-damping) and limited (attitude-limit): an overlap, at 1900.0 µs."
    )


def test_a_selector_on_another_switch() -> None:
    """The same names, and another switch: the pilot must know."""

    def moved(new: Document) -> None:
        new["channels"][4]["control"] = "rate-switch"

    found = changed(moved)
    said = sentences(found, "selectors")
    # A two-position switch: never the middle state.
    assert len(said) == 4
    assert all("mode-switch at" in one and "rate-switch at" in one for one in said)
    assert found.renamed == ()
    assert "states" in repeated(found)


def test_stretches_of_a_knob() -> None:
    def knob(document: Document, edge: float) -> Document:
        document["transmitter"]["controls"]["mode-knob"] = {"kind": "knob"}
        document["transmitter"]["output"].pop("steps")
        document["channels"][4]["control"] = "mode-knob"
        states = document["receiver"]["stabiliser"]["selectors"][0]["states"]
        states[0]["band"]["percent"][1] = states[1]["band"]["percent"][0] = edge
        return document

    found = compared(knob(clean("trainer"), -34), knob(clean("trainer"), -50))
    # −50 % is 1300 µs; edges are equal up to 0.5 µs, and a shared end goes to the upper band.
    (said,) = sentences(found, "selectors")
    assert "was level (self-level) from 1100.0 µs to 1363.5 µs; limited" in said
    assert "now level (self-level) from 1100.0 µs to 1299.5 µs; limited" in said


def test_what_is_written_down() -> None:
    def changes(new: Document) -> None:
        new["model"]["mass_g"] = 980
        new["speed_controls"][0]["stop_below_us"] = 1120
        new["channels"][1]["slow_s"] = 0.8
        new["power"]["receiver_supply"]["volts"] = 6

    found = changed(changes, "plain")
    assert sentences(found) == [
        "model, mass_g: was 920, now 980.",
        "channel 2, slow_s: was not recorded, now 0.8.",
        "speed control on port 1, stop_below_us: was 1150, now 1120.",
        "receiver supply, volts: was 5, now 6.",
    ]
    assert "travel/slow-primary" in gained(found)
    assert "balance" in repeated(found)


def test_a_part_that_is_gone() -> None:
    old = clean("plain")
    old["receiver"]["outputs"].append({"port": 6, "channel": 3})
    found = compared(old, clean("plain"))
    assert sentences(found, "ports") == ["port 6: was 1100.0 µs to 1900.0 µs, now not there."]
    assert (found.changes[0].at_old, found.changes[0].at_new) == ("/receiver/outputs/5", None)


def test_the_order_of_overrides_counts() -> None:
    """The first that holds wins, so another order is another setup, whatever they are called."""

    def both(document: Document, *demands: int) -> Document:
        (cut,) = document["overrides"]
        document["overrides"] = [
            {**cut, "name": f"cut {demand}", "demand_percent": demand} for demand in demands
        ]
        return document

    found = compared(both(clean("plain"), -100, 0), both(clean("plain"), 0, -100))
    assert (
        "motor on port 1, under “cut -100”: was stopped at 1100.0 µs, now running at 1500.0 µs."
        in sentences(found, "motors")
    )
    assert not found.same


def crowded(rate: int) -> Document:
    """Twelve switches that add up make 4096 combinations, times the stick's points."""
    document = clean("plain")
    document["mixes"] = []
    for i in range(12):
        name = f"switch-{i}"
        document["transmitter"]["controls"][name] = {"kind": "switch", "positions": ["a", "b"]}
        mix = {"name": f"mix {i}", "from": {"control": name}, "to": 2}
        document["mixes"].append({**mix, "rate_percent": {"low": 0, "high": rate}})
    return document


def test_what_cannot_be_compared_is_told() -> None:
    assert compared(crowded(1), crowded(1)).same
    found = compared(crowded(1), crowded(2))
    assert not found.same
    assert {(it.section, it.about) for it in found.not_compared} >= {
        ("ports", "right aileron (port 2)"),
        ("ports", "left aileron (port 5)"),
    }
    assert "switch-11" in found.not_compared[0].reason
    assert_valid(found)
    # By hand: twelve times 1 % more at the upper end.
    assert (
        "right aileron (port 2): was 1100.0 µs to 1948.0 µs, now 1100.0 µs to 1996.0 µs."
        in sentences(found, "ports")
    )


def test_a_band_in_another_unit_leaves_nothing_to_compare() -> None:
    """Twenty switches that choose the rate are too many to say which way the ailerons go.

    Restating µs in percent changes the last digits of 1500 + 5.12 · −34.7, so only what the bands
    are in µs shows that nothing is another.
    """
    in_percent = clean("trainer")
    in_percent["transmitter"]["output"]["us_per_percent"] = 5.12
    off, level, *_ = in_percent["receiver"]["stabiliser"]["selectors"][0]["states"]
    off["band"], level["band"] = {"percent": [-150, -34.7]}, {"percent": [-34.7, 34]}
    rates = in_percent["channels"][1]["rates"]
    for i in range(20):
        name = f"switch-{i}"
        in_percent["transmitter"]["controls"][name] = {"kind": "switch", "positions": ["a", "b"]}
        when = [{"control": name, "positions": ["a"]}]
        rates.insert(0, {"rate_percent": 60 + i, "when": when})
    in_us = copy.deepcopy(in_percent)
    for selector in in_us["receiver"]["stabiliser"]["selectors"]:
        for state in selector["states"]:
            state["band"] = {"us": [1500 + 5.12 * end for end in state["band"]["percent"]]}
    assert compared(in_percent, in_us).same
    assert compared(in_us, in_percent).same


# --- findings and sign-offs -----------------------------------------------------------------


def test_a_lost_finding_stands_where_it_stood() -> None:
    """Lists in another order: its place is that of the older document."""
    old, new = clean("plain"), clean("plain")
    old["channels"][1]["slow_s"] = 1
    new["channels"].reverse()
    text = json.dumps(old, indent=1)
    reports = INSPECTOR.inspect(text), INSPECTOR.inspect(json.dumps(new))
    found = compare(*reports, INSPECTOR)
    assert gained(found) == set()
    (gone,) = found.lost
    assert (gone.finding.rule, gone.at) == ("travel/slow-primary", "/channels/1/slow_s")
    line_of_it = next(i for i, it in enumerate(text.splitlines(), 1) if "slow_s" in it)
    assert gone.place.line == line_of_it


def test_a_waiver_moves_with_what_it_is_about() -> None:
    def waived(document: Document, index: int) -> Document:
        entry = {"rule": "travel/slow-primary", "reason": "Soft.", "by": "B", "until": "9999-12-31"}
        document["waivers"] = [{**entry, "at": f"/channels/{index}/slow_s"}]
        document["channels"][index]["slow_s"] = 1
        return document

    old, new = waived(clean("plain"), 1), clean("plain")
    new["channels"].reverse()
    assert_same(compared(old, waived(new, 2)))


def test_a_finding_that_is_waived_now() -> None:
    old, new = clean("plain"), clean("plain")
    for document in (old, new):
        document["channels"][1]["slow_s"] = 1
    entry = {"rule": "travel/slow-primary", "reason": "Soft.", "by": "B", "until": "9999-12-31"}
    new["waivers"] = [entry]
    found = compared(old, new)
    assert (found.changes, gained(found), lost(found)) == (
        (),
        {"travel/slow-primary"},
        {"travel/slow-primary"},
    )
    assert "(accepted by a waiver)" in "".join(comparison_text(found, str, Sheet(io.StringIO())))


def signed(document: Document, *checks: str) -> Document:
    path = INSPECTOR.inspect(document).path
    assert path is not None
    document["sign_offs"] = [
        {"check": check, "by": "Ada Sandpiper", "on": "2026-03-01", "digest": path.digest(check)}
        for check in checks
    ]
    return document


def test_sign_offs_gone_stale() -> None:
    old = signed(clean("plain"), "control-direction", "failsafe", "throws")
    new = copy.deepcopy(old)
    new["channels"][3]["reversed"] = False
    found = compared(old, new)
    stale = {it.check: it.sign_off for it in found.repeat}
    assert set(stale) == {"control-direction", "throws"}
    assert all(it is not None and it.by == "Ada Sandpiper" for it in stale.values())
    assert told(found)["repeat"][0] == {
        "check": "control-direction",
        "sign_off": {"by": "Ada Sandpiper", "on": "2026-03-01"},
    }
    text = " ".join("".join(comparison_text(found, str, Sheet(io.StringIO()))).split())
    assert "it was signed off by Ada Sandpiper on 2026-03-01, and is stale now." in text


def test_what_was_proved_anew_need_not_be_repeated() -> None:
    old = signed(clean("plain"), "control-direction", "throws")
    new = clean("plain")
    new["channels"][3]["reversed"] = False
    found = compared(old, signed(new, "control-direction"))
    assert repeated(found) == ["throws"]


# --- names ----------------------------------------------------------------------------------


def test_controls_that_change_places_are_not_renamed() -> None:
    """Whoever keeps the names and swaps what they do moves a job to another switch."""

    def swapped(new: Document) -> None:
        new["channels"][4]["control"], new["channels"][5]["control"] = (
            new["channels"][5]["control"],
            new["channels"][4]["control"],
        )

    found = changed(swapped)
    assert found.renamed == ()
    assert len(sentences(found, "selectors")) > 2


def test_a_control_renamed_and_its_rates_changed() -> None:
    """What it acts on tells which it is, also where it does something else there."""

    def renamed(new: Document) -> None:
        controls = new["transmitter"]["controls"]
        controls["left-shoulder"] = controls.pop("rate-switch")
        for channel in new["channels"][1:3]:
            channel["rates"][0]["when"] = [{"control": "left-shoulder", "positions": ["soft"]}]

    found = changed(renamed)
    assert [(it.what, it.old, it.new) for it in found.renamed] == [
        ("control", "rate-switch", "left-shoulder")
    ]
    # Full and soft have changed places: 100 % of 400 µs against 70 % of it, in steps.
    assert sentences(found, "ports")[0].startswith(
        "right aileron (port 2), roll-stick at -100 %, left-shoulder at full: was 1099.9 µs"
    )


def test_hostile_names() -> None:
    """Neither markup nor marks that turn text round reach a page as what they look like."""
    name = "[red]<b>|@all`cut`\u202e"

    def hostile(document: Document, demand: int) -> Document:
        controls = document["transmitter"]["controls"]
        controls[name] = controls.pop("cut-switch")
        document["overrides"][0].update(name=name, demand_percent=demand)
        document["overrides"][0]["when"][0]["control"] = name
        document["model"]["name"] = name
        return document

    found = compared(hostile(clean("plain"), -100), hostile(clean("plain"), 0))
    text = "".join(comparison_text(found, str, Sheet(io.StringIO())))
    assert "under “[red]<b>|@all`cut`\\u202e”" in " ".join(text.split())
    page = "".join(comparison_markdown(found, str))
    for shown in (text, page, json.dumps(told(found))):
        assert "\u202e" not in shown
    assert "<b>" not in page
    assert "|@" not in page
    rows = [it for it in page.splitlines() if it.startswith("| motor on port 1, under")]
    assert [it.count(" | ") for it in rows] == [2]


# --- pages ----------------------------------------------------------------------------------


def test_the_text_keeps_to_its_width() -> None:
    found = compared(clean("trainer"), clean("helicopter"))
    lines = "".join(comparison_text(found, str, Sheet(io.StringIO(), 72))).splitlines()
    findings = {it.message for it in (*found.gained, *(it.finding for it in found.lost))}
    assert findings
    long = [it for it in lines if len(it) > 72]
    assert all(any(message in it for message in findings) for it in long)
    assert "propeller off and model restrained" in " ".join(lines)


def test_the_page_fits_a_comment(monkeypatch: pytest.MonkeyPatch) -> None:
    """What does not fit is counted."""
    found = compared(clean("trainer"), clean("helicopter"))
    whole = "".join(comparison_markdown(found, str))
    rows = sum(it.startswith("| ") for it in whole.splitlines())
    assert "did not fit" not in whole
    assert len(whole) < 65_536
    monkeypatch.setattr("prebind.report.comparison_markdown.CHANGES", 2_000)
    monkeypatch.setattr("prebind.report.comparison_markdown.OTHERS", 1_000)
    page = "".join(comparison_markdown(found, str))
    left_out = rows - sum(it.startswith("| ") for it in page.splitlines())
    assert left_out > 10
    assert f"{left_out} rows did not fit here" in page
    assert "propeller off" in page
