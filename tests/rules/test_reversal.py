"""Reversal: directions against the axes' definition, the laws of the signs, the smallest remedy."""

from __future__ import annotations

from itertools import combinations, product
from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind import Inspector
from prebind.rule import Operation, put, remove, replace
from prebind.testing import clean, inspected, patched
from prebind_rules.reversal.stabilised_axis import stabilised_axis

if TYPE_CHECKING:
    from prebind.inspect.finding import Finding

Document = dict[str, Any]

INSPECTOR = Inspector(prebind.Configuration(families=("reversal",)))


def findings(document: Document, rule: str, kind: str = "fail") -> list[Finding]:
    report = INSPECTOR.inspect(document)
    assert not report.problems
    return [f for f in report.findings if f.rule == f"reversal/{rule}" and f.kind == kind]


def changed(*patch: Operation, start: str = "trainer") -> Document:
    return patched(clean(start), patch)


# Directions ----------------------------------------------------------------------------------

# ISO 1151-1 (from memory): x forward, y right, z down, right-hand rule, so that positive roll puts
# the right wing down, positive pitch the nose up, positive yaw the nose right.  An edge that goes
# up lowers the lift there; an edge or a wheel turned right pushes the tail left, or steers right.
RIGHT_WAYS = [
    ("aileron", "right", "conventional", "roll", "trailing-edge-up"),
    ("aileron", "left", "conventional", "roll", "trailing-edge-down"),
    ("flaperon", "right", "conventional", "roll", "trailing-edge-up"),
    ("flaperon", "left", "conventional", "roll", "trailing-edge-down"),
    ("elevon", "right", "none", "roll", "trailing-edge-up"),
    ("elevon", "left", "none", "roll", "trailing-edge-down"),
    ("elevon", "right", "none", "pitch", "trailing-edge-up"),
    ("elevon", "left", "none", "pitch", "trailing-edge-up"),
    ("elevator", None, "conventional", "pitch", "trailing-edge-up"),
    ("elevator", None, "canard", "pitch", "trailing-edge-down"),
    ("v-tail", "right", "v-tail", "pitch", "trailing-edge-up"),
    ("v-tail", "left", "v-tail", "pitch", "trailing-edge-up"),
    ("v-tail", "right", "v-tail", "yaw", "trailing-edge-down"),
    ("v-tail", "left", "v-tail", "yaw", "trailing-edge-up"),
    ("v-tail", "right", "inverted-v-tail", "pitch", "trailing-edge-up"),
    ("v-tail", "left", "inverted-v-tail", "pitch", "trailing-edge-up"),
    ("v-tail", "right", "inverted-v-tail", "yaw", "trailing-edge-up"),
    ("v-tail", "left", "inverted-v-tail", "yaw", "trailing-edge-down"),
    ("rudder", None, "conventional", "yaw", "trailing-edge-right"),
    ("steering", "front", "conventional", "yaw", "wheel-right"),
    ("steering", None, "conventional", "yaw", "wheel-right"),
    ("steering", "rear", "conventional", "yaw", "wheel-left"),
]
OPPOSITE = {
    "trailing-edge-up": "trailing-edge-down",
    "trailing-edge-down": "trailing-edge-up",
    "trailing-edge-right": "trailing-edge-left",
    "wheel-right": "wheel-left",
    "wheel-left": "wheel-right",
}
CHANNEL = {"roll": 2, "pitch": 3, "yaw": 4}


def one_surface(function: str, side: str | None, tail: str, axis: str, increasing: str) -> Document:
    """The trainer with this surface alone, on port 3 and on the channel of the axis's stick."""
    document = clean("trainer")
    document["model"]["tail"] = tail
    document["surfaces"] = [{"id": "it", "function": function} | ({"side": side} if side else {})]
    document["servos"] = [{"port": 3, "surface": "it", "increasing_pulse": increasing}]
    document["receiver"]["outputs"] = [{"port": 3, "channel": CHANNEL[axis]}]
    axes = document["receiver"]["stabiliser"]["axes"]
    (kept,) = [entry for entry in axes if entry["axis"] == axis]
    document["receiver"]["stabiliser"]["axes"] = [kept | {"ports": [3]}]
    return document


