"""`prebind mend`: lays the fixes of findings into documents."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from errno import EACCES, EBUSY, EXDEV
from pathlib import Path
from stat import S_IMODE
from typing import TYPE_CHECKING

from attrs import evolve

from prebind.cli.options import Parser, add_display
from prebind.cli.output import on_output, whole_file
from prebind.cli.sources import STANDARD_INPUT, Source, sources
from prebind.inspect.inspector import Inspector
from prebind.inspect.mending import mended
from prebind.inspect.settings import Nearest, meant
from prebind.problem import Problem
from prebind.report.inspection_text import problem_line
from prebind.report.mend_text import CAUTION, mend_text
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.settings import Settings
    from prebind.report.formats import Sheet


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
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    if STANDARD_INPUT in options.setups:
        asked.error("standard input cannot be written to; name a file")
    inspector = Inspector()
    for rule in options.rule:
        if rule not in inspector.rules:
            near = meant(rule, inspector.rules) or "; `prebind rulebook` lists them all"
            asked.error(f"there is no rule “{rule}”{near}")
    mending = _Mending(inspector, options, on_output(options.plain))
    mending.trouble(*inspector.problems)
    for source in sources(options.setups):
        if isinstance(source, Problem):
            mending.trouble(source)
        else:
            mending.document(source)
    return mending.end()


class _Mending:
    """One run: what was shown, written and left so far."""

    def __init__(self, inspector: Inspector, options: Namespace, sheet: Sheet) -> None:
        self._inspector = inspector
        self._options = options
        self._sheet = sheet
        self._nearest = Nearest(inspector.rules, options.settings)
        self._asks = sys.stdin.isatty() and sys.stdout.isatty()
        self._told: set[Problem] = set()
        self._changes = False
        self._pending = False
        self._grounds = False

    def document(self, source: Source) -> None:
        file = Path(source.path)
        settings = self._nearest.of(source.path)
        if isinstance(settings, list):
            self.trouble(*settings)
        elif file.exists() and not file.is_file():
            self.trouble(Problem(source.path, "this is not an ordinary file; nothing was done"))
        else:
            self._inspect(file, source.root or file.parent, settings)

    def _inspect(self, file: Path, root: Path, settings: Settings | None) -> None:
        inspector = self._inspector
        if settings is not None:
            inspector = inspector.configured(settings.over(inspector.configuration))
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
            _replace(path, report.document.sources[0].data, text, root)
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


def _replace(path: str, before: bytes, after: str, root: Path) -> None:
    """Puts the text in place of the bytes that were read, in the file that a link leads to.

    Raises OSError where that cannot be done, or the file is no longer what was read.
    """
    target = Path(os.path.realpath(path))
    if not target.is_relative_to(os.path.realpath(root)):
        raise OSError(EXDEV, "the link leads out of the folder that is mended; name the file", path)
    if not os.access(target, os.W_OK):
        raise PermissionError(EACCES, "the file is protected against writing", path)
    with whole_file(path) as sheet:
        _keep_rights(target, sheet.out.name)
        sheet.out.write(after)
        sheet.out.flush()
        os.fsync(sheet.out.fileno())  # so that hardly a moment passes after the last look
        if target.read_bytes() != before:
            raise OSError(EBUSY, "someone changed the file meanwhile; run this again", path)


def _keep_rights(target: Path, draft: str) -> None:
    there = target.stat()
    if hasattr(os, "chown"):
        with suppress(PermissionError):  # only the superuser can give a file away
            os.chown(draft, there.st_uid, there.st_gid)
    Path(draft).chmod(S_IMODE(there.st_mode))
