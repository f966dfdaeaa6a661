"""Signs of commands and corrections: +1 is right, −1 wrong (design: directions)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from tests.rules.test_reversal import OPPOSITE, RIGHT_WAYS, one_surface

import prebind
from prebind.rule import NotKnown
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path.direction import DirectionPath


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


def direction_of(document: dict[str, Any], axis: str, port: int) -> DirectionPath:
    (found,) = (
        it for it in path_of(document).directions if (it.axis, it.port_number) == (axis, port)
    )
    return found


@pytest.mark.parametrize(("function", "side", "tail", "axis", "right"), RIGHT_WAYS)
def test_which_way_a_growing_pulse_turns_the_model(
    function: str, side: str | None, tail: str, axis: str, right: str
) -> None:
    for increasing, sign in ((right, 1), (OPPOSITE[right], -1)):
        found = direction_of(one_surface(function, side, tail, axis, increasing), axis, 3)
        assert found.phys == sign


@pytest.mark.parametrize(
    ("function", "increasing"),
    [
        ("aileron", "trailing-edge-left"),
        ("elevator", "trailing-edge-right"),
        ("v-tail", "wheel-left"),
        ("rudder", "trailing-edge-up"),
        ("rudder", "wheel-right"),
        ("steering", "trailing-edge-right"),
    ],
)
def test_a_movement_that_the_surface_does_not_make_says_nothing(
    function: str, increasing: str
) -> None:
    axis = {"aileron": "roll", "elevator": "pitch"}.get(function, "yaw")
    found = direction_of(one_surface(function, "right", "v-tail", axis, increasing), axis, 3)
    with pytest.raises(NotKnown, match=f"“{increasing}” does not say which way {function} “it”"):
        _ = found.phys


@pytest.mark.parametrize(
    ("template", "mixing", "says", "bench"),
    [
        (
            "helicopter",
            "swashplate",
            "which way the swashplate answers on roll",
            "rotor blades off",
        ),
        ("multirotor", "motors", "which way motors answer on roll", "Propellers off"),
    ],
)
def test_what_rotors_do_is_looked_at(template: str, mixing: str, says: str, bench: str) -> None:
    document = clean(template)
    assert document["receiver"]["stabiliser"]["mixing"] == mixing
    found = next(it for it in path_of(document).directions if it.axis == "roll")
    with pytest.raises(NotKnown) as raised:
        _ = found.phys
    assert raised.value.message.startswith(f"{says} (port {found.port_number}) is not computed")
    assert bench in (raised.value.bench or "")
    assert raised.value.settles == ()


def test_a_servo_beside_the_rotors_is_judged_as_any_other() -> None:
    """It belongs to no axis that the stabiliser corrects."""
    document = clean()
    document["receiver"]["stabiliser"]["mixing"] = "motors"
    del document["receiver"]["stabiliser"]["axes"][1:]
    assert direction_of(document, "pitch", 3).phys == 1  # edge up, nose up


def test_what_there_is_to_judge() -> None:
    """First what the stabiliser corrects, axis by axis, then what else moves the model."""
    document = clean()
    del document["receiver"]["stabiliser"]["axes"][1]
    document["servos"].append({"port": 4, "surface": "rudder"})
    document["servos"] = [it for it in document["servos"] if it["port"] != 5]
    found = [
        (it.axis, it.port_number, None if it.servo is None else it.servo.place, it.at)
        for it in path_of(document).directions
    ]
    assert found == [
        ("roll", 2, 0, "/servos/0"),
        ("roll", 5, None, "/receiver/stabiliser/axes/0/ports/1"),
        ("yaw", 4, 2, "/servos/2"),
        ("yaw", 4, 3, "/servos/3"),
        ("pitch", 3, 1, "/servos/1"),
    ]
    assert [it.axis_path is None for it in path_of(document).directions] == [False] * 4 + [True]


def test_a_servo_that_moves_a_pair_has_a_direction_for_each_of_its_axes() -> None:
    document = clean("plain")
    document["surfaces"][2] |= {"function": "v-tail", "side": "left"}
    found = [it.axis for it in path_of(document).directions if it.port_number == 3]
    assert found == ["pitch", "yaw"]


def test_without_surfaces_the_channel_s_function_says_which_axes_a_servo_acts_on() -> None:
    document = clean("plain")
    for servo in document["servos"]:
        del servo["surface"]
    assert [(it.axis, it.port_number) for it in path_of(document).directions] == [
        ("roll", 2),
        ("roll", 5),
        ("pitch", 3),
        ("yaw", 4),
    ]
    document["channels"][2]["function"] = "flap"
    document["servos"][3]["surface"] = "lost"
    assert [it.port_number for it in path_of(document).directions] == [2, 5]


@pytest.mark.parametrize("channel", [False, True])
@pytest.mark.parametrize("output", [False, True])
@pytest.mark.parametrize("sense", ["normal", "reversed"])
@pytest.mark.parametrize("expects", [-1, 1, None])
def test_each_sign_is_a_product(
    channel: bool, output: bool, sense: str, expects: int | None
) -> None:
    """Of the elevator, which goes up as its pulse grows, and so the nose."""
    document = clean()
    document["channels"][2]["reversed"] = channel
    document["receiver"]["outputs"][2]["reversed"] = output
    document["receiver"]["stabiliser"]["axes"][1]["sense"] = sense
    if expects is not None:
        document["receiver"]["stabiliser"]["expects"] = {"pitch": {"direction": expects}}
    found = direction_of(document, "pitch", 3)
    at_transmitter, at_output = (-1 if it else 1 for it in (channel, output))
    assert set(found.direct) == {at_transmitter * at_output}
    assert found.target is not None
    assert set(found.target) == {at_transmitter * (expects or 1)}
    assert found.correction == at_output * (-1 if sense == "reversed" else 1)


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize(
    ("mixing", "channel"), [("elevon", False), ("elevon", True), ("none", True)]
)
def test_a_port_s_sign_counts_for_the_command_where_the_receiver_mixes(
    mixing: str, channel: bool, sign: int
) -> None:
    """Else its own channel brings the command, whichever way the stabiliser corrects the port."""
    document = clean()
    document["channels"][2]["reversed"] = channel
    document["receiver"]["stabiliser"]["mixing"] = mixing
    document["receiver"]["stabiliser"]["axes"][1]["ports"] = [{"port": 3, "sign": sign}]
    found = direction_of(document, "pitch", 3)
    at_transmitter = -1 if channel else 1
    assert set(found.direct) == {at_transmitter * (sign if mixing == "elevon" else 1)}
    assert found.correction == sign


def test_a_servo_that_the_stabiliser_does_not_correct_has_a_command_alone() -> None:
    document = clean("plain")
    found = direction_of(document, "yaw", 4)
    # The rudder goes left as its pulse grows, and its channel is reversed.
    assert (found.phys, set(found.direct)) == (-1, {1})
    assert found.target is None
    assert found.correction is None
    assert (found.direct_counts, found.target_counts) == ({}, {})
    assert found.selectable_direct == (("", "", {}),)
    assert found.selectable_target == ()


BEHAVIOURS = {
    "off": "direct",
    "rate-damping": "direct",
    "attitude-limit": "target",
    "self-level": "target",
    "heading-hold": "target",
    "recovery": None,
    "other": None,
}


@pytest.mark.parametrize(("behaviour", "counts"), BEHAVIOURS.items())
def test_in_which_states_which_command_counts(behaviour: str, counts: str | None) -> None:
    """The mode switch's first position selects `level`, its last `damped`."""
    document = clean()
    (modes, _) = document["receiver"]["stabiliser"]["selectors"]
    for state, does in zip(modes["states"], ("other", "other", behaviour), strict=True):
        state["behaviour"] = does
    path = path_of(document)
    found = direction_of(document, "pitch", 3)
    damped = [("flight mode", "damped", {"mode-switch": "forward"})]
    assert found.direct_counts == {"flight mode": ["damped"] if counts == "direct" else []}
    assert found.target_counts == {"flight mode": ["damped"] if counts == "target" else []}
    assert list(found.selectable_direct) == (damped if counts == "direct" else [])
    assert list(found.selectable_target) == (damped if counts == "target" else [])
    axis = path.axes[1]
    assert axis.direct_reachable == (damped[0] if counts == "direct" else None)
    assert axis.target_reachable == (damped[0] if counts == "target" else None)


