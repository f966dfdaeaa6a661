"""Ports on which the receiver sums channels, against sums worked out by hand.

Axis roll comes on channel 1, pitch on channel 2; each is mixed half (`mix_percent` 50), so that
1 % of either is 2 µs at the port.  Port 1 adds them, port 2 takes pitch less roll.  Channel 2 has
no control of its own unless a case says so; r is where the roll stick stands, in percent, and
x = r/100.
"""

from __future__ import annotations

from functools import partial
from math import nextafter, sqrt
from typing import TYPE_CHECKING, Any

import pytest

from prebind.document import Document, read
from prebind.model import Condition
from prebind.path import Path
from prebind.rule import NotChecked

if TYPE_CHECKING:
    from collections.abc import Callable

    from prebind.path.facts import Controls
    from prebind.path.port import PortReach

SETTLED_US = 0.001 * 4
"""A sum is settled to 0.001 % of output (signal path, ports that sum channels), 4 µs each."""

PITCH = {"control": "pitch-stick"}
CUBED = {"rates": [{"rate_percent": 100, "expo_percent": 100}]}
ON = [{"control": "switch", "positions": ["on"]}]
OFF = [{"control": "switch", "positions": ["off"]}]
ABOVE_20 = [{"control": "roll-stick", "above_percent": 20}]
BELOW_20 = [{"control": "roll-stick", "below_percent": 20}]


def made(
    roll: dict[str, Any] | None = None,
    pitch: dict[str, Any] | None = None,
    mixes: tuple[dict[str, Any], ...] = (),
    *,
    output: dict[str, Any] | None = None,
    stabiliser: dict[str, Any] | None = None,
    overrides: tuple[dict[str, Any], ...] = (),
    bound: int = 100_000,
) -> Path:
    switch = {"kind": "switch", "positions": ["off", "on"]}
    document = {
        "format": "model-setup/1",
        "model": {"name": "Little Tern", "airframe": "flying-wing"},
        "transmitter": {
            "channels": 8,
            "output": output or {},
            "controls": {
                "roll-stick": {"kind": "stick", "axis": "roll"},
                "pitch-stick": {"kind": "stick", "axis": "pitch"},
                "switch": switch,
                "other": switch,
            },
        },
        "channels": [
            {"channel": 1, "function": "aileron", "control": "roll-stick", **(roll or {})},
            {"channel": 2, "function": "elevator", **(pitch or {})},
            {"channel": 3, "function": "other", "control": "pitch-stick"},
        ],
        "mixes": [{"name": f"mix {i}", **entry} for i, entry in enumerate(mixes)],
        "overrides": [{"name": f"override {i}", **entry} for i, entry in enumerate(overrides)],
        "receiver": {
            "inputs": 8,
            "outputs": [{"port": number, "channel": number} for number in (1, 2, 3)],
            "stabiliser": {
                "mixing": "elevon",
                "mix_percent": 50,
                "axes": [axis("roll", 1, -1), axis("pitch", 2)],
                **(stabiliser or {}),
            },
        },
    }
    read_in = read(document)
    assert isinstance(read_in, Document), read_in
    return Path(read_in.setup, bound)


def axis(name: str, channel: int, sign: int = 1) -> dict[str, Any]:
    """An axis on ports 1 and 3, and with a sign on port 2."""
    ports = [1, {"port": 2, "sign": sign}, 3]
    return {"axis": name, "channel": channel, "ports": ports, "sense": "normal"}


def mix(rate: float, to: int = 2, high: float | None = None, **more: Any) -> dict[str, Any]:
    rates = {"low": rate, "high": rate if high is None else high}
    return {"from": {"control": "roll-stick"}, "to": to, "rate_percent": rates, **more}


def override(channel: int, demand: float, acts: str = "last") -> dict[str, Any]:
    set_to = {"channel": channel, "demand_percent": demand, "acts": acts, "when": ON}
    return {**set_to, "purpose": "other"}


