"""The pictures: what stands where, held against numbers worked out here and against the trace."""

from __future__ import annotations

from itertools import pairwise, product
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from prebind import Inspector, read
from prebind.path import Path
from prebind.path.plain import trace_json
from prebind.report.pictures import Pictures, pictures
from prebind.report.pictures.ruler import (
    Ruler,
    label_at,
    lanes,
    percent_ticks,
    ruler_over,
    shortened,
    us_ticks,
    width_of,
)
from prebind.rule import put, remove, replace
from prebind.testing import clean, patched

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.report.pictures import DirectionPicture, PortPicture, SelectorPicture
    from prebind.rule import Operation

EXAMPLES = FilePath(__file__).parents[1] / "examples"
FILES = sorted(EXAMPLES.glob("f*/*.setup.json"))
INSPECTOR = Inspector()

MODE = "/receiver/stabiliser/selectors/0"


def path_of(*patch: Operation, start: str = "trainer", bound: int = 100_000) -> Path:
    document = read(patched(clean(start), patch))
    assert not isinstance(document, list), document
    return Path(document.setup, bound)


def drawn(*patch: Operation, start: str = "trainer") -> Pictures:
    return pictures(path_of(*patch, start=start))


def across(percent: float, limit: float = 150) -> float:
    """Where a percentage stands: from 7 to 93 percent of the width, worked out by hand."""
    return 7 + 86 * (percent + limit) / (2 * limit)


def port(found: Pictures, number: int) -> PortPicture:
    return next(it for it in found.ports if it.number == number)


# --- rulers, labels and lanes -----------------------------------------------------------------


def test_a_ruler_goes_from_edge_to_edge() -> None:
    ruler = Ruler(900, 2100)
    assert [ruler.at(us) for us in (900, 1500, 2100)] == [7, 50, 93]
    assert (ruler.at(0), ruler.at(9999)) == (7, 93)


def test_a_ruler_over_one_pulse_has_room_around_it() -> None:
    assert ruler_over([1500]).at(1500) == 50


def test_ticks_are_round_and_every_second_has_its_pulse() -> None:
    ticks = percent_ticks(Ruler(900, 2100), 1500, 4)
    assert [tick.text for tick in ticks] == [f"{n} %" for n in range(-150, 151, 50)]
    assert [tick.below for tick in ticks] == ["", "1100 µs", "", "1500 µs", "", "1900 µs", ""]
    assert [tick.x for tick in ticks] == [round(across(n), 3) for n in range(-150, 151, 50)]


@given(st.floats(0, 9000), st.floats(0.01, 9000))
def test_there_are_never_more_ticks_than_find_room(low: float, span: float) -> None:
    ticks = us_ticks(Ruler(low, low + span))
    assert len(ticks) <= 5
    for one, then in pairwise(ticks):
        assert then.x - one.x > width_of("0") * 2


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0.1, 60))))
def test_nothing_meets_on_a_lane(found: list[tuple[float, float]]) -> None:
    extents = [(low, low + width) for low, width in found]
    placed = lanes(extents)
    for i, (low, high) in enumerate(extents):
        for j, (start, end) in enumerate(extents[:i]):
            assert placed[i] != placed[j] or high <= start or end <= low


@given(st.text(max_size=44), st.floats(0, 100))
def test_a_label_stays_in_the_picture(text: str, x: float) -> None:
    label = label_at(shortened(text), x)
    if width_of(label.text) <= 100:
        assert label.extent[0] >= -1e-9
        assert label.extent[1] <= 100 + 1e-9


def test_wide_signs_take_twice_the_room() -> None:
    """East Asian Width of Unicode Standard Annex 11: W is wide."""
    assert width_of("海鳥") == 2 * width_of("ab")


def test_a_long_name_is_shortened_and_clean() -> None:
    assert shortened("a" * 40) == "a" * 29 + "…"
    assert shortened("a\x1bb") == "a\\u001bb"


# --- selectors --------------------------------------------------------------------------------


