"""The written rulebook: an index, and a page for each family of rules, as Markdown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from prebind.report.inspection_text import REMINDER
from prebind.report.markdown import block, code, escaped, inline, table
from prebind.report.rulebook_telling import (
    MEANS,
    OUTCOMES,
    about,
    as_json,
    by_family,
    default,
    explained,
    fix_told,
    looks_at,
)
from prebind.report.telling import many
from prebind.report.wording import paragraph
from prebind.rule import WORDS, Passes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from prebind.inspect.inspector import Inspector
    from prebind.report.rulebook_telling import Explained, Shown
    from prebind.rule import Operation, Rule

INDEX = "README.md"

WRITTEN = "<!-- Written by `prebind rulebook --pages`; what is changed here by hand is lost. -->"
"""The first line of every page."""

_CAUTION = REMINDER.replace("This report judges", "A rule judges", 1)
_WIDTH = 96  # characters of JSON on a line

_FIXES = {(): "by hand", ("safe",): "keeps what was meant", ("decide",): "a person decides"}
_EITHER = "depends on the case"

_PARTS = {
    "Why": "what goes wrong when it is left so, and what the rule leaves out",
    "Safety": "who or what can come to harm, and the caution that belongs to it",
    "Remedy": "what to change on the radio, the receiver or the model",
    "On the bench": "how to see it for oneself, whatever the document says",
    "Fix": "whether `prebind mend` can change the document; it never changes a radio",
    "Settings": "numbers that a club may change in `prebind.toml`, with their defaults",
    "Examples": "changes to a clean setup, each as a JSON Patch (RFC 6902), and what the rule "
    "answers there; the clean setups come with prebind (`schemas/prebind_schemas/templates`)",
    "Source": "where the rule or its number comes from",
}


def pages(rules: Iterable[Rule], inspector: Inspector) -> dict[str, str]:
    """The text of each page by its file's name, the index first.

    Every example is run: the pages tell what rules really answer.  The inspector's packs hold the
    rules.
    """
    packs = {rule.id: pack for pack in inspector.packs for rule in pack.rules}
    families = {
        family: [explained(rule, packs[rule.id], inspector) for rule in its]
        for family, its in by_family(rules).items()
    }
    written = {INDEX: "".join(_index(families))}
    for family, its in families.items():
        written[_file(family)] = "".join(_page(family, its))
    return written


def _file(family: str) -> str:
    """Never the index's own name, also where capitals do not count."""
    name = _anchor(family)
    return f"{name}-rules.md" if f"{name}.md" == INDEX.lower() else f"{name}.md"


def _anchor(name: str) -> str:
    return re.sub(r"[^a-z0-9-]+", "-", name.lower()).strip("-") or "unnamed"


def _own_name(rule: Rule) -> str:
    return rule.id.partition("/")[2] or rule.id


def _fix(told: Explained) -> str:
    return _FIXES.get(told.fixes, _EITHER)


# The index


def _index(families: dict[str, list[Explained]]) -> Iterator[str]:
    rules = sum(map(len, families.values()))
    yield f"{WRITTEN}\n\n# The rulebook\n\n"
    yield block(
        f"What prebind looks for in a setup: {many(rules, 'rule')}, by family. "
        "`prebind rulebook RULE` shows on a terminal what stands here."
    )
    yield block(_CAUTION)
    yield "## Rules\n\n"
    for family, its in families.items():
        yield f"### [{escaped(family)}]({_file(family)})\n\n"
        yield from _about(family, its)
        yield table(("rule", "word", "what it finds", "fix"), map(_index_row, its))
    yield "## Signal words\n\n"
    yield block(
        "Those of ANSI Z535.6, with a meaning for this work, worst first. A rule's word may differ "
        "in some cases; its examples show where. A finding from *caution* up grounds, unless told "
        "otherwise: `prebind inspect` then exits with 1."
    )
    yield table(("word", "when"), ((f"**{word}**", MEANS[word]) for word in WORDS))
    yield "## Outcomes\n\n"
    yield block(
        "What a rule may answer, at each place that it looks at (the kinds of SARIF 2.1.0):"
    )
    yield table(("outcome", "what it says"), OUTCOMES.items())
    yield "## How to read a page\n\n"
    for part, what in _PARTS.items():
        yield paragraph(f"**{part}**: {what}.", 100, "- ", "  ")


def _about(family: str, its: Sequence[Explained]) -> Iterator[str]:
    said = about(family, [told.rule for told in its])
    if said:
        yield block(inline(said))


def _index_row(told: Explained) -> tuple[str, ...]:
    rule = told.rule
    link = f"[{escaped(rule.id)}]({_file(rule.family)}#{_anchor(_own_name(rule))})"
    return link, rule.word, inline(rule.title), _fix(told)


