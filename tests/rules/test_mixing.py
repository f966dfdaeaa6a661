"""Mixing: who feeds what, which way, and how much, in every combination."""

from __future__ import annotations

import json
from itertools import count
from random import Random
from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind import Inspector
from prebind.document import Document, read
from prebind.rule import Operation, put, remove, replace
from prebind.testing import clean, patched
from prebind_rules.mixing._at_most import at_most_us, side

if TYPE_CHECKING:
    from prebind import Path
    from prebind.inspect.finding import Finding

INSPECTOR = Inspector(prebind.Configuration(families=("mixing",)))
NUMBER = count(1)


def findings(
    *patch: Operation, rule: str, start: str = "plain", kind: str = "fail"
) -> list[Finding]:
    report = INSPECTOR.inspect(patched(clean(start), patch))
    assert not report.problems
    return [f for f in report.findings if f.rule == f"mixing/{rule}" and f.kind == kind]


def mix(source: dict[str, Any], to: int, low: float, high: float, **more: Any) -> dict[str, Any]:
    rate = {"low": low, "high": high}
    return {"name": f"mix {next(NUMBER)}", "from": source, "to": to, "rate_percent": rate, **more}


def controls(**added: Any) -> list[Operation]:
    return [put(f"/transmitter/controls/{name}", entry) for name, entry in added.items()]


KNOB = {"kind": "knob"}
SWITCH = {"kind": "switch", "positions": ["off", "on"]}


# Left and right ------------------------------------------------------------------------------


def test_a_mix_counts_in_the_phase_that_it_is_made_for() -> None:
    phases = [
        {"name": "landing", "when": [{"control": "s", "positions": ["on"]}]},
        {"name": "cruise"},
    ]
    landing = [{"phase": ["landing"]}]
    (found,) = findings(
        *controls(k=KNOB, s=SWITCH),
        put("/phases", phases),
        put("/mixes", [mix({"control": "k"}, 2, 10, 10, when=landing)]),
        rule="lopsided",
    )
    # ±100 % of the knob, 10 % of it, 4 µs a percent: ±40 µs on either side, 160 µs apart.
    assert found.evidence["controls"] == {"s": "on", "k": 100}
    assert found.evidence["from"] == -100
    assert (found.evidence["left_us"], found.evidence["right_us"]) == (-80, 80)
    assert found.evidence["percent"] == 40
    assert found.at == "/mixes/0/rate_percent"


def test_what_lies_between_the_ends_counts() -> None:
    curve = [{"points": [[-100, 0], [30, 40], [100, 0]]}]
    (found,) = findings(
        *controls(k=KNOB),
        put("/inputs", [{"id": "hump", "control": "k", "curves": curve}]),
        put("/mixes", [mix({"input": "hump"}, 2, 100, 100)]),
        rule="lopsided",
    )
    # The curve's top, 40 %, is 160 µs up on the right and down on the left: 80 % apart.
    assert found.evidence["percent"] == 80
    assert 30 in (found.evidence["from"], found.evidence["controls"]["k"])


def test_the_middle_counts_where_a_mix_turns_there() -> None:
    """The mix adds 10 % at either end of the knob and nothing in its middle, where the aileron's
    trim, which the knob brings from 20 % on, makes no step.
    """
    above = [{"control": "k", "above_percent": 20}]
    (found,) = findings(
        *controls(k=KNOB),
        put("/mixes", [mix({"control": "k"}, 2, -10, 10)]),
        put("/channels/1/trim_percent", [{"percent": 0.5, "when": above}, {"percent": 0}]),
        rule="lopsided",
    )
    # 10.5 % of 4 µs each, 84 µs in all
    assert found.evidence["percent"] == pytest.approx(21)
    assert 0 in (found.evidence["from"], found.evidence["controls"]["k"])


def test_a_switch_that_chooses_a_rate_too_moves_what_it_moves() -> None:
    soft = [{"control": "s", "positions": ["on"]}]
    (found,) = findings(
        *controls(s=SWITCH),
        put("/channels/1/rates", [{"rate_percent": 60, "when": soft}, {"rate_percent": 100}]),
        put("/channels/1/trim_percent", [{"percent": 6, "when": soft}]),
        rule="lopsided",
    )
    assert found.at == "/channels/1/trim_percent"
    assert found.evidence["percent"] == 12


