"""`prebind plan`: channels and controls for wished models, and which radio serves."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from prebind.cli.options import Parser, add_display, add_report, nearest, reports
from prebind.cli.output import files_there, sheet_for, spare
from prebind.cli.sources import STANDARD_INPUT, sources, standard_input
from prebind.problem import Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    from prebind.plan import Asked


def parser() -> Parser:
    asked = Parser(
        "prebind plan",
        "Plans a radio: for models that are wished for (or exist), says which of the candidate\n"
        "transmitters serves them all and with what to spare, and puts every function on a\n"
        "channel, a port and a control. What must hold holds; what is preferred is weighed; the\n"
        "answer is proven best. Where wishes contradict each other, the smallest set that does is\n"
        "named, with what would resolve it.",
        examples="prebind plan club.wishes.json\n"
        "prebind plan club.wishes.json --transmitter Reed --trades\n"
        "prebind plan club.wishes.json --report text --report json=club.plan.json\n",
        exit="0  every model fits one of the transmitters\n"
        "1  wishes contradict each other, on every transmitter or on the one asked for\n"
        "2  the wishes cannot be read, or the solver is not installed; wrong usage\n",
    )
    asked.add_argument("wishes", metavar="WISHES", help="the wishes, or - for standard input")
    asked.add_argument(
        "--transmitter",
        metavar="NAME",
        help="plan for this candidate (default: the one that serves best)",
    )
    asked.add_argument(
        "--trades",
        action="store_true",
        help="also show the answers that put another preference first, and what they trade",
    )
    add_report(asked, ("json", "text"))
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    from prebind.plan import NotInstalled, plan
    from prebind.plan.plain import plan_json
    from prebind.report.inspection_json import dumps, relative
    from prebind.report.plan_text import contradiction_lines, plan_text

    asked = parser()
    options = asked.parse_args(given)
    wanted = reports(asked, options.report)
    found = wishes(options.wishes)
    if isinstance(found, list):
        return told(found)
    spare(files_there(wanted), (options.wishes, *found.read_files))
    known = found.wishes.radios
    if options.transmitter is not None and options.transmitter not in known:
        asked.error(
            f"there is no transmitter “{options.transmitter}”{nearest(options.transmitter, known)}"
        )
    try:
        planned = plan(found, options.transmitter, trades=options.trades)
    except NotInstalled as error:
        print(f"prebind plan: {error}", file=sys.stderr)
        return 2
    data = plan_json(planned, relative(options.wishes))
    with ExitStack() as stack:
        for one in wanted:
            sheet = sheet_for(one, stack, options.plain)
            if one.format == "json":
                sheet.out.write(f"{dumps(data)}\n")
            else:
                sheet.out.writelines(plan_text(data, sheet.width))
    sys.stdout.flush()
    sys.stderr.writelines(contradiction_lines(data))
    return 0 if planned.answer is not None else 1


def wishes(path: str) -> Asked | list[Problem]:
    """The wishes in a file, or what is wrong with them."""
    from prebind.document.contents import contents
    from prebind.plan.read import LIMIT_BYTES, read

    if path == STANDARD_INPUT:
        return read(standard_input(LIMIT_BYTES), path=path)
    file = Path(path)
    try:
        data = contents(file, LIMIT_BYTES + 1)
    except OSError as error:
        return [Problem(path, f"cannot be read: {error.strerror}")]
    return read(data, path=file.as_posix(), root=_root(path) or file.parent)


def _root(path: str) -> Path | None:
    """The folder that setups may be read from, as for shared parts of a setup at this place."""
    return next((it.root for it in sources([path]) if not isinstance(it, Problem)), None)


def told(problems: Sequence[Problem]) -> int:
    from prebind.report.inspection_text import problem_line

    sys.stderr.writelines(map(problem_line, problems))
    return 2
