"""What the commands have in common on the command line."""

from __future__ import annotations

import sys
from argparse import ArgumentParser, ArgumentTypeError, RawDescriptionHelpFormatter
from textwrap import indent
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn

from prebind.cli.output import width
from prebind.report.wording import clean
from prebind.rule import WORDS, Word

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Collection, Iterable

    from prebind.inspect.inspector import Configuration, Inspector

_WIDEST = 100  # characters of a line of help
_FEW = 20  # names that a message may list


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


def add_report(parser: Parser, formats: Iterable[str], more: str = "") -> None:
    """`more` says what other formats there may be, which `reports` is then told."""
    known = tuple(formats)

    def wanted(text: str) -> Wanted:
        name, given, file = text.partition("=")
        if name not in known and not more:
            raise ArgumentTypeError(f"“{name}” is no format here{nearest(name, known)}")
        if given and not file:
            raise ArgumentTypeError(f"name the file after {name}=")
        return Wanted(name, file or None)

    parser.add_argument(
        "--report",
        metavar="FORMAT[=FILE]",
        type=wanted,
        action="append",
        help=f"{', '.join(known)}{more}; to the output, or to FILE, which is written whole or not "
        "at all; may be given again (default: text)",
    )


def add_packs(parser: Parser) -> None:
    parser.add_argument(
        "--pack",
        metavar="FILE",
        action="append",
        default=[],
        help="a rule sheet (*.rules.json) or a Python pack (*.py) that counts beside those "
        "installed; may be given again",
    )
    parser.add_argument(
        "--trust-packs",
        action="store_true",
        help="run the code of Python packs that --pack or the settings name; leave it off where "
        "others can change those files",
    )
    parser.add_argument(
        "--without-pack",
        metavar="NAME",
        action="append",
        default=[],
        help="do without this pack (`prebind rulebook --packs` names them); may be given again",
    )


def configuration_of(options: Namespace, **more: Any) -> Configuration:
    """The packs that the command line asks for, and whatever else."""
    from prebind.inspect.inspector import Configuration

    return Configuration(
        packs=tuple(options.pack),
        trust_packs=options.trust_packs,
        without_packs=tuple(options.without_pack),
        **more,
    )


def known_names(asked: Parser, inspectors: Iterable[Inspector], options: Namespace) -> None:
    """Ends the run where a name that leaves checks out exists nowhere: it may be misspelt."""
    ids: set[str] = set()
    families: set[str] = set()
    packs: set[str] = set()
    for inspector in inspectors:
        ids |= inspector.rules.keys()
        families |= inspector.families
        packs |= {name for pack in inspector.refused for name in (pack.name, pack.where)}
    for name in getattr(options, "family", ()):
        if name not in families:
            asked.error(f"“{name}” is not a family of rules{nearest(name, sorted(families))}")
    for name in getattr(options, "leave_out", ()):
        if name not in families | ids:
            asked.error(f"“{name}” is not a rule or family{nearest(name, sorted(families | ids))}")
    for name in options.without_pack:
        if name not in packs:
            asked.error(f"there is no pack “{name}”; `prebind rulebook --packs` lists them")


def add_display(parser: Parser) -> None:
    parser.add_argument(
        "--plain",
        action="store_true",
        help="no colour; so too when NO_COLOR is set or the output is no terminal",
    )
    parser.add_argument(
        "--traceback", action="store_true", help="where in the code a crash happened"
    )


def reports(
    parser: Parser, asked: list[Wanted] | None, known: Collection[str] | None = None
) -> list[Wanted]:
    """The reports asked for, text to the output if none was; two cannot go to one place."""
    wanted = asked or [Wanted("text", None)]
    for one in wanted:
        if known is not None and one.format not in known:
            parser.error(f"“{one.format}” is no format here{nearest(one.format, known)}")
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
    """The end of a message about an unknown name: the one that was meant, or all if few."""
    from difflib import get_close_matches

    names = list(known)
    near = get_close_matches(name, names, 1)
    if near:
        return f"; did you mean “{near[0]}”?"
    return f"; known are {', '.join(names)}" if len(names) <= _FEW else ""
