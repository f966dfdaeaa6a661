"""Travel: what the examples in the rules' records cannot say."""

from __future__ import annotations

from math import acos, degrees, hypot
from typing import TYPE_CHECKING, Any

import pytest

from prebind import Configuration, Inspector, trace
from prebind.document import Document, read
from prebind.rule import put, remove, replace
from prebind.testing import clean, inspected, patched
from prebind_rules.travel._strokes import full_stroke, stroke
from prebind_rules.travel.clipped import clipped
from prebind_rules.travel.differential_backwards import differential_backwards
from prebind_rules.travel.little_authority import little_authority
from prebind_rules.travel.pair_unequal import pair_unequal
from prebind_rules.travel.stabilised_axis import stabilised_axis
from prebind_rules.travel.stabilised_axis_centre import stabilised_axis_centre
from prebind_rules.travel.throw import throw

if TYPE_CHECKING:
    from prebind import Finding, Path
    from prebind.rule import Operation

INSPECTOR = Inspector(Configuration(families=("travel", "rates", "reversal")))

NO_STEPS = remove("/transmitter/output/steps")


def found(rule: str, *patch: Operation, start: str = "trainer") -> list[Finding]:
    """What one rule has to say of a patched template."""
    report = INSPECTOR.inspect(patched(clean(start), patch))
    assert not report.problems
    return [finding for finding in report.findings if finding.rule == rule]


def only(rule: str, *patch: Operation, start: str = "trainer") -> Finding:
    findings = found(rule, *patch, start=start)
    assert len(findings) == 1, [f"{f.kind} {f.at} {f.message}" for f in findings]
    return findings[0]


def solved(equation: Any, guess: float) -> float:
    """A root of an equation in x."""
    from sympy import nsolve
    from sympy.abc import x

    return float(nsolve(equation(x), x, guess))


# --- throws and linkages --------------------------------------------------------------------

# Norton, Design of Machinery, position analysis example (references.md, from memory there; its
# formula, sympy and another package agree): a, b, c, d = 40, 120, 80, 100 mm, arm at 40°.
ARM, ROD, HORN, BASE = 40.0, 120.0, 80.0, 100.0
NORTON_OPEN_DEG = 57.325


def horn_at(arm_deg: float, guess_deg: float) -> float:
    """The horn's angle, from the pushrod's length alone: sympy solves the distance of its ends."""
    from sympy import cos, pi, sin

    arm = arm_deg * pi / 180
    return solved(
        lambda x: (
            (BASE + HORN * cos(x * pi / 180) - ARM * cos(arm)) ** 2
            + (HORN * sin(x * pi / 180) - ARM * sin(arm)) ** 2
            - ROD**2
        ),
        guess_deg,
    )


def norton_elevator(wanted_up: float, wanted_down: float, tolerance: float) -> list[Operation]:
    """The elevator on Norton's linkage, at neutral with the arm at 70° and ±30° from there."""
    linkage = {
        "arm_mm": ARM,
        "horn_mm": HORN,
        "base_mm": BASE,
        "arm_at_neutral_deg": 70,
        "horn_at_neutral_deg": horn_at(70, 70),
    }
    return [
        NO_STEPS,
        put("/servos/2/linkage", linkage),
        put("/servos/2/degrees_per_us", -30 / 400),  # full up: 1900 µs, the arm back at 40°
        put("/surfaces/2/throw_deg", {"up": wanted_up, "down": wanted_down}),
        put("/surfaces/2/tolerance_deg", tolerance),
    ]


def test_sympy_agrees_with_the_published_position() -> None:
    assert horn_at(40, 60) == pytest.approx(NORTON_OPEN_DEG, abs=0.001)


def test_throw_is_norton_s_to_a_hundredth_of_a_degree() -> None:
    """Norton's position is the elevator's upper end; sympy gives neutral and the lower one."""
    neutral, lower = horn_at(70, 70), horn_at(100, 90)
    up, down = abs(NORTON_OPEN_DEG - neutral), abs(lower - neutral)
    assert found("travel/throw", *norton_elevator(up, down, 0.01)) == []
    for off_up, off_down, way in ((0.02, 0, "up"), (0, -0.02, "down")):
        finding = only("travel/throw", *norton_elevator(up + off_up, down + off_down, 0.01))
        assert finding.at == "/surfaces/2/throw_deg"
        assert f"° {way} where" in finding.message
    finding = only("travel/throw", *norton_elevator(up + 5, down, 2))
    assert finding.evidence["reached_up_deg"] == pytest.approx(up, abs=0.05)
    assert finding.evidence["wanted_up_deg"] == pytest.approx(up + 5)


def test_a_surface_that_an_override_holds_at_rest_is_not_said_to_stand_still() -> None:
    """The throttle rests at its low end, where this override holds the rudder."""
    override = {
        "name": "locked",
        "purpose": "other",
        "channel": 4,
        "demand_percent": 0,
        "when": [{"control": "throttle-stick", "below_percent": -90}],
        "release": "at-once",
    }
    opened = only("travel/throw", put("/overrides/-", override))
    assert opened.kind == "open"
    assert "an override holds rudder" in opened.message


def test_throw_counts_the_largest_rate_wherever_its_switch_stands() -> None:
    first_is_small = [
        {"rate_percent": 75, "when": [{"phase": ["launch"]}]},
        {"rate_percent": 100},
    ]
    assert found("travel/throw", replace("/inputs/0/rates", first_is_small), start="glider") == []


def test_throw_does_not_take_a_phase_s_trim_for_a_larger_rate() -> None:
    """The landing trim of 20 % is not at rest; launch has the same rate and no trim."""
    trim = [{"percent": -20, "when": [{"phase": ["landing"]}]}]
    patch = put("/inputs/1/trim_percent", trim)
    assert found("travel/throw", patch, start="glider") == []


def test_a_throw_that_is_wrong_by_just_the_tolerance_is_as_wanted() -> None:
    patch = [
        put("/surfaces/3/throw_deg", {"left": 2, "right": 2}),
        put("/surfaces/3/tolerance_deg", 2),
        put("/channels/3/travel_percent", {"low": 0, "high": 0}),
    ]
    assert found("travel/throw", NO_STEPS, *patch) == []


