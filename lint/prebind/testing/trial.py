"""A pack run on everything that it can be tried on, and what came of it, told line by line."""

from __future__ import annotations

from copy import deepcopy
from functools import cached_property
from json import dumps, loads
from math import inf
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.testing.examples import clean, patched
from prebind.testing.source import Loaded, Source, loaded, named

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from prebind.document import Document
    from prebind.inspect.engine import Ran
    from prebind.inspect.finding import Finding
    from prebind.packs import Pack
    from prebind.rule import Example, Rule
    from prebind.testing.elsewhere import Elsewhere

Told = dict[str, list[str]]
"""What all rules said of each document, by the document's name: a line an outcome."""


class Alone(NamedTuple):
    """One rule run by itself on one document.

    `told` is what it said; `seconds` how long that took, facts of the signal path included;
    `changed` names what was handed to the rule and was not the same afterwards.
    """

    rule: str
    document: str
    told: list[str]
    seconds: float
    changed: tuple[str, ...]


class Trial:
    """A pack, and what several of its tests ask, each worked out once."""

    def __init__(self, source: Source, seconds: float = inf) -> None:
        self._source = source
        self.seconds = seconds

    @cached_property
    def name(self) -> str:
        return named(self._source)

    @cached_property
    def loaded(self) -> Loaded:
        return loaded(self.name)

    @property
    def pack(self) -> Pack:
        return self.loaded.pack

    @cached_property
    def rules(self) -> tuple[Rule, ...]:
        return self.pack.rules

    @cached_property
    def _templates(self) -> dict[str, str]:
        from prebind_schemas import templates

        return {f"the clean setup “{name}”": dumps(clean(name)) for name in templates()}

    @cached_property
    def texts(self) -> dict[str, str]:
        """Every clean setup and every example of the pack as JSON text, by what it is."""
        return self._templates | {
            name: text for rule in self.rules for name, text in self._examples(rule)
        }

    def _examples(self, rule: Rule) -> Iterator[tuple[str, str]]:
        """Those whose patch fits: whether every one does is another test's business."""
        for example in rule.examples():
            try:
                yield _called(rule, example), dumps(patched(clean(example.start), example.patch))
            except (ValueError, FileNotFoundError):
                continue

    @cached_property
    def ran(self) -> dict[str, Ran]:
        """All rules on every document."""
        return dict(self.run(self.rules, self.mappings()))

    @cached_property
    def told(self) -> Told:
        return {name: told(ran) for name, ran in self.ran.items()}

    @cached_property
    def elsewhere(self) -> Elsewhere:
        """What came of it in another process."""
        from prebind.testing.elsewhere import elsewhere

        return elsewhere(self.name)

    def told_of(self, rules: Iterable[Rule], documents: Iterable[tuple[str, Any]]) -> Told:
        return {name: told(ran) for name, ran in self.run(rules, documents)}

    def templates(self) -> Iterator[tuple[str, Any]]:
        return ((name, loads(text)) for name, text in self._templates.items())

    def mappings(self) -> Iterator[tuple[str, Any]]:
        return ((name, loads(text)) for name, text in self.texts.items())

    def bytes(self) -> Iterator[tuple[str, Any]]:
        return ((name, text.encode()) for name, text in self.texts.items())

    def run(
        self, rules: Iterable[Rule], documents: Iterable[tuple[str, Any]]
    ) -> Iterator[tuple[str, Ran]]:
        from prebind.inspect.engine import Bound, run
        from prebind.path import Path

        bound = [Bound(rule, rule.defaults(), None, self.pack.label) for rule in rules]
        for name, data in documents:
            document = _read(data)
            if document is not None:
                yield name, run(bound, Path(document.setup), document.data, "-")

    @cached_property
    def alone(self) -> list[Alone]:
        """Each rule by itself, on the clean setups and on its own examples."""
        return [
            _alone(rule, name, text)
            for rule in self.rules
            for name, text in (*self._templates.items(), *self._examples(rule))
        ]


def _called(rule: Rule, example: Example) -> str:
    return f"the example “{example.why}” of {rule.id}"


def _read(data: Any) -> Document | None:
    from prebind.document import read

    document = read(data)
    return None if isinstance(document, list) else document


def _alone(rule: Rule, name: str, text: str) -> Alone:
    from prebind.inspect.engine import Bound, run
    from prebind.path import Path

    document, same = _read(text), _read(text)
    if document is None or same is None:
        return Alone(rule.id, name, [], 0.0, ())
    settings = rule.defaults()
    before = deepcopy(settings)
    ran = run([Bound(rule, settings, None, "")], Path(document.setup), document.data, "-")
    changed = {
        "its settings": (settings, before),
        "the document": (document.data, same.data),
        "the setup": (document.setup, same.setup),
    }
    different = tuple(what for what, (now, then) in changed.items() if now != then)
    return Alone(rule.id, name, told_by(rule.id, ran), ran.seconds[rule.id], different)


def told(ran: Ran) -> list[str]:
    """A line for each finding, each crash and each rule that had nothing to judge."""
    return [
        *(dumps(_plain(found), default=repr) for found in ran.findings),
        *(f"{problem.rule} {problem.message}" for problem in ran.problems),
        *(f"{rule} had nothing to judge" for rule in ran.not_applicable),
        dumps(ran.outcomes),
    ]


def told_by(rule: str, ran: Ran) -> list[str]:
    """A line for each finding of one rule; what it follows from is another rule's business."""
    its = (_plain(found) for found in ran.findings if found.rule == rule)
    return [dumps({**plain, "because": None}, default=repr) for plain in its]


def _plain(found: Finding) -> Mapping[str, Any]:
    return {
        "rule": found.rule,
        "kind": found.kind,
        "word": found.word,
        "at": found.at,
        "message": found.message,
        "evidence": dict(found.evidence),
        "safety": found.safety,
        "remedy": found.remedy,
        "bench": found.bench,
        "settles": found.settles,
        "fix": None if found.fix is None else [found.fix.applies, *found.fix.patch],
        "because": None if found.because is None else [found.because.rule, found.because.at],
        "fingerprint": found.fingerprint,
    }