def test_marks_stand_where_the_percentages_do() -> None:
    """Common practice, no source: a three-position switch gives −100, 0 and +100 %."""
    picture = drawn(remove("/transmitter/output/steps")).selectors[0]
    back, middle, forward, lost = picture.marks
    for mark, percent in ((back, -100), (middle, 0), (forward, 100), (lost, -100)):
        assert mark.x == mark.end == pytest.approx(across(percent), abs=0.001)
        assert mark.us == 1500 + 4 * percent
    assert [mark.shape for mark in picture.marks] == ["one", "one", "one", "link-lost"]
    # The bands end at −34 and +34 %: 264 µs from the ends, 136 µs from the middle.
    assert [mark.label.text for mark in picture.marks] == [
        "back, margin 264 µs",
        "middle, margin 136 µs",
        "forward, margin 264 µs",
        "link lost, margin 264 µs",
    ]
    assert middle.margin == pytest.approx((across(-34), across(34)), abs=0.001)
    assert back.margin == pytest.approx((across(-150), across(-34)), abs=0.001)
    assert picture.link_lost == "preset 1100.0 µs, state level, with a margin of 264 µs"


def test_bands_stand_where_their_ends_do_and_hold_their_names() -> None:
    bands = drawn().selectors[0].bands
    assert [band.state for band in bands] == ["level", "limited", "damped"]
    for band, (low, high) in zip(bands, [(-150, -34), (-34, 34), (34, 150)], strict=True):
        assert band.x == pytest.approx(across(low), abs=0.001)
        assert band.width == pytest.approx(across(high) - across(low), abs=0.002)
        assert band.x < band.label.extent[0]
        assert band.label.extent[1] < band.x + band.width
    assert len({band.y for band in bands}) == 1
    assert len({band.fill for band in bands}) == 3
    assert (bands[1].us, bands[1].percent) == ("1364.0 to 1636.0 µs", "-34.0 to 34.0 %")


def test_a_narrow_band_has_its_name_beside_it() -> None:
    narrow = drawn(
        replace(f"{MODE}/states/1/band", {"percent": [-2, 2]}),
        replace(f"{MODE}/states/0/band", {"percent": [-150, -2]}),
        replace(f"{MODE}/states/2/band", {"percent": [2, 150]}),
    ).selectors[0]
    band = narrow.bands[1]
    assert band.label.text == "limited"
    assert band.label.extent[0] > band.x + band.width
    assert narrow.bands[2].y > band.y, "the next one gives way to the name"


def test_bands_that_overlap_stand_below_each_other() -> None:
    picture = drawn(replace(f"{MODE}/states/1/band", {"percent": [-120, 34]})).selectors[0]
    level, limited, damped = picture.bands
    assert level.y < limited.y
    assert damped.y == level.y
    assert picture.marks[0].shape == "overlap"
    assert picture.marks[0].label.text == "back: several states"
    assert picture.rows[0].states == "level and limited: an overlap"
    assert picture.rows[0].margin == "-"


def test_a_gap_is_shown_by_its_shape_and_in_words() -> None:
    picture = drawn(replace(f"{MODE}/states/1/band", {"percent": [10, 34]})).selectors[0]
    assert picture.marks[1].shape == "gap"
    assert picture.marks[1].label.text == "middle: no state"
    assert picture.marks[1].margin is None
    assert picture.rows[1].states == "none: a gap"
    assert "mode-switch at middle: 1500.3 µs, none: a gap." in picture.words


def knob(*more: Operation) -> SelectorPicture:
    return drawn(
        put("/transmitter/controls/mode-switch", {"kind": "knob"}),
        remove("/transmitter/output/steps"),
        *more,
    ).selectors[0]


def test_a_continuous_control_gives_stretches() -> None:
    picture = knob()
    stretches = picture.marks[:-1]
    # Half a µs beside an edge is equality, and goes to the upper band: 0.125 %.
    edges = [-100, -34.125, 33.875, 100]
    assert [mark.x for mark in stretches] == pytest.approx([across(e) for e in edges[:3]], abs=0.01)
    assert [mark.end for mark in stretches] == pytest.approx(
        [across(e) for e in edges[1:]], abs=0.01
    )
    assert [row.controls for row in picture.rows] == ["mode-switch over part of its range"] * 3
    assert [row.states for row in picture.rows] == ["level", "limited", "damped"]
    assert {row.margin for row in picture.rows} == {"-"}


