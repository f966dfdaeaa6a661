"""The bound on how far two channels come apart, worked by hand and against situations by chance."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest

import prebind
from prebind.testing import clean

STILL = ("roll-stick", "yaw-stick")
KNOB = {"kind": "knob"}


def mixed(*mixes: tuple[dict[str, str], int, float, list[dict[str, Any]]]) -> prebind.Path:
    """The glider with a knob, and these mixes alone: from, to, rate in percent, when."""
    document = clean("glider")
    document["transmitter"]["controls"]["knob"] = KNOB
    document["mixes"] = [
        {
            "name": f"mix {i}",
            "from": source,
            "to": to,
            "rate_percent": {"low": rate, "high": rate},
            "when": when,
        }
        for i, (source, to, rate, when) in enumerate(mixes)
    ]
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None
    return prebind.trace(report.setup)


def flaps(position: str) -> list[dict[str, Any]]:
    return [{"control": "flap-switch", "positions": [position]}]


def test_what_both_have_alike_cancels() -> None:
    path = mixed(({"control": "knob"}, 2, 10, []), ({"control": "knob"}, 3, -10, []))
    right, left = path.channel(2), path.channel(3)
    # 10 % of ±100 % on either side.
    assert right.apart(left, (1, -1), STILL)["knob"] == pytest.approx((20, 20, 0))
    assert right.apart(left, (1, 1), STILL)["knob"] == pytest.approx((20, 20, 40))
    assert right.apart(left, (4, 2), STILL)["knob"] == pytest.approx((20, 20, 120))


def test_what_a_control_does_by_itself_and_as_a_condition_adds_up() -> None:
    path = mixed(
        ({"control": "flap-switch"}, 2, 5, []),
        ({"control": "throttle-stick"}, 2, 3, flaps("full")),
    )
    found = path.channel(2).apart(path.channel(3), (1, 1), STILL)
    # 5 % of ±100 %, and 3 % of the throttle's ±100 %, which come and go with the flaps.
    assert found["flap-switch"] == pytest.approx((16, 0, 16))
    assert found["throttle-stick"] == pytest.approx((6, 0, 6))
    assert "pitch-stick" not in found


def test_what_lies_between_the_ends_counts() -> None:
    """A curve that is 0 at both ends and 8 % in the middle."""
    document = clean("glider")
    document["transmitter"]["controls"]["knob"] = KNOB
    curve = {"points": [[-100, 0], [0, 8], [100, 0]]}
    document["inputs"].append({"id": "bump", "control": "knob", "curves": [curve]})
    rate = {"low": 100, "high": 100}
    document["mixes"] = [{"name": "b", "from": {"input": "bump"}, "to": 2, "rate_percent": rate}]
    report = prebind.Inspector().inspect(document)
    assert report.setup is not None, report.problems
    path = prebind.trace(report.setup)
    assert path.channel(2).apart(path.channel(3), (1, 1), STILL)["knob"].first == pytest.approx(8)


@pytest.mark.parametrize("seed", range(12))
def test_no_situation_is_beyond_it(seed: int) -> None:
    chance = Random(seed)
    positions = clean("glider")["transmitter"]["controls"]
    sources = ["knob", "flap-switch", "phase-switch", "pitch-stick", "throttle-stick", "roll-stick"]

    def when() -> list[dict[str, Any]]:
        switch = chance.choice(["flap-switch", "phase-switch"])
        held = {"control": switch, "positions": [chance.choice(positions[switch]["positions"])]}
        above = {"control": "knob", "above_percent": chance.choice([-40, 0, 30])}
        return chance.choice([[], [held], [above], [held, above]])

    path = mixed(
        *(
            ({"control": chance.choice(sources)}, to, chance.choice([-20, 5, 12]), when())
            for _ in range(3)
            for to in (2, 3)
        )
    )
    right, left, weights = path.channel(2), path.channel(3), (3.0, -2.5)
    bounds = right.apart(left, weights, STILL)

    def anywhere(name: str) -> Any:
        control = path.control(name)
        return chance.choice(control.positions) if control.positions else chance.uniform(-100, 100)

    for _ in range(300):
        where = {
            name: control.rest if name in STILL else anywhere(name)
            for name, control in path.controls.items()
        }
        moved = chance.choice([name for name in where if name not in STILL])
        demands = []
        for at in (where[moved], anywhere(moved)):
            there = {**where, moved: at}
            demands.append((right.stages(there).demand, left.stages(there).demand))
        (a, b), (c, d) = demands
        changes = c - a, d - b, weights[0] * (c - a) - weights[1] * (d - b)
        bound = bounds.get(moved, (0, 0, 0))
        assert all(abs(it) <= most + 1e-9 for it, most in zip(changes, bound, strict=True)), moved


def test_a_stick_that_is_held_still_moves_nothing() -> None:
    """The flaps bring a mix from the roll stick, which adds nothing while that is centred."""
    path = mixed(({"control": "roll-stick"}, 2, 40, flaps("full")))
    right, left = path.channel(2), path.channel(3)
    assert right.apart(left, (1, 1), STILL)["flap-switch"] == pytest.approx((0, 0, 0))
    assert right.apart(left, (1, 1), ())["flap-switch"].first > 0
