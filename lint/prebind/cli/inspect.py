"""`prebind inspect`: inspects documents and reports."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

from attrs import evolve

from prebind.cli.options import (
    Parser,
    Wanted,
    add_display,
    add_packs,
    add_report,
    configuration_of,
    known_names,
    reports,
    signal_word,
)
from prebind.cli.output import files_there, sheet_for, spare, width
from prebind.cli.progress import Progress
from prebind.cli.sources import STANDARD_INPUT, Source, sources, standard_input
from prebind.format import Run
from prebind.inspect.finding import Report
from prebind.inspect.inspector import Inspector
from prebind.inspect.nearest import Nearest, Under
from prebind.problem import Problem
from prebind.report.formats import prebind_report_formats
from prebind.report.inspection_json import relative
from prebind.report.inspection_text import problem_line
from prebind.report.timing_text import Timing

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from prebind.format import Sheet
    from prebind.inspect.baseline import Baseline


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
    formats = [it.name for it in prebind_report_formats()]
    add_report(asked, formats, more=", or a format of a pack")
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
    add_packs(asked)
    asked.add_argument(
        "--timing",
        action="store_true",
        help="say on standard error how long each pack and rule took",
    )
    add_display(asked)
    return asked


def run(given: list[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    inspector = Inspector(configuration_of(options))
    wanted = reports(asked, options.report, inspector.formats)
    families, left_out = tuple(options.family), tuple(options.leave_out)
    nearest = Nearest(
        inspector,
        options.settings,
        evolve(inspector.configuration, families=families, leave_out=left_out),
        ground_at=options.ground_at is not None,
    )
    if options.settings is not None:
        _stop(nearest.of(os.curdir))
    if families or left_out or options.without_pack:
        known_names(asked, nearest.of_any(options.paths), options)
    if options.show_settings is not None:
        return _show(nearest, options)
    since = _since(options.since)
    judged = Run(nearest.plain, options.ground_at or "caution", options.complete)
    found = _Documents(nearest, since)
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


def _show(nearest: Nearest, options: Namespace) -> int:
    from prebind.report.settings_text import in_force

    path = options.show_settings
    found = nearest.of(f"{path}/*" if os.path.isdir(path) else path)  # noqa: PTH112
    _stop(found)
    assert isinstance(found, Under)
    given = {
        "--ground-at": options.ground_at,
        "--leave-out": options.leave_out,
        "--family": options.family,
        "--pack": options.pack,
        "--without-pack": options.without_pack,
    }
    sys.stdout.writelines(in_force(found.inspector, found.settings, given))
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
            _Writer(judged, one.format, sheet_for(one, stack, options.plain)) for one in wanted
        ]
        timing = Timing() if options.timing else None
        for report in found.reports(options.paths):
            problems += report.problems
            if timing is not None:
                timing.add(report)
            grounded |= report.grounds(judged.ground_at, judged.complete)
            spare(taken, _read(report))
            for writer in writers:
                writer.document(report)
            progress.step()
        for writer in writers:
            writer.end(problems)
    if timing is not None:
        sys.stdout.flush()
        sys.stderr.writelines(timing.text(width()))
    return problems, grounded


class _Writer:
    """A format's writer; where it crashes, the error notes which format of which pack that is."""

    def __init__(self, run: Run, name: str, sheet: Sheet) -> None:
        pack = next(
            pack for pack in run.inspector.packs if name in (it.name for it in pack.formats)
        )
        self._note = f"the report format “{name}” of {pack.label}"
        begin = run.inspector.formats[name].begin
        self._writer = self._noted(begin, sheet, run)

    def document(self, report: Report) -> None:
        self._noted(self._writer.document, report)

    def end(self, problems: Sequence[Problem]) -> None:
        self._noted(self._writer.end, problems)

    def _noted(self, call: Callable[..., Any], *given: object) -> Any:
        try:
            return call(*given)
        except Exception as error:
            error.add_note(self._note)
            raise


class _Documents:
    """Inspects documents, each under the settings nearest to it, against the earlier report."""

    def __init__(self, nearest: Nearest, since: Baseline | None) -> None:
        self._nearest = nearest
        self._since = since
        self._told: set[Problem] = set(nearest.plain.problems)

    def reports(self, paths: list[str]) -> Iterator[Report]:
        """One for each document, and one for each settings file or pack that is broken.

        Documents below a broken settings file are inspected as if it were not there.
        """
        for source in sources(paths):
            if isinstance(source, Problem):
                yield Report(source.path, None, problems=(source,))
                continue
            under = self._nearest.of(source.path)
            if isinstance(under, list):
                yield from self._new(under)
                under = Under(self._nearest.plain)
            yield from self._new(under.inspector.problems)
            report = _inspected(under.inspector, source)
            if under.settings is not None:
                report = evolve(report, settings=under.settings)
            yield report if self._since is None else self._since.compared(report, relative)

    def _new(self, problems: Iterable[Problem]) -> Iterator[Report]:
        """A report for each file of settings or packs that has problems not told so far."""
        by_file: dict[str, list[Problem]] = {}
        for problem in problems:
            if problem not in self._told:
                self._told.add(problem)
                by_file.setdefault(problem.path, []).append(problem)
        for file, its in by_file.items():
            yield Report(file, None, problems=tuple(its))


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
