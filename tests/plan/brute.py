"""Planning a second time, by trying everything: written apart from the code, for small wishes.

Reads the plain wishes.  Knows evenly spaced switches without fixed bands: a switch will do for a
selector where it has a position for each state.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, permutations, product
from typing import Any, NamedTuple

Json = Mapping[str, Any]

STICK_OF = {
    "throttle": "thrust",
    "aileron": "roll",
    "elevator": "pitch",
    "rudder": "yaw",
    "steering": "yaw",
}
AXIS_OF = {"aileron": "roll", "elevator": "pitch", "rudder": "yaw"}
GENTLE = ["recovery", "self-level", "attitude-limit", "heading-hold", "rate-damping", "off"]


class Ask(NamedTuple):
    """One wish: what it wants of hands (kind, positions), of channels, and of ports."""

    at: str
    role: str
    kind: str
    positions: int
    channel: bool
    servos: int
    axis: str | None
    selector: Json | None
    if_room: bool
    name: str


def asks(model: Json, at: str) -> list[Ask]:
    found = []
    for i, it in enumerate(model["functions"]):
        name = it["function"]
        kind = it.get("control", "stick" if name in STICK_OF else "switch")
        role = STICK_OF[name] if kind == "stick" else name
        found.append(
            Ask(
                f"{at}/functions/{i}",
                role,
                kind,
                it.get("positions", 2),
                True,
                it.get("servos", 1),
                AXIS_OF.get(name),
                None,
                it.get("if_room", False),
                name,
            )
        )
    for i, it in enumerate(model.get("selectors", ())):
        role = "flight-mode" if it["purpose"] == "flight-mode" else it["name"]
        kind = "gain" if it["purpose"] == "gain" else "switch"
        states = len(it["states"])
        place = f"{at}/selectors/{i}"
        optional = it.get("if_room", False)
        found.append(Ask(place, role, kind, states, True, 0, None, it, optional, it["name"]))
    if model.get("recovery"):
        found.append(
            Ask(f"{at}/recovery", "recovery", "sprung", 2, True, 0, None, {}, False, "recovery")
        )
    has_throttle = any(it["function"] == "throttle" for it in model["functions"])
    if model.get("throttle_cut", has_throttle):
        cut = "throttle cut"
        found.append(Ask(f"{at}/throttle_cut", cut, "switch", 2, False, 0, None, None, False, cut))
    for i, it in enumerate(model.get("switches", ())):
        found.append(
            Ask(
                f"{at}/switches/{i}",
                it["for"],
                "switch",
                it.get("positions", 2),
                False,
                0,
                None,
                None,
                it.get("if_room", False),
                it["for"],
            )
        )
    return found


def will_do(ask: Ask, control: Json) -> bool:
    kind = control["kind"]
    sprung = control.get("sprung", kind == "button")
    if ask.kind == "stick":
        return kind == "stick" and control["axis"] == ask.role
    if kind in ("knob", "slider"):
        return ask.kind in ("continuous", "gain")
    if kind == "stick":
        return False
    if sprung:
        return ask.kind == "sprung"
    return ask.kind in ("switch", "gain") and len(control["positions"]) >= ask.positions


def hands(granted: list[Ask], radio: Json, pins: list[Json]) -> Iterator[dict[str, str]]:
    """Every way to put the jobs on controls of their own."""
    jobs = list({ask.role: ask for ask in granted}.values())
    choices = []
    for job in jobs:
        named = {ask.name for ask in granted if ask.role == job.role}
        wanted = {it["control"] for it in pins if "control" in it and it["what"] in named}
        choices.append(
            [k for k, it in radio["controls"].items() if will_do(job, it) and wanted <= {k}]
        )
    for chosen in product(*choices):
        if len(set(chosen)) == len(chosen):
            yield {job.role: k for job, k in zip(jobs, chosen, strict=True)}


def lines_fit(granted: list[Ask], radio: Json, receiver: Json, pins: list[Json]) -> bool:
    """Whether some order of channels and ports serves."""
    asking = [ask for ask in granted if ask.channel]
    most = min(radio["channels"], receiver["inputs"])
    stabiliser = receiver.get("stabiliser", {})
    for channels in permutations(range(1, most + 1), len(asking)):
        if all(
            _may_channel(ask, n, stabiliser, pins) for ask, n in zip(asking, channels, strict=True)
        ) and _ports_fit(list(zip(asking, channels, strict=True)), receiver, pins):
            return True
    return False


def _may_channel(ask: Ask, number: int, stabiliser: Json, pins: list[Json]) -> bool:
    wanted = {it["channel"] for it in pins if "channel" in it and it["what"] == ask.name}
    listed = stabiliser.get("selector_channels")
    return wanted <= {number} and (ask.selector is None or listed is None or number in listed)


def _ports_fit(channels: list[tuple[Ask, int]], receiver: Json, pins: list[Json]) -> bool:
    outputs = receiver["outputs"]
    if isinstance(outputs, int):
        outputs = [{"port": i} for i in range(1, outputs + 1)]
    corrected = {
        axis: set(it["ports"])
        for axis, it in receiver.get("stabiliser", {}).get("axes", {}).items()
    }
    taken = set().union(*corrected.values()) if corrected else set()

    def fits(asking: list[tuple[Ask, int]], left: set[int]) -> bool:
        if not asking:
            return True
        (ask, channel), *rest = asking
        mine = [
            it["port"]
            for it in outputs
            if it["port"] in left
            and it.get("channel") in (None, channel)
            and (
                it["port"] in corrected[ask.axis]
                if ask.axis in corrected
                else it["port"] not in taken
            )
        ]
        wanted = {it["port"] for it in pins if "port" in it and it["what"] == ask.name}
        return any(
            wanted <= set(chosen) and fits(rest, left - set(chosen))
            for chosen in combinations(mine, ask.servos)
        )

    return fits(channels, {it["port"] for it in outputs})


def fits(
    model: Json,
    at: str,
    wishes: Json,
    radio: Json,
    chosen: set[str],
    halves: Sequence[str] = ("hands", "lines"),
) -> bool:
    """Whether these wishes and decisions of a model can all be had."""
    granted = [ask for ask in asks(model, at) if ask.at in chosen]
    pins = [it for i, it in enumerate(model.get("decided", ())) if f"{at}/decided/{i}" in chosen]
    receiver = wishes["receivers"][model["receiver"]]
    can_hold = "hands" not in halves or next(hands(granted, radio, pins), None) is not None
    return can_hold and ("lines" not in halves or lines_fit(granted, radio, receiver, pins))


def smallest_contradiction(model: Json, at: str, wishes: Json, radio: Json) -> int | None:
    """How many wishes the smallest contradiction has."""
    must = [ask.at for ask in asks(model, at) if not ask.if_room]
    must += [f"{at}/decided/{i}" for i in range(len(model.get("decided", ())))]
    for size in range(1, len(must) + 1):
        for chosen in combinations(must, size):
            if not fits(model, at, wishes, radio, set(chosen)):
                return size
    return None


def least_loss(wishes: Json, radio: Json, weights: Mapping[str, int]) -> int | None:
    """The least weighted loss of the whole fleet on one transmitter."""
    each = [
        list(_ways(model, f"/models/{i}", wishes, radio, weights))
        for i, model in enumerate(wishes["models"])
    ]
    totals = []
    for ways in product(*each):
        total = sum(lost for lost, _ in ways)
        held: dict[str, Counter[str]] = {}
        for _, on in ways:
            for role, control in on.items():
                held.setdefault(role, Counter())[control] += 1
        differ = sum(of.total() - max(of.values()) for of in held.values())
        totals.append(total + weights["same-control"] * differ)
    return min(totals, default=None)


def _ways(
    model: Json, at: str, wishes: Json, radio: Json, weights: Mapping[str, int]
) -> Iterator[tuple[int, dict[str, str]]]:
    every = asks(model, at)
    pins = list(model.get("decided", ()))
    optional = [ask for ask in every if ask.if_room]
    receiver = wishes["receivers"][model["receiver"]]
    for count in range(len(optional) + 1):
        for dropped in combinations(optional, count):
            granted = [ask for ask in every if ask not in dropped]
            if not lines_fit(granted, radio, receiver, pins):
                continue
            used = sum(ask.channel for ask in granted)
            lost = weights["kept-if-room"] * len(dropped)
            lost += weights["spare-channels"] * max(0, 2 - (radio["channels"] - used))
            lost += sum(min(_orders(ask.selector, weights)) for ask in granted if ask.selector)
            seen = set()
            for on in hands(granted, radio, pins):
                here = lost + _on_controls(granted, on, radio, weights)
                free = {role: k for role, k in on.items() if role not in STICK_OF.values()}
                key = (here, tuple(sorted(free.items())))
                if key not in seen:
                    seen.add(key)
                    yield here, free


def _orders(selector: Json, weights: Mapping[str, int]) -> Iterator[int]:
    states = selector["states"]
    if selector["purpose"] != "flight-mode":
        yield 0
        return
    ranks = [GENTLE.index(it["behaviour"]) for it in states]
    for order in permutations(range(len(states))):
        ends = {ranks[order[0]], ranks[order[-1]]}
        yield (0 if min(ranks) in ends else weights["gentlest-at-end"]) + (
            0 if order == tuple(range(len(states))) else weights["states-as-listed"]
        )


def _on_controls(
    granted: list[Ask], on: Mapping[str, str], radio: Json, weights: Mapping[str, int]
) -> int:
    lost = 0
    throttle_hand = {1: "right", 2: "left", 3: "right", 4: "left"}.get(radio.get("stick_mode", 0))
    for ask in {ask.role: ask for ask in granted}.values():
        control = radio["controls"][on[ask.role]]
        let_go = control.get("reach") == "let-go"
        if ask.role == "throttle cut":
            same = throttle_hand is not None and control.get("hand") == throttle_hand
            lost += weights["cut-in-reach"] * (same + let_go)
        if ask.role == "recovery":
            lost += weights["recovery-in-reach"] * let_go
        if ask.kind in ("switch", "gain"):
            lost += weights["no-waste"] * max(0, len(control.get("positions", ())) - ask.positions)
    return lost
