"""The rulebook as text: all rules, or one explained."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.report.wording import clean, number, paragraph
from prebind.rule import Fails, Passes

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.rule import Example, Operation, Rule

_INDENT = "    "


def list_text(rules: Iterable[Rule], width: int) -> Iterator[str]:
    """Every rule by family: its id, signal word and title."""
    families: dict[str, list[Rule]] = {}
    for rule in rules:
        families.setdefault(rule.family, []).append(rule)
    widest = max((len(rule.id) for family in families.values() for rule in family), default=0)
    for family, its in families.items():
        yield f"{clean(family)}\n"
        for rule in its:
            first = f"  {clean(rule.id):<{widest}}  {rule.word:<7}  "
            yield paragraph(clean(rule.title), width, first, " " * len(first))
        yield "\n"
    yield paragraph("`prebind rulebook RULE` explains one.", width)


def rule_text(rule: Rule, pack: str, width: int) -> Iterator[str]:
    """One rule: what it finds, why that matters, what to do, and an example of each kind."""
    head = f"{clean(rule.id)}: {clean(rule.title)}"
    yield paragraph(head, width)
    yield f"{'=' * min(len(head), width)}\n\n"
    yield paragraph(
        f"Signal word: {rule.word}. Pack: {clean(pack)}, since {clean(rule.since)}.", width
    )
    for label, text in (
        ("Why", rule.why),
        ("Safety", rule.safety),
        ("Remedy", rule.remedy),
        ("On the bench", rule.bench),
        ("Source", rule.source),
    ):
        yield from _passage(label, text, width)
    yield from _settings(rule, width)
    examples = list(rule.examples())
    fails = [example for example in examples if isinstance(example, Fails)]
    passes = [example for example in examples if not isinstance(example, Fails)]
    for label, found in (("Fails, for example", fails), ("Passes, for example", passes)):
        if found:
            yield from _example(label, found[0], width)


def _passage(label: str, text: str, width: int) -> Iterator[str]:
    yield f"\n{label}\n"
    for part in text.split("\n\n"):
        yield paragraph(clean(" ".join(part.split())), width, _INDENT, _INDENT)


def _settings(rule: Rule, width: int) -> Iterator[str]:
    if not rule.settings:
        return
    yield "\nSettings\n"
    for name, setting in rule.settings.items():
        text = f"{clean(name)} = {_value(setting.default)}: {clean(setting.meaning)}"
        yield paragraph(text, width, _INDENT, f"{_INDENT}  ")


def _value(default: Any) -> str:
    return number(default) if isinstance(default, int | float) else _json(default)


def _example(label: str, example: Example, width: int) -> Iterator[str]:
    yield f"\n{label}\n"
    yield paragraph(clean(example.why), width, _INDENT, _INDENT)
    yield f"{_INDENT}On the clean setup “{clean(example.start)}”:\n"
    deeper = f"{_INDENT}  "
    for operation in example.patch:
        yield paragraph(_change(operation), width, deeper, f"{deeper}  ")
    yield paragraph(_answer(example), width, _INDENT, _INDENT)


def _answer(example: Example) -> str:
    if isinstance(example, Passes):
        return f"The outcome is {example.outcome}."
    assert isinstance(example, Fails)
    return f"It fails at {clean(example.at) or 'the top of the document'}."


def _change(operation: Operation) -> str:
    value = f" {_json(operation['value'])}" if "value" in operation else ""
    return f"{operation['op']} {clean(operation['path'])}{value}"


def _json(value: Any) -> str:
    from json import dumps

    return dumps(value)