@pytest.mark.parametrize(("function", "side", "tail", "axis", "right"), RIGHT_WAYS)
def test_the_right_way_and_the_wrong_way(
    function: str, side: str | None, tail: str, axis: str, right: str
) -> None:
    rules = ("command-backwards", "correction-backwards")
    for increasing, wrong in ((right, 0), (OPPOSITE[right], 1)):
        document = one_surface(function, side, tail, axis, increasing)
        for rule in rules:
            found = [f for f in findings(document, rule) if f.evidence["axis"] == axis]
            assert len(found) == wrong, (rule, increasing)
            assert all(f.evidence["port"] == 3 for f in found)


@pytest.mark.parametrize("side", [None, "front"])
def test_a_side_that_decides_and_is_not_recorded_is_open(side: str | None) -> None:
    document = one_surface("aileron", side, "conventional", "roll", "trailing-edge-up")
    for rule in ("command-backwards", "correction-backwards"):
        assert not findings(document, rule)
        (found,) = findings(document, rule, "open")
        assert "/surfaces/0/side" in found.settles


def test_what_the_pulse_does_is_open_until_recorded() -> None:
    document = changed(remove("/servos/2/increasing_pulse"))
    for rule in ("command-backwards", "correction-backwards"):
        (found,) = findings(document, rule, "open")
        assert found.at == "/servos/2"
        assert found.settles == ("/servos/2/increasing_pulse",)
        assert "Propeller off" in (found.bench or "")


def test_swashplates_are_open_and_never_pass() -> None:
    document = clean("helicopter")
    for rule in ("command-backwards", "correction-backwards", "ports-disagree"):
        assert not findings(document, rule)
        assert findings(document, rule, "open")


# The laws ------------------------------------------------------------------------------------

# Of each start: axis, and the pointers of its transmitter reversal, of one output that it uses,
# and of its sense.
LOOPS = [
    ("trainer", "roll", "/channels/1", "/receiver/outputs/1", "/receiver/stabiliser/axes/0"),
    ("trainer", "pitch", "/channels/2", "/receiver/outputs/2", "/receiver/stabiliser/axes/1"),
    ("trainer", "yaw", "/channels/3", "/receiver/outputs/3", "/receiver/stabiliser/axes/2"),
    ("wing", "roll", "/channels/1", "/receiver/outputs/2", "/receiver/stabiliser/axes/0"),
    ("wing", "pitch", "/channels/2", "/receiver/outputs/1", "/receiver/stabiliser/axes/1"),
]


def at(document: Document, pointer: str) -> dict[str, Any]:
    here: Any = document
    for token in pointer.split("/")[1:]:
        here = here[int(token)] if isinstance(here, list) else here[token]
    entry: dict[str, Any] = here
    return entry


def turn(document: Document, channel: str = "", output: str = "", sense: str = "") -> None:
    """Turns round what is named: reversing of a channel or an output, the sense of an axis."""
    for pointer in filter(None, (channel, output)):
        entry = at(document, pointer)
        entry["reversed"] = not entry.get("reversed", False)
    if sense:
        entry = at(document, sense)
        entry["sense"] = "normal" if entry["sense"] == "reversed" else "reversed"


def signs(document: Document, axis: str, port: int) -> tuple[int, int, int]:
    """Direct command, command with a target, correction."""
    path = prebind.trace(INSPECTOR.inspect(document).setup)
    (found,) = [d for d in path.directions if d.axis == axis and d.port.number == port]
    (direct,), (target,) = found.direct, found.target or ()
    assert found.correction is not None
    return direct, target, found.correction


