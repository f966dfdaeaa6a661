"""`prebind inspect`: inspects documents and reports."""

from __future__ import annotations

import os
import sys
from argparse import ArgumentTypeError
from contextlib import ExitStack, closing
from typing import TYPE_CHECKING

from prebind.cli.documents import Documents, Writer
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
from prebind.format import Run
from prebind.inspect.inspector import Inspector
from prebind.inspect.nearest import Nearest, Under
from prebind.problem import Problem
from prebind.record import evolve
from prebind.report.formats import prebind_report_formats
from prebind.report.inspection_json import dumps, problem_json
from prebind.report.inspection_text import problem_line

if TYPE_CHECKING:
    from argparse import Namespace

    from prebind.cli.cache import Cache
    from prebind.inspect.baseline import Baseline
    from prebind.inspect.part import Part
    from prebind.report.timing_text import Timing

MOST_JOBS = 1024


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
        "prebind inspect - <dunlin.setup.json   a setup on standard input\n"
        "prebind inspect --part 3/8 --report json=part-3.json   the third of eight machines\n"
        "prebind inspect --merge part-*.json    what all of them found\n",
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
        "--jobs",
        metavar="N",
        type=_jobs,
        default=_cores(),
        help="inspect in so many processes at once, where there are many setups (default: one for "
        "each core that there is, here %(default)s)",
    )
    asked.add_argument(
        "--part",
        metavar="I/N",
        type=_part,
        help="inspect one of N parts, so that N machines share the work; each setup is in one of "
        "them, by its path",
    )
    asked.add_argument(
        "--merge",
        metavar="REPORT",
        nargs="+",
        help="inspect nothing; make of the JSON reports of all parts the one of a whole run, which "
        "is JSON too, and exit as that would have",
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
    asked.add_argument(
        "--no-cache",
        action="store_true",
        help="inspect every setup anew, and keep nothing for the next run (kept is what came of "
        "the setups of a folder, in your cache folder)",
    )
    add_display(asked)
    return asked


def _cores() -> int:
    """Those that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _jobs(text: str) -> int:
    if text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_JOBS:
        return int(text)
    raise ArgumentTypeError(f"“{text}” is no number from 1 to {MOST_JOBS}")


def _part(text: str) -> Part:
    from prebind.inspect.part import Part

    number, _, of = text.partition("/")
    if all(it.isascii() and it.isdigit() for it in (number, of)) and 1 <= int(number) <= int(of):
        return Part(int(number), int(of))
    raise ArgumentTypeError(f"“{text}” is no part: write 3/8 for the third of eight")


def run(given: list[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    if options.merge is not None:
        from prebind.cli.merge import run as merge

        return merge(asked, options)
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
    judged = Run(nearest.plain, options.ground_at or "caution", options.complete, options.part)
    problems, grounded = _inspect(nearest, judged, options, wanted)
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


def _timing() -> Timing:
    from prebind.report.timing_text import Timing

    return Timing()


def _cache(judged: Run, options: Namespace, writers: list[Writer]) -> Cache | None:
    """Earlier results, where they are asked for; for one setup they cost more than they save."""
    several = len(options.paths) > 1 or os.path.isdir(options.paths[0])  # noqa: PTH112
    anew = options.no_cache or options.since or options.timing
    if anew or not several or not all(writer.in_steps for writer in writers):
        return None
    from prebind.cli.cache import opened

    return opened(judged, [writer.look for writer in writers])


def _inspect(
    nearest: Nearest, judged: Run, options: Namespace, wanted: list[Wanted]
) -> tuple[list[Problem], bool]:
    """Every problem of the run, and whether anything grounds.

    What concerns settings and packs stands first, in an order that does not hang on who met it.
    Raises OSError where a report cannot be written, or would take the place of a document.
    """
    around = list(judged.inspector.problems)
    problems: list[Problem] = []
    grounded = False
    since = _since(options.since)
    taken = files_there(wanted)
    busy = not any(_for_a_person(one) for one in wanted) or not sys.stdout.isatty()
    progress = Progress(busy and sys.stderr.isatty())
    timing = _timing() if options.timing else None
    with ExitStack() as stack:
        stack.callback(progress.end)
        writers = [
            Writer(judged, one.format, sheet_for(one, stack, options.plain)) for one in wanted
        ]
        cache = _cache(judged, options, writers)
        documents = Documents(nearest, judged, writers, since, options.timing, cache)
        found = documents.inspected(options.paths, options.jobs, taken)
        for inspected in stack.enter_context(closing(found)):
            (problems if inspected.document else around).extend(inspected.problems)
            if timing is not None:
                timing.add(inspected.timed)
            grounded |= inspected.grounds
            spare(taken, inspected.read)
            for writer, piece in zip(writers, inspected.pieces, strict=True):
                writer.add(piece)
            progress.step()
        problems[:0] = sorted(around, key=lambda problem: dumps(problem_json(problem)))
        for writer in writers:
            writer.end(problems)
    if timing is not None:
        sys.stdout.flush()
        sys.stderr.writelines(timing.text(width()))
    return problems, grounded