def test_throw_of_a_tail_is_judged_by_each_stick_alone() -> None:
    """60 % of pitch and 60 % of yaw would be 120 % together, and 44°."""
    finding = only("travel/throw", replace("/surfaces/2/throw_deg/up", 44), start="glider")
    assert finding.evidence["reached_up_deg"] == pytest.approx(21.9, abs=0.05)
    assert finding.at == "/surfaces/2/throw_deg"


def test_throw_is_open_where_the_linkage_or_the_wish_is_not_recorded() -> None:
    linkage = only("travel/throw", remove("/servos/2/linkage"))
    assert (linkage.kind, linkage.settles) == ("open", ("/servos/2/linkage",))
    wish = only("travel/throw", remove("/surfaces/2/throw_deg"))
    assert (wish.kind, wish.settles) == ("open", ("/surfaces/2/throw_deg",))


def test_flap_without_a_wanted_throw_is_nothing_to_judge() -> None:
    patch = remove("/surfaces/4/throw_deg"), remove("/surfaces/5/throw_deg")
    assert found("travel/throw", *patch, start="glider") == []


def dead_centre_us(arm: float, horn: float, base: float, per_us: float) -> float:
    """Where pushrod and horn are in line, by the law of cosines; both at 90° at neutral."""
    rod = hypot(base, horn - arm)
    reach = rod + horn  # from the arm's end to the hinge, stretched
    arm_deg = degrees(acos((arm**2 + base**2 - reach**2) / (2 * arm * base)))
    return 1500 + (arm_deg - 90) / per_us


def test_linkage_locks_where_rod_and_horn_come_in_line() -> None:
    patch = put("/servos/2/linkage", {"arm_mm": 18, "horn_mm": 9, "base_mm": 70})
    locks = dead_centre_us(18, 9, 70, 0.1)
    assert 1700 < locks < 1900
    just_free = put("/receiver/outputs/2/limit_us", [1300, locks - 1])
    assert found("travel/linkage-locks", patch, just_free) == []
    just_locked = put("/receiver/outputs/2/limit_us", [1300, locks + 1])
    finding = only("travel/linkage-locks", patch, just_locked)
    assert (finding.word, finding.at) == ("warning", "/servos/2/linkage")
    assert finding.evidence["us"] == pytest.approx(locks, abs=0.06)


def test_locked_linkage_leaves_its_throw_open_and_the_other_rules_running() -> None:
    patch = put("/servos/2/linkage", {"arm_mm": 18, "horn_mm": 9, "base_mm": 70})
    assert only("travel/linkage-locks", patch).kind == "fail"
    assert only("travel/throw", patch).kind == "open"


# --- what is cut off, and what is driven too far --------------------------------------------


def test_clipped_says_where_the_dead_part_of_an_expo_curve_begins() -> None:
    """Expo 30 at 160 %: 1.6 · (0.7 x + 0.3 x³) = 1.5; the root by sympy."""
    begins = 100 * solved(lambda x: 1.6 * (0.7 * x + 0.3 * x**3) - 1.5, 0.9)
    finding = only(
        "travel/clipped",
        put("/channels/3/rates", [{"rate_percent": 100, "expo_percent": 30}]),
        put("/channels/3/travel_percent", {"low": 160, "high": 100}),
    )
    assert finding.word == "caution"
    assert finding.evidence["control"] == "yaw-stick"
    assert finding.evidence["controls"]["yaw-stick"] == -100
    assert finding.evidence["from_percent"] == pytest.approx(-begins, abs=0.06)
    assert finding.evidence["lost_percent"] == pytest.approx(10)


def test_clipped_points_at_the_subtrim_that_pushes_into_the_limit() -> None:
    finding = only(
        "travel/clipped",
        put("/channels/3/rates", [{"rate_percent": 100}]),
        put("/channels/3/subtrim_percent", 60),
    )
    assert finding.at == "/channels/3/subtrim_percent"
    assert finding.evidence["from_percent"] == pytest.approx(90, abs=0.06)


@pytest.mark.parametrize("rates", [(-150, -50), (-50, -150), (50, 150), (150, 50)])
def test_a_mix_that_asks_for_more_than_came_is_to_blame_whichever_way_it_goes(
    rates: tuple[int, int],
) -> None:
    mix = {
        "name": "pitch to rudder",
        "from": {"control": "pitch-stick"},
        "to": 4,
        "rate_percent": {"low": rates[0], "high": rates[1]},
    }
    finding = only(
        "travel/clipped",
        NO_STEPS,
        put("/transmitter/output/limit_percent", 100),
        put("/channels/3/subtrim_percent", 5),
        put("/mixes", [mix]),
    )
    assert finding.at == "/mixes/0/rate_percent"


def test_where_nothing_makes_the_movement_larger_a_mix_is_to_blame_else_the_channel() -> None:
    limit = "/transmitter/output/limit_percent"
    assert only("travel/clipped", put(limit, 100), yaw_mix(20, 20)).at == "/mixes/0/rate_percent"
    findings = found("travel/clipped", put(limit, 90))
    assert [finding.at for finding in findings] == [f"/channels/{i}" for i in range(4)]


def test_an_override_that_always_holds_leaves_no_movement_to_lose() -> None:
    always = {
        "name": "rudder over",
        "purpose": "other",
        "channel": 4,
        "demand_percent": 120,
        "when": [{"control": "rate-switch", "positions": ["full", "soft"]}],
    }
    limit = put("/transmitter/output/limit_percent", 100)
    assert found("travel/clipped", NO_STEPS, limit, put("/overrides/-", always)) == []


def test_an_override_beyond_the_limit_takes_nothing_from_the_stick() -> None:
    """It holds with the switch at rest; at soft the stick moves the rudder within the limit."""
    over = {
        "name": "rudder over",
        "purpose": "other",
        "channel": 4,
        "demand_percent": 120,
        "when": [{"control": "rate-switch", "positions": ["full"]}],
    }
    limit = put("/transmitter/output/limit_percent", 100)
    assert found("travel/clipped", limit, put("/overrides/-", over)) == []