def assert_reach(
    path: Path,
    port: int,
    reach: PortReach | None,
    *ends: tuple[float, bool],
    held: Controls | None = None,
) -> None:
    """Lowest and highest are those, and the positions that are told put them out."""
    assert reach is not None
    for found, (us, attained), inward in zip((reach.low, reach.high), ends, (1, -1), strict=True):
        assert -1e-9 <= inward * (found.us - us) <= SETTLED_US + 1e-9
        assert found.attained == attained
        there = path.situation({**(held or {}), **found.controls})
        assert there.ports[port] == pytest.approx(found.us, abs=1e-6)


def case(name: str, port: int, ends: tuple[float, float], *given: Any, **more: Any) -> Any:
    return pytest.param(partial(made, *given, **more), port, ends, id=name)


SWITCH = {"from": {"control": "switch"}}
OTHER = {"from": {"control": "other"}}
PITCH_STICK = {"from": {"control": "pitch-stick"}}
CLIPPED = {"limit_percent": 100}
ALL_OF_ROLL = {"axes": [axis("roll", 1, -1), axis("pitch", 1)]}


@pytest.mark.parametrize(
    ("make", "port", "ends"),
    [
        # ±100 % and ±100 %.
        case("two sticks", 1, (1100, 1900), {}, PITCH),
        # Roll −50 to 100 %, less that −100 to 50; pitch ±100.
        case(
            "less a channel of uneven travel",
            2,
            (1500 - 2 * 200, 1500 + 2 * 150),
            {"travel_percent": {"low": 50, "high": 100}},
            PITCH,
        ),
        # Reversed before the travel, so −100 to 50 %, less that −50 to 100; pitch ±100.
        case(
            "less a reversed channel of uneven travel",
            2,
            (1500 - 2 * 150, 1500 + 2 * 200),
            {"travel_percent": {"low": 100, "high": 50}, "reversed": True},
            PITCH,
        ),
        # r + (p + r/2); p + r/2 − r, which is less than if the two were moved apart.
        case("with the stick", 1, (1500 - 2 * 250, 1500 + 2 * 250), {}, PITCH, (mix(50),)),
        case("against the stick", 2, (1500 - 2 * 150, 1500 + 2 * 150), {}, PITCH, (mix(50),)),
        # 100·(x³ − x) turns at x = ±1/√3, where it is ∓200/(3·√3) = ∓38.5 %.
        case(
            "the most between the stick's ends",
            1,
            (1500 - 400 / (3 * sqrt(3)), 1500 + 400 / (3 * sqrt(3))),
            CUBED,
            {},
            (mix(-100),),
        ),
        # 100·(x³ − 1.5·x) turns at x = ±1/√2, where it is ∓100/√2 %; ∓50 at the ends.
        case(
            "the most between the stick's ends, of channels that go differently far",
            1,
            (1500 - 200 / sqrt(2), 1500 + 200 / sqrt(2)),
            CUBED,
            {},
            (mix(-150),),
        ),
        # 100·(x³ − 0.6·x) is ±40 % at the ends, and only 40·√0.2 = 17.9 % where it turns.
        case("the most at the stick's ends", 1, (1420, 1580), CUBED, {}, (mix(-60),)),
        # 1.5·r is clipped from r = 66.7 % on: 100 − 66.7 = 33.3 %.
        case(
            "the most where a limit begins to cut",
            1,
            (1500 - 200 / 3, 1500 + 200 / 3),
            {"travel_percent": {"low": 150, "high": 150}},
            {},
            (mix(-100),),
            output=CLIPPED,
        ),
        # Below centre r + r/2, above r − 3·r/2.
        case("the most at a bend", 1, (1200, 1500), {}, {}, (mix(50, high=-150),)),
        # 2·r is clipped on both channels alike.
        case(
            "two that cancel",
            2,
            (1500, 1500),
            {"rates": [{"rate_percent": 200}]},
            {},
            (mix(200),),
            output=CLIPPED,
        ),
        # The switch adds ±30 % to the one and takes it from the other.
        case(
            "a switch that cancels",
            1,
            (1300, 1700),
            {},
            {},
            (mix(30) | SWITCH, mix(-30, 1) | SWITCH),
        ),
        case(
            "a switch that counts twice",
            1,
            (1500 - 2 * 160, 1500 + 2 * 160),
            {},
            {},
            (mix(30) | SWITCH, mix(30, 1) | SWITCH),
        ),
        # On: 2·r − r.  Off: r/2 + r/2.  The other switch adds ±10 % in both.
        case(
            "a switch that chooses on both",
            1,
            (1500 - 2 * 110, 1500 + 2 * 110),
            {"rates": [{"rate_percent": 200, "when": ON}, {"rate_percent": 50}]},
            {},
            (mix(-100, when=ON), mix(50, when=OFF), mix(10) | OTHER),
            output={"limit_percent": 200},
        ),
        # Rounded to steps of 75 % neither would move.
        case(
            "taken before rounding",
            1,
            (1440, 1560),
            {"rates": [{"rate_percent": 20}]},
            {},
            (mix(10),),
            output={"limit_percent": 150, "steps": 5},
        ),
        # r + 7 + 5 + 3.
        case(
            "what stands still",
            1,
            (1500 - 2 * 85, 1500 + 2 * 115),
            {"subtrim_percent": 7},
            {"subtrim_percent": 5, "trim_percent": 3},
        ),
        case("one channel for two axes that add", 1, (1100, 1900), stabiliser=ALL_OF_ROLL),
        case("one channel for two axes that cancel", 2, (1500, 1500), stabiliser=ALL_OF_ROLL),
        # r/2 and the whole of the port's own channel: ±50 and ±100 %, of 4 µs.
        case("its own channel whole", 3, (900, 2100), stabiliser={"mixing": "swashplate"}),
        # Channel 3 is p + r/2, so r/2 + p + r/2.
        case(
            "its own channel too moved by the stick",
            3,
            (1500 - 4 * 200, 1500 + 4 * 200),
            {},
            {},
            (mix(50, 3),),
            output={"limit_percent": 200},
            stabiliser={"mixing": "swashplate"},
        ),
        # ±250 % of 2 µs is cut at 120 % of 4 µs.
        case(
            "the receiver's limit",
            1,
            (1500 - 480, 1500 + 480),
            {},
            PITCH,
            (mix(50),),
            stabiliser={"mix_limit_percent": 120},
        ),
        # (r + p/2) + (p + r/2), and (p + r/2) − (r + p/2) = (p − r)/2.
        case(
            "two sticks on both channels",
            1,
            (900, 2100),
            {},
            PITCH,
            (mix(50), mix(50, 1) | PITCH_STICK),
            output={"limit_percent": 200},
        ),
        case(
            "two sticks on both channels, one taken from the other",
            2,
            (1300, 1700),
            {},
            PITCH,
            (mix(50), mix(50, 1) | PITCH_STICK),
        ),
        # Channel 1 clips r + p at 100 %, less p: the most is at r = 100, p = −100, 0 + 100.
        case(
            "two sticks that meet at a limit",
            1,
            (1300, 1700),
            {},
            {},
            (mix(100, 1) | PITCH_STICK, mix(-100) | PITCH_STICK),
            output=CLIPPED,
        ),
        # min(r + p, 100) − 0.6·r − 0.8·p: where the limit begins, p = 100 − r, it is 20 + 0.2·r.
        case(
            "two sticks, the most where a limit begins to cut",
            1,
            (1420, 1580),
            {},
            {},
            (mix(100, 1) | PITCH_STICK, mix(-60), mix(-80) | PITCH_STICK),
            output=CLIPPED,
        ),
        # (p − r)/2, and 10 % more with the roll stick above 20 %: from −100 + 10 to 100.
        case(
            "two sticks, of which one has a threshold",
            2,
            (1320, 1700),
            {},
            PITCH,
            (mix(50), mix(50, 1) | PITCH_STICK, mix(0, offset_percent=10, when=ABOVE_20)),
        ),
        # Above 20 % of the stick the switch counts, ±30 %: −100 at the stick's lower end, 130.
        case(
            "a stick that moves one channel and decides on the other",
            1,
            (1300, 1760),
            {},
            {},
            (mix(30, when=ABOVE_20) | SWITCH,),
        ),
        # r/2 − r, and ±10 % on the channel that is taken away.
        case(
            "less a channel that a switch moves too",
            2,
            (1500 - 2 * 60, 1500 + 2 * 60),
            {},
            {},
            (mix(50), mix(10, 1) | OTHER),
        ),
        # r − (p + r/2).
        case(
            "a reversed channel that another stick moves too",
            1,
            (1500 - 2 * 150, 1500 + 2 * 150),
            {},
            PITCH | {"reversed": True},
            (mix(50),),
        ),
        # r/2 + (r/2)/2 and the whole of channel 3, p.
        case(
            "a stick on two of three channels",
            3,
            (1500 - 4 * 175, 1500 + 4 * 175),
            {},
            {},
            (mix(50),),
            output={"limit_percent": 200},
            stabiliser={"mixing": "swashplate"},
        ),
        # The same: what the switch adds to the third, ±30 %, half of ±60 takes away again.
        case(
            "a stick on two of three channels, and a switch that cancels on the third",
            3,
            (1500 - 4 * 175, 1500 + 4 * 175),
            {},
            {},
            (mix(50), mix(-60, 1) | SWITCH, mix(30, 3) | SWITCH),
            output={"limit_percent": 200},
            stabiliser={"mixing": "swashplate"},
        ),
    ],
)
def test_the_lowest_and_the_highest_sum(
    make: Callable[[], Path], port: int, ends: tuple[float, float]
) -> None:
    path = make()
    assert_reach(path, port, path.port(port).reach, (ends[0], True), (ends[1], True))


