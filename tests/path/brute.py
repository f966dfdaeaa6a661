"""A second evaluation of a setup document, written apart from the one it judges.

It follows the design's page on the signal path, and nothing else: plain dictionaries in, arrays
out, a dense grid instead of exact sets. Percentages on the transmitter's scale, pulses in µs.
Channel and port numbers are taken to be unique, and every reference to exist.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

Document = dict[str, Any]
Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Indices = NDArray[np.int64]

MOTOR_STATES = ("stopped", "idling", "running", "full")
CONTINUOUS = ("stick", "slider", "knob")
FUZZ = 1e-9  # what floating point may add to a value that is exact on paper
BESIDE = 1e-6  # how far from a threshold a value stands in for "just beyond it"

_AXIS_OF_FUNCTION = {
    "aileron": "roll",
    "flaperon": "roll",
    "elevator": "pitch",
    "rudder": "yaw",
    "throttle": "thrust",
}


# --- the document ---------------------------------------------------------------------------


def controls(doc: Document) -> dict[str, Any]:
    """The transmitter's controls by id."""
    found: dict[str, Any] = doc["transmitter"]["controls"]
    return found


def is_continuous(doc: Document, control: str) -> bool:
    return controls(doc)[control]["kind"] in CONTINUOUS


def position_names(doc: Document, control: str) -> list[str]:
    spec = controls(doc)[control]
    return ["released", "pressed"] if spec["kind"] == "button" else list(spec["positions"])


def position_values(doc: Document, control: str) -> Floats:
    """Percentages of a switch's positions, in order."""
    spec = controls(doc)[control]
    count = len(position_names(doc, control))
    return np.array(spec.get("values", np.linspace(-100.0, 100.0, count)), dtype=float)


def channel_entry(doc: Document, number: int) -> dict[str, Any]:
    return next(c for c in doc["channels"] if c["channel"] == number)


def _by_id(doc: Document) -> dict[str, Any]:
    return {i["id"]: i for i in doc.get("inputs", [])}


def driving_control(doc: Document, number: int) -> str | None:
    """The control behind a channel, through its input where there is one."""
    name = channel_entry(doc, number).get("control")
    return _by_id(doc)[name]["control"] if name in _by_id(doc) else name


def axis_stick(doc: Document, axis: str) -> str | None:
    """The stick of one axis: as written, else by the function of a channel that it drives."""
    sticks = {c: spec for c, spec in controls(doc).items() if spec["kind"] == "stick"}
    for name, spec in sticks.items():
        if spec.get("axis") == axis:
            return name
    for entry in doc["channels"]:
        driver = driving_control(doc, entry["channel"])
        free = driver in sticks and "axis" not in sticks[driver]
        if free and _AXIS_OF_FUNCTION.get(entry["function"]) == axis:
            return driver
    return None


def throttle_control(doc: Document) -> str | None:
    """The control of the throttle channels; without one, the thrust stick."""
    for entry in doc["channels"]:
        name = driving_control(doc, entry["channel"])
        if entry["function"] == "throttle" and name is not None:
            return name
    return axis_stick(doc, "thrust")


def output_settings(doc: Document) -> dict[str, Any]:
    given = doc["transmitter"].get("output", {})
    return {"centre_us": 1500, "us_per_percent": 4, "limit_percent": 150, **given}


def half_step_us(doc: Document) -> float:
    out = output_settings(doc)
    if "steps" not in out:
        return 0.0
    return float(out["limit_percent"] / (out["steps"] - 1) * out["us_per_percent"])


def tolerance_us(doc: Document) -> float:
    """How far a pulse may be from a written edge and still count as on it."""
    return max(0.5, half_step_us(doc))


def receiver_output(doc: Document, port: int) -> dict[str, Any]:
    return next(o for o in doc["receiver"]["outputs"] if o["port"] == port)


def stabiliser(doc: Document) -> dict[str, Any]:
    found: dict[str, Any] = doc.get("receiver", {}).get("stabiliser", {})
    return found


def axis_sign(axis: Mapping[str, Any], port: int) -> int | None:
    """The sign with which a stabiliser's axis goes to a port; None where it does not."""
    for entry in axis["ports"]:
        if entry == port:
            return 1
        if isinstance(entry, dict) and entry["port"] == port:
            return int(entry.get("sign", 1))
    return None


def mixed_axes(doc: Document, port: int) -> list[tuple[int, int]]:
    """(sign, channel) of each axis that the receiver itself sums into this port."""
    stab = stabiliser(doc)
    if stab.get("mixing", "none") == "none":
        return []
    signed = [(axis_sign(a, port), a["channel"]) for a in stab.get("axes", [])]
    return [(s, c) for s, c in signed if s is not None]


# --- what depends on what -------------------------------------------------------------------


def _named(doc: Document, when: Iterable[Mapping[str, Any]]) -> set[str]:
    found: set[str] = set()
    for condition in when:
        if "phase" in condition:
            for phase in doc.get("phases", []):
                found |= _named(doc, phase.get("when", []))
        else:
            found.add(condition["control"])
    return found


