"""Hypothesis strategies for setup documents, as plain JSON-able dictionaries.

Documents of `setups` are valid and consistent in themselves, and small: at most four controls
have a part in one channel or port, at most two of them continuous, so that a dense grid can
cover every combination. The models are invented.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

if TYPE_CHECKING:
    from collections.abc import Callable

Document = dict[str, Any]

STICKS = {"roll-stick": "roll", "pitch-stick": "pitch", "yaw-stick": "yaw", "gas": "thrust"}
OWN_STICK = {
    "throttle": "gas",
    "aileron": "roll-stick",
    "flaperon": "roll-stick",
    "elevator": "pitch-stick",
    "rudder": "yaw-stick",
    "steering": "yaw-stick",
    "collective": "gas",
}
FUNCTIONS = (
    "throttle",
    "aileron",
    "elevator",
    "rudder",
    "flaperon",
    "elevon",
    "v-tail",
    "flap",
    "steering",
    "gear",
    "collective",
    "other",
)
CONVENTIONAL = ("aileron", "elevator", "rudder", "aileron", "throttle")
SELECTING = ("flight-mode", "recovery", "gain")
SURFACES = ("aileron", "flaperon", "elevator", "rudder", "elevon", "v-tail", "steering", "flap")
AXIS_SURFACES = {
    "roll": ["aileron", "aileron", "elevon"],
    "pitch": ["elevator", "elevon", "v-tail"],
    "yaw": ["rudder", "v-tail", "steering"],
}
MOVEMENTS = (
    "trailing-edge-up",
    "trailing-edge-down",
    "trailing-edge-left",
    "trailing-edge-right",
    "wheel-left",
    "wheel-right",
)
BEHAVIOURS = ("off", "rate-damping", "attitude-limit", "self-level", "heading-hold", "recovery")
SUMMED = ("elevon", "v-tail", "flaperon", "swashplate", "motors")
NAMES = ("Sanderling", "Avocet", "Guillemot", "Phalarope")


def halves(low: int, high: int) -> st.SearchStrategy[float]:
    """Numbers with at most one decimal, a half; whole ones as integers."""
    return st.integers(2 * low, 2 * high).map(lambda n: n // 2 if n % 2 == 0 else n / 2)


PERCENT = st.one_of(st.sampled_from([-100, -50, 0, 50, 100]), halves(-100, 100))
THRESHOLD = st.one_of(st.sampled_from([0, 50, -50, 95]), st.integers(-99, 99))
TRAVEL = st.fixed_dictionaries({"low": st.integers(0, 150), "high": st.integers(0, 150)})
MIX_RATE = st.fixed_dictionaries({"low": st.integers(-100, 100), "high": st.integers(-100, 100)})
OUTPUT = st.fixed_dictionaries(
    {},
    optional={
        "centre_us": st.sampled_from([1500, 1520]),
        "us_per_percent": st.sampled_from([4, 5, 5.12]),
        "limit_percent": st.sampled_from([100, 120, 125, 150]),
        "native": st.dictionaries(st.sampled_from(FUNCTIONS), st.sampled_from([-1, 1]), max_size=3),
        "order": st.permutations(["reverse", "travel", "subtrim"]),
    },
)


@dataclass
class _Bench:
    """What has been laid out so far, and which controls each part may use."""

    draw: Callable[..., Any]
    conventional: bool = False
    switches: list[str] = field(default_factory=list)
    smooth: list[str] = field(default_factory=list)
    controls: dict[str, Any] = field(default_factory=dict)
    phases: list[dict[str, Any]] = field(default_factory=list)
    phase_smooth: str | None = None
    inputs: list[dict[str, Any]] = field(default_factory=list)
    channels: list[dict[str, Any]] = field(default_factory=list)
    allowed: dict[int, list[str]] = field(default_factory=dict)  # continuous ones by channel

    def chance(self, of: int = 3) -> bool:
        """True once in `of` times; shrinks to False."""
        return bool(self.draw(st.integers(1, of)) == of)

    def pick(self, values: Any) -> Any:
        return self.draw(st.sampled_from(list(values)))

    def some(self, values: Any, low: int, high: int) -> list[Any]:
        """Between low and high different values, in the order given."""
        values = list(values)
        high = min(high, len(values))
        chosen = (
            self.draw(st.sets(st.sampled_from(values), min_size=low, max_size=high))
            if high
            else set()
        )
        return [v for v in values if v in chosen]

    def position_names(self, control: str) -> list[str]:
        spec = self.controls[control]
        return list(spec.get("positions", ["released", "pressed"]))

    def condition(self, smooth: list[str], phases: bool) -> dict[str, Any] | None:
        kinds = ["positions"] * bool(self.switches) * 2 + ["above", "below"] * bool(smooth)
        kinds += ["phase"] * (phases and bool(self.phases))
        if not kinds:
            return None
        kind = self.pick(kinds)
        if kind == "phase":
            names = [p["name"] for p in self.phases]
            return {"phase": self.some(names, 1, len(names))}
        if kind == "positions":
            control = self.pick(self.switches)
            names = self.position_names(control)
            return {"control": control, "positions": self.some(names, 1, len(names) - 1)}
        return {"control": self.pick(smooth), f"{kind}_percent": self.draw(THRESHOLD)}

    def when(self, smooth: list[str], phases: bool = True) -> list[dict[str, Any]]:
        """One or two conditions; none only where there is nothing to ask."""
        count = 2 if self.chance(4) else 1
        found = (self.condition(smooth, phases) for _ in range(count))
        return [c for c in found if c is not None]

    def maybe_when(self, entry: dict[str, Any], smooth: list[str]) -> dict[str, Any]:
        when = self.when(smooth) if self.chance(2) else []
        return {**entry, "when": when} if when else entry

    def shape(self, smooth: list[str]) -> dict[str, Any]:
        """Rates and curves, of a channel or an input."""
        found: dict[str, Any] = {}
        if self.chance(2):
            found["rates"] = [self.rate(smooth) for _ in range(self.draw(st.integers(1, 2)))]
        if self.chance(4):
            found["curves"] = [self.curve(smooth) for _ in range(self.draw(st.integers(1, 2)))]
        return found

    def rate(self, smooth: list[str]) -> dict[str, Any]:
        entry = {"rate_percent": self.draw(st.integers(0, 130))}
        if self.chance(2):
            entry["expo_percent"] = self.draw(st.integers(-100, 100))
        return self.maybe_when(entry, smooth)

    def curve(self, smooth: list[str]) -> dict[str, Any]:
        inner = self.draw(st.sets(st.integers(-99, 99), max_size=3))
        points = [[x, self.draw(PERCENT)] for x in (-100, *sorted(inner), 100)]
        return self.maybe_when({"points": points}, smooth)

    def trim(self, smooth: list[str]) -> dict[str, Any]:
        if not self.chance(3):
            return {}
        if self.chance(2):
            return {"trim_percent": self.draw(halves(-20, 20))}
        entries = [
            {"percent": self.draw(halves(-20, 20)), "when": self.when(smooth)}
            for _ in range(self.draw(st.integers(1, 2)))
        ]
        return {"trim_percent": entries}


# --- controls, phases, inputs ---------------------------------------------------------------


def _switch(bench: _Bench) -> dict[str, Any]:
    if bench.chance(4):
        spec: dict[str, Any] = {"kind": "button"}
        count = 2
    else:
        count = bench.pick([2, 2, 3, 3, 3, 4, 6])
        spec = {"kind": "switch", "positions": ["p1", "p2", "p3", "p4", "p5", "p6"][:count]}
    if bench.chance(3):
        spec["values"] = [bench.draw(PERCENT) for _ in range(count)]
    return spec


def _lay_out_controls(bench: _Bench) -> None:
    count = bench.draw(st.integers(0, 2 if bench.conventional else 3))
    bench.switches = [f"switch-{n}" for n in "abc"[:count]]
    for name in bench.switches:
        bench.controls[name] = _switch(bench)
    for name in STICKS if bench.conventional else bench.some(STICKS, 1, 4):
        bench.controls[name] = {"kind": "stick", "axis": STICKS[name]}
    if bench.chance(3):
        bench.controls["dial"] = {"kind": bench.pick(["slider", "knob"])}
    bench.smooth = [c for c, spec in bench.controls.items() if c not in bench.switches]


def _lay_out_phases(bench: _Bench) -> None:
    if bench.chance(4):
        bench.phase_smooth = bench.pick(bench.smooth)
    smooth = [bench.phase_smooth] if bench.phase_smooth else []
    for name in ("launch", "cruise", "landing")[: bench.draw(st.integers(1, 3))]:
        bench.phases.append(
            {"name": name, "when": bench.when(smooth, phases=False)}
            if bench.chance(2)
            else {"name": name}
        )
    bench.phases = [p for p in bench.phases if p.get("when", True)]


def _lay_out_inputs(bench: _Bench) -> None:
    for i in range(bench.draw(st.integers(1, 2))):
        control = bench.pick([*bench.smooth, *bench.switches])
        smooth = [control] if control in bench.smooth else []
        shaped = {**bench.shape(smooth), **bench.trim(smooth)}
        bench.inputs.append({"id": f"input-{i + 1}", "control": control, **shaped})


# --- channels, mixes, overrides -------------------------------------------------------------


def _pair(bench: _Bench, own: str | None = None) -> list[str]:
    """The continuous controls that one channel may use, its own stick among them if there is."""
    most = 1 if len(bench.switches) > 2 else 2
    first = [bench.phase_smooth] if bench.phase_smooth else []
    if own in bench.smooth and own not in first and len(first) < most and not bench.chance(4):
        first = [*first, own]
    rest = [c for c in bench.smooth if c not in first]
    return first + bench.some(rest, 0 if first else 1, most - len(first))


def _channel(bench: _Bench, number: int, function: str, smooth: list[str]) -> dict[str, Any]:
    bench.allowed[number] = smooth
    entry: dict[str, Any] = {"channel": number, "function": function}
    drivers = [*smooth, *bench.switches]
    inputs = [i["id"] for i in bench.inputs if i["control"] in drivers]
    own = [OWN_STICK[function]] if OWN_STICK.get(function) in smooth else []
    own = bench.switches if function in SELECTING else own
    weight = 12 if bench.conventional else 3
    driver = bench.pick([*own * weight, *smooth, *bench.switches, *inputs, None])
    if driver is not None:
        entry["control"] = driver
    if driver is not None and driver not in inputs:
        entry |= bench.shape(smooth)
    entry |= bench.trim(smooth)
    if bench.chance(3):
        entry["reversed"] = bench.draw(st.booleans())
    if bench.chance(3):
        entry["travel_percent"] = bench.draw(TRAVEL)
    if bench.chance(4):
        entry["subtrim_percent"] = bench.draw(halves(-30, 30))
    return entry


def _shape_smooth(bench: _Bench, number: int) -> set[str]:
    """Continuous controls that may have a part in a channel's shape."""
    entry = next(c for c in bench.channels if c["channel"] == number)
    source = next((i for i in bench.inputs if i["id"] == entry.get("control")), None)
    if source is not None:
        return {source["control"]} & set(bench.smooth)
    return set(bench.allowed[number])


