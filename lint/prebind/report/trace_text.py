"""The trace report as tables for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from prebind.report.cells import (
    NOTE,
    NOTHING,
    UNKNOWN,
    deg,
    heading,
    percent,
    position,
    states,
    title,
    us,
    word,
)
from prebind.report.tables import Numbers, Rows, table
from prebind.report.wording import clean, number, paragraph, where

if TYPE_CHECKING:
    from prebind.path import Path

Json = Mapping[str, Any]

NO_ENTRY = "no entry"
_MOST_ROWS = 100
_MOST_COLUMNS = 3  # controls of a selector that have a column each
_SECTIONS = ("channels", "ports", "selectors", "directions", "motors", "surfaces")


def trace_text(path: Path, trace: Json, name: str, width: int) -> Iterator[str]:
    """The report `trace` of a signal path, section by section."""
    yield title(path, name, width)
    yield heading("Channels: lowest and highest over all control positions", width)
    yield table(*_channels(path, trace), width)
    if trace["ports"]:
        yield heading("Ports: lowest, highest, and when the link is lost", width)
        yield table(*_ports(trace), width)
    unsettled = _unsettled_places(trace)
    for selector in trace["selectors"]:
        yield from _selector(selector, unsettled, width)
    if trace["directions"]:
        yield heading("Directions: which way command and correction turn the model", width)
        yield table(*_directions(path, trace), width)
        for note in _counting(trace):
            yield f"\n{paragraph(note, width)}"
    if trace["motors"]:
        yield heading("Motors: the worst that can be in each case", width)
        yield table(*_motors(trace), width)
    if trace["surfaces"]:
        yield heading("Surfaces: deflection from neutral, + as with a growing pulse", width)
        yield table(*_surfaces(path, trace), width)
    yield from _unsettled(trace, width)
    yield f"\n{paragraph(NOTE, width)}"


# The sections of a trace


def _channels(path: Path, trace: Json) -> tuple[list[str], Rows]:
    rows: Rows = []
    for entry, channel in zip(trace["channels"], path.channels, strict=True):
        side = "" if channel.side is None else f" {channel.side}"
        names = [str(entry["channel"]), f"{entry['function']}{side}"]
        for end in (entry["low"], entry["high"]):
            rows.append([*names, *_end(end)])
            names = ["", ""]
        if entry["clipped_percent"]:
            cut = f"the limit cuts off up to {number(entry['clipped_percent'])} %"
            rows.append(["", "", "", "", cut])
    return [Numbers("Channel"), "Function", Numbers("Output"), Numbers("Pulse"), "With"], rows


def _end(end: Json | None) -> list[str]:
    if end is None:
        return [UNKNOWN, UNKNOWN, ""]
    near = "" if end["attained"] else "approached, not reached: "
    return [percent(end["percent"]), us(end["us"]), near + where(end["controls"])]


def _unsettled_places(trace: Json) -> set[str]:
    """Where a null means not known, and not that there is nothing."""
    beyond = {e["at"] for section in _SECTIONS for e in trace[section] if "not_checked" in e}
    return beyond | {found["at"] for found in trace["open"]}


def _ports(trace: Json) -> tuple[list[str], Rows]:
    unsettled = _unsettled_places(trace)
    rows: Rows = []
    for entry in trace["ports"]:
        name = str(entry["port"])
        for end in (entry["low"], entry["high"]):
            rows.append([name, *(_end({"percent": None, **end}) if end else _end(None))[1:]])
            name = ""
        failsafe = entry["failsafe"]
        pulse = "" if failsafe["us"] is None else us(failsafe["us"])
        action = word(failsafe["action"], UNKNOWN if entry["at"] in unsettled else NO_ENTRY)
        rows.append(["", pulse, f"link lost: {action}"])
    return [Numbers("Port"), Numbers("Pulse"), "With"], rows


def _selector(selector: Json, unsettled: set[str], width: int) -> Iterator[str]:
    name = clean(selector["name"])
    yield heading(f"Selector “{name}”: on channel {selector['channel']}", width)
    positions = selector["positions"]
    if positions is None:
        yield f"{UNKNOWN}\n"
        return
    controls = list(dict.fromkeys(name for found in positions for name in found["controls"]))
    if len(controls) > _MOST_COLUMNS:
        controls = ["With"]
    rows = [[*_standing(found, controls), *_selected(found)] for found in positions[:_MOST_ROWS]]
    heads = [*controls, Numbers("Output"), Numbers("Pulse"), "State", Numbers("Margin")]
    yield table(heads, rows, width)
    if len(positions) > _MOST_ROWS:
        yield f"and {len(positions) - _MOST_ROWS} more; --report json has them all\n"
    failsafe = selector["failsafe"]
    unknown = UNKNOWN if selector["at"] in unsettled else NO_ENTRY
    yield f"\n{paragraph(f'Link lost: {clean(_lost(failsafe, unknown))}', width)}"


def _lost(failsafe: Json, unknown: str) -> str:
    """What a selector's channel does when the link is lost, and the states that follow."""
    if failsafe["action"] == "preset":
        return f"preset {us(failsafe['us'])}, state {states(failsafe['states'])}"
    if failsafe["action"] == "hold":
        return f"hold, in whichever it was: {', '.join(failsafe['states'])}"
    return word(failsafe["action"], unknown)