@pytest.mark.parametrize(
    ("make", "low", "high", "beside"),
    [
        # Up to 20 %: r.  Above: r + 60 − 2·r = 60 − r, from just under 40 down to −40.
        pytest.param(
            partial(made, {}, {}, (mix(-200, offset_percent=60, when=ABOVE_20),)),
            (1300, True),
            (1580, False),
            nextafter(20, 100),
            id="above",
        ),
        # From 20 % up: r.  Below: r − 30 − 2·r = −r − 30, from 70 down to just over −50.
        pytest.param(
            partial(made, {}, {}, (mix(-200, offset_percent=-30, when=BELOW_20),)),
            (1400, False),
            (1700, True),
            nextafter(20, -100),
            id="below",
        ),
        # The same of the roll stick alone, beside the pitch stick on the other channel: ±100 %.
        pytest.param(
            partial(made, {}, PITCH, (mix(-200, 1, offset_percent=60, when=ABOVE_20),)),
            (1100, True),
            (1780, False),
            nextafter(20, 100),
            id="above, of the first of two that share nothing",
        ),
        pytest.param(
            partial(made, {}, PITCH, (mix(-200, 1, offset_percent=-30, when=BELOW_20),)),
            (1200, False),
            (1900, True),
            nextafter(20, -100),
            id="below, of the first of two that share nothing",
        ),
        # r + 1.5·p and, above 20 % of r, 50 − 1.5·r: from just under 20 + 20, beside 150 of p.
        pytest.param(
            partial(
                made,
                {},
                PITCH,
                (mix(50, 1) | PITCH_STICK, mix(-150, offset_percent=50, when=ABOVE_20)),
                output={"limit_percent": 200},
            ),
            (1000, True),
            (1880, False),
            nextafter(20, 100),
            id="above, of one of two sticks on both channels",
        ),
    ],
)
def test_an_end_that_is_not_attained_names_the_position_beside_it(
    make: Callable[[], Path], low: tuple[float, bool], high: tuple[float, bool], beside: float
) -> None:
    path = make()
    reach = path.port(1).reach
    assert_reach(path, 1, reach, low, high)
    (at,) = [end.controls for end in (reach.low, reach.high) if not end.attained]
    assert at["roll-stick"] == beside