def test_a_stick_is_judged_alone_with_the_switches_at_rest() -> None:
    """140 % alone, within the limit of 150 %; with what the switch adds 168 %, 18 % too much."""
    switch = {"kind": "switch", "positions": ["off", "on"], "values": [0, 100]}
    mix = {
        "name": "drag",
        "from": {"control": "drag-switch"},
        "to": 4,
        "rate_percent": {"low": 20, "high": 20},
    }
    patch = [
        put("/transmitter/controls/drag-switch", switch),
        put("/mixes", [mix]),
        *on_rudder(travel_percent={"low": 140, "high": 140}),
    ]
    assert found("travel/clipped", *patch) == []


def test_clipping_of_a_switch_loses_no_movement() -> None:
    """Three positions at −150, 0 and 150 % are three positions still."""
    assert (
        found("travel/clipped", put("/channels/4/travel_percent", {"low": 200, "high": 200})) == []
    )


@pytest.mark.parametrize(("range_us", "fails"), [([1100, 1900], False), ([1101, 1900], True)])
def test_servo_range_forgives_half_a_microsecond(range_us: list[int], fails: bool) -> None:
    """2048 steps make the ends 1099.9 and 1900.1 µs: an edge is equal within 0.5 µs."""
    findings = found("travel/servo-range", replace("/servos/3/pulse_us", range_us))
    assert [finding.kind for finding in findings] == ["fail"] * fails


def test_servo_range_under_the_engine_s_cut_is_a_warning_at_the_cut() -> None:
    """−130 % is 980 µs."""
    finding = only("travel/servo-range", replace("/servos/0/pulse_us", [1000, 2100]), start="glow")
    assert (finding.word, finding.at) == ("warning", "/overrides/0/demand_percent")
    assert finding.evidence["us"] == pytest.approx(980)
    assert finding.evidence["controls"]["cut-switch"] == "cut"


def test_servo_range_is_open_where_the_servo_s_range_is_not_recorded() -> None:
    finding = only("travel/servo-range", remove("/servos/1/pulse_us"))
    assert (finding.kind, finding.settles) == ("open", ("/servos/1/pulse_us",))


# --- stabilised axes ------------------------------------------------------------------------


@pytest.mark.parametrize(("high", "fails"), [(101, False), (101.25, True)])
def test_ends_may_be_four_microseconds_off(high: float, fails: bool) -> None:
    patch = [
        NO_STEPS,
        put("/receiver/stabiliser/expects", {"roll": {"low_us": 1100, "high_us": 1900}}),
        put("/channels/1/travel_percent", {"low": 100, "high": high}),
    ]
    report = inspected(stabilised_axis, patched(clean(), patch))
    assert not report.problems
    assert [f.at for f in report.findings] == ["/channels/1/travel_percent"] * fails


def test_shifted_ends_follow_from_the_subtrim() -> None:
    at = "/channels/1/subtrim_percent"
    finding = only(
        "travel/stabilised-axis",
        NO_STEPS,
        put("/receiver/stabiliser/expects", {"roll": {"low_us": 1100, "high_us": 1900}}),
        put(at, 5),
    )
    assert finding.at == at
    assert (finding.evidence["low_us"], finding.evidence["high_us"]) == (1120, 1920)
    assert finding.because
    assert (finding.because.rule, finding.because.at) == ("travel/stabilised-axis-centre", at)


def test_rates_and_mixes_are_no_business_of_the_ends() -> None:
    patch = put("/channels/1/rates", [{"rate_percent": 60}])
    assert found("travel/stabilised-axis", patch) == []


def test_expected_centre_counts_every_trim_that_can_hold() -> None:
    trims = [{"percent": 5, "when": [{"control": "rate-switch", "positions": ["soft"]}]}]
    patch = [NO_STEPS, put("/receiver/stabiliser/expects", {"yaw": {"centre_us": 1500}})]
    finding = only("travel/stabilised-axis-centre", *patch, put("/channels/3/trim_percent", trims))
    assert finding.at == "/channels/3/trim_percent"
    assert finding.evidence["centre_us"] == 1520


def test_no_trim_holds_where_each_has_a_condition_and_one_always_where_it_has_none() -> None:
    wanted = [NO_STEPS, put("/receiver/stabiliser/expects", {"yaw": {"centre_us": 1540}})]
    soft = [{"control": "rate-switch", "positions": ["soft"]}]
    trims = put("/channels/3/trim_percent", [{"percent": 10, "when": soft}])
    assert only("travel/stabilised-axis-centre", *wanted, trims).evidence["centre_us"] == 1500
    always = put("/channels/3/trim_percent", [{"percent": 10}])
    assert found("travel/stabilised-axis-centre", *wanted, always) == []


@pytest.mark.parametrize(("subtrim", "fails"), [(1, 0), (-1, 0), (1.1, 1)])
def test_a_centre_may_be_four_microseconds_off(subtrim: float, fails: int) -> None:
    wanted = put("/receiver/stabiliser/expects", {"yaw": {"centre_us": 1500}})
    off = put("/channels/3/subtrim_percent", subtrim)
    report = inspected(stabilised_axis_centre, patched(clean(), [NO_STEPS, wanted, off]))
    assert [f.kind for f in report.findings] == ["fail"] * fails
    assert not report.problems


def test_a_centre_is_told_to_a_digit_behind_the_point() -> None:
    wanted = put("/receiver/stabiliser/expects", {"yaw": {"centre_us": 1500}})
    finding = only(
        "travel/stabilised-axis-centre", wanted, *on_rudder(subtrim_percent=3.14)
    )  # 1512.56 µs
    assert finding.evidence["centre_us"] == 1512.6
    assert "is at 1512.6 µs" in finding.message


def test_trim_names_the_state_that_takes_it_for_a_command() -> None:
    finding = only("travel/stabilised-axis-centre", put("/channels/2/trim_percent", 2))
    assert finding.at == "/channels/2/trim_percent"
    assert finding.evidence["state"] == "level"
    assert finding.evidence["controls"]["mode-switch"] == "back"