def _shape_controls(doc: Document, entry: Mapping[str, Any]) -> set[str]:
    found = {entry["control"]} if entry.get("control") else set()
    for part in (*entry.get("rates", []), *entry.get("curves", [])):
        found |= _named(doc, part.get("when", []))
    return found


def _trim_controls(doc: Document, entry: Mapping[str, Any]) -> set[str]:
    trim = entry.get("trim_percent", 0)
    if not isinstance(trim, list):
        return set()
    return set().union(*(_named(doc, t.get("when", [])) for t in trim))


def _source_controls(doc: Document, entry: Mapping[str, Any]) -> set[str]:
    source = _by_id(doc).get(entry.get("control", ""))
    if source is None:
        return _shape_controls(doc, entry)
    return _shape_controls(doc, source) | _trim_controls(doc, source)


def overrides_on(doc: Document, channels: Iterable[int]) -> list[dict[str, Any]]:
    wanted = set(channels)
    return [o for o in doc.get("overrides", []) if o["channel"] in wanted]


def override_controls(doc: Document, channels: Iterable[int]) -> set[str]:
    """The controls that set off an override on one of these channels."""
    return set().union(*(_named(doc, o["when"]) for o in overrides_on(doc, channels)))


def influences(doc: Document, channels: Iterable[int]) -> set[str]:
    """Every control that can have a part in these channels' outputs."""
    found: set[str] = set()
    wanted = set(channels)
    for number in wanted:
        entry = channel_entry(doc, number)
        found |= _source_controls(doc, entry) | _trim_controls(doc, entry)
    for mix in doc.get("mixes", []):
        if mix["to"] in wanted:
            found |= _named(doc, mix.get("when", []))
            found |= _mix_source_controls(doc, mix["from"])
    return found | override_controls(doc, wanted)


def _mix_source_controls(doc: Document, source: Mapping[str, Any]) -> set[str]:
    if "control" in source:
        return {source["control"]}
    if "input" in source:
        entry = _by_id(doc)[source["input"]]
        return _shape_controls(doc, entry) | _trim_controls(doc, entry)
    return _source_controls(doc, channel_entry(doc, source["channel"]))


def port_channels(doc: Document, port: int) -> list[int]:
    """The channels that a port sums, its own first where it has a part in it."""
    own = receiver_output(doc, port)["channel"]
    axes = mixed_axes(doc, port)
    if not axes:
        return [own]
    summed = [channel for _, channel in axes]
    if stabiliser(doc)["mixing"] in ("swashplate", "motors"):
        summed.append(own)
    return list(dict.fromkeys(summed))


# --- one evaluation -------------------------------------------------------------------------


@dataclass(frozen=True)
class Channel:
    """One channel after each step of the signal path; arrays of the grid's length, percent."""

    shape: Floats
    mixed: Floats
    demand: Floats
    unclipped: Floats
    output: Floats
    clipped: Floats
    us: Floats
    overridden: Mask
    tied: Mask  # so near the middle of two steps that either is right


@dataclass(frozen=True)
class Selection:
    """A selector: which states hold the value (states × grid), and the margin, NaN for none."""

    names: list[str]
    inside: Mask
    margin_us: Floats
    us: Floats

    def at(self, i: int) -> list[str]:
        return [n for n, held in zip(self.names, self.inside[:, i], strict=True) if held]

    def sets(self) -> set[frozenset[str]]:
        """Every set of states that is met."""
        found = np.unique(self.inside, axis=1).T
        return {frozenset(n for n, h in zip(self.names, row, strict=True) if h) for row in found}


def expo_curve(x: Floats, rate: float, expo: float) -> Floats:
    """Step 1 for x from −1 to 1."""
    f = abs(expo) / 100

    def soft(y: Floats) -> Floats:
        return (1 - f) * y + f * y**3

    if expo >= 0:
        return rate * soft(x)
    return rate * np.sign(x) * (1 - soft(1 - np.abs(x)))


def scaled(x: Floats, low: float, high: float) -> Floats:
    return x * np.where(x < 0, low, high) / 100


def rounded(x: Floats, limit: float, steps: int) -> tuple[Floats, Mask]:
    """Step 9, and where x is a tie as far as floating point can tell."""
    step = 2 * limit / (steps - 1)
    place = (x + limit) / step
    below = np.floor(place)
    rest = place - below
    tied = np.abs(rest - 0.5) < FUZZ
    up = np.where(tied, x > -FUZZ, rest > 0.5)
    return -limit + step * np.clip(below + up, 0, steps - 1), tied