@pytest.mark.parametrize(("start", "axis", "channel", "output", "sense"), LOOPS)
@pytest.mark.parametrize("before", list(product([False, True], repeat=3)))
def test_what_each_reversal_flips(
    start: str, axis: str, channel: str, output: str, sense: str, before: tuple[bool, bool, bool]
) -> None:
    # Each sign is a product (design, signal path): what flips twice is as it was.
    def signs_after(*turned: str) -> tuple[int, int, int]:
        document = clean(start)
        names = [n for n, on in zip(("channel", "output", "sense"), before, strict=True) if on]
        places = {"channel": channel, "output": output, "sense": sense}
        for name in (*names, *turned):
            turn(document, **{name: places[name]})
        return signs(document, axis, at(document, output)["port"])

    direct, target, correction = signs_after()
    assert signs_after("channel") == (-direct, -target, correction)
    assert signs_after("output") == (-direct, target, -correction)
    assert signs_after("sense") == (direct, target, -correction)


@pytest.mark.parametrize(("channel", "output", "sense"), list(product([False, True], repeat=3)))
def test_what_is_found_for_each_set_of_mistakes(channel: bool, output: bool, sense: bool) -> None:
    _, axis, *places = LOOPS[1]
    document = clean("trainer")
    for name, place, on in zip(
        ("channel", "output", "sense"), places, (channel, output, sense), strict=True
    ):
        turn(document, **({name: place} if on else {}))
    direct = -1 if channel != output else 1
    target = -1 if channel else 1
    correction = -1 if output != sense else 1
    # In the trainer's three modes every sign counts, but a loop that runs away has no target.
    judged = target if correction == 1 else 1
    found = findings(document, "command-backwards")
    assert bool(found) == (-1 in (direct, judged))
    for finding in found:
        assert finding.evidence.get("direct", 1) == direct
        assert finding.evidence.get("target", 1) == judged
        assert finding.evidence["axis"] == axis
        assert ("damped" in finding.message) == (direct == -1)
        assert ("level or limited" in finding.message) == (judged == -1)
    assert bool(findings(document, "correction-backwards")) == (correction == -1)
    assert bool(findings(document, "stabilised-axis")) == channel


def test_a_command_that_rises_where_it_is_expected_to_fall_is_backwards() -> None:
    expects = put("/receiver/stabiliser/expects", {"pitch": {"direction": -1}})
    (found,) = findings(changed(expects), "stabilised-axis")
    assert "expects its pitch command to fall" in found.message
    assert (found.evidence["expected_direction"], found.evidence["controls"]["pitch-stick"]) == (
        -1,
        100,
    )
    assert not findings(changed(expects, put("/channels/2/reversed", True)), "stabilised-axis")


def test_two_mistakes_that_look_right_in_one_mode() -> None:
    document = changed(
        put("/receiver/outputs/2/reversed", True),
        replace("/receiver/stabiliser/axes/1/sense", "reversed"),
    )
    (found,) = findings(document, "command-backwards")
    assert found.at == "/receiver/outputs/2/reversed"
    assert found.evidence["direct_states"] == ["damped"]
    assert found.because is None
    at(document, "/receiver/stabiliser/selectors/0/states/2")["behaviour"] = "heading-hold"
    assert not findings(document, "command-backwards")


def test_a_wrong_target_is_found_though_the_servo_is_unknown() -> None:
    document = changed(put("/channels/2/reversed", True), remove("/servos/2/increasing_pulse"))
    (found,) = findings(document, "command-backwards")
    assert found.evidence["target"] == -1
    assert "direct" not in found.evidence
    assert found.because is not None
    assert (found.because.rule, found.because.at) == (
        "reversal/stabilised-axis",
        "/channels/2/reversed",
    )