def _standing(found: Json, controls: list[str]) -> list[str]:
    if controls == ["With"]:
        return [where(found["controls"])]
    stretch = isinstance(found["percent"], list)
    return [
        "part of its range" if stretch and not isinstance(at, str) else position(at)
        for at in (found["controls"].get(name) for name in controls)
    ]


def _selected(found: Json) -> list[str]:
    margin = NOTHING if found["margin_us"] is None else us(found["margin_us"])
    return [percent(found["percent"]), us(found["us"]), states(found["states"]), margin]


def _directions(path: Path, trace: Json) -> tuple[list[str], Rows]:
    unsettled = _unsettled_places(trace)
    rows: Rows = []
    for entry, direction in zip(trace["directions"], path.directions, strict=True):
        unknown = UNKNOWN if entry["at"] in unsettled else NOTHING
        stabilised = unknown if direction.axis_path is not None else NOTHING
        rows.append(
            [
                entry["axis"],
                str(entry["port"]),
                word(entry["surface"], NOTHING),
                _SIGNS.get(entry["direct"], unknown),
                _SIGNS.get(entry["target"], stabilised),
                _SIGNS.get(entry["correction"], stabilised),
            ]
        )
    return ["Axis", Numbers("Port"), "Surface", "Command", "To a target", "Correction"], rows


_SIGNS = {1: "right", -1: "WRONG"}


def _counting(trace: Json) -> Iterator[str]:
    """In which states the direct command counts, as far as states decide that."""
    counting = {
        name: among for entry in trace["directions"] for name, among in entry["states"].items()
    }
    for name, among in counting.items():
        named = ", ".join(map(clean, among)) or "no state"
        yield (
            f"Of “{clean(name)}”, the command goes to the surface in {named}; in a state that "
            "holds an attitude it sets a target."
        )


def _motors(trace: Json) -> tuple[list[str], Rows]:
    unsettled = _unsettled_places(trace)
    names = list(dict.fromkeys(n for motor in trace["motors"] for n in motor["overrides"] or ()))
    rows: Rows = []
    for motor in trace["motors"]:
        known = motor["at"] not in unsettled
        never = NOTHING if known else UNKNOWN
        overrides = motor["overrides"] or {}
        rows.append(
            [
                str(motor["port"]),
                word(motor["throttle_low"], never),
                word(motor["throttle_high"], never),
                *(word(overrides.get(name), never) for name in names),
                word(motor["failsafe"], NO_ENTRY if known else UNKNOWN),
            ]
        )
    return [Numbers("Port"), "Throttle low", "Throttle high", *names, "Link lost"], rows


def _surfaces(path: Path, trace: Json) -> tuple[list[str], Rows]:
    grows = {servo.at: servo.entry.increasing_pulse for servo in path.servos}
    rows = [
        [
            word(entry["surface"], NOTHING),
            str(entry["port"]),
            word(grows[entry["at"]]),
            deg(entry["low_deg"]),
            deg(entry["high_deg"]),
            deg(entry["failsafe_deg"]),
        ]
        for entry in trace["surfaces"]
    ]
    heads = [
        "Surface",
        Numbers("Port"),
        "Growing pulse",
        Numbers("Lowest"),
        Numbers("Highest"),
        Numbers("Link lost"),
    ]
    return heads, rows


def _unsettled(trace: Json, width: int) -> Iterator[str]:
    """What is not known, with what would settle it, and what was beyond the bound."""
    by_bench: dict[str, dict[str, None]] = {}
    for found in trace["open"]:
        settles = ", ".join(map(clean, found["settles"]))
        text = f"{clean(found['message'])}{f' (settled by {settles})' if settles else ''}"
        by_bench.setdefault(found["bench"], {})[text] = None
    reasons = [
        f"{entry['at']}: {said}: {clean(entry[key])}"
        for section in _SECTIONS
        for entry in trace[section]
        for key, said in (("not_checked", "beyond the bound"), ("fault", "the linkage fails"))
        if key in entry
    ]
    if not by_bench and not reasons:
        return
    yield heading("Not known", width)
    for bench, texts in by_bench.items():
        for text in texts:
            yield paragraph(text, width, "- ", "  ")
        yield paragraph(clean(bench), width, "    By hand: ", "    ")
    for reason in reasons:
        yield paragraph(reason, width, "- ", "  ")
