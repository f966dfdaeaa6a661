"""Rates: what the examples in the rules' records cannot say."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from prebind import Configuration, Inspector
from prebind.rule import NotChecked, put, remove, replace
from prebind.testing import clean, inspected, patched
from prebind_rules.rates.dead import dead

if TYPE_CHECKING:
    from prebind import Finding
    from prebind.rule import Operation

INSPECTOR = Inspector(Configuration(families=("rates",)))


def found(rule: str, *patch: Operation, start: str = "trainer") -> list[Finding]:
    """What one rule has to say of a patched template."""
    report = INSPECTOR.inspect(patched(clean(start), patch))
    assert not report.problems
    return [finding for finding in report.findings if finding.rule == rule]


def only(rule: str, *patch: Operation, start: str = "trainer") -> Finding:
    findings = found(rule, *patch, start=start)
    assert len(findings) == 1, [f"{f.kind} {f.at} {f.message}" for f in findings]
    return findings[0]


# --- rates/dead -----------------------------------------------------------------------------


def ailerons_dead_in(right: str, left: str) -> list[Operation]:
    """Two ailerons with rates of their own, each at 0 in one phase."""

    def rates(phase: str) -> list[dict[str, Any]]:
        return [{"rate_percent": 0, "when": [{"phase": [phase]}]}, {"rate_percent": 100}]

    return [
        replace("/channels/1/control", "roll-stick"),
        replace("/channels/2/control", "roll-stick"),
        put("/channels/1/rates", rates(right)),
        put("/channels/2/rates", rates(left)),
    ]


def test_an_axis_is_alive_while_one_of_its_surfaces_is() -> None:
    assert found("rates/dead", *ailerons_dead_in("cruise", "landing"), start="glider") == []


def test_an_axis_is_dead_where_all_its_surfaces_are() -> None:
    finding = only("rates/dead", *ailerons_dead_in("landing", "landing"), start="glider")
    assert finding.word == "warning"
    assert finding.at == "/channels/1/rates/0/rate_percent"
    assert finding.evidence["controls"]["phase-switch"] == "landing"
    assert "channel 2, channel 3" in finding.message


def test_dead_by_two_switches_of_which_each_kills_one_surface() -> None:
    """The flap switch stops the right aileron, the cut switch the left one."""
    killed_by = {1: ("flap-switch", "full"), 2: ("cut-switch", "cut")}
    patch = ailerons_dead_in("landing", "landing")
    for channel, (control, position) in killed_by.items():
        when = [{"control": control, "positions": [position]}]
        patch.append(put(f"/channels/{channel}/rates/0/when", when))
    finding = only("rates/dead", *patch, start="glider")
    assert finding.evidence["controls"]["flap-switch"] == "full"
    assert finding.evidence["controls"]["cut-switch"] == "cut"


def test_a_tail_without_its_yaw_mixes_is_dead_in_yaw_and_alive_in_pitch() -> None:
    finding = only("rates/dead", remove("/mixes/3"), remove("/mixes/2"), start="glider")
    assert finding.evidence["axis"] == "yaw"
    assert finding.at == "/channels/3"


def test_a_rudder_on_the_roll_stick_is_not_dead() -> None:
    """A model of two channels is steered with one hand (common practice, no source)."""
    patch = [
        replace("/channels/1/function", "other"),
        replace("/channels/1/control", "yaw-stick"),
        replace("/channels/3/control", "roll-stick"),
    ]
    assert found("rates/dead", *patch) == []


def test_an_override_does_not_make_an_axis_dead() -> None:
    lock = {
        "name": "elevator held for transport",
        "purpose": "other",
        "channel": 3,
        "demand_percent": 0,
        "when": [{"control": "rate-switch", "positions": ["soft"]}],
    }
    assert found("rates/dead", put("/overrides/-", lock)) == []


def held_in(*phases: str) -> Operation:
    """The left aileron, held by an override."""
    lock = {
        "name": "left aileron held",
        "purpose": "other",
        "channel": 3,
        "demand_percent": 0,
        "when": [{"phase": list(phases)}],
    }
    return put("/overrides/-", lock)


def test_an_aileron_that_an_override_holds_is_not_dead_with_the_other() -> None:
    """The rates stop the right one at launch, where the left one is held, and that one in landing,
    where the right one moves.
    """
    patch = [*ailerons_dead_in("launch", "landing"), held_in("launch")]
    assert found("rates/dead", *patch, start="glider") == []


def test_an_axis_is_judged_though_an_override_always_holds_one_of_its_surfaces() -> None:
    report = inspected(dead, patched(clean("glider"), [held_in("launch", "landing", "cruise")]))
    assert not report.problems
    assert (report.outcomes["pass"], report.outcomes["notApplicable"]) == (3, 0)


def test_an_axis_is_judged_though_its_other_surface_meets_the_limit() -> None:
    """A limit may hide a movement, so that nothing is sure of the right one before it is tried."""
    beyond = put("/channels/1/travel_percent", {"low": 160, "high": 160})
    patch = [held_in("launch", "landing", "cruise"), beyond]
    report = inspected(dead, patched(clean("glider"), patch))
    assert not report.problems
    assert (report.outcomes["pass"], report.outcomes["notApplicable"]) == (3, 0)


def test_one_surface_that_surely_answers_is_enough() -> None:
    """What the roll stick does to the left one hangs on the pitch stick, and is not checked."""
    mix = {
        "name": "pitch with roll",
        "from": {"control": "pitch-stick"},
        "to": 3,
        "rate_percent": {"low": 10, "high": 10},
        "when": [{"control": "roll-stick", "above_percent": 0}],
    }
    report = inspected(dead, patched(clean("glider"), [put("/mixes/-", mix)]))
    assert report.path is not None
    with pytest.raises(NotChecked):
        _ = report.path.channel(3).response("roll-stick").least
    assert (report.outcomes["pass"], report.outcomes["open"]) == (3, 0)


def test_what_moves_a_little_is_not_dead() -> None:
    """At launch the right aileron is dead, and the left one moves by 0.8 µs."""
    little = {"rate_percent": 0.1, "when": [{"phase": ["launch"]}]}
    patch = [*ailerons_dead_in("launch", "landing"), put("/channels/2/rates/0", little)]
    assert found("rates/dead", *patch, start="glider") == []


def test_an_input_that_does_not_reach_the_channel_is_not_the_cause() -> None:
    """The tail has no pitch without its mixes; what else the pitch stick feeds has a rate of 0."""
    spare = {"id": "spare", "control": "pitch-stick", "rates": [{"rate_percent": 0}]}
    patch = [put("/inputs/-", spare), remove("/mixes/1"), remove("/mixes/0")]
    finding = only("rates/dead", *patch, start="glider")
    assert (finding.evidence["axis"], finding.at) == ("pitch", "/channels/3")


def test_a_flat_curve_is_named_as_the_cause() -> None:
    curve = {"points": [[-100, 10], [100, 10]], "when": [{"phase": ["cruise"]}]}
    finding = only("rates/dead", put("/inputs/1/curves", [curve]), start="glider")
    assert finding.evidence["axis"] == "pitch"
    assert finding.at == "/inputs/1/curves/0/points"


# --- rates/none-holds -----------------------------------------------------------------------


def test_a_channel_without_travel_is_named_as_the_cause() -> None:
    finding = only("rates/dead", put("/channels/3/travel_percent", {"low": 0, "high": 0}))
    assert finding.at == "/channels/3/travel_percent"


def test_a_mix_without_rates_is_named_as_the_cause() -> None:
    """The yaw stick reaches the rudder through a mix alone."""
    mix = {"name": "yaw", "from": {"control": "yaw-stick"}, "to": 4}
    finding = only(
        "rates/dead",
        remove("/channels/3/control"),
        put("/mixes", [{**mix, "rate_percent": {"low": 0, "high": 0}}]),
    )
    assert finding.at == "/mixes/0/rate_percent"


def test_strict_thresholds_leave_the_point_between_them_without_a_rate() -> None:
    """`above_percent` and `below_percent` are both strict: exactly 20 % is neither."""
    patch = [
        put("/transmitter/controls/rate-knob", {"kind": "knob"}),
        put(
            "/channels/3/rates",
            [
                {"rate_percent": 60, "when": [{"control": "rate-knob", "below_percent": 20}]},
                {"rate_percent": 90, "when": [{"control": "rate-knob", "above_percent": 20}]},
            ],
        ),
    ]
    finding = only("rates/none-holds", *patch)
    assert finding.at == "/channels/3/rates"
    assert finding.evidence["controls"] == {"rate-knob": 20}
    assert found("rates/none-holds", *patch, put("/channels/3/rates/-", {})) == []


def test_where_no_phase_holds_no_rate_of_a_phase_does() -> None:
    patch = [
        remove("/phases/2"),
        replace("/inputs/0/rates/1", {"rate_percent": 75, "when": [{"phase": ["cruise"]}]}),
        put(
            "/phases/-",
            {"name": "cruise", "when": [{"control": "cut-switch", "positions": ["cut"]}]},
        ),
    ]
    finding = only("rates/none-holds", *patch, start="glider")
    assert finding.at == "/inputs/0/rates"
    assert finding.evidence["controls"] == {"cut-switch": "run", "phase-switch": "cruise"}


# --- rates/sharper-centre -------------------------------------------------------------------


@pytest.mark.parametrize("expo", [10, 35, 100])
def test_the_slope_at_the_centre_is_that_of_the_curve(expo: int) -> None:
    """Mirror-image expo, common practice: 1 − g(1 − |x|) with g(y) = (1 − f)·y + f·y³."""
    f, x = expo / 100, 1e-6
    y = 1 - x
    slope = (1 - ((1 - f) * y + f * y**3)) / x
    finding = only("rates/sharper-centre", put("/channels/3/rates", [{"expo_percent": -expo}]))
    assert finding.evidence["centre_slope"] == pytest.approx(slope, abs=0.005)
    assert finding.word == "caution"


def test_several_entries_are_one_finding_and_one_fix() -> None:
    patch = [
        replace("/channels/1/rates/0/expo_percent", -20),
        replace("/channels/1/rates/1/expo_percent", -30),
    ]
    finding = only("rates/sharper-centre", *patch)
    assert finding.at == "/channels/1/rates/0/expo_percent"
    assert finding.fix
    assert finding.fix.applies == "decide"
    assert found("rates/sharper-centre", *patch, *finding.fix.patch) == []


def test_the_least_expo_that_sharpens_is_found() -> None:
    finding = only("rates/sharper-centre", put("/channels/1/rates/0/expo_percent", -0.5))
    assert "1.01 times" in finding.message
    assert finding.evidence["centre_slope"] == 1.01
    finding = only("rates/sharper-centre", put("/channels/1/rates/0/expo_percent", -33.3))
    assert finding.evidence["centre_slope"] == 1.67
