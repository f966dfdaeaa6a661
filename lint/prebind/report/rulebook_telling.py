"""What the rulebook tells alike on a terminal and in its pages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.inspect.waivers import EACH as WAIVERS
from prebind.record import Record, record
from prebind.report.wording import number
from prebind.rule import Fails, Passes

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.inspector import Inspector
    from prebind.packs import Pack
    from prebind.rule import Example, Rule, Setting, Word

MEANS: Mapping[Word, str] = {
    "danger": "a motor or rotor can turn while somebody within its reach takes it for stopped",
    "warning": "the model can be out of control in flight, or go where nobody commands it",
    "caution": "control is degraded; a pilot copes, but can be surprised",
    "notice": "equipment may be damaged, a function is lost, or the document is inconsistent",
}
"""The signal words of ANSI Z535.6, and what they mean in this work."""

OUTCOMES: Mapping[str, str] = {
    "fail": "it is wrong",
    "pass": "it was looked at, and nothing is wrong",
    "open": "it could not be checked, as something is not written down",
    "review": "a person must judge it",
    "notApplicable": "there is nothing here to judge",
}
"""What a rule may answer: the result kinds of SARIF 2.1.0."""

_LOOKS_AT: Mapping[str, str] = {
    "setup": "the setup as a whole",
    "controls": "each control of the transmitter",
    "channels": "each channel",
    "primary-channels": "each channel that moves a primary surface",
    "inputs": "each shaped input",
    "phases": "each flight phase",
    "mixes": "each mix",
    "overrides": "each override",
    "ports": "each output of the receiver",
    "failsafe": "each channel of the failsafe",
    "axes": "each stabilised axis",
    "selectors": "each selector",
    "directions": "each servo, for each axis that it turns the model about",
    "servos": "each servo",
    "motors": "each motor",
    "surfaces": "each surface",
    "waivers": "each waiver, once all other rules have run",
}

_NEEDS: Mapping[str, str] = {
    "receiver": "the receiver",
    "failsafe": "the failsafe",
    "stabiliser": "the stabiliser",
    "servos": "the servos",
    "surfaces": "the surfaces",
    "power": "the power supply",
    "propulsion": "what drives the model",
    "motors": "what drives the model, and where it stops",
    "electric": "that the model is electric",
}

_NO_FIX = "None is offered: do what the remedy says."


def looks_at(rule: Rule) -> str:
    """What the rule judges one by one, and what must be recorded for it; empty if not known."""
    said = []
    if isinstance(rule.each, str):
        said.append(f"Looks at {_LOOKS_AT.get(rule.each, rule.each)}.")
    if rule.needs:
        needed = "; ".join(_NEEDS.get(need, need) for need in rule.needs)
        said.append(f"What must be written down: {needed}.")
    return " ".join(said)


def about(family: str, rules: Sequence[Rule]) -> str:
    """What a family is about: the docstring of the package that its rules lie in, if it has one."""
    import sys

    package = getattr(rules[0].judge, "__module__", "").rpartition(".")[0]
    named = package.rpartition(".")[2] == family.replace("-", "_")
    return (getattr(sys.modules.get(package), "__doc__", None) or "") if named else ""


def default(setting: Setting) -> str:
    """A setting's default as a person writes it."""
    value = setting.default
    if isinstance(value, int | float) and not isinstance(value, bool):
        return number(value)
    return as_json(value)


def as_json(value: Any) -> str:
    """JSON on one line, with nothing in it that does not print."""
    from json import dumps

    text = dumps(value, ensure_ascii=False)
    return "".join(char if char.isprintable() else dumps(char)[1:-1] for char in text)


# Examples, and what really comes of them


class Shown(NamedTuple):
    """An example, and what its rule really answers there.

    `found` is the finding to show, None where nothing is wrong; `trouble` says why the answer is
    not the one that is meant.  `report` is None where the example cannot be tried at all.
    """

    example: Example
    report: Report | None = None
    found: Finding | None = None
    trouble: str = ""


