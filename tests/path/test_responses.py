"""How a channel answers to a stick, found a second time by going through all positions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from prebind.document import Document, read
from prebind.path import Path
from prebind.path.response import Movement, _shifts
from prebind.rule import NotChecked
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from prebind.path.facts import Controls, Position


def path_of(document: dict[str, Any], bound: int = 100_000) -> Path:
    read_in = read(document)
    assert isinstance(read_in, Document), read_in
    return Path(read_in.setup, bound)


def beside_a_knob(
    rate: float, knob: float, steps: int | None, limit_percent: float = 150, **more: Any
) -> dict[str, Any]:
    """A rudder that a knob moves too."""
    document = clean("plain")
    output = {"limit_percent": limit_percent, "steps": steps}
    document["transmitter"]["output"] = {k: it for k, it in output.items() if it is not None}
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
        pytest.param(
            beside_a_knob(200, 50, None, limit_percent=100, subtrim_percent=20),
            id="least far from rest where it is as far to both sides",
        ),
        pytest.param(
            beside_a_knob(33, 60, 11, limit_percent=120, travel_percent={"low": 140, "high": 20}),
            id="a step that only some places of the knob hide",
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
        knob = float(controls.get("knob", 0))  # what does not matter is left out
        assert -100 <= knob <= 100
        change = output(100, knob) - output(-100, knob)
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


def rudder(
    *mixes: dict[str, Any],
    output: dict[str, Any] | None = None,
    overrides: tuple[dict[str, Any], ...] = (),
    controls: dict[str, Any] | None = None,
    **more: Any,
) -> dict[str, Any]:
    """A rudder on channel 4, with a knob and switches that may act on it too."""
    document = clean("plain")
    document["transmitter"]["output"] = output or {}
    document["transmitter"]["controls"] |= {
        "knob": {"kind": "knob"},
        "switch": {"kind": "switch", "positions": ["a", "b", "c"]},
        "other": {"kind": "switch", "positions": ["off", "on"]},
        **(controls or {}),
    }
    own = {"channel": 4, "function": "rudder", "control": "yaw-stick"}
    document["channels"][3] = {key: it for key, it in {**own, **more}.items() if it is not None}
    document["mixes"] = [{"name": f"mix {i}", **mix} for i, mix in enumerate(mixes)]
    document["overrides"] = [{"name": f"set {i}", **it} for i, it in enumerate(overrides)]
    return document


def mix(control: str, low: float, high: float | None = None, **more: Any) -> dict[str, Any]:
    rates = {"low": low, "high": low if high is None else high}
    return {"from": {"control": control}, "to": 4, "rate_percent": rates, **more}


def at(control: str, position: str) -> list[dict[str, Any]]:
    return [{"control": control, "positions": [position]}]


def above(control: str, percent: float) -> list[dict[str, Any]]:
    return [{"control": control, "above_percent": percent}]


def below(control: str, percent: float) -> list[dict[str, Any]]:
    return [{"control": control, "below_percent": percent}]


def set_to(when: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    return {"purpose": "other", "channel": 4, "demand_percent": 10, "when": when, **more}


def rate(percent: float, **more: Any) -> list[dict[str, Any]]:
    return [{"rate_percent": percent, **more}]


WALKED = [-100, -75, -57.735, -50, -25, 0, 25, 50, 57.735, 75, 100]
"""Among them every position at which a case below turns or changes."""

STICK, KNOB, SWITCH, OTHER = "yaw-stick", "knob", "switch", "other"
FALLING = {"switch": {"kind": "switch", "positions": ["a", "b", "c"], "values": [100, 20, -60]}}


@pytest.mark.parametrize(
    ("document", "control", "signs", "least", "deviation"),
    [
        pytest.param(rudder(), STICK, {1}, 200, 100, id="the whole way"),
        pytest.param(rudder(reversed=True), STICK, {-1}, 200, 100, id="reversed"),
        pytest.param(rudder(), KNOB, {0}, 0, 0, id="one that has no part in it"),
        pytest.param(rudder(rates=rate(0)), STICK, {0}, 0, 0, id="a rate of 0"),
        # The ends are alike, but there is a movement between them.
        pytest.param(
            rudder(curves=[{"points": [[-100, 80], [0, 0], [100, 80]]}]), STICK, {0}, 80, 80,
            id="a V",
        ),
        pytest.param(
            rudder(curves=[{"points": [[-100, -20], [0, 0], [100, 90]]}]), STICK, {1}, 110, 90,
            id="a curve with more above",
        ),
        pytest.param(
            rudder(curves=[{"points": [[-100, -90], [0, 10], [100, 20]]}]), STICK, {1}, 110, 100,
            id="a curve that is not 0 at rest",
        ),
        # 100·(x³ − x) turns at x = ±1/√3: ∓38.49 %.
        pytest.param(
            rudder(mix(STICK, -100), rates=rate(100, expo_percent=100)), STICK,
            {0}, 76.98, 38.49, id="there and back",
        ),
        pytest.param(
            rudder(travel_percent={"low": 50, "high": 120}), STICK, {1}, 170, 120,
            id="uneven travel",
        ),
        # The limit cuts 30 % at either end.
        pytest.param(
            rudder(rates=rate(130), output={"limit_percent": 100}), STICK, {1}, 200, 100,
            id="a limit",
        ),
        pytest.param(
            rudder(output={"limit_percent": 100}), STICK, {1}, 200, 100, id="just up to the limit"
        ),
        # Twice as far as the limit, so least where the knob leaves the rest in the middle.
        pytest.param(
            rudder(mix(KNOB, 50), rates=rate(200), output={"limit_percent": 100}), STICK,
            {1}, 200, 100, id="a knob that moves the rest to either side",
        ),
        # Beside the trim floating point cannot tell the 10⁻¹⁵ % of the knob.
        pytest.param(
            rudder(mix(KNOB, 1e-15), trim_percent=50), STICK, {1}, 200, 100,
            id="a knob that does next to nothing",
        ),
        # With the switch at b only 30 %.
        pytest.param(
            rudder(rates=[*rate(30, when=at(SWITCH, "b")), *rate(100)]), STICK, {1}, 60, 30,
            id="the lower of two rates",
        ),
        # Above 20 % the rudder goes 30 % further: −100 to 130.
        pytest.param(
            rudder(mix(STICK, 0, offset_percent=30, when=above(STICK, 20))), STICK,
            {1}, 230, 130, id="a mix of its upper part",
        ),
        # Where it rests, below 20 %, 30 % are added: −70 to 100, from 30 on.
        pytest.param(
            rudder(mix(STICK, 0, offset_percent=30, when=below(STICK, 20))), STICK,
            {1}, 170, 100, id="a mix of its lower part",
        ),
        # The knob at its end leaves of ±30 the part up to the limit, 20 % beyond the middle.
        pytest.param(
            rudder(mix(KNOB, 0, 100), rates=rate(30), output={"limit_percent": 120}), STICK,
            {1}, 50, 30, id="a knob that pushes it up against the limit",
        ),
        pytest.param(
            rudder(mix(KNOB, 100, 0), rates=rate(30), output={"limit_percent": 120}), STICK,
            {1}, 50, 30, id="a knob that pushes it down against the limit",
        ),
        # Wholly beyond the limit with the knob from 75 % up.
        pytest.param(
            rudder(mix(KNOB, 200), rates=rate(30), output={"limit_percent": 120}), STICK,
            {0, 1}, 0, 0, id="a knob that pushes it beyond the limit",
        ),
        # The knob at −100 %: from −80 to 0, at half travel, and −40 of it to either side.
        pytest.param(
            rudder(mix(KNOB, 40), rates=rate(40), travel_percent={"low": 50, "high": 100}), STICK,
            {1}, 40, 20, id="a knob that pushes it to where travel is less",
        ),
        # At half travel below, and with a limit of 125 % above, the rest of 12.5 to 112.5 is as far
        # from both at 50: −25 and 125 %.  The least is 12.5 to 125, with the knob at its upper end.
        pytest.param(
            rudder(
                mix(KNOB, 50, offset_percent=62.5), travel_percent={"low": 50, "high": 100},
                output={"limit_percent": 125},
            ),
            STICK, {1}, 112.5, 75, id="a limit to one side, less travel to the other",
        ),
        # With c the knob's ±100 % is let in; then 30 % up to the limit of 120 %, 20 of it above.
        pytest.param(
            rudder(
                mix(KNOB, 100, when=at(SWITCH, "c")), rates=rate(30), output={"limit_percent": 120}
            ),
            STICK, {1}, 50, 30, id="a switch that lets the knob in",
        ),
        # The sub-trim comes first and puts the side without travel at −100 % and above.  The knob
        # drives the rudder between that side and the limit at −100 − 150 %: seen there alone.
        pytest.param(
            rudder(
                mix(KNOB, 200), mix(KNOB, 200), rates=rate(30), subtrim_percent=100,
                travel_percent={"low": 100, "high": 0},
                output={"order": ["subtrim", "reverse", "travel"]},
            ),
            STICK, {0, 1}, 0, 0, id="a movement that shows only on the knob's way",
        ),
        # An override beyond 50 % of the stick itself: what is left goes from −100 to 50 %.
        pytest.param(
            rudder(overrides=(set_to(above(STICK, 50)),)), STICK, {1}, 150, 100,
            id="an override at its upper end",
        ),
        pytest.param(
            rudder(overrides=(set_to(below(STICK, -50), acts="before-mixes"),)), STICK,
            {1}, 150, 100, id="an override at its lower end",
        ),
        # Between −50 and 50 % of the stick it is set to 0: 100 % from there to either end.
        pytest.param(
            rudder(overrides=(
                set_to([*above(STICK, -50), *below(STICK, 50)], demand_percent=0),
            )),
            STICK, {1}, 200, 100, id="an override to nothing about its middle",
        ),
        # Only where the switch is at a, and the rate is 40 %.
        pytest.param(
            rudder(
                rates=[*rate(40, when=at(SWITCH, "a")), *rate(0)],
                overrides=(set_to(at(SWITCH, "b")), set_to(at(SWITCH, "c"), acts="before-mixes")),
            ),
            STICK, {1}, 80, 40, id="an override of the switch",
        ),
        # A switch: −50, 0 and 50 %, and it rests at its first position.
        pytest.param(rudder(mix(SWITCH, 50)), SWITCH, {1}, 100, 100, id="a switch"),
        pytest.param(rudder(mix(SWITCH, -50, 50)), SWITCH, {0}, 50, 50, id="a switch's V"),
        # A trim of 10 % at a, where it rests, none at b, of 25 % at c.
        pytest.param(
            rudder(trim_percent=[
                {"percent": 10, "when": at(SWITCH, "a")}, {"percent": 25, "when": at(SWITCH, "c")},
            ]),
            SWITCH, {1}, 25, 15, id="a switch that chooses a trim",
        ),
        # At a −50 %, at b 0, at c 50 − 30.
        pytest.param(
            rudder(mix(SWITCH, 50), mix(SWITCH, 0, offset_percent=-30, when=at(SWITCH, "c"))),
            SWITCH, {1}, 70, 70, id="a switch that drives, and chooses",
        ),
        pytest.param(rudder(rates=rate(0.3)), STICK, {1}, 0.6, 0.3, id="very little"),
        pytest.param(rudder(rates=rate(0.3), reversed=True), STICK, {-1}, 0.6, 0.3,
            id="very little, reversed",
        ),
        # 8 · 10⁻¹⁰ % is what floating point leaves, no movement.
        pytest.param(rudder(rates=rate(4e-10)), STICK, {0}, 0, 0, id="next to nothing"),
        # Steps of 30 %, from −15 to 15 the middle one.  The knob drives the ±5 % across two steps.
        pytest.param(
            rudder(mix(KNOB, 55), rates=rate(5), output={"steps": 11}), STICK, {0, 1}, 0, 0,
            id="a knob that brings steps near",
        ),
        pytest.param(
            rudder(mix(KNOB, 55), rates=rate(5), output={"steps": 11}, reversed=True), STICK,
            {-1, 0}, 0, 0, id="a knob that brings steps near, reversed",
        ),
        # From 10 … 20 to 40 … 50 %: over a step at either end, over none between.
        pytest.param(
            rudder(mix(KNOB, 15, offset_percent=30), rates=rate(5), output={"steps": 11}), STICK,
            {0, 1}, 0, 0, id="a knob that has a step at either end",
        ),
        pytest.param(
            rudder(mix(KNOB, 6), rates=rate(5), output={"steps": 11}), STICK, {0}, 0, 0,
            id="a knob that brings no step near",
        ),
        # ±50 % rounds to ±60; 10 % further −40 to 60 rounds to −30 to 60, and 10 to 0 at rest.
        pytest.param(
            rudder(mix(KNOB, 100), rates=rate(50), output={"steps": 11}), STICK, {1}, 90, 60,
            id="a knob that takes a step off",
        ),
        # Without travel below 0 % only what the knob adds, 50 to 70 %, lets −50 to −10 show: from
        # 0 … 40 to 20 … 60 %, over at least the one of the steps at 15 and 45 %.
        pytest.param(
            rudder(
                mix(KNOB, 10, offset_percent=60), curves=[{"points": [[-100, -50], [100, -10]]}],
                travel_percent={"low": 0, "high": 100}, output={"steps": 11},
            ),
            STICK, {1}, 30, 30, id="steps only where the knob brings it",
        ),
        # Steps of 24 %; below the centre a fifth of the travel, above it 1.4 of it.  Of ±33 % and
        # −27 to −24.4 % of the knob nothing shows: −60 · 0.2 is −12, 8.6 · 1.4 is 12.
        pytest.param(
            rudder(
                mix(KNOB, 60), rates=rate(33), travel_percent={"low": 20, "high": 140},
                output={"limit_percent": 120, "steps": 11},
            ),
            STICK, {0, 1}, 0, 0, id="steps that are far apart on one side",
        ),
        # The other way round: nothing shows from 24.4 % to 27 %, of the 20 to 30 that are added.
        pytest.param(
            rudder(
                mix(KNOB, 5, offset_percent=25), rates=rate(33),
                travel_percent={"low": 140, "high": 20}, output={"limit_percent": 120, "steps": 11},
            ),
            STICK, {0, 1}, 0, 0, id="steps that are far apart on the other side",
        ),
        # Its lower end is c: −30 %, b 10, a 50, where it rests.
        pytest.param(
            rudder(mix(SWITCH, 50), controls=FALLING), SWITCH, {1}, 80, 80, id="values that fall"
        ),
        # ±200 % are beyond the limit of 120, and the other switch stands nowhere between.
        pytest.param(
            rudder(mix(OTHER, 200), rates=rate(30), output={"limit_percent": 120}), STICK,
            {0}, 0, 0, id="a switch that leaves it only beyond the limit",
        ),
    ],
)  # fmt: skip
def test_response_worked_out_by_hand(
    document: dict[str, Any], control: str, signs: set[int], least: float, deviation: float
) -> None:
    """In percent of output; where nothing else is said the limit is 150 %."""
    path = path_of(document)
    response = path.channel(4).response(control)
    assert set(response.signs) == signs
    assert_signs_are_shown(path, control, response.signs)
    assert_spans(path, control, least, deviation)


def assert_signs_are_shown(path: Path, control: str, signs: Mapping[int, Controls]) -> None:
    """The positions that are told with each sign are positions, and give it."""
    for sign, controls in signs.items():
        assert all(-100 <= it <= 100 for it in controls.values() if not isinstance(it, str))
        walked = outputs(path, control, controls)
        change = walked[-1] - walked[0]
        assert sign == (change > 1e-9) - (change < -1e-9)


def assert_spans(path: Path, control: str, least: float, deviation: float) -> None:
    """Those are the least, and the positions that are told with them give them."""
    response = path.channel(4).response(control)
    assert response.least is not None
    assert response.least.percent == pytest.approx(least, abs=0.005)
    walked = outputs(path, control, response.least.controls)
    assert max(walked) - min(walked) == pytest.approx(least, abs=0.02)
    assert response.least_deviation is not None
    assert response.least_deviation.percent == pytest.approx(deviation, abs=0.005)
    controls = response.least_deviation.controls
    rest = path.channel(4).stages({**path.rest(), **controls}).output_percent
    most = max(abs(output - rest) for output in outputs(path, control, controls))
    assert most == pytest.approx(deviation, abs=0.02)


def outputs(path: Path, control: str, others: Controls) -> list[float]:
    """From the control's lower to its upper end, without those at which an override holds."""
    channel, moved = path.channel(4), path.control(control)
    listed: Sequence[Position] = WALKED
    if moved.positions:
        listed = sorted(moved.positions, key=moved.value)
    everywhere = [{**path.rest(), **others, control: position} for position in listed]
    return [
        channel.stages(controls).output_percent
        for controls in everywhere
        if not any(path.holds(override.when, controls) for override in channel.overrides)
    ]


