"""Digests on generated setups: spelling is nothing, and every result counts.

What a check proves is worked out a second time by `brute`, on a dense grid.
"""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st
from tests.path import brute
from tests.path.respelt import WAYS
from tests.path.test_against_brute_force import is_open, step_percent
from tests.strategies import setups

import prebind
from prebind.path.proofs import CHECKS

if TYPE_CHECKING:
    from collections.abc import Callable

    Document = dict[str, Any]

ROOT = Path(__file__).parents[2]
CLEAN = sorted(
    [
        *ROOT.glob("schemas/prebind_schemas/templates/*.setup.json"),
        *ROOT.glob("tests/examples/fleet/*.setup.json"),
    ]
)

many = settings(
    max_examples=60,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # to shrink one takes minutes
    suppress_health_check=list(HealthCheck),
)


def path_of(document: Document) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), [problem.message for problem in found]
    return prebind.trace(found.setup)


def digests(document: Document) -> dict[str, str | None]:
    path = path_of(document)
    return {check: path.digest(check) for check in CHECKS}


def resolved(file: Path) -> Document:
    """A setup with its shared parts laid in."""
    found = prebind.read(file.read_bytes(), path=file.as_posix(), root=file.parent)
    assert isinstance(found, prebind.Document)
    return deepcopy(found.data)


# --- spelling -------------------------------------------------------------------------------


def assert_same(document: Document, other: Document) -> None:
    before, after = path_of(document), path_of(other)
    for check, proof in CHECKS.items():
        if before.digest(check) != after.digest(check):
            assert proof.facts(after) == proof.facts(before), check


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("file", CLEAN, ids=lambda file: file.name.removesuffix(".setup.json"))
def test_spelling_is_nothing(file: Path, way: str) -> None:
    document = resolved(file)
    other = WAYS[way](document)
    assert other != document or "bands" in way
    assert_same(document, other)


@many
@given(setups(), st.sampled_from(sorted(WAYS)))
def test_spelling_is_nothing_in_any_setup(document: Document, way: str) -> None:
    other = WAYS[way](document)
    assume(sticks(document) == sticks(other) or way == "renamed")
    assert_same(document, other)


def sticks(document: Document) -> list[str | None]:
    """What the order of channels decides, where several could be the pilot's stick."""
    axes = [brute.axis_stick(document, axis) for axis in ("roll", "pitch", "yaw", "thrust")]
    return [*axes, brute.throttle_control(document)]


def test_a_shared_part(tmp_path: Path) -> None:
    """Where a section is kept makes no difference."""
    document = resolved(CLEAN[0])
    for section in ("transmitter", "receiver", "power"):
        if section not in document:
            continue
        (tmp_path / f"{section}.json").write_text(json.dumps(document[section]), encoding="utf-8")
        text = json.dumps({**document, section: {"from": f"{section}.json"}})
        found = prebind.read(text, path=(tmp_path / "a.setup.json").as_posix(), root=tmp_path)
        assert isinstance(found, prebind.Document)
        path = prebind.trace(found.setup)
        assert {check: path.digest(check) for check in CHECKS} == digests(document)


# --- results --------------------------------------------------------------------------------

OTHER = {
    "sense": ["normal", "reversed"],
    "increasing_pulse": ["trailing-edge-up", "trailing-edge-down"],
    "behaviour": ["off", "rate-damping", "self-level", "recovery"],
    "side": ["left", "right"],
    "acts": ["last", "before-mixes"],
    "purpose": ["flight-mode", "recovery", "gain", "other"],
    "tail": ["conventional", "v-tail", "inverted-v-tail", "canard"],
    "on_signal_loss": ["stops", "holds"],
}
STEPS = (-20, -1, -0.5, 0.5, 1, 20)
FIXED = {"format", "channel", "port", "to", "inputs", "channels", "positions"}