def _mix(bench: _Bench, name: str) -> dict[str, Any]:
    to = bench.pick(bench.channels)["channel"]
    allowed = bench.allowed[to]
    drivers = [*allowed, *bench.switches]
    sources: list[dict[str, Any]] = [{"control": c} for c in drivers]
    sources += [{"input": i["id"]} for i in bench.inputs if i["control"] in drivers]
    sources += [
        {"channel": c["channel"]}
        for c in bench.channels
        if c["channel"] != to and _shape_smooth(bench, c["channel"]) <= set(allowed)
    ]
    mix = {
        "name": name,
        "from": bench.pick(sources),
        "to": to,
        "rate_percent": bench.draw(MIX_RATE),
    }
    if bench.chance(3):
        mix["offset_percent"] = bench.draw(st.integers(-50, 50))
    return bench.maybe_when(mix, allowed)


def _override(bench: _Bench, name: str) -> dict[str, Any]:
    channel = bench.pick(bench.channels)["channel"]
    override = {
        "name": name,
        "purpose": bench.pick(["throttle-cut", "throttle-hold", "other"]),
        "channel": channel,
        "demand_percent": bench.draw(PERCENT),
        "when": bench.when(bench.allowed[channel]),
    }
    if bench.chance(2):
        override["acts"] = bench.pick(["last", "before-mixes"])
    if bench.chance(3):
        override["release"] = bench.pick(["at-low", "at-once"])
    return override


