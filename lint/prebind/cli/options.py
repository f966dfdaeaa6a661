"""What the commands have in common on the command line."""

from __future__ import annotations

import sys
from argparse import ArgumentParser, ArgumentTypeError, RawDescriptionHelpFormatter
from textwrap import indent
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from prebind.cli.output import width
from prebind.report.wording import clean
from prebind.rule import WORDS, Word

if TYPE_CHECKING:
    from collections.abc import Iterable

_WIDEST = 100  # characters of a line of help


class _Layout(RawDescriptionHelpFormatter):
    """Knows its width, as argparse would import a good deal to find it out."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=min(width(), _WIDEST))


class Parser(ArgumentParser):
    """Help with examples, no shortened option names, and errors that say what to do next.

    `sections` stand below the options, each under its name.
    """

    def __init__(self, prog: str, about: str, **sections: str) -> None:
        super().__init__(
            prog=prog,
            description=about,
            epilog="\n\n".join(
                f"{name}:\n{indent(text.rstrip(), '  ')}" for name, text in sections.items()
            ),
            formatter_class=_Layout,
            allow_abbrev=False,
        )

    def error(self, message: str) -> NoReturn:
        print(f"{self.prog}: {clean(message)}", file=sys.stderr)
        print(f"`{self.prog} --help` says what can be given.", file=sys.stderr)
        raise SystemExit(2)


class Wanted(NamedTuple):
    """A report that was asked for: its format, and the file it goes to, None for the output."""

    format: str
    file: str | None


def add_report(parser: Parser, formats: Iterable[str]) -> None:
    known = tuple(formats)

    def wanted(text: str) -> Wanted:
        name, given, file = text.partition("=")
        if name not in known:
            raise ArgumentTypeError(f"“{name}” is no format here{nearest(name, known)}")
        if given and not file:
            raise ArgumentTypeError(f"name the file after {name}=")
        return Wanted(name, file or None)

    parser.add_argument(
        "--report",
        metavar="FORMAT[=FILE]",
        type=wanted,
        action="append",
        help=f"{', '.join(known)}; to the output, or to FILE, which is written whole or not at "
        "all; may be given again (default: text)",
    )


def add_display(parser: Parser) -> None:
    parser.add_argument(
        "--plain",
        action="store_true",
        help="no colour; so too when NO_COLOR is set or the output is no terminal",
    )
    parser.add_argument(
        "--traceback", action="store_true", help="where in the code a crash happened"
    )


def reports(parser: Parser, asked: list[Wanted] | None) -> list[Wanted]:
    """The reports asked for, text to the output if none was; two cannot go to one place."""
    wanted = asked or [Wanted("text", None)]
    targets = [one.file for one in wanted]
    for target in targets:
        if targets.count(target) > 1:
            place = "the output" if target is None else target
            parser.error(f"two reports cannot both go to {place}; give one of them a =FILE")
    return wanted


def signal_word(text: str) -> Word:
    for word in WORDS:
        if word == text:
            return word
    raise ArgumentTypeError(f"“{text}” is no signal word{nearest(text, WORDS)}")


def nearest(name: str, known: Iterable[str]) -> str:
    """The end of a message about an unknown name: the one that was meant, or all there are."""
    from difflib import get_close_matches

    names = list(known)
    near = get_close_matches(name, names, 1)
    return f"; did you mean “{near[0]}”?" if near else f"; known are {', '.join(names)}"
