"""Bands: margins by hand, causes, and what cannot be known."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import prebind_schemas
from prebind import Configuration, Inspector

TEMPLATES = Path(prebind_schemas.__file__).with_name("templates")
SELECTOR = "/receiver/stabiliser/selectors/0"

# The trainer's radio has 2048 values over 900 to 2100 µs: half a step, by hand.
HALF_STEP_US = 1200 / 2047 / 2


@pytest.fixture
def trainer() -> dict[str, Any]:
    return json.loads((TEMPLATES / "trainer.setup.json").read_text("utf-8"))


def found(document: dict[str, Any], rule: str, kind: str = "fail") -> list[Any]:
    report = Inspector().inspect(document)
    assert not report.problems
    return [f for f in report.findings if f.rule == rule and f.kind == kind]


def states(document: dict[str, Any], selector: int = 0) -> list[dict[str, Any]]:
    return document["receiver"]["stabiliser"]["selectors"][selector]["states"]


def mix(to: int, rate: float, **source: Any) -> dict[str, Any]:
    rates = {"low": rate, "high": rate}
    return {"name": f"stray {rate}", "from": source, "to": to, "rate_percent": rates}


def thirds(document: dict[str, Any], first: float, second: float) -> None:
    """Bands from 900 to 2100 µs with two inner edges, in µs."""
    edges = [900, first, second, 2100]
    for state, low, high in zip(states(document), edges, edges[1:], strict=False):
        state["band"] = {"us": [low, high]}


class TestMargins:
    def test_a_switch_of_three_positions_sits_well_in_thirds(self, trainer: dict[str, Any]) -> None:
        # Three positions give −100, 0 and +100 %, and a receiver reads modes in thirds of the
        # range from −100 to +100 %: common practice, no source.
        thirds(trainer, 1500 - 400 / 3, 1500 + 400 / 3)
        rules = ("gap", "overlap", "unreachable", "thin-margin", "same-state")
        assert [f for rule in rules for f in found(trainer, f"bands/{rule}")] == []

    def test_the_margin_is_the_distance_less_half_a_step(self, trainer: dict[str, Any]) -> None:
        del trainer["transmitter"]["output"]["steps"]
        thirds(trainer, 1120, 1700)
        del trainer["receiver"]["failsafe"]
        (thin,) = found(trainer, "bands/thin-margin")
        assert (thin.at, thin.word) == (f"{SELECTOR}/states/0/band", "caution")
        assert thin.evidence == {
            "controls": {"mode-switch": "back"},
            "us": 1100,
            "percent": -100,
            "state": "level",
            "margin_us": pytest.approx(20),
        }
        trainer["transmitter"]["output"]["steps"] = 2048
        (thin,) = found(trainer, "bands/thin-margin")
        # −100 % is 341.17 steps above −150 %: rounded, 341 steps, 1099.90 µs.
        assert thin.evidence["us"] == pytest.approx(900 + 341 * 2 * HALF_STEP_US)
        assert thin.evidence["margin_us"] == pytest.approx(
            1120 - (900 + 341 * 2 * HALF_STEP_US) - HALF_STEP_US
        )

    @pytest.mark.parametrize(("edge", "count"), [(1125.0, 0), (1124.9, 1)])
    def test_twenty_five_microseconds_are_enough(
        self, trainer: dict[str, Any], edge: float, count: int
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]
        trainer["receiver"]["failsafe"]["channels"][4]["output_percent"] = -120
        thirds(trainer, edge, 1700)
        assert len(found(trainer, "bands/thin-margin")) == count

    @pytest.mark.parametrize(("edge", "count"), [(1125.0, 0), (1124.9, 1)])
    def test_twenty_five_microseconds_are_enough_at_failsafe_too(
        self, trainer: dict[str, Any], edge: float, count: int
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]
        trainer["transmitter"]["controls"]["mode-switch"]["values"] = [-50, 60, 100]
        thirds(trainer, edge, 1700)
        margins = found(trainer, "bands/thin-margin")
        assert [f.at for f in margins] == ["/receiver/failsafe/channels/4/output_percent"] * count

    @pytest.mark.parametrize(("state", "band"), [(0, [900, 1110]), (2, [1890, 2100])])
    def test_the_edge_that_is_told_is_the_nearest(
        self, trainer: dict[str, Any], state: int, band: list[int]
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]
        del trainer["receiver"]["failsafe"]
        states(trainer)[state]["band"] = {"us": band}
        (thin,) = found(trainer, "bands/thin-margin")
        assert f"from the edge at {band[1 - state // 2]} µs" in thin.message

    @pytest.mark.parametrize(("state", "band"), [(0, [1100, 1364]), (2, [1636, 1900])])
    def test_at_the_very_end_of_a_band_it_is_that_band(
        self, trainer: dict[str, Any], state: int, band: list[int]
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]
        del trainer["receiver"]["failsafe"]
        states(trainer)[state]["band"] = {"us": band}
        (thin,) = found(trainer, "bands/thin-margin")
        assert (thin.at, thin.evidence["margin_us"]) == (f"{SELECTOR}/states/{state}/band", 0)

    def test_beyond_the_bound_it_is_not_checked(self, trainer: dict[str, Any]) -> None:
        report = Inspector(Configuration(combinations=1)).inspect(trainer)
        assert not report.problems
        margins = [f for f in report.findings if f.rule == "bands/thin-margin"]
        assert {f.kind for f in margins} == {"open"}
        assert all("combinations" in f.message for f in margins)

    def test_position_and_failsafe_are_two_places(self, trainer: dict[str, Any]) -> None:
        thirds(trainer, 1120, 1700)
        at = {f.at: f.evidence["us"] for f in found(trainer, "bands/thin-margin")}
        # A preset is final, so it is not rounded to the radio's steps.
        assert at == {
            f"{SELECTOR}/states/0/band": pytest.approx(1099.90, abs=0.01),
            "/receiver/failsafe/channels/4/output_percent": 1100,
        }

    def test_on_a_shared_end_the_margin_is_nothing(self, trainer: dict[str, Any]) -> None:
        del trainer["transmitter"]["output"]["steps"]
        thirds(trainer, 1300, 1500)
        (thin,) = found(trainer, "bands/thin-margin")
        assert (thin.evidence["state"], thin.evidence["margin_us"]) == ("damped", 0)

    def test_without_a_failsafe_its_margin_is_open(self, trainer: dict[str, Any]) -> None:
        del trainer["receiver"]["failsafe"]
        margins = found(trainer, "bands/thin-margin", "open")
        assert {tuple(f.settles) for f in margins} == {("/receiver/failsafe",)}
        assert found(trainer, "bands/thin-margin") == []


class TestPlaces:
    """A gap is at the first setting that is not as it comes, else at the band next to it."""

    def gap(self, document: dict[str, Any]) -> str:
        (gap,) = found(document, "bands/gap")
        return gap.at

    def test_between_two_bands_it_is_the_first_of_them(self, trainer: dict[str, Any]) -> None:
        states(trainer)[1]["band"]["percent"] = [10, 34]
        assert self.gap(trainer) == f"{SELECTOR}/states/0/band"

    def test_even_values_that_are_written_out_are_not_to_blame(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["transmitter"]["controls"]["mode-switch"]["values"] = [-100, 0, 100]
        states(trainer)[2]["band"]["percent"] = [34, 90]
        assert self.gap(trainer) == f"{SELECTOR}/states/2/band"

    def test_uneven_values(self, trainer: dict[str, Any]) -> None:
        trainer["transmitter"]["controls"]["mode-switch"]["values"] = [-100, 0, 120]
        states(trainer)[2]["band"]["percent"] = [34, 110]
        assert self.gap(trainer) == "/transmitter/controls/mode-switch/values"

    def test_below_all_bands_it_is_the_lowest(self, trainer: dict[str, Any]) -> None:
        states(trainer)[0]["band"] = {"us": [1150, 1364]}
        assert self.gap(trainer) == f"{SELECTOR}/states/0/band"

    @pytest.mark.parametrize(
        "bands",
        [
            pytest.param(([1200, 2100], [1300, 1400], [2000, 2100]), id="begins-first"),
            pytest.param(([900, 1800], [1600, 1700], [900, 1000]), id="ends-last"),
        ],
    )
    def test_of_overlapping_bands_the_nearest_is_the_one_with_the_nearest_edge(
        self, trainer: dict[str, Any], bands: tuple[list[int], ...]
    ) -> None:
        for state, band in zip(states(trainer), bands, strict=True):
            state["band"] = {"us": band}
        assert self.gap(trainer) == f"{SELECTOR}/states/0/band"

    @pytest.mark.parametrize("side", ["low", "high"])
    def test_the_channels_travel(self, trainer: dict[str, Any], side: str) -> None:
        trainer["channels"][4]["travel_percent"] = {"low": 100, "high": 100, side: 120}
        at = 0 if side == "low" else 2
        states(trainer)[at]["band"]["percent"] = [[-110, -34], [], [34, 110]][at]
        assert self.gap(trainer) == "/channels/4/travel_percent"

    def test_the_channels_subtrim(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][4]["subtrim_percent"] = 20
        states(trainer)[2]["band"]["percent"] = [34, 110]
        assert self.gap(trainer) == "/channels/4/subtrim_percent"


class TestCauses:
    def test_a_mix_disturbs_and_opens_a_gap(self, trainer: dict[str, Any]) -> None:
        states(trainer)[2]["band"]["percent"] = [34, 110]
        trainer["mixes"] = [mix(5, 20, control="rate-switch")]
        (gap,) = found(trainer, "bands/gap")
        assert gap.evidence["controls"] == {"mode-switch": "forward", "rate-switch": "soft"}
        assert gap.evidence["us"] == pytest.approx(1980, abs=0.3)
        assert (gap.because.rule, gap.because.at) == ("mixing/into-selector", "/mixes/0")
        (disturbed,) = found(trainer, "bands/disturbed")
        assert disturbed.at == "/mixes/0"
        assert (disturbed.because.rule, disturbed.because.at) == (
            "mixing/into-selector",
            "/mixes/0",
        )
        assert {tuple(disturbed.evidence[key]) for key in ("from_states", "to_states")} == {
            ("damped",),
            (),
        }

    def test_a_gap_that_was_there_without_the_mix_is_not_its_doing(
        self, trainer: dict[str, Any]
    ) -> None:
        states(trainer)[2]["band"]["percent"] = [34, 90]
        trainer["mixes"] = [mix(5, 5, control="rate-switch")]
        (gap,) = found(trainer, "bands/gap")
        assert gap.because is None

    def test_of_several_mixes_the_first_is_told(self, trainer: dict[str, Any]) -> None:
        states(trainer)[2]["band"]["percent"] = [34, 110]
        trainer["mixes"] = [mix(5, 10, control="rate-switch"), mix(5, 11, control="rate-switch")]
        (gap,) = found(trainer, "bands/gap")
        assert gap.because.at == "/mixes/0"

    def test_a_switch_with_too_few_positions_is_why_a_state_is_out_of_reach(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["transmitter"]["controls"]["mode-switch"]["positions"] = ["back", "forward"]
        (lost,) = found(trainer, "bands/unreachable")
        assert (lost.because.rule, lost.because.at) == (
            "capacity/positions",
            "/channels/4/control",
        )
        del states(trainer)[2]  # a position for each state that is left, and one of them lost
        (lost,) = found(trainer, "bands/unreachable")
        assert lost.because is None

    def test_of_two_states_out_of_reach_the_first_is_told(self, trainer: dict[str, Any]) -> None:
        trainer["transmitter"]["controls"]["mode-switch"]["values"] = [-100, -90, -80]
        (same,) = found(trainer, "bands/same-state")
        assert same.at == same.because.at == f"{SELECTOR}/states/1/band"
        assert same.evidence["missing"] == "limited"
        assert "nothing selects “limited”" in same.message

    def test_where_bands_overlap_the_state_that_is_written_first_is_told(
        self, trainer: dict[str, Any]
    ) -> None:
        level, limited, damped = states(trainer)
        level["band"] = limited["band"] = {"percent": [-150, 34]}
        damped["band"] = {"percent": [110, 150]}
        (same,) = found(trainer, "bands/same-state")
        assert same.evidence["state"] == "level"
        assert "both select “level”, while nothing selects “damped”" in same.message

    def test_a_position_given_twice_follows_from_the_state_it_leaves_out(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["transmitter"]["controls"]["mode-switch"]["values"] = [-100, -60, 100]
        (lost,) = found(trainer, "bands/unreachable")
        assert lost.because is None
        (same,) = found(trainer, "bands/same-state")
        assert (same.because.rule, same.because.at) == ("bands/unreachable", lost.at)


class TestDisturbed:
    def test_the_selectors_own_control_never_disturbs(self, trainer: dict[str, Any]) -> None:
        trainer["mixes"] = [mix(5, -50, control="mode-switch")]
        assert found(trainer, "bands/disturbed") == []

    def test_a_phase_in_an_overrides_condition_makes_its_switch_the_selectors_own(
        self, trainer: dict[str, Any]
    ) -> None:
        soft = {"control": "rate-switch", "positions": ["soft"]}
        trainer["phases"] = [{"name": "soft", "when": [soft]}, {"name": "full"}]
        level = {
            "name": "level out",
            "purpose": "other",
            "channel": 5,
            "demand_percent": -100,
            "when": [{"phase": ["soft"]}],
        }
        trainer["overrides"].append(level)
        assert found(trainer, "bands/disturbed") == []

    def test_of_several_controls_only_the_one_that_changes_it_is_named(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["mixes"] = [mix(5, 1, control="cut-switch"), mix(5, 40, control="rate-switch")]
        (disturbed,) = found(trainer, "bands/disturbed")
        assert disturbed.at == "/mixes/1"
        assert "“rate-switch” changes" in disturbed.message
        assert disturbed.evidence["from"]["cut-switch"] == disturbed.evidence["to"]["cut-switch"]

    def test_rates_of_an_input_are_to_blame_where_they_stand(self, trainer: dict[str, Any]) -> None:
        soft = [{"control": "rate-switch", "positions": ["soft"]}]
        rates = [{"rate_percent": 20, "when": soft}, {"rate_percent": 100}]
        trainer["inputs"] = [{"id": "mode", "control": "mode-switch", "rates": rates}]
        trainer["channels"][4]["control"] = "mode"
        (disturbed,) = found(trainer, "bands/disturbed")
        assert (disturbed.at, disturbed.because) == ("/inputs/0/rates", None)

    def test_a_stick_that_shifts_a_knobs_selector_disturbs_it(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["transmitter"]["controls"]["knob"] = {"kind": "knob"}
        trainer["channels"][4]["control"] = "knob"
        assert found(trainer, "bands/disturbed") == []
        trainer["mixes"] = [mix(5, 10, control="yaw-stick")]
        (disturbed,) = found(trainer, "bands/disturbed")
        assert disturbed.at == "/mixes/0"
        assert "“yaw-stick”" in disturbed.message
        assert disturbed.evidence["from"]["knob"] == disturbed.evidence["to"]["knob"]

    @pytest.mark.parametrize(("shift_us", "count"), [(0.4, 0), (0.6, 1)])
    def test_close_to_an_edge_the_least_shift_beyond_rounding_disturbs(
        self, trainer: dict[str, Any], shift_us: float, count: int
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]  # half a microsecond is equality then
        trainer["transmitter"]["controls"]["knob"] = {"kind": "knob"}
        trainer["channels"][4]["control"] = "knob"
        # The switch moves over 200 % of its rate, at 4 µs for each.
        trainer["mixes"] = [mix(5, shift_us / 8, control="rate-switch")]
        assert len(found(trainer, "bands/disturbed")) == count

    @pytest.mark.parametrize(("bound", "kind"), [(456, "pass"), (455, "open")])
    def test_more_combinations_than_the_bound_are_not_checked(
        self, trainer: dict[str, Any], bound: int, kind: str
    ) -> None:
        del trainer["transmitter"]["output"]["steps"]
        trainer["transmitter"]["controls"]["knob"] = {"kind": "knob"}
        trainer["channels"][4]["control"] = "knob"
        # Together the three switches stand in 3 · 2 · 2 = 12 ways, each with a sum of its own, from
        # −0.035 to +0.035 %: a shift of 0.28 µs at most, less than the rounding.
        trainer["mixes"] = [
            mix(5, 0.005, control="mode-switch"),
            mix(5, 0.01, control="rate-switch"),
            mix(5, 0.02, control="cut-switch"),
        ]
        # The knob is held at its two ends and, for each sum, amid the middle band and close to its
        # two edges: 2 + 12 · 3 = 38 places, and in each the switches stand in all 12 ways.
        report = Inspector(Configuration(combinations=bound)).inspect(trainer)
        assert not report.problems
        told = [f for f in report.findings if f.rule == "bands/disturbed"]
        assert [f.kind for f in told] == [kind] * (kind != "pass")
        assert all("in 456 combinations with “flight mode”" in f.message for f in told)

    def test_rates_that_ask_for_no_control_are_not_to_blame(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][4]["rates"] = [{"rate_percent": 100}]
        trainer["mixes"] = [mix(5, 50, control="rate-switch")]
        (disturbed,) = found(trainer, "bands/disturbed")
        assert disturbed.at == "/mixes/0"
        assert "from “level” (1300 µs) to “damped” (1700 µs)" in disturbed.message

    def test_a_selector_without_a_control_of_its_own_is_disturbed_too(
        self, trainer: dict[str, Any]
    ) -> None:
        del trainer["channels"][4]["control"]
        trainer["mixes"] = [mix(5, 50, control="rate-switch")]
        (disturbed,) = found(trainer, "bands/disturbed")
        assert disturbed.at == "/mixes/0"
        assert "With nothing else moved" in disturbed.message


class TestFixes:
    """A fix is offered where that change alone mends it, and nowhere else."""

    def fix(self, document: dict[str, Any], rule: str) -> Any:
        (finding,) = found(document, rule)
        return finding.fix and finding.fix.patch

    def test_a_band_is_let_end_where_the_next_begins(self, trainer: dict[str, Any]) -> None:
        states(trainer)[1]["band"]["percent"] = [-34, 60]
        end = {"op": "replace", "path": f"{SELECTOR}/states/1/band/percent/1", "value": 34}
        assert self.fix(trainer, "bands/overlap") == (end,)

    @pytest.mark.parametrize(
        ("limited", "damped"),
        [
            pytest.param({"percent": [-34, 90]}, {"percent": [40, 60]}, id="one inside the other"),
            pytest.param({"percent": [-34, 60]}, {"percent": [40, 60]}, id="with one end"),
            pytest.param({"percent": [40, 60]}, {"percent": [40, 90]}, id="with one beginning"),
            pytest.param({"percent": [-34, 60]}, {"us": [1636, 2100]}, id="in two units"),
        ],
    )
    def test_bands_that_do_not_follow_each_other_are_left(
        self, trainer: dict[str, Any], limited: dict[str, Any], damped: dict[str, Any]
    ) -> None:
        states(trainer)[1]["band"] = limited
        states(trainer)[2]["band"] = damped
        assert self.fix(trainer, "bands/overlap") is None

    def test_a_channel_that_recovers_at_rest_is_turned(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][5]["reversed"] = True
        back = {"op": "add", "path": "/channels/5/reversed", "value": False}
        assert self.fix(trainer, "bands/recovery-at-rest") == (back,)

    @pytest.mark.parametrize(
        "more",
        [
            pytest.param({"subtrim_percent": 10}, id="sub-trim"),
            pytest.param({"travel_percent": {"low": 90, "high": 100}}, id="uneven travel"),
        ],
    )
    def test_a_lopsided_channel_is_not_turned(
        self, trainer: dict[str, Any], more: dict[str, Any]
    ) -> None:
        trainer["channels"][5].update(more, reversed=True)
        assert self.fix(trainer, "bands/recovery-at-rest") is None

    def test_a_channel_that_others_reach_is_not_turned(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][5]["reversed"] = True
        trainer["mixes"] = [mix(6, 10, control="rate-switch")]
        assert self.fix(trainer, "bands/recovery-at-rest") is None
        trainer["mixes"] = []
        press = {"control": "cut-switch", "positions": ["cut"]}
        call = {"name": "call", "purpose": "other", "channel": 6, "demand_percent": -100}
        trainer["overrides"].append({**call, "when": [press]})
        assert self.fix(trainer, "bands/recovery-at-rest") is None

    def test_where_the_other_end_recovers_too_nothing_is_turned(
        self, trainer: dict[str, Any]
    ) -> None:
        states(trainer, 1)[0]["behaviour"] = "recovery"
        assert self.fix(trainer, "bands/recovery-at-rest") is None


class TestOnTheWay:
    @pytest.mark.parametrize(("acts", "count"), [("last", 0), ("before-mixes", 1)])
    def test_only_an_override_that_acts_last_jumps(
        self, trainer: dict[str, Any], acts: str, count: int
    ) -> None:
        trainer["channels"][4]["slow_s"] = 1.5
        trainer["overrides"].append(
            {
                "name": "home",
                "purpose": "other",
                "channel": 5,
                "demand_percent": 100,
                "when": [{"control": "rate-switch", "positions": ["soft"]}],
                "acts": acts,
            }
        )
        crossed = found(trainer, "bands/on-the-way")
        assert len(crossed) == count
        for finding in crossed:
            assert finding.at == "/channels/4/slow_s"
            assert finding.evidence["state"] == "limited"
            assert "“limited” (1364 to 1636 µs)" in finding.message
            # Back to home: level, over limited, to damped.
            assert finding.evidence["from"] == {"mode-switch": "back", "rate-switch": "full"}
            assert finding.evidence["to"] == {"mode-switch": "back", "rate-switch": "soft"}


class TestRecovery:
    def test_a_mode_switch_may_select_recovery_with_the_button_released(
        self, trainer: dict[str, Any]
    ) -> None:
        states(trainer)[0]["behaviour"] = "recovery"
        recover = {
            "name": "recover",
            "purpose": "other",
            "channel": 5,
            "demand_percent": -100,
            "when": [{"control": "recovery-button", "positions": ["pressed"]}],
        }
        trainer["overrides"].append(recover)
        assert found(trainer, "bands/recovery-at-rest") == []
        recover["when"][0]["positions"] = ["released"]
        (active,) = found(trainer, "bands/recovery-at-rest")
        assert active.evidence["controls"]["recovery-button"] == "released"
        assert active.evidence["state"] == "level"

    def test_of_several_positions_that_recover_the_first_is_told(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["channels"][5]["reversed"] = True
        trainer["mixes"] = [mix(6, 10, control="rate-switch")]
        (active,) = found(trainer, "bands/recovery-at-rest")
        told = {"recovery-button": "released", "rate-switch": "full"}
        assert active.evidence["controls"] == told

    def test_recovery_on_a_switch_that_stays_is_not_judged(self, trainer: dict[str, Any]) -> None:
        positions = ["off", "on"]
        trainer["transmitter"]["controls"]["recovery-button"] = {
            "kind": "switch",
            "positions": positions,
        }
        report = Inspector().inspect(trainer)
        assert "bands/recovery-at-rest" in report.not_applicable

    def test_an_unreachable_recovery_weighs_more_than_another_state(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["transmitter"]["controls"]["recovery-button"]["values"] = [-100, -100]
        trainer["transmitter"]["controls"]["mode-switch"]["values"] = [-100, 0, 0]
        assert {f.at: f.word for f in found(trainer, "bands/unreachable")} == {
            f"{SELECTOR}/states/2/band": "caution",
            "/receiver/stabiliser/selectors/1/states/1/band": "warning",
        }


class TestTolerance:
    """Half a microsecond is rounding, where the radio's steps are not known."""

    @pytest.mark.parametrize(("end", "count"), [(1364.5, 0), (1364.6, 1)])
    def test_of_an_overlap(self, trainer: dict[str, Any], end: float, count: int) -> None:
        del trainer["transmitter"]["output"]["steps"]
        thirds(trainer, 1364, 1636)
        states(trainer)[0]["band"]["us"][1] = end
        assert len(found(trainer, "bands/overlap")) == count

    @pytest.mark.parametrize(("end", "count"), [(1200.5, 0), (1200.6, 1)])
    def test_of_what_is_crossed(self, trainer: dict[str, Any], end: float, count: int) -> None:
        del trainer["transmitter"]["output"]["steps"]
        trainer["channels"][4]["slow_s"] = 1.5
        thirds(trainer, 1364, 1636)
        # Back gives 1100 µs, middle 1500: between them lies a very narrow band.
        there = states(trainer)
        there[0]["band"]["us"] = [900, 1200]
        there[1]["band"]["us"] = [1200, end]
        there[2]["band"]["us"] = [end, 2100]
        crossed = [f for f in found(trainer, "bands/on-the-way") if "limited" in f.message]
        assert len(crossed) == count