# --- receiver -------------------------------------------------------------------------------


def _output(bench: _Bench, port: int, channel: int) -> dict[str, Any]:
    output: dict[str, Any] = {"port": port, "channel": channel}
    if bench.chance(3):
        output["reversed"] = True
    if bench.chance(4):
        output["travel_percent"] = bench.draw(TRAVEL)
    if bench.chance(4):
        output["centre_us"] = bench.pick([1480, 1500, 1530])
    if bench.chance(4):
        output["limit_us"] = [bench.pick([900, 1100, 1400]), bench.pick([1600, 1900, 2100])]
    return output


def _failsafe(bench: _Bench, limit: float) -> dict[str, Any]:
    entries = []
    for channel in bench.channels:
        action = bench.pick(["preset", "preset", "hold", "no-pulses", None])
        if action is None:
            continue
        entry = {"channel": channel["channel"], "action": action}
        if action == "preset":
            entry["output_percent"] = bench.draw(halves(-int(limit), int(limit)))
        entries.append(entry)
    failsafe = {"stored": bench.pick(["at-bind", "by-menu", "in-transmitter"]), "channels": entries}
    if bench.chance(4):
        failsafe["delay_s"] = bench.pick([0.5, 1, 2.5])
    return failsafe


def _axes(bench: _Bench, ports: list[int], numbers: list[int]) -> list[dict[str, Any]]:
    axes = []
    for axis in bench.some(("roll", "pitch", "yaw"), 1, 3):
        corrected: list[Any] = [
            {"port": p, "sign": bench.pick([1, -1])} if bench.chance(2) else p
            for p in bench.some(ports, 1, 3)
        ]
        sense = bench.pick(["normal", "reversed"])
        own = [c["channel"] for c in bench.channels if STICKS.get(c.get("control", "")) == axis]
        number = bench.pick([*own * 4, *numbers])
        entry = {"axis": axis, "channel": number, "ports": corrected, "sense": sense}
        axes.append(entry | ({"gain_percent": 40} if bench.chance(4) else {}))
    return axes