def test_of_inputs_the_trim_of_the_one_that_drives_the_axis_counts() -> None:
    inputs = [
        {"id": "spare", "control": "yaw-stick", "trim_percent": 8},
        {"id": "pitch", "control": "pitch-stick", "trim_percent": 3},
    ]
    driven = [remove("/channels/2/rates"), replace("/channels/2/control", "pitch")]
    finding = only("travel/stabilised-axis-centre", put("/inputs", inputs), *driven)
    assert (finding.at, finding.evidence["percent"]) == ("/inputs/1/trim_percent", 3)


# --- sides and sizes ------------------------------------------------------------------------


def test_pair_is_open_where_a_direction_is_not_recorded() -> None:
    finding = only("travel/pair-unequal", remove("/servos/1/increasing_pulse"))
    assert (finding.kind, finding.settles) == ("open", ("/servos/1/increasing_pulse",))


def test_pair_is_judged_by_each_axis_of_a_tail() -> None:
    """Pitch is even; the left half has 40 % of yaw, the right half 60 %."""
    finding = only(
        "travel/pair-unequal",
        replace("/mixes/3/rate_percent", {"low": 40, "high": 40}),
        start="glider",
    )
    assert finding.at == "/mixes/2/rate_percent"
    assert finding.evidence["stick"] == "yaw-stick"
    assert (finding.evidence["left_us"], finding.evidence["right_us"]) == (160, 240)


def test_pair_points_at_the_side_that_was_changed_from_100() -> None:
    """Down, at 90 %: 360 µs on the right, whose travel is full there, and 216 µs on the left."""
    finding = only(
        "travel/pair-unequal",
        replace("/inputs/0/rates", [{"rate_percent": 90}]),
        replace("/channels/1/travel_percent", {"low": 100, "high": 95}),
        start="glider",
    )
    assert (finding.evidence["left_us"], finding.evidence["right_us"]) == (216, 360)
    assert finding.at == "/channels/2/travel_percent"


def test_pair_differs_by_subtrim_alone() -> None:
    """Sub-trim of 10 %: 440 µs up on the right against 400 µs; down 200 µs against 240 µs."""
    finding = only("travel/pair-unequal", put("/channels/1/subtrim_percent", 10), start="glider")
    assert finding.at == "/channels/1/subtrim_percent"
    assert (finding.evidence["left_us"], finding.evidence["right_us"]) == (240, 200)


@pytest.mark.parametrize("channel", [2, 3])
def test_a_pair_of_which_an_override_holds_one_at_rest_is_not_compared(channel: int) -> None:
    still = {
        "name": "one aileron still",
        "purpose": "other",
        "channel": channel,
        "demand_percent": 0,
        "when": [{"control": "throttle-stick", "below_percent": -90}],
    }
    assert found("travel/pair-unequal", put("/overrides/-", still), start="glider") == []


def test_ailerons_that_go_up_alone_do_not_differ_down() -> None:
    document = patched(
        clean("glider"),
        [
            put("/channels/1/travel_percent", {"low": 0, "high": 100}),
            put("/channels/2/travel_percent", {"low": 100, "high": 0}),
        ],
    )
    assert inspected(pair_unequal, document, difference_percent=0.5).outcomes["fail"] == 0


@pytest.mark.parametrize(("travel", "fails"), [(90, 0), (89.5, 1)])
def test_a_pair_may_differ_by_a_tenth(travel: float, fails: int) -> None:
    left = put("/receiver/outputs/4/travel_percent", {"low": travel, "high": travel})
    document = patched(clean(), [NO_STEPS, left])
    assert inspected(pair_unequal, document).outcomes["fail"] == fails


def test_one_channel_s_differential_is_backwards_on_one_side() -> None:
    """Two ailerons on one channel: what is more up on one side is more down on the other."""
    patch = put("/channels/1/travel_percent", {"low": 60, "high": 100})
    differential = only("travel/differential-backwards", patch)
    assert "aileron-left" in differential.message
    assert only("travel/pair-unequal", patch).at == differential.at == "/channels/1/travel_percent"


def test_little_authority_of_a_dead_rate_is_its_consequence() -> None:
    at = "/channels/2/rates/1/rate_percent"
    finding = only("travel/little-authority", replace(at, 0))
    assert finding.at == at
    assert finding.evidence["percent"] == 0
    assert finding.because
    assert (finding.because.rule, finding.because.at) == ("rates/dead", at)


def test_authority_multiplies_rate_and_mix() -> None:
    """48 % of rate through 60 % of mix is 28.8 %; that yaw has 60 % is of no help to pitch."""
    patch = replace("/inputs/1/rates/1/rate_percent", 48)
    finding = found("travel/little-authority", patch, start="glider")[0]
    assert finding.evidence["percent"] == 28.8
    assert finding.evidence["controls"]["phase-switch"] == "cruise"


@pytest.mark.parametrize(("rate", "fails"), [(30, 0), (29.9, 1)])
def test_the_least_authority_is_enough(rate: float, fails: int) -> None:
    document = patched(clean(), on_rudder(rates=[{"rate_percent": rate}]))
    assert inspected(little_authority, document).outcomes["fail"] == fails


def test_what_leaves_the_least_of_the_better_side_holds_the_surface_back() -> None:
    """25 % of rate, of which the travel leaves 95 % on the one side: 23.75 %."""
    patch = on_rudder(rates=[{"rate_percent": 25}], travel_percent={"low": 20, "high": 95})
    finding = only("travel/little-authority", *patch)
    assert (finding.at, finding.evidence["percent"]) == ("/channels/3/rates/0/rate_percent", 23.8)


def test_of_two_sticks_for_an_axis_the_one_that_moves_the_surface_further_counts() -> None:
    """A trainer's second stick adds 20 % of roll."""
    second = put("/transmitter/controls/second-stick", {"kind": "stick", "axis": "roll"})
    mix = {
        "name": "second",
        "from": {"control": "second-stick"},
        "to": 2,
        "rate_percent": {"low": 20, "high": 20},
    }
    assert found("travel/little-authority", second, put("/mixes", [mix])) == []
    # An output that takes some of it is looked at in the worst combination of that stick.
    less = put("/receiver/outputs/1/travel_percent", {"low": 90, "high": 90})
    assert found("travel/little-authority", second, put("/mixes", [mix]), less) == []


