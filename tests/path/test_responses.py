"""How a channel answers to a stick, found a second time by going through all positions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path import Path


def path_of(document: dict[str, Any]) -> Path:
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    return prebind.trace(report.setup)


def beside_a_knob(rate: float, knob: float, steps: int | None, **more: Any) -> dict[str, Any]:
    """A rudder that a knob moves too."""
    document = clean("plain")
    document["transmitter"]["output"] = {} if steps is None else {"steps": steps}
    document["transmitter"]["controls"]["knob"] = {"kind": "knob"}
    document["channels"][3] = {
        "channel": 4,
        "function": "rudder",
        "control": "yaw-stick",
        "rates": [{"rate_percent": rate}],
        **more,
    }
    document["mixes"] = [
        {
            "name": "knob to rudder",
            "from": {"control": "knob"},
            "to": 4,
            "rate_percent": {"low": knob, "high": knob},
        }
    ]
    return document


@pytest.mark.parametrize(
    "document",
    [
        pytest.param(beside_a_knob(5, 100, 11), id="steps that the knob brings near"),
        pytest.param(beside_a_knob(5, 6, 11), id="a knob that brings no step near"),
        pytest.param(beside_a_knob(5, 12, 11), id="a knob that brings one near"),
        pytest.param(beside_a_knob(40, 100, 11), id="more than a step"),
        pytest.param(beside_a_knob(30, 140, None), id="a limit that hides it"),
        pytest.param(beside_a_knob(30, 100, None), id="nothing that hides it"),
        pytest.param(
            beside_a_knob(30, 100, None, travel_percent={"low": 0, "high": 100}),
            id="a side without travel",
        ),
        pytest.param(beside_a_knob(5, 55, 11), id="a step between the knob's ends alone"),
        pytest.param(beside_a_knob(5, 55, 11, reversed=True), id="a step between them, downwards"),
        pytest.param(beside_a_knob(0.3, 10, None), id="very little"),
        pytest.param(beside_a_knob(30, 140, 11, reversed=True), id="reversed"),
        pytest.param(
            beside_a_knob(20, 20, 31, subtrim_percent=7, travel_percent={"low": 60, "high": 130}),
            id="shifted and uneven",
        ),
    ],
)
def test_response_to_a_stick(document: dict[str, Any]) -> None:
    path = path_of(document)
    channel = path.channel(4)

    def output(stick: float, knob: float) -> float:
        controls = {**path.rest(), "yaw-stick": stick, "knob": knob}
        return channel.stages(controls).output_percent

    walked = [[output(stick, knob / 4) for stick in (-100, 0, 100)] for knob in range(-400, 401)]
    spans = [round(high - low, 6) for low, _, high in walked]
    response = channel.response("yaw-stick")
    assert set(response.signs) == {(span > 0) - (span < 0) for span in spans}
    assert response.least is not None
    assert response.least.percent == pytest.approx(min(map(abs, spans)), abs=0.3)
    assert response.least_deviation is not None
    deviations = [max(abs(high - rest), abs(low - rest)) for low, rest, high in walked]
    assert response.least_deviation.percent == pytest.approx(min(deviations), abs=0.3)
    for sign, controls in response.signs.items():
        assert -100 <= controls["knob"] <= 100  # type: ignore[operator]
        change = output(100, controls["knob"]) - output(-100, controls["knob"])  # type: ignore[arg-type]
        assert sign == (change > 1e-9) - (change < -1e-9)


def test_a_switch_that_chooses_a_rate_goes_either_way_with_the_stick() -> None:
    document = clean()
    signs = path_of(document).channel(2).response("rate-switch").signs
    assert {-1, 1} <= signs.keys()
    assert signs[-1]["roll-stick"] == 100  # from full to soft, so down where the stick is up
    assert signs[1]["roll-stick"] == -100


def test_a_stick_s_axis_is_that_of_the_first_channel_of_one_axis_that_it_drives() -> None:
    document = clean("plain")
    del document["transmitter"]["controls"]["roll-stick"]["axis"]
    elevon = {"channel": 7, "function": "elevon", "side": "left", "control": "roll-stick"}
    document["channels"].insert(0, elevon)
    path = path_of(document)
    assert path.axis_of("roll-stick") == "roll"
    assert path.sticks("roll") == ("roll-stick",)
