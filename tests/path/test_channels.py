"""One channel step by step, worked out by hand from signal path's steps 1 to 10."""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.testing import clean

CUT = [{"control": "cut-switch", "positions": ["cut"]}]
HALF_UP: dict[str, str | float] = {"yaw-stick": 50.0, "pitch-stick": 100.0, "cut-switch": "run"}


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


def rudder(*overrides: dict[str, Any], **channel: Any) -> dict[str, Any]:
    """Half of the yaw stick, a tenth of the pitch stick and 3 of trim; the channel is reversed."""
    document = clean("plain")
    document["transmitter"]["output"] = {}
    document["channels"][3] |= {"rates": [{"rate_percent": 50}], "trim_percent": 3} | channel
    document["mixes"] = [
        {
            "name": "pitch to yaw",
            "from": {"control": "pitch-stick"},
            "to": 4,
            "rate_percent": {"low": 20, "high": 10},
        }
    ]
    document["overrides"] = [
        {"name": str(i), "purpose": "other", "channel": 4, "when": CUT} | it
        for i, it in enumerate(overrides)
    ]
    return document


LAST = {"demand_percent": 40}
BEFORE = {"demand_percent": 60, "acts": "before-mixes"}


@pytest.mark.parametrize(
    ("overrides", "switch", "mixed", "demand", "us"),
    [
        ([], "run", 35, 38, 1348),
        ([LAST], "run", 35, 38, 1348),
        ([LAST], "cut", 35, 40, 1340),  # mixes and trim are replaced, too
        ([BEFORE], "cut", 70, 73, 1208),  # 60 and the mix's 10, and the trim
        ([BEFORE], "run", 35, 38, 1348),
        ([BEFORE, LAST], "cut", 70, 40, 1340),
        ([LAST, LAST | {"demand_percent": 90}], "cut", 35, 40, 1340),  # the first that holds
        ([BEFORE, BEFORE | {"demand_percent": 90}], "cut", 70, 73, 1208),
        ([LAST | {"when": []}], "run", 35, 40, 1340),
    ],
)
def test_shape_mixes_trim_and_overrides(
    overrides: list[dict[str, Any]], switch: str, mixed: float, demand: float, us: float
) -> None:
    path = path_of(rudder(*overrides))
    stages = path.situation(HALF_UP | {"cut-switch": switch}).channels[4]
    assert (stages.shape, stages.mixed, stages.demand, stages.us) == (25, mixed, demand, us)
    fixed = path.channel(4).reach_where(HALF_UP | {"cut-switch": switch})
    assert fixed is not None
    assert (fixed.low.us, fixed.high.us) == (us, us)


@pytest.mark.parametrize(
    ("overrides", "low", "high"),
    [
        # −50 − 20 + 3 to 50 + 10 + 3, reversed.
        ([], -63, 67),
        ([LAST], -63, 67),
        ([LAST | {"demand_percent": 90}], -90, 67),
        ([BEFORE], -73, 67),  # 60 + 10 + 3
        ([BEFORE | {"demand_percent": -60}], -63, 77),  # −60 − 20 + 3
    ],
)
def test_what_it_can_put_out(overrides: list[dict[str, Any]], low: float, high: float) -> None:
    channel = path_of(rudder(*overrides)).channel(4)
    assert (channel.reach.low.value, channel.reach.high.value) == (low, high)
    assert channel.free is not None
    assert (channel.free.low.value, channel.free.high.value) == (-63, 67)
    for end in (channel.reach.low, channel.reach.high):
        everywhere = channel.path.rest() | dict(end.controls)
        assert channel.path.situation(everywhere).channels[4].output_percent == end.value


def test_what_decides_on_an_override_may_decide_on_rates_too() -> None:
    """A quarter of the stick, half of it, or 10 %, by one switch."""
    positions = [[{"control": "three", "positions": [it]}] for it in "abc"]
    rates = [
        {"rate_percent": 25, "when": positions[0]},
        {"rate_percent": 50, "when": positions[1]},
    ]
    document = rudder(LAST | {"when": positions[2], "demand_percent": 10}, rates=rates)
    document["channels"][3]["trim_percent"] = 0
    document["transmitter"]["controls"]["three"] = {"kind": "switch", "positions": list("abc")}
    document["mixes"] = []
    channel = path_of(document).channel(4)
    assert (channel.reach.low.value, channel.reach.high.value) == (-50, 50)
    assert channel.reach.high.controls == {"three": "b", "yaw-stick": -100}