def _bands(bench: _Bench, given: dict[str, Any]) -> list[dict[str, list[float]]]:
    """Bands side by side, some ends moved apart or over each other, none beyond the limit."""
    inner = bench.draw(st.sets(st.integers(-95, 95), max_size=3))
    limit = limit_of(given)
    wide = 4 * limit / (given.get("steps", 2048) - 1)  # none narrower than what steps blur
    cuts = [-limit]
    for cut in sorted(inner):
        if cuts[-1] + wide <= cut <= limit - wide:
            cuts.append(cut)
    cuts.append(limit)
    moves = st.sampled_from([0, 0, 0, 1, -1, 12, -12])
    bands = []
    for pair in pairwise(cuts):
        moved = (max(-limit, min(limit, end + bench.draw(moves))) for end in pair)
        low, high = sorted(moved)
        bands.append(_band(bench, given, low - (low == high), high + (low == high)))
    return bench.draw(st.permutations(bands)) if bench.chance(4) else bands


def _band(bench: _Bench, given: dict[str, Any], low: float, high: float) -> dict[str, list[float]]:
    if not bench.chance(3):
        return {"percent": [low, high]}
    centre, scale = given.get("centre_us", 1500), given.get("us_per_percent", 4)
    return {"us": [round(centre + scale * x, 2) for x in (low, high)]}


