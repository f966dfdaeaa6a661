"""A pack's own examples tried, as text: which come out as they should, and what came instead."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.report.rulebook_telling import explained
from prebind.report.telling import many
from prebind.report.wording import clean, paragraph
from prebind.rule import Fails, Passes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.inspect.inspector import Inspector
    from prebind.packs import Pack
    from prebind.report.rulebook_telling import Shown
    from prebind.rule import Example, Rule

_LABEL = 10  # characters for the words before what was expected and found
_INDENT = "    "


class Tried(NamedTuple):
    """An example that was tried; `error` is empty where it came out as it should."""

    shown: Shown
    error: str


class Trial(NamedTuple):
    """A rule with its examples tried; `trouble` is why there are none."""

    rule: Rule
    tried: tuple[Tried, ...]
    trouble: str

    @property
    def wrong(self) -> int:
        """How many examples do not come out."""
        return sum(bool(one.error) for one in self.tried)

    @property
    def proved(self) -> bool:
        """Whether every example comes out; a rule without any proves nothing."""
        return bool(self.tried) and not self.wrong


def trials(pack: Pack, inspector: Inspector) -> Iterator[Trial]:
    """Every rule of the pack, one after another."""
    for rule in pack.rules:
        told = explained(rule, pack, inspector)
        tried = [Tried(one, _error(rule, one.example)) for one in (*told.fails, *told.passes)]
        yield Trial(rule, tuple(tried), told.trouble)


def _error(rule: Rule, example: Example) -> str:
    from prebind.testing import try_example

    try:
        try_example(rule, example)
    except (AssertionError, ValueError, FileNotFoundError) as error:
        return str(error) or "it does not come out"
    return ""


def trial_text(trials: Sequence[Trial], width: int) -> Iterator[str]:
    """What came of each example, and a last line with the counts."""
    for trial in trials:
        yield f"{clean(trial.rule.id)}\n"
        if not trial.tried:
            text = trial.trouble or "It has no examples: nothing shows that it finds anything"
            yield paragraph(f"{clean(text)}.", width, "  WRONG  ", _INDENT * 2)
        for one in trial.tried:
            yield from _tried(trial.rule, one, width)
        yield "\n"
    examples = sum(len(trial.tried) for trial in trials)
    yield paragraph(
        f"{many(len(trials), 'rule')}, {many(examples, 'example')}: {_came(trials)}.", width
    )


def _came(trials: Sequence[Trial]) -> str:
    wrong = sum(trial.wrong for trial in trials)
    bare = sum(not trial.tried for trial in trials)
    said = [f"{wrong} not as they should be"] if wrong else []
    said += [f"{many(bare, 'rule')} without examples"] if bare else []
    return "; ".join(said) or "all come out as they should"


def _tried(rule: Rule, one: Tried, width: int) -> Iterator[str]:
    example = one.shown.example
    kind = "fails" if isinstance(example, Fails) else "passes"
    verdict = "WRONG" if one.error else "ok"
    yield paragraph(clean(example.why), width, f"  {verdict:<5}  {kind:<6}  ", " " * 17)
    if one.error:
        yield _line("expected", _expected(rule, example), width)
        yield _line("found", _found(one), width)


def _line(label: str, text: str, width: int) -> str:
    first = f"{_INDENT * 2} {label:<{_LABEL}}"
    return paragraph(clean(text), width, first, " " * len(first))


def _expected(rule: Rule, example: Example) -> str:
    if isinstance(example, Fails):
        says = ", ".join(f"“{text}”" for text in example.says)
        about = f", and says {says}" if says else ""
        return f"{example.word or rule.word} at {_place(example.at)}{about}"
    assert isinstance(example, Passes)
    return f"{example.outcome}, and no fail anywhere"


def _found(one: Tried) -> str:
    """What the rule says instead; where it says what is meant, what else is wrong with that."""
    shown = one.shown
    if shown.report is None or not shown.trouble:
        return shown.trouble or one.error
    findings = [
        f"{found.word if found.kind == 'fail' else found.kind} at {_place(found.at)}: "
        f"{found.message}"
        for found in shown.report.findings
    ]
    nothing = "pass" if shown.report.outcomes["pass"] else "notApplicable"
    return "; ".join(findings) or nothing


def _place(at: str) -> str:
    return at or "the top of the document"