def test_positions_that_come_to_the_same_are_told_once() -> None:
    """Six combinations: with the rate switch at soft an override puts the mode in the middle."""
    override = {
        "name": "calm",
        "purpose": "other",
        "channel": 5,
        "demand_percent": 0,
        "when": [{"control": "rate-switch", "positions": ["soft"]}],
    }
    picture = drawn(put("/overrides/-", override)).selectors[0]
    assert [row.controls for row in picture.rows] == [
        "mode-switch at back, rate-switch at full",
        "several positions, in 4 combinations with others",
        "mode-switch at forward, rate-switch at full",
    ]
    assert picture.marks[1].label.text == "several positions, margin 135.4 µs"


def test_a_mark_names_the_selectors_own_control_alone() -> None:
    mix = {
        "name": "disturbs",
        "from": {"control": "rate-switch"},
        "to": 5,
        "rate_percent": {"low": 10, "high": 10},
    }
    picture = drawn(put("/mixes", [mix]), remove("/transmitter/output/steps")).selectors[0]
    assert [row.controls for row in picture.rows[:2]] == [
        "mode-switch at back, rate-switch at full",
        "mode-switch at back, rate-switch at soft",
    ]
    assert [mark.label.text for mark in picture.marks[:2]] == [
        "back, margin 304 µs",
        "back, margin 224 µs",
    ]


@pytest.mark.parametrize(
    ("patch", "said", "marked"),
    [
        ((), "preset 1100.0 µs, state level, with a margin of 263.7 µs", True),
        (
            (put("/receiver/failsafe/channels/4", {"channel": 5, "action": "hold"}),),
            "hold, in whichever state it was (level, limited, damped)",
            False,
        ),
        (
            (put("/receiver/failsafe/channels/4", {"channel": 5, "action": "no-pulses"}),),
            "no pulses: what is selected then is not written down",
            False,
        ),
        ((remove("/receiver/failsafe/channels/4"),), "no entry", False),
        ((remove("/receiver/failsafe"),), "not known", False),
    ],
)
def test_the_failsafe_of_a_selector(patch: tuple[Operation, ...], said: str, marked: bool) -> None:
    if patch and patch[0]["op"] == "add":
        patch = (remove(patch[0]["path"]), *patch)
    picture = drawn(*patch).selectors[0]
    assert picture.link_lost == said
    assert ("link-lost" in {mark.shape for mark in picture.marks}) is marked


def test_a_selector_that_is_not_known_says_why() -> None:
    picture = drawn(replace("/channels/4/control", "no-such-switch")).selectors[0]
    assert [mark.shape for mark in picture.marks] == ["link-lost"]
    assert picture.unknown == ("channel 5 is driven by “no-such-switch”, which does not exist",)
    assert picture.unknown[0] in picture.words


def test_many_values_are_bounded_and_counted() -> None:
    controls = {f"switch-{n}": {"kind": "switch", "positions": ["low", "high"]} for n in range(7)}
    mixes = [
        {
            "name": f"mix {n}",
            "from": {"control": f"switch-{n}"},
            "to": 5,
            "rate_percent": {"low": 2**n / 8, "high": 2**n / 8},
        }
        for n in range(7)
    ]
    picture = drawn(
        put("/mixes", mixes),
        remove("/transmitter/output/steps"),
        *(put(f"/transmitter/controls/{name}", entry) for name, entry in controls.items()),
    ).selectors[0]
    values = 3 * 2**7
    assert (len(picture.marks), picture.more) == (16 + 1, values - 16)
    assert (len(picture.rows), picture.left_out) == (60, values - 60)


# --- ports ------------------------------------------------------------------------------------


def test_a_port_shows_what_reaches_it_and_what_may() -> None:
    picture = port(drawn(remove("/transmitter/output/steps")), 2)
    low, high = picture.ends or pytest.fail("not known")
    assert (low.us, high.us) == (1100, 1900)
    # The scale of all ports goes from 900 to 2100 µs, which every servo here may be driven to.
    assert (low.x, high.x) == pytest.approx((across(-100), across(100)), abs=0.001)
    (servo,) = picture.zones
    assert (servo.kind, servo.x, servo.width) == ("servo", 7, 86)
    assert picture.outside == []
    assert picture.lost is not None
    assert picture.lost.x == 50
    assert picture.hangs == "aileron-right"
    assert picture.said == [
        "It gets from 1100 µs with rate-switch at full, roll-stick at -100 % to 1900 µs with "
        "rate-switch at full, roll-stick at 100 %.",
        "The servo of aileron-right may be driven from 900 µs to 2100 µs; the pulses stay inside.",
        "Link lost: preset 1500 µs.",
    ]


