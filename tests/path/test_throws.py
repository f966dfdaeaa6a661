"""What the check of the throws proves of the elevator, worked out by hand.

Without steps the elevator's channel gives 4 µs per percent about 1500 µs.  Its servo turns 0.1° per
µs, and its linkage is a parallelogram: the surface turns as the arm does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

import prebind
from prebind.path.proofs import CHECKS
from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

PORT, CHANNEL = 3, 3
LOW, REST, HIGH = (1100, -40), (1500, 0), (1900, 40)
"""Pulse and deflection with the stick at one end, at rest, at the other end."""

Throw = tuple[float, Any]


def document_of(controls: dict[str, Any] | None = None, **channel: Any) -> dict[str, Any]:
    document = clean("plain")
    document["transmitter"]["output"] = {}
    document["transmitter"]["controls"] |= controls or {}
    del document["channels"][2]["rates"]
    document["channels"][2] |= channel
    document["servos"][2] |= {"linkage": {"arm_mm": 10, "horn_mm": 10, "base_mm": 60}}
    return document


def mix(name: str, low: float, high: float, **more: Any) -> dict[str, Any]:
    rate = {"low": low, "high": high}
    return {"name": name, "from": {"control": name}, "to": CHANNEL, "rate_percent": rate, **more}


def path_of(document: dict[str, Any], bound: int = 100_000) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.Path(found.setup, bound)


def strokes(document: dict[str, Any], bound: int = 100_000) -> list[Any]:
    """What is told of each control whose throw the elevator has."""
    facts = CHECKS["throws"].facts(path_of(document, bound))
    return [stroke for port, stroke in facts["strokes"] if port == PORT]


def table(*heads: Any, **outcomes: Sequence[Throw] | None) -> dict[str, Any]:
    """`_01` stands for the first column's first place with the second's second."""
    rows: list[Any] = [
        [list(map(int, name[1:])), throws and [[us, [deg]] for us, deg in throws]]
        for name, throws in outcomes.items()
    ]
    return {"columns": list(heads), "rows": rows}


ALONE = table("pitch", _0=[LOW], _1=[REST], _2=[HIGH])


def test_the_stick_at_its_ends_and_at_rest() -> None:
    assert strokes(document_of()) == [ALONE]


def test_a_switch_that_halves_the_rate_is_told_with_the_stick() -> None:
    rates = [
        {"rate_percent": 50, "when": [{"control": "cut-switch", "positions": ["cut"]}]},
        {"rate_percent": 100},
    ]
    low = {"_00": [LOW], "_01": [(1300, -20)]}
    rest = {"_10": [REST], "_11": [REST]}
    high = {"_20": [HIGH], "_21": [(1700, 20)]}
    assert strokes(document_of(rates=rates)) == [table("pitch", 2, **low, **rest, **high)]


def test_what_an_override_decides_is_no_throw() -> None:
    document = document_of()
    document["overrides"][0]["channel"] = CHANNEL
    both = table("pitch", 2, _00=[LOW], _01=None, _10=[REST], _11=None, _20=[HIGH], _21=None)
    assert strokes(document) == [both]


@pytest.mark.parametrize("kind", ["knob", "slider"])
def test_a_knob_that_is_mixed_in_has_a_throw_of_its_own(kind: str) -> None:
    document = document_of({"trimmer": {"kind": kind}})
    document["mixes"] = [mix("trimmer", 10, 20)]
    its_own = table(kind, _0=[(1460, -4)], _1=[REST], _2=[(1580, 8)])
    found = strokes(document)
    assert len(found) == 2
    assert its_own in found
    assert ALONE in found


def test_another_axis_s_stick_that_is_mixed_in_has_no_throw_there() -> None:
    document = document_of()
    document["mixes"] = [mix("yaw-stick", 30, 30)]
    assert strokes(document) == [ALONE]


def test_the_throttle_rests_low() -> None:
    """Its mix of 10 % below the middle adds −10 % there, −40 µs: −4°."""
    document = document_of()
    document["mixes"] = [mix("throttle-stick", 10, 50)]
    assert strokes(document) == [table("pitch", _0=[(1060, -44)], _1=[(1460, -4)], _2=[(1860, 36)])]


def test_without_a_stick_of_its_axis_all_that_moves_it_has_a_throw() -> None:
    """The switch adds 10 % either way, 40 µs or 4°, and so stands in the stick's table too."""
    document = document_of(control="yaw-stick")
    document["mixes"] = [mix("cut-switch", 10, 10)]
    low = {"_00": [(1060, -44)], "_01": [(1140, -36)]}
    rest = {"_10": [(1460, -4)], "_11": [(1540, 4)]}
    high = {"_20": [(1860, 36)], "_21": [(1940, 44)]}
    by_switch = table("switch", _0=[(1460, -4)], _1=[(1540, 4)])
    assert strokes(document) == [by_switch, table("yaw", 2, **low, **rest, **high)]