class Evaluation:
    """All facts of a document at the given positions, each worked out when first asked for.

    `positions`: control → position name, percentage, or an array: percentages of a continuous
    control, indices of a switch's positions. Controls not named are at rest: first position,
    centre, the throttle's low end.
    """

    def __init__(self, doc: Document, positions: Mapping[str, Any]) -> None:
        self.doc = doc
        self.count = max([1, *(np.size(p) for p in positions.values())])
        self.value: dict[str, Floats] = {}
        self.place: dict[str, Indices] = {}
        self._channels: dict[int, Channel] = {}
        for control in controls(doc):
            self._stand(control, positions.get(control))

    def _stand(self, control: str, position: Any) -> None:
        if is_continuous(self.doc, control):
            low = control == throttle_control(self.doc)
            at = (-100.0 if low else 0.0) if position is None else position
            self.value[control] = np.broadcast_to(np.asarray(at, dtype=float), (self.count,))
            return
        names = position_names(self.doc, control)
        at = names.index(position) if isinstance(position, str) else position
        at = 0 if at is None else at
        place = np.broadcast_to(np.asarray(at, dtype=np.int64), (self.count,))
        self.place[control] = place
        self.value[control] = position_values(self.doc, control)[place]

    # conditions

    def holds(self, when: Sequence[Mapping[str, Any]]) -> Mask:
        held = np.ones(self.count, dtype=bool)
        for condition in when:
            held &= self._condition(condition)
        return held

    def _condition(self, condition: Mapping[str, Any]) -> Mask:
        if "phase" in condition:
            phases = [p["name"] for p in self.doc.get("phases", [])]
            return np.isin(self.phase, [phases.index(n) for n in condition["phase"]])
        control = condition["control"]
        if "positions" in condition:
            names = position_names(self.doc, control)
            wanted = [names.index(n) for n in condition["positions"]]
            return np.isin(self.place[control], wanted)
        held = np.ones(self.count, dtype=bool)
        if "above_percent" in condition:
            held &= self.value[control] > condition["above_percent"]
        if "below_percent" in condition:
            held &= self.value[control] < condition["below_percent"]
        return held

    @cached_property
    def phase(self) -> Indices:
        """Index of the phase; −1 where none holds."""
        phase = np.full(self.count, -1, dtype=np.int64)
        for i, entry in reversed(list(enumerate(self.doc.get("phases", [])))):
            phase[self.holds(entry.get("when", []))] = i
        return phase

    def _first_that_holds(
        self,
        entries: Sequence[Mapping[str, Any]],
        result: Callable[[Mapping[str, Any]], Floats | float],
        otherwise: Floats,
    ) -> Floats:
        found = otherwise
        for entry in reversed(entries):
            found = np.where(self.holds(entry.get("when", [])), result(entry), found)
        return found

    # steps 1 to 5

    def _shaped(self, entry: Mapping[str, Any]) -> Floats:
        u = self.value[entry["control"]]
        x = u / 100
        by_rate = self._first_that_holds(
            entry.get("rates", []),
            lambda r: expo_curve(x, r.get("rate_percent", 100), r.get("expo_percent", 0)),
            expo_curve(x, 100, 0),
        )
        return self._first_that_holds(
            entry.get("curves", []),
            lambda c: np.interp(u, *np.array(c["points"], dtype=float).T),
            by_rate,
        )

    def _trim(self, entry: Mapping[str, Any]) -> Floats:
        trim = entry.get("trim_percent", 0)
        if not isinstance(trim, list):
            return np.full(self.count, float(trim))
        return self._first_that_holds(trim, lambda t: float(t["percent"]), np.zeros(self.count))

    def _input(self, name: str) -> Floats:
        entry = _by_id(self.doc)[name]
        return self._shaped(entry) + self._trim(entry)

    def shape(self, number: int) -> Floats:
        entry = channel_entry(self.doc, number)
        driver = entry.get("control")
        if driver is None:
            return np.zeros(self.count)
        return self._input(driver) if driver in _by_id(self.doc) else self._shaped(entry)

    def _mix_source(self, source: Mapping[str, Any]) -> Floats:
        if "channel" in source:
            return self.shape(source["channel"])
        if "input" in source:
            return self._input(source["input"])
        return self.value[source["control"]]

    def _mix(self, mix: Mapping[str, Any]) -> Floats:
        rate = mix["rate_percent"]
        added = scaled(self._mix_source(mix["from"]), rate["low"], rate["high"])
        active = self.holds(mix.get("when", []))
        return np.where(active, added + mix.get("offset_percent", 0), 0.0)

    def _overridden(self, number: int, acts: str, otherwise: Floats) -> Floats:
        entries = [o for o in overrides_on(self.doc, [number]) if o.get("acts", "last") == acts]
        return self._first_that_holds(entries, lambda o: float(o["demand_percent"]), otherwise)

    # steps 6 to 10

    def _directed(self, entry: Mapping[str, Any], demand: Floats) -> Floats:
        given = output_settings(self.doc)
        travel = entry.get("travel_percent", {})
        x: Floats = demand * given.get("native", {}).get(entry["function"], 1)
        for act in given.get("order", ["reverse", "travel", "subtrim"]):
            if act == "reverse":
                x = -x if entry.get("reversed", False) else x
            elif act == "travel":
                x = scaled(x, travel.get("low", 100), travel.get("high", 100))
            else:
                x = x + entry.get("subtrim_percent", 0)
        return x

    def channel(self, number: int) -> Channel:
        if number not in self._channels:
            self._channels[number] = self._channel(number)
        return self._channels[number]

    def _channel(self, number: int) -> Channel:
        entry = channel_entry(self.doc, number)
        given = output_settings(self.doc)
        limit = float(given["limit_percent"])
        shape = self.shape(number)
        mixed = self._overridden(number, "before-mixes", shape)
        for mix in self.doc.get("mixes", []):
            if mix["to"] == number:
                mixed = mixed + self._mix(mix)
        demand = self._overridden(number, "last", mixed + self._trim(entry))
        unclipped = self._directed(entry, demand)
        output = np.clip(unclipped, -limit, limit)
        tied = np.zeros(self.count, dtype=bool)
        if "steps" in given:
            output, tied = rounded(output, limit, given["steps"])
        return Channel(
            shape=shape,
            mixed=mixed,
            demand=demand,
            unclipped=unclipped,
            output=output,
            clipped=np.maximum(np.abs(unclipped) - limit, 0.0),
            us=given["centre_us"] + given["us_per_percent"] * output,
            overridden=self.override_holds([number]),
            tied=tied,
        )

    def override_holds(self, channels: Iterable[int]) -> Mask:
        held = np.zeros(self.count, dtype=bool)
        for override in overrides_on(self.doc, channels):
            held |= self.holds(override["when"])
        return held

    # the receiver

    def port(self, port: int) -> Floats:
        """Pulse at a port, µs. What the receiver itself sums is taken before rounding."""
        given = output_settings(self.doc)
        limit, scale = float(given["limit_percent"]), given["us_per_percent"]
        if mixed_axes(self.doc, port):
            return port_pulse(
                self.doc, port, lambda n: np.clip(self.channel(n).unclipped, -limit, limit) * scale
            )
        return port_pulse(self.doc, port, lambda n: self.channel(n).output * scale)

    def motor_pulse(self, port: int) -> Floats:
        """Pulse by which a motor is judged: without the stabiliser's part where it mixes motors."""
        given = output_settings(self.doc)
        own = receiver_output(self.doc, port)
        if stabiliser(self.doc).get("mixing", "none") not in ("swashplate", "motors"):
            return self.port(port)
        deviation = self.channel(own["channel"]).output * given["us_per_percent"]
        return output_pulse(self.doc, own, deviation)

    def selection(self, selector: Mapping[str, Any]) -> Selection:
        return select(self.doc, selector, self.channel(selector["channel"]).us)


