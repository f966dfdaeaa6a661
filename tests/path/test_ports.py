"""What the receiver makes of its channels, worked out by hand.

Without steps a channel gives 1100 to 1900 µs, 400 µs either way of the centre.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path.port import PortPath

PITCH, ROLL = "pitch-stick", "roll-stick"


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


def elevator_port(**output: Any) -> PortPath:
    document = clean("plain")
    del document["channels"][2]["rates"]
    document["receiver"]["outputs"][2] |= output
    return path_of(document).port(3)


@pytest.mark.parametrize(
    ("output", "low", "at_rest", "half_up", "high", "low_stick"),
    [
        ({}, 1100, 1500, 1700, 1900, -100),
        ({"reversed": True}, 1100, 1500, 1300, 1900, 100),
        ({"travel_percent": {"low": 50, "high": 120}}, 1300, 1500, 1740, 1980, -100),
        (
            {"travel_percent": {"low": 50, "high": 120}, "reversed": True},
            1300,  # the stick up is the low side now: half of 400 µs
            1500,
            1400,
            1980,
            100,
        ),
        ({"centre_us": 1520}, 1120, 1520, 1720, 1920, -100),
        ({"limit_us": [1200, 1650]}, 1200, 1500, 1650, 1650, -100),
        (
            {
                "centre_us": 1480,
                "travel_percent": {"low": 100, "high": 50},
                "reversed": True,
                "limit_us": [1100, 1670],
            },
            1100,  # 1480 − 400 is 1080
            1480,
            1280,
            1670,  # 1480 + 200 is 1680
            100,
        ),
    ],
)
def test_reversing_travel_centre_and_limit_of_an_output(
    output: dict[str, Any],
    low: float,
    at_rest: float,
    half_up: float,
    high: float,
    low_stick: float,
) -> None:
    port = elevator_port(**output)
    assert (port.reach.low.us, port.reach.high.us) == (low, high)
    assert port.reach.low.controls == {PITCH: low_stick}
    assert port.reach.high.controls == {PITCH: -low_stick}
    for stick, us in ((low_stick, low), (0, at_rest), (50, half_up), (-low_stick, high)):
        assert port.path.situation({PITCH: stick}).ports[3] == us


def test_an_end_that_the_channel_only_approaches_is_approached_here_too() -> None:
    """From half its way on the stick gives nothing."""
    document = clean("plain")
    document["channels"][2]["rates"] = [
        {"rate_percent": 100, "when": [{"control": PITCH, "below_percent": 50}]},
        {"rate_percent": 0},
    ]
    high = path_of(document).port(3).reach.high
    assert (high.us, high.attained) == (1700, False)
    document["receiver"]["outputs"][2]["reversed"] = True
    low = path_of(document).port(3).reach.low
    assert (low.us, low.attained) == (1300, False)
    document["receiver"]["outputs"][2]["limit_us"] = [1300.5, 2000]
    low = path_of(document).port(3).reach.low
    assert (low.us, low.attained) == (1300.5, True)


def wing(port: int = 2, mixing: str = "elevon", **stabiliser: Any) -> dict[str, Any]:
    """The trainer, its right aileron's port fed by roll and against pitch too."""
    document = clean()
    document["transmitter"]["output"] = {}
    for channel in document["channels"][1:3]:
        del channel["rates"]
    document["receiver"]["stabiliser"] |= {"mixing": mixing, **stabiliser}
    document["receiver"]["stabiliser"]["axes"][1]["ports"] = [{"port": port, "sign": -1}]
    return document


@pytest.mark.parametrize(
    ("stabiliser", "low"),
    [
        # As much of either, so 400 µs of each: clipped at 150 % of the transmitter, 600 µs.
        ({"mix_percent": 100}, 900),
        ({"mix_percent": 50}, 1100),
        ({"mix_percent": 40}, 1180),
        ({"mix_percent": 100, "mix_limit_percent": 110}, 1060),
        ({"mix_percent": 50, "mix_limit_percent": 60}, 1260),
    ],
)
def test_a_port_that_mixes_two_axes(stabiliser: dict[str, Any], low: float) -> None:
    path = path_of(wing(**stabiliser))
    port = path.port(2)
    assert (port.reach.low.us, port.reach.high.us) == (low, 3000 - low)
    for roll, pitch, us in (
        (100.0, 100.0, 1500),
        (100.0, -100.0, 3000 - low),
        (-100.0, 100.0, low),
        (50.0, 0.0, 1500 + 2 * stabiliser["mix_percent"]),
    ):
        assert path.situation({ROLL: roll, PITCH: pitch}).ports[2] == us
    for end in (port.reach.low, port.reach.high):
        assert path.situation(end.controls).ports[2] == end.us
        assert end.attained
    assert {channel.number for channel in port.channels} == {2, 3}
    assert path.port(5).reach.high.us == 1500 + min(
        4 * stabiliser["mix_percent"], 4 * stabiliser.get("mix_limit_percent", 150)
    )


