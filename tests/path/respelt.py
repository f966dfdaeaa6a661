"""The same setup said otherwise: other names, defaults written out, lists in another order.

Plain dictionaries in and out; written from the design's page on the document.
"""

from __future__ import annotations

from copy import deepcopy
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

Document = dict[str, Any]

UNORDERED = (
    "channels",
    "inputs",
    "mixes",
    "receiver/outputs",
    "receiver/failsafe/channels",
    "receiver/stabiliser/axes",
    "receiver/stabiliser/selectors",
    "servos",
    "speed_controls",
    "surfaces",
)
"""Lists whose order says nothing; of rates, curves, trims, phases, overrides the first counts."""


def renamed(document: Document) -> Document:
    """Every name that only refers to something: controls, positions, inputs, phases, surfaces."""
    doc = deepcopy(document)
    controls, inputs, phases = _new_names(doc)
    places = {name: _new_places(spec) for name, spec in doc["transmitter"]["controls"].items()}
    for condition in (condition for when in _whens(doc) for condition in when):
        _rename_condition(condition, controls, places, phases)
    specs = doc["transmitter"]["controls"]
    for name, spec in specs.items():
        if places[name]:
            spec["positions"] = list(places[name].values())
    doc["transmitter"]["controls"] = {controls[name]: spec for name, spec in specs.items()}
    both = {**controls, **inputs}
    for entry in (*doc["channels"], *doc.get("inputs", [])):
        if "control" in entry:
            entry["control"] = both[entry["control"]]
    for mix in doc.get("mixes", []):
        mix["from"] = {k: both[v] if k != "channel" else v for k, v in mix["from"].items()}
    for made in doc.get("inputs", []):
        made["id"] = inputs[made["id"]]
    for kind in ("phases", "mixes", "overrides"):
        for i, entry in enumerate(doc.get(kind, [])):
            entry["name"] = f"{kind} {i}"
    _rename_surfaces(doc)
    _rename_selectors(doc)
    doc["model"]["name"] = "another name"
    return doc


def _new_names(doc: Document) -> tuple[dict[str, str], dict[str, str], dict[str, str]]:
    return (
        {name: f"control {i}" for i, name in enumerate(doc["transmitter"]["controls"])},
        {made["id"]: f"input {i}" for i, made in enumerate(doc.get("inputs", []))},
        {phase["name"]: f"phases {i}" for i, phase in enumerate(doc.get("phases", []))},
    )


def _new_places(spec: Document) -> dict[str, str]:
    """A button's positions always have the same names."""
    names = _positions(spec)
    return {old: old if spec["kind"] == "button" else f"place {i}" for i, old in enumerate(names)}


def _rename_condition(
    condition: Document,
    controls: dict[str, str],
    places: dict[str, dict[str, str]],
    phases: dict[str, str],
) -> None:
    if "phase" in condition:
        condition["phase"] = [phases[name] for name in condition["phase"]]
        return
    old = condition["control"]
    condition["control"] = controls[old]
    if "positions" in condition:
        condition["positions"] = [places[old][name] for name in condition["positions"]]


def _positions(spec: Document) -> list[str]:
    plain = ["released", "pressed"] if spec["kind"] == "button" else []
    found: list[str] = spec.get("positions", plain)
    return found