def evaluate(doc: Document, positions: Mapping[str, Any]) -> Evaluation:
    """All stages, ports, selectors and motors of a document at these positions."""
    return Evaluation(doc, positions)


# --- receiver, states, motors ---------------------------------------------------------------


def output_pulse(doc: Document, output: Mapping[str, Any], deviation: Floats) -> Floats:
    """The output's own part: its direction, travel, centre and limit."""
    travel = output.get("travel_percent", {})
    x = -deviation if output.get("reversed", False) else deviation
    x = scaled(x, travel.get("low", 100), travel.get("high", 100))
    us: Floats = x + output.get("centre_us", output_settings(doc)["centre_us"])
    return np.clip(us, *output["limit_us"]) if "limit_us" in output else us


def port_pulse(doc: Document, port: int, deviation: Callable[[int], Floats]) -> Floats:
    """Pulse at a port from its channels' deviations from centre, µs."""
    output = receiver_output(doc, port)
    axes = mixed_axes(doc, port)
    if not axes:
        return output_pulse(doc, output, deviation(output["channel"]))
    stab, given = stabiliser(doc), output_settings(doc)
    part = stab.get("mix_percent", 100) / 100
    total: Floats = sum((sign * part * deviation(channel) for sign, channel in axes), np.zeros(1))
    alone = output["channel"] not in (channel for _, channel in axes)
    if stab["mixing"] in ("swashplate", "motors") and alone:
        total = total + deviation(output["channel"])
    limit = stab.get("mix_limit_percent", given["limit_percent"]) * given["us_per_percent"]
    return output_pulse(doc, output, np.clip(total, -limit, limit))


def band_us(doc: Document, band: Mapping[str, Any]) -> tuple[float, float]:
    if "us" in band:
        return float(band["us"][0]), float(band["us"][1])
    given = output_settings(doc)
    low, high = (given["centre_us"] + given["us_per_percent"] * p for p in band["percent"])
    return float(low), float(high)


def select(doc: Document, selector: Mapping[str, Any], us: Floats) -> Selection:
    """States and margins of a selector for pulses on its channel, µs."""
    bands = [band_us(doc, s["band"]) for s in selector["states"]]
    near = tolerance_us(doc) + FUZZ
    inside = np.array([(us >= low - near) & (us <= high + near) for low, high in bands])
    held = inside.copy()
    for (a, (_, a_high)), (b, (b_low, b_high)) in _ordered_pairs(bands):
        if b_high > a_high:
            inside[a] &= ~(held[b] & _on_shared_end(us, a_high, b_low, near))
    edges = np.array(_changing_edges(doc, bands))
    margin = np.full(us.shape, np.nan)
    if edges.size:
        nearest = np.abs(us[None, :] - edges[:, None]).min(axis=0)
        margin = np.maximum(nearest - half_step_us(doc), 0.0)
        margin[inside.sum(axis=0) != 1] = np.nan
    return Selection([s["state"] for s in selector["states"]], inside, margin, us)