@pytest.mark.parametrize(
    ("start", "axis"),
    [
        pytest.param("plain", {"axis": "roll"}, id="one of two sticks for roll"),
        pytest.param("trainer", {"axis": "roll"}, id="one of two sticks for roll, stabilised"),
        pytest.param("trainer", {}, id="a stick whose axis is not recorded"),
        pytest.param("trainer", {"axis": "yaw"}, id="a stick for another axis"),
    ],
)
def test_the_stick_that_reaches_the_channel_is_named(start: str, axis: dict[str, str]) -> None:
    document = changed(
        put("/transmitter/controls/spare-stick", {"kind": "stick", **axis}),
        replace("/channels/1/control", "spare-stick"),
        put("/channels/1/reversed", True),
        start=start,
    )
    for finding in findings(document, "command-backwards"):
        assert finding.message.startswith("With spare-stick to the right, port ")
    assert findings(document, "command-backwards")


def test_a_loop_that_runs_away_at_one_of_its_servos_follows_no_target() -> None:
    document = changed(
        put("/channels/1/reversed", True),
        put("/receiver/stabiliser/axes/0/ports", [2, {"port": 5, "sign": -1}]),
    )
    found = findings(document, "command-backwards")
    assert [f.evidence["port"] for f in found] == [2, 5]
    assert all("target" not in f.evidence for f in found)


def test_without_a_flight_mode_selector_a_target_that_differs_is_open() -> None:
    document = changed(
        put("/channels/2/reversed", True),
        put("/receiver/outputs/2/reversed", True),
        replace("/receiver/stabiliser/axes/1/sense", "reversed"),
        remove("/receiver/stabiliser/selectors/0"),
    )
    assert not findings(document, "command-backwards")
    (found,) = findings(document, "command-backwards", "open")
    assert found.settles == ("/receiver/stabiliser/selectors",)
    assert "channel 3" in found.message


def test_a_target_that_no_flight_mode_sets_is_not_judged() -> None:
    document = changed(
        put("/channels/2/reversed", True),
        put("/receiver/outputs/2/reversed", True),
        replace("/receiver/stabiliser/axes/1/sense", "reversed"),
        replace("/receiver/stabiliser/selectors/0/states/0/behaviour", "off"),
        replace("/receiver/stabiliser/selectors/0/states/1/behaviour", "rate-damping"),
    )
    assert not findings(document, "command-backwards")
    assert not findings(document, "command-backwards", "open")


# The smallest remedy -------------------------------------------------------------------------

PLACES = {
    "channel": "/channels/1",
    "right": "/receiver/outputs/1",
    "left": "/receiver/outputs/4",
    "sense": "/receiver/stabiliser/axes/0",
}


def turned(document: Document, names: tuple[str, ...]) -> Document:
    document = patched(document, ())
    for name in names:
        key = name if name in ("channel", "sense") else "output"
        turn(document, **{key: PLACES[name]})
    return document


@pytest.mark.parametrize(
    "mistakes",
    [("channel", *rest) for n in range(4) for rest in combinations(("right", "left", "sense"), n)],
)
def test_the_remedy_is_the_smallest_set_that_makes_every_sign_right(
    mistakes: tuple[str, ...],
) -> None:
    document = turned(clean("trainer"), mistakes)
    (found,) = findings(document, "stabilised-axis")
    assert found.fix is not None
    mended = patched(document, found.fix.patch)
    assert not [f for f in INSPECTOR.inspect(mended).findings if f.kind == "fail"]
    # Tried out, smallest first, without any algebra.
    smallest = next(
        names
        for size in range(1, 5)
        for names in combinations(PLACES, size)
        if not [
            f
            for f in INSPECTOR.inspect(turned(document, names)).findings
            if f.kind == "fail" and f.rule != "reversal/twice"
        ]
    )
    assert len(found.fix.patch) == len(smallest)
    assert found.at == found.fix.patch[0]["path"] == "/channels/1/reversed"
    assert found.remedy.count(";") == len(smallest) - 1


