"""`prebind compare`: what changed between two setups, in effect."""

from __future__ import annotations

import sys
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from prebind.cli.committed import NotCommitted, committed
from prebind.cli.options import (
    Parser,
    add_display,
    add_packs,
    add_report,
    configuration_of,
    known_names,
    reports,
)
from prebind.cli.output import files_there, sheet_for, spare
from prebind.cli.sources import STANDARD_INPUT, Source, sources, standard_input
from prebind.inspect.comparing import compare
from prebind.inspect.inspector import Inspector
from prebind.inspect.nearest import Nearest
from prebind.problem import Problem
from prebind.record import evolve
from prebind.report.inspection_json import dumps, relative
from prebind.report.inspection_text import problem_line

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Iterator, Sequence

    from prebind.document.positions import Source as Text
    from prebind.format import Sheet
    from prebind.inspect.comparing import Comparison
    from prebind.inspect.finding import Report
    from prebind.report.comparison import Naming


def parser() -> Parser:
    asked = Parser(
        "prebind compare",
        "Says what changed between two setups, in effect and not in text: motors, failsafe,\n"
        "directions, states, deflections and pulses, before and after; findings gained and lost;\n"
        "and the checks by hand that must be repeated.\n\n"
        "Order, defaults written out, the unit of a band, and other names for controls, positions\n"
        "and parts are the same in effect. Both are judged by the settings that hold for the\n"
        "newer one. No document is ever changed.",
        examples="prebind compare dunlin-may.setup.json dunlin.setup.json\n"
        "prebind compare --git dunlin.setup.json   against what was committed last\n"
        "prebind compare --git dunlin.setup.json --report markdown=change.md\n",
        exit="0  nothing changed in effect\n"
        "1  something did, or could not be compared\n"
        "2  the run is not to be trusted: a setup that cannot be read, a rule that crashed,\n"
        "   nothing committed to compare with, wrong usage\n",
    )
    asked.usage = (
        "prebind compare [OPTION ...] OLD NEW\n       prebind compare [OPTION ...] --git SETUP"
    )
    asked.add_argument(
        "setups",
        nargs="+",
        metavar="SETUP",
        help="the older and the newer setup, one of them perhaps - for standard input; with --git "
        "the newer one alone",
    )
    asked.add_argument(
        "--git",
        action="store_true",
        help="compare with the version that was committed last, its shared parts as committed too",
    )
    add_report(asked, ("json", "markdown", "text"))
    asked.add_argument(
        "--settings",
        metavar="FILE",
        help="the settings for both (default: prebind.toml, the nearest upward from the newer one)",
    )
    add_packs(asked)
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    old, new = _setups(asked, options)
    wanted = reports(asked, options.report)
    try:
        inspector = _inspector(asked, options, new)
        newer = _inspected(inspector, _source(new))
        with _older(old, _source(new), inspector.configuration.limit_bytes) as (source, named):
            older = _inspected(inspector, source, named)
            found = compare(older, newer, inspector)
            problems = [*inspector.problems, *older.problems, *newer.problems]
            taken = files_there(wanted)
            spare(taken, (it.name for report in (older, newer) for it in _texts(report)))
            with ExitStack() as stack:
                for one in wanted:
                    sheet = sheet_for(one, stack, options.plain)
                    sheet.out.writelines(_told(one.format, found, problems, named, sheet))
    except _Refused as refused:
        sys.stderr.writelines(map(problem_line, refused.problems))
        return 2
    sys.stderr.writelines(map(problem_line, problems))
    if options.traceback:
        sys.stderr.writelines(problem.traceback for problem in problems if problem.traceback)
    return 2 if problems else int(not found.same)


def _setups(asked: Parser, options: Namespace) -> tuple[str | None, str]:
    """The older setup, None for the committed one, and the newer one."""
    setups = options.setups
    if options.git:
        if len(setups) != 1 or setups[0] == STANDARD_INPUT:
            asked.error("with --git name one setup, the file that was committed")
        return None, setups[0]
    if len(setups) != 2:
        asked.error("name two setups, the older one first; or one, with --git")
    if setups[0] == setups[1] == STANDARD_INPUT:
        asked.error("only one of the two can come on standard input")
    return setups[0], setups[1]


class _Refused(Exception):
    """Nothing can be compared; the problems say why."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__()
        self.problems = problems


def _inspector(asked: Parser, options: Namespace, new: str) -> Inspector:
    """The one by whose settings both setups are judged."""
    found = Nearest(Inspector(configuration_of(options)), options.settings).of(new)
    if isinstance(found, list):
        raise _Refused(*found)
    if options.without_pack:
        known_names(asked, [found.inspector], options)
    return found.inspector


def _source(path: str) -> Source:
    if path != STANDARD_INPUT and Path(path).is_dir():
        raise _Refused(Problem(path, "this is a folder; name a setup in it"))
    return next(it for it in sources([path]) if isinstance(it, Source))


@contextmanager
def _older(old: str | None, new: Source, limit_bytes: int) -> Iterator[tuple[Source, Naming]]:
    """The older setup, and what its files are called; None is the newer one as committed last."""
    if old is not None:
        yield _source(old), relative
        return
    root = new.root or Path(new.path).parent
    try:
        with committed(new.path, root, limit_bytes) as copy:
            source = Source(str(copy.file), copy.root)
            yield source, lambda path: copy.named(path) or relative(path)
    except NotCommitted as reason:
        raise _Refused(Problem(relative(new.path), str(reason))) from None


def _inspected(inspector: Inspector, source: Source, named: Naming = relative) -> Report:
    if source.path == STANDARD_INPUT:
        data = standard_input(inspector.configuration.limit_bytes)
        report = inspector.inspect(data, path=STANDARD_INPUT)
    else:
        report = inspector.inspect_file(source.path, source.root)
    called = named(source.path)
    problems = tuple(
        evolve(it, path=named(it.path), message=it.message.replace(source.path, called))
        for it in report.problems
    )
    if report.document is None:
        raise _Refused(*problems)
    return evolve(report, problems=problems)


def _texts(report: Report) -> Iterable[Text]:
    return report.document.sources if report.document is not None else ()


def _told(
    name: str, found: Comparison, problems: Iterable[Problem], named: Naming, sheet: Sheet
) -> Iterable[str]:
    """The report in one of the formats."""
    if name == "json":
        from prebind.report.comparison_json import comparison_json

        return [f"{dumps(comparison_json(found, problems, named))}\n"]
    if name == "markdown":
        from prebind.report.comparison_markdown import comparison_markdown

        return comparison_markdown(found, named)
    from prebind.report.comparison_text import comparison_text

    return comparison_text(found, named, sheet)