def test_where_an_override_always_holds_there_is_no_response() -> None:
    either = (set_to(below(KNOB, 10)), set_to(above(KNOB, 0)))
    response = path_of(rudder(overrides=either)).channel(4).response(STICK)
    assert response.signs == {}
    assert response.least is None
    assert response.least_deviation is None


@pytest.mark.parametrize("bound", [100_000, 100])
@pytest.mark.parametrize(
    ("travel", "least", "deviation"),
    [
        # At ±102.2 % half the travel: 15 % to either side.
        ({"low": 100, "high": 50}, 30, 15),
        ({"low": 50, "high": 100}, 30, 15),
    ],
    ids=["upper end", "lower end"],
)
def test_more_combinations_than_are_gone_through_count_from_end_to_end(
    travel: dict[str, float], least: float, deviation: float, bound: int
) -> None:
    """Nine switches of 0.2 · 2^i %: 512 sums, from −102.2 to 102.2 %."""
    switches = {f"s{i}": {"kind": "switch", "positions": ["a", "b"]} for i in range(9)}
    mixes = [mix(f"s{i}", 2**i / 5) for i in range(9)]
    document = rudder(*mixes, rates=rate(30), controls=switches, travel_percent=travel)
    path = path_of(document, bound)
    assert set(path.channel(4).response(STICK).signs) == {1}
    assert_spans(path, STICK, least, deviation)