def leaves(node: Any) -> list[tuple[Any, Any]]:
    """(container, key) of every value that another may take the place of."""
    pairs = list(node.items() if isinstance(node, dict) else enumerate(node))
    found: list[tuple[Any, Any]] = []
    for key, value in pairs:
        if isinstance(value, dict | list):
            found += leaves(value)
        elif key not in FIXED and (not isinstance(value, str) or key in OTHER):
            found.append((node, key))
    return found


@st.composite
def changed(draw: Callable[..., Any]) -> tuple[Document, Document]:
    """A setup, and the same with one value changed: half of them turn something round."""
    turning, conventional = draw(st.booleans()), draw(st.booleans())
    document: Document = draw(setups(conventional=conventional, motors=not conventional))
    other = deepcopy(document)
    places = [(box, key) for box, key in leaves(other) if turns(box[key], key) == turning]
    assume(places)
    box, key = places[draw(st.integers(0, len(places) - 1))]
    if isinstance(box[key], bool):
        box[key] = not box[key]
    elif isinstance(box[key], str):
        box[key] = draw(st.sampled_from([it for it in OTHER[key] if it != box[key]]))
    else:
        box[key] = -box[key] if turning else box[key] + draw(st.sampled_from(STEPS))
    assume(isinstance(prebind.read(other), prebind.Document))
    assume(sticks(document) == sticks(other))
    return document, other


def turns(value: Any, key: Any) -> bool:
    return isinstance(value, bool | str) or key in ("sign", "direction")


class Pair:
    """Two setups with the same controls, evaluated at the same positions."""

    def __init__(self, one: Document, other: Document) -> None:
        self.both = (one, other)

    def values(self, channels: list[int], fact: Callable[[brute.Evaluation], Any]) -> Any:
        """The fact of each, over every combination of what influences the channels in either."""
        wanted = set().union(*(brute.influences(doc, channels) for doc in self.both))
        grids = [brute.grid(doc, wanted) for doc in self.both]
        return [[np.array(fact(brute.evaluate(doc, at))) for at in grids] for doc in self.both]

    def same(self, channels: list[int], fact: Callable[[brute.Evaluation], Any]) -> bool:
        one, other = self.values(channels, fact)
        return all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))

    def alike(self, ask: Callable[[Document], Any]) -> bool:
        return ask(self.both[0]) == ask(self.both[1])

    @property
    def ports(self) -> list[int]:
        return [output["port"] for output in self.both[0]["receiver"]["outputs"]]

    def port_channels(self, port: int) -> list[int]:
        return sorted(set().union(*(brute.port_channels(doc, port) for doc in self.both)))

    def axes_same(self) -> bool:
        """Whether what brings the pilot's commands to the stabiliser is the same."""
        axes = [axis for doc in self.both for axis in brute.stabiliser(doc).get("axes", [])]
        numbers = {axis["channel"] for axis in axes}
        return all(self.same([n], lambda at, n=n: at.channel(n).us) for n in numbers)

    def port_same(self, port: int) -> bool:
        return self.same(self.port_channels(port), lambda at: at.port(port))


def entries(document: Document) -> Any:
    """What is judged by: servos, surfaces, motors, the tail."""
    kept = ("servos", "surfaces", "speed_controls", "engine")
    return [document["model"].get("tail"), *(document.get(section) for section in kept)]


def corrections(document: Document) -> Any:
    """Each corrected port: which way at the port, and whether that is right."""
    found = []
    right = {(d.axis, d.port, d.servo): d.correction for d in brute.directions(document)}
    for axis in brute.stabiliser(document).get("axes", []):
        for output in document["receiver"]["outputs"]:
            port = output["port"]
            sign = brute.axis_sign(axis, port)
            if sign is None:
                continue
            turned = -1 if output.get("reversed", False) else 1
            pushes = sign * turned * (-1 if axis["sense"] == "reversed" else 1)
            on_port = [i for i, s in enumerate(document.get("servos", [])) if s["port"] == port]
            signs = [right.get((axis["axis"], port, i)) for i in on_port]
            found.append([axis["axis"], port, pushes, signs])
    return found