@pytest.mark.parametrize(
    ("offset", "when", "ends"),
    [
        (160, ABOVE_20, (1500, 1700)),
        (-160, BELOW_20, (1300, 1500)),
        (90, [{"control": "roll-stick", "above_percent": -80}, *BELOW_20], (1500, 1700)),
        (-60, [*ABOVE_20, {"control": "roll-stick", "below_percent": 80}], (1300, 1500)),
    ],
    ids=["above", "below", "above and below", "between"],
)
def test_a_limit_that_holds_the_sum_up_to_an_open_end_makes_it_attained(
    offset: float, when: list[Any], ends: tuple[float, float]
) -> None:
    """The offset less r between the thresholds, cut at ±100 from one of them on; 0 elsewhere."""
    path = made(
        {"rates": [{"rate_percent": 0}]},
        {},
        (mix(-100, offset_percent=offset, when=when),),
        output=CLIPPED,
    )
    assert_reach(path, 1, path.port(1).reach, (ends[0], True), (ends[1], True))


PITCH_ABOVE_20 = [{"control": "pitch-stick", "above_percent": 20}]
PITCH_BELOW_20 = [{"control": "pitch-stick", "below_percent": 20}]


def pitch_mix(offset: float, when: list[Any]) -> dict[str, Any]:
    return mix(-200, offset_percent=offset, when=when) | PITCH_STICK