@pytest.mark.parametrize(
    ("last", "trim", "signs"),
    [
        # 500 sums, from −49.9 to 49.9 %: 14.9 and 15.1 are among them.
        (244, 0, {0}),
        # 501, from −49.9 to 50.1: so they are, but all between the ends is taken for possible.
        (245, 0.1, {0, 1}),
    ],
    ids=["500", "501"],
)
def test_five_hundred_sums_are_gone_through_one_by_one(
    last: float, trim: float, signs: set[int]
) -> None:
    """Nine switches of ±0.1 % times 1, 2, 4 … 128 and the last: every sum is 0.2 % from the next.

    Eleven steps are 30 % apart and change at 15 %, and the stick's own ±0.01 % shows only there.
    """
    shares = [*(2**i for i in range(8)), last]
    switches = {f"s{i}": {"kind": "switch", "positions": ["a", "b"]} for i in range(9)}
    mixes = [mix(f"s{i}", share / 10) for i, share in enumerate(shares)]
    document = rudder(
        *mixes, rates=rate(0.01), controls=switches, output={"steps": 11}, trim_percent=trim
    )
    assert set(path_of(document).channel(4).response(STICK).signs) == signs


@pytest.mark.parametrize(
    ("steps", "changes"), [(300, 19 + 20 + 19 + 20 + 19), (301, 1 + 1)], ids=str
)
def test_of_steps_of_more_than_a_percent_every_change_is_looked_at(
    steps: int, changes: int
) -> None:
    """A stick of −1 to 1.4 % at its ends and −2 to 2.2 % on its way; others add −10 to 10 %.

    They are looked at where they add nothing, least and most, where one of the four is in the
    middle of the scale, and to both sides of a step's changes.  300 steps over ±150 % are more than
    1 % apart: each of the four and the rest goes through 19 or 20 changes in 20 %; 301 are 1 %
    apart: the first of either end.
    """
    scale = path_of(rudder(output={"steps": steps})).channel(4).scale
    assert len(_shifts(scale, Movement(-1, 1.4, -2, 2.2, 0), -10, 10)) == 3 + 4 + 2 * changes