# A family's page


def _page(family: str, its: Sequence[Explained]) -> Iterator[str]:
    yield f"{WRITTEN}\n\n# {escaped(family)}\n\n"
    yield from _about(family, its)
    yield block(
        f"[All rules]({INDEX}), [what the signal words mean]({INDEX}#signal-words), "
        f"[how to read this page]({INDEX}#how-to-read-a-page)."
    )
    rows = (
        (
            f"[{escaped(_own_name(told.rule))}](#{_anchor(_own_name(told.rule))})",
            told.rule.word,
            inline(told.rule.title),
        )
        for told in its
    )
    yield table(("rule", "word", "what it finds"), rows)
    for told in its:
        yield from _rule(told)


def _rule(told: Explained) -> Iterator[str]:
    rule = told.rule
    yield f'<a id="{_anchor(_own_name(rule))}"></a>\n\n## {escaped(rule.id)}\n\n'
    title = inline(rule.title)
    yield block(f"**{title}.** Signal word: **{rule.word}**. {inline(looks_at(rule))}")
    for label, text in (
        ("Why", rule.why),
        ("Safety", rule.safety),
        ("Remedy", rule.remedy),
        ("On the bench", rule.bench),
        ("Fix", fix_told(rule, told.fixes)),
    ):
        yield from _passage(label, text)
    yield from _settings(rule)
    yield from _examples(told)
    yield from _passage("Source", rule.source)
    pack = escaped(told.pack.name)
    yield block(f"In the pack “{pack}” since {escaped(rule.since)}.")


def _passage(label: str, text: str) -> Iterator[str]:
    first, *others = text.split("\n\n")
    yield block(f"**{label}.** {inline(' '.join(first.split()))}")
    for part in others:
        yield block(inline(" ".join(part.split())))


def _settings(rule: Rule) -> Iterator[str]:
    if not rule.settings:
        return
    where = code(f'[settings."{rule.id}"]')
    yield block(f"**Settings.** Others stand in `prebind.toml`, under {where}.")
    rows = (
        (code(name), code(default(setting)), inline(setting.meaning))
        for name, setting in rule.settings.items()
    )
    yield table(("setting", "default", "what it means"), rows)


# Examples


def _examples(told: Explained) -> Iterator[str]:
    if told.trouble:
        yield block(f"**Examples.** {inline(told.trouble)}.")
    for label, shown in (("Fails", told.fails), ("Passes", told.passes)):
        if shown:
            yield block(f"**{label}, for example.** {_laid_on(shown[0])}")
            yield from _example(shown[0])
    more = [*told.fails[1:], *told.passes[1:]]
    if more:
        yield f"<details>\n<summary>{many(len(more), 'more example')}</summary>\n\n"
        for one in more:
            kind = "Passes" if isinstance(one.example, Passes) else "Fails"
            yield block(f"**{kind}.** {_laid_on(one)}")
            yield from _example(one)
        yield "</details>\n\n"


def _laid_on(shown: Shown) -> str:
    example = shown.example
    end = ":" if example.patch else ", as it is."
    return f"{inline(example.why)} On the clean setup {code(example.start)}{end}"


def _example(shown: Shown) -> Iterator[str]:
    if shown.example.patch:
        yield f"```json\n{_patch(shown.example.patch)}\n```\n\n"
    yield block(_outcome(shown))


def _outcome(shown: Shown) -> str:
    found = shown.found
    said = f": {inline(found.message)}" if found is not None else "."
    if shown.trouble:
        return f"{inline(shown.trouble)}{said}"
    if found is not None and found.kind == "fail":
        where = code(found.at) if found.at else "the top of the document"
        return f"**{found.word}** at {where}{said}"
    assert isinstance(shown.example, Passes)
    return f"The outcome is *{shown.example.outcome}*{said}"


def _patch(patch: Sequence[Operation]) -> str:
    """A JSON Patch, an operation a line where that is short enough."""
    return "[\n" + ",\n".join(f"  {_laid_out(operation, '  ')}" for operation in patch) + "\n]"


def _laid_out(value: object, indent: str) -> str:
    """JSON on one line where it fits, else with each of its parts on lines of their own."""
    line = as_json(value)
    if len(indent) + len(line) <= _WIDTH or not isinstance(value, dict | list) or not value:
        return line
    deeper = f"{indent}  "
    if isinstance(value, dict):
        parts = [f"{as_json(key)}: {_laid_out(part, deeper)}" for key, part in value.items()]
    else:
        parts = [_laid_out(part, deeper) for part in value]
    inside = ",\n".join(f"{deeper}{part}" for part in parts)
    begins, ends = "{}" if isinstance(value, dict) else "[]"
    return f"{begins}\n{inside}\n{indent}{ends}"
