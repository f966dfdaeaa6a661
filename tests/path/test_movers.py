"""Which ports answer to which control, and which way; which way the stabiliser corrects them.

A sign is that of the pulse's change from the control's one end to its other: worked out by hand.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.path.proofs import CHECKS
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable

Document = dict[str, Any]
Moves = dict[str, dict[int, list[list[int]]]]
"""What a control is → port → the sets of signs with which a channel of it answers."""


def facts_of(document: Document, check: str = "control-direction") -> Any:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return CHECKS[check].facts(prebind.trace(found.setup))


def moves(document: Document) -> Moves:
    found = facts_of(document)
    assert found["not known"] == []
    return {job: dict(ports) for job, ports in found["moves"]}


PLAIN: Moves = {
    "thrust": {1: [[1]]},
    "roll": {2: [[1]], 5: [[1]]},
    "pitch": {3: [[1]]},
    "yaw": {4: [[-1]]},  # channel 4 is reversed
}


def feed(control: str, to: int, rate: float, *when: Document) -> Document:
    return {
        "name": f"{control} to {to}",
        "from": {"control": control},
        "to": to,
        "rate_percent": {"low": rate, "high": rate},
        "when": list(when),
    }


def reversed_port(document: Document) -> None:
    document["receiver"]["outputs"][2]["reversed"] = True


def both_reversed(document: Document) -> None:
    reversed_port(document)
    document["channels"][2]["reversed"] = True


def native(document: Document) -> None:
    document["transmitter"]["output"]["native"] = {"elevator": -1}


def lopsided(document: Document) -> None:
    """As far at either end: from end to end nothing changes."""
    document["channels"][2]["curves"] = [{"points": [[-100, 50], [0, 0], [100, 50]]}]


def mixed(document: Document) -> None:
    document["mixes"] = [feed("yaw-stick", 3, -20)]


def switched(document: Document) -> None:
    on = {"control": "cut-switch", "positions": ["cut"]}
    document["mixes"] = [feed("pitch-stick", 3, -150, on)]


def switched_in(document: Document) -> None:
    on = {"control": "cut-switch", "positions": ["cut"]}
    document["mixes"] = [feed("yaw-stick", 3, 20, on)]


def by_a_switch(document: Document) -> None:
    document["mixes"] = [feed("cut-switch", 3, 20)]


def by_another_channel(document: Document) -> None:
    document["mixes"] = [feed("yaw-stick", 3, -20) | {"from": {"channel": 4}}]


def by_a_threshold(document: Document) -> None:
    """Below its middle the roll stick turns the elevator round."""
    below = {"control": "roll-stick", "below_percent": 0}
    document["mixes"] = [feed("pitch-stick", 3, -150, below)]


@pytest.mark.parametrize(
    ("change", "differs"),
    [
        (lambda _: None, {}),
        (reversed_port, {"pitch": {3: [[-1]]}}),
        (both_reversed, {}),
        (native, {"pitch": {3: [[-1]]}}),
        (lopsided, {"pitch": {}}),
        (mixed, {"yaw": {3: [[-1]], 4: [[-1]]}}),
        (switched, {"pitch": {3: [[-1, 1]]}}),
        (switched_in, {"yaw": {3: [[0, 1]], 4: [[-1]]}}),
        (by_a_switch, {"switch": {3: [[1]]}}),
        (by_another_channel, {"yaw": {3: [[-1]], 4: [[-1]]}}),
        (by_a_threshold, {"pitch": {3: [[-1, 1]]}}),
    ],
)
def test_the_ports_that_answer_to_each_control(
    change: Callable[[Document], None], differs: Moves
) -> None:
    document = clean("plain")
    change(document)
    expected = {job: ports for job, ports in (PLAIN | differs).items() if ports}
    assert moves(document) == expected


@pytest.mark.parametrize(("rate", "signs"), [(5e-8, None), (1e-7, [[1]])])
def test_less_than_half_a_millionth_of_a_microsecond_is_no_move(
    rate: float, signs: list[list[int]] | None
) -> None:
    """From end to end 200 % of the rate at 4 µs a percent: 0.4 and 0.8 millionths."""
    document = clean("plain")
    document["transmitter"]["output"] = {}
    document["channels"][2]["rates"] = [{"rate_percent": rate}]
    assert moves(document).get("pitch", {}).get(3) == signs


def test_where_the_receiver_mixes_each_channel_answers_with_its_sign() -> None:
    """The flying wing: its elevons take roll with opposite signs and pitch with the same."""
    document = clean("wing")
    found = moves(document)
    axes = {axis["axis"]: axis for axis in document["receiver"]["stabiliser"]["axes"]}
    reversed_ports = {
        output["port"] for output in document["receiver"]["outputs"] if output.get("reversed")
    }
    reversed_channels = {
        channel["channel"] for channel in document["channels"] if channel.get("reversed")
    }
    for name in ("roll", "pitch"):
        for port in axes[name]["ports"]:
            number, sign = (port, 1) if isinstance(port, int) else (port["port"], port["sign"])
            turned = (number in reversed_ports) != (axes[name]["channel"] in reversed_channels)
            assert found[name][number] == [[-sign if turned else sign]]


def test_a_port_of_which_nothing_is_known_is_told_and_hides_no_other() -> None:
    document = clean("plain")
    document["channels"][2]["control"] = "lost"
    found = facts_of(document)
    assert found["not known"] == [[3, "NotKnown"]]
    assert [job for job, _ in found["moves"]] == ["roll", "thrust", "yaw"]


@pytest.mark.parametrize("servos", [None, []])
def test_without_servos_there_is_as_much_to_prove_as_answers(servos: list[Any] | None) -> None:
    document = clean("plain")
    document["servos"] = servos
    if servos is None:
        del document["servos"]
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    assert "control-direction" in prebind.trace(found.setup).wanted
    for channel in document["channels"]:
        del channel["control"]
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    assert "control-direction" not in prebind.trace(found.setup).wanted


def test_a_share_of_nothing_moves_nothing() -> None:
    document = clean("wing")
    document["receiver"]["stabiliser"]["mix_percent"] = 0
    assert moves(document).keys() == {"thrust"}


@pytest.mark.parametrize("known", [True, False])
def test_which_way_each_port_is_corrected(known: bool) -> None:
    """At the port, and whether that is right: the rudder's output is reversed, it goes left.

    Where nobody knows which way a surface moves, the port's way is still proved.
    """
    document = clean()
    document["receiver"]["stabiliser"]["axes"][1]["sense"] = "reversed"
    document["receiver"]["stabiliser"]["axes"][0]["ports"][1] = {"port": 5, "sign": -1}
    if not known:
        for servo in document["servos"]:
            del servo["increasing_pulse"]
    right = [-1, 1, -1, 1] if known else [{"not known": "NotKnown"}] * 4
    assert facts_of(document, "correction-direction")["corrections"] == [
        ["pitch", 3, ["elevator", None], -1, right[0]],
        ["roll", 2, ["aileron", "right"], 1, right[1]],
        ["roll", 5, ["aileron", "left"], -1, right[2]],
        ["yaw", 4, ["rudder", None], -1, right[3]],
    ]


def test_a_corrected_port_without_a_servo() -> None:
    document = clean()
    document["servos"] = [servo for servo in document["servos"] if servo["port"] != 3]
    found = facts_of(document, "correction-direction")
    assert ["pitch", 3, None, 1, {"not known": "NotKnown"}] in found["corrections"]
    assert [port for port, *_ in found["servos"]] == [2, 4, 5]


def test_corrections_are_proved_of_what_the_stabiliser_corrects_alone() -> None:
    document = clean()
    del document["receiver"]["stabiliser"]["axes"][1]
    found = facts_of(document, "correction-direction")
    assert [axis for axis, *_ in found["corrections"]] == ["roll", "roll", "yaw"]
    assert [port for port, *_ in found["servos"]] == [2, 4, 5]
