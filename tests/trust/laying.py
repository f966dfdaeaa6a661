"""What a mistake is, and how the catalogue finds its way about a setup document."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

Document = dict[str, Any]
Entry = dict[str, Any]

PRIMARY = ("aileron", "flaperon", "elevator", "rudder", "elevon", "v-tail")
CUTS = ("throttle-cut", "throttle-hold")


class Unfit(Exception):
    """The model has nothing on which this mistake could be made."""


def unfit(why: str) -> NoReturn:
    raise Unfit(why)


@dataclass(frozen=True)
class Fault:
    """A mistake; `lay` makes it in the document that it is given, or raises Unfit.

    Each of `rules` must fire, or, where `|` stands in it, one of those between; none of `quiet` may
    fire, as it would name another cause.
    """

    name: str
    family: str
    rules: tuple[str, ...]
    quiet: tuple[str, ...]
    lay: Callable[[Document], None]

    def on(self, document: Document) -> Document | None:
        """The document with the mistake in it; None where it does not fit, or is made already."""
        faulty = deepcopy(document)
        try:
            self.lay(faulty)
        except Unfit:
            return None
        return None if faulty == document else faulty

    def named_by(self, found: Iterable[str]) -> list[str]:
        """The rules among those found that name this mistake; none where one is missing."""
        fired = set(found)
        answers = [[r for r in wanted.split("|") if r in fired] for wanted in self.rules]
        return [rule for answer in answers for rule in answer] if all(answers) else []


FAULTS: dict[str, Fault] = {}


def fault(
    *rules: str, quiet: tuple[str, ...] = ()
) -> Callable[[Callable[[Document], None]], Callable[[Document], None]]:
    """Enters a function into the catalogue under its name."""

    def enter(lay: Callable[[Document], None]) -> Callable[[Document], None]:
        name = lay.__name__.replace("_", " ")
        family = rules[0].partition("/")[0]
        assert name not in FAULTS
        FAULTS[name] = Fault(name, family, rules, quiet, lay)
        return lay

    return enter


# --- finding one's way ----------------------------------------------------------------------


def first(entries: Iterable[Any], why: str = "nothing of the kind") -> Any:
    found = next(iter(entries), None)
    return unfit(why) if found is None else found


def channels(doc: Document, *functions: str) -> list[Entry]:
    return [c for c in doc["channels"] if c["function"] in functions]


def numbered(doc: Document, number: int) -> Entry:
    found: Entry = first(c for c in doc["channels"] if c["channel"] == number)
    return found


def throttle(doc: Document) -> Entry:
    found: Entry = first(channels(doc, "throttle"), "no motor")
    return found


def stabiliser(doc: Document) -> Entry:
    found: Entry = first([doc.get("receiver", {}).get("stabiliser")], "no stabiliser")
    return found


def mixing(doc: Document) -> str:
    stab: Entry = doc.get("receiver", {}).get("stabiliser") or {}
    return str(stab.get("mixing", "none"))


def axes(doc: Document) -> list[Entry]:
    found: list[Entry] = stabiliser(doc).get("axes", []) or unfit("no axes")
    return found


def axis_ports(axis: Entry) -> list[int]:
    return [p["port"] if isinstance(p, dict) else p for p in axis["ports"]]


def stabilised(doc: Document) -> set[int]:
    """The channels of stabilised axes."""
    stab = doc.get("receiver", {}).get("stabiliser") or {}
    return {axis["channel"] for axis in stab.get("axes", [])}


def corrected(doc: Document) -> set[int]:
    """The ports that the stabiliser moves."""
    stab = doc.get("receiver", {}).get("stabiliser") or {}
    return {port for axis in stab.get("axes", []) for port in axis_ports(axis)}


def output(doc: Document, port: int) -> Entry:
    found: Entry = first(o for o in doc["receiver"]["outputs"] if o["port"] == port)
    return found


def surface(doc: Document, servo: Entry) -> Entry:
    return next((s for s in doc.get("surfaces", []) if s["id"] == servo.get("surface")), {})


def servos(doc: Document, *functions: str) -> list[Entry]:
    """The servos of surfaces with these functions whose movement is recorded."""
    return [
        s
        for s in doc.get("servos", [])
        if surface(doc, s).get("function") in functions and "increasing_pulse" in s
    ]


def steered(doc: Document, by_stabiliser: bool) -> list[Entry]:
    """The servos of primary surfaces that the stabiliser moves, or those that it does not."""
    ports = corrected(doc)
    return [s for s in servos(doc, *PRIMARY) if (s["port"] in ports) == by_stabiliser]


def plain_channel(doc: Document) -> Entry:
    """The channel of a primary surface, without a stabiliser, driven by its own control."""
    free = [c for c in channels(doc, *PRIMARY) if c["channel"] not in stabilised(doc)]
    found: Entry = first((c for c in free if "control" in c), "none without a stabiliser")
    return found


def shaped(doc: Document, *functions: str) -> Entry:
    """Where the rates of such a channel are set: in itself, or in the input behind it."""
    inputs = {i["id"]: i for i in doc.get("inputs", [])}
    own = [c for c in channels(doc, *functions) if "control" in c]
    found: Entry = first([inputs.get(c["control"], c) for c in own] or inputs.values())
    return found


def selectors(doc: Document, purpose: str) -> Iterator[Entry]:
    stab = doc.get("receiver", {}).get("stabiliser") or {}
    return (s for s in stab.get("selectors", []) if s["purpose"] == purpose)


def selector(doc: Document, purpose: str = "flight-mode") -> Entry:
    found: Entry = first(selectors(doc, purpose), f"no {purpose} selector")
    return found


def control_of(doc: Document, channel: Entry) -> Entry:
    found: Entry = first([doc["transmitter"]["controls"].get(channel.get("control"))])
    return found


def positions(control: Entry) -> list[str]:
    if control["kind"] == "button":
        return ["released", "pressed"]
    found: list[str] = control.get("positions") or unfit("not a switch")
    return found


def values(control: Entry) -> list[float]:
    count = len(positions(control))
    even = [-100 + 200 * n / (count - 1) for n in range(count)]
    return list(control.get("values", even))


def scale(doc: Document) -> tuple[float, float, float]:
    """The transmitter's centre and step in µs, and its limit in percent."""
    given = doc["transmitter"].get("output", {})
    return (
        given.get("centre_us", 1500),
        given.get("us_per_percent", 4),
        given.get("limit_percent", 150),
    )