def limit_of(given: dict[str, Any]) -> float:
    return float(given.get("limit_percent", 150))


def _selector(bench: _Bench, index: int, given: dict[str, Any]) -> dict[str, Any]:
    states = [
        {"state": f"state-{i + 1}", "behaviour": bench.pick(BEHAVIOURS), "band": band}
        for i, band in enumerate(_bands(bench, given))
    ]
    selecting = [c for c in bench.channels if c["function"] in SELECTING]
    return {
        "name": f"selector-{index + 1}",
        "purpose": bench.pick(["flight-mode", "flight-mode", "recovery", "gain", "other"]),
        "channel": bench.pick([*selecting * 4, *bench.channels])["channel"],
        "states": states,
    }


def _stabiliser(
    bench: _Bench, ports: list[int], mixing: str, selectors: bool, given: dict[str, Any]
) -> dict[str, Any]:
    numbers = [c["channel"] for c in bench.channels]
    stabiliser: dict[str, Any] = {"axes": _axes(bench, ports, numbers), "selectors": []}
    if mixing != "none" or bench.chance(2):
        stabiliser["mixing"] = mixing
    if mixing != "none" and bench.chance(2):
        stabiliser["mix_percent"] = bench.pick([50, 70, 80, 125])
    if mixing != "none" and bench.chance(3):
        stabiliser["mix_limit_percent"] = bench.pick([80, 100, 120])
    if selectors:
        count = bench.draw(st.integers(0, 2))
        stabiliser["selectors"] = [_selector(bench, i, given) for i in range(count)]
    if bench.chance(3):
        axes = [a["axis"] for a in stabiliser["axes"]]
        stabiliser["expects"] = {a: {"direction": bench.pick([1, -1])} for a in axes}
    return stabiliser


# --- what stands on the ports ---------------------------------------------------------------


def _speed_control(bench: _Bench, port: int) -> dict[str, Any]:
    entry: dict[str, Any] = {"port": port, "full_above_us": bench.pick([1700, 1880, 1900])}
    if bench.chance(4):
        entry["stopped_us"] = [bench.pick([1460, 1490]), bench.pick([1510, 1540])]
    else:
        entry["stop_below_us"] = bench.pick([1050, 1100, 1150, 1300])
    if bench.chance(2):
        entry["on_signal_loss"] = bench.pick(["stops", "holds", "unknown"])
    return entry


def _surface(bench: _Bench, index: int, receiver: dict[str, Any], port: int) -> dict[str, Any]:
    numbers = [o["channel"] for o in receiver["outputs"] if o["port"] == port]
    fitting = [c["function"] for c in bench.channels if c["channel"] in numbers]
    for axis in receiver.get("stabiliser", {}).get("axes", []):
        if port in [p["port"] if isinstance(p, dict) else p for p in axis["ports"]]:
            fitting += AXIS_SURFACES[axis["axis"]]
    fitting = [f for f in fitting if f in SURFACES]
    function = bench.pick(fitting if bench.conventional and fitting else [*fitting, *SURFACES])
    surface = {"id": f"surface-{index + 1}", "function": function}
    if function in ("aileron", "flaperon", "elevon", "v-tail", "flap") or bench.chance(4):
        surface["side"] = bench.pick(["left", "right"])
    if function == "steering":
        surface["side"] = bench.pick(["front", "rear"])
    return surface


def _linkage(bench: _Bench) -> dict[str, Any]:
    """A linkage whose arm stays well clear of its dead centres."""
    servo: dict[str, Any] = {
        "degrees_per_us": bench.pick([0.04, 0.06, -0.05]),
        "linkage": {"arm_mm": bench.pick([8, 10]), "horn_mm": bench.pick([14, 18]), "base_mm": 70},
    }
    if bench.chance(2):
        servo["centre_us"] = bench.pick([1490, 1500, 1520])
    if bench.chance(3):
        servo["linkage"]["arm_at_neutral_deg"] = bench.pick([85, 95])
        servo["linkage"]["horn_at_neutral_deg"] = bench.pick([80, 100])
    return servo