def _on_shared_end(us: Floats, a_high: float, b_low: float, near: float) -> Mask:
    """Where a pulse lies on the end that two bands share, as far as the tolerance can tell.

    Ends within the tolerance of each other are one; of others a pulse may equal both.
    """
    on_high, on_low = np.abs(us - a_high) <= near, np.abs(us - b_low) <= near
    if abs(a_high - b_low) <= near:
        return on_high | on_low
    return on_high & on_low if a_high < b_low else np.zeros(us.shape, dtype=bool)


def _ordered_pairs(bands: Sequence[tuple[float, float]]) -> Iterable[Any]:
    for x, y in combinations(list(enumerate(bands)), 2):
        yield x, y
        yield y, x


def _changing_edges(doc: Document, bands: Sequence[tuple[float, float]]) -> list[float]:
    given = output_settings(doc)
    reach = given["limit_percent"] * given["us_per_percent"] - FUZZ
    found = []
    for edge in {end for band in bands for end in band}:
        below = [low < edge <= high for low, high in bands]
        above = [low <= edge < high for low, high in bands]
        if abs(edge - given["centre_us"]) < reach and below != above:
            found.append(edge)
    return found


def motor_state(spec: Mapping[str, Any], us: Floats) -> Indices:
    """Index in MOTOR_STATES, for a speed control or an engine's throttle servo."""
    if "idle_us" in spec:
        low, high = spec["idle_us"]
        idling = (us >= low - FUZZ) & (us <= high + FUZZ)
        state = np.where(idling, 1, 2)
        return np.where(us <= spec["stop_below_us"] + FUZZ, 0, state)
    if "stopped_us" in spec:
        low, high = spec["stopped_us"]
        stopped = (us >= low - FUZZ) & (us <= high + FUZZ)
    else:
        stopped = us <= spec["stop_below_us"] + FUZZ
    return np.where(stopped, 0, np.where(us >= spec["full_above_us"] - FUZZ, 3, 2))


def motors(doc: Document) -> list[dict[str, Any]]:
    """Speed controls and engine, in the document's order."""
    engine = [doc["engine"]] if "engine" in doc else []
    return [*doc.get("speed_controls", []), *engine]


# --- everything reachable -------------------------------------------------------------------


def _conditions(node: Any) -> Iterable[Mapping[str, Any]]:
    if isinstance(node, dict):
        if "control" in node and ("above_percent" in node or "below_percent" in node):
            yield node
        for child in node.values():
            yield from _conditions(child)
    elif isinstance(node, list):
        for child in node:
            yield from _conditions(child)


def thresholds(doc: Document, control: str) -> set[float]:
    found: set[float] = set()
    for condition in _conditions(doc):
        if condition["control"] == control:
            ends = (condition.get("above_percent"), condition.get("below_percent"))
            found |= {float(x) for x in ends if x is not None}
    return found


def _curve_points(doc: Document, control: str) -> set[float]:
    drivers = {control} | {i["id"] for i in doc.get("inputs", []) if i["control"] == control}
    shaped = [*doc["channels"], *doc.get("inputs", [])]
    curves = [c for s in shaped if s.get("control") in drivers for c in s.get("curves", [])]
    return {float(x) for curve in curves for x, _ in curve["points"]}


def grid_points(doc: Document, control: str, count: int, beside: bool = True) -> Floats:
    """Values of a continuous control: evenly spaced, and where something begins or bends."""
    edges = thresholds(doc, control)
    near = {x + d for x in edges for d in (-BESIDE, BESIDE)} if beside else set()
    exact = edges | _curve_points(doc, control) | {-100.0, 0.0, 100.0}
    return np.unique(np.clip(np.array([*np.linspace(-100, 100, count), *exact, *near]), -100, 100))


def grid(
    doc: Document, wanted: Iterable[str], beside: bool = True, fixed: Iterable[str] = ()
) -> dict[str, Any]:
    """Positions that cover every combination of the wanted controls, flattened."""
    names = sorted(set(wanted) - set(fixed))
    smooth = [n for n in names if is_continuous(doc, n)]
    count = {0: 1, 1: 201, 2: 41}.get(len(smooth), 13)
    axes: list[NDArray[Any]] = [
        grid_points(doc, n, count, beside)
        if n in smooth
        else np.arange(len(position_names(doc, n)))
        for n in names
    ]
    mesh = np.meshgrid(*axes, indexing="ij") if axes else []
    return {n: m.ravel() for n, m in zip(names, mesh, strict=True)}


@dataclass(frozen=True)
class Extremes:
    """Least and greatest value found, and the positions that give them."""

    low: float
    high: float
    low_at: dict[str, Any]
    high_at: dict[str, Any]


