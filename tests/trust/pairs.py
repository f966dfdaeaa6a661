"""Whether a second mistake hides the first, and whether what it seems to hide is really gone.

What the model really does is worked out apart from the rules, by tests.path.brute.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from tests.path import brute
from tests.trust.laying import CUTS, PRIMARY, corrected
from tests.trust.matrix import fired, inspected

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.trust.laying import Document, Fault


def hidden(model: Document, one: Fault, other: Fault) -> list[str]:
    """The rules that find the first mistake alone, are silent beside the second, and ought not be.

    An answer `open` or `review` says that something is not settled: that hides nothing.
    """
    alone = one.on(model)
    both = None if alone is None else other.on(alone)
    if alone is None or both is None:
        return []
    report = inspected(alone)
    named = one.named_by(fired(report, "fail"))
    beside = inspected(both)
    if beside.document is None or beside.problems:
        return [f"the document is refused: {beside.problems[0].message}"]
    silent = set(named) - fired(beside, "fail", "review", "open")
    changed = touched(alone, both)
    undone = overlap(touched(model, alone), changed)
    if any("/outputs/" in place and place.endswith("/channel") for place in changed):
        undone = True  # the ports follow other channels: nothing found at one means the same now
    if any(place.startswith("/servos/port ") and place.count("/") == 2 for place in changed):
        undone = True  # a servo is plugged in elsewhere: the same
    if any(rule in OF_A_CONTROL for rule in silent):
        undone = undone or any(part in place for place in changed for part in PARTS_OF_IT)
    return sorted(rule for rule in silent if really(rule, both, undone))


def really(rule: str, doc: Document, undone: bool) -> bool:
    """Whether a model still does what the rule is about; what nobody judges, unless undone."""
    try:
        return TRULY[rule](doc)
    except (KeyError, StopIteration):  # not judged here, or something that it needs is gone
        return not undone


def overlap(ones: set[str], others: set[str]) -> bool:
    """Whether the second mistake changed what the first did, or the entry that it stands in."""
    return any(
        f"{a}/".startswith(f"{b}/") or f"{b}/".startswith(f"{a}/") for a in ones for b in others
    )


def touched(before: Any, after: Any, at: str = "") -> set[str]:
    """The places at which two documents differ; entries of lists go by what they are about."""
    if isinstance(before, dict) and isinstance(after, dict):
        keys = before.keys() | after.keys()
        pairs = [(k, before.get(k), after.get(k)) for k in keys]
    elif isinstance(before, list) and isinstance(after, list):
        one, two = dict(_called(before)), dict(_called(after))
        pairs = [(k, one.get(k), two.get(k)) for k in one.keys() | two.keys()]
    else:
        return set() if before == after else {at}
    return {place for k, a, b in pairs if a != b for place in touched(a, b, f"{at}/{k}")}


def _called(entries: list[Any]) -> Iterator[tuple[str, Any]]:
    for i, entry in enumerate(entries):
        names = ("check", "name", "state", "axis", "port", "channel", "id")
        own = entry if isinstance(entry, dict) else {}
        yield next((f"{n} {own[n]}" for n in names if n in own), str(i)), entry


def _command(doc: Document) -> bool:
    """A direct sign counts without a stabiliser, a target sign where a mode with one is there."""
    behind = corrected(doc)
    modes = _behaviours(doc)
    target = bool(modes & {"self-level", "attitude-limit", "heading-hold"})
    direct = not modes or bool(modes & {"off", "rate-damping"})
    return any(
        (d.direct == -1 and (direct or d.port not in behind))
        or (d.target == -1 and target and d.correction == 1)
        for d in brute.directions(doc)
    )


def _behaviours(doc: Document) -> set[str]:
    stab = doc.get("receiver", {}).get("stabiliser") or {}
    found = [s for s in stab.get("selectors", []) if s["purpose"] == "flight-mode"]
    return {name for s in found for names in brute.states_met(doc, s) for name in _of(s, names)}


def _of(selector: dict[str, Any], names: frozenset[str]) -> set[str]:
    return {s["behaviour"] for s in selector["states"] if s["state"] in names}


def _correction(doc: Document) -> bool:
    return any(d.correction == -1 for d in brute.directions(doc))


def _disagree(doc: Document) -> bool:
    by_axis: dict[str, list[brute.Directions]] = {}
    for each in brute.directions(doc):
        by_axis.setdefault(each.axis, []).append(each)
    return any(
        {-1, 1} <= {d.direct for d in found} or {-1, 1} <= {d.correction for d in found}
        for found in by_axis.values()
    )


def _arrives(doc: Document) -> bool:
    """Whether the channel of some stabilised axis arrives against what is expected."""
    stab = brute.stabiliser(doc)
    expected = {a: e.get("direction", 1) for a, e in stab.get("expects", {}).items()}
    return any(
        -expected.get(a["axis"], 1) in (brute.channel_direction(doc, a["axis"], a["channel"]) or ())
        for a in stab.get("axes", [])
    )


def _low(doc: Document) -> bool:
    return any(_at_end(doc, m, "low") not in (*HARMLESS, None) for m in brute.motors(doc))


# What these find may be gone once something has another control, position or band.
OF_A_CONTROL = (
    "bands/same-state",
    "bands/gentlest-not-at-end",
    "bands/on-the-way",
    "conflicts/control-shared",
)
PARTS_OF_IT = ("/control", "/band", "/travel_percent")
HARMLESS = ("stopped", "idling")


def _at_end(doc: Document, motor: dict[str, Any], end: str) -> str | None:
    return brute.motor_at_throttle_end(doc, motor, end)


def _backwards(doc: Document) -> bool:
    return _low(doc) and any(_at_end(doc, m, "high") in HARMLESS for m in brute.motors(doc))


def _not_full(doc: Document) -> bool:
    return any(_at_end(doc, m, "high") != "full" for m in brute.motors(doc))


def _cut_runs(doc: Document) -> bool:
    cuts = [o for o in doc.get("overrides", []) if o["purpose"] in CUTS]
    return any(
        brute.motor_under_override(doc, m, cut) not in ("stopped", None)
        for m in brute.motors(doc)
        for cut in cuts
    )


def _failsafe_runs(doc: Document) -> bool:
    """Under a preset: what holds is another rule's."""
    preset = [
        m
        for m in brute.motors(doc)
        if brute.failsafe_action(doc, brute.motor_channels(doc, m["port"])) == "preset"
    ]
    return any(brute.failsafe_motor(doc, m) not in (*HARMLESS, None) for m in preset)