@pytest.mark.parametrize(
    ("extra", "low", "high", "beside"),
    [
        # Up to 20 % p, above 60 − p, so −100 to just under 40; r + r/2 beside it.
        pytest.param(
            pitch_mix(60, PITCH_ABOVE_20),
            (1500 - 2 * 250, True),
            (1500 + 2 * 190, False),
            nextafter(20, 100),
            id="above",
        ),
        # From 20 % up p, below −p − 30, so just over −50 to 100.
        pytest.param(
            pitch_mix(-30, PITCH_BELOW_20),
            (1500 - 2 * 200, False),
            (1500 + 2 * 250, True),
            nextafter(20, -100),
            id="below",
        ),
    ],
)
def test_what_another_stick_only_approaches_the_sum_only_approaches(
    extra: dict[str, Any], low: tuple[float, bool], high: tuple[float, bool], beside: float
) -> None:
    path = made({}, PITCH, (mix(50), extra))
    reach = path.port(1).reach
    assert_reach(path, 1, reach, low, high)
    (at,) = [end.controls for end in (reach.low, reach.high) if not end.attained]
    assert at["pitch-stick"] == beside


@pytest.mark.parametrize(
    ("make", "ends"),
    [
        # r + just under 40 is cut at 100, and −100 − 100 at −100; r beside it.
        pytest.param(
            partial(made, {}, PITCH, (mix(100), pitch_mix(60, PITCH_ABOVE_20)), output=CLIPPED),
            (1100, 1900),
            id="limit",
        ),
        # The same below: −100 + just over −50 is cut at −100, and 100 + 100 at 100.
        pytest.param(
            partial(made, {}, PITCH, (mix(100), pitch_mix(-30, PITCH_BELOW_20)), output=CLIPPED),
            (1100, 1900),
            id="limit below",
        ),
        # Channel 2 stays at 0 above its centre: 100 + 0; below −50 − 100.
        pytest.param(
            partial(
                made,
                {},
                PITCH | {"travel_percent": {"low": 100, "high": 0}},
                (mix(50), pitch_mix(60, PITCH_ABOVE_20)),
            ),
            (1500 - 2 * 250, 1700),
            id="travel",
        ),
        # r, cut at 60, and up to just under 110 − r/2, cut at 60 until r = 100: 120 from 60 to 100.
        # The least is at r = −60: −60 + 150 − 200 + 30.
        pytest.param(
            partial(
                made,
                {},
                {},
                (mix(-50), pitch_mix(150, PITCH_ABOVE_20)),
                output={"limit_percent": 60},
            ),
            (1500 - 2 * 80, 1500 + 2 * 120),
            id="limit that begins at the stick's end",
        ),
        # Port 2 takes channel 1 less channel 1, whose own end is only approached.
        pytest.param(
            partial(
                made,
                {},
                {},
                (mix(-200, 1, offset_percent=60, when=ABOVE_20),),
                stabiliser=ALL_OF_ROLL,
            ),
            (1500, 1500),
            id="two axes that cancel",
        ),
    ],
)
def test_where_the_output_is_level_an_end_that_is_approached_is_attained(
    make: Callable[[], Path], ends: tuple[float, float]
) -> None:
    path = make()
    port = 2 if ends == (1500, 1500) else 1
    assert_reach(path, port, path.port(port).reach, (ends[0], True), (ends[1], True))


