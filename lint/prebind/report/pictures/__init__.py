"""Pictures of a signal path, as numbers that a template draws: what stands where, and in words.

Every number in them is the trace's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from attrs import frozen

from prebind.path.plain import trace_json
from prebind.report.pictures.direction import DirectionPicture, direction_picture
from prebind.report.pictures.port import PortPicture, port_picture, ports_ruler
from prebind.report.pictures.selector import SelectorPicture, selector_picture

if TYPE_CHECKING:
    from collections.abc import Mapping

    from prebind.path import Path

    Json = Mapping[str, Any]

__all__ = ["DirectionPicture", "Pictures", "PortPicture", "SelectorPicture", "pictures"]


@frozen
class Pictures:
    selectors: list[SelectorPicture]
    ports: list[PortPicture]
    directions: list[DirectionPicture]


def pictures(path: Path) -> Pictures:
    """Everything that can be drawn of a model."""
    trace = trace_json(path)
    ruler = ports_ruler(path, trace["ports"])
    return Pictures(
        [
            selector_picture(selector, entry, _unknown(trace, entry))
            for selector, entry in zip(path.selectors, trace["selectors"], strict=True)
        ],
        [
            port_picture(port, ruler, entry, _unknown(trace, entry))
            for port, entry in zip(path.ports, trace["ports"], strict=True)
        ],
        [
            direction_picture(direction, entry)
            for direction, entry in zip(path.directions, trace["directions"], strict=True)
        ],
    )


def _unknown(trace: Json, entry: Json) -> tuple[str, ...]:
    """Why an entry lacks what it lacks: beyond the bound, or not written down."""
    opened = [found["message"] for found in trace["open"] if found["at"] == entry["at"]]
    return tuple(
        dict.fromkeys((*([entry["not_checked"]] if "not_checked" in entry else ()), *opened))
    )