def test_a_stick_may_decide_on_the_override_of_its_own_channel() -> None:
    """At 60 % itself the override does not hold, and half the stick, reversed, is −30 %."""
    above = [{"control": "yaw-stick", "above_percent": 60}]
    document = rudder(LAST | {"when": above, "demand_percent": 0}, trim_percent=0)
    document["mixes"] = []
    channel = path_of(document).channel(4)
    assert channel.free is not None
    for low in (channel.reach.low, channel.free.low):
        assert (low.value, low.attained, low.controls) == (-30, True, {"yaw-stick": 60})


def test_with_another_trim() -> None:
    """8 instead of the 3 that are recorded; an override that acts last knows no trim."""
    channel = path_of(rudder(LAST | {"demand_percent": -90})).channel(4)
    for trim, low, high in ((None, -63, 90), (8, -68, 90), (0, -60, 90), (-30, -30, 100)):
        found = channel.reach_where(trim_percent=trim)
        assert found is not None
        assert (found.low.value, found.high.value) == (low, high)
    untrimmed = path_of(rudder(trim_percent=0)).channel(4).reach_where(trim_percent=5)
    assert untrimmed is not None
    assert (untrimmed.low.value, untrimmed.high.value) == (-65, 65)


@pytest.mark.parametrize(
    ("source", "stick", "demand"),
    [
        ({"control": "pitch-stick"}, 100, 10),
        ({"control": "pitch-stick"}, -100, -20),
        # The elevator's shape is half the stick: its own trim, mixes and overrides do not count.
        ({"channel": 3}, 100, 5),
        ({"channel": 3}, -100, -10),
        # The input is 80 % of the stick, and 10 of trim.
        ({"input": "shaped"}, 100, 9),
        ({"input": "shaped"}, -100, -14),
        ({"input": "shaped"}, 0, 1),
    ],
)
def test_what_a_mix_takes_its_value_from(
    source: dict[str, Any], stick: float, demand: float
) -> None:
    """Rates of 20 % below, 10 % above nothing."""
    document = rudder(trim_percent=0)
    document["channels"][2] |= {"rates": [{"rate_percent": 50}], "trim_percent": 30}
    document["overrides"] = [
        {"name": "o", "purpose": "other", "channel": 3, "when": [], "demand_percent": 90}
    ]
    document["inputs"] = [
        {
            "id": "shaped",
            "control": "pitch-stick",
            "rates": [{"rate_percent": 80}],
            "trim_percent": 10,
        }
    ]
    document["mixes"][0]["from"] = source
    path = path_of(document)
    assert path.situation({"pitch-stick": stick}).channels[4].demand == pytest.approx(demand)
    held = path.channel(4).reach_where({"pitch-stick": stick, "yaw-stick": 0.0})
    assert held is not None
    assert held.low.value == held.high.value == pytest.approx(-demand)


@pytest.mark.parametrize("source", [{"input": "shaped"}, {"channel": 3}])
def test_a_threshold_of_what_a_mix_takes_its_value_from(source: dict[str, Any]) -> None:
    """Half of the pitch stick above 60 %, else nothing: 0, and from just over 30 to 50 %."""
    above = [{"control": "pitch-stick", "above_percent": 60}]
    rates = [{"rate_percent": 50, "when": above}, {"rate_percent": 0}]
    document = rudder(trim_percent=0, rates=[{"rate_percent": 0}], reversed=False)
    document["channels"][2]["rates"] = rates
    document["inputs"] = [{"id": "shaped", "control": "pitch-stick", "rates": rates}]
    document["mixes"][0] |= {"from": source, "rate_percent": {"low": 100, "high": 100}}
    reach = path_of(document).channel(4).reach
    found = {(it.low, it.high, it.low_closed, it.high_closed) for it in reach.pieces}
    assert found == {(1500, 1500, True, True), (1620, 1700, False, True)}


@pytest.mark.parametrize(("switch", "demand"), [("run", 0), ("cut", 37)])
def test_a_mix_that_does_not_hold_adds_no_offset_either(switch: str, demand: float) -> None:
    """While it holds it adds 30 of offset and 7, a tenth of 70."""
    document = rudder(trim_percent=0)
    document["mixes"][0] |= {"offset_percent": 30, "when": CUT}
    stages = path_of(document).situation({"pitch-stick": 70, "cut-switch": switch}).channels[4]
    assert stages.demand == pytest.approx(demand)