@pytest.mark.parametrize(
    ("points", "added", "output", "low", "high"),
    [
        # Just above 20 %: 40 + 10 + 30; at 100 %: 0 + 50 + 30.  Lowest −100 − 50 at −100 %.
        ([[20, 40], [60, -20], [100, 0]], (mix(50), mix(0, offset_percent=30)), {}, 1200, 1660),
        # 10 − 10 + 80, and 50 − 50 + 80; cut at −90 about 60 %, and at −100 %.
        (
            [[20, 10], [60, -100], [100, 50]],
            (mix(-50, offset_percent=80),),
            {"limit_percent": 90},
            1320,
            1660,
        ),
        # The same with ±2 % more on both channels; at −100 % the one is cut, the other takes 2.
        (
            [[20, 10], [60, -100], [100, 50]],
            (mix(2, 1) | PITCH_STICK, mix(2) | PITCH_STICK, mix(-50, offset_percent=80)),
            {"limit_percent": 90},
            1316,
            1668,
        ),
    ],
    ids=["at once", "by halves", "by halves, with another stick"],
)
def test_of_two_positions_that_give_the_most_the_one_where_it_is_attained_counts(
    points: list[list[float]],
    added: tuple[dict[str, Any], ...],
    output: dict[str, Any],
    low: float,
    high: float,
) -> None:
    """As much just above the threshold, where it is only approached, and at the stick's end."""
    *other, last = added
    curve = {"curves": [{"points": [[-100, -100], *points]}]}
    path = made(curve, {}, (*other, last | {"when": ABOVE_20}), output=output)
    reach = path.port(1).reach
    assert_reach(path, 1, reach, (low, True), (high, True))
    assert reach.high.controls["roll-stick"] == 100


def test_a_stick_that_cancels_is_told_in_its_middle_as_one_that_has_no_say() -> None:
    path = made({}, {}, (mix(100),))
    reach = path.port(2).reach
    assert_reach(path, 2, reach, (1500, True), (1500, True))
    assert reach.low.controls == reach.high.controls == {"roll-stick": 0}


def test_where_the_sum_is_level_the_stick_s_own_end_is_told() -> None:
    """2·r and 2·r, both cut from ±50 % on: ±100 % there and at the ends, and no less between."""
    path = made({"rates": [{"rate_percent": 200}]}, {}, (mix(200),), output=CLIPPED)
    reach = path.port(1).reach
    assert_reach(path, 1, reach, (1100, True), (1900, True))
    assert [end.controls["roll-stick"] for end in (reach.low, reach.high)] == [-100, 100]


@pytest.mark.parametrize("mixes", [(mix(50),), ()], ids=["shared", "apart"])
def test_the_positions_of_an_end_name_what_is_held(mixes: tuple[dict[str, Any], ...]) -> None:
    """As those of a channel do, whether or not another channel answers to it."""
    held: dict[str, str | float] = {"pitch-stick": -20.0, "switch": "on"}
    path = made({}, PITCH, (*mixes, mix(10) | SWITCH))
    reach = path.port(1).reach_where(held)
    alone = path.channel(2).reach_where(held)
    assert reach is not None
    assert alone is not None
    for end in (reach.low, reach.high, alone.low, alone.high):
        assert {c: end.controls.get(c) for c in held} == held