def test_of_inputs_one_that_drives_the_channel_with_that_stick_holds_the_surface_back() -> None:
    """Roll gets 25 %; what else the roll stick drives has less."""
    spare = {"id": "spare", "control": "roll-stick", "rates": [{"rate_percent": 5}]}
    less = replace("/inputs/0/rates/1/rate_percent", 25)
    findings = found("travel/little-authority", put("/inputs/-", spare), less, start="glider")
    assert {finding.at for finding in findings} == {"/inputs/0/rates/1/rate_percent"}
    # Yaw gets 60 % of 40 %; pitch, of which a rate of 10 % never holds, feeds the same tail.
    findings = found(
        "travel/little-authority",
        replace("/inputs/2/rates/0/rate_percent", 40),
        replace("/inputs/1/rates", [{"rate_percent": 100}, {"rate_percent": 10}]),
        start="glider",
    )
    assert {finding.at for finding in findings} == {"/inputs/2/rates/0/rate_percent"}


def test_travel_that_leaves_one_side_whole_holds_no_surface_back() -> None:
    curve = {"points": [[-100, -20], [100, 20]]}
    patch = on_rudder(curves=[curve], travel_percent={"low": 50, "high": 100})
    assert only("travel/little-authority", *patch).at == "/channels/3"


def test_a_mix_that_takes_back_nearly_all_of_the_stick_holds_the_surface_back() -> None:
    finding = only("travel/little-authority", NO_STEPS, yaw_mix(-99.5, -99.5))
    assert (finding.at, finding.evidence["percent"]) == ("/mixes/0/rate_percent", 0.5)


@pytest.mark.parametrize("travel", [{"low": 40, "high": 20}, {"low": 20, "high": 40}])
def test_authority_at_an_output_is_that_of_the_better_side(travel: dict[str, int]) -> None:
    """70 % of rate with the switch at soft, of which 40 % is left."""
    finding = only(
        "travel/little-authority", NO_STEPS, put("/receiver/outputs/2/travel_percent", travel)
    )
    assert finding.evidence["percent"] == 28


def test_the_least_authority_at_an_output_is_enough() -> None:
    for percent, fails in ((30, 0), (29.9, 1)):
        findings = found(
            "travel/little-authority",
            NO_STEPS,
            put("/channels/2/rates", [{"rate_percent": 100}]),
            put("/receiver/outputs/2/travel_percent", {"low": percent, "high": percent}),
        )
        assert len(findings) == fails


@pytest.mark.parametrize("least", [0, 1])
def test_no_authority_is_asked_of_a_channel_without_a_control(least: float) -> None:
    document = patched(clean(), [remove("/channels/3/control")])
    outcomes = inspected(little_authority, document, least_percent=least).outcomes
    assert (outcomes["pass"], outcomes["fail"]) == (2, 0)  # aileron and elevator, not the rudder


def test_authority_is_told_to_a_digit_behind_the_point() -> None:
    rates = put("/channels/3/rates", [{"rate_percent": 17.77}])
    finding = only("travel/little-authority", NO_STEPS, rates)
    assert finding.evidence["percent"] == 17.8


def test_a_throttle_that_ends_where_the_speed_control_arms_does_not_arm_it() -> None:
    for arm_us, fails in ((1100, 1), (1100.5, 0)):
        findings = found(
            "travel/throttle-range", NO_STEPS, put("/speed_controls/0/arm_below_us", arm_us)
        )
        assert len(findings) == fails


def test_a_throttle_that_ends_where_the_speed_control_gives_full_power_reaches_it() -> None:
    for full_us, fails in ((1900, 0), (1900.5, 1)):
        findings = found(
            "travel/throttle-range", NO_STEPS, put("/speed_controls/0/full_above_us", full_us)
        )
        assert len(findings) == fails


def test_a_little_less_than_full_travel_is_to_blame_for_the_power_that_is_missed() -> None:
    finding = only(
        "travel/throttle-range",
        NO_STEPS,
        put("/channels/0/travel_percent", {"low": 100, "high": 99.5}),  # 1898 µs
        put("/speed_controls/0/full_above_us", 1900),
    )
    assert finding.at == "/channels/0/travel_percent"


@pytest.mark.parametrize("low", [100, 80])
def test_full_power_that_full_travel_does_not_reach_is_the_speed_control_s(low: int) -> None:
    finding = only(
        "travel/throttle-range",
        put("/channels/0/travel_percent", {"low": low, "high": 100}),
        put("/speed_controls/0/full_above_us", 1950),
    )
    assert finding.at == "/speed_controls/0/full_above_us"


def test_a_little_more_than_full_travel_is_to_blame_for_what_is_lost() -> None:
    finding = only(
        "travel/clipped",
        NO_STEPS,
        put("/transmitter/output/limit_percent", 100),
        put("/channels/3/travel_percent", {"low": 100, "high": 100.5}),
    )
    assert finding.at == "/channels/3/travel_percent"


@pytest.mark.parametrize(("low", "fails"), [(109.9, 0), (110.1, 1)])
def test_a_tenth_more_down_than_up_is_allowed(low: float, fails: int) -> None:
    travel = put("/channels/1/travel_percent", {"low": low, "high": 100})
    measured_in_us = (remove("/servos/0/linkage"), remove("/servos/1/linkage"))
    document = patched(clean(), [NO_STEPS, travel, *measured_in_us])
    assert inspected(differential_backwards, document).outcomes["fail"] == fails