@pytest.mark.parametrize(
    ("own", "offset", "knob"),
    [(10, 0, 0), (0.5, 0, 0), (10, -10, 100), (10, 10, -100), (0.5, 1, -100), (0.5, -1, -100)],
)
def test_where_the_others_do_not_matter_they_are_told_where_they_add_nothing_or_least(
    own: float, offset: float, knob: float
) -> None:
    """The knob is far from bringing it to the limit, so that the stick does as much anywhere."""
    channel = path_of(rudder(mix(KNOB, own, offset_percent=offset))).channel(4)
    for found in (channel.response(STICK).least, channel.response(STICK).least_deviation):
        assert found is not None
        assert found.controls == pytest.approx({KNOB: knob})


THIRD = {"third": {"kind": "switch", "positions": ["a", "b", "c"]}}
CROSSED = (mix(SWITCH, 20, when=at("third", "c")), mix("third", 5, when=at(SWITCH, "c")))
"""Nine combinations of two mixes are 18 cells; for each position of the one switch there are 3."""


def test_what_a_control_does_is_told_where_all_that_can_be_put_out_is_beyond_the_bound() -> None:
    """From a to c: with the other at a −5 %, at b 0, and at c 20 and 20 + 5."""
    channel = path_of(rudder(*CROSSED, controls=THIRD, control=None), bound=17).channel(4)
    with pytest.raises(NotChecked):
        _ = channel.reach.low
    assert set(channel.response(SWITCH).signs) == {-1, 0, 1}