def _fit_out(bench: _Bench, doc: Document, ports: list[int], motors: bool) -> None:
    servos, surfaces, speed_controls = [], [], []
    for i, port in enumerate(ports):
        number = doc["receiver"]["outputs"][i]["channel"]
        runs = any((c["channel"], c["function"]) == (number, "throttle") for c in bench.channels)
        choices = ["servo", None, "motor", "motor"] if runs else ["servo", "servo", None, "motor"]
        what = bench.pick(choices if motors else choices[:2])
        if what == "motor":
            speed_controls.append(_speed_control(bench, port))
        if what != "servo":
            continue
        surfaces.append(_surface(bench, i, doc["receiver"], port))
        servo = {"port": port, "surface": surfaces[-1]["id"]}
        if not bench.chance(5):
            servo["increasing_pulse"] = bench.pick(_fitting(surfaces[-1]["function"]))
        if bench.chance(3):
            servo |= _linkage(bench)
        servos.append(servo)
    doc |= {"servos": servos, "surfaces": surfaces, "speed_controls": speed_controls}


def _fitting(function: str) -> tuple[str, ...]:
    if function == "rudder":
        return MOVEMENTS[2:4]
    return MOVEMENTS[4:] if function == "steering" else MOVEMENTS[:2]


# --- documents ------------------------------------------------------------------------------


@st.composite
def setups(
    draw: Callable[..., Any],
    *,
    phases: bool = True,
    inputs: bool = True,
    mixes: bool = True,
    overrides: bool = True,
    steps: bool | None = None,
    mixing: tuple[str, ...] = ("none", *SUMMED),
    selectors: bool = True,
    failsafe: bool = True,
    motors: bool = True,
    conventional: bool = False,
) -> Document:
    """A valid setup document.

    `conventional`: every stick is there and mostly drives what one expects of it.
    `steps`: with rounding, without, or either (None). `mixing`: what the receiver may do.
    The other switches leave a part of the path out altogether.
    """
    bench = _Bench(draw, conventional)
    _lay_out_controls(bench)
    if phases and bench.switches and bench.chance(3):
        _lay_out_phases(bench)
    if inputs and bench.chance(3):
        _lay_out_inputs(bench)
    how = "none" if bench.chance(2) and "none" in mixing else bench.pick(mixing)
    given = draw(OUTPUT)
    if steps or (steps is None and bench.chance(3)):
        given["steps"] = bench.pick([1024, 2048, 201, 16, 7])
    _lay_out_channels(bench, shared=how != "none")
    doc = _transmitter_side(bench, given)
    if mixes:
        count = draw(st.integers(0, 3))
        doc["mixes"] = [_mix(bench, f"mix-{i + 1}") for i in range(count)]
    if overrides and bench.switches:
        count = draw(st.integers(0, 3))
        doc["overrides"] = [_override(bench, f"override-{i + 1}") for i in range(count)]
    ports = list(range(1, draw(st.integers(1, 4)) + 1))
    doc["receiver"] = _receiver(bench, ports, given, how, selectors, failsafe)
    _fit_out(bench, doc, ports, motors)
    return {k: v for k, v in doc.items() if v != []}


def _lay_out_channels(bench: _Bench, shared: bool) -> None:
    numbers = sorted(bench.draw(st.sets(st.integers(1, 9), min_size=1, max_size=4)))
    pair = _pair(bench)
    if bench.conventional:
        first = [bench.phase_smooth] if bench.phase_smooth else []
        pair = list(dict.fromkeys([*first, "roll-stick", "pitch-stick"]))[:2]
    for number in numbers:
        function = bench.pick(SELECTING if number > 4 and bench.chance(2) else FUNCTIONS)
        if bench.conventional:
            function = CONVENTIONAL[number % len(CONVENTIONAL)]
        smooth = pair if shared else _pair(bench, OWN_STICK.get(function))
        if function in SELECTING and bench.switches and bench.chance(2):
            smooth = [bench.phase_smooth] if bench.phase_smooth else []
        bench.channels.append(_channel(bench, number, function, smooth))
    _release_axes(bench)