def lost(document: Document) -> Any:
    """What happens when the link is lost."""
    selectors = brute.stabiliser(document).get("selectors", [])
    selected = [brute.failsafe_selection(document, selector) for selector in selectors]
    numbers = [selector["channel"] for selector in selectors]
    return [
        document["receiver"].get("failsafe", {}).get("delay_s"),
        [brute.failsafe_action(document, [number]) for number in numbers],
        [(s.at(0), float(s.us[0])) if s is not None else None for s in selected],
        [
            (
                brute.failsafe_action(document, brute.port_channels(document, o["port"])),
                brute.failsafe_port(document, o["port"]),
            )
            for o in document["receiver"]["outputs"]
        ],
        [brute.failsafe_motor(document, motor) for motor in brute.motors(document)],
    ]


def bands(selector: Document, document: Document) -> Any:
    return [
        [*(round(end, 6) for end in brute.band_us(document, state["band"])), state["behaviour"]]
        for state in selector["states"]
    ]


def recovers(selector: Document) -> bool:
    behaviours = [state["behaviour"] for state in selector["states"]]
    return selector["purpose"] == "recovery" or "recovery" in behaviours


def selectors_same(pair: Pair, wanted: Callable[[Document], bool]) -> bool:
    """Whether selectors do the same in every situation."""
    one, other = (
        [s for s in brute.stabiliser(doc).get("selectors", []) if wanted(s)] for doc in pair.both
    )
    return len(one) == len(other) and all(
        bands(a, pair.both[0]) == bands(b, pair.both[1])
        and pair.same([a["channel"]], lambda at, a=a: at.channel(a["channel"]).us)
        for a, b in zip(one, other, strict=True)
    )


def selectors_differ(pair: Pair, wanted: Callable[[Document], bool]) -> bool:
    """Whether a band, or where a switch alone selects a state, differs by more than rounding."""
    one, other = (
        [s for s in brute.stabiliser(doc).get("selectors", []) if wanted(s)] for doc in pair.both
    )
    if len(one) != len(other):
        return True
    for a, b in zip(one, other, strict=True):
        if any(
            x[2] != y[2] or abs(x[0] - y[0]) > TENTH or abs(x[1] - y[1]) > TENTH
            for x, y in zip(bands(a, pair.both[0]), bands(b, pair.both[1]), strict=True)
        ):
            return True
        values = pair.values([a["channel"]], lambda at, a=a: at.channel(a["channel"]).us)
        wanted_controls = set().union(*(brute.influences(doc, [a["channel"]]) for doc in pair.both))
        steady = all(not brute.is_continuous(pair.both[0], control) for control in wanted_controls)
        if steady and (np.abs(values[0][0] - values[1][0]) > TENTH).any():
            return True
    return False


TENTH = 0.11  # µs or degrees, and a little for floating point


def throttle_ports(document: Document) -> list[int]:
    numbers = [c["channel"] for c in document["channels"] if c["function"] == "throttle"]
    own = [o["port"] for o in document["receiver"]["outputs"] if o["channel"] in numbers]
    return [*own, *(motor["port"] for motor in brute.motors(document))]


def throttle_ends(document: Document) -> Any:
    """Which positions are the throttle's low end, its middle and its high end."""
    control = brute.throttle_control(document)
    if control is None or brute.is_continuous(document, control):
        return control
    values = brute.position_values(document, control)
    return [int(found) for found in (values.argmin(), np.abs(values).argmin(), values.argmax())]


@many
@given(changed())
def test_what_alters_no_result(drawn: tuple[Document, Document]) -> None:
    """Where every situation comes to the same, so does the digest."""
    pair = Pair(*drawn)
    before, after = digests(drawn[0]), digests(drawn[1])
    same = {check for check in CHECKS if before[check] == after[check]}
    judged, ports = pair.alike(entries), all(pair.port_same(port) for port in pair.ports)
    if judged and pair.alike(corrections):
        assert "correction-direction" in same
    if selectors_same(pair, lambda _: True):
        assert "states" in same
    if selectors_same(pair, recovers):
        assert "recovery" in same
    if judged and ports:
        assert "throws" in same
        if pair.alike(lost) and pair.alike(throttle_ends):
            assert "failsafe" in same
        if pair.alike(brute.stabiliser) and pair.axes_same():
            assert "control-direction" in same
    assert {"balance", "range"} <= same or drawn[0]["model"] != drawn[1]["model"]


