"""`prebind mend`: lays the fixes of findings into documents."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from prebind.cli.options import Parser, add_display, add_packs, configuration_of
from prebind.cli.output import on_output
from prebind.cli.sources import STANDARD_INPUT, Source, sources
from prebind.cli.writing import replace_text
from prebind.inspect.inspector import Inspector
from prebind.inspect.mending import mended
from prebind.inspect.nearest import Nearest
from prebind.inspect.settings import meant
from prebind.problem import Problem
from prebind.record import evolve
from prebind.report.inspection_text import problem_line
from prebind.report.mend_text import CAUTION, mend_text
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from prebind.format import Sheet
    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.nearest import Under


def parser() -> Parser:
    asked = Parser(
        "prebind mend",
        "Mends what a change of the document can mend: shows each finding and the change, then\n"
        "writes it into the file, which keeps its formatting and the order of its keys.\n\n"
        "Without --rule only changes that keep what was meant are made. A change stays only if\n"
        "the setup is then sound, the finding is gone and nothing new fails. Shared parts are\n"
        "never changed: what to change there is said.\n\n"
        "On a terminal you are asked before a file is written. Elsewhere nothing is written\n"
        "without --yes. A file is written whole or not at all, and not if someone else has\n"
        "changed it meanwhile. It changes what is written down, not your radio: the remedy says\n"
        "what to do there.",
        examples="prebind mend dunlin.setup.json               show, ask, then write\n"
        "prebind mend dunlin.setup.json --show        write nothing\n"
        "prebind mend dunlin.setup.json --rule bands/overlap --rule travel/subtrim-large\n"
        "prebind mend fleet --yes                     every *.setup.json below a folder\n",
        exit="0  mended, or nothing to mend, and nothing is left that grounds\n"
        "1  something is left: a change that was shown and not written, or a finding that\n"
        "   grounds (caution or worse), with a change to offer or without\n"
        "2  the run is not to be trusted: a setup that cannot be read or written, a rule that\n"
        "   crashed, wrong usage\n",
    )
    asked.add_argument(
        "setups",
        nargs="+",
        metavar="SETUP",
        help="a setup, or a folder (every *.setup.json below it; links to folders are not "
        "followed)",
    )
    asked.add_argument(
        "--rule",
        metavar="RULE",
        action="append",
        default=[],
        help="make the changes that this rule offers, and no others, also those that a person "
        "must decide; may be given again",
    )
    writing = asked.add_mutually_exclusive_group()
    writing.add_argument("--show", action="store_true", help="show the changes and write nothing")
    writing.add_argument("--yes", action="store_true", help="write without asking")
    asked.add_argument(
        "--settings",
        metavar="FILE",
        help="the settings for every setup (default: prebind.toml, the nearest upward from each)",
    )
    add_packs(asked)
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    if STANDARD_INPUT in options.setups:
        asked.error("standard input cannot be written to; name a file")
    inspector = Inspector(configuration_of(options))
    nearest = Nearest(inspector, options.settings)
    rules = {rule for it in nearest.of_any(options.setups) for rule in it.rules}
    for rule in options.rule:
        if rule not in rules:
            near = meant(rule, rules) or "; `prebind rulebook` lists them all"
            asked.error(f"there is no rule “{rule}”{near}")
    mending = _Mending(nearest, options, on_output(options.plain))
    mending.trouble(*inspector.problems)
    for source in sources(options.setups):
        if isinstance(source, Problem):
            mending.trouble(source)
        else:
            mending.document(source)
    return mending.end()


class _Mending:
    """One run: what was shown, written and left so far."""

    def __init__(self, nearest: Nearest, options: Namespace, sheet: Sheet) -> None:
        self._options = options
        self._sheet = sheet
        self._nearest = nearest
        self._asks = sys.stdin.isatty() and sys.stdout.isatty()
        self._told: set[Problem] = set()
        self._changes = False
        self._pending = False
        self._grounds = False

    def document(self, source: Source) -> None:
        file = Path(source.path)
        under = self._nearest.of(source.path)
        if isinstance(under, list):
            self.trouble(*under)
        elif file.exists() and not file.is_file():
            self.trouble(Problem(source.path, "this is not an ordinary file; nothing was done"))
        else:
            self.trouble(*under.inspector.problems)
            self._inspect(file, source.root or file.parent, under)

    def _inspect(self, file: Path, root: Path, under: Under) -> None:
        inspector, settings = under
        report = inspector.inspect_file(file, root)
        if report.problems:  # with a rule missing, no change could be proved
            self.trouble(*report.problems)
            return
        found = mended(inspector, report, root, self._wanted)
        self._sheet.out.writelines(mend_text(report, found, self._sheet))
        written = bool(found.done) and self._write(report, found.text, root)
        self._changes |= bool(found.done)
        self._pending |= bool(found.done) and not written
        self._grounds |= evolve(found.report, settings=settings).grounds()

    def _wanted(self, found: Finding) -> bool:
        rules = self._options.rule
        return (
            found.rule in rules if rules else found.fix is not None and found.fix.applies == "safe"
        )

    def _write(self, report: Report, text: str, root: Path) -> bool:
        """Writes the file if that is wanted; whether it is written."""
        assert report.document is not None
        path = report.path_name
        if not (self._options.yes or (not self._options.show and self._asks and _agreed(path))):
            self._say(f"{clean(path)} is as it was.")
            return False
        try:
            replace_text(path, report.document.sources[0].data, text, root)
        except OSError as error:
            self.trouble(Problem(path, f"nothing was written: {error.strerror}"))
            return False
        self._say(f"{clean(path)} is written.")
        return True

    def trouble(self, *problems: Problem) -> None:
        """Tells them, each once: the settings may be those of many setups."""
        self._sheet.out.flush()
        for problem in problems:
            if problem not in self._told:
                self._told.add(problem)
                sys.stderr.write(problem_line(problem))
                if self._options.traceback and problem.traceback:
                    sys.stderr.write(problem.traceback)

    def _say(self, text: str) -> None:
        self._sheet.out.write(f"{paragraph(text, self._sheet.width)}\n")

    def end(self) -> int:
        """The last words, and the exit code."""
        if self._pending and not self._options.show and not self._asks:
            self._say(
                "Nothing is written without a person at a terminal; --yes writes the changes."
            )
        if self._changes:
            self._say(CAUTION)
        if self._told:
            return 2
        return int(self._pending or self._grounds)


def _agreed(path: str) -> bool:
    try:
        answer = input(f"Write this change to {clean(path)}? Type yes or no: ")
    except EOFError:
        print()
        return False
    return answer.strip().lower() in ("y", "yes")