def _release_axes(bench: _Bench) -> None:
    """Leave out what the channel's function says anyway, now and then."""
    for entry in bench.channels:
        stick = entry.get("control", "")
        drivers = [*bench.channels, *bench.inputs]
        alone = [d for d in drivers if d.get("control") == stick] == [entry]
        plain = entry["function"] in ("throttle", "aileron", "elevator", "rudder")
        says = plain and alone and OWN_STICK[entry["function"]] == stick
        if says and bench.chance(4):
            bench.controls[stick].pop("axis", None)


def _transmitter_side(bench: _Bench, given: dict[str, Any]) -> Document:
    transmitter: dict[str, Any] = {"channels": 10, "controls": bench.controls}
    if given:
        transmitter["output"] = given
    tail = bench.pick([None, None, "v-tail", "inverted-v-tail", "canard"])
    model = {"name": bench.pick(NAMES), "airframe": bench.pick(["aeroplane", "glider"])}
    return {
        "format": "model-setup/1",
        "model": {**model, **({"tail": tail} if tail else {})},
        "transmitter": transmitter,
        "channels": bench.channels,
        "inputs": bench.inputs,
        "phases": bench.phases,
    }


def _receiver(
    bench: _Bench,
    ports: list[int],
    given: dict[str, Any],
    mixing: str,
    selectors: bool,
    failsafe: bool,
) -> dict[str, Any]:
    outputs = [_output(bench, p, bench.pick(bench.channels)["channel"]) for p in ports]
    receiver: dict[str, Any] = {"inputs": 10, "outputs": outputs}
    if failsafe and not bench.chance(4):
        receiver["failsafe"] = _failsafe(bench, limit_of(given))
    if mixing != "none" or selectors:
        receiver["stabiliser"] = _stabiliser(bench, ports, mixing, selectors, given)
    return receiver


# --- broken ones ----------------------------------------------------------------------------


def any_json() -> st.SearchStrategy[Any]:
    """Any JSON value of moderate size."""
    leaves = (
        st.none()
        | st.booleans()
        | st.integers(-(2**53), 2**53)
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(max_size=8)
    )
    return st.recursive(
        leaves,
        lambda inner: (
            st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
        ),
        max_leaves=12,
    )


def _places(node: Any) -> list[tuple[Any, Any]]:
    """Every (container, key or index) in a document."""
    if isinstance(node, dict):
        keys: list[Any] = list(node)
    elif isinstance(node, list):
        keys = list(range(len(node)))
    else:
        return []
    return [(node, k) for k in keys] + [p for k in keys for p in _places(node[k])]


def _words(doc: Document) -> list[Any]:
    """Every name and small number that could stand in another's place."""
    values = [box[key] for box, key in _places(doc)]
    return [*sorted({v for v in values if isinstance(v, str)}), 0, 1, 2, 99, -1]


def _mutate(draw: Callable[..., Any], doc: Document) -> None:
    places = _places(doc)
    if not places:
        return
    box, key = draw(st.sampled_from(range(len(places))).map(places.__getitem__))
    act = draw(st.sampled_from(["delete", "replace", "rename", "repeat", "add"]))
    if act == "delete":
        del box[key]
    elif act == "replace":
        box[key] = draw(any_json())
    elif act == "rename":
        box[key] = draw(st.sampled_from([*_words(doc), "nobody"]))
    elif act == "repeat" and isinstance(box, list):
        box.append(copy.deepcopy(box[key]))
    elif act == "add" and isinstance(box, dict):
        box[draw(st.sampled_from(["x-note", "note", *_words(doc)[:1]]))] = draw(any_json())


@st.composite
def mutated_setups(draw: Callable[..., Any]) -> Document:
    """A valid document with one to three things gone wrong in it."""
    doc: Document = copy.deepcopy(draw(setups()))
    for _ in range(draw(st.integers(1, 3))):
        _mutate(draw, doc)
    return doc