def test_a_control_that_makes_no_difference_has_no_throw() -> None:
    document = document_of(curves=[{"points": [[-100, 0], [100, 0]]}])
    assert strokes(document) == []
    del document["channels"][2]["control"], document["channels"][2]["curves"]
    assert strokes(document) == []


def with_switches(count: int) -> dict[str, Any]:
    """Each of these switches adds 1 % on its one side, nothing on the other."""
    names = [f"s{i}" for i in range(count)]
    document = document_of({name: {"kind": "switch", "positions": ["a", "b"]} for name in names})
    document["mixes"] = [mix(name, 0, 1) for name in names]
    return document


def test_of_many_combinations_the_lowest_and_the_highest_pulse_are_told() -> None:
    """Eight switches and the stick's three places are 768, more than 500; they add 0 to 8 %."""
    ends = {"_0": [LOW, (1132, -36.8)], "_1": [REST, (1532, 3.2)], "_2": [HIGH, (1932, 43.2)]}
    assert strokes(with_switches(8)) == [table("pitch", **ends)]
    (told,) = strokes(with_switches(7))
    assert len(told["columns"]) == 8
    assert len(told["rows"]) == 3 * 2**7


def test_of_many_combinations_what_an_override_decides_is_no_throw_either() -> None:
    document = with_switches(8)
    document["overrides"][0] |= {"channel": CHANNEL, "demand_percent": 150}
    assert strokes(document) == strokes(with_switches(8))
    document["overrides"][0]["when"] = [{"control": "pitch-stick", "below_percent": 150}]
    assert strokes(document) == []


def test_what_is_beyond_the_bound_is_told_as_not_checked() -> None:
    """Each mix stands behind the next one's switch: seven switches make 3⁷ = 2187 cells."""
    names = [f"s{i}" for i in range(7)]
    document = document_of(
        {name: {"kind": "switch", "positions": ["a", "b", "c"]} for name in names}
    )
    document["mixes"] = [
        mix(name, 1, 1, when=[{"control": names[i - 1], "positions": ["b"]}])
        for i, name in enumerate(names)
    ]
    for knob in ("first", "second"):  # all their strokes meet the same mixes
        document["transmitter"]["controls"][knob] = {"kind": "knob"}
        document["mixes"].append(mix(knob, 1, 1))
    beyond = {"not known": "NotChecked"}
    assert strokes(document, 2000) == [["knob", beyond], ["knob", beyond], ["pitch", beyond]]


def test_a_throw_that_the_linkage_does_not_make_is_told_as_not_known() -> None:
    """At 0.3° per µs the servo turns 120° either way; the parallelogram lies flat at 90°."""
    document = document_of()
    document["servos"][2]["degrees_per_us"] = 0.3
    locked = {"not known": "linkage"}
    ends: dict[str, Any] = {"_0": [(1100, locked)], "_1": [REST], "_2": [(1900, locked)]}
    assert strokes(document) == [table("pitch", **ends)]
    del document["servos"][2]["linkage"]
    unknown = {"not known": "NotKnown"}
    ends = {f"_{i}": [(us, unknown)] for i, us in enumerate((1100, 1500, 1900))}
    assert strokes(document) == [table("pitch", **ends)]


def test_a_channel_of_which_nothing_is_known_is_told_so() -> None:
    document = document_of(control="lost")
    assert strokes(document) == [{"not known": "NotKnown"}]


