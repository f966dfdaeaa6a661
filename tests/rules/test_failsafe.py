"""Failsafe: what the receiver does with a preset, what goes stale, and what cannot be known."""

from __future__ import annotations

from typing import Any

import pytest

from prebind import Configuration, Finding, Inspector, trace
from prebind.testing import clean, inspected, patched
from prebind_rules.failsafe.hard_over import hard_over
from prebind_rules.failsafe.slow import slow

ENTRIES = "/receiver/failsafe/channels"


def inspect(document: dict[str, Any]) -> list[Finding]:
    report = Inspector().inspect(document)
    assert report.problems == ()
    return list(report.findings)


def found(document: dict[str, Any], rule: str, kind: str = "fail") -> list[Finding]:
    return [f for f in inspect(document) if f.rule == f"failsafe/{rule}" and f.kind == kind]


def entry(document: dict[str, Any], channel: int) -> dict[str, Any]:
    return document["receiver"]["failsafe"]["channels"][channel - 1]


def set_action(document: dict[str, Any], channel: int, action: str) -> None:
    del entry(document, channel)["output_percent"]
    entry(document, channel)["action"] = action


@pytest.fixture
def trainer() -> dict[str, Any]:
    return clean()


class TestMissing:
    def test_each_channel_is_a_finding(self, trainer: dict[str, Any]) -> None:
        trainer["receiver"]["failsafe"]["channels"] = []
        fails = found(trainer, "missing")
        assert {f.at for f in fails} == {ENTRIES}
        assert [(f.evidence["channel"], f.word, f.evidence["for"]) for f in fails] == [
            (1, "danger", "throttle"),
            (2, "warning", "aileron"),
            (3, "warning", "elevator"),
            (4, "warning", "rudder"),
            (5, "warning", "flight mode"),
            (6, "warning", "recovery"),
        ]
        assert len({f.fingerprint for f in fails}) == 6

    def test_whatever_drives_a_motor_is_a_throttle(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["function"] = "other"
        del trainer["receiver"]["failsafe"]["channels"][0]
        (fail,) = found(trainer, "missing")
        assert (fail.word, fail.evidence["channel"]) == ("danger", 1)

    def test_the_preset_that_mends_it_stops_the_motor(self, trainer: dict[str, Any]) -> None:
        # Reversed at both ends, so that low stick is +100 % at the transmitter.
        trainer["channels"][0]["reversed"] = True
        trainer["receiver"]["outputs"][0]["reversed"] = True
        del trainer["receiver"]["failsafe"]["channels"][0]
        (fail,) = found(trainer, "missing")
        assert fail.fix is not None
        assert fail.fix.applies == "decide"
        assert fail.fix.patch[0]["value"]["output_percent"] == pytest.approx(100, abs=0.1)
        mended = patched(trainer, fail.fix.patch)
        assert found(mended, "missing") == []
        assert found(mended, "motor-runs") == []

    def test_nothing_is_offered_that_does_not_stop_the_motor(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["reversed"] = True
        del trainer["receiver"]["failsafe"]["channels"][0]
        (fail,) = found(trainer, "missing")
        assert fail.fix is None

    def test_every_motor_on_the_channel_must_stop(self, trainer: dict[str, Any]) -> None:
        second = {**trainer["speed_controls"][0], "port": 6}
        trainer["speed_controls"].append(second)
        trainer["receiver"]["outputs"].append({"port": 6, "channel": 1})
        del trainer["receiver"]["failsafe"]["channels"][0]
        (fail,) = found(trainer, "missing")
        assert fail.fix is not None
        second.update(stop_below_us=1050, arm_below_us=1050)  # low stick gives 1100 µs
        (fail,) = found(trainer, "missing")
        assert fail.fix is None

    def test_the_stick_is_low_where_it_is_for_the_first_motor_on_the_channel(
        self, trainer: dict[str, Any]
    ) -> None:
        # The second one may run backwards, but its output goes no lower than its centre.
        second = {"port": 6, "stopped_us": [1450, 1550], "full_above_us": 1880}
        trainer["speed_controls"].append(second)
        travel = {"low": 0, "high": 100}
        trainer["receiver"]["outputs"].append({"port": 6, "channel": 1, "travel_percent": travel})
        del trainer["receiver"]["failsafe"]["channels"][0]
        (fail,) = found(trainer, "missing")
        assert fail.fix is not None
        assert fail.fix.patch[0]["value"]["output_percent"] == -100

    def test_what_is_offered_has_a_digit_behind_the_point(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["travel_percent"] = {"low": 97.26, "high": 100}
        del trainer["transmitter"]["output"]["steps"]
        del trainer["receiver"]["failsafe"]["channels"][0]
        (fail,) = found(trainer, "missing")
        assert fail.fix is not None
        assert fail.fix.patch[0]["value"]["output_percent"] == -97.3

    def test_nothing_is_offered_that_is_not_known(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["control"] = "nobody"
        entry(trainer, 1)["output_percent"] = 0
        (fail,) = found(trainer, "motor-runs")
        assert fail.fix is None

    def test_nothing_is_offered_that_is_beyond_the_bound(self, trainer: dict[str, Any]) -> None:
        entry(trainer, 1)["output_percent"] = 0
        trainer["mixes"] = [
            {
                "name": f"stray {at}",
                "from": {"control": "rate-switch"},
                "to": 1,
                "rate_percent": {"low": 1, "high": 1},
                "when": [
                    {"control": "mode-switch", "positions": [at]},
                    {"control": "throttle-stick", "above_percent": 0},
                ],
            }
            for at in ("back", "middle")
        ]
        report = Inspector(Configuration(combinations=2)).inspect(trainer)
        assert report.problems == ()
        (fail,) = [f for f in report.findings if f.rule == "failsafe/motor-runs"]
        assert (fail.kind, fail.fix) == ("fail", None)


class TestMotorRuns:
    def test_a_preset_is_final(self, trainer: dict[str, Any]) -> None:
        # No rounding to the transmitter's steps: 1150.4 µs and 1150 µs.
        entry(trainer, 1)["output_percent"] = -87.4
        (fail,) = found(trainer, "motor-runs")
        assert fail.at == f"{ENTRIES}/0/output_percent"
        assert fail.evidence["us"] == pytest.approx(1150.4)
        assert fail.evidence["margin_us"] == pytest.approx(-0.4)
        entry(trainer, 1)["output_percent"] = -87.5
        assert found(trainer, "motor-runs") == []

    def test_of_two_motors_the_one_that_runs_fastest_is_told(self, trainer: dict[str, Any]) -> None:
        second = {**trainer["speed_controls"][0], "port": 6}
        second.update(stop_below_us=1050, arm_below_us=1050)
        trainer["speed_controls"].append(second)
        trainer["receiver"]["outputs"].append({"port": 6, "channel": 1})
        entry(trainer, 1)["output_percent"] = -50
        (fail,) = found(trainer, "motor-runs")
        assert (fail.evidence["port"], fail.evidence["margin_us"]) == (6, -250)

    def test_through_the_receivers_part(self, trainer: dict[str, Any]) -> None:
        output = trainer["receiver"]["outputs"][0]
        output["travel_percent"] = {"low": 50}
        (fail,) = found(trainer, "motor-runs")
        assert fail.evidence["us"] == 1300  # 1500 − 400 × 50 %
        output["limit_us"] = [1000, 1140]
        assert found(trainer, "motor-runs") == []

    def test_follows_from_a_reversed_output(self, trainer: dict[str, Any]) -> None:
        trainer["receiver"]["outputs"][0]["reversed"] = True
        (fail,) = found(trainer, "motor-runs")
        assert fail.because is not None
        assert (fail.because.rule, fail.because.at) == (
            "reversal/throttle",
            "/receiver/outputs/0/reversed",
        )

    def test_four_motors_on_one_channel_are_one_finding(self) -> None:
        document = clean("multirotor")
        entry(document, 1)["output_percent"] = -50
        (fail,) = found(document, "motor-runs")
        assert "its own channel alone" in fail.message

    @pytest.mark.parametrize("lacks", ["the purpose", "an entry"])
    def test_recovery_that_is_not_chosen_at_failsafe_is_no_excuse(
        self, trainer: dict[str, Any], lacks: str
    ) -> None:
        entry(trainer, 1)["output_percent"] = 100
        entry(trainer, 6)["output_percent"] = 100
        assert found(trainer, "motor-runs") == []  # recovery is on: for a person to judge
        if lacks == "an entry":
            del trainer["receiver"]["failsafe"]["channels"][5]
        else:
            trainer["receiver"]["stabiliser"]["selectors"][1]["purpose"] = "other"
        (fail,) = found(trainer, "motor-runs")
        assert fail.evidence["state"] == "full"

    def test_recovery_that_is_only_held_is_no_excuse(self, trainer: dict[str, Any]) -> None:
        entry(trainer, 1)["output_percent"] = -50
        entry(trainer, 6)["output_percent"] = 100
        assert found(trainer, "motor-runs") == []
        (review,) = found(trainer, "motor-runs", "review")
        assert review.at == f"{ENTRIES}/0/output_percent"
        set_action(trainer, 5, "hold")
        assert found(trainer, "motor-runs") == []
        set_action(trainer, 6, "hold")
        (fail,) = found(trainer, "motor-runs")
        assert fail.word == "danger"

    def test_each_of_two_entries_is_judged(self, trainer: dict[str, Any]) -> None:
        twice = {"channel": 1, "action": "preset", "output_percent": 0}
        trainer["receiver"]["failsafe"]["channels"].append(twice)
        (fail,) = found(trainer, "motor-runs")
        assert (fail.at, fail.evidence["us"]) == (f"{ENTRIES}/6/output_percent", 1500)

    def test_without_speed_controls_nothing_passes(self, trainer: dict[str, Any]) -> None:
        del trainer["speed_controls"]
        (unknown,) = found(trainer, "motor-runs", "open")
        assert unknown.settles == ("/speed_controls",)


class TestThrottleHolds:
    def test_hold_needs_no_motor_to_be_wrong(self, trainer: dict[str, Any]) -> None:
        set_action(trainer, 1, "hold")
        del trainer["speed_controls"], trainer["model"]["propulsion"]
        (fail,) = found(trainer, "throttle-holds")
        assert (fail.at, fail.word) == (f"{ENTRIES}/0/action", "danger")

    def test_the_fix_is_a_preset_that_stops(self, trainer: dict[str, Any]) -> None:
        set_action(trainer, 1, "hold")
        (fail,) = found(trainer, "throttle-holds")
        assert fail.fix is not None
        mended = patched(trainer, fail.fix.patch)
        assert entry(mended, 1) == {
            "channel": 1,
            "action": "preset",
            "output_percent": pytest.approx(-100, abs=0.1),
        }
        assert [f for f in inspect(mended) if f.kind == "fail"] == []

    @pytest.mark.parametrize(
        ("missing", "settles"),
        [
            ("/speed_controls/0/on_signal_loss", ("/speed_controls/0/on_signal_loss",)),
            ("/speed_controls", ("/speed_controls", "/engine")),
        ],
    )
    def test_silence_is_judged_by_the_speed_control(
        self, trainer: dict[str, Any], missing: str, settles: tuple[str, ...]
    ) -> None:
        set_action(trainer, 1, "no-pulses")
        assert found(trainer, "throttle-holds") == []
        document = patched(trainer, [{"op": "remove", "path": missing}])
        (unknown,) = found(document, "throttle-holds", "open")
        assert unknown.settles == settles


class TestState:
    def test_the_fix_is_the_middle_of_the_band(self, trainer: dict[str, Any]) -> None:
        entry(trainer, 5)["output_percent"] = 100
        (fail,) = found(trainer, "state")
        assert (fail.at, fail.word) == (f"{ENTRIES}/4/output_percent", "warning")
        assert fail.evidence == {
            "action": "preset",
            "percent": 100,
            "us": 1900,
            "states": ["damped"],
            "intended": "level",
        }
        assert fail.fix is not None
        assert fail.fix.patch[0]["value"] == -92  # between −150 and −34 %

    def test_held_or_silent_it_is_undetermined(self, trainer: dict[str, Any]) -> None:
        set_action(trainer, 5, "hold")
        (fail,) = found(trainer, "state")
        assert fail.at == f"{ENTRIES}/4/action"
        assert "level or limited or damped" in fail.message
        entry(trainer, 5)["action"] = "no-pulses"
        (fail,) = found(trainer, "state")
        assert "no pulses" in fail.message

    def test_held_where_only_one_state_can_be(self, trainer: dict[str, Any]) -> None:
        set_action(trainer, 5, "hold")
        trainer["transmitter"]["controls"]["mode-switch"]["values"] = [-100, -90, -80]
        assert found(trainer, "state") == []
        trainer["receiver"]["failsafe"]["intended_states"]["flight mode"] = "damped"
        (fail,) = found(trainer, "state")
        assert (fail.at, fail.evidence["states"]) == (f"{ENTRIES}/4/action", ["level"])

    def test_two_states_are_not_the_wanted_one(self, trainer: dict[str, Any]) -> None:
        states = trainer["receiver"]["stabiliser"]["selectors"][0]["states"]
        states[1]["band"] = {"percent": [-120, 34]}
        (fail,) = found(trainer, "state")
        assert fail.evidence["states"] == ["level", "limited"]

    def test_what_is_not_recorded(self, trainer: dict[str, Any]) -> None:
        intended = trainer["receiver"]["failsafe"]["intended_states"]
        trainer["receiver"]["stabiliser"]["selectors"][0]["name"] = "mode a/b"
        del intended["flight mode"]
        (unknown,) = found(trainer, "state", "open")
        assert unknown.settles == ("/receiver/failsafe/intended_states/mode a~1b",)
        del trainer["receiver"]["failsafe"]["channels"][4]
        (unknown,) = found(trainer, "state", "open")
        assert unknown.settles == (ENTRIES,)


class TestStale:
    @pytest.fixture
    def signed(self, trainer: dict[str, Any]) -> dict[str, Any]:
        setup = Inspector().inspect(trainer).setup
        assert setup is not None
        proven = {
            "check": "failsafe",
            "by": "Ada Sandpiper",
            "on": "2026-03-01",
            "digest": trace(setup).digest("failsafe"),
        }
        trainer["sign_offs"] = [{**proven, "on": "2026-02-01", "digest": "0" * 64}, proven]
        return trainer

    def test_signed_off_as_it_is(self, signed: dict[str, Any]) -> None:
        signed["model"]["name"] = "Curlew 1500"
        signed["channels"][2]["rates"][0]["expo_percent"] = 35
        assert found(signed, "stale") == []
        assert found(signed, "stale", "open") == []

    @pytest.mark.parametrize(
        ("pointer", "value"),
        [
            ("/channels/0/travel_percent", {"low": 98, "high": 100}),
            ("/channels/0/reversed", True),
            ("/channels/0/trim_percent", 2),
            ("/receiver/outputs/0/centre_us", 1495),
        ],
    )
    def test_the_throttle_has_changed(
        self, signed: dict[str, Any], pointer: str, value: object
    ) -> None:
        document = patched(signed, [{"op": "add", "path": pointer, "value": value}])
        (fail,) = found(document, "stale")
        assert (fail.at, fail.word) == ("/sign_offs/1/digest", "warning")
        assert "2026-03-01" in fail.message
        document["receiver"]["failsafe"]["stored"] = "by-menu"
        assert found(document, "stale") == []


class TestSurfaces:
    def test_half_of_full_to_either_side(self, trainer: dict[str, Any]) -> None:
        # The radio's 2048 values have none at zero: neutral is judged before rounding.
        for percent, fails in ((50, 0), (-50, 0), (50.1, 1), (-50.1, 1)):
            entry(trainer, 2)["output_percent"] = percent
            assert inspected(hard_over, trainer).outcomes["fail"] == fails
        assert inspected(hard_over, trainer, from_neutral_percent=60).outcomes["fail"] == 0

    def test_the_fix_is_the_trimmed_neutral(self) -> None:
        document = clean("glow")
        document["channels"][3]["subtrim_percent"] = 8.26
        entry(document, 4)["output_percent"] = -60
        (fail,) = found(document, "hard-over")
        assert fail.evidence == {"percent": -60, "neutral_percent": 8.3, "us": 1260}
        assert fail.fix is not None
        assert fail.fix.patch == (
            {"op": "replace", "path": f"{ENTRIES}/3/output_percent", "value": 8.3},
        )

    def test_flaps_may_go_where_their_switch_puts_them(self) -> None:
        document = clean("glider")  # flap switch: 0, 40 and 100 %
        for percent in (0, 40, 100):
            entry(document, 6)["output_percent"] = percent
            assert found(document, "configuration-jumps") == []
        entry(document, 6)["output_percent"] = 70
        (fail,) = found(document, "configuration-jumps")
        assert (fail.at, fail.word) == (f"{ENTRIES}/5/output_percent", "caution")
        assert fail.evidence == {"percent": 70, "us": 1780, "away_us": 120}
        entry(document, 6)["output_percent"] = 90.01  # a hundredth more than 10 % from full flaps
        (fail,) = found(document, "configuration-jumps")
        assert fail.evidence["away_us"] == 40

    @pytest.mark.parametrize("percent", [-90, 90])
    def test_beyond_what_a_slider_gives_the_nearer_end_counts(self, percent: float) -> None:
        document = clean("glider")
        document["transmitter"]["controls"]["slider"] = {"kind": "slider"}
        flaps = document["channels"][5]
        del flaps["curves"]
        flaps.update(control="slider", travel_percent={"low": 50, "high": 50})
        entry(document, 6)["output_percent"] = percent
        (fail,) = found(document, "configuration-jumps")
        assert fail.evidence["away_us"] == pytest.approx(160, abs=0.6)

    def test_rounding_is_no_jump(self) -> None:
        document = clean("glider")
        # Eleven values from −150 to +150 %: 40 % becomes 30 %, and 100 % becomes 90 %.
        document["transmitter"]["output"]["steps"] = 11
        entry(document, 6)["output_percent"] = 90 + 14.9  # within half a step of 30 %
        assert found(document, "configuration-jumps") == []
        entry(document, 6)["output_percent"] = 90 + 15.1
        (fail,) = found(document, "configuration-jumps")
        assert fail.evidence["away_us"] == pytest.approx(60.4)


class TestSlow:
    def test_limits_of_different_bodies(self, trainer: dict[str, Any]) -> None:
        # A turbine shuts down within 2 s of signal loss (MAAC); a joint turbine code of 2008
        # allows 3 s.
        trainer["receiver"]["failsafe"]["delay_s"] = 2.5
        (fail,) = found(trainer, "slow")
        assert (fail.at, fail.word) == ("/receiver/failsafe/delay_s", "caution")
        assert fail.evidence == {"delay_s": 2.5, "longest_s": 2}
        assert "60 m" in fail.message  # 2.5 s at 24 m/s
        assert inspected(slow, trainer, longest_s=3).outcomes["fail"] == 0

    def test_a_delay_that_is_not_recorded(self, trainer: dict[str, Any]) -> None:
        del trainer["receiver"]["failsafe"]["delay_s"]
        (unknown,) = found(trainer, "slow", "open")
        assert unknown.settles == ("/receiver/failsafe/delay_s",)


@pytest.mark.parametrize("section", ["receiver", "failsafe"])
def test_without_a_failsafe_nothing_passes(trainer: dict[str, Any], section: str) -> None:
    del (trainer if section == "receiver" else trainer["receiver"])[section]
    answers = {f.rule: f for f in inspect(trainer) if f.rule.startswith("failsafe/")}
    assert {rule: f.kind for rule, f in answers.items()} == dict.fromkeys(
        (
            "failsafe/configuration-jumps",
            "failsafe/hard-over",
            "failsafe/missing",
            "failsafe/motor-runs",
            "failsafe/slow",
            "failsafe/stale",
            "failsafe/state",
            "failsafe/surface-limp",
            "failsafe/throttle-holds",
        ),
        "open",
    )
    wanted = "/receiver" if section == "receiver" else "/receiver/failsafe"
    assert {f.settles for f in answers.values()} == {(wanted,)}