@pytest.mark.parametrize(("bound", "sure"), [(17, 0), (18, 200)])
def test_nothing_is_sure_where_what_the_limit_cuts_is_beyond_the_bound(
    bound: int, sure: float
) -> None:
    """Within it, the stick's ±100 % and 25 of the switches are seen to keep to 150 %."""
    response = path_of(rudder(*CROSSED, controls=THIRD), bound=bound).channel(4).response(STICK)
    assert (response.sure_least, response.sure_deviation) == (sure, sure / 2)


LET_IN = at(SWITCH, "c")


@pytest.mark.parametrize(
    ("document", "control", "signs"),
    [
        # The knob is let in at the switch's upper end: −100 to 100 %.
        pytest.param(rudder(mix(KNOB, 100, when=LET_IN)), SWITCH, {-1, 1}, id="a knob"),
        pytest.param(
            rudder(mix(KNOB, 100, offset_percent=150, when=LET_IN), rates=rate(20)), SWITCH, {1},
            id="a knob that only adds",
        ),
        # 50·|x| − 20 is −20 at the middle of the knob, and 30 at either end.
        pytest.param(
            rudder(mix(KNOB, -50, 50, offset_percent=-20, when=LET_IN)), SWITCH, {-1, 1},
            id="a knob that takes away in its middle alone",
        ),
        # Of the knob 100 % at c less 60 % at a, so ±40 %, and the 50 that c adds.
        pytest.param(
            rudder(
                mix(KNOB, 100, offset_percent=50, when=LET_IN), mix(KNOB, 60, when=at(SWITCH, "a")),
                rates=rate(20), output={"limit_percent": 200},
            ),
            SWITCH, {1}, id="a knob at both ends",
        ),
        # At c 100 % of the knob less 100 % again: the offset of 10 alone is left.
        pytest.param(
            rudder(
                mix(KNOB, 100, when=LET_IN), mix(KNOB, -100, offset_percent=10, when=LET_IN),
            ),
            SWITCH, {1}, id="two mixes of a knob that cancel",
        ),
        # Falling values: c is the lower end, and a the upper.
        pytest.param(
            rudder(mix(KNOB, 20, offset_percent=40, when=LET_IN), controls=FALLING),
            SWITCH, {-1}, id="values that fall",
        ),
        # At c 120 or 180 % are added; what the knob adds is there at both ends.
        pytest.param(
            rudder(mix(OTHER, 30, offset_percent=150, when=LET_IN), mix(KNOB, 20)), SWITCH, {1},
            id="another switch, beside a knob",
        ),
        pytest.param(rudder(mix(OTHER, 30, when=LET_IN)), SWITCH, {-1, 1}, id="another switch"),
        # Beyond 20 % of itself the knob lets the switch in; it adds 10 % of its own way besides.
        pytest.param(
            rudder(mix(SWITCH, 30, when=above(KNOB, 20)), mix(KNOB, 10)), KNOB, {-1, 1},
            id="a knob that lets a switch in",
        ),
        pytest.param(
            rudder(mix(SWITCH, 30, when=above(KNOB, 20)), mix(KNOB, 20)), KNOB, {1},
            id="a knob that does more than the switch that it lets in",
        ),
        # Above 20 % of the knob the switch lets in its value less 30, from just above −10 to 70.
        # Below 20 nothing comes of the switch; that both ways occur too leaves no doubt.
        pytest.param(
            rudder(mix(KNOB, 100, offset_percent=-30, when=[*LET_IN, *above(KNOB, 20)])),
            SWITCH, {-1, 0, 1}, id="a knob from a threshold up",
        ),
        # With the stick at its upper end, at the limit, nothing comes of the knob.
        pytest.param(
            rudder(mix(KNOB, 100, when=LET_IN), output={"limit_percent": 100}), SWITCH, {-1, 0, 1},
            id="a knob at the limit",
        ),
    ],
)  # fmt: skip
def test_signs_of_a_control_that_decides_what_another_does(
    document: dict[str, Any], control: str, signs: set[int]
) -> None:
    path = path_of(document)
    found = path.channel(4).response(control).signs
    assert set(found) == signs
    assert_signs_are_shown(path, control, found)