def test_a_mix_above_a_threshold_alone_counts() -> None:
    above = [{"control": "k", "above_percent": 20}, {"control": "k", "below_percent": 60}]
    (found,) = findings(
        *controls(k=KNOB),
        put("/mixes", [mix({"control": "throttle-stick"}, 2, 10, 10, when=above)]),
        rule="lopsided",
        start="plain",
    )[:1]
    assert found.evidence["percent"] > 10


def test_the_same_mix_on_both_sides_is_level() -> None:
    # Two aileron channels, the left one's demand the other way round: the glider's.
    level = [
        mix({"control": "throttle-stick"}, 2, -10, -10),
        mix({"control": "throttle-stick"}, 3, 10, 10),
    ]
    start = clean("glider")["mixes"]
    assert findings(put("/mixes", [*start, level[0]]), rule="lopsided", start="glider")
    assert findings(put("/mixes", [*start, *level]), rule="lopsided", start="glider") == []


def test_many_switches_are_not_multiplied() -> None:
    names = [f"s{i}" for i in range(20)]
    mixes = [
        mix({"control": "k"}, 2, rate, rate, when=[{"control": name, "positions": ["on"]}])
        for name, rate in zip(names, [1, -1] * 10, strict=True)
    ]
    (found,) = findings(
        *controls(k=KNOB, **dict.fromkeys(names, SWITCH)), put("/mixes", mixes), rule="lopsided"
    )
    # Ten mixes of 1 % one way, or ten of −1 %: 20 % of the knob's travel, on two sides.
    assert found.evidence["percent"] == 40
    # Told is where the left one goes up and the right one down: all mixes of 1 % are off.
    on = {name for name in names if found.evidence["controls"][name] == "on"}
    assert (on, found.evidence["left_us"]) == (set(names[1::2]), 80)


@pytest.mark.parametrize(
    ("much", "little"), [("pitch-stick", "throttle-stick"), ("throttle-stick", "pitch-stick")]
)
def test_more_switches_in_one_condition_than_can_be_tried_is_open(much: str, little: str) -> None:
    names = [f"s{i}" for i in range(13)]
    patch = [
        *controls(**dict.fromkeys(names, SWITCH)),
        put(
            "/mixes",
            [
                mix(
                    {"control": much},
                    2,
                    10,
                    10,
                    when=[{"control": name, "positions": ["on"]} for name in names],
                ),
                mix({"control": little}, 2, 15, 15),
            ],
        ),
    ]
    # 2 to the 13th is 8192, more than the rule tries: what it can try, it still finds.
    opened = findings(*patch, rule="lopsided", kind="open")
    assert any(much in found.message for found in opened)
    assert [f.at for f in findings(*patch, rule="lopsided")] == ["/mixes/1/rate_percent"]


def test_unknown_movement_is_open() -> None:
    patch = [put("/mixes", [mix({"control": "throttle-stick"}, 2, 15, 15)])]
    (found,) = findings(*patch, remove("/servos/0/increasing_pulse"), rule="lopsided", kind="open")
    assert found.settles == ("/servos/0/increasing_pulse",)


def test_a_servo_without_one_on_the_other_side_is_compared_with_none() -> None:
    """Two servos on the right aileron, one on the left."""
    second = clean("glider")["servos"][0] | {"port": 8}
    (found,) = findings(
        put("/receiver/outputs/-", {"port": 8, "channel": 2}),
        put("/servos/-", second),
        put("/mixes/-", mix({"control": "throttle-stick"}, 2, 20, 20)),
        rule="lopsided",
        start="glider",
    )
    assert "aileron-left" in found.message


def test_the_setting_decides() -> None:
    loose = Inspector(
        prebind.Configuration(
            families=("mixing",), numbers={"mixing/lopsided": {"most_percent": 70}}
        )
    )
    document = patched(
        clean("plain"), [put("/mixes", [mix({"control": "throttle-stick"}, 2, 15, 15)])]
    )
    assert [f.rule for f in INSPECTOR.inspect(document).findings] == ["mixing/lopsided"]
    assert not loose.inspect(document).findings