@pytest.mark.parametrize(
    ("threshold", "offset", "ends"),
    [
        ({"above_percent": 80}, 160, (1300, 1820)),
        ({"below_percent": -80}, -160, (1180, 1700)),
    ],
    ids=["above", "below"],
)
def test_a_stick_that_cancels_beyond_a_threshold_is_told_beyond_it(
    threshold: dict[str, float], offset: float, ends: tuple[float, float]
) -> None:
    """Beyond ±80 % r − r + 160, or less 160; elsewhere r."""
    when = [{"control": "roll-stick", **threshold}]
    path = made({}, {}, (mix(-100, offset_percent=offset, when=when),))
    assert_reach(path, 1, path.port(1).reach, (ends[0], True), (ends[1], True))


FREE = [
    # Off: r + 0.3·r.  On: 150 + 0.3·r.
    case("last", 1, (1240, 1760), {}, {}, (mix(30),), overrides=(override(1, 150),)),
    # On: r + 40 + 0.3·r.
    case(
        "before mixes",
        1,
        (1240, 1760),
        {},
        {},
        (mix(30),),
        overrides=(override(2, 40, "before-mixes"),),
    ),
    # On: r + 150, where the channels share no stick.
    case("of one that shares nothing", 1, (1100, 1900), {}, PITCH, overrides=(override(2, 150),)),
    # On: r/2 + (r/2)/2 + 180, beside a stick that is on the other two channels.
    case(
        "of the third of three",
        3,
        (1500 - 4 * 175, 1500 + 4 * 175),
        {},
        {},
        (mix(50),),
        output={"limit_percent": 300},
        stabiliser={"mixing": "swashplate"},
        overrides=(override(3, 180),),
    ),
]
OVERRIDDEN = [(1240, 1860), (1240, 1840), (1100, 2000), (1500 - 4 * 175, 1500 + 4 * 255)]


@pytest.mark.parametrize(
    ("make", "port", "ends", "all_ends"),
    [
        pytest.param(*it.values, overridden, id=it.id)
        for it, overridden in zip(FREE, OVERRIDDEN, strict=True)
    ],
)
def test_what_an_override_does_counts_unless_asked_without(
    make: Callable[[], Path],
    port: int,
    ends: tuple[float, float],
    all_ends: tuple[float, float],
) -> None:
    path = make()
    assert_reach(path, port, path.port(port).reach, (all_ends[0], True), (all_ends[1], True))
    assert_reach(path, port, path.port(port).free, (ends[0], True), (ends[1], True))


@pytest.mark.parametrize("channel", [1, 2, 3])
@pytest.mark.parametrize("mixes", [(mix(30),), ()], ids=["shared", "apart"])
def test_where_an_override_always_holds_nothing_is_free(
    channel: int, mixes: tuple[dict[str, Any], ...]
) -> None:
    always = (override(channel, 10), override(channel, 10) | {"when": OFF})
    path = made({}, {}, mixes, overrides=always, stabiliser={"mixing": "swashplate"})
    assert path.port(3).free is None


@pytest.mark.parametrize(
    ("fix", "when", "ends"),
    [
        # p + r/2 + r with r = 50; then with p = −20 too.
        ({"roll-stick": 50}, [], (1500 - 2 * 25, 1500 + 2 * 175)),
        ({"roll-stick": 50, "pitch-stick": -20}, [], (1610, 1610)),
        ({"pitch-stick": -20}, [], (1500 - 2 * 170, 1500 + 2 * 130)),
        ({}, [{"control": "pitch-stick", "below_percent": -100}], None),
        ({"roll-stick": 20}, ABOVE_20, None),
        ({"roll-stick": 21}, ABOVE_20, (1500 + 2 * (31.5 - 100), 1500 + 2 * (31.5 + 100))),
        ({"switch": "off"}, ON, None),
        ({"switch": "on"}, ON, (1000, 2000)),
    ],
)
def test_controls_that_are_held_and_a_condition(
    fix: dict[str, Any], when: list[Any], ends: tuple[float, float] | None
) -> None:
    path = made({}, PITCH, (mix(50),))
    reach = path.port(1).reach_where(fix, conditions(when))
    if ends is None:
        assert reach is None
    else:
        assert_reach(path, 1, reach, (ends[0], True), (ends[1], True), held=fix)


