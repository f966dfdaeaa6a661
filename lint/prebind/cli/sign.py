"""`prebind sign`: records that checks were done by hand, bound to what they proved."""

from __future__ import annotations

import sys
from argparse import ArgumentTypeError
from datetime import date
from pathlib import Path
from time import strftime
from typing import TYPE_CHECKING, NamedTuple

from prebind.cli.options import Parser, add_display, add_packs, configuration_of, nearest
from prebind.cli.output import on_output
from prebind.cli.sources import STANDARD_INPUT, sources
from prebind.cli.writing import replace_text
from prebind.document.edit import edited
from prebind.inspect.inspector import Inspector
from prebind.inspect.nearest import Nearest
from prebind.inspect.signing import signing, standings
from prebind.path.proofs import CHECKS
from prebind.problem import Problem
from prebind.report.diff_text import changes
from prebind.report.inspection_text import problem_line
from prebind.report.sign_text import CAUTION, PROVES, finding_line, standings_text, title
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Sequence

    from prebind.format import Sheet
    from prebind.inspect.finding import Report

BEARS_ON = {
    "control-direction": ("reversal", "mixing"),
    "correction-direction": ("reversal",),
    "throws": ("travel", "rates"),
    "states": ("bands",),
    "recovery": ("bands",),
    "failsafe": ("failsafe", "throttle"),
}
"""The families of rules whose fails contradict a sign-off."""


def parser() -> Parser:
    width = max(map(len, CHECKS)) + 2
    asked = Parser(
        "prebind sign",
        "Records that a check was done by hand on the model: who, when, and a digest of the\n"
        "results that it proved. When a change of the setup alters one of them, the sign-off is\n"
        "stale, and the inspection says so. A new name, a note or another spelling alters none.\n\n"
        "Without --check it lists the checks that this setup wants, and how each stands. With it\n"
        "the change is shown and written at once; the file keeps its formatting, and is written\n"
        "whole or not at all. It asks nothing: do the check first.",
        checks="".join(f"{check:<{width}}{PROVES[check]}\n" for check in CHECKS),
        examples="prebind sign dunlin.setup.json               how every check stands\n"
        'prebind sign dunlin.setup.json --check control-direction --by "A. Builder"\n'
        "prebind sign dunlin.setup.json --check range --check balance --by me --on 2026-05-31\n",
        exit="0  signed off; or, without --check, everything is\n"
        "1  without --check: something is missing, stale, or left over\n"
        "2  nothing was written: a setup that cannot be read or written, a check that it has\n"
        "   nothing to prove for, a rule that crashed, wrong usage\n",
    )
    asked.add_argument("setup", metavar="SETUP", help="the setup of the model that was checked")
    asked.add_argument(
        "--check",
        metavar="NAME",
        type=_check,
        action="append",
        default=[],
        help="a check that was done; may be given again",
    )
    asked.add_argument("--by", metavar="WHO", type=_name, help="who did it")
    asked.add_argument(
        "--on", metavar="DATE", type=_date, help="when, as in 2026-05-31 (default: today)"
    )
    asked.add_argument(
        "--settings",
        metavar="FILE",
        help="the settings (default: prebind.toml, the nearest upward from the setup)",
    )
    add_packs(asked)
    add_display(asked)
    return asked


def _check(text: str) -> str:
    if text not in CHECKS:
        raise ArgumentTypeError(f"“{text}” is no check{nearest(text, CHECKS)}")
    return text


def _name(text: str) -> str:
    if not text.strip():
        raise ArgumentTypeError("name the person who did the check")
    return text


def _date(text: str) -> str:
    try:
        there = date.fromisoformat(text).isoformat() == text
    except ValueError:
        there = False
    if not there:
        raise ArgumentTypeError(f"“{text}” is no date; write year-month-day, as in 2026-05-31")
    return text


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    if options.setup == STANDARD_INPUT:
        asked.error("standard input cannot be written to; name a file")
    if options.check and options.by is None:
        asked.error("say who did the check, with --by")
    if not options.check and (options.by or options.on):
        asked.error(f"say with --check what was done: {', '.join(CHECKS)}")
    sheet = on_output(options.plain)
    try:
        inspector = _inspector(options)
        source = _source(options.setup)
        report = _sound(inspector.inspect_file(source.path, source.root))
        if not options.check:
            return _list(report, sheet)
        text, after = _signed(inspector, report, source, options)
        _warn(after, options.check)
        _write(report, text, source.root, sheet)
    except _Refused as refused:
        _tell(refused.problems, options.traceback)
        return 2
    return 0