@pytest.mark.parametrize(
    ("mixing", "high", "numbers"),
    [
        ("none", 1900, {4}),
        ("elevon", 1600, {3}),
        ("swashplate", 2000, {3, 4}),
        ("motors", 2000, {3, 4}),
    ],
)
def test_its_own_channel_is_added_where_the_receiver_mixes_rotors(
    mixing: str, high: float, numbers: set[int]
) -> None:
    """Port 4 is the rudder's, and reversed; a quarter of the elevator is mixed into it."""
    document = wing(4, mixing, mix_percent=25)
    document["receiver"]["stabiliser"]["axes"][2]["ports"] = [2]
    port = path_of(document).port(4)
    assert port.reach.high.us == high
    assert {channel.number for channel in port.channels} == numbers


def test_a_port_that_mixes_two_axes_with_some_controls_held() -> None:
    """Half of 400 µs of either; what does not reach the port is left out of account."""
    port = path_of(wing(mix_percent=50)).port(2)
    for fix, low, high in (
        ({ROLL: 100.0}, 1500, 1900),
        ({ROLL: 0.0, "yaw-stick": 50.0}, 1300, 1700),
        ({"yaw-stick": 50.0}, 1100, 1900),
        ({ROLL: 50.0, PITCH: -50.0}, 1700, 1700),
    ):
        found = port.reach_where(fix)
        assert found is not None
        assert (found.low.us, found.high.us) == (low, high)


def test_an_end_that_one_of_two_channels_only_approaches() -> None:
    """From half its way on the pitch stick gives nothing: it lowers by up to 100 µs, not quite."""
    document = wing(mix_percent=50)
    document["channels"][2]["rates"] = [
        {"rate_percent": 100, "when": [{"control": PITCH, "below_percent": 50}]},
        {"rate_percent": 0},
    ]
    reach = path_of(document).port(2).reach
    assert (reach.low.us, reach.low.attained) == (1200, False)
    assert (reach.high.us, reach.high.attained) == (1900, True)


def test_a_port_that_nothing_is_mixed_into_is_its_channel_s_alone() -> None:
    (share,) = elevator_port().shares
    assert (share.channel.number, share.factor) == (3, 1)


def test_a_channel_that_an_axis_brings_already_is_not_added_again() -> None:
    document = wing(3, "swashplate", mix_percent=50)  # the elevator's own port
    shares = path_of(document).port(3).shares
    assert [(share.channel.number, share.factor) for share in shares] == [(3, -0.5)]
    document["receiver"]["stabiliser"]["axes"][0]["ports"] = [3]
    shares = path_of(document).port(3).shares
    assert [(share.channel.number, share.factor) for share in shares] == [(2, 0.5), (3, -0.5)]


@pytest.mark.parametrize(
    ("roll", "pitch", "action", "us"),
    [
        (20, 10, "preset", 1520),  # half of 80 µs, less half of 40 µs
        (20, "hold", "hold", None),
        ("no-pulses", "hold", "hold", None),
        ("no-pulses", 10, "no-pulses", None),
        ("no-pulses", "no-pulses", "no-pulses", None),
        (None, 10, None, None),
        ("hold", None, None, None),
    ],
)
def test_a_port_of_two_channels_when_the_link_is_lost(
    roll: float | str | None, pitch: float | str | None, action: str | None, us: float | None
) -> None:
    document = wing(mix_percent=50)
    document["receiver"]["failsafe"]["channels"] = [
        {"channel": number, "action": it}
        if isinstance(it, str)
        else {"channel": number, "action": "preset", "output_percent": it}
        for number, it in ((2, roll), (3, pitch))
        if it is not None
    ]
    found = path_of(document).port(2).failsafe
    assert (found.action, found.us) == (action, us)
    assert (found.reach is not None) is (action == "hold")


def test_a_preset_goes_through_the_output_alone() -> None:
    """No limit, rounding or sub-trim of the transmitter; the receiver's reversing and centre."""
    document = clean("plain")
    document["transmitter"]["output"] = {"limit_percent": 100, "steps": 11}
    document["channels"][2] |= {"subtrim_percent": 20, "reversed": True}
    document["receiver"]["outputs"][2] |= {"reversed": True, "centre_us": 1510}
    document["receiver"]["failsafe"]["channels"][2]["output_percent"] = 33
    assert path_of(document).port(3).failsafe.us == 1510 - 4 * 33


def test_the_most_that_is_cut_off_of_the_channels_that_feed_a_port() -> None:
    document = wing(mix_percent=50)
    document["channels"][1]["rates"] = [{"rate_percent": 120}]
    document["transmitter"]["output"]["limit_percent"] = 90
    cut = path_of(document).port(2).cut
    assert cut.percent == pytest.approx(30)
    assert set(cut.controls) == {ROLL}