def test_a_mix_from_a_channel_without_a_control_adds_its_offset_alone() -> None:
    document = rudder(trim_percent=0)
    del document["channels"][2]["control"]
    document["mixes"][0] |= {"from": {"channel": 3}, "offset_percent": 30}
    channel = path_of(document).channel(4)
    assert channel.controls == ("yaw-stick",)
    assert (channel.reach.low.value, channel.reach.high.value) == (-80, 20)


@pytest.mark.parametrize(
    ("trims", "knob", "trim"),
    [
        ([{"percent": 4}], 0, 4),
        ([{"percent": 4, "when": CUT}], 0, 0),
        ([{"percent": 4, "when": CUT}, {"percent": 7}], 0, 7),
        ([{"percent": 4}, {"percent": 7}], 0, 4),
        ([{"percent": 0, "when": CUT}, {"percent": 7}], 0, 7),
        ([{"percent": 4, "when": [{"control": "pitch-stick", "above_percent": 10}]}], 10, 0),
        ([{"percent": 4, "when": [{"control": "pitch-stick", "above_percent": 10}]}], 11, 4),
    ],
)
def test_the_first_trim_that_holds(trims: list[dict[str, Any]], knob: float, trim: float) -> None:
    document = rudder(trim_percent=trims)
    document["mixes"] = []
    path = path_of(document)
    assert path.situation({"pitch-stick": knob}).channels[4].demand == trim
    held = path.channel(4).reach_where({"pitch-stick": knob, "yaw-stick": 0.0, "cut-switch": "run"})
    assert held is not None
    assert held.low.value == held.high.value == -trim


def test_the_controls_that_matter_in_the_transmitter_s_order() -> None:
    document = rudder(LAST)
    document["transmitter"]["controls"]["knob"] = {"kind": "knob"}
    document["mixes"][0]["when"] = [{"control": "roll-stick", "above_percent": 0}]
    document["channels"][3]["trim_percent"] = [
        {"percent": 4, "when": [{"control": "knob", "above_percent": 0}]}
    ]
    assert path_of(document).channel(4).controls == (
        "roll-stick",
        "pitch-stick",
        "yaw-stick",
        "cut-switch",
        "knob",
    )


@pytest.mark.parametrize(
    ("rates", "stick", "shape", "low", "high"),
    [
        ([{"rate_percent": 80}], 50, 50, -70, 90),
        ([{"rate_percent": 80}], -50, -30, -70, 90),
        ([{"rate_percent": 40, "when": CUT}], 50, 60, -90, 110),
    ],
)
def test_a_channel_on_an_input_has_its_shape(
    rates: list[dict[str, Any]], stick: float, shape: float, low: float, high: float
) -> None:
    """And its trim of 10."""
    document = rudder(trim_percent=0, reversed=False, control="shaped")
    del document["channels"][3]["rates"]
    document["mixes"] = []
    document["inputs"] = [
        {"id": "shaped", "control": "yaw-stick", "rates": rates, "trim_percent": 10}
    ]
    channel = path_of(document).channel(4)
    assert channel.control == "yaw-stick"
    assert channel.path.situation({"yaw-stick": stick}).channels[4].shape == shape
    assert (channel.reach.low.value, channel.reach.high.value) == (low, high)


def test_what_is_cut_off_in_one_situation() -> None:
    document = rudder(trim_percent=0, rates=[{"rate_percent": 160}])
    document["transmitter"]["output"] = {"limit_percent": 120, "steps": 4}  # ±40 and ±120 %
    path = path_of(document)
    for stick, clipped, us, exact_us in (
        (100.0, 40, 1020, 1020),
        (-100.0, 40, 1980, 1980),
        (75.0, 0, 1020, 1020),
        (25.0, 0, 1340, 1340),
        (30.0, 0, 1340, 1308),
    ):
        stages = path.situation({"yaw-stick": stick}).channels[4]
        assert stages.clipped_percent == pytest.approx(clipped)
        assert stages.us == pytest.approx(us)
        assert stages.exact_us == pytest.approx(exact_us)
