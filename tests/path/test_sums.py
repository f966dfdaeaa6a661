"""What a sum of terms can be, against values worked out by hand.

The rudder on channel 4 has no limit that matters, so that its output is its demand, in percent.
"""

from __future__ import annotations

from math import nextafter
from typing import Any

import pytest

from prebind.document import Document, read
from prebind.path import Path
from prebind.path.conditions import Cell, point_cell
from prebind.path.cubic import ZERO, rate_and_expo
from prebind.path.sums import SAME, End, Term, flat, highest, lowest, spans_of
from prebind.rule import NotChecked
from prebind.testing import clean

STICK, KNOB = "yaw-stick", "knob"


def rudder(
    *mixes: dict[str, Any],
    bound: int = 100_000,
    switches: int = 0,
    overrides: list[dict[str, Any]] | None = None,
    **more: Any,
) -> Path:
    """A rudder that the stick drives, with a knob and switches of three and of two positions.

    `overrides` says when it is set to 70 %.
    """
    document = clean("plain")
    document["transmitter"]["output"] = {"limit_percent": 200}
    document["transmitter"]["controls"] |= {
        "knob": {"kind": "knob"},
        "three": {"kind": "switch", "positions": ["a", "b", "c"]},
        "other": {"kind": "switch", "positions": ["a", "b", "c"]},
        **{f"s{i}": {"kind": "switch", "positions": ["a", "b"]} for i in range(switches)},
    }
    own = {"channel": 4, "function": "rudder", "control": "yaw-stick"}
    document["channels"][3] = {key: it for key, it in {**own, **more}.items() if it is not None}
    document["mixes"] = [{"name": f"mix {i}", **mix} for i, mix in enumerate(mixes)]
    set_to = {"name": "set", "purpose": "other", "channel": 4, "demand_percent": 70}
    document["overrides"] = [{**set_to, "when": overrides}] if overrides else []
    read_in = read(document)
    assert isinstance(read_in, Document), read_in
    return Path(read_in.setup, bound)


def mix(control: str, low: float, high: float | None = None, **more: Any) -> dict[str, Any]:
    rates = {"low": low, "high": low if high is None else high}
    return {"from": {"control": control}, "to": 4, "rate_percent": rates, **more}


def at(control: str, position: str) -> dict[str, Any]:
    return {"control": control, "positions": [position]}


def let_in(control: str, count: int, **more: Any) -> list[dict[str, Any]]:
    """As many mixes of a control, each let in by a switch of its own."""
    return [mix(control, when=[at(f"s{i}", "b")], **more) for i in range(count)]


STILL: dict[str, Any] = {"control": None}
ABOVE_20 = {"control": STICK, "above_percent": 20}


Stretch = tuple[float, float, bool, bool]


def stretches(path: Path) -> list[Stretch]:
    """Every stretch of the output in percent; the positions that are told give its ends."""
    channel = path.channel(4)
    found: list[Stretch] = []
    for piece in channel.reach.pieces:
        for us, controls in (
            (piece.low, piece.low_controls),
            (piece.high, piece.high_controls),
        ):
            assert channel.stages({**path.rest(), **controls}).us == pytest.approx(us, abs=1e-6)
        low, high = ((us - 1500) / 4 for us in (piece.low, piece.high))
        found.append((round(low, 6), round(high, 6), piece.low_closed, piece.high_closed))
    return found


def points(*values: float) -> list[Stretch]:
    return [(value, value, True, True) for value in values]