@many
@given(changed())
def test_what_alters_a_result(drawn: tuple[Document, Document]) -> None:
    pair = Pair(*drawn)
    before, after = digests(drawn[0]), digests(drawn[1])
    stale = {check for check in CHECKS if before[check] != after[check]}
    if not pair.alike(corrections):
        assert "correction-direction" in stale
    if commands_differ(pair):
        assert "control-direction" in stale
    if selectors_differ(pair, lambda _: True):
        assert "states" in stale
    if selectors_differ(pair, recovers):
        assert "recovery" in stale
    if differ(lost(drawn[0]), lost(drawn[1])):
        assert "failsafe" in stale
    if throttle_differs(pair):
        assert "failsafe" in stale
    if throws_differ(pair):
        assert "throws" in stale


def differ(one: Any, other: Any) -> bool:
    """Whether two facts differ, numbers by more than rounding."""
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) != len(other) or any(map(differ, one, other))
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) > TENTH
    return bool(one != other)


def commands_differ(pair: Pair) -> bool:
    """Whether a command's sign differs, as far as the design says what counts."""
    signs: list[dict[Any, Any]] = []
    for doc in pair.both:
        judged = [d for d in brute.directions(doc) if not is_open(doc, d)]
        signs.append({(d.axis, d.port, d.servo): (d.direct, d.target) for d in judged})
    return any(signs[0][key] != signs[1][key] for key in signs[0].keys() & signs[1].keys())


def throttle_differs(pair: Pair) -> bool:
    """Whether a throttle's least or greatest pulse differs by more than a grid can miss."""
    scale = max(4 * brute.output_settings(doc)["us_per_percent"] for doc in pair.both)
    for port in set(throttle_ports(pair.both[0])) & set(throttle_ports(pair.both[1])):
        if pair.port_same(port) or any(brute.mixed_axes(doc, port) for doc in pair.both):
            continue
        found = [brute.port_extremes(doc, port) for doc in pair.both]
        miss = TENTH + scale * (0.05 + max(map(step_percent, pair.both)))
        if max(abs(found[0].low - found[1].low), abs(found[0].high - found[1].high)) > miss:
            return True
    return False


STICK_OF = {
    "aileron": ["roll"],
    "flaperon": ["roll"],
    "elevator": ["pitch"],
    "rudder": ["yaw"],
    "elevon": ["roll", "pitch"],
    "v-tail": ["pitch", "yaw"],
}


def throws_differ(pair: Pair) -> bool:
    """Whether a primary surface goes elsewhere at the ends of its own stick, all else at rest."""
    for i, servo in enumerate(pair.both[0].get("servos", [])):
        functions = [_function(doc, i) for doc in pair.both]
        axes = STICK_OF.get(functions[0] or "", [])
        if functions[0] != functions[1] or not axes:
            continue
        for stick in filter(None, (brute.axis_stick(pair.both[0], axis) for axis in axes)):
            at = {stick: np.array([-100.0, 0.0, 100.0])}
            found = [_free_pulses(doc, servo["port"], at) for doc in pair.both]
            moves = any(us is not None and np.ptp(us) > TENTH for us in found)
            known = all(us is not None for us in found)
            if moves and known and (np.abs(found[0] - found[1]) > TENTH).any():
                return True
    return False


def _function(document: Document, servo: int) -> str | None:
    name = document["servos"][servo].get("surface")
    surfaces = {surface["id"]: surface["function"] for surface in document.get("surfaces", [])}
    return surfaces.get(name)


def _free_pulses(document: Document, port: int, at: Document) -> Any:
    """The pulses at the port; None where an override holds."""
    found = brute.evaluate(document, at)
    if found.override_holds(brute.port_channels(document, port)).any():
        return None
    return np.broadcast_to(found.port(port), (3,))