def test_a_quarter_more_down_than_up_may_be_allowed() -> None:
    def fails(*patch: Operation, more: float) -> int:
        document = patched(clean(), [NO_STEPS, *patch])
        for servo in document["servos"]:
            del servo["linkage"]  # measured in µs
        return inspected(differential_backwards, document, more_percent=more).outcomes["fail"]

    # On the right, up is a growing pulse and down the low side.
    travel = {"low": 125, "high": 100}
    assert fails(put("/channels/1/travel_percent", travel), more=25) == 0
    assert fails(put("/channels/1/travel_percent", travel), more=24.9) == 1
    # Down alone counts as 100 % more; what does not move at all is not judged by it.
    for more, count in ((99.5, 1), (100, 0)):
        assert fails(put("/channels/1/travel_percent", {"low": 100, "high": 0}), more=more) == count
    assert fails(put("/channels/1/travel_percent", {"low": 0, "high": 0}), more=0.5) == 0


@pytest.mark.parametrize("steps", [2048, 2047])  # 1500 µs is no step, and is one
def test_ailerons_that_stand_still_differ_neither_in_their_ways_nor_from_each_other(
    steps: int,
) -> None:
    patch = [
        put("/transmitter/output/steps", steps),
        put("/channels/1/travel_percent", {"low": 0, "high": 0}),
    ]
    assert found("travel/differential-backwards", *patch) == []
    assert found("travel/pair-unequal", *patch) == []
    # One that moves beside one that does not, is another matter.
    still = put("/receiver/outputs/4/travel_percent", {"low": 0, "high": 0})
    assert only("travel/pair-unequal", still).evidence["difference_percent"] == 100


@pytest.mark.parametrize(
    ("output", "limit_us"),
    [
        pytest.param(1, [1100, 1450], id="right, where a growing pulse is up"),
        pytest.param(4, [1550, 1900], id="left, where it is down"),
    ],
)
def test_an_aileron_that_never_comes_up_to_neutral_goes_nowhere_up(
    output: int, limit_us: list[int]
) -> None:
    finding = only(
        "travel/differential-backwards",
        NO_STEPS,
        remove("/servos/0/linkage"),  # measured in µs
        remove("/servos/1/linkage"),
        put(f"/receiver/outputs/{output}/limit_us", limit_us),
    )
    assert finding.evidence == {"stick": "roll-stick", "up_us": 0, "down_us": 400}


def test_an_aileron_that_goes_one_way_alone_goes_nowhere_the_other_in_degrees_too() -> None:
    def judged(*limit_us: int) -> list[Finding]:
        limit = put("/receiver/outputs/1/limit_us", list(limit_us))
        return found("travel/differential-backwards", NO_STEPS, limit)

    (finding,) = judged(1100, 1450)
    assert finding.evidence["up_deg"] == 0
    assert finding.evidence["down_deg"] > 10
    assert judged(1503, 1505) == []  # up by half a degree at most


def test_an_aileron_is_judged_beside_a_servo_without_a_surface_on_its_lead() -> None:
    finding = only(
        "travel/differential-backwards",
        put("/channels/1/travel_percent", {"low": 125, "high": 100}),
        put("/servos/0/y_lead", True),
        put("/servos/0", {"port": 2, "y_lead": True}),  # before the aileron's
    )
    assert finding.message.startswith("aileron-right goes")


def test_backwards_throttle_is_why_full_power_is_missed() -> None:
    finding = only("travel/throttle-range", put("/channels/0/reversed", True))
    assert finding.evidence["high_us"] == pytest.approx(1100, abs=0.3)
    assert finding.at == "/channels/0/reversed"
    assert finding.because
    assert (finding.because.rule, finding.because.at) == ("reversal/throttle", finding.at)


def test_a_throttle_without_travel_is_not_backwards() -> None:
    finding = only(
        "travel/throttle-range", put("/channels/0/travel_percent", {"low": 0, "high": 0})
    )
    assert finding.evidence["high_us"] == finding.evidence["low_us"]
    assert finding.at == "/channels/0/travel_percent"
    assert finding.because is None


def test_what_leaves_the_throttle_s_low_end_too_little_is_to_blame() -> None:
    """80 % of travel end at 1180 µs.  That the cut goes lower is of no help to the stick."""
    finding = only(
        "travel/throttle-range",
        put("/channels/0/travel_percent", {"low": 80, "high": 100}),
        put("/overrides/0/demand_percent", -130),  # 1084 µs
    )
    assert finding.at == "/channels/0/travel_percent"
    assert list(finding.evidence) == ["low_us", "arm_us"]


def test_of_two_settings_that_leave_too_little_power_the_smaller_is_to_blame() -> None:
    finding = only(
        "travel/throttle-range",
        put("/channels/0/rates", [{"rate_percent": 97}]),
        put("/channels/0/travel_percent", {"low": 100, "high": 95}),
    )
    assert finding.at == "/channels/0/travel_percent"


def test_what_the_receiver_mixes_into_a_motor_is_not_to_blame_for_the_power_missed() -> None:
    patch = [put(f"/speed_controls/{i}/full_above_us", 1950) for i in range(4)]
    patch += [put("/channels/1/travel_percent", {"low": 60, "high": 60})]  # roll's
    findings = found("travel/throttle-range", *patch, start="multirotor")
    assert [f.at for f in findings] == [f"/speed_controls/{i}/full_above_us" for i in range(4)]


@pytest.mark.parametrize(
    "patch",
    [
        pytest.param(remove("/speed_controls/0/arm_below_us"), id="arms at no pulse"),
        *(
            pytest.param(
                replace("/overrides/0/when", [{"control": "throttle-stick", **end}]), id=str(end)
            )
            for end in ({"below_percent": -90}, {"above_percent": 90})
        ),
    ],
)
def test_a_throttle_without_an_end_that_counts_covers_what_there_is(patch: Operation) -> None:
    assert found("travel/throttle-range", patch) == []


def test_engine_has_no_speed_control_to_cover() -> None:
    assert found("travel/throttle-range", start="glow") == []


def test_throttle_range_takes_the_best_of_the_other_switches() -> None:
    """A rate that keeps power down in one position does not hide that the other reaches it."""
    soft = [{"control": "rate-switch", "positions": ["soft"]}]
    patch = put("/channels/0/rates", [{"rate_percent": 80, "when": soft}, {"rate_percent": 100}])
    assert found("travel/throttle-range", patch) == []


# --- strokes --------------------------------------------------------------------------------