@pytest.mark.parametrize(
    ("path", "wanted"),
    [
        pytest.param(lambda: rudder(**STILL), points(0), id="nothing that moves"),
        pytest.param(
            lambda: rudder(**STILL, trim_percent=7), points(7), id="a trim alone"
        ),
        pytest.param(lambda: rudder(), [(-100, 100, True, True)], id="a stick"),
        # −20, 0, 20 and −5, 0, 5.
        pytest.param(
            lambda: rudder(mix("three", 20), mix("other", 5), **STILL),
            points(-25, -20, -15, -5, 0, 5, 15, 20, 25),
            id="two switches",
        ),
        # At a and b nothing, at c −20, 0 or 20.
        pytest.param(
            lambda: rudder(mix("three", 20, when=[at("other", "c")]), **STILL),
            points(-20, 0, 20),
            id="a switch behind another",
        ),
        # The same switch: 20 − 5 at either end, not 20 and 5 apart.
        pytest.param(
            lambda: rudder(mix("three", 20), mix("three", -5), **STILL),
            points(-15, 0, 15),
            id="one switch, two mixes",
        ),
        # At a −1, and 0 or 10, at b 0, and 0 or 20, at c 1.
        pytest.param(
            lambda: rudder(
                mix("other", 0, 10, when=[at("three", "a")]),
                mix("other", 0, 20, when=[at("three", "b")]),
                mix("three", 1),
                **STILL,
            ),
            points(-1, 0, 1, 9, 20),
            id="a switch that does more or less behind another that drives too",
        ),
        # At a −20 and 3, at b 0, at c 20.
        pytest.param(
            lambda: rudder(
                mix("three", 20),
                mix("other", 0, offset_percent=3, when=[at("three", "a")]),
                **STILL,
            ),
            points(-17, 0, 20),
            id="a switch that drives and chooses",
        ),
        # A knob of ±10 about −100, 0 and 100.
        pytest.param(
            lambda: rudder(mix("three", 100), mix(KNOB, 10), **STILL),
            [(-110, -90, True, True), (-10, 10, True, True), (90, 110, True, True)],
            id="a knob about a switch",
        ),
        # At c the knob adds ±10 to 100; at a and b it does nothing.
        pytest.param(
            lambda: rudder(mix("three", 100), mix(KNOB, 10, when=[at("three", "c")]), **STILL),
            [*points(-100, 0), (90, 110, True, True)],
            id="a knob at one position of a switch",
        ),
        # At a −20 ± 10, at b ±10, at c 20 ± 15: the third mix brings the other two together.
        pytest.param(
            lambda: rudder(
                mix(KNOB, 10), mix("three", 20), mix(KNOB, 5, when=[at("three", "c")]), **STILL
            ),
            [(-30, -10, True, True), (-10, 10, True, True), (5, 35, True, True)],
            id="a mix that joins two others",
        ),
        # Up to 20 % the stick itself; above 50 % more than its half, from just over 60 to 100.
        pytest.param(
            lambda: rudder(mix(STICK, -50, offset_percent=50, when=[ABOVE_20])),
            [(-100, 20, True, False), *points(20), (60, 100, False, True)],
            id="a stick that changes at a threshold",
        ),
        # Nothing up to 20 % of the knob, above it 30 % and what the switch adds, ±5.
        pytest.param(
            lambda: rudder(
                mix(KNOB, 0, offset_percent=30, when=[{"control": KNOB, "above_percent": 20}]),
                mix("three", 5, when=[{"control": KNOB, "above_percent": 20}]),
                **STILL,
            ),
            points(0, 25, 30, 35),
            id="a threshold that lets a switch in",
        ),
        # Each switch lets in 1 % of the stick, or not.
        pytest.param(
            lambda: rudder(*let_in(STICK, 3, low=1), switches=3),
            [(-103, 103, True, True)],
            id="a few switched mixes of a stick",
        ),
        pytest.param(
            lambda: rudder(*let_in(STICK, 6, low=1), switches=6),
            [(-106, 106, True, True)],
            id="as many as are gone through",
        ),
        # −70 to 130 % and ±7; all of them meet at 30 %, where the stick is at rest.
        pytest.param(
            lambda: rudder(
                *let_in(STICK, 7, low=1),
                switches=7,
                curves=[{"points": [[-100, -70], [0, 30], [100, 130]]}],
            ),
            [(-77, 30, True, True), (30, 137, True, True)],
            id="many switched mixes of a stick",
        ),
        # At c alone 40 to 60 %; the switch is told with either end.
        pytest.param(
            lambda: rudder(mix(KNOB, 10, offset_percent=50, when=[at("three", "c")]), **STILL),
            [*points(0), (40, 60, True, True)],
            id="a knob and its switch",
        ),
        # Up to ½ % as it is, beyond it 50 % further: 50½ % and what each of the mixes adds to it.
        pytest.param(
            lambda: rudder(
                *let_in(STICK, 7, low=1),
                mix(STICK, 0, offset_percent=50, when=[{"control": STICK, "above_percent": 0.5}]),
                switches=7,
            ),
            [
                (-107, 0, True, True),
                (0, 0.535, True, False),
                *points(0.535),
                *((50.5 + 0.005 * i, 150 + i, False, True) for i in range(8)),
            ],
            id="many switched mixes of a stick beyond its centre",
        ),
        # Beyond −½ % 50 % further: from 50 − ½·1.07 on, through 50.
        pytest.param(
            lambda: rudder(
                *let_in(STICK, 7, low=1),
                mix(STICK, 0, offset_percent=50, when=[{"control": STICK, "above_percent": -0.5}]),
                switches=7,
            ),
            [
                *((-107 + i, -0.535 + 0.005 * i, True, False) for i in range(8)),
                *points(-0.5),
                (49.465, 50, False, True),
                (50, 157, True, True),
            ],
            id="many switched mixes of a stick from just below its centre",
        ),
        # Beyond −50 % 80 % further: from 80 − 50·1.07 = 26.5 on, through 80.
        pytest.param(
            lambda: rudder(
                *let_in(STICK, 7, low=1),
                mix(STICK, 0, offset_percent=80, when=[{"control": STICK, "above_percent": -50}]),
                switches=7,
            ),
            [
                *((-107 + i, -53.5 + i / 2, True, False) for i in range(8)),
                *points(-50),
                (26.5, 80, False, True),
                (80, 187, True, True),
            ],
            id="many switched mixes of a stick from below its centre",
        ),
        # Below 50 % 80 % less: up to 50·1.07 − 80 = −26.5.
        pytest.param(
            lambda: rudder(
                *let_in(STICK, 7, low=1),
                mix(STICK, 0, offset_percent=-80, when=[{"control": STICK, "below_percent": 50}]),
                switches=7,
            ),
            [
                (-187, -80, True, True),
                (-80, -26.5, True, False),
                *points(50),
                *((50 + i / 2, 100 + i, False, True) for i in range(8)),
            ],
            id="many switched mixes of a stick up to above its centre",
        ),
    ],
)  # fmt: skip
def test_every_value_that_can_be(path: Any, wanted: list[Stretch]) -> None:
    assert stretches(path()) == wanted


