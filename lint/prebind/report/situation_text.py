"""One situation as tables for a person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from prebind.report.cells import (
    NOTE,
    NOTHING,
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
from prebind.report.wording import paragraph

if TYPE_CHECKING:
    from prebind.path import Path

Json = Mapping[str, Any]


def situation_text(path: Path, situation: Json, name: str, width: int) -> Iterator[str]:
    """The report `situation`: one place for every control, stage by stage."""
    yield title(path, name, width)
    yield heading("Controls", width)
    stands = [[name, position(at)] for name, at in situation["controls"].items()]
    yield table(["Control", "Stands at"], stands, width)
    yield heading("Channels: demand in percent, from the control to the pulse", width)
    yield table(*_stages(path, situation), width)
    if situation["ports"]:
        yield heading("Ports", width)
        rows = [[str(port["port"]), us(port["us"])] for port in situation["ports"]]
        yield table([Numbers("Port"), Numbers("Pulse")], rows, width)
    if situation["selectors"]:
        yield heading("Selectors", width)
        rows = [
            [s["name"], states(s["states"]), us(s["margin_us"])] for s in situation["selectors"]
        ]
        yield table(["Selector", "State", Numbers("Margin")], rows, width)
    if situation["motors"]:
        yield heading("Motors", width)
        rows = [[str(motor["port"]), word(motor["state"])] for motor in situation["motors"]]
        yield table([Numbers("Port"), "State"], rows, width)
    if situation["surfaces"]:
        yield heading("Surfaces", width)
        rows = [[word(s["surface"]), deg(s["deg"])] for s in situation["surfaces"]]
        yield table(["Surface", Numbers("Deflection")], rows, width)
    yield f"\n{paragraph(NOTE, width)}"


def _margin(found: Json) -> str:
    return NOTHING if found["margin_us"] is None else us(found["margin_us"])


def _stages(path: Path, situation: Json) -> tuple[list[str], Rows]:
    keys = ("shape", "mixed", "demand", "output_percent")
    rows = [
        [
            str(entry["channel"]),
            channel.function,
            *(percent(entry[key]) for key in keys),
            us(entry["us"]),
            percent(entry["clipped_percent"]) if entry["clipped_percent"] else NOTHING,
        ]
        for entry, channel in zip(situation["channels"], path.channels, strict=True)
    ]
    heads = [
        Numbers("Channel"),
        "Function",
        Numbers("Shape"),
        Numbers("Mixed"),
        Numbers("Demand"),
        Numbers("Output"),
        Numbers("Pulse"),
    ]
    return [*heads, Numbers("Cut off")], rows
