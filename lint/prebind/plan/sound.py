"""What a schema cannot say of wishes: names that mean nothing, and what cannot go together."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from prebind.document.fault import Fault
from prebind.document.wording import any_of, nearest
from prebind.plan.needs import (
    CUT,
    MOST_IF_ROOM,
    RECOVERY,
    mixed_ports,
    name_of,
    stick_axis,
    wished,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.plan.needs import Needs
    from prebind.plan.wishes import Grip, Json, Radio, Receiver, Wishes

_SELECTED = {
    "flight-mode": "write it under `selectors`, with its states",
    "gain": "write it under `selectors`, with its states",
    "recovery": 'write "recovery": true in the model',
}
_MIXED_IN_RADIO = ("elevon", "v-tail")


def faults(wishes: Wishes) -> list[Fault]:
    """Everything, in the document's order as far as its sections go."""
    found = [fault for radio in wishes.radios.values() for fault in _radio(radio)]
    found += [fault for it in wishes.receivers.values() for fault in _receiver(it)]
    found += _names(wishes.models)
    for i, model in enumerate(wishes.models):
        if "setup" not in model:
            found += _model(model, f"/models/{i}", wishes)
    return found


def meant(name: str, known: Iterable[str]) -> str:
    """The end of a message about an unknown name: the one that was meant, or all there are."""
    names = list(known)
    near = nearest(name, names)
    if near is not None:
        return f"; did you mean “{near}”?"
    return f"; there are {any_of(_said(names), 'and')}" if names else "; there are none"


def _said(names: Iterable[str]) -> list[str]:
    return [f"“{name}”" for name in names]


# Devices


def _radio(radio: Radio) -> Iterator[Fault]:
    for grip in radio.grips.values():
        yield from _grip(grip)


def _grip(grip: Grip) -> Iterator[Fault]:
    control = grip.control
    if control.values is not None and len(control.values) != len(grip.positions):
        yield Fault(
            f"{grip.at}/values",
            f"“{grip.id}” has {len(control.values)} values for {len(grip.positions)} positions; "
            "give each position one",
        )
    if len(set(grip.positions)) != len(grip.positions):
        yield Fault(f"{grip.at}/positions", f"two positions of “{grip.id}” have the same name")


def _receiver(receiver: Receiver) -> Iterator[Fault]:
    at = f"{receiver.at}/stabiliser"
    for number in sorted(receiver.selector_channels or ()):
        if number > receiver.inputs:
            yield Fault(
                f"{at}/selector_channels",
                f"channel {number} is beyond the {receiver.inputs} that the receiver takes in",
            )
    edges = receiver.edges_percent or ()
    if any(low >= high for low, high in pairwise(edges)):
        yield Fault(f"{at}/edges_percent", "the edges must rise from one to the next")
    for axis, ports in receiver.corrected.items():
        for port, _ in ports:
            if port not in receiver.ports:
                yield Fault(
                    f"{at}/axes/{axis}/ports",
                    f"port {port} is no output of this receiver{_outputs_of(receiver)}",
                )
    if receiver.mixing != "none" and not mixed_ports(receiver):
        yield Fault(
            f"{at}/mixing",
            f"a receiver that mixes {receiver.mixing} must say under `axes` into which ports",
        )


def _outputs_of(receiver: Receiver) -> str:
    has = any_of(map(str, receiver.ports), "and") if receiver.ports else "none"
    return f"; it has {has}"


# Models


def _names(models: Iterable[Json]) -> Iterator[Fault]:
    met: set[str] = set()
    for i, model in enumerate(models):
        name = model.get("name")
        if name in met:
            yield Fault(f"/models/{i}/name", f"two models are called “{name}”; tell them apart")
        if name is not None:
            met.add(name)


def _model(model: Json, at: str, wishes: Wishes) -> Iterator[Fault]:
    receiver = wishes.receivers.get(model["receiver"])
    if receiver is None:
        name = model["receiver"]
        known = meant(name, wishes.receivers)
        yield Fault(f"{at}/receiver", f"there is no receiver “{name}”{known}")
        return
    named = _Named()
    for i, entry in enumerate(model["functions"]):
        yield from _function(entry, f"{at}/functions/{i}", receiver)
        yield from named.met(name_of(entry), f"{at}/functions/{i}", "give each a side of its own")
    for i, entry in enumerate(model.get("selectors", ())):
        yield from _selector(entry, f"{at}/selectors/{i}", receiver)
        yield from named.met(entry["name"], f"{at}/selectors/{i}/name", "name them apart")
    if model.get("recovery"):
        yield from named.met(RECOVERY, f"{at}/recovery", "name the other one apart")
        if not receiver.stabilised:
            yield Fault(f"{at}/recovery", _unstabilised("recovery", receiver))
    for i, entry in enumerate(model.get("switches", ())):
        yield from named.met(entry["for"], f"{at}/switches/{i}/for", "name them apart")
    yield from _if_room(model, at)
    if CUT in named:
        yield Fault(at, f"“{CUT}” is the cut itself; give what is called so another name")
    if not named.broken:
        yield from _decisions(wished(model, at, receiver, None), wishes)


