"""Whether a second mistake hides the first, and whether what it seems to hide is really gone.

What the model really does is worked out apart from the rules, by tests.path.brute.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tests.path import brute
from tests.trust.laying import CUTS, corrected
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
    overwritten = touched(model, alone) & touched(alone, both)
    return sorted(rule for rule in silent if really(rule, both, bool(overwritten)))


def really(rule: str, doc: Document, overwritten: bool) -> bool:
    """Whether a model still does what the rule is about; unless judged, what was not undone is."""
    try:
        return TRULY[rule](doc)
    except (KeyError, StopIteration):
        return not overwritten


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


def _low(doc: Document) -> bool:
    harmless = ("stopped", "idling", None)
    return any(
        brute.motor_at_throttle_end(doc, m, "low") not in harmless for m in brute.motors(doc)
    )


def _backwards(doc: Document) -> bool:
    stands = ("stopped", "idling")
    return _low(doc) and any(
        brute.motor_at_throttle_end(doc, m, "high") in stands for m in brute.motors(doc)
    )


def _cut_runs(doc: Document) -> bool:
    cuts = [o for o in doc.get("overrides", []) if o["purpose"] in CUTS]
    return any(
        brute.motor_under_override(doc, m, cut) not in ("stopped", None)
        for m in brute.motors(doc)
        for cut in cuts
    )


def _failsafe_runs(doc: Document) -> bool:
    harmless = ("stopped", "idling", None)
    return any(brute.failsafe_motor(doc, m) not in harmless for m in brute.motors(doc))


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