@pytest.mark.parametrize(
    ("held", "low", "high"),
    [
        # The stick, 30 % of the knob, and 10 % of the switch where the knob stands above 20 %.
        ({}, -130, 140),
        ({KNOB: 50}, -95, 125),
        ({KNOB: 20}, -94, 106),
        ({STICK: -40}, -70, 0),
        ({STICK: -40, KNOB: 50}, -35, -15),
        ({STICK: -40, KNOB: 50, "three": "a"}, -35, -35),
        ({"three": "c"}, -130, 140),
        ({"three": "a"}, -130, 120),
    ],
)
def test_controls_that_are_held(held: dict[str, Any], low: float, high: float) -> None:
    path = rudder(mix(KNOB, 30), mix("three", 10, when=[{"control": KNOB, "above_percent": 20}]))
    reach = path.channel(4).reach_where(held)
    assert reach is not None
    for end, wanted in ((reach.low, low), (reach.high, high)):
        assert end.value == pytest.approx(wanted)
        assert held.items() <= end.controls.items()
        there = path.channel(4).stages({**path.rest(), **end.controls})
        assert there.output_percent == pytest.approx(wanted)


@pytest.mark.parametrize("bound", [100_000, 100])
@pytest.mark.parametrize(
    ("rates", "curve", "low", "high"),
    [
        # Each adds x/10 − 2, which is above 0 from 20 % on: at the peak, 50 %, 3 each; at the
        # left end −12 each.
        ({"low": 10, "offset_percent": -2}, [[-100, -100], [50, 100], [100, -100]], -184, 121),
        # Each adds −x/10 − 2, above 0 below −20 %: at the peak, −50 %, 3 each.
        ({"low": -10, "offset_percent": -2}, [[-100, -100], [-50, 100], [100, -100]], -184, 121),
        # Each takes away x/10 − 2: at the valley, 50 %, 3 each.
        ({"low": -10, "offset_percent": 2}, [[-100, 100], [50, -100], [100, 100]], -121, 184),
        # Each adds 1 % of the curve, which is above 0 up to its bend at 50 %: 0.32 each at the
        # peak, 18 %; at the right end each takes 1 away.
        (
            {"low": 1, "from": {"channel": 4}},
            [[-100, 0], [18, 32], [50, 0], [100, -100]],
            -107,
            34.24,
        ),
        # Below 0 % each takes away x/20, above it adds x/10: always up, 5 at the left, 10 right.
        ({"low": -5, "high": 10}, [[-100, 100], [0, 60], [100, 30]], 30, 135),
    ],
)
def test_of_many_switched_mixes_each_takes_its_best(
    rates: dict[str, Any], curve: list[list[float]], low: float, high: float, bound: int
) -> None:
    """Seven switches, each of which lets a mix of the stick in: 128 combinations."""
    path = rudder(*let_in(STICK, 7, **rates), switches=7, curves=[{"points": curve}], bound=bound)
    channel = path.channel(4)
    for end, wanted in ((channel.reach.low, low), (channel.reach.high, high)):
        assert end.value == pytest.approx(wanted)
        assert end.attained
        there = channel.stages({**path.rest(), **end.controls})
        assert there.output_percent == pytest.approx(wanted)


