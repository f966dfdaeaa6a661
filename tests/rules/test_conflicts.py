"""Conflicts: what the rules' own examples cannot say."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import prebind_schemas
from prebind import Inspector

TEMPLATES = Path(prebind_schemas.__file__).with_name("templates")
CUT = {"control": "cut-switch", "positions": ["cut"]}
SOFT = {"control": "rate-switch", "positions": ["soft"]}


def clean(name: str) -> dict[str, Any]:
    return json.loads((TEMPLATES / f"{name}.setup.json").read_text("utf-8"))


@pytest.fixture
def trainer() -> dict[str, Any]:
    return clean("trainer")


def found(document: dict[str, Any], rule: str, kind: str = "fail") -> list[Any]:
    report = Inspector().inspect(document)
    assert not report.problems
    return [f for f in report.findings if f.rule == rule and f.kind == kind]


def mix(name: str, to: int, *, when: Any = (), **source: Any) -> dict[str, Any]:
    rates = {"low": 20, "high": 20}
    return {"name": name, "from": source, "to": to, "rate_percent": rates, "when": list(when)}


class TestControlShared:
    RULE = "conflicts/control-shared"

    def test_evidence_says_what_each_position_does_to_both_jobs(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["channels"].append({"channel": 7, "function": "flap", "control": "cut-switch"})
        (shared,) = found(trainer, self.RULE)
        assert (shared.at, shared.word) == ("/transmitter/controls/cut-switch", "warning")
        assert shared.evidence["at run"] == (
            "channel 7 at -100 %; switches “throttle cut” on channel 1: off"
        )
        assert shared.evidence["at cut"] == (
            "channel 7 at 100 %; switches “throttle cut” on channel 1: on"
        )

    def test_evidence_of_a_slider_gives_its_ends_and_its_rest(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["transmitter"]["controls"]["slider"] = {"kind": "slider"}
        trainer["channels"].append({"channel": 7, "function": "flap", "control": "slider"})
        del trainer["transmitter"]["output"]["steps"]
        above = {"control": "slider", "above_percent": 0}
        trainer["mixes"] = [mix("swing", 4, control="roll-stick", when=[above])]
        (shared,) = found(trainer, self.RULE)
        assert shared.word == "caution"
        swing = "switches the mix “swing” into channel 4"
        assert shared.evidence["at -100 %"] == f"channel 7 at -100 %; {swing}: off"
        # Strictly above 0: the rest itself does not switch the mix on.
        assert shared.evidence["at 0 %"] == f"channel 7 at 0 %; {swing}: off"
        assert shared.evidence["at 100 %"] == f"channel 7 at 100 %; {swing}: on"

    def test_one_cut_for_two_motors_is_one_job(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][0]["side"] = "left"
        trainer["channels"].append(
            {"channel": 7, "function": "throttle", "side": "right", "control": "throttle-stick"}
        )
        cut = trainer["overrides"][0]
        trainer["overrides"].append({**cut, "name": "throttle cut, right", "channel": 7})
        assert found(trainer, self.RULE) == []

    def test_a_second_override_of_another_kind_is_a_second_job(
        self, trainer: dict[str, Any]
    ) -> None:
        cut = trainer["overrides"][0]
        trainer["overrides"].append(
            {**cut, "name": "brake", "purpose": "other", "channel": 4, "demand_percent": 0}
        )
        (shared,) = found(trainer, self.RULE)
        assert shared.word == "warning"
        assert "“throttle cut”" in shared.message
        assert "“brake”" in shared.message

    def test_the_same_mix_to_left_and_right_is_one_job(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][1]["side"] = "right"
        trainer["channels"].append(
            {"channel": 7, "function": "aileron", "side": "left", "control": "roll-stick"}
        )
        trainer["transmitter"]["controls"]["slider"] = {"kind": "slider"}
        trainer["mixes"] = [
            mix("droop right", 2, control="slider"),
            mix("droop left", 7, control="slider"),
        ]
        assert found(trainer, self.RULE) == []
        trainer["mixes"].append(mix("droop to elevator", 3, control="slider"))
        (shared,) = found(trainer, self.RULE)
        assert (shared.at, shared.word) == ("/transmitter/controls/slider", "caution")

    @pytest.mark.parametrize("to_or_from", ["to", "from"])
    def test_a_mix_on_the_very_channel_is_the_same_job(
        self, trainer: dict[str, Any], to_or_from: str
    ) -> None:
        trainer["channels"].append({"channel": 7, "function": "flap", "control": "rate-switch"})
        for channel in trainer["channels"][1:3]:
            channel.pop("rates")
        trainer["mixes"] = [
            mix("brake", 7, control="throttle-stick", when=[SOFT])
            if to_or_from == "to"
            else mix("trim out", 3, channel=7, when=[SOFT])
        ]
        assert found(trainer, self.RULE) == []

    def test_a_rate_on_the_very_channel_is_the_same_job(self, trainer: dict[str, Any]) -> None:
        for channel in trainer["channels"][1:3]:
            channel.pop("rates")
        trainer["channels"].append(
            {
                "channel": 7,
                "function": "flap",
                "control": "rate-switch",
                "rates": [{"rate_percent": 60, "when": [SOFT]}, {"rate_percent": 100}],
            }
        )
        assert found(trainer, self.RULE) == []

    def test_what_belongs_to_the_channel_hides_no_later_job(self, trainer: dict[str, Any]) -> None:
        rates = [{"rate_percent": 60, "when": [SOFT]}, {"rate_percent": 100}]
        own = {"channel": 7, "function": "flap", "control": "rate-switch", "rates": rates}
        trainer["channels"].insert(0, own)
        trainer["mixes"] = [mix("on itself", 7, control="roll-stick", when=[SOFT])]
        trainer["overrides"].append({**trainer["overrides"][0], "when": [SOFT], "name": "second"})
        (shared,) = found(trainer, self.RULE)
        assert len(shared.evidence["jobs"]) == 3
        assert "on itself" not in shared.message
        assert "“second”" in shared.message

    def test_rates_of_another_control_s_input_are_a_job(self, trainer: dict[str, Any]) -> None:
        for channel in trainer["channels"][1:3]:
            channel.pop("rates")
        rates = [{"rate_percent": 60, "when": [SOFT]}, {"rate_percent": 100}]
        trainer["inputs"] = [{"id": "roll", "control": "roll-stick", "rates": rates}]
        trainer["channels"].append({"channel": 7, "function": "flap", "control": "rate-switch"})
        trainer["mixes"] = [mix("roll to rudder", 4, input="roll")]
        (shared,) = found(trainer, self.RULE)
        assert len(shared.evidence["jobs"]) == 2
        trainer["inputs"][0]["control"] = "rate-switch"  # its own rates are no second job
        trainer["mixes"] = []
        assert found(trainer, self.RULE) == []

    def test_a_condition_holds_within_both_its_limits(self, trainer: dict[str, Any]) -> None:
        trainer["transmitter"]["controls"]["slider"] = {"kind": "slider"}
        trainer["channels"].append({"channel": 7, "function": "flap", "control": "slider"})
        del trainer["transmitter"]["output"]["steps"]
        within = [
            {"control": "slider", "above_percent": -50},
            {"control": "slider", "below_percent": 50},
        ]
        below = {"control": "slider", "below_percent": 0}
        trainer["mixes"] = [
            mix("swing", 4, control="roll-stick", when=within),
            mix("sway", 4, control="pitch-stick", when=[below]),
        ]
        (shared,) = found(trainer, self.RULE)
        on = {
            at: [name for name in ("swing", "sway") if f"“{name}” into channel 4: on" in told]
            for at, told in shared.evidence.items()
            if at.startswith("at ")
        }
        assert on == {"at -100 %": ["sway"], "at 0 %": ["swing"], "at 100 %": []}

    def test_evidence_names_the_phase_that_each_position_chooses(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["phases"] = [{"name": "slow", "when": [SOFT]}, {"name": "normal"}]
        (shared,) = found(trainer, self.RULE)
        assert "phase “normal”" in shared.evidence["at full"]
        assert "phase “slow”" in shared.evidence["at soft"]

    def test_a_mix_through_an_input_of_the_control_counts(self, trainer: dict[str, Any]) -> None:
        trainer["inputs"] = [{"id": "soft flap", "control": "rate-switch"}]
        trainer["mixes"] = [mix("flap to elevator", 3, input="soft flap")]
        (shared,) = found(trainer, self.RULE)
        assert "“flap to elevator”" in shared.message
        assert "rates" in shared.message

    def test_a_hold_with_its_phases_own_condition_is_part_of_the_phase(self) -> None:
        helicopter = clean("helicopter")
        hold = {"control": "hold-switch", "positions": ["hold"]}
        helicopter["phases"].insert(0, {"name": "hold", "when": [hold]})
        assert helicopter["overrides"][0]["when"] == [hold]
        assert found(helicopter, self.RULE) == []

    @pytest.mark.parametrize("hold", [[CUT], [{"phase": ["still"]}]], ids=["direct", "by phase"])
    def test_a_cut_in_a_phase_still_may_not_share_with_what_is_not_in_it(
        self, trainer: dict[str, Any], hold: Any
    ) -> None:
        trainer["phases"] = [{"name": "still", "when": [CUT]}, {"name": "flight"}]
        trainer["overrides"][0]["when"] = hold
        assert found(trainer, self.RULE) == []
        trainer["channels"].append({"channel": 7, "function": "lights", "control": "cut-switch"})
        trainer["transmitter"]["controls"]["cut-switch"]["on_purpose"] = "lights off with the motor"
        (shared,) = found(trainer, self.RULE)
        assert shared.word == "warning"
        assert "channel 7 (lights)" in shared.message

    def test_one_job_that_is_done_in_two_ways_is_told_with_both(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["phases"] = [{"name": "still", "when": [CUT]}, {"name": "flight"}]
        trainer["channels"].append({"channel": 7, "function": "lights", "control": "cut-switch"})
        (shared,) = found(trainer, self.RULE)
        assert shared.evidence["jobs"] == [
            "drives channel 7 (lights)",
            "chooses the phase “still” and switches “throttle cut” on channel 1",
        ]

    def test_a_cut_that_asks_for_a_phase_and_more_makes_choosing_the_phase_vital(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["phases"] = [{"name": "still", "when": [CUT]}, {"name": "flight"}]
        low = {"control": "throttle-stick", "below_percent": -90}
        trainer["overrides"][0]["when"] = [{"phase": ["still"]}, low]
        level = {"name": "level", "purpose": "other", "channel": 4, "demand_percent": 0}
        trainer["overrides"].append({**level, "when": [low]})
        trainer["channels"].append({"channel": 7, "function": "lights", "control": "cut-switch"})
        (shared,) = found(trainer, self.RULE)
        assert shared.word == "warning"

    @pytest.mark.parametrize(("purpose", "phase"), [("throttle-cut", "still"), ("other", "slow")])
    def test_choosing_a_phase_that_no_cut_depends_on_is_not_vital(
        self, trainer: dict[str, Any], purpose: str, phase: str
    ) -> None:
        phases = [{"name": "still", "when": [CUT]}, {"name": "slow", "when": [SOFT]}]
        trainer["phases"] = [*phases, {"name": "flight"}]
        trainer["overrides"][0].update(when=[{"phase": [phase]}], purpose=purpose)
        for channel in trainer["channels"][1:3]:
            channel.pop("rates")
        trainer["channels"].append({"channel": 7, "function": "lights", "control": "rate-switch"})
        (shared,) = found(trainer, self.RULE)
        assert (shared.at, shared.word) == ("/transmitter/controls/rate-switch", "caution")

    def test_a_phase_switch_may_have_a_second_job_on_purpose(self) -> None:
        glider = clean("glider")
        glider["channels"].append({"channel": 7, "function": "lights", "control": "phase-switch"})
        (shared,) = found(glider, self.RULE)
        assert shared.word == "caution"
        glider["transmitter"]["controls"]["phase-switch"]["on_purpose"] = "lights for landing"
        assert found(glider, self.RULE) == []

    def test_what_a_recovery_selector_reads_is_recovery_whatever_it_is_called(
        self, trainer: dict[str, Any]
    ) -> None:
        trainer["channels"][5]["function"] = "other"
        trainer["channels"].append(
            {"channel": 7, "function": "lights", "control": "recovery-button"}
        )
        trainer["transmitter"]["controls"]["recovery-button"]["on_purpose"] = "to be seen"
        (shared,) = found(trainer, self.RULE)
        assert shared.word == "warning"

    def test_sticks_may_do_several_jobs(self, trainer: dict[str, Any]) -> None:
        trainer["mixes"] = [mix("roll to yaw", 4, control="roll-stick")]
        assert found(trainer, self.RULE) == []


class TestUnknownName:
    def test_what_depends_on_it_is_open_and_names_the_place(self, trainer: dict[str, Any]) -> None:
        trainer["channels"][4]["control"] = "mode-swich"
        (unknown,) = found(trainer, "conflicts/unknown-name")
        assert (unknown.at, unknown.word) == ("/channels/4/control", "warning")
        (gap,) = found(trainer, "bands/gap", "open")
        assert gap.settles == ("/channels/4/control",)
        assert found(trainer, "bands/gap") == []

    def test_a_number_gets_no_guess(self, trainer: dict[str, Any]) -> None:
        trainer["servos"][0]["port"] = 12
        (unknown,) = found(trainer, "conflicts/unknown-name")
        assert (unknown.at, unknown.message) == ("/servos/0/port", "There is no port 12.")
        assert unknown.fix is None

    def test_a_misspelt_intended_state(self, trainer: dict[str, Any]) -> None:
        trainer["receiver"]["failsafe"]["intended_states"]["flight mode"] = "levels"
        (unknown,) = found(trainer, "conflicts/unknown-name")
        assert unknown.at == "/receiver/failsafe/intended_states/flight mode"
        assert "“level”" in unknown.message


class TestChannels:
    def test_what_follows_from_a_shared_channel_is_open(self, trainer: dict[str, Any]) -> None:
        trainer["channels"].append({"channel": 5, "function": "lights"})
        (shared,) = found(trainer, "conflicts/channel-shared")
        assert shared.at == "/channels/4/channel"
        assert [gap.at for gap in found(trainer, "bands/gap", "open")] == [
            "/receiver/stabiliser/selectors/0"
        ]

    def test_beyond_follows_from_too_few_channels(self, trainer: dict[str, Any]) -> None:
        trainer["transmitter"]["channels"] = 5
        (beyond,) = found(trainer, "conflicts/beyond-transmitter")
        assert (beyond.because.rule, beyond.because.at) == (
            "capacity/channels",
            "/transmitter/channels",
        )

    def test_beyond_by_numbering_alone_follows_from_nothing(self, trainer: dict[str, Any]) -> None:
        trainer["channels"].append({"channel": 14, "function": "lights", "side": 1})
        (beyond,) = found(trainer, "conflicts/beyond-transmitter")
        assert (beyond.word, beyond.because) == ("notice", None)

    def test_every_use_beyond_the_receiver_is_named(self, trainer: dict[str, Any]) -> None:
        trainer["receiver"]["inputs"] = 3
        beyond = {f.at: f.word for f in found(trainer, "conflicts/beyond-receiver")}
        assert beyond == {
            "/receiver/outputs/3/channel": "warning",
            "/receiver/stabiliser/axes/2/channel": "warning",
            "/receiver/stabiliser/selectors/0/channel": "warning",
            "/receiver/stabiliser/selectors/1/channel": "warning",
        }

    def test_two_channels_called_other_are_no_duplicate(self, trainer: dict[str, Any]) -> None:
        trainer["channels"] += [{"channel": n, "function": "other"} for n in (7, 8)]
        assert found(trainer, "conflicts/function-twice") == []

    def test_an_arming_channel_without_a_listener_is_open(self) -> None:
        multirotor = clean("multirotor")
        multirotor["channels"].append({"channel": 7, "function": "arm", "control": "cut-switch"})
        assert found(multirotor, "conflicts/unused") == []
        (unused,) = found(multirotor, "conflicts/unused", "open")
        assert unused.at == "/channels/6"


class TestUnused:
    RULE = "conflicts/unused"

    def unused(self, document: dict[str, Any]) -> Any:
        (unused,) = found(document, self.RULE)
        return unused.fix and unused.fix.patch

    def test_a_channel_that_nothing_names_can_be_left_out(self, trainer: dict[str, Any]) -> None:
        trainer["channels"].append({"channel": 7, "function": "flap", "control": "rate-switch"})
        gone = ({"op": "remove", "path": "/channels/6"},)
        assert self.unused(trainer) == gone
        trainer["mixes"] = [mix("roll to rudder", 4, control="roll-stick")]
        assert self.unused(trainer) == gone
        del trainer["receiver"]["failsafe"]
        assert self.unused(trainer) == gone

    def test_one_that_something_else_names_cannot(self, trainer: dict[str, Any]) -> None:
        trainer["channels"].append({"channel": 7, "function": "flap", "control": "rate-switch"})
        stored = {"channel": 7, "action": "hold"}
        trainer["receiver"]["failsafe"]["channels"].append(stored)
        assert self.unused(trainer) is None
        trainer["receiver"]["failsafe"]["channels"].pop()
        trainer["mixes"] = [mix("into nothing", 9, channel=7)]
        assert self.unused(trainer) is None
        trainer["mixes"] = [mix("into it", 7, control="roll-stick")]
        assert self.unused(trainer) is None
        trainer["mixes"] = []
        up = {"name": "up", "purpose": "other", "channel": 7, "demand_percent": 0, "when": [SOFT]}
        trainer["overrides"].append(up)
        assert self.unused(trainer) is None

    def test_nor_one_that_the_model_cannot_fly_without(self, trainer: dict[str, Any]) -> None:
        trainer["channels"].append({"channel": 7, "function": "elevator", "side": "left"})
        assert self.unused(trainer) is None


class TestPortShared:
    RULE = "conflicts/port-shared"

    def test_y_leads_are_offered_where_all_are_servos(self, trainer: dict[str, Any]) -> None:
        trainer["servos"][1]["port"] = 2
        (shared,) = found(trainer, self.RULE)
        assert shared.fix is not None
        assert [(it["path"], it["value"]) for it in shared.fix.patch] == [
            ("/servos/0/y_lead", True),
            ("/servos/1/y_lead", True),
        ]
        trainer["servos"][1]["port"] = 5
        trainer["servos"][0]["port"] = 1  # with the speed control
        (shared,) = found(trainer, self.RULE)
        assert shared.fix is None


class TestFunctionTwice:
    def test_the_side_is_told(self, trainer: dict[str, Any]) -> None:
        flap = {"function": "flap", "side": "left"}
        trainer["channels"] += [{"channel": 7, **flap}, {"channel": 8, **flap}]
        (twice,) = found(trainer, "conflicts/function-twice")
        assert "The function flap, side left, stands on channels 7 and 8" in twice.message
        for channel in trainer["channels"][6:]:
            del channel["side"]
        (twice,) = found(trainer, "conflicts/function-twice")
        assert "The function flap stands on channels 7 and 8" in twice.message


class TestSelectorMovesServo:
    RULE = "conflicts/selector-moves-servo"

    def test_one_of_two_speed_controls_is_enough(self, trainer: dict[str, Any]) -> None:
        second = {**trainer["speed_controls"][0], "port": 6}
        trainer["speed_controls"].append(second)
        trainer["receiver"]["outputs"].append({"port": 6, "channel": 5})
        (moves,) = found(trainer, self.RULE)
        assert "the speed control on port 6" in moves.message

    def test_without_the_servos_it_is_open(self, trainer: dict[str, Any]) -> None:
        for output in (3, 4):
            trainer["receiver"]["outputs"][output]["channel"] = 5
        del trainer["servos"]
        assert found(trainer, self.RULE) == []
        (unsure,) = found(trainer, self.RULE, "open")
        assert unsure.settles == ("/servos",)
        assert "goes to port 4;" in unsure.message

    def test_an_engine_on_another_port_is_not_moved(self, trainer: dict[str, Any]) -> None:
        del trainer["speed_controls"]
        trainer["model"]["propulsion"] = {"kind": "glow"}
        trainer["engine"] = {"port": 1, "idle_us": [1070, 1160], "stop_below_us": 1040}
        trainer["receiver"]["outputs"].append({"port": 6, "channel": 5})
        assert found(trainer, self.RULE) == []
        trainer["engine"]["port"] = 6
        (moves,) = found(trainer, self.RULE)
        assert "the engine's throttle on port 6" in moves.message

    def test_one_finding_names_all_ports(self, trainer: dict[str, Any]) -> None:
        for output in (3, 4):
            trainer["receiver"]["outputs"][output]["channel"] = 6
        (moves,) = found(trainer, self.RULE)
        assert moves.at == "/receiver/outputs/3/channel"
        assert moves.evidence == {"channel": 6, "ports": [4, 5]}


@pytest.mark.parametrize("known", [True, False])
def test_a_speed_control_is_enough_to_miss_a_throttle(trainer: dict[str, Any], known: bool) -> None:
    del trainer["model"]["propulsion"]
    trainer["channels"][0]["function"] = "other"
    if not known:
        del trainer["speed_controls"]
    missing = found(trainer, "conflicts/function-missing")
    assert [it.evidence["lacks"] for it in missing] == [["no throttle"]] * known
    assert len(found(trainer, "conflicts/function-missing", "open")) == (not known)


@pytest.mark.parametrize(
    ("functions", "missing"),
    [
        (["throttle", "elevon"], []),
        (["throttle", "v-tail"], []),
        (["throttle", "flaperon"], ["no pitch"]),
        (["throttle", "elevator"], ["neither roll nor yaw"]),
        (["throttle", "elevator", "steering"], ["neither roll nor yaw"]),
        (["throttle", "cyclic-pitch", "tail-rotor"], []),
        (["flap"], ["no pitch", "neither roll nor yaw", "no throttle"]),
    ],
)
def test_functions_that_an_airframe_flies_with(
    trainer: dict[str, Any], functions: list[str], missing: list[str]
) -> None:
    # The functions' axes: rulebook.md, conflicts/function-missing.
    trainer["channels"] = [
        {"channel": n, "function": function} for n, function in enumerate(functions, 1)
    ]
    assert [f.evidence["lacks"] for f in found(trainer, "conflicts/function-missing")] == (
        [missing] if missing else []
    )
