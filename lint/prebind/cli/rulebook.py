"""`prebind rulebook`: lists the rules, or explains one."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from prebind.cli.options import Parser, add_display
from prebind.cli.output import on_output
from prebind.inspect.inspector import Inspector
from prebind.report.rulebook_text import list_text, rule_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from prebind.rule import Rule


def parser() -> Parser:
    asked = Parser(
        "prebind rulebook",
        "Lists the rules of every installed pack, or explains one: what it finds, why that\n"
        "matters, what to do, how to check it by hand, and examples.",
        examples="prebind rulebook                  every rule, by family\n"
        "prebind rulebook failsafe         one family\n"
        "prebind rulebook bands/gap        one rule\n",
    )
    asked.add_argument("rule", nargs="?", metavar="RULE", help="a rule's id, or a family's name")
    add_display(asked)
    return asked


def run(given: Sequence[str]) -> int:
    asked = parser()
    options = asked.parse_args(given)
    inspector = Inspector()
    rules = inspector.rules
    sheet = on_output(options.plain)
    family = [rule for rule in rules.values() if options.rule in (None, rule.family)]
    if options.rule in rules:
        rule = rules[options.rule]
        sheet.out.writelines(rule_text(rule, _pack(inspector, rule), sheet.width))
    elif family:
        sheet.out.writelines(list_text(family, sheet.width))
    else:
        asked.error(f"there is no rule “{options.rule}”{_meant(options.rule, rules)}")
    if inspector.problems:
        from prebind.report.inspection_text import problem_line

        sys.stderr.writelines(map(problem_line, inspector.problems))
        return 2
    return 0


def _pack(inspector: Inspector, rule: Rule) -> str:
    pack = next(pack for pack in inspector.packs if rule in pack.rules)
    return f"{pack.distribution} {pack.version}"


def _meant(name: str, rules: dict[str, Rule]) -> str:
    """The end of a message: the id that was meant, by its last part or as a whole, or a family."""
    from difflib import get_close_matches

    last = name.rpartition("/")[2]
    ends = [rule.id for rule in rules.values() if rule.id.rpartition("/")[2] == last]
    families = sorted({rule.family for rule in rules.values()})
    near = ends or get_close_matches(name, [*rules, *families], 1)
    return f"; did you mean “{near[0]}”?" if near else "; `prebind rulebook` lists them all"