def extremes(
    doc: Document, wanted: Iterable[str], fact: Callable[[Evaluation], Floats], beside: bool = True
) -> Extremes:
    """Extremes of a fact over every combination of the wanted controls."""
    positions = grid(doc, wanted, beside)
    values = np.broadcast_to(fact(evaluate(doc, positions)), (_size(positions),))
    low, low_at = _refined(doc, positions, values, fact, -1, beside)
    high, high_at = _refined(doc, positions, values, fact, 1, beside)
    return Extremes(low, high, low_at, high_at)


def _size(positions: Mapping[str, Any]) -> int:
    return max([1, *(np.size(p) for p in positions.values())])


def _refined(
    doc: Document,
    positions: Mapping[str, Any],
    values: Floats,
    fact: Callable[[Evaluation], Floats],
    sense: int,
    beside: bool,
) -> tuple[float, dict[str, Any]]:
    """The grid's best point, then finer grids around it."""
    best = int(np.argmax(sense * values))
    at = {n: p[best] for n, p in positions.items()}
    value = float(values[best])
    smooth = [n for n in positions if is_continuous(doc, n)]
    width = {1: 1.0, 2: 5.0}.get(len(smooth), 17.0)
    for _ in range(4 if smooth and beside else 0):
        axes = [
            np.unique(np.clip(at[n] + np.linspace(-width, width, 9), -100, 100)) for n in smooth
        ]
        fine = dict(zip(smooth, (m.ravel() for m in np.meshgrid(*axes)), strict=True))
        found = np.broadcast_to(fact(evaluate(doc, {**at, **fine})), (_size(fine),))
        i = int(np.argmax(sense * found))
        if sense * found[i] > sense * value:
            value, at = float(found[i]), {**at, **{n: float(p[i]) for n, p in fine.items()}}
        width /= 4
    return value, at


def channel_extremes(doc: Document, number: int, beside: bool = True) -> Extremes:
    """Reachable output of a channel in percent, overrides included."""
    wanted = influences(doc, [number])
    return extremes(doc, wanted, lambda e: e.channel(number).output, beside)


def port_extremes(doc: Document, port: int, beside: bool = True) -> Extremes:
    """Reachable pulse at a port in µs, overrides included."""
    wanted = influences(doc, port_channels(doc, port))
    return extremes(doc, wanted, lambda e: e.port(port), beside)


def most_clipped(doc: Document, number: int) -> float:
    """The most that the limit cuts off a channel, percent."""
    wanted = influences(doc, [number])
    return extremes(doc, wanted, lambda e: e.channel(number).clipped).high


def states_met(doc: Document, selector: Mapping[str, Any]) -> set[frozenset[str]]:
    """Every set of states that some combination gives; the empty set is a gap."""
    positions = grid(doc, influences(doc, [selector["channel"]]))
    return evaluate(doc, positions).selection(selector).sets()


def states_by_combination(
    doc: Document, selector: Mapping[str, Any]
) -> dict[tuple[tuple[str, str], ...], set[frozenset[str]]]:
    """Sets of states met in each combination of the switches that influence a selector."""
    wanted = influences(doc, [selector["channel"]])
    positions = grid(doc, wanted)
    switches = sorted(n for n in wanted if not is_continuous(doc, n))
    selection = evaluate(doc, positions).selection(selector)
    found: dict[tuple[tuple[str, str], ...], set[frozenset[str]]] = {}
    for i in range(selection.inside.shape[1]):
        names = tuple((n, position_names(doc, n)[int(positions[n][i])]) for n in switches)
        found.setdefault(names, set()).add(frozenset(selection.at(i)))
    return found


# --- motors ---------------------------------------------------------------------------------


def motor_channels(doc: Document, port: int) -> list[int]:
    """The channels by which the motor on a port is judged."""
    if stabiliser(doc).get("mixing", "none") in ("swashplate", "motors"):
        return [receiver_output(doc, port)["channel"]]
    return port_channels(doc, port)


def motor_at_throttle_end(doc: Document, motor: Mapping[str, Any], end: str) -> str | None:
    """Worst state with the throttle control at its `low` or `high` end and no override held."""
    control = throttle_control(doc)
    if control is None:
        return None
    channels = motor_channels(doc, motor["port"])
    positions = grid(doc, influences(doc, channels), fixed=[control])
    at = evaluate(doc, {**positions, control: _throttle_end(doc, control, motor, end)})
    return worst(motor, at.motor_pulse(motor["port"]), ~at.override_holds(channels))


def _throttle_end(doc: Document, control: str, motor: Mapping[str, Any], end: str) -> float | int:
    centre = end == "low" and "stopped_us" in motor
    if is_continuous(doc, control):
        return {"low": 0.0 if centre else -100.0, "high": 100.0}[end]
    values = position_values(doc, control)
    if centre:
        return int(np.argmin(np.abs(values)))
    return int(np.argmin(values) if end == "low" else np.argmax(values))


def motor_under_override(
    doc: Document, motor: Mapping[str, Any], override: Mapping[str, Any]
) -> str | None:
    """Worst state over every combination in which the override's condition holds."""
    channels = [*motor_channels(doc, motor["port"]), override["channel"]]
    at = evaluate(doc, grid(doc, influences(doc, channels)))
    return worst(motor, at.motor_pulse(motor["port"]), at.holds(override["when"]))