def test_what_lies_outside_a_servo_is_marked_and_told() -> None:
    picture = port(drawn(replace("/servos/0/pulse_us", [1200, 1850])), 2)
    low, high = picture.ends or pytest.fail("not known")
    (below, narrow), (above, wide) = picture.outside
    ruler = Ruler(900, 2100)
    assert (below, above + wide) == pytest.approx((low.x, high.x), abs=0.002)
    assert (below + narrow, above) == pytest.approx((ruler.at(1200), ruler.at(1850)), abs=0.002)
    assert "the pulses go 100.1 µs below and 50.1 µs above that." in picture.words


@pytest.mark.parametrize(
    ("control", "zones", "said"),
    [
        (
            {"stop_below_us": 1150, "full_above_us": 1880},
            [("stop", 900, 1150), ("run", 1150, 1880), ("full", 1880, 2100)],
            "The motor is stopped at or below 1150 µs, full from 1880 µs up.",
        ),
        (
            {"stopped_us": [1450, 1550], "full_above_us": 1880},
            [("back", 900, 1450), ("stop", 1450, 1550), ("run", 1550, 1880), ("full", 1880, 2100)],
            "The motor is stopped from 1450 µs to 1550 µs, full from 1880 µs up.",
        ),
    ],
)
def test_zones_of_a_speed_control(
    control: dict[str, Any], zones: list[tuple[str, float, float]], said: str
) -> None:
    picture = port(drawn(replace("/speed_controls/0", {"port": 1, **control})), 1)
    ruler = Ruler(900, 2100)
    for zone, (kind, low, high) in zip(picture.zones, zones, strict=True):
        assert zone.kind == kind
        assert zone.x == ruler.at(low)
        assert zone.x + zone.width == pytest.approx(ruler.at(high), abs=0.002)
        assert zone.label.text in (kind, "")
    assert picture.said[1] == said


def test_zones_of_an_engine() -> None:
    engine = clean("glow")["engine"]
    found = port(drawn(start="glow"), engine["port"])
    assert [zone.kind for zone in found.zones] == ["servo", "stop", "idle", "run"]
    low, high = engine["idle_us"]
    assert (
        f"The engine stops at or below {engine['stop_below_us']} µs and idles from {low} µs to "
        f"{high} µs." in found.said
    )


def test_two_servos_on_a_port_have_a_line_each() -> None:
    found = port(drawn(replace("/servos/1/port", 2)), 2)
    assert found.hangs == "aileron-right, aileron-left"
    assert len({zone.y for zone in found.zones}) == 2


def test_an_end_that_is_only_approached_is_hollow() -> None:
    rates = [
        {"rate_percent": 50, "when": [{"control": "roll-stick", "below_percent": 100}]},
        {"rate_percent": 10},
    ]
    found = port(drawn(replace("/channels/1/rates", rates)), 2)
    low, high = found.ends or pytest.fail("not known")
    assert low.attained
    plain = port(drawn(replace("/channels/1/rates", rates), remove("/transmitter/output/steps")), 2)
    low, high = plain.ends or pytest.fail("not known")
    assert (low.attained, high.attained) == (True, False)
    assert "1700 µs (approached, not reached)" in plain.words


def test_numbers_that_would_meet_are_told_together() -> None:
    rates = replace("/channels/1/rates", [{"rate_percent": 5}])
    found = port(drawn(rates, remove("/transmitter/output/steps")), 2)
    low, high = found.ends or pytest.fail("not known")
    assert low.label.text == "1480 µs to 1520 µs"
    assert high.label.text == ""


def test_a_port_that_is_not_known_says_why() -> None:
    found = port(drawn(replace("/receiver/outputs/1/channel", 9)), 2)
    assert found.ends is None
    assert found.unknown == ("no entry of `channels` makes channel 9",)
    assert "Which pulses can reach it is not known." in found.said
    assert "Link lost: not known." in found.said


# --- directions -------------------------------------------------------------------------------


def ways(picture: DirectionPicture) -> dict[str, Any]:
    return {way.name: way for way in picture.ways}