def _hard_over(doc: Document) -> bool:
    primary = {c["channel"] for c in doc["channels"] if c["function"] in PRIMARY}
    presets = [e for e in doc["receiver"]["failsafe"]["channels"] if e["action"] == "preset"]
    return any(abs(e["output_percent"]) > 50 and e["channel"] in primary for e in presets)


def _ends(doc: Document, servo: dict[str, Any]) -> tuple[float, float]:
    reach = brute.port_extremes(doc, servo["port"])
    return float(reach.low), float(reach.high)


def _clipped(doc: Document) -> bool:
    return any(brute.most_clipped(doc, c["channel"]) > brute.FUZZ for c in doc["channels"])


def _beyond_servo(doc: Document) -> bool:
    return any(
        _ends(doc, s)[0] < s["pulse_us"][0] or _ends(doc, s)[1] > s["pulse_us"][1]
        for s in doc["servos"]
        if "pulse_us" in s
    )


def _locks(doc: Document) -> bool:
    return any(
        bool(np.isnan(brute.deflection(doc, s, np.linspace(*_ends(doc, s), 200))).any())
        for s in doc["servos"]
        if "linkage" in s and "degrees_per_us" in s
    )


def _selectors(doc: Document) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = brute.stabiliser(doc).get("selectors", [])
    return found


def _gap(doc: Document) -> bool:
    return any(frozenset() in brute.states_met(doc, s) for s in _selectors(doc))


def _unreachable(doc: Document) -> bool:
    return any(
        {state["state"] for state in s["states"]} - set().union(*brute.states_met(doc, s))
        for s in _selectors(doc)
    )


TRULY = {
    "reversal/stabilised-axis": _arrives,
    "travel/throttle-range": _not_full,
    "travel/clipped": _clipped,
    "travel/servo-range": _beyond_servo,
    "travel/linkage-locks": _locks,
    "failsafe/hard-over": _hard_over,
    "reversal/command-backwards": _command,
    "reversal/correction-backwards": _correction,
    "reversal/ports-disagree": _disagree,
    "reversal/throttle": _backwards,
    "throttle/low-runs": _low,
    "throttle/cut-runs": _cut_runs,
    "failsafe/motor-runs": _failsafe_runs,
    "bands/gap": _gap,
    "bands/unreachable": _unreachable,
}
