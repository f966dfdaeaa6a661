"""Names that nothing answers to: every place of a setup in which something is named."""

from __future__ import annotations

from typing import Any

import pytest

import prebind
from prebind.testing import clean, patched

CONTROLS = (
    "throttle-stick",
    "roll-stick",
    "pitch-stick",
    "yaw-stick",
    "mode-switch",
    "recovery-button",
    "cut-switch",
    "rate-switch",
)
CHANNELS = ("1", "2", "3", "4", "5", "6")
PORTS = ("1", "2", "3", "4", "5")
SURFACES = ("aileron-right", "aileron-left", "elevator", "rudder")
ASKED = {"control": "lost", "above_percent": 0}
SHAPED = {"id": "shaped", "control": "yaw-stick", "rates": [{"rate_percent": 50}]}
RATE = {"low": 10, "high": 10}
MIXED = {"name": "m", "from": {"control": "yaw-stick"}, "to": 4, "rate_percent": RATE}
SELECTOR = "/receiver/stabiliser/selectors"
INTENDED = "/receiver/failsafe/intended_states"


def names_in(document: dict[str, Any]) -> list[tuple[str, str, str, tuple[str, ...]]]:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return [(it.at, it.kind, it.name, it.known) for it in prebind.trace(found.setup).names]


@pytest.mark.parametrize(
    ("put", "value", "below", "kind", "known"),
    [
        ("/channels/3/control", "lost", "", "control", (*CONTROLS, "shaped")),
        (
            "/channels/3/rates",
            [{"rate_percent": 50, "when": [ASKED]}],
            "/0/when/0/control",
            "control",
            CONTROLS,
        ),
        (
            "/channels/3/curves",
            [{"points": [[-100, 0], [100, 0]], "when": [ASKED]}],
            "/0/when/0/control",
            "control",
            CONTROLS,
        ),
        (
            "/channels/3/trim_percent",
            [{"percent": 1}, {"percent": 2, "when": [ASKED]}],
            "/1/when/0/control",
            "control",
            CONTROLS,
        ),
        ("/inputs/0/control", "lost", "", "control", CONTROLS),
        ("/inputs/0/rates/0/when", [ASKED], "/0/control", "control", CONTROLS),
        ("/phases", [{"name": "p", "when": [ASKED]}], "/0/when/0/control", "control", CONTROLS),
        ("/mixes", [MIXED | {"from": {"control": "lost"}}], "/0/from/control", "control", CONTROLS),
        ("/mixes", [MIXED | {"from": {"input": "lost"}}], "/0/from/input", "input", ("shaped",)),
        ("/mixes", [MIXED | {"from": {"channel": 9}}], "/0/from/channel", "channel", CHANNELS),
        ("/mixes", [MIXED | {"to": 9}], "/0/to", "channel", CHANNELS),
        ("/mixes", [MIXED | {"when": [ASKED]}], "/0/when/0/control", "control", CONTROLS),
        ("/overrides/0/channel", 9, "", "channel", CHANNELS),
        ("/overrides/0/when/0", ASKED, "/control", "control", CONTROLS),
        ("/overrides/0/when/0/positions", ["cut", "lost"], "/1", "position", ("run", "cut")),
        ("/overrides/0/when", [{"phase": ["lost"]}], "/0/phase/0", "phase", ()),
        ("/receiver/outputs/3/channel", 9, "", "channel", CHANNELS),
        ("/receiver/failsafe/channels/3/channel", 9, "", "channel", CHANNELS),
        ("/receiver/stabiliser/axes/1/channel", 9, "", "channel", CHANNELS),
        ("/receiver/stabiliser/axes/0/ports/1", 9, "", "port", PORTS),
        (f"{SELECTOR}/0/channel", 9, "", "channel", CHANNELS),
        (f"{INTENDED}/lost", "level", "", "selector", ("flight mode", "recovery")),
        (f"{INTENDED}/recovery", "lost", "", "state", ("off", "recover")),
        ("/servos/3/port", 9, "", "port", PORTS),
        ("/servos/3/surface", "lost", "", "surface", SURFACES),
        ("/speed_controls/0/port", 9, "", "port", PORTS),
        (
            "/engine",
            {"port": 9, "stop_below_us": 1050, "idle_us": [1080, 1160]},
            "/port",
            "port",
            PORTS,
        ),
    ],
)
def test_every_place_that_names_something(
    put: str, value: Any, below: str, kind: str, known: tuple[str, ...]
) -> None:
    document = clean() | {"inputs": [SHAPED]}
    assert names_in(document) == []
    op = "replace" if put[-1].isdigit() else "add"  # to add to a list puts others further back
    document = patched(document, [{"op": op, "path": put, "value": value}])
    name = "lost" if "lost" in repr((put, value)) else "9"
    assert names_in(document) == [(f"{put}{below}", kind, name, known)]


@pytest.mark.parametrize(
    ("name", "nearest"),
    [("yaw-stik", "yaw-stick"), ("mode switch", "mode-switch"), ("elevators-trim", None)],
)
def test_the_known_name_that_is_most_like_it(name: str, nearest: str | None) -> None:
    document = clean()
    document["channels"][3]["control"] = name
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    (reference,) = prebind.trace(found.setup).names
    assert reference.nearest == nearest


def test_a_position_of_a_control_that_is_not_there_is_not_told_besides() -> None:
    document = clean()
    document["overrides"][0]["when"] = [{"control": "lost", "positions": ["up"]}]
    assert [(at, name) for at, _, name, _ in names_in(document)] == [
        ("/overrides/0/when/0/control", "lost")
    ]


def test_a_condition_on_a_phase_hides_none_that_follows() -> None:
    document = clean() | {"phases": [{"name": "p", "when": []}]}
    document["overrides"][0]["when"] = [{"phase": ["p"]}, ASKED, {"phase": ["q"]}]
    assert [(at, name) for at, _, name, _ in names_in(document)] == [
        ("/overrides/0/when/1/control", "lost"),
        ("/overrides/0/when/2/phase/0", "q"),
    ]


def test_a_button_s_positions_need_not_be_written_down() -> None:
    document = clean()
    document["overrides"][0]["when"] = [{"control": "recovery-button", "positions": ["pressed"]}]
    assert names_in(document) == []


def test_where_surfaces_are_not_recorded_no_servo_names_a_wrong_one() -> None:
    document = clean()
    del document["surfaces"]
    assert names_in(document) == []


def test_without_a_receiver_nothing_is_plugged_in_anywhere() -> None:
    document = clean()
    del document["receiver"]
    assert names_in(document) == []