def band(state: Entry) -> list[float]:
    """The two ends of a state's band, to be changed in place, in whatever unit."""
    return next(iter(state["band"].values()))


def in_unit(doc: Document, state: Entry, percent: float) -> float:
    """A percentage in the unit of a state's band."""
    centre, step, _ = scale(doc)
    return centre + step * percent if "us" in state["band"] else percent


def sent(doc: Document, purpose: str = "flight-mode") -> list[float]:
    """What a selector's channel sends in each position of its control, in percent.

    For channels without rates, mixes or trim; travel and reversing are read.
    """
    channel = numbered(doc, selector(doc, purpose)["channel"])
    if {"rates", "curves", "trim_percent", "subtrim_percent"} & channel.keys():
        unfit("a channel with more to it")
    travel = channel.get("travel_percent", {"low": 100, "high": 100})
    turned = [-v if channel.get("reversed") else v for v in values(control_of(doc, channel))]
    return [v * travel["low" if v < 0 else "high"] / 100 for v in turned]


def state_at(doc: Document, percent: float, purpose: str = "flight-mode") -> Entry:
    def holds(state: Entry) -> bool:
        low, high = band(state)
        return low <= in_unit(doc, state, percent) < high

    found: Entry = first(s for s in selector(doc, purpose)["states"] if holds(s))
    return found


def failsafe(doc: Document) -> Entry:
    found: Entry = first([doc.get("receiver", {}).get("failsafe")], "no failsafe")
    return found


def at_failsafe(doc: Document, number: int) -> Entry:
    found: Entry = first(e for e in failsafe(doc)["channels"] if e["channel"] == number)
    return found


def cut(doc: Document) -> Entry:
    found: Entry = first(
        (o for o in doc.get("overrides", []) if o["purpose"] in CUTS), "no throttle cut"
    )
    return found


def cut_condition(doc: Document) -> Entry:
    found: Entry = first(c for c in cut(doc)["when"] if "positions" in c)
    return found


def electric(doc: Document) -> None:
    if doc["model"].get("propulsion", {}).get("kind") != "electric":
        unfit("not electric")


def free_switch(doc: Document) -> str:
    """A switch of two positions that does nothing yet, put on the radio."""
    doc["transmitter"]["controls"]["spare-switch"] = {"kind": "switch", "positions": ["off", "on"]}
    return "spare-switch"


def turn(movement: str) -> str:
    """What a surface does when its servo turns the other way."""
    other = {"up": "down", "down": "up", "left": "right", "right": "left"}
    stem, _, way = movement.rpartition("-")
    return f"{stem}-{other[way]}" if way in other else unfit("no such movement")


def toggle(entry: Entry, key: str = "reversed") -> None:
    entry[key] = not entry.get(key, False)


def needs_switch(channel: Entry, doc: Document) -> Entry:
    control = control_of(doc, channel)
    return control if control["kind"] == "switch" else unfit("no switch")


def supply(doc: Document) -> Entry:
    found: Entry = first([doc.get("power", {}).get("receiver_supply")], "no supply")
    return found


def pack(doc: Document) -> Entry:
    found: Entry = first([doc.get("power", {}).get("flight_pack")], "no flight pack")
    return found


def motors(doc: Document) -> list[Entry]:
    found: list[Entry] = doc.get("speed_controls") or unfit("no speed control")
    return found


def low_end_us(doc: Document) -> float:
    """The pulse at low stick without mixes and trim, of a throttle channel without a shape."""
    centre, step, limit = scale(doc)
    channel = throttle(doc)
    if {"curves", "rates"} & channel.keys():
        unfit("a shape of its own")
    radio = doc["transmitter"].get("output", {})
    travel = channel.get("travel_percent", {"low": 100, "high": 100})
    value = -100 * radio.get("native", {}).get("throttle", 1)
    for act in radio.get("order", ["reverse", "travel", "subtrim"]):
        if act == "reverse" and channel.get("reversed"):
            value = -value
        elif act == "travel":
            value *= travel["low" if value < 0 else "high"] / 100
        elif act == "subtrim":
            value += channel.get("subtrim_percent", 0)
    return float(centre + step * max(-limit, min(limit, value)))


def throttle_travel(doc: Document, end: str, percent: float) -> None:
    """Sets the travel of the low or high end of the throttle stick."""
    channel = throttle(doc)
    if "curves" in channel:
        unfit("a curve says how far")
    radio = doc["transmitter"].get("output", {})
    order = radio.get("order", ["reverse", "travel", "subtrim"])
    turned = channel.get("reversed", False) and order.index("reverse") < order.index("travel")
    if turned != (radio.get("native", {}).get("throttle", 1) == -1):
        end = {"low": "high", "high": "low"}[end]
    channel["travel_percent"] = {"low": 100, "high": 100, **channel.get("travel_percent", {})}
    channel["travel_percent"][end] = percent
