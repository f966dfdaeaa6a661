"""What the check of the failsafe proves, worked out by hand.

Presets count as 4 µs per percent about 1500 µs; a surface turns with its servo, 0.1° per µs.
"""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.path.proofs import CHECKS
from prebind.testing import clean

PARALLEL = {"arm_mm": 10, "horn_mm": 10, "base_mm": 60}


def document_of(template: str = "plain", **actions: Any) -> dict[str, Any]:
    """`_1=-100` puts channel 1's preset there, `_1="hold"` holds it; others have no entry."""
    document = clean(template)
    document["transmitter"]["output"] = {}
    document["receiver"]["failsafe"]["intended_states"] = {}
    document["receiver"]["failsafe"]["channels"] = [
        {"channel": int(name[1:])}
        | ({"action": it} if isinstance(it, str) else {"action": "preset", "output_percent": it})
        for name, it in actions.items()
    ]
    for servo in document["servos"]:
        servo["linkage"] = PARALLEL
    return document


def facts_of(document: dict[str, Any]) -> Any:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return CHECKS["failsafe"].facts(prebind.trace(found.setup))


def test_ports_surfaces_and_motor() -> None:
    found = facts_of(document_of(_1=-100, _2=10, _3="hold", _4="no-pulses"))
    assert found["delay"] == 1
    assert found["ports"] == [
        [1, ["preset", 1100.0]],
        [2, ["preset", 1540.0]],
        [3, ["hold", None]],
        [4, ["no-pulses", None]],
        [5, ["preset", 1540.0]],
    ]
    assert found["surfaces"] == [
        [2, ["aileron", "right"], 4.0],
        [3, ["elevator", None], None],
        [4, ["rudder", None], None],
        [5, ["aileron", "left"], 4.0],
    ]
    assert found["motors"] == [[1, "stopped"]]
    assert found["selectors"] == []


def test_a_channel_without_an_entry_is_not_known() -> None:
    found = facts_of(document_of(_1="hold"))
    assert found["ports"][0] == [1, ["hold", None]]
    assert found["ports"][1] == [2, [None, None]]
    assert found["motors"] == [[1, "full"]]


def test_without_a_failsafe_nothing_is_known_of_it() -> None:
    document = document_of()
    del document["receiver"]["failsafe"]
    found = facts_of(document)
    assert found["delay"] is None
    assert found["ports"] == [[port, {"not known": "NotKnown"}] for port in (1, 2, 3, 4, 5)]
    assert found["motors"] == [{"not known": "NotKnown"}]


def test_selectors() -> None:
    """The mode's bands meet at −34 and 34 %; recovery's at 0 %."""
    found = facts_of(document_of("trainer", _5=50, _6="hold"))
    assert found["selectors"] == [
        [5, "preset", 1700.0, ["damped"]],
        [6, "hold", None, ["off", "recover"]],
    ]
    found = facts_of(document_of("trainer", _5="no-pulses"))
    assert found["selectors"] == [[5, "no-pulses", None, None], [6, None, None, None]]


REVERSIBLE = {"port": 1, "stopped_us": [1480, 1520], "full_above_us": 1880}


@pytest.mark.parametrize(
    ("change", "throttle"),
    [
        ({}, [1, [1100.0, 1900.0], [[1100.0, 1100.0], [1900.0, 1900.0]]]),
        ({"reversed": True}, [1, [1100.0, 1900.0], [[1900.0, 1900.0], [1100.0, 1100.0]]]),
        ({"trim_percent": 5}, [1, [1100.0, 1920.0], [[1120.0, 1120.0], [1920.0, 1920.0]]]),
    ],
)
def test_what_the_throttle_can_be_and_is_at_its_ends(
    change: dict[str, Any], throttle: list[Any]
) -> None:
    """The cut reaches 1100 µs whatever the trim; reversed it is at 1900 µs."""
    document = document_of()
    document["channels"][0] |= change
    assert facts_of(document)["throttle"] == [throttle]


def test_the_low_end_of_a_reversible_motor_is_in_the_middle() -> None:
    document = document_of()
    document["speed_controls"] = [REVERSIBLE]
    ends = [[1500.0, 1500.0], [1900.0, 1900.0]]
    assert facts_of(document)["throttle"] == [[1, [1100.0, 1900.0], ends]]


def test_a_port_is_a_throttle_by_its_motor_or_by_its_channel() -> None:
    document = document_of()
    document["speed_controls"][0]["port"] = 3
    assert [port for port, *_ in facts_of(document)["throttle"]] == [1, 3]
    document["speed_controls"] = []
    document["channels"][0]["function"] = "other"
    assert facts_of(document)["throttle"] == []


def test_where_the_receiver_mixes_motors_the_throttle_s_own_channel_counts() -> None:
    document = document_of("trainer")
    document["receiver"]["stabiliser"] |= {"mixing": "motors", "mix_percent": 50}
    document["receiver"]["stabiliser"]["axes"][0]["ports"].append(1)
    ends = [[1100.0, 1100.0], [1900.0, 1900.0]]
    assert facts_of(document)["throttle"] == [[1, [1100.0, 1900.0], ends]]


def test_a_throttle_without_a_motor_on_its_port() -> None:
    document = document_of("trainer")
    document["speed_controls"] = []
    ends = [[1100.0, 1100.0], [1900.0, 1900.0]]
    assert facts_of(document)["throttle"] == [[1, [1100.0, 1900.0], ends]]
    # Half of the roll command goes there instead, whatever the throttle does.
    document["receiver"]["stabiliser"] |= {"mixing": "elevon", "mix_percent": 50}
    document["receiver"]["stabiliser"]["axes"][0]["ports"].append(1)
    anywhere = [1300.0, 1700.0]
    assert facts_of(document)["throttle"] == [[1, anywhere, [anywhere, anywhere]]]


def test_a_port_whose_channel_is_not_made_is_no_throttle() -> None:
    document = document_of()
    document["receiver"]["outputs"][2]["channel"] = 9
    assert [port for port, *_ in facts_of(document)["throttle"]] == [1]