@pytest.mark.parametrize(
    "document",
    [
        pytest.param(rudder(mix(KNOB, 0, 100, when=LET_IN)), id="only up"),
        pytest.param(rudder(mix(KNOB, 100, 0, when=LET_IN)), id="only down"),
        pytest.param(rudder(mix(KNOB, 0, when=LET_IN)), id="neither"),
    ],
)
def test_signs_of_which_one_may_be_hidden_are_not_checked(document: dict[str, Any]) -> None:
    response = path_of(document).channel(4).response(SWITCH)
    with pytest.raises(NotChecked, match="“switch” also decides here what “knob” does") as raised:
        _ = response.signs
    assert raised.value.controls == (SWITCH, KNOB)


def test_how_far_it_goes_is_not_checked_where_it_decides_what_another_does() -> None:
    document = rudder(mix(KNOB, 100, offset_percent=150, when=LET_IN))
    response = path_of(document).channel(4).response(SWITCH)
    for asked in ("least", "least_deviation"):
        with pytest.raises(NotChecked, match="“switch” also decides here what “knob” does"):
            getattr(response, asked)


def test_of_several_that_it_decides_on_the_first_is_told_and_all_are_named() -> None:
    mixes = (mix(KNOB, 20, offset_percent=90, when=LET_IN), mix(OTHER, 20, when=LET_IN))
    response = path_of(rudder(*mixes)).channel(4).response(SWITCH)
    with pytest.raises(NotChecked, match="“switch” also decides here what “knob” does") as raised:
        _ = response.least
    assert raised.value.controls == (SWITCH, KNOB, OTHER)
    assert raised.value.cells == 2