def _whens(node: Any) -> Iterator[list[Document]]:
    if isinstance(node, dict):
        if isinstance(node.get("when"), list):
            yield node["when"]
        for inner in node.values():
            yield from _whens(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from _whens(inner)


def _rename_surfaces(doc: Document) -> None:
    names = {surface["id"]: f"surface {i}" for i, surface in enumerate(doc.get("surfaces", []))}
    for surface in doc.get("surfaces", []):
        surface["id"] = names[surface["id"]]
    for servo in doc.get("servos", []):
        if "surface" in servo:
            servo["surface"] = names[servo["surface"]]


def _rename_selectors(doc: Document) -> None:
    receiver = doc.get("receiver", {})
    selectors = receiver.get("stabiliser", {}).get("selectors", [])
    names = {selector["name"]: f"selector {i}" for i, selector in enumerate(selectors)}
    for selector in selectors:
        selector["name"] = names[selector["name"]]
    intended = receiver.get("failsafe", {}).get("intended_states")
    if intended:
        receiver["failsafe"]["intended_states"] = {names[k]: v for k, v in intended.items()}


TRAVEL = {"low": 100, "high": 100}


def written_out(document: Document) -> Document:
    """Every default that the design gives."""
    doc = deepcopy(document)
    doc["transmitter"]["output"] = _output(doc)
    _fill(doc["model"], tail="conventional")
    _fill(doc["model"].get("propulsion", {}), motors=1)
    for spec in doc["transmitter"]["controls"].values():
        _write_out_control(spec)
    for entry in doc["channels"]:
        _fill(entry, reversed=False, travel_percent=TRAVEL, subtrim_percent=0, trim_percent=0)
    for entry in (*doc["channels"], *doc.get("inputs", [])):
        for rate in entry.get("rates", []):
            _fill(rate, rate_percent=100, expo_percent=0)
    for mix in doc.get("mixes", []):
        _fill(mix, offset_percent=0)
    for override in doc.get("overrides", []):
        _fill(override, acts="last")
    for surface in doc.get("surfaces", []):
        _fill(surface, tolerance_deg=2)
    for servo in doc.get("servos", []):
        _fill(servo, y_lead=False)
        if "linkage" in servo:
            _fill(servo["linkage"], arm_at_neutral_deg=90, horn_at_neutral_deg=90)
    _write_out_receiver(doc)
    return doc


def _write_out_receiver(doc: Document) -> None:
    output = _output(doc)
    for port in doc.get("receiver", {}).get("outputs", []):
        _fill(port, reversed=False, travel_percent=TRAVEL, centre_us=output["centre_us"])
    stabiliser = doc.get("receiver", {}).get("stabiliser")
    if stabiliser is None:
        return
    limit = output["limit_percent"]
    _fill(stabiliser, mixing="none", mix_percent=100, mix_limit_percent=limit)
    for axis in stabiliser.get("axes", []):
        ports = axis["ports"]
        axis["ports"] = [p if isinstance(p, dict) else {"port": p, "sign": 1} for p in ports]


def _fill(entry: Document, **defaults: Any) -> None:
    for key, value in defaults.items():
        entry.setdefault(key, value)


def _output(doc: Document) -> Document:
    order = ["reverse", "travel", "subtrim"]
    plain = {"centre_us": 1500, "us_per_percent": 4, "limit_percent": 150, "order": order}
    return {**plain, **doc["transmitter"].get("output", {})}


def _write_out_control(spec: Document) -> None:
    places = _positions(spec)
    if places:
        spec["positions"] = places
        spec.setdefault("values", [-100 + 200 * i / (len(places) - 1) for i in range(len(places))])
    if spec["kind"] == "button" or "axis" in spec:
        spec.setdefault("sprung", spec.get("axis") != "thrust")


def reordered(document: Document) -> Document:
    """Every list that has no order, the other way round; notes beside what is said."""
    doc = deepcopy(document)
    for place in UNORDERED:
        *way, key = place.split("/")
        node: Any = doc
        for step in way:
            node = node.get(step, {})
        if key in node:
            node[key] = node[key][::-1]
    stabiliser = doc.get("receiver", {}).get("stabiliser", {})
    for axis in stabiliser.get("axes", []):
        axis["ports"] = axis["ports"][::-1]
    for selector in stabiliser.get("selectors", []):
        selector["states"] = selector["states"][::-1]
    for when in _whens(doc):
        when.reverse()
        for condition in when:
            for key in ("positions", "phase"):
                condition.get(key, []).reverse()
    _note(doc)
    return doc


def _note(node: Any) -> None:
    if isinstance(node, dict):
        for key, inner in list(node.items()):
            if key not in ("native", "intended_states", "expects", "controls"):
                _note(inner)
        node.setdefault("x-note", "a note")
    elif isinstance(node, list):
        for inner in node:
            _note(inner)


def rescaled(document: Document) -> Document:
    """Bands in µs where they were in percent, and the other way round."""
    doc = deepcopy(document)
    output = _output(doc)
    centre, scale = output["centre_us"], output["us_per_percent"]
    for selector in doc.get("receiver", {}).get("stabiliser", {}).get("selectors", []):
        for state in selector["states"]:
            band = state["band"]
            if "percent" in band:
                state["band"] = {"us": [centre + scale * end for end in band["percent"]]}
            else:
                state["band"] = {"percent": [(end - centre) / scale for end in band["us"]]}
    return doc


def with_idle_parts(document: Document) -> Document:
    """A switch and mixes more, which come to nothing wherever they stand."""
    doc = deepcopy(document)
    doc["transmitter"]["controls"]["idle"] = {"kind": "switch", "positions": ["a", "b"]}
    here = [{"control": "idle", "positions": ["b"]}]
    nothing = {"rate_percent": {"low": 0, "high": 0}}
    doc["mixes"] = [*doc.get("mixes", [])]
    for entry in doc["channels"]:
        number = entry["channel"]
        mix = {"from": {"control": "idle"}, "to": number, **nothing}
        doc["mixes"].append({"name": f"idle {number}", **mix})
        doc["mixes"].append({"name": f"idle at b {number}", "when": here, **mix})
    return doc


WAYS: dict[str, Callable[[Document], Document]] = {
    "renamed": renamed,
    "written out": written_out,
    "reordered": reordered,
    "bands in the other unit": rescaled,
    "with idle parts": with_idle_parts,
}
