"""Reachable sets: exact, without a grid, and honest about what is beyond the bound."""

from __future__ import annotations

from math import nextafter
from pathlib import Path as File
from time import process_time
from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.rule import NotChecked
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path import Path


def path_of(document: dict[str, Any], **changes: Any) -> Path:
    report = prebind.Inspector().inspect({**document, **changes})
    assert report.setup is not None, report.problems
    return prebind.trace(report.setup)


def with_switches(count: int, document: dict[str, Any]) -> dict[str, Any]:
    switches = {
        f"switch-{i}": {"kind": "switch", "positions": ["a", "b", "c"]} for i in range(count)
    }
    document["transmitter"]["controls"].update(switches)
    return document


def mix(i: int, to: int, low: float, high: float, **more: Any) -> dict[str, Any]:
    return {
        "name": f"mix {i}",
        "from": {"control": f"switch-{i}"},
        "to": to,
        "rate_percent": {"low": low, "high": high},
        **more,
    }


def test_twenty_four_switches_that_add_up_are_exact_at_once() -> None:
    """Rates of 0.25 i + 1 below and 0.5 i + 1 above centre, worked out by hand.

    Lowest: −100 − Σ (0.25 i + 1) = −100 − (0.25 · 276 + 24) = −193, highest 100 + 138 + 24 = 262:
    both beyond the limit of 150 %, so 112 % are cut off.
    """
    document = with_switches(24, clean("plain"))
    document["transmitter"]["output"] = {}
    mixes = [mix(i, 2, 1 + 0.25 * i, 1 + 0.5 * i) for i in range(24)]
    path = path_of(document, mixes=mixes)
    started = process_time()
    reach = path.channel(2).reach
    assert process_time() - started < 1  # 3²⁴ combinations would take days
    assert (reach.low.value, reach.high.value) == (-150, 150)
    assert reach.cut.percent == pytest.approx(112)
    for end in (reach.low, reach.high):
        assert len(end.controls) == 25
        assert path.channel(2).stages(end.controls).output_percent == end.value
    assert path.channel(2).stages(reach.cut.controls).clipped_percent == pytest.approx(112)


def test_twenty_four_switched_mixes_of_one_stick_are_exact() -> None:
    """Each switch lets a mix of 1 % of the stick in or not, so the channel reaches ±124 %."""
    document = with_switches(24, clean("plain"))
    document["transmitter"]["output"] = {}
    stick = document["channels"][1]["control"]
    document["channels"][1].pop("rates", None)
    mixes = [
        {
            "name": f"mix {i}",
            "from": {"control": stick},
            "to": 2,
            "rate_percent": {"low": 1, "high": 1},
            "when": [{"control": f"switch-{i}", "positions": ["b"]}],
        }
        for i in range(24)
    ]
    reach = path_of(document, mixes=mixes).channel(2).reach
    assert (reach.low.value, reach.high.value) == pytest.approx((-124, 124))
    assert reach.met(1990, 1996) is not None
    assert [round(end) for p in reach.pieces for end in (p.low, p.high)] == [
        1004,
        1500,
        1500,
        1996,
    ]


