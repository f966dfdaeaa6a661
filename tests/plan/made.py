"""Hypothesis strategies for wishes, and small wishes to begin with.  All of it is invented."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from prebind.plan.read import Asked, read

if TYPE_CHECKING:
    from collections.abc import Mapping

Json = dict[str, Any]

STICKS: Json = {
    "throttle-stick": {"kind": "stick", "axis": "thrust"},
    "roll-stick": {"kind": "stick", "axis": "roll"},
    "pitch-stick": {"kind": "stick", "axis": "pitch"},
    "yaw-stick": {"kind": "stick", "axis": "yaw"},
}
MODES = {
    "level": "self-level",
    "limited": "attitude-limit",
    "damped": "rate-damping",
    "off": "off",
}
SURFACES = ("throttle", "aileron", "elevator", "rudder")


def switch(count: int = 2, **more: Any) -> Json:
    return {"kind": "switch", "positions": list("abcdef"[:count]), **more}


def radio(channels: int = 8, controls: Mapping[str, Any] | None = None, **more: Any) -> Json:
    return {
        "channels": channels,
        "stick_mode": 2,
        **more,
        "controls": {**STICKS, **(controls or {})},
    }


def flight_mode(*states: str, **more: Any) -> Json:
    named = [{"state": it, "behaviour": MODES[it]} for it in states]
    return {"name": "flight mode", "purpose": "flight-mode", "states": named, **more}


def model(*functions: Any, name: str = "Knot 900", **more: Any) -> Json:
    """A model of these functions, each a name or an entry."""
    entries = [it if isinstance(it, dict) else {"function": it} for it in functions]
    return {
        "name": name,
        "airframe": "aeroplane",
        "receiver": "rx",
        "functions": entries,
        **more,
    }


def wishes(models: Any, radios: Any, receiver: Json | None = None, **more: Any) -> Json:
    many = models if isinstance(models, list) else [models]
    candidates = {"Reed": radios} if "channels" in radios else radios
    return {
        "format": "wishes/1",
        "transmitters": candidates,
        "receivers": {"rx": receiver or {"inputs": 12, "outputs": 8, "stabiliser": {}}},
        "models": many,
        **more,
    }


def asked(document: Json) -> Asked:
    found = read(json.dumps(document, indent=1).encode(), path="club.wishes.json")
    assert isinstance(found, Asked), found
    return found


def told(document: Json) -> list[tuple[int | None, str]]:
    """Line and message of everything that is wrong."""
    found = read(json.dumps(document, indent=1).encode(), path="club.wishes.json")
    assert isinstance(found, list)
    return [(it.line, it.message) for it in found]


def line_of(document: Json, text: str, nth: int = 0) -> int:
    lines = json.dumps(document, indent=1).splitlines()
    return [i for i, line in enumerate(lines, 1) if text in line][nth]


# Small ones, that a brute force can go through

HANDS = st.sampled_from(["left", "right", None])
REACHES = st.sampled_from(["sticks-held", "let-go", None])


@st.composite
def placed(draw: st.DrawFn, control: Json) -> Json:
    hand, reach = draw(HANDS), draw(REACHES)
    return {
        **control,
        **({"hand": hand} if hand else {}),
        **({"reach": reach} if reach else {}),
    }


@st.composite
def radios(draw: st.DrawFn, most_controls: int = 4, channels: Any = None) -> Json:
    kinds = st.sampled_from(
        [switch(2), switch(2), switch(3), switch(3), {"kind": "button"}, {"kind": "knob"}]
    )
    found = draw(st.lists(kinds.flatmap(placed), max_size=most_controls))
    controls = {f"c{i}": it for i, it in enumerate(found)}
    return radio(
        draw(st.integers(2, 6) if channels is None else channels),
        controls,
        stick_mode=draw(st.integers(1, 4)),
    )


EXTRAS = st.sampled_from(
    [
        {"function": "flap", "positions": 3},
        {"function": "flap", "servos": 2},
        {"function": "gear"},
        {"function": "lights"},
        {"function": "tow-release", "control": "sprung"},
        {"function": "airbrake", "control": "continuous"},
    ]
)


@st.composite
def models(draw: st.DrawFn, name: str, surfaces: Any = None, extras: int = 2) -> Json:
    functions = [
        {"function": it}
        for it in draw(
            st.lists(st.sampled_from(SURFACES), max_size=2, unique=True)
            if surfaces is None
            else surfaces
        )
    ]
    for extra in draw(st.lists(EXTRAS, max_size=extras, unique_by=lambda it: it["function"])):
        functions.append(extra | ({"if_room": True} if draw(st.booleans()) else {}))
    made = model(*functions, name=name)
    if draw(st.booleans()):
        states = draw(st.permutations(list(MODES)))[: draw(st.integers(2, 3))]
        made["selectors"] = [flight_mode(*states)]
    if draw(st.booleans()):
        made["recovery"] = True
    if draw(st.booleans()):
        made["switches"] = [{"for": "rates"}]
    return made


@st.composite
def receivers(draw: st.DrawFn) -> Json:
    outputs: Any = draw(st.integers(2, 6))
    if draw(st.booleans()):
        outputs = [
            {"port": i} | ({"channel": i} if draw(st.booleans()) else {})
            for i in range(1, outputs + 1)
        ]
    stabiliser: Json = {}
    if draw(st.booleans()):
        stabiliser["selector_channels"] = sorted(draw(st.sets(st.integers(1, 4), min_size=1)))
    if draw(st.booleans()):
        stabiliser["axes"] = {"roll": {"ports": [1]}}
    return {"inputs": draw(st.integers(4, 6)), "outputs": outputs, "stabiliser": stabiliser}


@st.composite
def small_wishes(draw: st.DrawFn, most_models: int = 2) -> Json:
    """Up to two models that try all there is in a few thousand steps."""
    names = ["Knot 900", "Ruff 1100"][: draw(st.integers(1, most_models))]
    made = [draw(models(name)) for name in names]
    return wishes(made, draw(radios()), draw(receivers()))


@st.composite
def decisions(draw: st.DrawFn, document: Json) -> Json:
    """The same wishes with something decided, sensible or not."""
    one = document["models"][0]
    names = [it["function"] for it in one["functions"]]
    if not names:
        return document
    chosen = []
    for what in draw(st.lists(st.sampled_from(names), min_size=1, max_size=2)):
        decided: Json = {"what": what}
        if draw(st.booleans()):
            decided["channel"] = draw(st.integers(1, 4))
        if len(decided) == 1 or draw(st.booleans()):
            controls = document["transmitters"]["Reed"]["controls"]
            decided["control"] = draw(st.sampled_from(list(controls)))
        chosen.append(decided)
    return {**document, "models": [{**one, "decided": chosen}, *document["models"][1:]]}


# Whole ones, for the round trip


@st.composite
def full_wishes(draw: st.DrawFn) -> Json:
    """A flyable model, a radio that may or may not do, and a receiver of some kind."""
    more = draw(radios(7, st.integers(5, 14)))
    if draw(st.integers(0, 4)):
        more["controls"] |= {
            "mode": switch(3, hand="left"),
            "press": {"kind": "button"},
            "cut": {"kind": "switch", "positions": ["cut", "run"], "hand": "right"},
        }
    output = {
        "centre_us": draw(st.sampled_from([1500, 1520])),
        "us_per_percent": draw(st.sampled_from([4, 5])),
        "limit_percent": draw(st.sampled_from([120, 125, 150])),
        **draw(st.sampled_from([{}, {"steps": 2048}, {"steps": 1024}])),
        **draw(
            st.sampled_from([{}, {"native": {"throttle": -1}}, {"native": {"flight-mode": -1}}])
        ),
    }
    more["output"] = output
    if draw(st.booleans()):
        more |= {"start_checks": ["throttle-low"], "cut_release": "at-low"}
    made = draw(models("Knot 900", st.just(list(SURFACES)), 3))
    made["functions"][1]["servos"] = draw(st.integers(1, 2))
    made["propulsion"] = {"kind": draw(st.sampled_from(["electric", "glow"]))}
    stabiliser: Json = {}
    if draw(st.booleans()):
        stabiliser["edges_percent"] = [-34, 34]
    if draw(st.booleans()):
        stabiliser["selector_channels"] = sorted(draw(st.sets(st.integers(1, 8), min_size=2)))
    if draw(st.booleans()):
        stabiliser["axes"] = {
            "roll": {"ports": [2, 5]},
            "pitch": {"ports": [3]},
            "yaw": {"ports": [4]},
        }
    receiver: Json = {"inputs": 12, "outputs": draw(st.integers(6, 10)), "stabiliser": stabiliser}
    if draw(st.booleans()):
        receiver["failsafe_stored"] = draw(st.sampled_from(["by-menu", "in-transmitter"]))
    return wishes(made, more, receiver)


def thirty(seed: int = 4) -> Json:
    """Thirty models and three radios, the same in every run; no two models need quite the same."""
    from random import Random

    chance = Random(seed)
    extras: list[Json] = [
        {"function": "flap", "positions": 3},
        {"function": "gear"},
        {"function": "lights", "positions": 3},
        {"function": "tow-release", "control": "sprung"},
        {"function": "airbrake", "control": "continuous"},
        {"function": "steering"},
    ]
    many = []
    for number in range(30):
        some = [{**it, "if_room": chance.random() < 0.5} for it in chance.sample(extras, 2)]
        one = model(*SURFACES, *some, name=f"Knot {number}", recovery=True)
        one["selectors"] = [flight_mode(*chance.sample(list(MODES), 3))]
        if chance.random() < 0.5:
            one["switches"] = [{"for": "rates"}]
        many.append(one)
    hands, reaches = ["left", "right"], ["sticks-held", "let-go"]
    candidates = {}
    for channels, two, three in ((10, 2, 3), (12, 3, 3), (16, 4, 5)):
        kinds = [switch(2)] * two + [switch(3)] * three + [{"kind": "button"}] * 2
        kinds += [{"kind": "knob"}] * 2
        controls = {
            f"c{i}": {**it, "hand": chance.choice(hands), "reach": chance.choice(reaches)}
            for i, it in enumerate(kinds)
        }
        candidates[f"Reed {channels}"] = radio(channels, controls)
    return wishes(many, candidates, {"inputs": 12, "outputs": 10, "stabiliser": {}})