def crossed(chance: Random) -> dict[str, Any]:
    """The glider with chance mixes to both ailerons and the flaps, unequal travel and overrides."""
    document = clean("glider")
    output = {"steps": chance.choice([512, 2048]), "limit_percent": chance.choice([100, 150])}
    document["transmitter"]["output"] |= output
    document["transmitter"]["controls"]["k"] = KNOB
    names = ["flap-switch", "phase-switch", "k", "pitch-stick", "throttle-stick"]
    places = document["transmitter"]["controls"]

    def condition() -> list[dict[str, Any]]:
        switch = chance.choice(["flap-switch", "phase-switch", "cut-switch"])
        knob = {"control": "k", "above_percent": chance.choice([-50, 0, 20])}
        held = {"control": switch, "positions": [chance.choice(places[switch]["positions"])]}
        return chance.choice([[], [held], [held], [knob], [held, knob]])

    for rate in chance.sample([2, 3, 5, 8, 12], 3):
        name = chance.choice(names)
        for to in chance.choice([(2, 3), (2, 3), (2,), (6,)]):
            sign = -1 if to == 3 and chance.random() < 0.9 else 1
            document["mixes"].append(
                mix({"control": name}, to, sign * rate, sign * rate, when=condition())
            )
    for entry in (*document["channels"], *document["receiver"]["outputs"]):
        if chance.random() < 0.15:
            entry["travel_percent"] = {"low": chance.choice([90, 97, 103]), "high": 100}
    if chance.random() < 0.3:
        chance.choice(document["channels"])["subtrim_percent"] = chance.choice([-12, 4, 11])
    if chance.random() < 0.2:
        document["channels"][1]["trim_percent"] = [{"percent": 3, "when": condition()}]
    if chance.random() < 0.3:
        override = {"name": "steep", "purpose": "other", "channel": chance.choice([2, 6])}
        when = [{"control": "flap-switch", "positions": [places["flap-switch"]["positions"][-1]]}]
        acts = chance.choice(["last", "before-mixes"])
        document["overrides"].append(
            {**override, "demand_percent": 15, "when": when, "acts": acts, "release": "at-once"}
        )
    return document