def test_a_state_that_nothing_selects_does_not_count_as_selectable() -> None:
    document = clean()
    (modes, _) = document["receiver"]["stabiliser"]["selectors"]
    modes["states"][2]["band"] = {"us": [1950, 2100]}
    found = direction_of(document, "pitch", 3)
    assert found.direct_counts == {"flight mode": ["damped"]}
    assert found.selectable_direct == ()
    assert [state for _, state, _ in found.selectable_target] == ["level", "limited"]


def test_selectors_of_another_purpose_choose_neither() -> None:
    document = clean()
    document["receiver"]["stabiliser"]["selectors"][0]["purpose"] = "gain"
    found = direction_of(document, "pitch", 3)
    assert found.direct_counts == {}
    assert found.selectable_direct == (("", "", {}),)  # always
    assert found.selectable_target == ()


@pytest.mark.parametrize(
    ("control", "mixed", "stick"),
    [
        ("pitch-stick", None, "pitch-stick"),
        ("yaw-stick", "pitch-stick", "pitch-stick"),  # the axis's own, though by a mix
        ("yaw-stick", None, "yaw-stick"),
        ("yaw-stick", "roll-stick", "yaw-stick"),
    ],
)
def test_the_stick_that_brings_an_axis_s_command(
    control: str, mixed: str | None, stick: str
) -> None:
    document = clean()
    document["channels"][2]["control"] = control
    if mixed is not None:
        document["mixes"] = [
            {
                "name": "m",
                "from": {"control": mixed},
                "to": 3,
                "rate_percent": {"low": -50, "high": -50},
            }
        ]
    path = path_of(document)
    assert path.axes[1].stick == stick
    falls = mixed == "pitch-stick"
    assert set(path.axes[1].direction) == {-1 if falls else 1}
    assert set(direction_of(document, "pitch", 3).command) == {-1 if falls else 1}


@pytest.mark.parametrize(
    ("said", "direction", "pulses"),
    [
        (None, 1, (None, None, None)),
        ({"direction": -1}, -1, (None, None, None)),
        ({"low_us": 1110, "centre_us": 1510, "high_us": 1910}, 1, (1110, 1510, 1910)),
    ],
)
def test_what_the_stabiliser_expects(
    said: dict[str, float] | None, direction: int, pulses: tuple[float | None, ...]
) -> None:
    document = clean()
    document["receiver"]["stabiliser"]["expects"] = {} if said is None else {"pitch": said}
    expected = path_of(document).axes[1].expected
    assert expected.direction == direction
    assert (expected.low_us, expected.centre_us, expected.high_us) == pulses