def test_the_remedy_is_said_in_words() -> None:
    document = changed(
        put("/channels/2/reversed", True),
        replace("/servos/2/increasing_pulse", "trailing-edge-down"),
    )
    # Reversed at the transmitter, the stick looks right directly; nothing else does.
    (found,) = findings(document, "stabilised-axis")
    assert found.remedy.startswith(
        "Switch reversing of channel 3 off at the transmitter; "
        "switch reversing of output 3 on at the receiver."
    )
    assert "propeller off" in found.remedy


WING = "/receiver/stabiliser/axes"
MISTAKES = [  # on the flying wing, where the two axes share both ports
    put("/channels/1/reversed", True),
    put("/channels/2/reversed", True),
    replace(f"{WING}/0/ports/0", {"port": 2, "sign": -1}),
    replace(f"{WING}/0/sense", "reversed"),
    replace(f"{WING}/1/ports/1", {"port": 3, "sign": -1}),
    replace(f"{WING}/1/sense", "reversed"),
]


def test_six_mistakes_are_mended_by_six_changes() -> None:
    # Worked by hand: that each channel arrives backwards can be mended at the transmitter alone;
    # then a right command with a wrong correction, or the reverse, needs the axis's sense; and one
    # pair of port and axis out of two at each port is left, which needs a sign of its own.
    document = changed(*MISTAKES, start="wing")
    roll, pitch = inspected(stabilised_axis, document).findings
    assert roll.fix is not None
    assert roll.fix == pitch.fix
    assert [it["path"] for it in roll.fix.patch] == [it["path"] for it in MISTAKES]
    mended = patched(document, roll.fix.patch)
    assert not [f for f in INSPECTOR.inspect(mended).findings if f.kind == "fail"]


def test_seven_changes_are_no_help_at_the_bench() -> None:
    # A third elevon, on the right and with the signs of the first, but with its output reversed:
    # wrong on both axes, and mended at its output alone.
    third = [
        put("/receiver/outputs/-", {"port": 4, "channel": 2, "reversed": True}),
        put("/servos/-", {"port": 4, "surface": "it", "increasing_pulse": "trailing-edge-up"}),
        put("/surfaces/-", {"id": "it", "function": "elevon", "side": "right"}),
        *(put(f"{WING}/{axis}/ports/-", {"port": 4, "sign": 1}) for axis in (0, 1)),
    ]
    alone = findings(changed(*third, start="wing"), "correction-backwards")
    assert [f.fix and f.fix.patch[0]["path"] for f in alone] == ["/receiver/outputs/3/reversed"] * 2
    document = changed(*MISTAKES, *third, start="wing")
    both = inspected(stabilised_axis, document).findings
    assert [(f.at, f.fix) for f in both] == [(f"/channels/{i}/reversed", None) for i in (1, 2)]
    assert all(f.remedy.startswith("Let the axis's channel leave") for f in both)


def test_a_channel_that_goes_both_ways_is_no_matter_of_reversing() -> None:
    document = changed(
        put(
            "/mixes",
            [
                {
                    "name": "stray",
                    "from": {"control": "roll-stick"},
                    "to": 2,
                    "rate_percent": {"low": -200, "high": -200},
                    "when": [{"control": "cut-switch", "positions": ["cut"]}],
                }
            ],
        ),
        start="plain",
    )
    found = findings(document, "command-backwards")
    assert {f.at for f in found} == {"/channels/1"}
    assert all(f.evidence["controls"]["cut-switch"] == "cut" for f in found)
    assert all(f.fix is None for f in found)


