"""What the path says where the document does not settle a fact: why, and the key that would.

Keys are JSON Pointers (RFC 6901): `~` is written `~0` in them, `/` is written `~1`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.rule import NotKnown
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable

RATES = "/channels/2/rates"
STABILISER = "/receiver/stabiliser"


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


def asked(*conditions: dict[str, Any]) -> list[dict[str, Any]]:
    """Rates of the elevator of which the first asks for something."""
    return [{"rate_percent": 50, "when": list(conditions)}, {"rate_percent": 100}]


@pytest.mark.parametrize(
    ("conditions", "says", "settles"),
    [
        (
            [{"control": "gain/knob~2", "above_percent": 0}],
            "a condition names the control “gain/knob~2”, which does not exist",
            "/transmitter/controls/gain~1knob~02",
        ),
        (
            [{"control": "cut-switch", "positions": ["run", "stop", "hold"]}],
            "a condition names the position “hold” of “cut-switch”, which does not exist",
            "/transmitter/controls/cut-switch/positions",
        ),
        (
            [{"control": "a/b~c", "positions": ["up"]}],
            "a condition names the position “up” of “a/b~c”, which does not exist",
            "/transmitter/controls/a~1b~0c/positions",
        ),
        (
            [{"phase": ["cruise", "thermal", "landing"]}],
            "a condition names the phase “thermal”, which does not exist",
            "/phases",
        ),
        (
            [{"phase": ["beyond"]}],
            "a condition names the control “nowhere”, which does not exist",
            "/transmitter/controls/nowhere",
        ),
    ],
)
def test_a_condition_that_names_what_is_not_there(
    conditions: list[dict[str, Any]], says: str, settles: str
) -> None:
    document = clean("plain")
    document["transmitter"]["controls"]["a/b~c"] = {"kind": "button"}
    document["phases"] = [
        {"name": "cruise", "when": [{"control": "cut-switch", "positions": ["run"]}]},
        {"name": "beyond", "when": [{"control": "nowhere", "below_percent": 0}]},
    ]
    document["channels"][2]["rates"] = asked(*conditions)
    path = path_of(document)
    for ask in (lambda: path.channel(3).reach, lambda: path.port(3).reach):
        with pytest.raises(NotKnown) as raised:
            ask()
        assert raised.value.message == says
        assert raised.value.settles == (settles,)
    assert path.channel(2).reach.high.us == 1900  # the others are known


def test_a_phase_that_follows_one_that_names_nothing_is_not_known_the_earlier_is() -> None:
    document = clean("plain")
    document["phases"] = [
        {"name": "cruise", "when": [{"control": "cut-switch", "positions": ["run"]}]},
        {"name": "beyond", "when": [{"control": "nowhere", "below_percent": 0}]},
        {"name": "landing", "when": [{"control": "cut-switch", "positions": ["cut"]}]},
    ]
    document["channels"][2]["rates"] = asked({"phase": ["cruise"]})
    assert path_of(document).channel(3).reach.high.us == 1900
    document["channels"][2]["rates"] = asked({"phase": ["landing"]})
    with pytest.raises(NotKnown, match="“nowhere”"):
        _ = path_of(document).channel(3).reach


Change = dict[str, Any]


def laid(document: dict[str, Any], changes: Change) -> dict[str, Any]:
    """The document with values put at pointers; None takes out."""
    for pointer, value in changes.items():
        *above, last = pointer.split("/")[1:]
        box: Any = document
        for key in above:
            box = box[int(key)] if isinstance(box, list) else box[key]
        if isinstance(box, list):
            box[int(last) :] = [] if value is None else [value]
        elif value is None:
            del box[last]
        else:
            box[last] = value
    return document


RAW: dict[str, Any] = {"name": "m", "to": 3, "rate_percent": {"low": 10, "high": 10}}


@pytest.mark.parametrize(
    ("template", "changes", "ask", "says", "settles"),
    [
        pytest.param(
            "plain",
            {"/channels/2/control": "pitch"},
            lambda path: path.channel(3).control,
            "channel 3 is driven by “pitch”, which does not exist",
            "/channels/2/control",
            id="a channel's control",
        ),
        pytest.param(
            "plain",
            {
                "/inputs": [{"id": "pitch", "control": "lost", "rates": [{"rate_percent": 1}]}],
                "/channels/2/control": "pitch",
                "/channels/2/rates": None,
            },
            lambda path: path.channel(3).control,
            "channel 3 is driven by “lost”, which does not exist",
            "/inputs/0/control",
            id="an input's control",
        ),
        pytest.param(
            "plain",
            {"/mixes": [RAW | {"from": {"control": "lost"}}]},
            lambda path: path.channel(3).reach,
            "the mix “m” comes from the control “lost”, which does not exist",
            "/mixes/0/from/control",
            id="a mix's control",
        ),
        pytest.param(
            "plain",
            {"/mixes": [RAW | {"from": {"input": "lost"}}]},
            lambda path: path.channel(3).reach,
            "the mix “m” comes from the input “lost”, which does not exist",
            "/mixes/0/from/input",
            id="a mix's input",
        ),
        pytest.param(
            "plain",
            {
                "/inputs": [{"id": "pitch", "control": "lost", "rates": [{"rate_percent": 1}]}],
                "/mixes": [RAW | {"from": {"input": "pitch"}}],
            },
            lambda path: path.channel(3).reach,
            "the input “pitch” is on the control “lost”, which does not exist",
            "/inputs/0/control",
            id="the control of a mix's input",
        ),
        pytest.param(
            "plain",
            {"/channels/3/channel": 3},
            lambda path: path.channel(3),
            "channel 3 is made by more than one entry of `channels`",
            "/channels",
            id="a channel made twice, by its number",
        ),
        pytest.param(
            "plain",
            {"/channels/3/channel": 3},
            lambda path: path.channels[2].reach,
            "channel 3 is made by more than one entry of `channels`",
            "/channels",
            id="a channel made twice",
        ),
        pytest.param(
            "plain",
            {"/receiver/outputs/3/port": 3},
            lambda path: path.ports[2].reach,
            "port 3 is listed more than once",
            "/receiver/outputs",
            id="a port listed twice",
        ),
        pytest.param(
            "plain",
            {"/receiver/outputs/3/port": 3},
            lambda path: path.port(3),
            "port 3 is listed more than once",
            "/receiver/outputs",
            id="a port listed twice, by its number",
        ),
        pytest.param(
            "plain",
            {"/receiver/outputs/2/channel": 9},
            lambda path: path.port(3).reach,
            "no entry of `channels` makes channel 9",
            "/receiver/outputs/2/channel",
            id="a port's channel",
        ),
        pytest.param(
            "plain",
            {},
            lambda path: path.channel(9),
            "no entry of `channels` makes channel 9",
            "/channels",
            id="a channel that somebody asks for",
        ),
        pytest.param(
            "plain",
            {},
            lambda path: path.port(9),
            "the receiver has no output on port 9",
            "/receiver/outputs",
            id="a port that somebody asks for",
        ),
        pytest.param(
            "plain",
            {},
            lambda path: path.control("lost"),
            "there is no control “lost”",
            "/transmitter/controls",
            id="a control that somebody asks for",
        ),
        pytest.param(
            "plain",
            {"/servos/2/port": 9},
            lambda path: path.servos[2].port,
            "the receiver has no output on port 9",
            "/servos/2/port",
            id="a servo's port",
        ),
        pytest.param(
            "plain",
            {"/servos/2/surface": "lost"},
            lambda path: path.servos[2].surface,
            "the surface “lost” is not in `surfaces`",
            "/servos/2/surface",
            id="a servo's surface",
        ),
        pytest.param(
            "plain",
            {"/servos/2/linkage": None},
            lambda path: path.servos[2].deflection(1500),
            "how far the surface moves is not known",
            "/servos/2/linkage",
            id="a servo's linkage",
        ),
        pytest.param(
            "plain",
            {"/servos/2/degrees_per_us": None},
            lambda path: path.servos[2].deflection(1500),
            "how far the surface moves is not known",
            "/servos/2/degrees_per_us",
            id="how far a servo turns",
        ),
        pytest.param(
            "plain",
            {"/speed_controls/0/port": 9},
            lambda path: path.motors[0].port,
            "the receiver has no output on port 9",
            "/speed_controls/0/port",
            id="a motor's port",
        ),
        pytest.param(
            "plain",
            {"/receiver/failsafe": None},
            lambda path: path.port(3).failsafe,
            "the failsafe is not recorded",
            "/receiver/failsafe",
            id="the failsafe",
        ),
        pytest.param(
            "plain",
            {"/receiver": None},
            lambda path: path.port(3),
            "the receiver is not recorded",
            "/receiver",
            id="the receiver",
        ),
        pytest.param(
            "plain",
            {"/receiver": None},
            lambda path: path.failsafe_entry(3),
            "the failsafe is not recorded",
            "/receiver",
            id="the failsafe, for want of a receiver",
        ),
        pytest.param(
            "plain",
            {
                "/channels/0/control": None,
                "/transmitter/controls/throttle-stick": {"kind": "slider"},
            },
            lambda path: path.throttle_control,
            "no control drives the throttle, and no thrust stick is recorded",
            "/transmitter/controls",
            id="the throttle's control",
        ),
        pytest.param(
            "plain",
            {
                "/channels/3/control": None,
                "/transmitter/controls/yaw-stick": {"kind": "slider"},
            },
            lambda path: path.stick("yaw"),
            "no stick is recorded for yaw",
            "/transmitter/controls",
            id="an axis's stick",
        ),
        pytest.param(
            "plain",
            {"/channels/2/control": "cut-switch"},
            lambda path: path.directions[2].command,
            "no stick is recorded that commands pitch on channel 3",
            "/channels/2/control",
            id="the stick of a command",
        ),
        pytest.param(
            "plain",
            {"/servos/2/surface": None},
            lambda path: path.directions[2].phys,
            "the servo's surface is not recorded",
            "/servos/2/surface",
            id="the surface of a direction",
        ),
        pytest.param(
            "plain",
            {"/servos/2/increasing_pulse": None},
            lambda path: path.directions[2].direct,
            "which way “elevator” moves as the pulse grows is not recorded",
            "/servos/2/increasing_pulse",
            id="which way a servo turns",
        ),
        pytest.param(
            "plain",
            {"/servos/2/increasing_pulse": "trailing-edge-left"},
            lambda path: path.directions[2].direct,
            "“trailing-edge-left” does not say which way elevator “elevator” moves",
            "/servos/2/increasing_pulse",
            id="a way that an elevator does not go",
        ),
        pytest.param(
            "plain",
            {"/surfaces/0/side": None},
            lambda path: path.directions[0].direct,
            "the side of “aileron-right” is not recorded (`left` or `right`)",
            "/surfaces/0/side",
            id="a surface's side",
        ),
        pytest.param(
            "trainer",
            {f"{STABILISER}/axes/1/channel": 9},
            lambda path: path.axes[1].channel,
            "no entry of `channels` makes channel 9",
            f"{STABILISER}/axes/1/channel",
            id="an axis's channel",
        ),
        pytest.param(
            "trainer",
            {"/channels/2/control": "mode-switch"},
            lambda path: path.axes[1].stick,
            "no stick is recorded for pitch on channel 3",
            "/channels/2/control",
            id="an axis's stick",
        ),
        pytest.param(
            "trainer",
            {f"{STABILISER}/selectors/0/channel": 9},
            lambda path: path.selectors[0].channel,
            "no entry of `channels` makes channel 9",
            f"{STABILISER}/selectors/0/channel",
            id="a selector's channel",
        ),
        pytest.param(
            "trainer",
            {"/servos": None},
            lambda path: path.directions[0].phys,
            "no servo is recorded on port 2",
            "/servos",
            id="an axis's servo",
        ),
        pytest.param(
            "trainer",
            {f"{STABILISER}/axes/1/ports/0": 4},
            lambda path: path.directions[2].phys,
            "rudder “rudder” is not known to act on pitch",
            "/surfaces/3/function",
            id="a surface that does not act on the axis",
        ),
    ],
)
def test_what_is_not_known_and_the_key_that_settles_it(
    template: str, changes: Change, ask: Callable[[prebind.Path], Any], says: str, settles: str
) -> None:
    path = path_of(laid(clean(template), changes))
    with pytest.raises(NotKnown) as raised:
        ask(path)
    assert raised.value.message == says
    assert raised.value.settles == (settles,)


@pytest.mark.parametrize(
    ("controls", "says"),
    [
        ({"lost": 0.0}, "there is no control “lost”"),
        ({"cut-switch": "off"}, "the control “cut-switch” has no position “off”"),
        ({"yaw-stick": "up"}, "the control “yaw-stick” has no position “up”"),
        ({"yaw-stick": 0.0, "lost": "up"}, "there is no control “lost”"),
    ],
)
def test_a_situation_that_cannot_be(controls: dict[str, str | float], says: str) -> None:
    with pytest.raises(NotKnown) as raised:
        path_of(clean("plain")).situation(controls)
    assert raised.value.message == says


def test_what_cannot_be_computed_is_left_out_of_a_situation() -> None:
    document = clean("plain")
    document["channels"][1]["control"] = "lost"
    document["receiver"]["outputs"][2]["channel"] = 9
    found = path_of(document).situation({})
    assert set(found.channels) == {1, 3, 4}
    assert set(found.ports) == {1, 4}  # ports 2 and 5 take channel 2