def test_what_is_told_without_trying_everything_hides_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Pairs that surely stay close together are not tried: trying them finds nothing more."""

    def told(document: dict[str, Any]) -> list[tuple[str, str]]:
        report = INSPECTOR.inspect(json.dumps(document))
        assert not report.problems, report.problems
        return [(it.at, it.message) for it in report.findings if it.rule == "mixing/lopsided"]

    documents = [crossed(Random(seed)) for seed in range(80)]
    quick = [told(document) for document in documents]
    monkeypatch.setattr("prebind_rules.mixing._at_most.side", lambda *_: None)
    assert quick == [told(document) for document in documents]
    assert 20 < sum(map(bool, quick)) < 60


def test_rounding_to_steps_counts() -> None:
    """512 steps from −150 to 150 % lie 1200 µs / 511, 2.348 µs, apart.

    ±2.5 % of demand are steps 259.8 and 251.2 of 0 to 511, so 260 and 251: 9 steps on either side,
    42.27 µs apart in all, 10.6 % of full, where without steps it were 40 µs, 10 %.
    """
    patch = [
        put("/transmitter/output/steps", 512),
        put("/mixes", [mix({"control": "throttle-stick"}, 2, 2.5, 2.5)]),
    ]
    (found,) = findings(*patch, rule="lopsided")
    assert found.evidence["percent"] == pytest.approx(2 * 9 * 1200 / 511 / 4, abs=1e-6)
    assert findings(*patch[1:], rule="lopsided") == []


def test_what_a_limit_cuts_from_one_side_counts() -> None:
    """With 12 % of sub-trim one side goes from −88 to 112 %: 200 % as the other, until cut at 100.

    Then 188 % are left, 12 % less: 48 µs.
    """
    patch = [
        *controls(k=KNOB),
        put("/channels/1/travel_percent", {"low": 100, "high": 100}),
        put("/channels/2/travel_percent", {"low": 100, "high": 100}),
        put("/channels/1/subtrim_percent", 12),
        put("/mixes/-", mix({"control": "k"}, 2, 100, 100)),
        put("/mixes/-", mix({"control": "k"}, 3, -100, -100)),
    ]
    assert findings(*patch, rule="lopsided", start="glider") == []
    limit = put("/transmitter/output/limit_percent", 100)
    (found,) = findings(*patch, limit, rule="lopsided", start="glider")
    assert found.evidence["percent"] == pytest.approx(12)


def test_unequal_travel_of_either_side_counts() -> None:
    """The right aileron's demand goes from 0 to 30 %, of which the travel leaves 18 %; the left
    one's to −30 %, all of it: 12 % apart.
    """
    travel = {"low": 100, "high": 60}
    (found,) = findings(
        *controls(k=KNOB),
        put("/channels/1/travel_percent", travel),
        put("/channels/2/travel_percent", travel),
        put("/mixes/-", mix({"control": "k"}, 2, 0, 30)),
        put("/mixes/-", mix({"control": "k"}, 3, 0, -30)),
        rule="lopsided",
        start="glider",
    )
    assert found.evidence["percent"] == pytest.approx(12)


def test_an_override_of_one_side_counts() -> None:
    override = {
        "name": "steep",
        "purpose": "other",
        "channel": 2,
        "demand_percent": -15,
        "when": [{"control": "s", "positions": ["on"]}],
        "acts": "last",
        "release": "at-once",
    }
    travel = put("/channels/1/travel_percent", {"low": 100, "high": 100})
    patch = [*controls(s=SWITCH), put("/overrides/-", override), travel]
    (found,) = findings(*patch, rule="lopsided", start="glider")
    assert found.evidence["percent"] == pytest.approx(15)


# How far two sides can come apart, told without trying everything ---------------------------------


def traced(*patch: Operation, start: str = "glider") -> Path:
    document = read(patched(clean(start), patch))
    assert isinstance(document, Document), document
    return prebind.trace(document.setup)


def travel(at: str, low: float, high: float) -> Operation:
    return put(f"{at}/travel_percent", {"low": low, "high": high})


STEPS_512 = put("/transmitter/output/steps", 512)  # 1200 / 511 µs apart: ±150 % of 4 µs


@pytest.mark.parametrize(
    ("channel", "output"), [((60, 90), (80, 110)), ((90, 60), (110, 80))], ids=["up", "down"]
)
def test_a_side_moves_between_its_least_and_its_most_travel(
    channel: tuple[int, int], output: tuple[int, int]
) -> None:
    """4 µs a percent, of which 60 % of 80 % are left on one side and 90 % of 110 % on the other.

    A change takes half a step at its start and half a one at its end, at most 110 % of them.
    """
    path = traced(
        STEPS_512,
        travel("/channels/1", *channel),
        travel("/receiver/outputs/1", *output),
    )
    found = side(path.servos[0], path)
    assert found is not None
    assert found.slope - found.off == pytest.approx(4 * 0.48)
    assert found.slope + found.off == pytest.approx(4 * 0.99)
    assert found.rounding_us == pytest.approx(1.1 * 1200 / 511)


def test_two_sides_come_no_further_apart_than_each_moves_at_its_most() -> None:
    """Of the knob's 200 % the right side gets 30 %, at 99 % of travel, and goes up; the left one
    gets 20 %, at 60 %, and goes down.  The pitch stick moves neither.
    """
    path = traced(
        STEPS_512,
        *controls(k=KNOB),
        travel("/channels/1", 60, 90),
        travel("/receiver/outputs/1", 80, 110),
        travel("/channels/2", 80, 100),
        travel("/receiver/outputs/2", 50, 60),
        put("/mixes", [mix({"control": "k"}, 2, 30, 30), mix({"control": "k"}, 3, 20, 20)]),
    )
    right, left = path.servos[:2]
    rounding = (1.1 + 0.6) * 1200 / 511
    told = at_most_us((left, right), (), path)
    assert told("k") == pytest.approx(60 * 4 * 0.99 + 40 * 4 * 0.6 + rounding)
    assert told("pitch-stick") == pytest.approx(rounding)


@pytest.mark.parametrize(
    ("start", "patch"),
    [
        pytest.param("wing", [], id="the receiver mixes"),
        pytest.param(
            "plain", [put("/receiver/outputs/1/limit_us", [1200, 1800])], id="an output has a limit"
        ),
        pytest.param("plain", [travel("/channels/1", 160, 160)], id="the limit cuts"),
    ],
)
def test_no_bound_is_told_where_more_can_happen(start: str, patch: list[Operation]) -> None:
    path = traced(*patch, start=start)
    assert side(path.servos[0], path) is None


@pytest.mark.parametrize(
    ("us_per_percent", "output", "rate", "percent"),
    [(0.001, 40, 8, 12.8), (4, 10, 25.05, 10.02)],  # 2 · 2 · the rate, as the outputs leave it
)
def test_a_tenth_of_full_counts_however_short_the_way(
    us_per_percent: float, output: float, rate: float, percent: float
) -> None:
    (found,) = findings(
        put("/transmitter/output/us_per_percent", us_per_percent),
        travel("/receiver/outputs/1", output, output),
        travel("/receiver/outputs/4", output, output),
        put("/mixes", [mix({"control": "throttle-stick"}, 2, rate, rate)]),
        rule="lopsided",
    )
    assert found.evidence["percent"] == pytest.approx(percent)


@pytest.mark.parametrize(("rate", "up", "blamed"), [(40, "right", 0), (-40, "left", 1)])
def test_of_two_mixes_the_one_that_goes_up_is_to_blame_however_short_the_way(
    rate: float, up: str, blamed: int
) -> None:
    """At 0.01 µs a percent each of them brings 0.8 µs."""
    level = [travel(f"/channels/{index}", 100, 100) for index in (1, 2)]
    (found,) = findings(
        *level,
        put("/transmitter/output/us_per_percent", 0.01),
        put("/mixes", [mix({"control": "throttle-stick"}, to, rate, rate) for to in (2, 3)]),
        rule="lopsided",
        start="glider",
    )
    assert f"aileron-{up} goes 1 µs up" in found.message
    assert found.message.count("goes 1 µs down") == 1
    assert found.at == f"/mixes/{blamed}/rate_percent"


# Coordination --------------------------------------------------------------------------------

# ISO 1151-1 (from memory): positive yaw is nose right.  On an upright V-tail the right half's edge
# goes down for it and the left half's up; on an inverted one the other way round.
V_TAIL = [
    ("v-tail", "right", -1),
    ("v-tail", "left", 1),
    ("inverted-v-tail", "right", 1),
    ("inverted-v-tail", "left", -1),
]


@pytest.mark.parametrize(("tail", "side", "sign"), V_TAIL)
def test_coordination_with_a_v_tail(tail: str, side: str, sign: int) -> None:
    half = {"channel": 6, "function": "v-tail", "side": side}
    for rate, wrong in ((15 * sign, 0), (-15 * sign, 1)):
        found = findings(
            replace("/model", clean("plain")["model"] | {"tail": tail}),
            put("/channels/-", half),
            put("/mixes", [mix({"channel": 2}, 6, rate, rate)]),
            rule="coordination-backwards",
        )
        assert len(found) == wrong
        for finding in found:
            assert finding.evidence["high_percent"] == rate
            assert finding.fix is not None
            assert finding.fix.patch[0]["value"] == {"low": -rate, "high": -rate}


def test_a_v_tail_without_a_side_is_open() -> None:
    (found,) = findings(
        put("/channels/-", {"channel": 6, "function": "v-tail"}),
        put("/mixes", [mix({"channel": 2}, 6, 15, 15)]),
        rule="coordination-backwards",
        kind="open",
    )
    assert found.settles == ("/channels/4/side",)


def test_roll_is_known_by_the_stick_behind_an_input() -> None:
    found = findings(
        put("/inputs", [{"id": "roll", "control": "roll-stick"}]),
        put("/mixes", [mix({"input": "roll"}, 4, -20, -20)]),
        rule="coordination-backwards",
    )
    assert [f.at for f in found] == ["/mixes/0/rate_percent"]


# Into the stabiliser -------------------------------------------------------------------------


def test_unknown_modes_are_not_taken_for_harmless() -> None:
    patch = [put("/mixes", [mix({"control": "throttle-stick"}, 3, 8, 8)])]
    (found,) = findings(*patch, rule="into-stabilised-axis", start="trainer")
    assert (found.word, found.evidence["percent"]) == ("caution", 8)
    gone = remove("/receiver/stabiliser/selectors/0")
    (found,) = findings(*patch, gone, rule="into-stabilised-axis", start="trainer")
    assert found.word == "caution"


def test_of_two_axes_on_the_channel_the_first_is_named() -> None:
    (found,) = findings(
        put("/receiver/stabiliser/axes/2/channel", 2),
        put("/mixes", [mix({"control": "throttle-stick"}, 2, 8, 8)]),
        rule="into-stabilised-axis",
        start="trainer",
    )
    assert found.evidence["axis"] == "roll"
    assert "the pilot's roll command" in found.message


def test_an_offset_reaches_the_selector_too() -> None:
    (found,) = findings(
        put("/mixes", [mix({"control": "yaw-stick"}, 5, 0, 0, offset_percent=-12)]),
        rule="into-selector",
        start="trainer",
    )
    # 12 % of 4 µs.
    assert (found.evidence["percent"], found.evidence["us"]) == (12, 48)


def test_elevons_made_in_both_are_found_at_both_channels() -> None:
    inputs = [{"id": "roll", "control": "roll-stick"}, {"id": "pitch", "control": "pitch-stick"}]
    mixes = [
        mix({"input": "roll"}, 2, 50, 50),
        mix({"input": "pitch"}, 2, 50, 50),
        mix({"input": "roll"}, 3, -50, -50),
        mix({"input": "pitch"}, 3, 50, 50),
    ]
    patch = [
        put("/inputs", inputs),
        put("/mixes", mixes),
        remove("/channels/1/control"),
        remove("/channels/2/control"),
        remove("/channels/1/rates"),
        remove("/channels/2/rates"),
    ]
    found = findings(*patch, rule="twice", start="wing")
    assert [(f.at, f.evidence["axis"]) for f in found] == [
        ("/mixes/1", "roll"),
        ("/mixes/2", "pitch"),
    ]
    assert all(f.evidence["sticks"] == ["roll-stick", "pitch-stick"] for f in found)
    assert all(f.evidence["mixing"] == "elevon" for f in found)
    off = replace("/receiver/stabiliser/mixing", "none")
    assert findings(*patch, off, rule="twice", start="wing") == []


def test_a_mix_that_adds_nothing_is_no_second_mixing() -> None:
    patch = put("/mixes", [mix({"control": "pitch-stick"}, 2, 0, 0)])
    assert findings(patch, rule="twice", start="wing") == []


def test_of_mixes_that_make_the_sum_a_second_time_the_first_is_named_and_all_are_taken_out() -> (
    None
):
    """One that a switch brings is enough."""
    back = [{"control": "mode-switch", "positions": ["back"]}]
    pitch = {"control": "pitch-stick"}
    mixes = put("/mixes", [mix(pitch, 2, 50, 50, when=back), mix(pitch, 2, 9, 9, when=back)])
    (found,) = findings(mixes, rule="twice", start="wing")
    assert found.at == "/mixes/0"
    assert found.fix is not None
    assert [operation["path"] for operation in found.fix.patch] == ["/mixes/1", "/mixes/0"]


def test_coordination_is_no_second_mixing_of_elevons() -> None:
    yaw = {"axis": "yaw", "channel": 6, "ports": [6], "sense": "normal"}
    found = findings(
        put("/channels/-", {"channel": 6, "function": "rudder", "control": "yaw-stick"}),
        put("/receiver/outputs/-", {"port": 6, "channel": 6}),
        put("/receiver/stabiliser/axes/-", yaw),
        put("/mixes", [mix({"control": "roll-stick"}, 6, 20, 20)]),
        rule="twice",
        start="wing",
    )
    assert found == []


# What a finding says beyond its message ----------------------------------------------------------


def test_each_side_of_a_coordination_mix_is_turned_by_itself() -> None:
    (found,) = findings(
        put("/mixes", [mix({"control": "roll-stick"}, 4, -20, -40)]), rule="coordination-backwards"
    )
    assert "stick to the right" in found.message
    assert "adds -40 % to channel 4 and turns the nose to the left" in found.message
    assert (found.evidence["low_percent"], found.evidence["high_percent"]) == (-20, -40)
    assert found.fix is not None
    assert found.fix.patch[0]["value"] == {"low": 20, "high": 40}


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (-0.5, 30, "stick to the left, the mix “{}” adds -0.5 % to channel 4"),
        (30, -0.5, "stick to the right, the mix “{}” adds -0.5 % to channel 4"),
        (0, -30, "stick to the right, the mix “{}” adds -30 % to channel 4"),
        (-30, 0, "stick to the left, the mix “{}” adds -30 % to channel 4"),
        (-30, 0.5, "stick to the left, the mix “{}” adds -30 % to channel 4"),
    ],
)
def test_one_backward_side_of_a_coordination_mix_is_enough(
    low: float, high: float, said: str
) -> None:
    turned = mix({"control": "roll-stick"}, 4, low, high)
    (found,) = findings(put("/mixes", [turned]), rule="coordination-backwards")
    assert said.format(turned["name"]) in found.message


@pytest.mark.parametrize(
    ("low", "high", "offset", "most"),
    # At the low end the mix adds its offset less the low rate, at the high end plus the high one.
    [(8, 5, 0, 8), (5, 8, 0, 8), (8, 5, -3, 11), (5, 8, 3, 11), (8, 5, 4, 9), (-8, 5, 4, 12)],
)
def test_the_most_that_a_mix_adds_to_a_stabilised_axis(
    low: float, high: float, offset: float, most: float
) -> None:
    (found,) = findings(
        put("/mixes", [mix({"control": "throttle-stick"}, 3, low, high, offset_percent=offset)]),
        rule="into-stabilised-axis",
        start="trainer",
    )
    assert found.evidence["percent"] == most


def airbrakes(left: str, right: str, *, turned: bool) -> list[Operation]:
    """Two airbrakes on one channel of the trainer, on outputs 6 and 7."""
    servos = [
        {"port": port, "surface": f"brake-{side}", "increasing_pulse": way}
        for port, side, way in ((6, "left", left), (7, "right", right))
    ]
    return [
        *controls(slider={"kind": "slider"}),
        put("/channels/-", {"channel": 7, "function": "airbrake", "control": "slider"}),
        put("/receiver/outputs/-", {"port": 6, "channel": 7}),
        put("/receiver/outputs/-", {"port": 7, "channel": 7, "reversed": turned}),
        *(put("/servos/-", servo) for servo in servos),
        *(
            put("/surfaces/-", {"id": f"brake-{side}", "function": "airbrake", "side": side})
            for side in ("left", "right")
        ),
    ]


def test_airbrakes_open_and_shut_together() -> None:
    def lopsided(left: str, right: str, *, turned: bool) -> list[Finding]:
        patch = airbrakes(left, right, turned=turned)
        return findings(*patch, rule="lopsided", start="trainer")

    assert lopsided("opens", "opens", turned=False) == []
    assert lopsided("opens", "closes", turned=True) == []
    (found,) = lopsided("opens", "closes", turned=False)
    assert "brake-left goes 800 µs open" in found.message
    assert "brake-right goes 800 µs shut" in found.message


@pytest.mark.parametrize("reversed_at_transmitter", [False, True])
@pytest.mark.parametrize("turned", [0, 1])
@pytest.mark.parametrize("way", ["trailing-edge-up", "trailing-edge-down"])
@pytest.mark.parametrize(("function", "rises"), [("elevator", True), ("flap", False)])
def test_of_two_halves_on_one_channel_the_one_that_goes_against_its_function_is_to_blame(
    function: str, rises: bool, way: str, turned: int, reversed_at_transmitter: bool
) -> None:
    """An elevator's half goes up with a growing demand, a flap down."""
    servos = [
        {"port": port, "surface": f"{function}-{side}", "increasing_pulse": way}
        for port, side in ((6, "left"), (7, "right"))
    ]
    channel = {"channel": 7, "function": function, "control": "slider"}
    (found,) = findings(
        *controls(slider={"kind": "slider"}),
        put("/channels/-", {**channel, "reversed": reversed_at_transmitter}),
        put("/receiver/outputs/-", {"port": 6, "channel": 7, "reversed": turned == 0}),
        put("/receiver/outputs/-", {"port": 7, "channel": 7, "reversed": turned == 1}),
        *(put("/servos/-", servo) for servo in servos),
        *(
            put("/surfaces/-", {"id": f"{function}-{side}", "function": function, "side": side})
            for side in ("left", "right")
        ),
        rule="lopsided",
        start="trainer",
    )
    first_rises = ((way == "trailing-edge-up") != reversed_at_transmitter) != (turned == 0)
    at = 5 if first_rises != rises else 6
    assert found.at == f"/receiver/outputs/{at}/reversed"


