"""`prebind inspect`: inspects documents and reports."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING

from attrs import evolve

from prebind.cli.options import Parser, Wanted, add_display, add_report, reports, signal_word
from prebind.cli.output import files_there, sheet_for, spare
from prebind.cli.progress import Progress
from prebind.cli.sources import STANDARD_INPUT, Source, sources, standard_input
from prebind.inspect.finding import Report
from prebind.inspect.inspector import Configuration, Inspector
from prebind.inspect.settings import Nearest
from prebind.problem import Problem
from prebind.report import formats
from prebind.report.inspection_json import relative
from prebind.report.inspection_text import problem_line

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterator

    from prebind.inspect.baseline import Baseline
    from prebind.inspect.settings import Settings
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
        help="exit with 1 from this signal word up: danger, warning, caution or notice "
        "(default: what the settings say, or caution)",
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
        help="do not run this rule or family, in place of those in the settings; may be given "
        "again",
    )
    asked.add_argument(
        "--since",
        metavar="REPORT",
        help="an earlier JSON or SARIF report: say what is new, known or gone, and ground on what "
        "is new only",
    )
    asked.add_argument(
        "--settings",
        metavar="FILE",
        help="the settings for every setup (default: prebind.toml, the nearest upward from each)",
    )
    asked.add_argument(
        "--show-settings",
        metavar="FILE",
        help="inspect nothing; say which settings are in force for this setup, and what set each",
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
    nearest = Nearest(inspector.rules, options.settings)
    if options.settings is not None:
        _stop(nearest.of(os.curdir))
    if options.show_settings is not None:
        return _show(inspector, nearest, options)
    since = _since(options.since)
    judged = formats.Run(inspector, options.ground_at or "caution", options.complete)
    found = _Documents(inspector, nearest, options, since)
    problems, grounded = _inspect(judged, found, options, wanted)
    if not any(_for_a_person(one) for one in wanted):
        sys.stderr.writelines(map(problem_line, problems))
    if options.traceback:
        sys.stderr.writelines(problem.traceback for problem in problems if problem.traceback)
    return 2 if problems else int(grounded)


def _stop(found: object) -> None:
    """Ends the run, if this is what is wrong with something that the whole run depends on."""
    problems = found if isinstance(found, list) else [found]
    if isinstance(problems[0], Problem):
        sys.stderr.writelines(map(problem_line, problems))
        raise SystemExit(2)


def _since(path: str | None) -> Baseline | None:
    if path is None:
        return None
    from prebind.inspect.baseline import read

    found = read(path)
    _stop(found)
    assert not isinstance(found, Problem)
    return found


def _show(inspector: Inspector, nearest: Nearest, options: Namespace) -> int:
    from prebind.report.settings_text import in_force

    path = options.show_settings
    found = nearest.of(f"{path}/*" if os.path.isdir(path) else path)  # noqa: PTH112
    _stop(found)
    given = {
        "--ground-at": options.ground_at,
        "--leave-out": options.leave_out,
        "--family": options.family,
    }
    sys.stdout.writelines(in_force(inspector, None if isinstance(found, list) else found, given))
    return 0


def _for_a_person(one: Wanted) -> bool:
    return one == Wanted("text", None)


def _inspect(
    judged: Run, found: _Documents, options: Namespace, wanted: list[Wanted]
) -> tuple[list[Problem], bool]:
    """Every problem of the run, and whether anything grounds.

    Raises OSError where a report cannot be written, or would take the place of a document.
    """
    problems = list(judged.inspector.problems)
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
        for report in found.reports(options.paths):
            problems += report.problems
            grounded |= report.grounds(judged.ground_at, judged.complete)
            spare(taken, _read(report))
            for writer in writers:
                writer.document(report)
            progress.step()
        for writer in writers:
            writer.end(problems)
    return problems, grounded


class _Documents:
    """Inspects documents, each under the settings nearest to it, against the earlier report."""

    def __init__(
        self, inspector: Inspector, nearest: Nearest, options: Namespace, since: Baseline | None
    ) -> None:
        self._inspector = inspector
        self._nearest = nearest
        self._options = options
        self._since = since
        self._under: dict[str, tuple[Inspector, Settings]] = {}  # by the settings' file
        self._broken: set[str] = set()

    def reports(self, paths: list[str]) -> Iterator[Report]:
        """One for each document, and one for each settings file that is broken.

        Documents below a broken one are inspected as if it were not there.
        """
        for source in sources(paths):
            if isinstance(source, Problem):
                yield Report(source.path, None, problems=(source,))
                continue
            settings = self._nearest.of(source.path)
            if isinstance(settings, list):
                file = settings[0].path
                if file not in self._broken:
                    self._broken.add(file)
                    yield Report(file, None, problems=tuple(settings))
                settings = None
            report = self._report(source, settings)
            yield report if self._since is None else self._since.compared(report, relative)

    def _report(self, source: Source, settings: Settings | None) -> Report:
        if settings is None:
            return _inspected(self._inspector, source)
        inspector, said = self._configured(settings)
        return evolve(_inspected(inspector, source), settings=said)

    def _configured(self, settings: Settings) -> tuple[Inspector, Settings]:
        """Under a settings file, and what of it the command line leaves in force."""
        if settings.file not in self._under:
            asked = self._options
            said = settings.without(
                ground_at=asked.ground_at is not None, leave_out=bool(asked.leave_out)
            )
            configuration = said.over(self._inspector.configuration)
            self._under[settings.file] = self._inspector.configured(configuration), said
        return self._under[settings.file]


def _inspected(inspector: Inspector, source: Source) -> Report:
    if source.path != STANDARD_INPUT:
        return inspector.inspect_file(source.path, source.root)
    data = standard_input(inspector.configuration.limit_bytes)
    return inspector.inspect(data, path=STANDARD_INPUT)


def _read(report: Report) -> Iterator[str]:
    """Every file that a report is about."""
    yield report.path_name
    if report.settings is not None:
        yield report.settings.file
    if report.document is not None:
        yield from (source.name for source in report.document.sources)
