"""What a response leaves out changes nothing, and what it calls sure is."""

from __future__ import annotations

from random import Random
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

import pytest

import prebind
from prebind.path import response
from prebind.testing import clean

if TYPE_CHECKING:
    from prebind.path.channel import ChannelPath


INSPECTOR = prebind.Inspector(prebind.Configuration(families=("rates",)))


def rated(chance: Random) -> prebind.Path:
    """The trainer with chance rates on three switches, mixes, trims, travel, steps and limits."""
    document = clean("trainer")
    output = {
        "steps": chance.choice([None, 41, 64, 512]),
        "limit_percent": chance.choice([100, 200, 200]),
    }
    document["transmitter"]["output"] |= {k: it for k, it in output.items() if it is not None}
    controls = document["transmitter"]["controls"]
    for name in ("a", "b", "c"):
        controls[name] = {"kind": "switch", "positions": ["one", "two", "three"]}

    def when() -> list[dict[str, Any]]:
        return [
            {"control": name, "positions": [chance.choice(["one", "two", "three"])]}
            for name in chance.sample(["a", "b", "c"], chance.choice([1, 2]))
        ]

    channel = document["channels"][1]
    channel["rates"] = [
        {
            "rate_percent": chance.choice([3, 40, 41, 60, 100, 100]),
            "expo_percent": chance.choice([0, 0, 30, -40]),
            "when": when(),
        }
        for _ in range(4)
    ]
    channel["trim_percent"] = [{"percent": chance.choice([0, 2.5]), "when": when()}]
    channel["subtrim_percent"] = chance.choice([0, 0, 7])
    channel["travel_percent"] = {"low": chance.choice([100, 60]), "high": chance.choice([100, 90])}
    document["mixes"] = [
        {
            "name": f"mix {i}",
            "from": {"control": chance.choice(["pitch-stick", "a", "b", "throttle-stick"])},
            "to": 2,
            "rate_percent": {"low": rate, "high": chance.choice([rate, 0])},
            "when": chance.choice([[], when()]),
        }
        for i, rate in enumerate(chance.choices([0.7, 2, 5, -11, 30], k=2))
    ]
    for i in range(2):  # turned round, lopsided, and bent so that both ends are alike
        low, high = chance.choice([(-160, -160), (45, -40), (-40, 42), (-200, 0), (-200, 0)])
        document["mixes"].append(
            {
                "name": f"bend {i}",
                "from": {"control": "roll-stick"},
                "to": 2,
                "rate_percent": {"low": low, "high": high},
                "when": when(),
            }
        )
    return traced(document)


def traced(document: dict[str, Any]) -> prebind.Path:
    report = INSPECTOR.inspect(document)
    assert report.setup is not None, report.problems
    return prebind.trace(report.setup)


def told(channel: ChannelPath, control: str) -> Any:
    found = response.Response(channel, control)
    spans = [found.least, found.least_deviation]
    return set(found.signs), [it and (it.percent, it.controls) for it in spans]


@pytest.mark.parametrize("seed", range(60))
def test_what_is_left_out_changes_nothing(seed: int) -> None:
    path = rated(Random(seed))
    ailerons = path.channel(2)
    quick = told(ailerons, "roll-stick")
    with patch.object(response, "_least_change", lambda _: lambda _: -1.0):
        assert quick == told(ailerons, "roll-stick")


@pytest.mark.parametrize("seed", range(40))
def test_what_is_sure_is_so_wherever_the_others_stand(seed: int) -> None:
    """Against plain forward evaluation, at places drawn by chance."""
    chance = Random(seed)
    path = rated(chance)
    ailerons = path.channel(2)
    found = response.Response(ailerons, "roll-stick")
    others = [control for control in ailerons.controls if control != "roll-stick"]
    for _ in range(12):
        where = {c: anywhere(path, c, chance) for c in others}
        outputs = [output(ailerons, {**where, "roll-stick": float(at)}) for at in range(-100, 101)]
        rest = outputs[100]
        assert max(outputs) - min(outputs) >= found.sure_least - 1e-9
        assert max(abs(at - rest) for at in outputs) >= found.sure_deviation - 1e-9
        if len(found.signs) == 1 and 0 not in found.signs:
            (sign,) = found.signs
            assert sign * (outputs[-1] - outputs[0]) > 0


def anywhere(path: prebind.Path, control: str, chance: Random) -> str | float:
    positions = path.control(control).positions
    return chance.choice(positions) if positions else chance.uniform(-100, 100)


def output(channel: ChannelPath, where: dict[str, str | float]) -> float:
    return channel.stages(where).output_percent


def test_where_a_limit_may_cut_nothing_is_sure() -> None:
    document = clean("trainer")
    document["channels"][1]["travel_percent"] = {"low": 100, "high": 151}
    path = traced(document)
    step = 300 / 2047  # percent, from −150 to 150 in 2048 values
    assert response._least_change(path.channel(2))(100) == 0
    # The elevator has ±100 % of travel: 100 % are 682.3 steps, of which 682 are sure.
    assert response._least_change(path.channel(3))(100) == pytest.approx(682 * step)
    assert response._least_change(path.channel(3))(0.9 * step) == 0