@pytest.mark.parametrize("bound", [100_000, 100])
@pytest.mark.parametrize(
    ("above", "low", "high"),
    [
        # Up to 20 %: 1.07·r at most.  Above: 60 − r, and 0.07·r with all: just over 20 %, 41.4.
        (True, (-107, True), (41.4, False)),
        # The other way round below −20 %.
        (False, (-41.4, False), (107, True)),
    ],
)
def test_an_open_end_of_many_switched_mixes_is_not_attained(
    above: bool, low: tuple[float, bool], high: tuple[float, bool], bound: int
) -> None:
    where = {"control": STICK, **({"above_percent": 20} if above else {"below_percent": -20})}
    offset = 60 if above else -60
    turned = mix(STICK, -200, offset_percent=offset, when=[where])
    path = rudder(turned, *let_in(STICK, 7, low=1), switches=7, bound=bound)
    reach = path.channel(4).reach
    for end, (value, attained) in ((reach.low, low), (reach.high, high)):
        assert end.value == pytest.approx(value)
        assert end.attained == attained
    open_end = reach.high if above else reach.low
    assert open_end.controls[STICK] == (nextafter(20, 100) if above else nextafter(-20, -100))
    there = path.channel(4).stages({**path.rest(), **open_end.controls})
    assert there.output_percent == pytest.approx(open_end.value)


@pytest.mark.parametrize(
    ("cell", "low", "high"),
    [
        (Cell(0.0, 0.0, -100.0, 100.0), (-57, True), (157, True)),
        (Cell(20.0, 20.0, -50.0, 100.0, False, True), (-3.5, False), (157, True)),
        (Cell(45.0, 45.0, -0.5, 100.0, False, True), (49.465, False), (157, True)),
        (Cell(-20.0, -20.0, -100.0, 50.0, True, False), (-57, True), (103.5, False)),
        (Cell(-45.0, -45.0, -100.0, 0.5, True, False), (-57, True), (50.535, False)),
    ],
)
def test_on_a_stretch_about_the_centre_many_mixes_meet_there(
    cell: Cell, low: tuple[float, bool], high: tuple[float, bool]
) -> None:
    """50 % and the stick, and 1 % of it more for each of seven switches: all meet at 50."""
    switches = {f"s{i}": (point_cell("a", -100.0), point_cell("b", 100.0)) for i in range(7)}

    def hundredth(switch: str) -> Term:
        cubics = rate_and_expo(1, 0)
        return Term(
            "stick",
            frozenset({switch}),
            lambda cells: cubics if cells[switch].position == "b" else ZERO,
        )

    stick = Term("stick", frozenset(), lambda _: rate_and_expo(100, 0).shifted(50))
    terms = [stick, *(hundredth(switch) for switch in switches)]
    _, span = spans_of(terms, {"stick": (cell,), **switches}, 1000)
    assert span.pieces is not None
    assert [piece[:4] for piece in span.pieces] == [
        (pytest.approx(low[0]), 50, low[1], True),
        (50, pytest.approx(high[0]), True, high[1]),
    ]
    assert {flat(at)["stick"] for at in (span.pieces[0][5], span.pieces[1][4])} == {0}


@pytest.mark.parametrize("bound", [100_000, 100])
@pytest.mark.parametrize(
    ("where", "rates", "curve"),
    [
        # The open end comes first, then the peak; and the other way round.
        (
            {"above_percent": -50},
            {"low": 0, "high": 1},
            [[-100, 0], [-50, 50], [0, -50], [50, 46.5], [100, -50]],
        ),
        (
            {"below_percent": 50},
            {"low": -1, "high": 0},
            [[-100, -50], [-50, 46.5], [0, -50], [50, 50], [100, 0]],
        ),
    ],
    ids=["first", "last"],
)
def test_what_an_open_end_only_approaches_may_be_attained_elsewhere(
    where: dict[str, float], rates: dict[str, float], curve: list[list[float]], bound: int
) -> None:
    """50 % further between a threshold and the other end: just beyond it 100 %.

    So much is the peak on the other side of the centre too, 46.5 + 50 and ½ % of seven mixes each.
    """
    further = mix(STICK, 0, offset_percent=50, when=[{"control": STICK, **where}])
    path = rudder(
        further, *let_in(STICK, 7, **rates), switches=7, curves=[{"points": curve}], bound=bound
    )
    high = path.channel(4).reach.high
    assert high.value == pytest.approx(100)
    assert high.attained
    assert path.channel(4).stages({**path.rest(), **high.controls}).output_percent == high.value