def test_a_channel_that_goes_both_ways_is_not_mended_by_turning_that_of_the_stabiliser() -> None:
    """The elevator has a channel of its own beside the one that the stabiliser reads, and both are
    wrong: turning the latter would leave the former as it is.
    """
    stray = {
        "name": "stray",
        "from": {"control": "pitch-stick"},
        "to": 7,
        "rate_percent": {"low": -200, "high": -200},
        "when": [{"control": "rate-switch", "positions": ["soft"]}],
    }
    document = changed(
        put("/channels/-", {"channel": 7, "function": "elevator", "control": "pitch-stick"}),
        put("/receiver/outputs/2/channel", 7),
        put("/mixes", [stray]),
        put("/channels/2/reversed", True),
    )
    (found,) = findings(document, "command-backwards")
    assert (found.evidence["direct"], found.evidence["target"]) == (-1, -1)
    assert (found.at, found.fix) == ("/channels/6", None)


def test_a_channel_that_goes_both_ways_to_a_mixed_port_of_another_axis() -> None:
    document = changed(
        remove("/receiver/stabiliser/axes/1"),  # pitch: port 3 is on its channel, and on roll's
        put(
            "/mixes",
            [
                {
                    "name": "stray",
                    "from": {"control": "pitch-stick"},
                    "to": 3,
                    "rate_percent": {"low": -200, "high": -200},
                    "when": [{"control": "cut-switch", "positions": ["cut"]}],
                }
            ],
        ),
        start="wing",
    )
    (found,) = findings(document, "command-backwards")
    assert (found.at, found.evidence["port"]) == ("/channels/2", 3)


def test_two_servos_on_one_lead_that_disagree_are_mended_at_the_servo() -> None:
    lead = {"port": 3, "surface": "elevator", "y_lead": True}
    document = changed(
        put("/servos/2/y_lead", True),
        put("/servos/-", lead | {"increasing_pulse": "trailing-edge-down"}),
        start="plain",
    )
    (found,) = findings(document, "ports-disagree")
    assert found.at == "/servos/4/increasing_pulse"
    assert found.fix is None
    (backwards,) = findings(document, "command-backwards")
    assert backwards.at == found.at
    document["servos"].append(document["servos"][4])
    (found,) = findings(document, "ports-disagree")  # of two that are backwards the first
    assert found.at == "/servos/4/increasing_pulse"


def turn_rates(document: Document, mix: int) -> None:
    rate = document["mixes"][mix]["rate_percent"]
    document["mixes"][mix]["rate_percent"] = {"low": -rate["low"], "high": -rate["high"]}


def test_a_mix_that_brings_an_axis_alone_is_turned_at_its_rates() -> None:
    # The glider's V-tail is mixed at the transmitter; mixes 2 and 3 bring yaw to its halves.
    document = changed(start="glider")
    rate = {**document["mixes"][2]["rate_percent"], "high": -55}  # low stays −60
    document["mixes"][2]["rate_percent"] = rate
    turn_rates(document, 2)
    (found,) = findings(document, "command-backwards")
    assert found.at == "/mixes/2/rate_percent"
    assert found.fix is not None
    assert [it["value"] for it in found.fix.patch] == [rate]


def test_both_mixes_of_a_pair_are_turned_together() -> None:
    # One of them turned alone would set the left half against the right one.
    document = changed(start="glider")
    rates = [document["mixes"][i]["rate_percent"] for i in (2, 3)]
    for i in (2, 3):
        turn_rates(document, i)
    found = findings(document, "command-backwards")
    assert [f.at for f in found] == [f"/mixes/{i}/rate_percent" for i in (2, 3)]
    for finding in found:
        assert finding.fix is not None
        assert [(it["path"], it["value"]) for it in finding.fix.patch] == [
            (f"/mixes/{i}/rate_percent", rate) for i, rate in zip((2, 3), rates, strict=True)
        ]


def test_the_other_half_of_a_pair_may_be_unknown() -> None:
    document = changed(remove("/servos/3/increasing_pulse"), start="glider")
    turn_rates(document, 2)
    (found,) = findings(document, "command-backwards")
    assert found.fix is not None
    assert [it["path"] for it in found.fix.patch] == ["/mixes/2/rate_percent"]


