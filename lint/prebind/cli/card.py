"""`prebind card`: the bench and field card of one setup."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from prebind.cli.options import (
    Parser,
    add_display,
    add_packs,
    add_report,
    configuration_of,
    reports,
)
from prebind.cli.output import files_there, sheet_for, spare
from prebind.cli.sources import STANDARD_INPUT, Source, sources, standard_input
from prebind.inspect.inspector import Inspector
from prebind.inspect.nearest import Nearest
from prebind.report.card import card
from prebind.report.inspection_text import problem_line

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Sequence

    from prebind.format import Sheet
    from prebind.inspect.finding import Report
    from prebind.problem import Problem
    from prebind.report.card import Card

FORMATS = ("html", "markdown", "text")


def parser() -> Parser:
    asked = Parser(
        "prebind card",
        "Makes the card that goes with a model to the bench and to the field: what to do, in\n"
        "order, what must be seen, and the cautions. Only what this setup needs stands on it,\n"
        "first what the inspection left open.",
        examples="prebind card dunlin.setup.json\n"
        "prebind card dunlin.setup.json --report html=dunlin.html     to print, with pictures\n"
        "prebind card dunlin.setup.json --report markdown=dunlin.md\n",
        exit="0  the card is made, whatever the inspection found\n"
        "2  a setup that cannot be read, a rule that crashed, wrong usage\n",
    )
    asked.add_argument("setup", metavar="SETUP", help="a setup, or - for standard input")
    add_report(asked, FORMATS)
    asked.add_argument(
        "--settings",
        metavar="FILE",
        help="the settings (default: prebind.toml, the nearest upward from the setup)",
    )
    add_packs(asked)
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    wanted = reports(asked, options.report)
    if options.setup != STANDARD_INPUT and Path(options.setup).is_dir():
        asked.error(f"{options.setup} is a folder; a card is for one setup")
    inspector, problems = _inspector(options)
    report = _inspected(inspector, options.setup)
    problems = [*problems, *report.problems]
    if report.document is not None:
        spare(files_there(wanted), (source.name for source in report.document.sources))
        made = card(report)
        with ExitStack() as stack:
            for one in wanted:
                sheet = sheet_for(one, stack, options.plain)
                sheet.out.writelines(_told(made, one.format, sheet))
    sys.stdout.flush()
    sys.stderr.writelines(map(problem_line, problems))
    if options.traceback:
        sys.stderr.writelines(problem.traceback for problem in problems if problem.traceback)
    return 2 if problems else 0


def _inspector(options: Namespace) -> tuple[Inspector, Sequence[Problem]]:
    """The inspector under the settings that are nearest, and what is wrong with them or packs."""
    nearest = Nearest(Inspector(configuration_of(options)), options.settings)
    under = nearest.of(options.setup)
    if isinstance(under, list):
        return nearest.plain, under
    return under.inspector, under.inspector.problems


def _inspected(inspector: Inspector, path: str) -> Report:
    found = next(iter(sources([path])))
    assert isinstance(found, Source)  # only a folder comes to anything else
    if found.path != STANDARD_INPUT:
        return inspector.inspect_file(found.path, found.root)
    data = standard_input(inspector.configuration.limit_bytes)
    return inspector.inspect(data, path=STANDARD_INPUT)


def _told(made: Card, format: str, sheet: Sheet) -> Iterable[str]:  # noqa: A002
    """The card in one of `FORMATS`."""
    if format == "html":
        from prebind.report.card.html import card_html

        return card_html(made)
    if format == "markdown":
        from prebind.report.card.markdown import card_markdown

        return card_markdown(made)
    from prebind.report.card.text import card_text

    return card_text(made, sheet)