@pytest.mark.parametrize(
    ("document", "control"),
    [
        pytest.param(rudder(mix(KNOB, 20, offset_percent=50, when=LET_IN)), SWITCH, id="decides"),
        pytest.param(
            rudder(overrides=(set_to(below(KNOB, 10)), set_to(above(KNOB, 0)))), STICK,
            id="overridden",
        ),
    ],
)  # fmt: skip
def test_nothing_is_sure_of_one_that_decides_what_another_does_or_is_always_overridden(
    document: dict[str, Any], control: str
) -> None:
    response = path_of(document).channel(4).response(control)
    assert (response.sure_least, response.sure_deviation) == (0, 0)


def test_a_threshold_at_rest_leaves_the_rest_where_it_is() -> None:
    """At 0 “above 0” does not hold: rest is 0, the right end 100 + 30, the left one −10."""
    curve = {"points": [[-100, -10], [0, 0], [100, 100]]}
    document = rudder(curves=[curve])
    offset = {"name": "offset", "from": {"control": "yaw-stick"}, "to": 4}
    when = [{"control": "yaw-stick", "above_percent": 0}]
    none = {"low": 0, "high": 0}
    document["mixes"] = [{**offset, "rate_percent": none, "offset_percent": 30, "when": when}]
    found = path_of(document).channel(4).response("yaw-stick").least_deviation
    assert found is not None
    assert found.percent == pytest.approx(130)


def test_a_witness_shows_what_it_is_told_for_where_the_others_bend() -> None:
    """A knob that adds more and more: the middle of what it adds is not where it is in the middle.

    Eleven steps from −150 to 150 % are 30 % apart, so ±10 % of rudder shows only close to a change
    of the step, at an odd multiple of 15 %.
    """
    document = rudder(
        {"from": {"control": "knob"}, "to": 4, "rate_percent": {"low": 10, "high": 50}},
        output={"steps": 11},
        rates=[{"rate_percent": 10}],
    )
    channel = path_of(document).channel(4)
    found = channel.response("yaw-stick")
    assert found.signs.keys() == {0, 1}
    for sign, where in found.signs.items():
        ends = [
            channel.stages({**channel.path.rest(), **where, "yaw-stick": at}).output_percent
            for at in (-100, 100)
        ]
        assert (ends[1] > ends[0] + 1) == bool(sign)