def motor_anywhere(doc: Document, motor: Mapping[str, Any]) -> str | None:
    """Worst state over everything reachable."""
    positions = grid(doc, influences(doc, motor_channels(doc, motor["port"])))
    at = evaluate(doc, positions)
    return worst(motor, at.motor_pulse(motor["port"]), np.ones(at.count, dtype=bool))


def worst(motor: Mapping[str, Any], us: Floats, counts: Mask) -> str | None:
    """The worst state where `counts`; None where nothing does."""
    states = np.broadcast_to(motor_state(motor, us), counts.shape)[counts]
    return MOTOR_STATES[int(states.max())] if states.size else None


# --- failsafe -------------------------------------------------------------------------------


def failsafe_entry(doc: Document, number: int) -> dict[str, Any] | None:
    entries = doc.get("receiver", {}).get("failsafe", {}).get("channels", [])
    return next((e for e in entries if e["channel"] == number), None)


def failsafe_action(doc: Document, channels: Iterable[int]) -> str | None:
    """What a port of these channels does when the link is lost; None where it is not written."""
    actions = [(failsafe_entry(doc, n) or {}).get("action") for n in channels]
    if None in actions:
        return None
    return next((a for a in ("hold", "no-pulses") if a in actions), "preset")


def failsafe_deviation(doc: Document, number: int) -> Floats:
    entry = failsafe_entry(doc, number)
    if entry is None:
        raise LookupError(number)
    given = output_settings(doc)
    return np.array([entry["output_percent"] * given["us_per_percent"]], dtype=float)


def failsafe_port(doc: Document, port: int) -> float | None:
    """Pulse at a port where every channel of it is preset."""
    if failsafe_action(doc, port_channels(doc, port)) != "preset":
        return None
    return float(port_pulse(doc, port, lambda n: failsafe_deviation(doc, n))[0])


def failsafe_selection(doc: Document, selector: Mapping[str, Any]) -> Selection | None:
    if failsafe_action(doc, [selector["channel"]]) != "preset":
        return None
    us = output_settings(doc)["centre_us"] + failsafe_deviation(doc, selector["channel"])
    return select(doc, selector, us)


def failsafe_motor(doc: Document, motor: Mapping[str, Any]) -> str | None:
    """State of a motor at failsafe, where the document settles it."""
    action = failsafe_action(doc, motor_channels(doc, motor["port"]))
    if action == "hold":
        return motor_anywhere(doc, motor)
    if action != "preset":
        return None
    if stabiliser(doc).get("mixing", "none") in ("swashplate", "motors"):
        own = receiver_output(doc, motor["port"])
        us = output_pulse(doc, own, failsafe_deviation(doc, own["channel"]))
    else:
        us = port_pulse(doc, motor["port"], lambda n: failsafe_deviation(doc, n))
    return worst(motor, us, np.ones(1, dtype=bool))


# --- directions -----------------------------------------------------------------------------


def sign_changes(
    doc: Document,
    stick: str,
    channels: Iterable[int],
    fact: Callable[[Evaluation], Floats],
) -> set[int]:
    """Signs of a fact's change as a stick goes from −100 to +100, no override held at either."""
    numbers = list(channels)
    positions = grid(doc, influences(doc, numbers), fixed=[stick])
    low = evaluate(doc, {**positions, stick: -100.0})
    high = evaluate(doc, {**positions, stick: 100.0})
    change = fact(high) - fact(low)
    change[np.abs(change) < FUZZ] = 0
    free = ~(low.override_holds(numbers) | high.override_holds(numbers))
    return {int(s) for s in np.unique(np.sign(np.broadcast_to(change, free.shape)[free]))}


def channel_direction(doc: Document, axis: str, number: int) -> set[int] | None:
    """Signs of a channel's change with an axis's stick; None where there is no such stick."""
    stick = axis_stick(doc, axis)
    if stick is None:
        return None
    return sign_changes(doc, stick, [number], lambda e: e.channel(number).output.copy())


def judged(signs: set[int]) -> int | None:
    """One sign of several: any −1 fails; none without any movement."""
    return -1 if -1 in signs else 1 if 1 in signs else None


_UP = {"trailing-edge-up": 1, "trailing-edge-down": -1}
_RIGHT = {"trailing-edge-right": 1, "trailing-edge-left": -1}
_WHEEL = {"wheel-right": 1, "wheel-left": -1}
_SIDE = {"right": 1, "left": -1}
_MOVEMENTS = {"up": _UP, "right": _RIGHT, "wheel": _WHEEL}


def phys(doc: Document, axis: str, servo: Mapping[str, Any]) -> int | None:
    """+1 where a growing pulse turns the model positively about the axis."""
    surface = next((s for s in doc.get("surfaces", []) if s["id"] == servo.get("surface")), None)
    if surface is None or "increasing_pulse" not in servo:
        return None
    turns = _turning(doc, axis, surface)
    if turns is None:
        return None
    movement, sign = turns
    moves = _MOVEMENTS[movement].get(servo["increasing_pulse"])
    return None if moves is None else moves * sign


