"""Throttle: combinations, what is to blame, what follows from what, and what cannot be known."""

from __future__ import annotations

from typing import Any

import pytest

from prebind import Finding, Inspector
from prebind.testing import clean, inspected, patched
from prebind_rules.throttle.thin_margin import thin_margin

# The trainer's radio has 2048 values over 900 to 2100 µs; the speed control stops at 1150 µs.
STEP_US = 1200 / 2047


def found(document: dict[str, Any], rule: str, kind: str = "fail") -> list[Finding]:
    report = Inspector().inspect(document)
    assert report.problems == ()
    return [f for f in report.findings if f.rule == f"throttle/{rule}" and f.kind == kind]


def cause(finding: Finding) -> tuple[str, str] | None:
    return finding.because and (finding.because.rule, finding.because.at)


@pytest.fixture
def trainer() -> dict[str, Any]:
    return clean()


@pytest.fixture
def twin() -> dict[str, Any]:
    """Two motors on two channels, cut by two overrides on one switch."""
    document = clean()
    left, right = document["channels"][0], {**document["channels"][0], "channel": 7}
    document["channels"].append(right)
    left["side"], right["side"] = "left", "right"
    document["receiver"]["outputs"].append({"port": 6, "channel": 7})
    document["speed_controls"].append({**document["speed_controls"][0], "port": 6})
    document["overrides"].append({**document["overrides"][0], "name": "right cut", "channel": 7})
    preset = {"channel": 7, "action": "preset", "output_percent": -100}
    document["receiver"]["failsafe"]["channels"].append(preset)
    return document


@pytest.fixture
def reversible(trainer: dict[str, Any]) -> dict[str, Any]:
    """A speed control that stops in the middle, and so do its cut and its failsafe."""
    del trainer["transmitter"]["output"]["steps"]
    control = trainer["speed_controls"][0]
    del control["stop_below_us"], control["arm_below_us"]
    control["stopped_us"] = [1470, 1530]
    trainer["overrides"][0]["demand_percent"] = 0
    trainer["receiver"]["failsafe"]["channels"][0]["output_percent"] = 0
    return trainer


def adding_from_nothing_on(most_percent: float, else_percent: float) -> dict[str, Any]:
    """The glow model, whose knob adds from just beside 0 up to so much, and below that the other.

    So the pulse comes as near as you like to where it were without the knob, and is never there.
    """
    document = clean("glow")
    document["transmitter"]["controls"]["knob"] = {"kind": "knob"}
    mix = {"from": {"control": "knob"}, "to": 1}
    above = [{"control": "knob", "above_percent": 0}]
    rate, none = {"low": 0, "high": most_percent}, {"low": 0, "high": 0}
    document["mixes"] = [
        {**mix, "name": "else", "rate_percent": none, "offset_percent": else_percent},
        {**mix, "name": "up", "rate_percent": rate, "offset_percent": -else_percent, "when": above},
    ]
    return document


