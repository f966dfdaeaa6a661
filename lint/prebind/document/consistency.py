"""What makes a document inconsistent in itself, beyond what a schema can say.

Runs on every document that the schema lets pass, so it looks only where there is something to
compare.  References to what does not exist are findings of rules, not faults.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any

from prebind.document.wording import MOST_FOUND, fault, number, place, quoted, shown, told

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.document.fault import Fault
    from prebind.document.wording import Path

    Json = dict[str, Any]
    Said = tuple[Path, str]  # the sentence goes on after the words for the place

_NAMED = (
    ("inputs", "id"),
    ("phases", "name"),
    ("mixes", "name"),
    ("overrides", "name"),
    ("surfaces", "id"),
)
_SELECTORS = ("receiver", "stabiliser", "selectors")


def check(data: dict[str, Any]) -> list[Fault]:
    """What a document that has passed the schema says against itself, section by section.

    At most a hundred faults, and one that says how many more there are.
    """
    found = (
        fault(path, f"{place(data, path)} {said}")
        for look in (_controls, _shapes, _names, _low_above_high, _expected_ends, _dates)
        for path, said in look(data)
    )
    return told(list(islice(found, MOST_FOUND)))


def _controls(data: Json) -> Iterator[Said]:
    for id_, control in data["transmitter"]["controls"].items():
        if id_.startswith("x-") or "positions" not in control:
            continue
        at: Path = ("transmitter", "controls", id_)
        positions = control["positions"]
        yield from _twice((*at, "positions"), positions)
        values = control.get("values", positions)
        if len(values) != len(positions):
            yield (
                (*at, "values"),
                f"has {len(values)} values for {len(positions)} positions; "
                "give one for each, in the same order",
            )


def _shapes(data: Json) -> Iterator[Said]:
    """Inputs' ids, and the curves of inputs and channels."""
    controls = data["transmitter"]["controls"]
    inputs = data.get("inputs", ())
    for i, shaped in enumerate(inputs):
        if shaped["id"] in controls:
            yield ("inputs", i, "id"), "is the id of a control too; give the input another"
        yield from _curves(("inputs", i), shaped)
    ids = {shaped["id"] for shaped in inputs}
    for i, channel in enumerate(data["channels"]):
        if "curves" in channel:
            yield from _curves(("channels", i), channel)
        if channel.get("control") not in ids:
            continue
        for key in ("rates", "curves"):
            if key in channel:
                yield (
                    ("channels", i, key),
                    f"cannot stand here: the input {quoted(channel['control'])} that drives the "
                    f"channel has its own shape; put the {key} into that input",
                )


def _curves(at: Path, shaped: Json) -> Iterator[Said]:
    for i, curve in enumerate(shaped.get("curves", ())):
        points = curve["points"]
        here = (*at, "curves", i, "points")
        last = len(points) - 1
        if points[0][0] != -100:
            start = number(points[0][0])
            yield (*here, 0, 0), f"is {start}; a curve starts at -100 in its first value"
        for j in range(last):
            before, after = points[j][0], points[j + 1][0]
            if after <= before:
                yield (
                    (*here, j + 1, 0),
                    f"is {number(after)}, not above {number(before)}, where the point before it "
                    "stands; sort the points so that their first values rise",
                )
        if points[last][0] != 100:
            end = number(points[last][0])
            yield (*here, last, 0), f"is {end}; a curve ends at 100 in its first value"


def _names(data: Json) -> Iterator[Said]:
    """Names that stand for one thing each, used for two."""
    for section, key in _NAMED:
        if section in data:
            yield from _twice((section,), [entry[key] for entry in data[section]], key)
    selectors = data.get("receiver", {}).get("stabiliser", {}).get("selectors", ())
    yield from _twice(_SELECTORS, [selector["name"] for selector in selectors], "name")
    for i, selector in enumerate(selectors):
        states = [state["state"] for state in selector["states"]]
        yield from _twice((*_SELECTORS, i, "states"), states, "state")


def _twice(at: Path, names: list[str], *key: str) -> Iterator[Said]:
    if len(set(names)) == len(names):
        return
    for i, name in enumerate(names):
        first = names.index(name)
        if first < i:
            yield (
                (*at, i, *key),
                f"is {shown(name)}, as in entry {first + 1} already; give each a name of its own",
            )


def _low_above_high(data: Json) -> Iterator[Said]:
    for at, entry, keys in _with_ends(data):
        for key in keys:
            ends = entry.get(key)
            if isinstance(ends, list) and ends[0] > ends[1]:  # a supply's volts may be one number
                low, high = map(number, ends)
                yield (
                    (*at, key),
                    f"is [{low}, {high}]: its low end, {low}, lies above its high end, {high}; "
                    "put the lower one first",
                )


def _with_ends(data: Json) -> Iterator[tuple[Path, Json, tuple[str, ...]]]:
    """Every object with keys whose value is [low, high], and those keys."""
    receiver = data.get("receiver", {})
    for i, output in enumerate(receiver.get("outputs", ())):
        yield ("receiver", "outputs", i), output, ("limit_us",)
    for i, selector in enumerate(receiver.get("stabiliser", {}).get("selectors", ())):
        for j, state in enumerate(selector["states"]):
            yield (*_SELECTORS, i, "states", j, "band"), state["band"], ("percent", "us")
    for i, servo in enumerate(data.get("servos", ())):
        yield ("servos", i), servo, ("pulse_us", "volts")
    for i, control in enumerate(data.get("speed_controls", ())):
        yield ("speed_controls", i), control, ("stopped_us", "cells")
    yield ("engine",), data.get("engine", {}), ("idle_us",)
    supply = data.get("power", {}).get("receiver_supply", {})
    yield ("power", "receiver_supply"), supply, ("volts",)


def _expected_ends(data: Json) -> Iterator[Said]:
    expects = data.get("receiver", {}).get("stabiliser", {}).get("expects", {})
    for axis in ("roll", "pitch", "yaw"):
        wanted = expects.get(axis, {})
        if "low_us" not in wanted or "high_us" not in wanted or wanted.get("direction") == -1:
            continue
        low, high = wanted["low_us"], wanted["high_us"]
        if low > high:
            yield (
                ("receiver", "stabiliser", "expects", axis, "low_us"),
                f"is {number(low)}, above `high_us`, {number(high)}; "
                "swap them, or record `direction` -1",
            )


def _dates(data: Json) -> Iterator[Said]:
    for section, key in (("sign_offs", "on"), ("waivers", "until")):
        for i, entry in enumerate(data.get(section, ())):
            if not _is_date(entry[key]):
                yield (section, i, key), f"is {shown(entry[key])}, which no calendar has"


def _is_date(text: str) -> bool:
    from datetime import date

    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True
