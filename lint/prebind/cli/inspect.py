"""`prebind inspect`: inspects documents and reports."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING

from prebind.cli.options import Parser, Wanted, add_display, add_report, reports, signal_word
from prebind.cli.output import files_there, sheet_for, spare
from prebind.cli.progress import Progress
from prebind.cli.sources import STANDARD_INPUT, sources, standard_input
from prebind.inspect.finding import Report
from prebind.inspect.inspector import Configuration, Inspector
from prebind.problem import Problem
from prebind.report import formats
from prebind.report.inspection_text import problem_line

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterator

    from prebind.report.formats import Run


def parser() -> Parser:
    asked = Parser(
        "prebind inspect",
        "Inspects setups and reports what is wrong, what could not be checked, and what to do.\n"
        "No document is ever changed.",
        examples="prebind inspect                        every *.setup.json below this folder\n"
        "prebind inspect dunlin.setup.json      one setup\n"
        "prebind inspect fleet --family failsafe --family throttle\n"
        "prebind inspect --complete             what cannot be checked grounds too\n"
        "prebind inspect --report text --report json=findings.json\n"
        "prebind inspect - <dunlin.setup.json   a setup on standard input\n",
        exit="0  nothing grounds\n"
        "1  something does\n"
        "2  the run is not to be trusted: a setup that cannot be read, a rule that crashed,\n"
        "   wrong usage\n",
    )
    asked.add_argument(
        "paths",
        nargs="*",
        metavar="PATH",
        default=[os.curdir],
        help="a setup, a folder (every *.setup.json below it; links to folders are not followed), "
        "or - for standard input (default: this folder)",
    )
    add_report(asked, formats.names())
    asked.add_argument(
        "--ground-at",
        metavar="WORD",
        type=signal_word,
        default="caution",
        help="exit with 1 from this signal word up: danger, warning, caution or notice "
        "(default: caution)",
    )
    asked.add_argument(
        "--complete", action="store_true", help="what could not be checked grounds too"
    )
    asked.add_argument(
        "--family",
        metavar="NAME",
        action="append",
        default=[],
        help="run only this family of rules; may be given again",
    )
    asked.add_argument(
        "--leave-out",
        metavar="RULE",
        action="append",
        default=[],
        help="do not run this rule or family; may be given again",
    )
    add_display(asked)
    return asked


def run(given: list[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    wanted = reports(asked, options.report)
    configuration = Configuration(tuple(options.family), tuple(options.leave_out))
    try:
        inspector = Inspector(configuration)
    except ValueError as error:
        asked.error(str(error))
    judged = formats.Run(inspector, options.ground_at, options.complete)
    problems, grounded = _inspect(judged, options, wanted)
    if not any(_for_a_person(one) for one in wanted):
        sys.stderr.writelines(map(problem_line, problems))
    if options.traceback:
        sys.stderr.writelines(problem.traceback for problem in problems if problem.traceback)
    return 2 if problems else int(grounded)


def _for_a_person(one: Wanted) -> bool:
    return one == Wanted("text", None)


def _inspect(judged: Run, options: Namespace, wanted: list[Wanted]) -> tuple[list[Problem], bool]:
    """Every problem of the run, and whether anything grounds.

    Raises OSError where a report cannot be written, or would take the place of a document.
    """
    inspector = judged.inspector
    problems = list(inspector.problems)
    grounded = False
    taken = files_there(wanted)
    busy = not any(_for_a_person(one) for one in wanted) or not sys.stdout.isatty()
    progress = Progress(busy and sys.stderr.isatty())
    with ExitStack() as stack:
        stack.callback(progress.end)
        writers = [
            formats.find(one.format).begin(sheet_for(one, stack, options.plain), judged)
            for one in wanted
        ]
        for report in _reports(inspector, options.paths):
            problems += report.problems
            grounded |= report.grounds(options.ground_at, options.complete)
            spare(taken, _read(report))
            for writer in writers:
                writer.document(report)
            progress.step()
        for writer in writers:
            writer.end(problems)
    return problems, grounded


def _reports(inspector: Inspector, paths: list[str]) -> Iterator[Report]:
    for source in sources(paths):
        if isinstance(source, Problem):
            yield Report(source.path, None, problems=(source,))
        elif source.path == STANDARD_INPUT:
            limit = inspector.configuration.limit_bytes
            yield inspector.inspect(standard_input(limit), path=STANDARD_INPUT)
        else:
            yield inspector.inspect_file(source.path, source.root)


def _read(report: Report) -> Iterator[str]:
    """Every file that a report is about."""
    yield report.path_name
    if report.document is not None:
        yield from (source.name for source in report.document.sources)