@pytest.mark.parametrize(
    ("transmitter", "sense", "output", "servo"), list(product((False, True), repeat=4))
)
def test_every_reversal_turns_what_it_should(
    transmitter: bool, sense: bool, output: bool, servo: bool
) -> None:
    """Signal path, Directions: the transmitter turns both commands, the output the command and
    the correction, the sense the correction alone.  D: all sixteen cases, worked out here.
    """
    found = drawn(
        put("/channels/1/reversed", transmitter),
        replace("/receiver/stabiliser/axes/0/sense", "reversed" if sense else "normal"),
        put("/receiver/outputs/1/reversed", output),
        replace("/servos/0/increasing_pulse", f"trailing-edge-{'down' if servo else 'up'}"),
    ).directions[0]
    turned = {
        "command": (transmitter, output, servo),
        "target": (transmitter,),
        "correction": (sense, output, servo),
    }
    diamonds = {
        "command": transmitter + output,
        "target": transmitter + 0,
        "correction": sense + output,
    }
    for name, way in ways(found).items():
        wrong = sum(turned[name]) % 2 == 1
        assert way.result == (-1 if wrong else 1)
        assert way.said == ("WRONG way" if wrong else "right way")
        assert sum(node.reverses for node in way.nodes) == diamonds[name]
        # A command is right where it ends on the rail that it began on; a correction, where not.
        begins, ends = way.points[0][0], way.points[-1][0]
        assert begins == way.x - 10
        assert (ends != begins) is (wrong if name != "correction" else not wrong)
    said = {step.row.heading: step.row.text for step in found.steps}
    assert said["Transmitter"] == f"channel 2: {'REVERSED' if transmitter else 'not reversed'}"
    assert said["Receiver output"] == f"port 2: {'REVERSED' if output else 'not reversed'}"
    assert f"sense {'reversed' if sense else 'normal'}, sign +1" in said["Correction"]
    edge, turn = ("down", "left") if servo else ("up", "right")
    assert said["Servo and surface"] == (
        f"a growing pulse moves trailing edge {edge}: the model rolls {turn}"
    )


def test_a_radio_that_sends_a_function_the_other_way_round() -> None:
    found = drawn(put("/transmitter/output/native", {"aileron": -1})).directions[0]
    row = next(step.row for step in found.steps if step.row.heading == "Native direction")
    assert row.text == "this radio sends aileron the other way round"
    assert row.reverses
    assert ways(found)["command"].result == -1


def test_what_the_stabiliser_expects_turns_the_target_alone() -> None:
    found = drawn(put("/receiver/stabiliser/expects", {"roll": {"direction": -1}})).directions[0]
    assert {way.name: way.result for way in found.ways} == {
        "command": 1,
        "target": -1,
        "correction": 1,
    }
    assert "the stabiliser expects direction -1" in found.words
    assert [node.reverses for node in ways(found)["target"].nodes] == [False, False, True]


def test_a_target_that_comes_by_another_channel_begins_where_it_arrives() -> None:
    beside = {"channel": 7, "function": "aileron", "control": "roll-stick"}
    found = drawn(
        put("/channels/-", beside),
        put("/channels/1/reversed", True),
        replace("/receiver/outputs/1/channel", 7),
    ).directions[0]
    known = ways(found)
    assert (known["command"].result, known["target"].result) == (1, -1)
    assert (known["command"].begins, known["target"].begins) == (0, 2)
    said = {step.row.heading: step.row.text for step in found.steps}
    assert said["Transmitter"] == "channel 7: not reversed"
    assert said["Target"] == "channel 2 comes in direction -1, expects direction +1"


def test_a_servo_without_a_stabiliser_has_a_command_alone() -> None:
    found = drawn(start="plain").directions[0]
    assert [way.name for way in found.ways] == ["command"]
    assert found.notes == []


def test_a_mix_that_turns_the_command_round_is_a_row_of_its_own() -> None:
    mix = {
        "name": "the other way",
        "from": {"control": "roll-stick"},
        "to": 2,
        "rate_percent": {"low": -300, "high": -300},
    }
    found = drawn(put("/mixes", [mix])).directions[0]
    row = next(step.row for step in found.steps if step.row.heading == "Curves and mixes")
    assert row.reverses
    assert ways(found)["command"].result == -1