class _Named:
    """The names that a model uses, each of which must mean one thing."""

    def __init__(self) -> None:
        self._names: set[str] = set()
        self.broken = False

    def __contains__(self, name: str) -> bool:
        return name in self._names

    def met(self, name: str, at: str, remedy: str) -> Iterator[Fault]:
        if name in self._names:
            self.broken = True
            yield Fault(at, f"“{name}” stands twice in this model; {remedy}")
        self._names.add(name)


def _function(entry: Json, at: str, receiver: Receiver) -> Iterator[Fault]:
    function = entry["function"]
    if function in _SELECTED:
        yield Fault(f"{at}/function", f"`{function}` is selected, not moved; {_SELECTED[function]}")
    if entry.get("control") == "stick" and stick_axis(function) is None:
        yield Fault(
            f"{at}/control", f"no stick belongs to `{function}`; a switch or slider can work it"
        )
    if entry.get("control") in ("stick", "continuous") and "positions" in entry:
        yield Fault(
            f"{at}/positions", f"a {entry['control']} control has no positions; leave one out"
        )
    if entry.get("control") == "sprung" and entry.get("positions", 2) > 2:
        yield Fault(f"{at}/positions", "a sprung control has two positions; ask for a switch")
    if function in _MIXED_IN_RADIO:
        if entry.get("side") not in ("left", "right"):
            yield Fault(at, f"`{function}` needs its `side`, left or right, each with a channel")
        if receiver.stabilised:
            other = "aileron and elevator" if function == "elevon" else "elevator and rudder"
            yield Fault(
                f"{at}/function",
                f"with a stabiliser the receiver must mix, not the radio: wish for {other}, and "
                f'say "mixing": "{function}" under the receiver\'s stabiliser',
            )


def _selector(entry: Json, at: str, receiver: Receiver) -> Iterator[Fault]:
    if not receiver.stabilised:
        yield Fault(at, _unstabilised(entry["name"], receiver))
    names = [state["state"] for state in entry["states"]]
    for i, name in enumerate(names):
        if name in names[:i]:
            yield Fault(f"{at}/states/{i}/state", f"two states are called “{name}”")
    banded = ["band" in state for state in entry["states"]]
    if any(banded) and not all(banded):
        i = banded.index(False)
        yield Fault(
            f"{at}/states/{i}",
            f"“{names[i]}” has no band though others have: give all states one, or none",
        )
    for i, state in enumerate(entry["states"]):
        for unit, band in state.get("band", {}).items():
            if unit in ("us", "percent") and band[0] > band[1]:
                yield Fault(f"{at}/states/{i}/band/{unit}", "the low end is above the high end")


def _if_room(model: Json, at: str) -> Iterator[Fault]:
    keys = ("functions", "selectors", "switches")
    places = [
        f"{at}/{key}/{i}/if_room"
        for key in keys
        for i, entry in enumerate(model.get(key, ()))
        if entry.get("if_room")
    ]
    if len(places) > MOST_IF_ROOM:
        yield Fault(
            places[MOST_IF_ROOM],
            f"at most {MOST_IF_ROOM} wishes of a model may be left out; decide on some",
        )


def _unstabilised(name: str, receiver: Receiver) -> str:
    return (
        f"“{name}” asks for a stabiliser, and the receiver “{receiver.name}” has none; leave it "
        "out, or take a receiver with one"
    )


# What is decided


def _decisions(needs: Needs, wishes: Wishes) -> Iterator[Fault]:
    lines = {line.id: line for line in needs.lines}
    jobs = {job.id for job in needs.jobs}
    for decision in needs.decisions:
        what = decision.what
        if what not in needs.names:
            yield Fault(
                f"{decision.id}/what", f"nothing here is called “{what}”{meant(what, needs.names)}"
            )
            continue
        if decision.control is None and decision.channel is None and decision.port is None:
            yield Fault(
                decision.id, f"nothing is decided about “{what}”: name its control, channel or port"
            )
        line = lines.get(what)
        if decision.control is not None:
            known = {name for radio in wishes.radios.values() for name in radio.grips}
            yield from _on_control(decision.control, decision.id, known)
            if what not in jobs and (line is None or line.job is None):
                yield Fault(f"{decision.id}/control", f"only mixes drive “{what}”, no control")
        if decision.channel is not None and line is None:
            yield Fault(f"{decision.id}/channel", f"“{what}” takes no channel")
        if decision.port is not None and (line is None or line.servos == 0):
            yield Fault(f"{decision.id}/port", f"“{what}” takes no port of its own")
        elif decision.port is not None and decision.port not in needs.ports:
            there = any_of(map(str, needs.ports), "and")
            yield Fault(
                f"{decision.id}/port", f"port {decision.port} cannot be chosen; there are {there}"
            )


def _on_control(name: str, at: str, known: set[str]) -> Iterator[Fault]:
    if name not in known:
        yield Fault(
            f"{at}/control",
            f"no transmitter has a control “{name}”{meant(name, sorted(known))}",
        )