def _turning(doc: Document, axis: str, surface: Mapping[str, Any]) -> tuple[str, int] | None:
    """The movement that turns positively, and its sign."""
    function, side = surface["function"], _SIDE.get(surface.get("side", ""))
    tail = doc["model"].get("tail", "conventional")
    if axis == "roll" and function in ("aileron", "flaperon", "elevon") and side:
        return "up", side
    if axis == "pitch" and function == "elevator":
        return "up", -1 if tail == "canard" else 1
    if axis == "pitch" and function in ("elevon", "v-tail"):
        return "up", 1
    if axis == "yaw" and function == "rudder":
        return "right", 1
    if axis == "yaw" and function == "steering":
        return "wheel", -1 if surface.get("side") == "rear" else 1
    if axis == "yaw" and function == "v-tail" and side:
        return "up", side if tail == "inverted-v-tail" else -side
    return None


@dataclass(frozen=True)
class Directions:
    """Signs of one axis on one servo; None where the document does not settle one."""

    axis: str
    port: int
    servo: int
    direct: int | None
    target: int | None
    correction: int | None


def directions(doc: Document) -> list[Directions]:
    """Every axis on every servo whose port it commands or corrects."""
    ports = {o["port"] for o in doc.get("receiver", {}).get("outputs", [])}
    return [
        _directions(doc, axis, i, servo)
        for i, servo in enumerate(doc.get("servos", []))
        if servo["port"] in ports
        for axis in ("roll", "pitch", "yaw")
    ]


def _directions(doc: Document, name: str, index: int, servo: Mapping[str, Any]) -> Directions:
    port = servo["port"]
    output = receiver_output(doc, port)
    turn = phys(doc, name, servo)
    seen = None if turn is None else turn * (-1 if output.get("reversed", False) else 1)
    axis = next((a for a in stabiliser(doc).get("axes", []) if a["axis"] == name), None)
    sign = None if axis is None else axis_sign(axis, port)
    if axis is None or sign is None:
        direct = _direct(doc, name, output["channel"], 1, seen)
        return Directions(name, port, index, direct, None, None)
    mixing = stabiliser(doc).get("mixing", "none") != "none"
    number = axis["channel"] if mixing else output["channel"]
    direct = _direct(doc, name, number, sign if mixing else 1, seen)
    expected = stabiliser(doc).get("expects", {}).get(name, {}).get("direction", 1)
    arrives = channel_direction(doc, name, axis["channel"])
    target = None if arrives is None else judged({s * expected for s in arrives})
    if stabiliser(doc).get("mixing") in ("swashplate", "motors"):
        return Directions(name, port, index, None, target, None)
    sense = -1 if axis["sense"] == "reversed" else 1
    correction = None if seen is None else sense * sign * seen
    return Directions(name, port, index, direct, target, correction)


def _direct(doc: Document, axis: str, number: int, sign: int, seen: int | None) -> int | None:
    signs = channel_direction(doc, axis, number)
    if signs is None or seen is None:
        return None
    return judged({s * sign * seen for s in signs})


# --- surfaces -------------------------------------------------------------------------------


def deflection(doc: Document, servo: Mapping[str, Any], us: Floats) -> Floats:
    """Degrees that the horn has turned from neutral, unsigned; NaN where nothing assembles.

    The horn's end lies where a circle about the hinge meets the pushrod's circle about the
    arm's end, on the same side of the line between the centres as at neutral.
    """
    rods = servo["linkage"]
    arm, horn, base = rods["arm_mm"], rods["horn_mm"], rods["base_mm"]
    neutral = np.radians([rods.get("arm_at_neutral_deg", 90.0)])
    horn_neutral = np.radians(rods.get("horn_at_neutral_deg", 90.0))
    centre = servo.get("centre_us", _port_centre(doc, servo["port"]))
    turned = neutral + np.radians(servo["degrees_per_us"] * (us - centre))

    def seen_from_hinge(theta: Floats) -> tuple[Floats, Floats]:
        x, y = arm * np.cos(theta) - base, arm * np.sin(theta)
        return np.hypot(x, y), np.arctan2(y, x)

    far, angle = seen_from_hinge(neutral)
    rod_squared = horn**2 + far**2 - 2 * horn * far * np.cos(horn_neutral - angle)
    branch = np.sign(_wrapped(horn_neutral - angle))
    far, angle = seen_from_hinge(turned)
    cosine = (horn**2 + far**2 - rod_squared) / (2 * horn * far)
    opening = np.arccos(np.where(np.abs(cosine) <= 1, cosine, np.nan))
    return np.abs(np.degrees(_wrapped(angle + branch * opening - horn_neutral)))


def _wrapped(angle: Floats) -> Floats:
    """An angle between −π and π."""
    return np.arctan2(np.sin(angle), np.cos(angle))


def _port_centre(doc: Document, port: int) -> float:
    given = output_settings(doc)["centre_us"]
    return float(receiver_output(doc, port).get("centre_us", given))