def test_the_bound_is_what_developers_are_told() -> None:
    developers = (File(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    document = prebind.read(clean("plain"))
    assert isinstance(document, prebind.Document)
    told = f"beyond the bound ({prebind.trace(document.setup).bound:,} cells a fact)"
    assert told in " ".join(developers.split())


def test_a_ring_of_mixes_is_not_checked_and_says_so() -> None:
    """Each mix stands behind the next mix's switch: nothing can be taken apart."""
    document = with_switches(24, clean("plain"))
    mixes = [
        mix(i, 2, 1, 1, when=[{"control": f"switch-{(i + 1) % 24}", "positions": ["b"]}])
        for i in range(24)
    ]
    path = path_of(document, mixes=mixes)
    with pytest.raises(NotChecked) as raised:
        _ = path.channel(2).reach
    assert raised.value.cells == 3**24
    assert len(raised.value.controls) == 24
    assert "24 controls meet here in 282,429,536,481 combinations" in raised.value.message
    report = prebind.Inspector().inspect({**document, "mixes": mixes})
    left_open = [f for f in report.findings if f.kind == "open" and f.rule == "travel/servo-range"]
    assert left_open
    assert "282,429,536,481" in left_open[0].message


def test_extremes_stay_exact_where_membership_is_beyond_the_bound() -> None:
    """Rates of 2^i/1000 give 3²⁴ different sums; their ends are ±(2²⁴ − 1)/1000 of 100 %."""
    document = with_switches(24, clean("trainer"))
    document["transmitter"]["output"] = {}
    mixes = [mix(i, 5, 2**i / 1e6, 2**i / 1e6) for i in range(24)]
    path = path_of(document, mixes=mixes)
    reach = path.channel(5).reach
    most = 100 + (2**24 - 1) / 1e6
    assert (reach.low.value, reach.high.value) == pytest.approx((-most, most))
    for ask in (lambda: reach.pieces, lambda: reach.met(1500, 1501)):
        with pytest.raises(NotChecked, match="the lowest and highest value are exact") as raised:
            ask()
        assert raised.value.cells == 3**25  # the mode's own switch is the twenty-fifth
        assert len(raised.value.controls) == 25
        assert "25 controls add up here in at least 847,288,609,443 ways" in raised.value.message


def let_in(count: int, *more: dict[str, Any]) -> Path:
    """So many switches that each let 2^i % into the mode's channel or not; at most 100 cells."""
    document = with_switches(count, clean("trainer"))
    document["mixes"] = [
        mix(i, 5, 0, 0, offset_percent=2**i, when=[{"control": name, "positions": ["b"]}, *more])
        for i, name in enumerate(f"switch-{i}" for i in range(count))
    ]
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.Path(found.setup, 100)


def test_controls_that_only_choose_what_adds_up_are_named_too() -> None:
    """Six switches, beside the three places of the mode's."""
    with pytest.raises(NotChecked) as raised:
        _ = let_in(6).channel(5).reach.pieces
    assert raised.value.cells == 3 * 2**6
    assert raised.value.controls == ("mode-switch", *(f"switch-{i}" for i in range(6)))


def test_a_switch_that_is_held_is_none_of_those_that_add_up() -> None:
    """Seven switches, all of them with the mode's in its middle alone, where it is held."""
    middle = {"control": "mode-switch", "positions": ["middle"]}
    reach = let_in(7, middle).channel(5).reach_where({"mode-switch": "middle"})
    assert reach is not None
    with pytest.raises(NotChecked) as raised:
        _ = reach.pieces
    assert raised.value.cells == 2**7
    assert raised.value.controls == tuple(f"switch-{i}" for i in range(7))


def test_a_threshold_is_approached_and_not_attained() -> None:
    """A mix that adds 30 % while the knob stands above 20 %: at 20 % itself it does not hold."""
    document = clean("plain")
    document["transmitter"]["output"] = {}
    document["transmitter"]["controls"]["knob"] = {"kind": "knob"}
    document["channels"].append({"channel": 7, "function": "lights", "control": "knob"})
    document["mixes"] = [
        {
            "name": "step",
            "from": {"control": "knob"},
            "to": 7,
            "rate_percent": {"low": -50, "high": -50},
            "offset_percent": 30,
            "when": [{"control": "knob", "above_percent": 20}],
        }
    ]
    reach = path_of(document).channel(7).reach
    # Below and at 20 %: −100 to 20.  Above: 30 + u/2, from just over 40 to 80.
    assert [(p.low, p.high, p.low_closed, p.high_closed) for p in reach.pieces] == [
        (1100, 1580, True, False),
        (1580, 1580, True, True),
        (1660, 1820, False, True),
    ]
    assert reach.met(1581, 1660) is None
    assert reach.met(1581, 1660.5) is not None


def test_an_end_that_is_never_attained_names_the_next_position() -> None:
    document = clean("plain")
    document["transmitter"]["output"] = {}
    document["transmitter"]["controls"]["knob"] = {"kind": "knob"}
    document["channels"].append(
        {
            "channel": 7,
            "function": "lights",
            "control": "knob",
            "curves": [
                {
                    "points": [[-100, 0], [100, 0]],
                    "when": [{"control": "knob", "above_percent": 60}],
                }
            ],
        }
    )
    end = path_of(document).channel(7).reach.low
    assert (end.value, end.attained) == (-100, True)
    document["channels"][-1]["curves"][0]["when"] = [{"control": "knob", "below_percent": 60}]
    document["channels"][-1]["curves"].append(
        {
            "points": [[-100, -100], [60, 60], [100, 0]],
            "when": [{"control": "knob", "above_percent": 60}],
        }
    )
    top = path_of(document).channel(7).reach.high
    # At 60 % itself neither curve holds and the knob counts as it stands: 60 % is attained there.
    assert (top.value, top.attained, top.controls) == (60, True, {"knob": 60})


def test_without_steps_and_limits_nothing_is_rounded_or_cut() -> None:
    document = clean("plain")
    document["transmitter"]["output"] = {"limit_percent": 200}
    document["channels"][1] |= {"travel_percent": {"low": 120, "high": 133}, "subtrim_percent": 7}
    document["channels"][1].pop("rates", None)
    reach = path_of(document).channel(2).reach
    assert (reach.low.value, reach.high.value) == (-113, 140)
    assert reach.cut.percent == 0


@pytest.mark.parametrize("acts", ["last", "before-mixes"])
def test_what_an_override_gives_is_reached_and_no_part_of_what_is_free(acts: str) -> None:
    """130 % with the cut on: 1500 + 4 · 130 = 2020 µs."""
    document = clean("plain")
    document["overrides"][0] |= {"channel": 4, "demand_percent": -130, "acts": acts}
    path = path_of(document)  # the rudder is reversed
    channel, port = path.channel(4), path.port(4)
    assert (channel.reach.low.value, channel.reach.high.value) == (-100, 130)
    assert channel.reach.high.controls["cut-switch"] == "cut"
    assert channel.reach.high.attained
    assert (channel.reach.met(2020, 2020) or ())[:1] == (2020,)
    assert channel.reach.met(1901, 2019) is None
    assert channel.reach_where() is channel.reach
    assert (port.reach.low.us, port.reach.high.us) == (1100, 2020)
    for free in (channel.free, port.free, channel.reach_where({"cut-switch": "run"})):
        assert free is not None
        assert (free.low.us, free.high.us) == (1100, 1900)
    assert channel.reach_where({"cut-switch": "cut"}, overrides=False) is None
    assert port.reach_where({"cut-switch": "cut"}, overrides=False) is None


@pytest.mark.parametrize("acts", ["last", "before-mixes"])
@pytest.mark.parametrize("position", ["run", "cut"])
def test_what_is_free_in_the_other_position_of_an_override_s_switch(
    position: str, acts: str
) -> None:
    """The switch's first position or its last."""
    document = clean("plain")
    document["overrides"][0] |= {
        "channel": 4,
        "demand_percent": 0,
        "acts": acts,
        "when": [{"control": "cut-switch", "positions": [position]}],
    }
    channel = path_of(document).channel(4)
    for found in (channel.reach, channel.free):
        assert found is not None
        assert (found.low.us, found.high.us) == (1100, 1900)
        assert found.high.controls["cut-switch"] == ("cut" if position == "run" else "run")


def test_an_override_that_always_holds_leaves_nothing_free() -> None:
    document = clean("plain")
    document["overrides"][0] |= {"channel": 4, "when": []}
    path = path_of(document)
    for end in (path.channel(4).reach.low, path.channel(4).reach.high):
        assert (end.value, end.attained) == (100, True)
    assert path.channel(4).free is None
    assert path.port(4).free is None


def test_an_earlier_override_wins() -> None:
    document = clean("plain")
    first = document["overrides"][0]
    document["overrides"] = [
        first | {"name": "first", "channel": 4, "demand_percent": 20},
        first | {"name": "second", "channel": 4, "demand_percent": 40},
    ]
    path = path_of(document)
    there = path.channel(4).reach_where({"cut-switch": "cut"})
    assert there is not None
    assert (there.low.value, there.high.value) == (-20, -20)
    assert path.situation({"cut-switch": "cut"}).channels[4].us == 1420


@pytest.mark.parametrize(
    ("conditions", "low", "high"),
    [
        ([{"control": "yaw-stick", "above_percent": 20}], (1580, False), (1900, True)),
        ([{"control": "yaw-stick", "below_percent": 20}], (1100, True), (1580, False)),
        (
            [
                {"control": "yaw-stick", "above_percent": -50},
                {"control": "yaw-stick", "below_percent": 20},
            ],
            (1300, False),
            (1580, False),
        ),
        ([{"control": "pitch-stick", "above_percent": 20}], (1100, True), (1900, True)),
    ],
)
def test_reach_while_a_condition_holds(
    conditions: list[dict[str, Any]], low: tuple[float, bool], high: tuple[float, bool]
) -> None:
    """The rudder gives 4 µs per percent of its stick; at a threshold itself it does not hold."""
    document = clean("plain")
    del document["channels"][3]["reversed"]
    document["overrides"][0]["when"] = conditions
    path = path_of(document)
    when = path.setup.overrides[0].when
    for found in (path.channel(4).reach_where(when=when), path.port(4).reach_where(when=when)):
        assert found is not None
        assert (found.low.us, found.low.attained) == low
        assert (found.high.us, found.high.attained) == high


def test_no_reach_where_conditions_contradict_each_other() -> None:
    document = clean("plain")
    document["overrides"][0]["when"] = [
        {"control": "yaw-stick", "above_percent": 20},
        {"control": "yaw-stick", "below_percent": 20},
    ]
    path = path_of(document)
    when = path.setup.overrides[0].when
    assert path.channel(4).reach_where(when=when) is None
    assert path.port(4).reach_where(when=when) is None


@pytest.mark.parametrize(
    ("low", "high", "percent", "stick"),
    [
        (150, 150.25, 0.25, -100),
        (150.25, 150, 0.25, 100),
        (150.25, 150.75, 0.75, -100),
        (150.75, 150.25, 0.75, 100),
        (150, 150, 0, None),
    ],
)
def test_what_is_cut_off_at_most_however_little(
    low: float, high: float, percent: float, stick: float | None
) -> None:
    """The rudder is reversed, so the stick's positive end goes to the low side."""
    document = clean("plain")
    document["channels"][3]["rates"] = [{"rate_percent": 150}]
    document["channels"][3]["travel_percent"] = {"low": low / 1.5, "high": high / 1.5}
    cut = path_of(document).channel(4).reach.cut
    assert cut.percent == pytest.approx(percent)
    assert cut.controls == ({} if stick is None else {"yaw-stick": stick})


def test_of_what_an_override_and_a_stick_lose_the_most_is_told() -> None:
    document = clean("plain")
    document["channels"][3]["travel_percent"] = {"low": 120, "high": 100}
    document["channels"][3]["rates"] = [{"rate_percent": 125.5}]  # 150.6 % to the low side
    document["overrides"][0] |= {"channel": 4, "demand_percent": -150.25}
    path = path_of(document)
    assert path.channel(4).reach.cut.percent == pytest.approx(0.6)
    assert path.channel(4).reach.cut.controls == {"yaw-stick": 100, "cut-switch": "run"}
    assert path.port(4).cut == path.channel(4).reach.cut
    document["overrides"][0]["demand_percent"] = -150.75
    cut = path_of(document).channel(4).reach.cut
    assert cut.percent == pytest.approx(0.75)
    assert cut.controls == {"cut-switch": "cut"}


@pytest.mark.parametrize("change", [{"reversed": True}, {"native": -1}])
def test_pieces_of_a_channel_that_works_the_other_way(change: dict[str, Any]) -> None:
    """The yaw stick's way above 20 % is raised by 30 %: −100 to 20 %, then 50 to 130 %."""
    document = clean("plain")
    document["channels"][3]["reversed"] = change.get("reversed", False)
    document["transmitter"]["output"] = {"native": {"rudder": change.get("native", 1)}}
    document["mixes"] = [
        {
            "name": "step",
            "from": {"control": "yaw-stick"},
            "to": 4,
            "rate_percent": {"low": 0, "high": 0},
            "offset_percent": 30,
            "when": [{"control": "yaw-stick", "above_percent": 20}],
        }
    ]
    reach = path_of(document).channel(4).reach
    found = [
        (it.low, it.high, it.low_closed, it.high_closed, it.low_controls, it.high_controls)
        for it in reach.pieces
    ]
    high, over, step, under, low = (
        {"yaw-stick": at} for at in (100, nextafter(20, 100), 20, nextafter(20, 0), -100)
    )
    assert found == [
        (980, 1300, True, False, high, over),
        (1420, 1420, True, True, step, step),
        (1420, 1900, False, True, under, low),
    ]
    assert reach.met(1300, 1419.9) is None
    met = reach.met(1299, 1301)
    assert met is not None
    us, controls = met
    assert 1299 <= us < 1300
    assert controls["yaw-stick"] == pytest.approx((1500 - us) / 4 - 30)


def test_a_path_that_is_made_of_another_keeps_its_bound() -> None:
    setup = prebind.Inspector().inspect(clean("plain")).setup
    assert setup is not None
    assert prebind.Path(setup, 7).traced(setup).bound == 7