def test_unequal_travel_of_two_outputs_of_one_channel_is_to_blame() -> None:
    patch = airbrakes("opens", "opens", turned=False)
    (found,) = findings(
        *patch,
        put("/receiver/outputs/5/travel_percent", {"low": 100, "high": 100}),
        put("/receiver/outputs/6/travel_percent", {"low": 50, "high": 50}),
        rule="lopsided",
        start="trainer",
    )
    assert found.at == "/receiver/outputs/5/travel_percent"


def test_a_difference_is_a_finding_from_just_above_ten_percent_on() -> None:
    for percent, fails in ((10, 0), (10.5, 1)):
        found = findings(
            *airbrakes("opens", "opens", turned=False),
            remove("/transmitter/output/steps"),
            *controls(halves={**SWITCH, "values": [0, 100]}),
            put("/channels/6/control", "halves"),
            put("/receiver/outputs/6/travel_percent", {"low": 100, "high": 100 - percent}),
            rule="lopsided",
            start="trainer",
        )
        assert len(found) == fails


@pytest.mark.parametrize(("places", "tried"), [((5, 4), True), ((6, 4), False), ((5, 5), False)])
def test_up_to_1024_combinations_are_tried(places: tuple[int, int], tried: bool) -> None:
    """An override's switch multiplies, and what switches choose apart from each other adds up:
    4 · (1 + 5³ + 5³ + 5) is 1024.
    """
    last, case = places
    counts = {"a": 5, "b": 5, "c": 5, "d": 5, "e": 5, "f": 5, "g": last, "o": case}
    switches = {
        name: {"kind": "switch", "positions": [str(at) for at in range(count)]}
        for name, count in counts.items()
    }

    def held(names: str) -> list[dict[str, Any]]:
        return [{"control": name, "positions": ["0"]} for name in names]

    override = {
        "name": "steep",
        "purpose": "other",
        "channel": 2,
        "demand_percent": 0,
        "when": held("o"),
    }
    patch = [
        *controls(k=KNOB, **switches),
        put("/overrides/-", override),
        put(
            "/mixes", [mix({"control": "k"}, 2, 5, 5, when=held(it)) for it in ("abc", "def", "g")]
        ),
    ]
    kinds = {kind: bool(findings(*patch, rule="lopsided", kind=kind)) for kind in ("fail", "open")}
    assert kinds == {"fail": tried, "open": not tried}