def test_a_mix_beside_the_stick_itself_is_not_turned() -> None:
    # The channel is the stick's own, so turning the half that a mix adds turns nothing round.
    document = changed(put("/channels/3/control", "pitch"), start="glider")
    document["mixes"][0]["rate_percent"] = {"low": -60, "high": -60}
    document["channels"][3]["reversed"] = True
    turn_rates(document, 2)
    for finding in findings(document, "command-backwards"):
        assert finding.evidence["axis"] == "pitch"
        assert finding.fix is not None
        assert [it["path"] for it in finding.fix.patch] == [
            "/channels/3/reversed",
            "/mixes/2/rate_percent",
        ]
    assert findings(document, "command-backwards")


def test_of_two_mixes_that_bring_an_axis_neither_is_turned_alone() -> None:
    # The channel is turned, and the one mix that brings pitch turned back: in both halves.
    document = changed(start="glider")
    for i in (2, 3):
        rate = -document["mixes"][i]["rate_percent"]["low"] / 2
        document["mixes"][i]["rate_percent"] = {"low": rate, "high": rate}
        document["mixes"].append({**document["mixes"][i], "name": f"more yaw {i}"})
    found = findings(document, "command-backwards")
    assert [(f.at, f.evidence["axis"]) for f in found] == [
        ("/channels/3", "yaw"),
        ("/channels/4", "yaw"),
    ]
    for finding in found:
        assert finding.fix is not None
        assert [it["path"] for it in finding.fix.patch] == [
            "/channels/3/reversed",
            "/channels/4/reversed",
            "/mixes/0/rate_percent",
            "/mixes/1/rate_percent",
        ]
        assert not findings(patched(document, finding.fix.patch), "command-backwards")


def test_both_servos_backwards_do_not_disagree() -> None:
    document = changed(replace("/receiver/stabiliser/axes/0/sense", "reversed"))
    assert not findings(document, "ports-disagree")
    assert [f.evidence["port"] for f in findings(document, "correction-backwards")] == [2, 5]


def test_of_two_servos_that_are_backwards_the_first_is_mended_first() -> None:
    """The glider's ailerons have channels of their own; a third one, beside the right, is right."""
    third = clean("glider")["servos"][0] | {"port": 8}
    document = changed(
        put("/receiver/outputs/-", {"port": 8, "channel": 2}),
        put("/servos/-", third),
        put("/receiver/outputs/1/reversed", True),
        put("/receiver/outputs/2/reversed", True),
        start="glider",
    )
    (found,) = findings(document, "ports-disagree")
    assert (found.evidence["backward_ports"], found.evidence["right_ports"]) == ([2, 3], [8])
    assert found.at == "/receiver/outputs/1/reversed"


def test_disagreement_follows_from_the_servo_that_is_backwards() -> None:
    document = changed(put("/receiver/outputs/1/reversed", True))
    (found,) = findings(document, "ports-disagree")
    assert found.evidence["backward_ports"] == [2]
    assert found.evidence["right_ports"] == [5]
    assert found.because is not None
    assert (found.because.rule, found.because.at) == (
        "reversal/command-backwards",
        "/receiver/outputs/1/reversed",
    )


# Reversed twice, and the throttle ------------------------------------------------------------


def test_two_reversals_follow_from_the_axis_only_where_there_is_one() -> None:
    twice = (put("/channels/3/reversed", True),)  # the rudder's output is reversed already
    (found,) = findings(changed(*twice), "twice")
    assert found.because is not None
    assert (found.because.rule, found.because.at) == (
        "reversal/stabilised-axis",
        "/channels/3/reversed",
    )
    assert found.fix is None  # the stabiliser reads the channel too
    (found,) = findings(changed(*twice, remove("/receiver/stabiliser/axes/2")), "twice")
    assert found.because is None
    assert found.fix is not None


