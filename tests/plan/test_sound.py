"""Bad wishes: what is said, where, and what would resolve it."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from tests.plan.made import (
    asked,
    flight_mode,
    line_of,
    model,
    radio,
    switch,
    told,
    wishes,
)

from prebind.plan.read import read

Change = Callable[[Any], object]


def sound() -> Any:
    one = model(
        "throttle",
        "aileron",
        "elevator",
        "gear",
        selectors=[flight_mode("level", "damped")],
        recovery=True,
    )
    controls = {"mode": switch(3), "press": {"kind": "button"}, "two": switch(2)}
    return wishes(one, radio(8, controls))


def one(document: Any) -> Any:
    return document["models"][0]


def rx(document: Any) -> Any:
    return document["receivers"]["rx"]


def states(document: Any) -> Any:
    return one(document)["selectors"][0]["states"]


AXES = {"yaw": {"ports": [4]}}
FAULTS: list[tuple[str, Change, str, str]] = [
    (
        "unknown function",
        lambda d: one(d)["functions"][1].update(function="ailerons"),
        '"ailerons"',
        'is "ailerons"; did you mean `aileron`?',
    ),
    (
        "unknown key",
        lambda d: d.update(preference={}),
        '"preference"',
        "`preference` is not a key of a document of wishes; did you mean `preferences`?",
    ),
    (
        "unknown receiver",
        lambda d: one(d).update(receiver="tx"),
        '"tx"',
        "there is no receiver “tx”; there are “rx”",
    ),
    (
        "unknown control",
        lambda d: one(d).update(decided=[{"what": "gear", "control": "twoo"}]),
        '"twoo"',
        "no transmitter has a control “twoo”; did you mean “two”?",
    ),
    (
        "unknown thing decided",
        lambda d: one(d).update(decided=[{"what": "geer", "control": "two"}]),
        '"geer"',
        "nothing here is called “geer”; did you mean “gear”?",
    ),
    (
        "nothing decided",
        lambda d: one(d).update(decided=[{"what": "gear"}]),
        '"what": "gear"',
        "nothing is decided about “gear”: name its control, channel or port",
    ),
    (
        "a channel for what takes none",
        lambda d: one(d).update(decided=[{"what": "throttle cut", "channel": 3}]),
        '"channel": 3',
        "“throttle cut” takes no channel",
    ),
    (
        "a port that is not there",
        lambda d: one(d).update(decided=[{"what": "gear", "port": 9}]),
        '"port": 9',
        "port 9 cannot be chosen; there are 1, 2, 3, 4, 5, 6, 7 and 8",
    ),
    (
        "a function twice",
        lambda d: one(d)["functions"].append({"function": "gear"}),
        '"gear"',
        "“gear” stands twice in this model; give each a side of its own",
    ),
    (
        "a selector among functions",
        lambda d: (one(d).pop("recovery"), one(d)["functions"].append({"function": "recovery"})),
        '"function": "recovery"',
        '`recovery` is selected, not moved; write "recovery": true in the model',
    ),
    (
        "recovery without a stabiliser",
        lambda d: (rx(d).pop("stabiliser"), one(d).pop("selectors")),
        '"recovery": true',
        "“recovery” asks for a stabiliser, and the receiver “rx” has none; leave it out, or take a "
        "receiver with one",
    ),
    (
        "elevons beside a stabiliser",
        lambda d: one(d)["functions"].append({"function": "elevon", "side": "left"}),
        '"elevon"',
        "with a stabiliser the receiver must mix, not the radio: wish for aileron and elevator, "
        'and say "mixing": "elevon" under the receiver\'s stabiliser',
    ),
    (
        "a band for one state only",
        lambda d: states(d)[0].update(band={"percent": [-150, 0]}),
        '"state": "damped"',
        "“damped” has no band though others have: give all states one, or none",
    ),
    (
        "a band upside down",
        lambda d: [
            it.update(band={"percent": band})
            for it, band in zip(states(d), ([20, -20], [20, 150]), strict=True)
        ],
        '"percent"',
        "the low end is above the high end",
    ),
    (
        "a state twice",
        lambda d: states(d)[1].update(state="level"),
        '"state": "level"',
        "two states are called “level”",
    ),
    (
        "a stick for the gear",
        lambda d: one(d)["functions"][3].update(control="stick"),
        '"control": "stick"',
        "no stick belongs to `gear`; a switch or slider can work it",
    ),
    (
        "positions of a slider",
        lambda d: one(d)["functions"][3].update(control="continuous", positions=3),
        '"positions": 3',
        "a continuous control has no positions; leave one out",
    ),
    (
        "a corrected port that is not there",
        lambda d: rx(d)["stabiliser"].update(axes={"roll": {"ports": [2, 12]}}),
        '"ports"',
        "port 12 is no output of this receiver; it has 1, 2, 3, 4, 5, 6, 7 and 8",
    ),
    (
        "a selector's channel that does not arrive",
        lambda d: rx(d)["stabiliser"].update(selector_channels=[5, 13]),
        '"selector_channels"',
        "channel 13 is beyond the 12 that the receiver takes in",
    ),
    (
        "values without positions",
        lambda d: d["transmitters"]["Reed"]["controls"]["mode"].update(values=[-100, 100]),
        '"values"',
        "“mode” has 2 values for 3 positions; give each position one",
    ),
    (
        "a stick without an axis",
        lambda d: d["transmitters"]["Reed"]["controls"].update(more={"kind": "stick"}),
        '"more"',
        "`axis` is missing from `transmitters.Reed.controls.more`",
    ),
    (
        "two models of one name",
        lambda d: d["models"].append(one(d)),
        '"name": "Knot 900"',
        "two models are called “Knot 900”; tell them apart",
    ),
    (
        "a port below 1",
        lambda d: rx(d)["stabiliser"].update(axes={"roll": {"ports": [0]}}),
        "0",
        "it must be a port from 1 to 999, or a port with its sign",
    ),
    (
        "a receiver without outputs",
        lambda d: rx(d).update(outputs=[]) or rx(d)["stabiliser"].update(axes=AXES),
        "4",
        "port 4 is no output of this receiver; it has none",
    ),
    (
        "no transmitter at all",
        lambda d: d.update(transmitters={}),
        "{}",
        "`transmitters` has 0 entries; it must have 1 to 20",
    ),
    (
        "a setup outside",
        lambda d: d["models"].append({"setup": "/etc/hostname"}),
        '"/etc/hostname"',
        "“/etc/hostname” is outside the folder of the wishes, from which alone setups are read",
    ),
]


@pytest.mark.parametrize(
    ("change", "where", "message"), [it[1:] for it in FAULTS], ids=[it[0] for it in FAULTS]
)
def test_what_is_wrong_is_told_with_its_place(change: Change, where: str, message: str) -> None:
    document = sound()
    assert asked(document).needs
    change(document)
    found = told(document)
    assert len(found) == 1, found
    [(line, text)] = found
    assert message in text
    lines = json.dumps(document, indent=1).splitlines()
    assert line is not None
    near = "\n".join(lines[max(line - 2, 0) : line + 2])  # an entry's place is its bracket
    assert where in near, (line, near)


def test_not_json_has_its_place() -> None:
    found = read(b'{"format": "wishes/1",\n}', path="w.json")
    assert isinstance(found, list)
    assert (found[0].line, found[0].column) == (1, 22)  # the comma too many


def test_a_newer_format_says_so() -> None:
    [(_, message)] = told({**sound(), "format": "wishes/2"})
    assert message.endswith("update prebind")


def test_most_that_may_be_left_out() -> None:
    document = sound()
    one(document)["functions"] += [{"function": f"x-{i}", "if_room": True} for i in range(7)]
    [(line, message)] = told(document)
    assert message == "at most 6 wishes of a model may be left out; decide on some"
    assert line == line_of(document, '"if_room": true', 6)
