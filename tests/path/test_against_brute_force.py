"""The signal path against a second evaluation, written apart, over a dense grid.

The grid can only miss values, never invent them: what it finds must lie within what the path
calls reachable, and a witness of the path, fed back, must give the value that is claimed.
"""

from __future__ import annotations

import json
import math
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from tests.path import brute
from tests.strategies import setups

import prebind
from prebind.path.plain import situation_json, trace_json

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from tests.path.brute import Document, Evaluation, Floats

INSPECTOR = prebind.Inspector()
TEMPLATES = Path(__file__).parents[2] / "schemas/prebind_schemas/templates"
GRID_PERCENT = 0.05  # how far the grid may fall short of an extreme between its points
BOUND_PERCENT = 0.001  # within which a sum of channels is settled

many = settings(
    max_examples=100,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def path_of(doc: Document) -> Any:
    report = INSPECTOR.inspect(doc)
    assert report.setup is not None, report.problems
    return prebind.trace(report.setup)


def trace_of(doc: Document) -> dict[str, Any]:
    trace: dict[str, Any] = trace_json(path_of(doc))
    return trace


def step_percent(doc: Document) -> float:
    given = brute.output_settings(doc)
    return float(2 * given["limit_percent"] / (given["steps"] - 1)) if "steps" in given else 0.0


def scale_of(doc: Document) -> float:
    return float(brute.output_settings(doc)["us_per_percent"])


def close(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-6)


# --- extremes -------------------------------------------------------------------------------


def assert_reach(
    reach: Mapping[str, Any],
    unit: str,
    sense: int,
    found: tuple[float, float],
    fact: Callable[[Mapping[str, Any]], float],
    slack: tuple[float, float],
) -> None:
    """One end of a range. `found`: by the grid, with and without values beside thresholds.

    `slack`: how far the grid may lie outside, and how far inside.
    """
    value, (best, best_at_rest) = reach[unit], found
    assert sense * (best - value) <= slack[0], f"the grid reaches {best}, beyond {reach}"
    assert sense * (value - best) <= slack[1], f"the grid reaches only {best}, short of {reach}"
    given = fact(reach["controls"])
    assert math.isnan(given) or close(given, value), f"the witness gives {given}"
    if not reach["attained"]:
        assert sense * (best_at_rest - value) < -brute.FUZZ, f"attained on the grid: {reach}"


@many
@given(setups())
def test_channels(doc: Document) -> None:
    assert_channels(doc, trace_of(doc))


def assert_channels(doc: Document, trace: Mapping[str, Any]) -> None:
    entries = trace["channels"]
    assert [e["channel"] for e in entries] == [c["channel"] for c in doc["channels"]]
    for entry in entries:
        assert_channel(doc, entry)


def assert_channel(doc: Document, entry: Mapping[str, Any]) -> None:
    number = entry["channel"]
    assert "not_checked" not in entry
    found = brute.channel_extremes(doc, number)
    plain = brute.channel_extremes(doc, number, beside=False)

    def output(positions: Mapping[str, Any]) -> float:
        """Not a number on a rounding tie: floating point cannot tell which side a witness is on."""
        channel = brute.evaluate(doc, positions).channel(number)
        return math.nan if channel.tied[0] else float(channel.output[0])

    slack = (1e-6, GRID_PERCENT + step_percent(doc))
    assert_reach(entry["low"], "percent", -1, (found.low, plain.low), output, slack)
    assert_reach(entry["high"], "percent", 1, (found.high, plain.high), output, slack)
    centre = brute.output_settings(doc)["centre_us"]
    for reach in (entry["low"], entry["high"]):
        assert close(reach["us"], centre + scale_of(doc) * reach["percent"])
    assert entry["clipped_percent"] == pytest.approx(
        brute.most_clipped(doc, number), abs=GRID_PERCENT
    )


@many
@given(setups(selectors=False))
def test_ports(doc: Document) -> None:
    assert_ports(doc, trace_of(doc))


def assert_ports(doc: Document, trace: Mapping[str, Any]) -> None:
    entries = trace["ports"]
    assert [e["port"] for e in entries] == [o["port"] for o in doc["receiver"]["outputs"]]
    for entry in entries:
        assert "not_checked" not in entry
        assert_port(doc, entry)
        assert_port_failsafe(doc, entry)


def assert_port(doc: Document, entry: Mapping[str, Any]) -> None:
    port = entry["port"]
    summed = len(brute.port_channels(doc, port)) > 1
    found = brute.port_extremes(doc, port)
    plain = brute.port_extremes(doc, port, beside=False)
    outside = 4 * scale_of(doc) * BOUND_PERCENT if summed else 1e-5
    inside = 4 * scale_of(doc) * (GRID_PERCENT + step_percent(doc))

    def at(positions: Mapping[str, Any]) -> float:
        return float(brute.evaluate(doc, positions).port(port)[0])

    for end, sense in (("low", -1), ("high", 1)):
        ends = (getattr(found, end), getattr(plain, end))
        assert_reach(entry[end], "us", sense, ends, at, (outside, inside))


def assert_port_failsafe(doc: Document, entry: Mapping[str, Any]) -> None:
    action = brute.failsafe_action(doc, brute.port_channels(doc, entry["port"]))
    if action is None:
        assert entry["failsafe"]["us"] is None
        return
    assert entry["failsafe"]["action"] == action
    us = brute.failsafe_port(doc, entry["port"])
    assert entry["failsafe"]["us"] == (us if us is None else pytest.approx(us, abs=1e-6))


# --- selectors ------------------------------------------------------------------------------


@many
@given(setups(motors=False, failsafe=True))
def test_selectors(doc: Document) -> None:
    assert_selectors(doc, trace_of(doc))


def assert_selectors(doc: Document, trace: Mapping[str, Any]) -> None:
    selectors = brute.stabiliser(doc).get("selectors", [])
    entries = trace["selectors"]
    assert [e["name"] for e in entries] == [s["name"] for s in selectors]
    for entry, selector in zip(entries, selectors, strict=True):
        assert "not_checked" not in entry
        assert_positions(doc, selector, entry["positions"])
        assert_selector_failsafe(doc, selector, entry["failsafe"])


def assert_positions(
    doc: Document, selector: Mapping[str, Any], entries: list[dict[str, Any]]
) -> None:
    number = selector["channel"]
    wanted = brute.influences(doc, [number])
    at = brute.evaluate(doc, brute.grid(doc, wanted))
    selection = at.selection(selector)
    free = np.broadcast_to(~at.channel(number).tied, (at.count,))
    output = np.broadcast_to(at.channel(number).output, (at.count,))
    for named, here in combinations(doc, at, wanted):
        fitting = [e for e in entries if _fits(doc, e["controls"], named)]
        assert_covered(selection, output, here & free, fitting, named)
    for entry in entries:
        if not isinstance(entry["percent"], list):
            assert_position(doc, selector, entry)


def combinations(
    doc: Document, at: Evaluation, wanted: set[str]
) -> list[tuple[dict[str, str], brute.Mask]]:
    """Each combination of the switches, by name, and where on the grid it stands."""
    switches = sorted(n for n in wanted if not brute.is_continuous(doc, n))
    names = [brute.position_names(doc, n) for n in switches]
    found = []
    for chosen in product(*names):
        here = np.ones(at.count, dtype=bool)
        for switch, name, labels in zip(switches, chosen, names, strict=True):
            here &= at.place[switch] == labels.index(name)
        found.append((dict(zip(switches, chosen, strict=True)), here))
    return found


def _fits(doc: Document, controls: Mapping[str, Any], named: Mapping[str, str]) -> bool:
    """Whether an entry speaks of these switch positions."""
    return all(
        controls[c] == named.get(c, controls[c])
        for c in controls
        if not brute.is_continuous(doc, c)
    )


def assert_covered(
    selection: brute.Selection,
    output: Floats,
    here: Any,
    entries: list[dict[str, Any]],
    named: Mapping[str, str],
) -> None:
    """Every value met here lies in an entry of its states, and every entry is met."""
    inside = np.broadcast_to(selection.inside, (len(selection.names), output.size))[:, here]
    values = output[here]
    claimed = {frozenset(e["states"]) for e in entries}
    for row in np.unique(inside, axis=1).T:
        states = frozenset(n for n, h in zip(selection.names, row, strict=True) if h)
        assert states in claimed, f"{named}: {sorted(states)} is met, but {entries}"
        stretches = [_ends(e) for e in entries if frozenset(e["states"]) == states]
        met = values[(inside == row[:, None]).all(axis=0)]
        lost = [v for v in met if not any(a - 1e-5 <= v <= b + 1e-5 for a, b in stretches)]
        assert not lost, f"{named}: {lost[:3]} in {sorted(states)}, but {stretches}"


def _ends(entry: Mapping[str, Any]) -> tuple[float, float]:
    percent = entry["percent"]
    return (percent[0], percent[1]) if isinstance(percent, list) else (percent, percent)


def assert_position(doc: Document, selector: Mapping[str, Any], entry: Mapping[str, Any]) -> None:
    """One value. Where a continuous control sweeps through it, no margin counts."""
    at = brute.evaluate(doc, entry["controls"])
    channel = at.channel(selector["channel"])
    if channel.tied[0]:
        return
    assert close(entry["percent"], float(channel.output[0]))
    assert close(entry["us"], float(channel.us[0]))
    selection = at.selection(selector)
    assert sorted(entry["states"]) == sorted(selection.at(0)), f"at {selection.us[0]} µs"
    around = neighbours(doc, selector["channel"], entry["controls"])
    if all((unclipped == channel.unclipped).all() for unclipped, _ in around):
        assert_margin(selection, entry["margin_us"])
    elif any((output != channel.output).all() for _, output in around):
        assert entry["margin_us"] is None, f"a margin on the way of a continuous control: {entry}"


def neighbours(
    doc: Document, number: int, positions: Mapping[str, Any]
) -> list[tuple[Floats, Floats]]:
    """A channel's value before the limit, and its output, a little to both sides.

    Once for each continuous control that it depends on.
    """
    found = []
    for control in brute.influences(doc, [number]):
        if brute.is_continuous(doc, control):
            here = positions.get(control, 0.0)  # one that makes no difference is not named
            sides = np.clip(here + np.array([-1e-3, 1e-3]), -100, 100)
            sides = sides[sides != here]
            channel = brute.evaluate(doc, {**positions, control: sides}).channel(number)
            found.append((channel.unclipped, channel.output))
    return found


def assert_margin(found: brute.Selection, margin: float | None) -> None:
    expected = float(found.margin_us[0])
    wanted = None if math.isnan(expected) else pytest.approx(expected, abs=1e-6)
    assert margin == wanted, f"at {found.us[0]} µs"


def assert_selector_failsafe(
    doc: Document, selector: Mapping[str, Any], entry: Mapping[str, Any]
) -> None:
    action = brute.failsafe_action(doc, [selector["channel"]])
    found = brute.failsafe_selection(doc, selector)
    if action is not None:
        assert entry["action"] == action
    if found is None:
        assert entry["us"] is None
        return
    assert close(entry["us"], float(found.us[0]))
    assert sorted(entry["states"]) == sorted(found.at(0))


# --- directions -----------------------------------------------------------------------------


@many
@given(setups(conventional=True, motors=False, failsafe=False, selectors=False))
def test_directions(doc: Document) -> None:
    assert_directions(doc, trace_of(doc))


def assert_directions(doc: Document, trace: Mapping[str, Any]) -> None:
    """Ports without a servo have nothing that moves, and so no sign but the target's."""
    entries = [d for d in trace["directions"] if d["servo"] is not None]
    keyed = {(d["axis"], d["port"], d["servo"]): d for d in entries}
    found = {(d.axis, d.port, d.servo): d for d in brute.directions(doc)}
    assert len(keyed) == len(entries)
    assert keyed.keys() <= found.keys()
    for key, mine in found.items():
        signs = (mine.direct, mine.target, mine.correction)
        if key not in keyed:
            assert signs == (None, None, None), f"{key} is missing"
        elif not is_open(doc, mine):
            entry = keyed[key]
            if "not_checked" in entry:  # a stick that decides what another control does
                assert "also decides here what" in entry["not_checked"]
                continue
            assert (entry["direct"], entry["target"], entry["correction"]) == signs, key
            assert entry["surface"] == doc["servos"][mine.servo].get("surface")


def is_open(doc: Document, directions: brute.Directions) -> bool:
    """Where the design does not say what counts.

    The stick sets off an override itself, or has no part in the channel that brings its axis.
    """
    stick = brute.axis_stick(doc, directions.axis)
    axes = [a for a in brute.stabiliser(doc).get("axes", []) if a["axis"] == directions.axis]
    brings = [a["channel"] for a in axes if brute.axis_sign(a, directions.port)]
    if any(stick not in brute.influences(doc, [number]) for number in brings):
        return True
    own = brute.receiver_output(doc, directions.port)["channel"]
    return stick in brute.override_controls(doc, [own, *brings])


# --- motors ---------------------------------------------------------------------------------


@many
@given(setups(conventional=True, selectors=False) | setups(selectors=False))
def test_motors(doc: Document) -> None:
    assert_motors(doc, trace_of(doc))


def assert_motors(doc: Document, trace: Mapping[str, Any]) -> None:
    entries = {m["port"]: m for m in trace["motors"]}
    assert list(entries) == [m["port"] for m in brute.motors(doc)]
    for motor in brute.motors(doc):
        entry = entries[motor["port"]]
        assert "not_checked" not in entry
        for end in ("low", "high"):
            expected = brute.motor_at_throttle_end(doc, motor, end)
            assert entry[f"throttle_{end}"] == expected, end
        wanted = brute.overrides_on(doc, brute.motor_channels(doc, motor["port"]))
        assert {o["name"] for o in wanted} <= set(entry["overrides"])
        for override in doc.get("overrides", []):
            if override["name"] in entry["overrides"]:
                expected = brute.motor_under_override(doc, motor, override)
                assert entry["overrides"][override["name"]] == expected, override["name"]
        assert_motor_failsafe(doc, motor, entry["failsafe"])


def assert_motor_failsafe(doc: Document, motor: Mapping[str, Any], state: str | None) -> None:
    action = brute.failsafe_action(doc, brute.motor_channels(doc, motor["port"]))
    if action in ("preset", "hold"):
        assert state == brute.failsafe_motor(doc, motor), action


# --- surfaces -------------------------------------------------------------------------------


@many
@given(setups(selectors=False, motors=False))
def test_surfaces(doc: Document) -> None:
    assert_surfaces(doc, trace_of(doc))


def assert_surfaces(doc: Document, trace: Mapping[str, Any]) -> None:
    """Magnitudes alone: which way is positive, the documents on both sides may name freely."""
    entries = {s["port"]: s for s in trace["surfaces"]}
    for servo in doc.get("servos", []):
        if "linkage" not in servo or "increasing_pulse" not in servo:
            continue
        found = brute.port_extremes(doc, servo["port"])
        ends = brute.deflection(doc, servo, np.array([found.low, found.high]))
        entry = entries[servo["port"]]
        claimed = [abs(entry["low_deg"]), abs(entry["high_deg"])]
        assert sorted(claimed) == pytest.approx(sorted(ends), abs=0.02 + 0.1 * step_percent(doc))
        us = brute.failsafe_port(doc, servo["port"])
        if us is not None:
            expected = float(brute.deflection(doc, servo, np.array([us]))[0])
            assert abs(entry["failsafe_deg"]) == pytest.approx(expected, abs=1e-6)


# --- whole documents ------------------------------------------------------------------------


@pytest.mark.parametrize("place", sorted(TEMPLATES.glob("*.setup.json")), ids=lambda p: p.stem)
def test_templates(place: Path) -> None:
    doc = json.loads(place.read_text(encoding="utf-8"))
    trace = trace_of(doc)
    assert_channels(doc, trace)
    assert_ports(doc, trace)
    assert_selectors(doc, trace)
    assert_directions(doc, trace)
    assert_motors(doc, trace)
    assert_surfaces(doc, trace)


# --- one situation --------------------------------------------------------------------------


@st.composite
def situations(draw: Callable[..., Any]) -> tuple[Document, dict[str, Any]]:
    """A document, and a place for every control: often on a threshold or beside it."""
    doc = draw(setups())
    positions: dict[str, Any] = {}
    for control in brute.controls(doc):
        if brute.is_continuous(doc, control):
            points = brute.grid_points(doc, control, 9).tolist()
            positions[control] = draw(st.sampled_from(points))
        else:
            positions[control] = draw(st.sampled_from(brute.position_names(doc, control)))
    return doc, positions


@many
@given(situations())
def test_situations(case: tuple[Document, dict[str, Any]]) -> None:
    doc, positions = case
    found = situation_json(path_of(doc), positions)
    at = brute.evaluate(doc, positions)
    assert found["format"] == "situation/1"
    assert found["controls"] == positions
    tied = [assert_stages(at, entry) for entry in found["channels"]]
    assert len(tied) == len(doc["channels"])
    if any(tied):
        return
    for entry in found["ports"]:
        assert close(entry["us"], float(at.port(entry["port"])[0])), entry
    assert [p["port"] for p in found["ports"]] == [o["port"] for o in doc["receiver"]["outputs"]]
    selectors = {s["name"]: s for s in brute.stabiliser(doc).get("selectors", [])}
    assert [s["name"] for s in found["selectors"]] == list(selectors)
    for entry in found["selectors"]:
        selection = at.selection(selectors[entry["name"]])
        assert sorted(entry["states"]) == sorted(selection.at(0)), f"at {selection.us[0]} µs"
        assert_margin(selection, entry["margin_us"])
    states = {m["port"]: m["state"] for m in found["motors"]}
    assert states == {m["port"]: motor_at(at, m) for m in brute.motors(doc)}
    turned = {s["surface"]: s["deg"] for s in found["surfaces"]}
    for servo in doc.get("servos", []):
        if "linkage" in servo and "increasing_pulse" in servo:
            expected = float(brute.deflection(doc, servo, at.port(servo["port"]))[0])
            assert abs(turned[servo["surface"]]) == pytest.approx(expected, abs=1e-6)


def motor_at(at: Evaluation, motor: Mapping[str, Any]) -> str:
    state = brute.motor_state(motor, at.motor_pulse(motor["port"]))
    return brute.MOTOR_STATES[int(state[0])]


def assert_stages(at: Evaluation, entry: Mapping[str, Any]) -> bool:
    """Compare each stage; True where the rounding is a tie that floating point decides."""
    channel = at.channel(entry["channel"])
    assert close(entry["shape"], float(channel.shape[0])), entry
    assert close(entry["mixed"], float(channel.mixed[0])), entry
    assert close(entry["demand"], float(channel.demand[0])), entry
    assert close(entry["clipped_percent"], float(channel.clipped[0])), entry
    if channel.tied[0]:
        return True
    assert close(entry["output_percent"], float(channel.output[0])), entry
    assert close(entry["us"], float(channel.us[0])), entry
    return False
