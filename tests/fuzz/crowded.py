"""Documents that hold very many of one thing, some as many as the schema lets through.

None is a model that anyone flies; a stranger may send one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.testing import clean

if TYPE_CHECKING:
    from collections.abc import Callable

    Json = dict[str, Any]


def _mixes(document: Json, count: int, sources: list[str]) -> list[Json]:
    """Mixes from these controls in turn, into every channel in turn."""
    channels = [entry["channel"] for entry in document["channels"]]
    return [
        {
            "name": f"mix {i}",
            "from": {"control": sources[i % len(sources)]},
            "to": channels[i % len(channels)],
            "rate_percent": {"low": 1, "high": 2},
        }
        for i in range(count)
    ]


def _switches(document: Json, count: int, positions: str) -> list[str]:
    names = [f"switch {i}" for i in range(count)]
    for name in names:
        document["transmitter"]["controls"][name] = {"kind": "switch", "positions": [*positions]}
    return names


def a_fix_for_every_mix() -> Json:
    document = clean()
    return document | {"mixes": _mixes(document, 400, ["roll-stick"])}


def a_mix_from_every_control() -> Json:
    document = clean()
    return document | {"mixes": _mixes(document, 1000, [*document["transmitter"]["controls"]])}


def conditions_in_a_ring() -> Json:
    document = clean()
    knobs = [f"knob {i}" for i in range(150)]
    for name in knobs:
        document["transmitter"]["controls"][name] = {"kind": "knob"}
    mixes = _mixes(document, 1000, knobs)
    for i, mix in enumerate(mixes):
        mix["when"] = [{"control": knobs[(i + 1) % 150], "above_percent": i % 90}]
    return document | {"mixes": mixes}


def switches_that_disturb_a_selector() -> Json:
    document = a_state_for_every_step()
    channel = document["receiver"]["stabiliser"]["selectors"][0]["channel"]
    mixes = _mixes(document, 5, _switches(document, 5, "abcdef"))
    for i, mix in enumerate(mixes):
        mix |= {"to": channel, "rate_percent": {"low": 3 + i, "high": 5 + i}}
    return document | {"mixes": mixes}


def overrides_of_one_channel() -> Json:
    document = clean()
    names = [*enumerate(_switches(document, 12, "ab"))]
    overrides = [
        {
            "name": f"override {i}",
            "purpose": "throttle-cut",
            "channel": 1,
            "demand_percent": -100,
            "when": [{"control": name, "positions": ["ab"[i >> j & 1]]} for j, name in names],
        }
        for i in range(40)
    ]
    return document | {"overrides": overrides}


def a_state_for_every_step() -> Json:
    document = clean()
    selector = document["receiver"]["stabiliser"]["selectors"][0]
    selector["states"] = [
        {
            "state": f"state {i}",
            "behaviour": "rate-damping",
            "band": {"percent": [3 * i - 100, 3 * i - 98]},
        }
        for i in range(64)
    ]
    return document


def a_waiver_for_nothing() -> Json:
    waivers = [
        {"rule": f"{'a' * 150}-{i}/b", "reason": "c", "by": "d", "until": "2031-01-01"}
        for i in range(1000)
    ]
    return clean() | {"waivers": waivers}


def curves_of_many_points() -> Json:
    document = clean()
    _switches(document, 1, "abcdef")
    points = [[i - 100, (-1) ** i * 50] for i in range(199)] + [[100, 0]]
    for entry in document["channels"]:
        entry["curves"] = [
            {
                "points": points,
                "when": [{"control": "switch 0", "positions": ["abcdef"[i % 6]]}],
            }
            for i in range(12)
        ]
    return document


CROWDED: tuple[Callable[[], Json], ...] = (
    a_fix_for_every_mix,
    a_mix_from_every_control,
    conditions_in_a_ring,
    switches_that_disturb_a_selector,
    overrides_of_one_channel,
    a_state_for_every_step,
    a_waiver_for_nothing,
    curves_of_many_points,
)