def test_switches_are_counted_against_the_bound() -> None:
    names = [f"s{i}" for i in range(10)]
    when = [{"control": name, "positions": ["on"]} for name in names]
    (found,) = findings(
        *controls(slider={"kind": "slider"}, **dict.fromkeys(names, SWITCH)),
        put("/mixes", [mix({"control": "slider"}, 2, 5, 5, when=when)]),
        rule="lopsided",
        start="trainer",
        kind="open",
    )
    assert "what “slider” moves depends on 10 switches together" in found.message


@pytest.mark.parametrize("channel", [2, 3])
def test_one_mix_of_a_pair_that_was_forgotten_is_named(channel: int) -> None:
    """The glider's ailerons are on channels 2 and 3: the mix brings one of them alone."""
    there = len(clean("glider")["mixes"])
    (found,) = findings(
        put("/mixes/-", mix({"control": "throttle-stick"}, channel, 20, 20)),
        rule="lopsided",
        start="glider",
    )
    assert found.at == f"/mixes/{there}/rate_percent"
    # ±20 %, of which travel leaves 60 % on one side: 12 and 20 % of 4 µs a percent.
    still, moved = ("left", "right") if channel == 2 else ("right", "left")
    assert f"aileron-{still} stays" in found.message
    assert f"aileron-{moved} goes 128 µs" in found.message
