"""`prebind trace`: the signal path of one document."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING

from prebind.cli.options import Parser, add_display, add_report, nearest, reports
from prebind.cli.output import files_there, sheet_for, spare
from prebind.cli.sources import document
from prebind.document import Document
from prebind.path import Path

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from prebind.path.control import ControlPath
    from prebind.path.facts import Position


class Unclear(Exception):
    """What was asked for with --set does not exist; the message says what does."""


def parser() -> Parser:
    asked = Parser(
        "prebind trace",
        "Shows the signal path of one setup: what every channel and port can put out, which state\n"
        "each position selects and by what margin, directions, motors and deflections.",
        examples="prebind trace dunlin.setup.json\n"
        "prebind trace dunlin.setup.json --set mode-switch=forward --set roll-stick=50\n"
        "prebind trace dunlin.setup.json --report json=dunlin.trace.json\n",
    )
    asked.add_argument("setup", metavar="SETUP", help="a setup, or - for standard input")
    asked.add_argument(
        "--set",
        metavar="CONTROL=POSITION",
        action="append",
        default=[],
        help="show one situation instead, with this control there: a position's name, or a "
        "percentage; may be given again.  Other controls stand at their first position, sticks, "
        "sliders and knobs at 0, the throttle low",
    )
    add_report(asked, ("json", "text"))
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    wanted = reports(asked, options.report)
    found = document(options.setup)
    if not isinstance(found, Document):
        from prebind.report.inspection_text import problem_line

        sys.stderr.writelines(map(problem_line, found))
        return 2
    path = Path(found.setup)
    try:
        controls = dict(_placed(path, text) for text in options.set)
    except Unclear as error:
        asked.error(str(error))
    spare(files_there(wanted), (source.name for source in found.sources))
    told = _report(path, found.path, controls if options.set else None)
    with ExitStack() as stack:
        for one in wanted:
            sheet = sheet_for(one, stack, options.plain)
            sheet.out.writelines(told[one.format](sheet.width))
    return 0


def _report(
    path: Path, name: str, controls: dict[str, Position] | None
) -> Mapping[str, Callable[[int], Iterable[str]]]:
    """For each format the report, of the whole path or of one situation, at a width."""
    from prebind.path.plain import situation_json, trace_json
    from prebind.report.inspection_json import dumps, relative
    from prebind.report.situation_text import situation_text
    from prebind.report.trace_text import trace_text

    if controls is None:
        trace = trace_json(path, relative(name))
        return {
            "json": lambda _: [f"{dumps(trace)}\n"],
            "text": lambda width: trace_text(path, trace, name, width),
        }
    situation = situation_json(path, controls)
    return {
        "json": lambda _: [f"{dumps(situation)}\n"],
        "text": lambda width: situation_text(path, situation, name, width),
    }


# CONTROL=POSITION


def _placed(path: Path, text: str) -> tuple[str, Position]:
    """A control and where it was put.  Raises Unclear."""
    splits = [(text[:i], text[i + 1 :]) for i, char in enumerate(text) if char == "="]
    if not splits:
        raise Unclear(f"--set {text}: write CONTROL=POSITION, as in --set roll-stick=50")
    for name, position in splits:
        if name in path.controls:
            return name, _position(path.controls[name], position.strip())
    name = splits[0][0]
    raise Unclear(f"there is no control “{name}”{nearest(name, path.controls)}")


def _position(control: ControlPath, text: str) -> Position:
    if text in control.positions:
        return text
    percent = _percent(text)
    if control.continuous:
        if percent is None or not -100 <= percent <= 100:
            raise Unclear(
                f"“{control.id}” is a {control.entry.kind}: put it at a percentage from -100 to "
                f"100, not at “{text}”"
            )
        return percent
    there = [name for name in control.positions if control.value(name) == percent]
    if len(there) == 1:
        return there[0]
    raise Unclear(f"“{control.id}” has no position “{text}”{nearest(text, control.positions)}")


def _percent(text: str) -> float | None:
    try:
        return float(text.removesuffix("%"))
    except ValueError:
        return None