def test_a_command_that_goes_either_way_says_with_what() -> None:
    mix = {
        "name": "sometimes",
        "from": {"control": "roll-stick"},
        "to": 2,
        "rate_percent": {"low": -300, "high": -300},
        "when": [{"control": "rate-switch", "positions": ["soft"]}],
    }
    found = drawn(put("/mixes", [mix])).directions[0]
    assert ways(found)["command"].result == -1
    (note,) = [note for note in found.notes if note.startswith("Shown with")]
    assert note == (
        "Shown with rate-switch at soft; the command goes the other way with rate-switch at full."
    )


def test_a_dead_command_ends_at_the_transmitter() -> None:
    found = drawn(replace("/channels/1/rates", [{"rate_percent": 0}])).directions[0]
    command = ways(found)["command"]
    assert (command.result, command.said) == (0, "dead")
    assert command.signs == [1]
    assert "Transmitter: dead: nothing moves." in found.words


def test_what_is_not_known_ends_the_line_and_says_why() -> None:
    found = drawn(remove("/servos/0/increasing_pulse")).directions[0]
    known = ways(found)
    assert known["command"].said == known["correction"].said == "not known"
    assert known["target"].result == 1
    assert len(known["command"].signs) == len(found.steps) - 1
    assert found.notes[-1] == (
        "Which way “aileron-right” moves as the pulse grows is not recorded."
    )


def test_what_nobody_computes_comes_with_a_step_by_hand() -> None:
    found = drawn(start="helicopter").directions[0]
    assert ways(found)["command"].result is None
    assert any("not computed" in note and "rotor blades off" in note for note in found.notes)


def test_states_decide_what_counts() -> None:
    assert drawn().directions[0].notes == [
        "In “flight mode” the command counts in damped, the target in level, limited."
    ]
    patch = [
        replace(f"{MODE}/states/{n}/behaviour", behaviour)
        for n, behaviour in enumerate(("off", "rate-damping"))
    ]
    found = drawn(*patch).directions[0]
    assert [way.name for way in found.ways] == ["command", "correction"]
    assert found.notes == ["In “flight mode” the command counts in level, limited, damped."]


def test_lines_of_text_stay_beside_the_ways() -> None:
    for picture in drawn().directions:
        for step in picture.steps:
            assert all(len(line) <= 25 for line in step.lines)
            assert " ".join(step.lines) == step.row.text
            assert step.height >= 16 * (len(step.lines) + 1)


# --- all of it --------------------------------------------------------------------------------


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.removesuffix(".setup.json"))
def test_the_fleet_is_drawn_as_it_is_traced(file: FilePath) -> None:
    path = INSPECTOR.inspect_file(file).path
    assert path is not None
    found, trace = pictures(path), trace_json(path)
    for selector, entry in zip(found.selectors, trace["selectors"], strict=True):
        told = {round(edge, 3) for it in entry["positions"] or () for edge in _edges(it["us"])}
        shown = {round(mark.us, 3) for mark in selector.marks if mark.shape != "link-lost"}
        assert shown <= told
        assert selector.more or shown == {
            round(_edges(it["us"])[0], 3) for it in entry["positions"] or ()
        }
    for it, entry in zip(found.ports, trace["ports"], strict=True):
        ends = None if it.ends is None else [end.us for end in it.ends]
        assert ends == (entry["low"] and [entry["low"]["us"], entry["high"]["us"]])
        assert (it.lost and it.lost.us) == entry["failsafe"]["us"]
    for picture, entry in zip(found.directions, trace["directions"], strict=True):
        keys = {"command": "direct", "target": "target", "correction": "correction"}
        for way in picture.ways:
            assert (way.result or None) == entry[keys[way.name]]
            if way.result:
                against = -1 if way.name == "correction" else 1
                assert way.signs[-1] * against == way.result


def _edges(us: Any) -> Iterable[float]:
    return tuple(us) if isinstance(us, list) else (us, us)


def test_what_is_beyond_the_bound_is_not_checked() -> None:
    found = pictures(path_of(bound=1))
    assert any("not checked" in reason for it in found.selectors for reason in it.unknown)
    assert any("not checked" in reason for it in found.ports for reason in it.unknown)
    assert any("ot checked" in note for it in found.directions for note in it.notes)