def on_rudder(**more: Any) -> list[Operation]:
    return [NO_STEPS, *(put(f"/channels/3/{key}", value) for key, value in more.items())]


def traced(patch: list[Operation]) -> Path:
    document = read(patched(clean(), patch))
    assert isinstance(document, Document), document
    return trace(document.setup)


def yaw_mix(low: float, high: float, **more: Any) -> Operation:
    rates = {"low": low, "high": high}
    source = {"control": "yaw-stick"}
    return put("/mixes", [{"name": "yaw", "from": source, "to": 4, "rate_percent": rates, **more}])


@pytest.mark.parametrize(
    "patch",
    [
        pytest.param(on_rudder(), id="straight"),
        pytest.param([*on_rudder(), remove("/channels/3/control"), yaw_mix(60, 40)], id="a mix"),
        pytest.param(
            [*on_rudder(), remove("/channels/3/control"), yaw_mix(-60, 40)], id="a mix that turns"
        ),
        pytest.param(
            [*on_rudder(), remove("/channels/3/control"), yaw_mix(-40, 60)],
            id="a mix that turns, with the larger rate above",
        ),
        pytest.param(
            [*on_rudder(), remove("/channels/3/control"), yaw_mix(40, -60)],
            id="a mix that turns the other way",
        ),
        pytest.param(
            [*on_rudder(), remove("/channels/3/control"), yaw_mix(60, 0)], id="a mix of one side"
        ),
        pytest.param(
            [*on_rudder(), remove("/channels/3/control"), yaw_mix(-1, 1)],
            id="a small mix that turns",
        ),
        pytest.param([*on_rudder(), yaw_mix(0, -150)], id="two ways against each other"),
        pytest.param(
            on_rudder(curves=[{"points": [[-100, 0], [0, 100], [100, 20]]}]), id="a curve"
        ),
        pytest.param(
            on_rudder(
                trim_percent=[
                    {"percent": -60, "when": [{"control": "yaw-stick", "above_percent": 50}]}
                ]
            ),
            id="a trim that the stick itself brings",
        ),
        pytest.param(
            on_rudder(
                trim_percent=[
                    {"percent": 10, "when": [{"control": "rate-switch", "positions": ["soft"]}]},
                    {"percent": -60, "when": [{"control": "yaw-stick", "above_percent": 50}]},
                ]
            ),
            id="beside a trim that a switch brings",
        ),
    ],
)
def test_strokes_are_those_of_going_through_the_movement_step_by_step(
    patch: list[Operation],
) -> None:
    path = traced(patch)
    steps = [position / 2 for position in range(-200, 201)]
    steps += [50.001]  # a condition may begin to hold beyond 50 %
    walked = [path.situation({"yaw-stick": at}).ports[4] for at in steps]
    assert stroke(path.port(4), "yaw-stick", path) == pytest.approx(
        (min(walked), max(walked)), abs=0.5
    )


@pytest.mark.parametrize(
    ("position", "ends"),
    [
        pytest.param("full", None, id="an override holds at rest"),
        pytest.param("soft", (1100, 1900), id="it holds elsewhere"),
    ],
)
def test_there_is_no_stroke_where_an_override_holds_at_rest(
    position: str, ends: tuple[float, float] | None
) -> None:
    still = {
        "name": "rudder still",
        "purpose": "other",
        "channel": 4,
        "demand_percent": 0,
        "when": [{"control": "rate-switch", "positions": [position]}],
    }
    path = traced([NO_STEPS, put("/overrides/-", still)])
    assert stroke(path.port(4), "yaw-stick", path) == ends


@pytest.mark.parametrize(
    ("counts", "kinds"),
    [([5, 5, 5, 2, 2, 2], []), ([4, 4, 4, 4, 4], ["open"])],  # 1000 combinations, and 1024
)
def test_the_largest_rate_is_looked_for_in_a_thousand_combinations(
    counts: list[int], kinds: list[str]
) -> None:
    switches = {
        f"switch-{i}": {"kind": "switch", "positions": [str(at) for at in range(count)]}
        for i, count in enumerate(counts)
    }
    small = {
        "rate_percent": 70,
        "when": [{"control": name, "positions": ["0"]} for name in switches],
    }
    patch = [put(f"/transmitter/controls/{name}", switch) for name, switch in switches.items()]
    patch += on_rudder(rates=[small, {"rate_percent": 100}])
    report = inspected(throw, patched(clean(), patch))
    assert [f.kind for f in report.findings] == kinds


def test_the_full_stroke_is_that_of_the_largest_curve_wherever_its_switch_stands() -> None:
    full = {"control": "rate-switch", "positions": ["full"]}
    small = {"points": [[-100, -50], [100, 50]], "when": [full]}
    patch = on_rudder(curves=[small, {"points": [[-100, -100], [100, 100]]}])
    path = traced(patch)
    assert stroke(path.port(4), "yaw-stick", path) == pytest.approx((1300, 1700))
    assert full_stroke(path.port(4), "yaw-stick", path) == pytest.approx((1100, 1900))


FULL = [{"control": "rate-switch", "positions": ["full"]}]  # where it is at rest


@pytest.mark.parametrize(
    ("patch", "at_rest_us", "largest_us"),
    [
        pytest.param(
            on_rudder(
                curves=[{"points": [[-100, -70], [100, 70]], "when": FULL}],
                rates=[{"rate_percent": 100}],
            ),
            280,
            400,
            id="a curve of 140 % against 100 % both ways",
        ),
        pytest.param(
            on_rudder(
                curves=[{"points": [[-100, -80], [100, 80]], "when": FULL}],
                rates=[{"rate_percent": 60}],
            ),
            320,
            320,
            id="a curve of 160 % against 60 % both ways",
        ),
        *(
            pytest.param(
                [
                    put("/transmitter/controls/knob", {"kind": "knob"}),
                    *on_rudder(
                        rates=[
                            {"rate_percent": 90, "when": [{"control": "knob", **end}]},
                            {"rate_percent": 60},
                        ]
                    ),
                ],
                240,
                360,
                id=f"a rate at the {name} end of a knob",
            )
            for name, end in (("high", {"above_percent": 90}), ("low", {"below_percent": -90}))
        ),
        pytest.param(
            on_rudder(rates=[{"rate_percent": 99.5, "when": FULL}]),
            398,
            400,
            id="a rate against none",
        ),
        pytest.param(
            on_rudder(rates=[{"rate_percent": 100.5, "when": FULL}]),
            402,
            402,
            id="a little more against none",
        ),
    ],
)
def test_curves_and_rates_are_weighed_by_half_their_height(
    patch: list[Operation], at_rest_us: float, largest_us: float
) -> None:
    path = traced(patch)
    for ends, us in ((stroke, at_rest_us), (full_stroke, largest_us)):
        reached = ends(path.port(4), "yaw-stick", path)
        assert reached == pytest.approx((1500 - us, 1500 + us))