def test_where_switched_mixes_have_no_value_in_common_their_values_are_gone_through() -> None:
    """Seven mixes of 10 % and a hundredth of the stick: none is 0, one 9 to 11, two 18 to 22 %."""
    mixes = let_in(STICK, 7, low=1, offset_percent=10)
    wanted = [(9.0 * i, 11.0 * i, True, True) for i in range(8)]
    assert stretches(rudder(*mixes, switches=7, bound=128, **STILL)) == wanted
    reach = rudder(*mixes, switches=7, bound=127, **STILL).channel(4).reach
    assert (reach.low.value, reach.high.value) == (0, 77)
    with pytest.raises(NotChecked, match="the lowest and highest value are exact"):
        _ = reach.pieces


@pytest.mark.parametrize("below", [-1, 1])
@pytest.mark.parametrize("percent", [-99, -50, 50, 99, 103, 105.5])
def test_positions_that_give_a_value_between_two_ends_of_many_mixes(
    percent: float, below: float
) -> None:
    """Each lets 1 % more of the stick in above its centre, and more or less of it below."""
    path = rudder(*let_in(STICK, 7, low=below, high=1), switches=7)
    us = 1500 + 4 * percent
    met = path.channel(4).reach.met(us - 0.1, us + 0.1)
    assert met is not None
    assert met[0] == pytest.approx(us, abs=0.1)
    there = path.channel(4).stages({**path.rest(), **met[1]})
    assert there.us == pytest.approx(met[0], abs=1e-6)


@pytest.mark.parametrize(("bound", "told"), [(18, True), (17, False)])
def test_each_mix_in_each_combination_of_shared_controls_counts_against_the_bound(
    bound: int, told: bool
) -> None:
    """Two mixes, each behind the other's switch: nine combinations, in each two mixes."""
    path = rudder(
        mix("three", 20, when=[at("other", "c")]),
        mix("other", 5, when=[at("three", "c")]),
        bound=bound,
        **STILL,
    )
    if told:
        assert path.channel(4).reach.high.value == 25
    else:
        assert_nine_are_not_checked(path)


@pytest.mark.parametrize(("bound", "told"), [(9, True), (8, False)])
def test_each_case_of_an_override_counts_against_the_bound(bound: int, told: bool) -> None:
    """An override on two switches of three positions each: nine cases."""
    path = rudder(bound=bound, overrides=[at("three", "c"), at("other", "c")], **STILL)
    if told:
        assert path.channel(4).reach.high.value == 70
    else:
        assert_nine_are_not_checked(path)


def assert_nine_are_not_checked(path: Path) -> None:
    with pytest.raises(NotChecked) as raised:
        _ = path.channel(4).reach.high
    assert raised.value.message == (
        "not checked: 2 controls meet here in 9 combinations (“other”, “three”)"
    )
    assert (raised.value.controls, raised.value.cells) == (("other", "three"), 9)


JUST = SAME / 2
FAR = SAME * 2


@pytest.mark.parametrize("sign", [-1, 1], ids=["lowest", "highest"])
@pytest.mark.parametrize(
    ("first", "then", "taken"),
    [
        # (how far out, whether it is attained), and which of the two is taken.
        ((0.0, True), (FAR, False), 1),
        ((FAR, False), (0.0, True), 0),
        ((0.0, True), (JUST, False), 0),
        ((JUST, False), (0.0, True), 1),
        ((JUST, True), (0.0, True), 0),
        ((JUST, False), (0.0, False), 0),
        ((0.0, False), (0.0, True), 1),
        ((0.0, False), (JUST, True), 1),
        ((5.0, True), (-5.0, True), 0),
        ((-5.0, False), (5.0, False), 1),
    ],
)
def test_of_ends_that_are_one_value_an_attained_one_is_taken(
    sign: int, first: tuple[float, bool], then: tuple[float, bool], taken: int
) -> None:
    ends: list[End] = [(sign * far, attained, None) for far, attained in (first, then)]
    assert (highest if sign > 0 else lowest)(ends) is ends[taken]
