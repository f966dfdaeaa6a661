"""Capacity against what is common practice."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import prebind_schemas
from prebind import Inspector

if TYPE_CHECKING:
    from collections.abc import Callable

TEMPLATES = Path(prebind_schemas.__file__).with_name("templates")


@pytest.fixture
def trainer() -> dict[str, Any]:
    return json.loads((TEMPLATES / "trainer.setup.json").read_text("utf-8"))


def fails(document: dict[str, Any], rule: str) -> list[Any]:
    report = Inspector().inspect(document)
    assert not report.problems
    return [f for f in report.findings if f.rule == rule and f.kind == "fail"]


def test_four_functions_flight_mode_and_recovery_need_six_channels(
    trainer: dict[str, Any],
) -> None:
    # Four functions with flight mode and recovery need six channels: common practice, no source.
    trainer["transmitter"]["channels"] = 6
    assert fails(trainer, "capacity/channels") == []
    trainer["transmitter"]["channels"] = 5
    (short,) = fails(trainer, "capacity/channels")
    assert (short.at, short.word) == ("/transmitter/channels", "warning")
    assert short.evidence == {"needed": 6, "there": 5, "channels": [1, 2, 3, 4, 5, 6]}


def test_six_outputs_with_two_selectors_need_eight_channels(trainer: dict[str, Any]) -> None:
    # A receiver of six outputs with two selector inputs wants a transmitter of at least eight;
    # it may take in ten channels and put out six: common practice, no source.
    for port, channel in ((5, 7), (6, 8)):
        trainer["channels"].append({"channel": channel, "function": "lights", "side": port})
    trainer["receiver"]["outputs"][4]["channel"] = 7
    trainer["receiver"]["outputs"].append({"port": 6, "channel": 8})
    assert len(trainer["receiver"]["outputs"]) == 6
    assert trainer["receiver"]["inputs"] == 10
    trainer["transmitter"]["channels"] = 8
    assert fails(trainer, "capacity/channels") == []
    trainer["transmitter"]["channels"] = 7
    (short,) = fails(trainer, "capacity/channels")
    assert (short.evidence["needed"], short.evidence["there"]) == (8, 7)


def test_both_ends_are_counted_by_themselves(trainer: dict[str, Any]) -> None:
    trainer["transmitter"]["channels"] = 5
    trainer["receiver"]["inputs"] = 4
    short = {f.at: f.evidence["there"] for f in fails(trainer, "capacity/channels")}
    assert short == {"/transmitter/channels": 5, "/receiver/inputs": 4}


def test_channels_that_reach_nothing_are_not_needed(trainer: dict[str, Any]) -> None:
    trainer["channels"].append({"channel": 7, "function": "lights"})
    trainer["transmitter"]["channels"] = 8
    assert fails(trainer, "capacity/spare") == []


def test_too_few_channels_are_why_none_is_spare(trainer: dict[str, Any]) -> None:
    trainer["transmitter"]["channels"] = 5
    (spare,) = fails(trainer, "capacity/spare")
    assert (spare.because.rule, spare.because.at) == ("capacity/channels", "/transmitter/channels")
    assert "0 spare" in spare.message
    trainer["transmitter"]["channels"] = 7
    (spare,) = fails(trainer, "capacity/spare")
    assert (spare.because, spare.evidence["spare"]) == (None, 1)


def test_spare_channels_are_counted_in_whole_ones(
    refused: Callable[[str, str, float], bool],
) -> None:
    assert not refused("capacity/spare", "spare", 3)
    assert refused("capacity/spare", "spare", 2.5)


def test_too_few_positions_are_why_a_state_is_out_of_reach(trainer: dict[str, Any]) -> None:
    trainer["transmitter"]["controls"]["mode-switch"]["positions"] = ["back", "forward"]
    (few,) = fails(trainer, "capacity/positions")
    assert few.evidence == {"states": 3, "positions": 2, "controls": ["mode-switch"]}
    assert "its control has only 2 positions" in few.message
    (lost,) = fails(trainer, "bands/unreachable")
    assert lost.at == "/receiver/stabiliser/selectors/0/states/1/band"
    assert (lost.because.rule, lost.because.at) == ("capacity/positions", few.at)


def test_positions_of_several_controls_multiply(trainer: dict[str, Any]) -> None:
    trainer["transmitter"]["controls"]["mode-switch"]["positions"] = ["back", "forward"]
    lift = {"name": "middle", "purpose": "other", "channel": 5, "demand_percent": 0}
    press = {"control": "recovery-button", "positions": ["pressed"]}
    trainer["overrides"].append({**lift, "when": [press]})
    assert fails(trainer, "capacity/positions") == []
    states = trainer["receiver"]["stabiliser"]["selectors"][0]["states"]
    for name, band in (("free", [2100, 2110]), ("bound", [2110, 2120])):
        states.append({"state": name, "behaviour": "other", "band": {"us": band}})
    (few,) = fails(trainer, "capacity/positions")
    assert "has 5 states, but its controls have only 4 positions" in few.message