# --- what a finding says beyond its message -------------------------------------------------


@pytest.mark.parametrize(
    ("expects", "travel"),
    [({"low_us": 1100}, {"high": 110}), ({"high_us": 1900}, {"low": 110})],
)
def test_an_end_that_the_stabiliser_was_not_told_is_that_of_full_travel(
    expects: dict[str, int], travel: dict[str, int]
) -> None:
    told = put("/receiver/stabiliser/expects", {"yaw": expects})
    assert found("travel/stabilised-axis", NO_STEPS, told) == []
    finding = only(
        "travel/stabilised-axis", NO_STEPS, told, put("/channels/3/travel_percent", travel)
    )
    assert finding.evidence["expected_low_us"] == 1100
    assert finding.evidence["expected_high_us"] == 1900


def test_what_is_told_of_ends_and_of_what_is_lost_has_a_digit_behind_the_point() -> None:
    ends = put("/receiver/stabiliser/expects", {"yaw": {"low_us": 1100, "high_us": 1900}})
    travel = put("/channels/3/travel_percent", {"low": 100.06, "high": 110.06})
    finding = only("travel/stabilised-axis", NO_STEPS, ends, travel)
    assert (finding.evidence["low_us"], finding.evidence["high_us"]) == (1099.8, 1940.2)
    travel = put("/channels/3/travel_percent", {"low": 100, "high": 160.17})
    finding = only("travel/clipped", NO_STEPS, travel)
    # 150 % is reached at 150 / 160.17 of the stick.
    assert finding.evidence["from_percent"] == 93.7
    assert finding.evidence["lost_percent"] == 10.2


def test_a_servo_driven_too_far_with_the_link_lost_weighs_more_than_by_its_stick() -> None:
    finding = only(
        "travel/servo-range",
        NO_STEPS,
        replace("/servos/3/pulse_us", [1150, 1900]),
        replace("/receiver/failsafe/channels/3/output_percent", 90),  # the output is reversed
    )
    assert (finding.word, finding.evidence["us"]) == ("warning", 1140)
    assert finding.fix is None  # the stick's throw would be lost with it


def test_half_a_microsecond_with_the_link_lost_is_not_too_far() -> None:
    """The stick drives the rudder's servo to 1099 µs, failsafe to 1100 µs; it bears 1100.5 µs."""
    finding = only(
        "travel/servo-range",
        *on_rudder(travel_percent={"low": 100, "high": 100.25}),
        put("/receiver/failsafe/channels/3/output_percent", 100),  # the output is reversed
        replace("/servos/3/pulse_us", [1100.5, 2000]),
    )
    assert (finding.word, finding.evidence["us"]) == ("notice", 1099)


def test_each_channel_that_a_port_sums_may_drive_its_servo_too_far() -> None:
    """70 % of roll and pitch are ±560 µs, and with half as much again of roll the limit, ±600 µs.

    The port's own channel is pitch's.
    """
    bears = replace("/servos/1/pulse_us", [930, 2070])
    assert found("travel/servo-range", bears, start="wing") == []
    more_roll = put("/channels/1/travel_percent", {"low": 150, "high": 150})
    finding = only("travel/servo-range", bears, more_roll, start="wing")
    assert finding.at == "/channels/1/travel_percent"


def test_the_pulse_that_a_servo_is_driven_to_is_told_to_a_digit_behind_the_point() -> None:
    finding = only(
        "travel/servo-range",
        replace("/servos/3/pulse_us", [1150, 1901]),
        replace("/receiver/failsafe/channels/3/output_percent", 90.11),  # 1500 − 360.44 µs
    )
    assert finding.evidence["us"] == 1139.6
    assert "to 1139.6 µs, beyond the 1150 µs" in finding.message


@pytest.mark.parametrize(
    ("limit", "wanted"),
    [
        (None, [1150, 1850]),
        ([1000, 2050], [1150, 1850]),
        ([1200, 2050], [1200, 1850]),
        ([1000, 1800], [1150, 1800]),
    ],
)
def test_an_output_is_held_back_to_what_its_servo_bears(
    limit: list[int] | None, wanted: list[int]
) -> None:
    """The gear's output: no surface that a stick moves loses throw by it."""
    finding = only(
        "travel/servo-range",
        put("/channels/-", {"channel": 7, "function": "gear", "control": "rate-switch"}),
        put("/receiver/outputs/-", {"port": 6, "channel": 7}),
        *([put("/receiver/outputs/5/limit_us", limit)] if limit else []),
        put("/servos/-", {"port": 6, "pulse_us": [1150, 1850]}),
    )
    assert finding.fix is not None
    assert finding.fix.patch == (put("/receiver/outputs/5/limit_us", wanted),)


def test_several_sticks_may_lose_a_quarter_at_the_limit() -> None:
    for lost, fails in ((25, 0), (25.56, 1)):
        mixes = [
            {
                "name": "pitch to rudder",
                "from": {"control": "pitch-stick"},
                "to": 4,
                "rate_percent": {"low": 50 + lost, "high": 50 + lost},
            }
        ]
        report = inspected(clipped, patched(clean(), [put("/mixes", mixes), NO_STEPS]))
        assert not report.problems
        told = [f.evidence["lost_percent"] for f in report.findings if "channel 4" in f.message]
        assert told == [25.6] * fails