class TestLowRuns:
    def test_evidence(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["travel_percent"] = {"low": 80}
        (fail,) = found(trainer, "low-runs")
        assert (fail.word, fail.at) == ("danger", "/channels/0/travel_percent/low")
        # −80 % is 477.6 steps above −150 %: rounded, 478.
        us = 900 + 478 * STEP_US
        assert fail.evidence == {
            "controls": {"throttle-stick": -100, "cut-switch": "run"},
            "port": 1,
            "us": round(us, 1),
            "stop_us": 1150,
            "margin_us": round(1150 - us, 1),
            "state": "running",
            "attained": True,
        }

    @pytest.mark.parametrize(
        ("patch", "at"),
        [
            (("/channels/0/subtrim_percent", 15), "/channels/0/subtrim_percent"),
            (("/channels/0/trim_percent", 15), "/channels/0/trim_percent"),
            (
                ("/channels/0/rates", [{"rate_percent": 80}]),
                "/channels/0/rates/0/rate_percent",
            ),
            (
                ("/channels/0/curves", [{"points": [[-100, -60], [100, 100]]}]),
                "/channels/0/curves/0/points",
            ),
            (
                ("/receiver/outputs/0/travel_percent", {"low": 70}),
                "/receiver/outputs/0/travel_percent/low",
            ),
            (("/receiver/outputs/0/centre_us", 1600), "/receiver/outputs/0/centre_us"),
            (("/speed_controls/0/stop_below_us", 1090), "/channels/0"),
            (("/speed_controls/0/stop_below_us", 1099), "/channels/0"),  # by 1 µs, a quarter of 1 %
        ],
    )
    def test_the_setting_to_blame(
        self, trainer: dict[str, Any], patch: tuple[str, Any], at: str
    ) -> None:
        document = patched(trainer, [{"op": "add", "path": patch[0], "value": patch[1]}])
        (fail,) = found(document, "low-runs")
        assert fail.at == at

    def test_a_shaped_input_to_blame(self, trainer: dict[str, Any]) -> None:
        trainer["inputs"] = [{"id": "power", "control": "throttle-stick", "trim_percent": 15}]
        trainer["channels"][0]["control"] = "power"
        (fail,) = found(trainer, "low-runs")
        assert fail.at == "/inputs/0/trim_percent"

    @pytest.mark.parametrize(
        ("low", "stop_us", "at"),
        [
            (99, 1103, "/channels/0/travel_percent/low"),  # 1104 µs, and 1100 at full travel
            (80, 1103, "/channels/0/travel_percent/low"),
            (80, 1099, "/channels/0"),
        ],
    )
    def test_full_travel_is_100_percent(
        self, trainer: dict[str, Any], low: int, stop_us: int, at: str
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]
        trainer["channels"][0]["travel_percent"] = {"low": low}
        trainer["speed_controls"][0]["stop_below_us"] = stop_us
        (fail,) = found(trainer, "low-runs")
        assert fail.at == at

    def test_more_than_full_travel_to_blame(self) -> None:
        document = clean("glow")
        document["channels"][0]["travel_percent"] = {"low": 101}  # 1096 µs
        document["engine"]["idle_us"] = [1098, 1160]
        (fail,) = found(document, "low-stops-engine")
        assert fail.at == "/channels/0/travel_percent/low"

    def test_an_input_has_no_travel_to_blame(self, trainer: dict[str, Any]) -> None:
        trainer["inputs"] = [{"id": "power", "control": "throttle-stick"}]
        trainer["channels"][0]["control"] = "power"
        trainer["speed_controls"][0]["stop_below_us"] = 1090
        (fail,) = found(trainer, "low-runs")
        assert fail.at == "/channels/0"

    def test_only_the_one_of_several_is_to_blame(self, trainer: dict[str, Any]) -> None:
        full = [{"control": "rate-switch", "positions": ["full"]}]
        rates = [{"rate_percent": 100, "when": full}, {"rate_percent": 80}]
        trainer["channels"][0]["rates"] = rates
        (fail,) = found(trainer, "low-runs")
        assert fail.at == "/channels/0/rates/1/rate_percent"
        del trainer["channels"][0]["rates"]
        mix = {"name": "a little", "from": {"control": "mode-switch"}, "to": 1}
        trainer["mixes"] = [
            {**mix, "rate_percent": {"low": 2, "high": 2}},
            {**mix, "name": "too much", "rate_percent": {"low": 0, "high": 30}},
        ]
        (fail,) = found(trainer, "low-runs")
        assert fail.at == "/mixes/1"

    def test_four_motors_on_one_channel_are_one_finding(self) -> None:
        document = clean("multirotor")
        document["channels"][0]["trim_percent"] = 20
        (fail,) = found(document, "low-runs")
        assert fail.at == "/channels/0/trim_percent"
        # The receiver mixes roll, pitch and yaw into each motor's port.
        assert "port 1 (its own channel alone: the receiver mixes)" in fail.message

    def test_follows_from_a_reversed_throttle(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["reversed"] = True
        (fail,) = found(trainer, "low-runs")
        assert cause(fail) == ("reversal/throttle", "/channels/0/reversed")
        (trim,) = found(trainer, "trim-live")
        assert cause(trim) == ("throttle/low-runs", "/channels/0/reversed")

    def test_an_engine_about_to_stop(self) -> None:
        document = clean("glow")
        document["channels"][0]["trim_percent"] = -10
        (fail,) = found(document, "low-runs")
        # 1060 µs: neither at or below 1040 µs, nor within 1070 to 1160 µs.
        assert (fail.evidence["us"], fail.evidence["state"]) == (1060, "running")
        told = "between the 1040 µs that stop the engine and its idle at 1070 µs"
        assert told in fail.message
        assert cause(fail) == ("throttle/low-stops-engine", "/channels/0/trim_percent")

    def test_how_far_an_engine_is_above_its_idle_has_a_digit_behind_the_point(self) -> None:
        document = clean("glow")
        document["channels"][0]["travel_percent"] = {"low": 79.935}  # 1180.26 µs
        (fail,) = found(document, "low-runs")
        told = "1180.3 µs, 20.3 µs above the 1160 µs up to which the engine idles"
        assert told in fail.message

    def test_how_far_a_reversible_motor_is_off_has_a_digit_behind_the_point(
        self, reversible: dict[str, Any]
    ) -> None:
        for trim, told in (
            (-8.065, "1467.7 µs, 2.3 µs below the 1470 µs"),  # 1467.74 µs
            (8.065, "1532.3 µs, 2.3 µs above the 1530 µs"),
        ):
            reversible["channels"][0]["trim_percent"] = trim
            (fail,) = found(reversible, "low-runs")
            assert told in fail.message

    def test_of_motors_on_one_channel_the_first_stands_for_all(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["speed_controls"].append({**trainer["speed_controls"][0], "port": 6})
        trainer["receiver"]["outputs"].append({"port": 6, "channel": 1})
        trainer["channels"][0]["control"] = "nobody"
        (unknown,) = found(trainer, "low-runs", "open")
        assert unknown.at == "/speed_controls/0"

    def test_an_engine_that_comes_next_to_its_idle_from_below_is_about_to_stop(self) -> None:
        document = adding_from_nothing_on(-20, -10)
        document["channels"][0]["travel_percent"] = {"low": 107.5}  # 1070 µs, where it idles
        (fail,) = found(document, "low-runs")
        assert (fail.evidence["us"], fail.evidence["attained"]) == (1070, False)
        assert cause(fail) == ("throttle/low-stops-engine", "/channels/0")

    def test_an_engine_under_a_stop_that_always_holds_has_no_low_end(self) -> None:
        document = clean("glow")
        document["overrides"][0]["when"][0]["positions"] = ["run", "cut"]
        assert found(document, "low-stops-engine") == []

    def test_an_engine_is_judged_by_its_own_channel_where_the_receiver_mixes(self) -> None:
        # The design of the signal path: with `motors` the port's own channel alone is judged.
        document = clean("glow")
        axis = {"axis": "roll", "channel": 2, "ports": [1], "sense": "normal"}
        document["receiver"]["stabiliser"] = {"axes": [axis], "mixing": "motors"}
        assert found(document, "low-stops-engine") == []
        document["channels"][0]["trim_percent"] = -10  # 1060 µs, below the idle at 1070 µs
        (fail,) = found(document, "low-stops-engine")
        assert fail.evidence["us"] == 1060

    def test_a_reversible_motor_stops_in_the_middle(self, reversible: dict[str, Any]) -> None:
        assert found(reversible, "low-runs") == []
        reversible["channels"][0]["trim_percent"] = -8  # 1468 µs
        (fail,) = found(reversible, "low-runs")
        assert "1468 µs, 2 µs below the 1470 µs" in fail.message

    def test_a_phase_at_rest_is_never_meant_to_run_the_motor(self) -> None:
        document = clean("helicopter")
        (review,) = found(document, "low-runs", "review")
        assert review.at == "/channels/0/curves/0/points"
        document["transmitter"]["controls"]["idle-up-switch"]["positions"].reverse()
        (fail,) = found(document, "low-runs")
        assert fail.at == "/channels/0/curves/0/points"

    def test_a_phase_may_keep_the_motor_running_through_an_input_too(self) -> None:
        document = clean("helicopter")
        throttle = document["channels"][0]
        power = {"id": "power", "control": throttle["control"], "curves": throttle.pop("curves")}
        document["inputs"] = [power]
        throttle["control"] = "power"
        (review,) = found(document, "low-runs", "review")
        assert review.at == "/inputs/0/curves/0/points"

    @pytest.mark.parametrize("phases", [[["idle-up"]], [["idle-up", "normal"], ["idle-up"]]])
    def test_a_phase_may_keep_the_motor_running_through_a_mix_too(
        self, phases: list[list[str]]
    ) -> None:
        document = clean("helicopter")
        del document["channels"][0]["curves"][0]
        power = {
            "name": "power",
            "from": {"control": "throttle-stick"},
            "to": 1,
            "rate_percent": {"low": 0, "high": 0},
            "offset_percent": 80,
            "when": [{"phase": names} for names in phases],
        }
        document["mixes"] = [power]
        (review,) = found(document, "low-runs", "review")
        assert review.at == "/mixes/0"
        assert found(document, "low-runs") == []

    def test_a_phase_excuses_no_other(self) -> None:
        document = clean("helicopter")
        document["channels"][0]["curves"][1]["points"][0] = [-100, -80]
        (fail,) = found(document, "low-runs")
        assert fail.word == "danger"

    def test_an_unknown_motor_hides_no_other(self, twin: dict[str, Any]) -> None:
        twin["channels"][0]["control"] = "no-such-stick"
        twin["channels"][6]["travel_percent"] = {"low": 80}
        (unknown,) = found(twin, "low-runs", "open")
        (fail,) = found(twin, "low-runs")
        assert (unknown.at, fail.at) == ("/speed_controls/0", "/channels/6/travel_percent/low")


class TestCutRuns:
    def test_all_motors_count(self, twin: dict[str, Any]) -> None:
        assert found(twin, "cut-runs") == []
        del twin["overrides"][1]
        (fail,) = found(twin, "cut-runs")
        assert fail.at == "/overrides/0/channel"
        assert fail.evidence["port"] == 6
        assert fail.evidence["controls"] == {"throttle-stick": 100, "cut-switch": "cut"}
        assert fail.evidence["state"] == "full"

    def test_an_engine_that_comes_next_to_where_it_stops_is_told_so(self) -> None:
        document = adding_from_nothing_on(20, 10)
        document["overrides"][0].update(demand_percent=-115, acts="before-mixes")  # 1040 µs
        (fail,) = found(document, "cut-runs")
        assert (fail.evidence["us"], fail.evidence["attained"]) == (1040, False)
        assert "0 µs above the 1040 µs at which the engine stops" in fail.message

    def test_an_unknown_motor_hides_no_other(self, twin: dict[str, Any]) -> None:
        twin["channels"][0]["control"] = "no-such-stick"
        del twin["overrides"][1]
        (fail,) = found(twin, "cut-runs")
        assert fail.evidence["port"] == 6

    def test_whatever_is_mixed_in(self, trainer: dict[str, Any]) -> None:
        lift = {
            "name": "power for the mode",
            "from": {"control": "mode-switch"},
            "to": 1,
            "rate_percent": {"low": 0, "high": 40},
        }
        trainer["mixes"] = [lift]
        assert found(trainer, "cut-runs") == []
        trainer["overrides"][0]["acts"] = "before-mixes"
        (fail,) = found(trainer, "cut-runs")
        assert fail.at == "/overrides/0/acts"
        assert fail.evidence["controls"] == {"mode-switch": "forward", "cut-switch": "cut"}
        assert fail.evidence["us"] == pytest.approx(1500 - 4 * 60, abs=STEP_US)
        assert fail.fix is not None
        assert fail.fix.applies == "decide"
        assert found(patched(trainer, fail.fix.patch), "cut-runs") == []

    def test_an_earlier_override_wins(self, trainer: dict[str, Any]) -> None:
        tow = {
            "name": "tow power",
            "purpose": "other",
            "channel": 1,
            "demand_percent": 50,
            "when": [{"control": "rate-switch", "positions": ["soft"]}],
        }
        trainer["overrides"].insert(0, tow)
        (fail,) = found(trainer, "cut-runs")
        assert fail.evidence["controls"] == {"rate-switch": "soft", "cut-switch": "cut"}

    def test_a_cut_on_the_stick_alone_is_none(self, trainer: dict[str, Any]) -> None:
        trainer["overrides"][0]["when"] = [{"control": "throttle-stick", "below_percent": -95}]
        (fail,) = found(trainer, "cut-runs")
        assert (fail.at, fail.fix) == ("/overrides/0/when", None)
        assert fail.evidence["controls"]["throttle-stick"] == 100

    def test_the_fix_leaves_the_switch(self, trainer: dict[str, Any]) -> None:
        low = {"control": "throttle-stick", "below_percent": -90}
        trainer["overrides"][0]["when"].insert(0, low)
        (fail,) = found(trainer, "cut-runs")
        assert fail.fix is not None
        assert fail.fix.patch == ({"op": "remove", "path": "/overrides/0/when/0"},)

    @pytest.mark.parametrize(("stop_us", "demand"), [(1100, -100), (1040, -125), (950, -150)])
    def test_the_fix_is_the_gentlest_demand_that_stops(
        self, trainer: dict[str, Any], stop_us: int, demand: float
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]
        trainer["speed_controls"][0].update(stop_below_us=stop_us, arm_below_us=stop_us)
        trainer["overrides"][0]["demand_percent"] = -50
        (fail,) = found(trainer, "cut-runs")
        assert fail.fix is not None
        assert [it["value"] for it in fail.fix.patch] == [demand]

    def test_a_cut_that_is_never_on(self, trainer: dict[str, Any]) -> None:
        trainer["overrides"][0]["when"] += [{"control": "cut-switch", "positions": ["run"]}]
        (fail,) = found(trainer, "cut-runs")
        assert (fail.at, fail.word) == ("/overrides/0/when", "danger")
        assert "never" in fail.message

    def test_follows_from_nothing_where_no_stick_is_known_to_be_low(
        self, trainer: dict[str, Any]
    ) -> None:
        del trainer["transmitter"]["controls"]["throttle-stick"], trainer["channels"][0]["control"]
        trainer["overrides"][0]["demand_percent"] = -50
        (fail,) = found(trainer, "cut-runs")
        assert cause(fail) is None

    def test_follows_from_a_short_travel(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["travel_percent"] = {"low": 80}
        (fail,) = found(trainer, "cut-runs")
        assert cause(fail) == ("throttle/low-runs", "/channels/0/travel_percent/low")

    def test_a_trim_that_is_not_all_is_not_the_cause(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["trim_percent"] = 20
        trainer["overrides"][0]["demand_percent"] = -80  # 1180 µs, whatever the trim
        (fail,) = found(trainer, "cut-runs")
        assert fail.because is None

    def test_a_reversible_motor_runs_backwards(self, reversible: dict[str, Any]) -> None:
        assert found(reversible, "cut-runs") == []
        reversible["overrides"][0]["demand_percent"] = -100
        (fail,) = found(reversible, "cut-runs")
        assert "370 µs below the 1470 µs" in fail.message
        assert fail.fix is not None
        assert fail.fix.patch[0]["value"] == 0


class TestCutSprung:
    def test_through_a_phase(self, trainer: dict[str, Any]) -> None:
        pressed = {"control": "recovery-button", "positions": ["pressed"]}
        trainer["phases"] = [{"name": "kill", "when": [pressed]}, {"name": "flight"}]
        trainer["overrides"][0]["when"] = [{"phase": ["kill"]}]
        (fail,) = found(trainer, "cut-sprung")
        assert (fail.at, fail.word) == ("/overrides/0/when/0/phase", "danger")
        assert fail.evidence == {"controls": {"recovery-button": "released"}}

    def test_beside_a_switch_that_stays(self, trainer: dict[str, Any]) -> None:
        back = {"control": "mode-switch", "positions": ["back"]}
        pressed = {"control": "recovery-button", "positions": ["pressed"]}
        trainer["overrides"][0]["when"] = [back, pressed]
        (fail,) = found(trainer, "cut-sprung")
        assert fail.at == "/overrides/0/when/1/control"

    def test_a_stick_that_stays_does_not_spring(self, trainer: dict[str, Any]) -> None:
        trainer["overrides"][0]["when"] += [{"control": "throttle-stick", "below_percent": -90}]
        assert found(trainer, "cut-sprung") == []
        trainer["transmitter"]["controls"]["throttle-stick"]["sprung"] = True
        assert found(trainer, "cut-sprung") == []  # at rest the throttle stick is low
        trainer["overrides"][0]["when"][1]["control"] = "yaw-stick"
        (fail,) = found(trainer, "cut-sprung")
        assert fail.at == "/overrides/0/when/1/control"


class TestStartsLive:
    def test_a_cut_must_be_on_in_the_first_position_of_each_of_its_switches(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["transmitter"]["start_checks"] = ["first-positions"]
        full = {"control": "rate-switch", "positions": ["full"]}
        trainer["overrides"][0]["when"] = [full]
        assert found(trainer, "starts-live") == []
        trainer["overrides"][0]["when"].append({"control": "cut-switch", "positions": ["cut"]})
        (fail,) = found(trainer, "starts-live")
        assert fail.evidence["start_checks"] == ["first-positions"]


class TestThinMargin:
    def test_the_club_chooses_the_margin(self, trainer: dict[str, Any]) -> None:
        # Low stick and cut: −100 %, rounded to 341 steps above 900 µs; the failsafe is exact.
        margin = 1150 - (900 + 341 * STEP_US)
        assert inspected(thin_margin, trainer, margin_us=50).outcomes["fail"] == 0
        report = inspected(thin_margin, trainer, margin_us=50.05)
        assert [f.at for f in report.findings] == [
            "/receiver/failsafe/channels/0/output_percent",
        ]
        assert margin == pytest.approx(50.1, abs=0.01)

    @pytest.mark.parametrize(("preset", "fails"), [(-90, 0), (-89.975, 1)])
    def test_ten_microseconds_are_enough(
        self, trainer: dict[str, Any], preset: float, fails: int
    ) -> None:
        # 1140 µs is 10 µs below the stopping point, 1140.1 µs is 9.9 µs.
        trainer["receiver"]["failsafe"]["channels"][0]["output_percent"] = preset
        assert inspected(thin_margin, trainer).outcomes["fail"] == fails

    def test_of_two_motors_the_thinnest_margin_is_told(self, trainer: dict[str, Any]) -> None:
        del trainer["transmitter"]["output"]["steps"]
        for limits in ({"stop_below_us": 1120}, {"stop_below_us": 1110, "port": 6}):
            trainer["speed_controls"].append({**trainer["speed_controls"][0], **limits})
        del trainer["speed_controls"][0]
        trainer["receiver"]["outputs"].append({"port": 6, "channel": 1})
        report = inspected(thin_margin, trainer, margin_us=30)
        told = [f.evidence["margin_us"] for f in report.findings]
        assert told
        assert set(told) == {10}

    def test_both_sides_of_a_reversible_motor(self, reversible: dict[str, Any]) -> None:
        for demand in (-6, 6):  # 1476 and 1524 µs, within 1470 to 1530 µs
            reversible["overrides"][0]["demand_percent"] = demand
            (fail,) = found(reversible, "thin-margin")
            assert fail.at == "/overrides/0/demand_percent"
            assert fail.evidence["margin_us"] == 6

    def test_an_idling_engine_has_no_margin_to_keep(self) -> None:
        document = clean("glow")
        document["overrides"][0]["demand_percent"] = -116  # 1036 µs, stopped at 1040 µs
        (fail,) = found(document, "thin-margin")
        assert fail.at == "/overrides/0/demand_percent"
        assert fail.evidence["margin_us"] == 4


class TestTrimLive:
    def test_the_lever_replaces_the_trim_as_it_stands(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["trim_percent"] = [
            {"percent": -20, "when": [{"control": "rate-switch", "positions": ["soft"]}]}
        ]
        trainer["channels"][0]["trim_range_percent"] = 15
        (fail,) = found(trainer, "trim-live")
        assert (fail.at, fail.word) == ("/channels/0/trim_range_percent", "danger")
        assert fail.evidence["us"] == pytest.approx(1500 - 4 * 85, abs=STEP_US)
        assert fail.evidence["trim_percent"] == 15
        assert fail.because is None

    def test_a_phase_made_to_run_is_left_alone(self) -> None:
        document = clean("helicopter")
        document["channels"][0]["trim_range_percent"] = 5
        assert found(document, "trim-live") == []
        document["channels"][0]["trim_range_percent"] = 15
        (fail,) = found(document, "trim-live")
        assert fail.because is None

    def test_four_motors_on_one_channel_are_one_finding(self) -> None:
        document = clean("multirotor")
        document["channels"][0]["trim_range_percent"] = 15
        (fail,) = found(document, "trim-live")
        assert fail.at == "/channels/0/trim_range_percent"


class TestWhatIsNotRecorded:
    @pytest.mark.parametrize(
        "rule", ["low-runs", "cut-runs", "trim-live", "thin-margin", "low-stops-engine"]
    )
    def test_without_speed_controls_nothing_passes(
        self, trainer: dict[str, Any], rule: str
    ) -> None:
        del trainer["speed_controls"]
        (unknown,) = found(trainer, rule, "open")
        assert unknown.settles == ("/speed_controls",)

    def test_an_empty_list_is_no_proof(self, trainer: dict[str, Any]) -> None:
        trainer["speed_controls"] = []
        (unknown,) = found(trainer, "cut-runs", "open")
        assert unknown.at == "/overrides/0"

    @pytest.mark.parametrize("rule", ["no-cut", "starts-live"])
    def test_what_drives_the_model(self, trainer: dict[str, Any], rule: str) -> None:
        del trainer["model"]["propulsion"], trainer["overrides"]
        trainer["transmitter"]["start_checks"] = []
        assert found(trainer, rule) == []
        (unknown,) = found(trainer, rule, "open")
        assert unknown.settles == ("/model/propulsion/kind",)

    @pytest.mark.parametrize(
        ("rule", "pointer"),
        [
            ("trim-live", "/channels/0/trim_range_percent"),
            ("releases-live", "/overrides/0/release"),
            ("starts-live", "/transmitter/start_checks"),
        ],
    )
    def test_the_key_that_settles_it(
        self, trainer: dict[str, Any], rule: str, pointer: str
    ) -> None:
        document = patched(trainer, [{"op": "remove", "path": pointer}])
        (unknown,) = found(document, rule, "open")
        assert unknown.settles == (pointer,)
        assert unknown.bench

    def test_a_glider_without_motor_is_left_alone(self) -> None:
        document = clean("plain")
        document["model"]["propulsion"] = {"kind": "none"}
        for rule in ("no-cut", "low-runs", "trim-live", "starts-live"):
            assert found(document, rule, "open") == []
            assert found(document, rule) == []


class TestNoCut:
    def test_an_aeroplane_and_a_helicopter(self) -> None:
        document = clean("helicopter")
        assert found(document, "no-cut") == []
        document["overrides"][0]["purpose"] = "throttle-cut"
        assert found(document, "no-cut") == []
        document["model"]["airframe"] = "aeroplane"
        assert found(document, "no-cut") == []
        document["overrides"][0]["purpose"] = "throttle-hold"
        (fail,) = found(document, "no-cut")
        assert (fail.at, fail.word) == ("/overrides", "danger")
