"""Laying a rule against changed clean setups, and running the examples of rules."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING, Any

from prebind.rule import Example, Fails, Operation, Passes, Rule
from prebind.testing.source import Source, loaded, named

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from prebind.inspect.finding import Finding, Report


@cache
def _clean_text(name: str) -> str:
    from prebind_schemas import template_text

    return template_text(name)


def clean(name: str = "trainer") -> dict[str, Any]:
    """A fresh copy of a clean setup to start from, by the name of its template.

    Raises FileNotFoundError for a name that has no template.
    """
    from json import loads

    setup: dict[str, Any] = loads(_clean_text(name))
    return setup


def patched(setup: Mapping[str, Any], patch: Iterable[Operation]) -> dict[str, Any]:
    """The setup with a JSON Patch (RFC 6902) laid on it; the one given stays as it is.

    Raises ValueError where an operation does not fit the setup.
    """
    from jsonpatch import JsonPatch, JsonPatchException
    from jsonpointer import JsonPointerException

    try:
        done: dict[str, Any] = JsonPatch(list(patch)).apply(setup)
    except (JsonPatchException, JsonPointerException) as error:
        raise ValueError(f"the patch does not fit the setup: {error}") from error
    return done


def inspected(rule: Rule, setup: Mapping[str, Any], **numbers: Any) -> Report:
    """The report of one rule alone on a setup; `numbers` replace its settings."""
    from prebind.document import read
    from prebind.inspect.engine import Bound, run
    from prebind.inspect.finding import Report
    from prebind.path import Path

    document = read(setup)
    if isinstance(document, list):
        return Report("-", None, problems=tuple(document))
    path = Path(document.setup)
    bound = Bound(rule, {**rule.defaults(), **numbers}, None, "under test")
    ran = run([bound], path, document.data, "-")
    found = (tuple(ran.findings), tuple(ran.problems), ran.outcomes)
    return Report("-", document, *found, not_applicable=tuple(ran.not_applicable), path=path)


def assert_fails(
    rule: Rule,
    patch: Iterable[Operation],
    *,
    at: str,
    says: Iterable[str] = (),
    word: str | None = None,
    start: str = "trainer",
) -> Finding:
    """The rule must fail at this JSON Pointer, with these words in its message."""
    report = _sound(inspected(rule, patched(clean(start), patch)))
    fails = [found for found in report.findings if found.kind == "fail"]
    there = [found for found in fails if found.at == at]
    assert there, f"{rule.id} does not fail at {at!r}; fails: {_listed(fails)}"
    for found in there:
        if all(text in found.message for text in says) and word in (None, found.word):
            return found
    raise AssertionError(f"{rule.id} fails at {at!r}, but says otherwise: {_listed(there)}")


def assert_passes(
    rule: Rule,
    patch: Iterable[Operation],
    *,
    outcome: str = "pass",
    start: str = "trainer",
) -> Report:
    """The rule must not fail anywhere, and must answer with this outcome somewhere."""
    report = _sound(inspected(rule, patched(clean(start), patch)))
    fails = [found for found in report.findings if found.kind == "fail"]
    assert not fails, f"{rule.id} must not fail: {_listed(fails)}"
    assert report.outcomes[outcome], f"{rule.id} never answers {outcome}: {report.outcomes}"
    return report


def examples_of(*rules: Rule) -> list[Example]:
    """Every example of some rules."""
    return [example for rule in rules for example in rule.examples()]


def try_example(rule: Rule, example: Example) -> None:
    """The example must come out as the rule's record says; a fix must mend what it fixes."""
    if isinstance(example, Passes):
        assert_passes(rule, example.patch, outcome=example.outcome, start=example.start)
        return
    assert isinstance(example, Fails)
    found = assert_fails(
        rule,
        example.patch,
        at=example.at,
        says=example.says,
        word=example.word or rule.word,
        start=example.start,
    )
    if found.fix is not None:
        mended = patched(patched(clean(example.start), example.patch), found.fix.patch)
        left = _sound(inspected(rule, mended))
        same = [other for other in left.findings if other.fingerprint == found.fingerprint]
        assert not same, f"the fix of {rule.id} does not mend it: {_listed(same)}"


def example_tests(source: Source | Rule | Iterable[Rule]) -> Callable[..., None]:
    """A test function for pytest, one case for each example of a pack or of some rules.

    Assign it to a name that pytest collects: `test_examples = example_tests(my_pack)`.
    """
    import pytest

    cases = [
        pytest.param(rule, example, id=f"{rule.id}: {example.why}")
        for rule in _rules(source)
        for example in rule.examples()
    ]

    @pytest.mark.parametrize(("rule", "example"), cases)
    def test_example(rule: Rule, example: Example) -> None:
        try_example(rule, example)

    return test_example


def _rules(source: Source | Rule | Iterable[Rule]) -> Iterable[Rule]:
    if isinstance(source, Rule):
        return (source,)
    if isinstance(source, ModuleType | str) or not isinstance(source, Iterable):
        return loaded(named(source)).pack.rules
    return source


def _sound(report: Report) -> Report:
    assert not report.problems, "; ".join(problem.message for problem in report.problems)
    return report


def _listed(findings: Iterable[Finding]) -> str:
    return "; ".join(f"{f.word} at {f.at!r}: {f.message}" for f in findings) or "none"