def test_taking_both_reversals_out_changes_no_pulse() -> None:
    document = changed(put("/receiver/outputs/3/reversed", True), start="plain")
    (found,) = findings(document, "twice")
    assert found.fix is not None
    assert found.fix.applies == "safe"

    def pulses(document: Document) -> list[dict[int, float]]:
        path = prebind.trace(INSPECTOR.inspect(document).setup)
        return [path.situation({"yaw-stick": x}).ports for x in (-100, -30, 0, 55, 100)]

    assert pulses(patched(document, found.fix.patch)) == pulses(document)


@pytest.mark.parametrize(
    "also",
    [
        put("/receiver/failsafe/channels/3/output_percent", 20),
        put("/channels/3/subtrim_percent", 4),
        put("/channels/3/travel_percent", {"low": 100, "high": 90}),
        put("/receiver/outputs/-", {"port": 6, "channel": 4}),
    ],
    ids=lambda operation: operation["path"],
)
def test_no_fix_where_a_pulse_would_change(also: Operation) -> None:
    document = changed(put("/receiver/outputs/3/reversed", True), also, start="plain")
    (found,) = findings(document, "twice")
    assert found.fix is None


def test_an_output_is_reversed_on_purpose_where_the_stabiliser_expects_the_channel_so() -> None:
    document = changed(
        put("/transmitter/output/native", {"rudder": -1}),
        put("/receiver/stabiliser/expects", {"yaw": {"direction": -1}}),
    )
    assert not findings(document, "twice")
    del document["receiver"]["stabiliser"]["expects"]
    (found,) = findings(document, "twice")
    assert found.at == "/channels/3"


def test_a_throttle_backwards_has_its_pulses_in_the_evidence() -> None:
    document = changed(put("/channels/0/reversed", True), start="plain")
    (found,) = findings(document, "throttle")
    # −100 and +100 % of 4 µs about 1500 µs: common practice, no source.
    assert (found.evidence["low_us"], found.evidence["high_us"]) == (1900, 1100)
    assert (found.evidence["low_state"], found.evidence["high_state"]) == ("full", "stopped")
    assert found.word == "danger"


def test_a_throttle_under_a_cut_that_always_holds_is_not_judged() -> None:
    document = changed(replace("/overrides/0/when/0/positions", ["run", "cut"]))
    report = INSPECTOR.inspect(document)
    assert not report.problems
    assert "reversal/throttle" in report.not_applicable


@pytest.mark.parametrize("end", [{"below_percent": -90}, {"above_percent": 90}])
def test_a_throttle_under_a_cut_that_holds_at_one_of_its_ends_is_not_judged(
    end: dict[str, int],
) -> None:
    document = changed(
        put("/channels/0/reversed", True),
        replace("/overrides/0/when", [{"control": "throttle-stick", **end}]),
    )
    report = INSPECTOR.inspect(document)
    assert not report.problems
    assert "reversal/throttle" in report.not_applicable


def test_an_engine_backwards_runs_with_the_stick_low() -> None:
    document = changed(put("/channels/0/reversed", True), start="glow")
    (found,) = findings(document, "throttle")
    assert found.at == "/channels/0/reversed"
    assert found.evidence["high_state"] in ("stopped", "idling")


def test_a_reversible_speed_control_rests_in_the_middle() -> None:
    reversible = {"port": 1, "stopped_us": [1480, 1520], "full_above_us": 1880}
    document = changed(replace("/speed_controls/0", reversible), put("/channels/0/reversed", True))
    assert not findings(document, "throttle")


def test_an_output_is_not_turned_back_where_failsafe_stops_through_it() -> None:
    document = changed(
        put("/receiver/outputs/0/reversed", True),
        put("/receiver/failsafe/channels/0/output_percent", 100),
    )
    (found,) = findings(document, "throttle")
    assert found.at == "/receiver/outputs/0/reversed"
    assert found.fix is None