def test_a_condition_on_the_shared_stick_leaves_its_end_open() -> None:
    """r + r/2 from just above 30 to 150 %; what pitch adds, ±100 %, is attained."""
    path = made({}, PITCH, (mix(50),))
    reach = path.port(1).reach_where(when=conditions(ABOVE_20))
    assert_reach(path, 1, reach, (1500 + 2 * (30 - 100), False), (2000, True))


@pytest.mark.parametrize(("position", "ends"), [("on", (1100, 1900)), ("off", (1300, 1700))])
def test_a_condition_on_a_switch_that_only_one_channel_asks(
    position: str, ends: tuple[float, float]
) -> None:
    path = made({}, {}, (mix(100, when=ON),))
    when = conditions([{"control": "switch", "positions": [position]}])
    assert_reach(path, 1, path.port(1).reach_where(when=when), (ends[0], True), (ends[1], True))


def conditions(listed: list[dict[str, Any]]) -> tuple[Condition, ...]:
    found: list[dict[str, Any]] = [
        {key: tuple(it) if key == "positions" else it for key, it in entry.items()}
        for entry in listed
    ]
    return tuple(Condition(**entry) for entry in found)


def test_more_boxes_than_the_bound_are_not_checked() -> None:
    """1.5·r, clipped, less r bends within the box: it is halved until 0.001 % is left.

    200 % halved 18 times is less than 0.001 %, so that 5 boxes do not do.
    """
    roll = {"travel_percent": {"low": 150, "high": 150}}
    path = made(roll, {}, (mix(-100),), output=CLIPPED, bound=5)
    with pytest.raises(NotChecked) as raised:
        _ = path.port(1).reach
    assert raised.value.message == "not checked: more than 5 boxes of “roll-stick”"
    assert (raised.value.controls, raised.value.cells) == (("roll-stick",), 5)


def test_as_many_boxes_as_the_bound_are_checked() -> None:
    """min(r + 50, 0) − r is 50 % up to r = −50, where it bends, and −100 at the stick's end.

    The whole box is halved, then its lower half, so that the bend is at an end of what is left.
    """
    roll = {"travel_percent": {"low": 100, "high": 0}}
    mixes = (mix(0, 1, offset_percent=50), mix(-100))
    reach = made(roll, {}, mixes, bound=2).port(1).reach
    assert_reach(made(roll, {}, mixes), 1, reach, (1300, True), (1600, True))
    with pytest.raises(NotChecked):
        _ = made(roll, {}, mixes, bound=1).port(1).reach


def test_what_a_box_may_better_by_no_more_than_a_thousandth_of_a_percent_is_settled() -> None:
    """0.64·r below centre and 0 above, less r/100,000, each counted half: one box is looked at.

    Nothing is more than 0 + 0.0005 %, and the stick's high end gives 0 − 0.0005; nothing less than
    −32 − 0.0005 %, and its low end gives −32 + 0.0005.
    """
    path = made({"travel_percent": {"low": 64, "high": 0}}, {}, (mix(-0.001),), bound=1)
    reach = path.port(1).reach
    assert_reach(path, 1, reach, (1500 - 4 * 31.9995, True), (1500, True))
    assert (reach.low.controls, reach.high.controls) == ({"roll-stick": -100}, {"roll-stick": 100})


def test_what_is_told_of_a_settled_box_is_what_its_position_gives() -> None:
    """Channel 1 is cut at 100 from r = 20.0002 on, channel 2 is 30 − r/2 above 20 %.

    So the most, 119.9999 %, is too close to the threshold for another box.
    """
    mixes = (mix(0, 1, offset_percent=79.9998), mix(-50, offset_percent=30, when=ABOVE_20))
    path = made({}, {}, mixes, output=CLIPPED)
    assert_reach(path, 1, path.port(1).reach, (1500 - 2 * 20.0002, True), (1739.9998, True))


def test_where_no_channel_bends_no_box_is_halved() -> None:
    assert made({}, PITCH, (mix(50),), bound=1).port(1).reach.high.us == 2000