class TestNotKnown:
    def test_an_overlap_is_found_though_nobody_knows_what_the_channel_does(
        self, trainer: dict[str, Any]
    ) -> None:
        states(trainer)[0]["band"]["percent"] = [-150, 10]
        trainer["channels"][4]["control"] = "nobody"
        (overlap,) = found(trainer, "bands/overlap")
        assert (overlap.at, overlap.word) == (f"{SELECTOR}/states/0/band", "warning")
        assert "could not be worked out" in overlap.message
        assert [f.at for f in found(trainer, "bands/gap", "open")] == [SELECTOR]

    def test_the_worst_overlap_stands_for_the_selector(self, trainer: dict[str, Any]) -> None:
        # Level and limited overlap where nobody gets, limited and damped where the switch stands.
        states(trainer)[0]["band"]["percent"] = [-150, -20]
        states(trainer)[2]["band"]["percent"] = [-10, 150]
        (overlap,) = found(trainer, "bands/overlap")
        assert overlap.word == "warning"
        assert overlap.at == f"{SELECTOR}/states/1/band"
        assert overlap.evidence["controls"] == {"mode-switch": "middle"}

    def test_without_a_receiver_it_is_open_without_a_stabiliser_it_does_not_apply(
        self, trainer: dict[str, Any]
    ) -> None:
        del trainer["receiver"]["stabiliser"]
        assert found(trainer, "bands/gap", "open") == []
        del trainer["receiver"]
        (gap,) = found(trainer, "bands/gap", "open")
        assert gap.settles == ("/receiver",)