def test_without_servos_the_channel_s_function_says_whose_throw_it_is() -> None:
    document = document_of()
    del document["servos"]
    document["mixes"] = [mix("yaw-stick", 30, 30)]
    rows = [[[i], [[us, []]]] for i, us in enumerate((1100, 1500, 1900))]
    assert strokes(document) == [{"columns": ["pitch"], "rows": rows}]


def test_five_hundred_combinations_are_told_one_by_one() -> None:
    switches = {f"s{i}": {"kind": "switch", "positions": list("abcde")} for i in range(3)}
    four = {"kind": "switch", "positions": list("abcd")}
    document = document_of({**switches, "four": four}, control="four")
    document["mixes"] = [mix(name, 1, 1) for name in switches]
    assert [len(it["rows"]) for it in strokes(document)] == [4 * 5**3] * 4


def no_servos(document: dict[str, Any]) -> None:
    del document["servos"]


def a_motor_on_the_elevator_s_port(document: dict[str, Any]) -> None:
    del document["servos"]
    document["speed_controls"][0]["port"] = 3


def nothing_recorded_of_the_elevator_s_surface(document: dict[str, Any]) -> None:
    del document["servos"][2]["surface"]


def of_a_flap_s_servo(document: dict[str, Any]) -> None:
    del document["servos"][2]["surface"]
    document["channels"][2]["function"] = "flap"


def a_flap(document: dict[str, Any]) -> None:
    document["surfaces"][2] = {"id": "elevator", "function": "flap"}


def a_flap_that_is_to_go_somewhere(document: dict[str, Any]) -> None:
    a_flap(document)
    document["surfaces"][2]["throw_deg"] = {"up": 0, "down": 40}


def an_elevator_that_is_to_go_nowhere(document: dict[str, Any]) -> None:
    del document["surfaces"][2]["throw_deg"]


def a_surface_that_is_not_there(document: dict[str, Any]) -> None:
    document["servos"][2]["surface"] = "lost"


@pytest.mark.parametrize(
    ("change", "ports"),
    [
        (lambda _: None, {2, 3, 4, 5}),
        (no_servos, {2, 3, 4, 5}),
        (a_motor_on_the_elevator_s_port, {2, 4, 5}),
        (nothing_recorded_of_the_elevator_s_surface, {2, 3, 4, 5}),
        (of_a_flap_s_servo, {2, 4, 5}),
        (a_flap, {2, 4, 5}),
        (a_flap_that_is_to_go_somewhere, {2, 3, 4, 5}),
        (an_elevator_that_is_to_go_nowhere, {2, 3, 4, 5}),
        (a_surface_that_is_not_there, {2, 4, 5}),
    ],
)
def test_which_ports_have_a_throw(change: Callable[[dict[str, Any]], Any], ports: set[int]) -> None:
    """Those of surfaces without which the model cannot be flown, and of those with a throw."""
    document = document_of()
    change(document)
    facts = CHECKS["throws"].facts(path_of(document))
    assert {port for port, _ in facts["strokes"]} == ports
    recorded = "servos" in document
    assert {port for port, *_ in facts["servos"]} == (ports if recorded else set())


def test_without_a_surface_to_measure_there_is_nothing_to_prove() -> None:
    document = document_of()
    document["servos"] = [{"port": 1}]
    assert "throws" not in path_of(document).wanted
    del document["servos"]
    assert "throws" in path_of(document).wanted


def test_what_is_meant() -> None:
    document = document_of()
    del document["servos"][0]["surface"]
    del document["surfaces"][2]["throw_deg"], document["surfaces"][2]["tolerance_deg"]
    document["surfaces"][3] |= {"throw_deg": {"left": 20, "right": 25}, "tolerance_deg": 3}
    assert CHECKS["throws"].facts(path_of(document))["meant"] == [
        [2],
        [3, ["elevator", None], None, 2],
        [4, ["rudder", None], {"left": 20, "right": 25}, 3],
        [5, ["aileron", "left"], {"up": 22, "down": 22}, 2],
    ]
