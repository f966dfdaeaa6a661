"""The rulebook as text: all rules, or one explained."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.rulebook_telling import (
    MEANS,
    as_json,
    by_family,
    default,
    fix_told,
    looks_at,
)
from prebind.report.wording import clean, paragraph
from prebind.rule import Passes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.report.rulebook_telling import Explained, Shown
    from prebind.rule import Operation, Rule

_INDENT = "    "
_DEEPER = f"{_INDENT}  "


def list_text(rules: Iterable[Rule], width: int) -> Iterator[str]:
    """Every rule by family: its id, signal word and title."""
    families = by_family(rules)
    widest = max((len(rule.id) for family in families.values() for rule in family), default=0)
    for family, its in families.items():
        yield f"{clean(family)}\n"
        for rule in its:
            first = f"  {clean(rule.id):<{widest}}  {rule.word:<7}  "
            yield paragraph(clean(rule.title), width, first, " " * len(first))
        yield "\n"
    yield paragraph("`prebind rulebook RULE` explains one.", width)


def rule_text(told: Explained, width: int) -> Iterator[str]:
    """One rule: what it finds, why that matters, what to do, and an example of each kind."""
    rule = told.rule
    head = f"{clean(rule.id)}: {clean(rule.title)}"
    yield paragraph(head, width)
    yield f"{'=' * min(len(head), width)}\n\n"
    yield paragraph(f"Signal word: {rule.word} ({MEANS[rule.word]}).", width)
    looks = looks_at(rule)
    if looks:
        yield paragraph(clean(looks), width)
    yield paragraph(f"Pack: {clean(told.pack.label)}, since {clean(rule.since)}.", width)
    for label, text in (
        ("Why", rule.why),
        ("Safety", rule.safety),
        ("Remedy", rule.remedy),
        ("On the bench", rule.bench),
        ("Fix", fix_told(rule, told.fixes)),
    ):
        yield from _passage(label, text, width)
    yield from _settings(rule, width)
    for label, shown in (
        ("Fails, for example", told.fails),
        ("Passes, for example", told.passes),
    ):
        if shown:
            yield from _example(label, shown[0], width)
    if told.trouble:
        yield f"\n{paragraph(clean(told.trouble), width)}"
    yield from _passage("Source", rule.source, width)


def _passage(label: str, text: str, width: int) -> Iterator[str]:
    yield f"\n{label}\n"
    for part in text.split("\n\n"):
        yield paragraph(clean(" ".join(part.split())), width, _INDENT, _INDENT)


def _settings(rule: Rule, width: int) -> Iterator[str]:
    if not rule.settings:
        return
    yield "\nSettings\n"
    for name, setting in rule.settings.items():
        text = f"{clean(name)} = {default(setting)}: {clean(setting.meaning)}"
        yield paragraph(text, width, _INDENT, _DEEPER)
    where = f'Others stand in prebind.toml, under [settings."{clean(rule.id)}"].'
    yield paragraph(where, width, _INDENT, _INDENT)


def _example(label: str, shown: Shown, width: int) -> Iterator[str]:
    example = shown.example
    yield f"\n{label}\n"
    yield paragraph(clean(example.why), width, _INDENT, _INDENT)
    end = ":" if example.patch else ", as it is."
    yield paragraph(f"On the clean setup “{clean(example.start)}”{end}", width, _INDENT, _INDENT)
    for operation in example.patch:
        yield paragraph(_change(operation), width, _DEEPER, f"{_DEEPER}  ")
    yield from _answer(shown, width)


def _answer(shown: Shown, width: int) -> Iterator[str]:
    found = shown.found
    colon = ":" if found is not None else "."
    yield paragraph(f"{_outcome(shown)}{colon}", width, _INDENT, _INDENT)
    if found is not None:
        word = f"{found.word}: " if found.kind == "fail" else ""
        yield paragraph(f"{word}{clean(found.message)}", width, _DEEPER, _DEEPER)


def _outcome(shown: Shown) -> str:
    if shown.trouble:
        return clean(shown.trouble)
    if shown.found is not None and shown.found.kind == "fail":
        return f"It fails at {clean(shown.found.at) or 'the top of the document'}"
    assert isinstance(shown.example, Passes)
    return f"The outcome is {shown.example.outcome}"


def _change(operation: Operation) -> str:
    value = f" {as_json(operation['value'])}" if "value" in operation else ""
    return f"{operation['op']} {clean(operation['path'])}{value}"