@record
class Explained(Record):
    """A rule with its pack, and its examples as they come out; `trouble` is why it has none."""

    rule: Rule
    pack: Pack
    fails: tuple[Shown, ...] = ()
    passes: tuple[Shown, ...] = ()
    trouble: str = ""

    @property
    def fixes(self) -> tuple[str, ...]:
        """How the fixes that it offers apply, `safe` or `decide`; empty where it offers none."""
        found = (shown.found for shown in self.fails)
        return tuple(sorted({one.fix.applies for one in found if one and one.fix}))


def explained(rule: Rule, pack: Pack, inspector: Inspector) -> Explained:
    """The rule with every example tried.  An example that breaks is told, and breaks nothing."""
    try:
        examples = list(rule.examples())
    except Exception as error:
        trouble = f"Its examples cannot be made: {type(error).__name__}: {error}"
        return Explained(rule, pack, trouble=trouble)
    tried = [shown(rule, example, inspector) for example in examples]
    fails = tuple(one for one in tried if isinstance(one.example, Fails))
    passes = tuple(one for one in tried if isinstance(one.example, Passes))
    return Explained(rule, pack, fails, passes)


def shown(rule: Rule, example: Example, inspector: Inspector) -> Shown:
    """What the rule answers there.  The inspector holds the rules that waivers may be about."""
    from prebind_schemas import templates

    try:
        report = _report(rule, example, inspector)
    except FileNotFoundError:
        there = f"there is no clean setup “{example.start}”; known are {', '.join(templates())}"
        return Shown(example, trouble=f"The example cannot be tried: {there}")
    except ValueError as error:
        return Shown(example, trouble=f"The example cannot be tried: {error}")
    wrong = [one.message for one in report.problems if one.rule in (None, rule.id)]
    if wrong:
        return Shown(example, trouble=f"The example cannot be tried: {wrong[0]}")
    its = [found for found in report.findings if found.rule == rule.id]
    fails = [found for found in its if found.kind == "fail"]
    if isinstance(example, Fails):
        meant = next((found for found in fails if _is_meant(rule, example, found)), None)
        if meant is not None:
            return Shown(example, report, meant)
        trouble = "It is meant to fail, and does not fail so"
        return Shown(example, report, next(iter(fails), None), trouble)
    assert isinstance(example, Passes)
    if fails:
        return Shown(example, report, fails[0], "It is meant to pass, and fails")
    if not report.outcomes[example.outcome]:
        trouble = f"It is meant to answer {example.outcome}, and never does"
        return Shown(example, report, trouble=trouble)
    of_kind = (found for found in its if found.kind == example.outcome)
    return Shown(example, report, next(of_kind, None))


def _is_meant(rule: Rule, example: Fails, found: Finding) -> bool:
    return (found.at, found.word) == (example.at, example.word or rule.word) and all(
        text in found.message for text in example.says
    )


def _report(rule: Rule, example: Example, inspector: Inspector) -> Report:
    """Of the rule alone; one about waivers judges what came of all others, so they run too."""
    from prebind.testing import clean, inspected, patched

    setup = patched(clean(example.start), example.patch)
    if rule.each == WAIVERS:
        return inspector.inspect(setup)
    return inspected(rule, setup)


def by_family(rules: Iterable[Rule]) -> dict[str, list[Rule]]:
    """Rules by family, in the order in which they come."""
    families: dict[str, list[Rule]] = {}
    for rule in rules:
        families.setdefault(rule.family, []).append(rule)
    return families


def fix_told(rule: Rule, fixes: Iterable[str]) -> str:
    """What `prebind mend` can do about a finding of the rule."""
    told = {
        "safe": "`prebind mend` shows a change to the document, and makes it once you say yes: "
        "what was meant stays as it is.",
        "decide": f"`prebind mend --rule {rule.id}` shows a change to the document, and makes it "
        "once you say yes: a person must decide.",
    }
    return " ".join(told[applies] for applies in fixes) or _NO_FIX
