"""`prebind rulebook`: lists rules and packs, explains one rule, and helps to write new ones."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, NoReturn

from prebind.cli.options import (
    Parser,
    add_display,
    add_packs,
    configuration_of,
    known_names,
    nearest,
)
from prebind.cli.output import on_output
from prebind.inspect.inspector import Configuration, Inspector
from prebind.inspect.nearest import Nearest
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Iterable, Sequence

    from prebind.packs import Pack
    from prebind.rule import Rule

_HERE = "-"
"""Stands for a document in the working folder, whose settings may name packs."""


def parser() -> Parser:
    asked = Parser(
        "prebind rulebook",
        "Lists the rules of every pack in force in this folder, or explains one: what it finds,\n"
        "why that matters, what to do, how to check it by hand, and examples with what the rule\n"
        "really says of them. Writes the same as pages, tries the examples of a pack, and begins\n"
        "a rule of your own.",
        examples="prebind rulebook                       every rule, by family\n"
        "prebind rulebook failsafe              one family\n"
        "prebind rulebook bands/gap             one rule\n"
        "prebind rulebook --packs               which packs are in force, and why others are not\n"
        "prebind rulebook --pages rulebook      all of it, as Markdown, into a folder\n"
        "prebind rulebook --new club/my-rule    begin a rule, in Python\n"
        "prebind rulebook --try my_rule.py --trust-packs\n",
        exit="0  done; with --try: every example comes out as it should\n"
        "1  with --try: some example does not, or a rule has none\n"
        "2  wrong usage, a file that cannot be written, or a pack that cannot be loaded\n",
    )
    asked.add_argument("rule", nargs="?", metavar="RULE", help="a rule's id, or a family's name")
    asked.add_argument(
        "--of",
        metavar="PACK",
        help="only the rules of this pack, by its name or by where it comes from",
    )
    doing = asked.add_mutually_exclusive_group()
    doing.add_argument(
        "--packs",
        action="store_true",
        help="list the packs, where each comes from, and which are refused or broken",
    )
    doing.add_argument(
        "--pages",
        metavar="FOLDER",
        help="write the rulebook as Markdown: an index, and a page for each family. All pages are "
        "written or none, and no other file is overwritten",
    )
    doing.add_argument(
        "--try",
        dest="try_",
        metavar="FILE",
        help="try the examples of this pack's rules: a rule sheet, or with --trust-packs a Python "
        "file",
    )
    doing.add_argument(
        "--new",
        metavar="ID",
        help="begin a rule of this id, such as club/my-rule: writes a Python file that is whole, "
        "with examples. No file is overwritten",
    )
    asked.add_argument(
        "--sheet", action="store_true", help="with --new: begin a rule sheet, which needs no code"
    )
    add_packs(asked)
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    _check(asked, options)
    book = _Rulebook(asked, options)
    if options.try_ is not None:
        return book.trial()
    book.here()
    if options.packs:
        return book.packs()
    if options.new is not None:
        book.new()
    elif options.pages is not None:
        book.pages()
    else:
        book.tell()
    book.trouble()
    return 2 if book.problems else 0


def _check(asked: Parser, options: Namespace) -> None:
    alone = {"--packs": options.packs, "--try": options.try_, "--new": options.new}
    for option, value in alone.items():
        if value and (options.rule or options.of):
            asked.error(f"{option} takes neither a RULE nor --of")
    if options.sheet and options.new is None:
        asked.error("--sheet belongs to --new")
    if options.try_ and options.without_pack:
        asked.error("--try takes no --without-pack")


class _Rulebook:
    """One run: the packs that count, and what is wrong with them."""

    def __init__(self, asked: Parser, options: Namespace) -> None:
        if options.try_ is not None:
            options.pack = list(dict.fromkeys([*options.pack, options.try_]))
        self._asked = asked
        self._options = options
        self._sheet = on_output(options.plain)
        self._inspector = Inspector(configuration_of(options))
        self.problems = self._inspector.problems

    def here(self) -> None:
        """Adds the packs that the settings of this folder name, and nothing else of them."""
        nearest = Nearest(self._inspector)
        found = nearest.of(_HERE)
        under = nearest.plain if isinstance(found, list) else found.inspector
        known_names(self._asked, [under], self._options)
        packs = under.configuration
        self._inspector = under.configured(
            Configuration(
                packs=packs.packs,
                trust_packs=packs.trust_packs,
                without_packs=packs.without_packs,
            )
        )
        broken = found if isinstance(found, list) else ()
        self.problems = (*broken, *self._inspector.problems)

    def trouble(self) -> None:
        from prebind.report.inspection_text import problem_line

        self._sheet.out.flush()
        for problem in self.problems:
            sys.stderr.write(problem_line(problem))
            if self._options.traceback and problem.traceback:
                sys.stderr.write(problem.traceback)

    def _stop(self, message: str) -> NoReturn:
        """A pack that is not in force may be why a name is not known."""
        self.trouble()
        self._asked.error(message)

    def _say(self, text: str) -> None:
        self._sheet.out.write(paragraph(clean(text), self._sheet.width))

    # Rules

    def tell(self) -> None:
        """Lists the rules, or explains one."""
        from prebind.report.rulebook_telling import explained
        from prebind.report.rulebook_text import list_text, rule_text

        packs = {rule: pack for pack in self._packs() for rule in pack.rules}
        wanted, width = self._wanted(packs), self._sheet.width
        if [rule.id for rule in wanted] == [self._options.rule]:
            told = explained(wanted[0], packs[wanted[0]], self._inspector)
            self._sheet.out.writelines(rule_text(told, width))
        else:
            self._sheet.out.writelines(list_text(wanted, width))

    def pages(self) -> None:
        from prebind.cli.rulebook_files import write_pages
        from prebind.report.rulebook_markdown import pages
        from prebind.report.telling import many

        folder = self._options.pages
        rules = self._wanted(rule for pack in self._packs() for rule in pack.rules)
        made = pages(rules, self._inspector)
        left = write_pages(folder, made)
        self._sheet.out.writelines(f"  {clean(name)}\n" for name in made)
        self._say(f"{many(len(made), 'page')} for {many(len(rules), 'rule')} written to {folder}.")
        if left:
            self._say(f"Of an earlier time, and not among them: {', '.join(left)}.")

    def _packs(self) -> Sequence[Pack]:
        packs, of = self._inspector.packs, self._options.of
        found = [pack for pack in packs if of in (None, pack.name, pack.where)]
        if not found:
            names = dict.fromkeys(name for pack in packs for name in (pack.name, pack.where))
            self._stop(f"there is no pack “{of}”{nearest(of, names)}")
        return found

    def _wanted(self, rules: Iterable[Rule]) -> list[Rule]:
        known, name = list(rules), self._options.rule
        found = [rule for rule in known if name in (None, rule.id, rule.family)]
        if not found and name is not None:
            self._stop(f"there is no rule “{name}”{_meant(name, known)}")
        return found

    # Packs, and rules of one's own

    def packs(self) -> int:
        from prebind.report.rulebook_packs import packs_text

        self._sheet.out.writelines(packs_text(self._inspector, self.problems, self._sheet))
        return 2 if self.problems else 0

    def trial(self) -> int:
        """Whether a pack's examples come out as they should, as an exit code."""
        from prebind.report.rulebook_trial import trial_text, trials

        file = self._options.try_
        self.problems = tuple(one for one in self.problems if one.path == file)
        tried = [
            trial
            for pack in self._inspector.packs
            if pack.where == file
            for trial in trials(pack, self._inspector)
        ]
        if tried:
            self._sheet.out.writelines(trial_text(tried, self._sheet.width))
        elif not self.problems:
            self._say(f"{file} has no rules, so nothing was tried.")
        self.trouble()
        if self.problems or not tried:
            return 2
        return int(not all(trial.proved for trial in tried))

    def new(self) -> None:
        from prebind.cli.rulebook_files import write_new
        from prebind.report import rulebook_skeleton as skeleton

        name = self._options.new
        wrong = skeleton.wrong_with(name)
        if wrong:
            self._asked.error(f"“{name}” cannot be a rule's id: {wrong}")
        if name in self._inspector.rules:
            self._asked.error(f"there is a rule “{name}” already; take another name")
        made = skeleton.sheet(name) if self._options.sheet else skeleton.python(name)
        write_new(made)
        self._sheet.out.writelines(skeleton.next_steps(made, self._sheet.width))


def _meant(name: str, rules: Iterable[Rule]) -> str:
    """The end of a message: the id that was meant, by its last part or as a whole, or a family."""
    from difflib import get_close_matches

    ids = [rule.id for rule in rules]
    last = name.rpartition("/")[2]
    ends = [known for known in ids if known.rpartition("/")[2] == last]
    families = sorted({known.partition("/")[0] for known in ids})
    near = ends or get_close_matches(name, [*ids, *families], 1)
    return f"; did you mean “{near[0]}”?" if near else "; `prebind rulebook` lists them all"