class _Refused(Exception):
    """Nothing is signed; the problems say why."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__()
        self.problems = problems


class _Source(NamedTuple):
    """The setup, and the folder that its shared parts, and a link, may not leave."""

    path: str
    root: Path


def _inspector(options: Namespace) -> Inspector:
    plain = Inspector(configuration_of(options))
    under = Nearest(plain, options.settings).of(options.setup)
    if isinstance(under, list):
        raise _Refused(*under)
    if under.inspector.problems:
        raise _Refused(*under.inspector.problems)
    return under.inspector


def _source(path: str) -> _Source:
    file = Path(path)
    if file.is_dir():
        raise _Refused(Problem(path, "this is a folder; name one setup"))
    if file.exists() and not file.is_file():
        raise _Refused(Problem(path, "this is not an ordinary file"))
    (found,) = sources([path])
    assert not isinstance(found, Problem)  # only folders come to that
    return _Source(found.path, found.root or file.parent)


def _sound(report: Report) -> Report:
    if report.problems:
        raise _Refused(*report.problems)
    return report


def _list(report: Report, sheet: Sheet) -> int:
    """Says how every check stands; whether anything is left to do."""
    assert report.path is not None
    found = standings(report.path)
    sheet.out.write(title(report, sheet))
    sheet.out.writelines(standings_text(found, report.path_name, sheet))
    return int(any(one.state != "signed off" for one in found))


def _signed(
    inspector: Inspector, report: Report, source: _Source, options: Namespace
) -> tuple[str, Report]:
    """The document's text with the checks signed off, and the report on it."""
    assert report.document is not None
    assert report.path is not None
    path, checks = report.path, dict.fromkeys(options.check)
    for check in checks:
        if check not in path.wanted:
            raise _Refused(Problem(source.path, _nothing(check, path.wanted)))
    before = report.document.sources[0].data.decode()
    patch = signing(path, checks, options.by, options.on or strftime("%Y-%m-%d"))
    try:
        text = edited(before, patch)
        data = text.encode()
    except ValueError as error:
        raise _Refused(Problem(source.path, f"this cannot be written down: {error}")) from error
    after = _sound(inspector.inspect(data, path=source.path, root=source.root))
    assert after.path is not None
    assert all(one.state == "signed off" for one in standings(after.path) if one.check in checks)
    return text, after


def _nothing(check: str, wanted: Sequence[str]) -> str:
    return f"there is nothing to prove here by “{check}”; this setup wants {', '.join(wanted)}"


def _warn(report: Report, checks: Iterable[str]) -> None:
    """Tells what fails and contradicts the sign-off; a person decides."""
    families = {family for check in checks for family in BEARS_ON.get(check, ())}
    against = [
        found
        for found in report.findings
        if found.kind == "fail" and found.waived is None and found.rule.split("/")[0] in families
    ]
    for found in against:
        sys.stderr.write(finding_line(report, found))
    if against:
        print(
            "prebind sign: what is signed off here fails by the document, as told above: the "
            "model or the document is wrong. It is signed off all the same, and goes on failing.",
            file=sys.stderr,
        )


def _write(report: Report, text: str, root: Path, sheet: Sheet) -> None:
    """Shows what changes, and writes it."""
    assert report.document is not None
    before = report.document.sources[0].data
    path = report.path_name
    sheet.out.write(title(report, sheet))
    if text.encode() == before:
        sheet.out.write("This is signed off already; nothing is to be written.\n")
        return
    sheet.out.writelines(changes(path, before.decode(), text, "signed off", sheet))
    try:
        replace_text(path, before, text, root)
    except OSError as error:
        problem = Problem(path, f"nothing was written: {error.strerror}")
        raise _Refused(problem) from error
    sheet.out.write(f"\n{clean(path)} is written.\n{paragraph(CAUTION, sheet.width)}")


def _tell(problems: Iterable[Problem], traceback: bool) -> None:
    sys.stdout.flush()
    for problem in problems:
        sys.stderr.write(problem_line(problem))
        if traceback and problem.traceback:
            sys.stderr.write(problem.traceback)
