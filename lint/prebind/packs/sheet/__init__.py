"""A rule sheet: rules without code, in a JSON file that can be taken from a stranger.

`sheet.schema.json` is its format.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.problem import Problem

if TYPE_CHECKING:
    from prebind.document.fault import Fault
    from prebind.packs import Pack

__all__ = ["LIMIT_BYTES", "read"]

LIMIT_BYTES = 256 * 1024


def read(file: str, data: bytes) -> Pack | list[Problem]:
    """The pack that a sheet is, or everything that is wrong with it, sorted by place.

    `file` names the sheet in problems.  Never raises on bad input.
    """
    from prebind.document.parse import Unreadable, parse_object
    from prebind.document.positions import Source

    try:
        sheet = parse_object(data, LIMIT_BYTES)
    except Unreadable as error:
        return [Problem(file, error.message, error.line, error.column)]
    faults = _faults(sheet)
    if faults:
        source = Source(file, data)
        return sorted((_problem(fault, source) for fault in faults), key=_order)
    return _pack(file, sheet)


def _pack(file: str, sheet: dict[str, Any]) -> Pack:
    from prebind.packs import Pack
    from prebind.packs.sheet.language import linked
    from prebind.packs.sheet.rules import rules

    pack = sheet["pack"]
    return Pack(pack["name"], pack["version"], "sheet", file, rules(linked(sheet)))


def _faults(sheet: dict[str, Any]) -> list[Fault]:
    from itertools import islice

    from prebind.document import schema
    from prebind.document.wording import MOST_FOUND, told
    from prebind.packs.sheet.faults import faults

    return schema.check(sheet, "sheet") or told(list(islice(faults(sheet), MOST_FOUND)))


def _problem(fault: Fault, source: Any) -> Problem:
    from prebind.document.positions import split

    place = source.place(split(fault.at), key=fault.key)
    return Problem(source.name, fault.message, place.line, place.column)


def _order(problem: Problem) -> tuple[int, int]:
    return problem.line or 0, problem.column or 0
