"""Whether a pack keeps what a pack promises, aspect by aspect."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.testing import records
from prebind.testing.examples import try_example
from prebind.testing.formats import formats
from prebind.testing.trial import Trial, told_by

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from prebind.rule import Rule
    from prebind.testing.source import Source
    from prebind.testing.trial import Told

SECONDS = 1.0
"""The longest that a rule may take over one document, if nothing else is said."""


def assert_conforms(source: Source, *, seconds: float = SECONDS) -> None:
    """The pack must conform in every aspect of `ASPECTS`.

    `seconds` bounds each rule on each document, so leave room for a slow machine.  Raises
    AssertionError with everything that is wrong.
    """
    trial = Trial(source, seconds)
    wrong = [f"{aspect}: {what}" for aspect, ask in ASPECTS.items() for what in ask(trial)]
    assert not wrong, "\n".join(wrong)


def conformance_tests(source: Source, *, seconds: float = SECONDS) -> Callable[..., None]:
    """A test function for pytest, one case for each aspect of `ASPECTS`.

    Assign it to a name that pytest collects: `test_conformance = conformance_tests(my_pack)`.
    """
    import pytest

    trial = Trial(source, seconds)

    @pytest.mark.parametrize("aspect", ASPECTS)
    def test_conformance(aspect: str) -> None:
        wrong = list(ASPECTS[aspect](trial))
        assert not wrong, "\n".join(wrong)

    return test_conformance


def _ids(trial: Trial) -> Iterator[str]:
    """Well formed, and taken by nobody else, prebind's own rules least of all.

    Warns of what the pack takes of the hooks and is to go.
    """
    from warnings import warn

    for note in trial.pack.notes:
        warn(f"{trial.pack.label}: {note}", DeprecationWarning, stacklevel=2)
    yield from records.names(trial.pack)
    yield from records.ids(trial.rules)
    yield from (problem.message for problem in trial.loaded.problems)


def _of_rules(ask: Callable[[Iterable[Rule]], Iterator[str]]) -> Callable[[Trial], Iterator[str]]:
    return lambda trial: ask(trial.rules)


def _outcomes(trial: Trial) -> Iterator[str]:
    for rule in trial.rules:
        for example in rule.examples():
            try:
                try_example(rule, example)
            except (AssertionError, ValueError, FileNotFoundError) as wrong:
                yield f"{rule.id}: “{example.why}”: {wrong}"


def _findings(trial: Trial) -> Iterator[str]:
    """What a rule says is plain text, its evidence plain JSON."""
    for name, ran in trial.ran.items():
        yield from (f"on {name}: {p.rule}: {p.message}" for p in ran.problems)
        for found in ran.findings:
            whose = f"on {name}: {found.rule}"
            ask = records.unplain if found.kind == "open" else records.sentences
            yield from (f"{whose}: {what}" for what in ask("the message", found.message))
            yield from records.claimed(whose, found.message)
            if not records.plain_json(dict(found.evidence)):
                yield f"{whose}: the evidence is no plain JSON: {dict(found.evidence)}"


def _order(trial: Trial) -> Iterator[str]:
    backwards = trial.told_of(reversed(trial.rules), trial.mappings())
    yield from _different(trial.told, backwards, "with the rules in reverse", in_order=False)


def _among_others(trial: Trial) -> Iterator[str]:
    for it in trial.alone:
        if it.document in trial.ran and it.told != told_by(it.rule, trial.ran[it.document]):
            yield f"on {it.document}, {it.rule} says something else by itself than among the others"


def _process(trial: Trial) -> Iterator[str]:
    found = trial.elsewhere
    if found.failed:
        yield f"a fresh interpreter does not run the pack: {found.failed}"
        return
    yield from _different(trial.told, found.told, "in another process, with other hashes")


def _bytes(trial: Trial) -> Iterator[str]:
    told = trial.told_of(trial.rules, trial.bytes())
    yield from _different(trial.told, told, "read from bytes, not from a mapping")


def _different(one: Told, other: Told, how: str, *, in_order: bool = True) -> Iterator[str]:
    for name, lines in one.items():
        more = other.get(name, [])
        here, there = (lines, more) if in_order else (sorted(lines), sorted(more))
        if here != there:
            said = next((line for line in there if line not in here), "the same, in another order")
            yield f"on {name}, {how}, the report is another one: {said}"


def _untouched(trial: Trial) -> Iterator[str]:
    for it in trial.alone:
        if it.changed:
            yield f"{it.rule} changes {' and '.join(it.changed)}, on {it.document}"


def _nothing_else(trial: Trial) -> Iterator[str]:
    """A rule prints nothing, reads no file, opens no connection and starts no program."""
    yield from trial.elsewhere.touched
    if trial.elsewhere.said:
        yield f"something was printed: {trial.elsewhere.said[:200]!r}"


def _time(trial: Trial) -> Iterator[str]:
    for it in trial.alone:
        if it.seconds > trial.seconds:
            yield (
                f"{it.rule} took {it.seconds:.2f} s on {it.document}, more than {trial.seconds:g} s"
            )


ASPECTS: Mapping[str, Callable[[Trial], Iterator[str]]] = {
    "ids": _ids,
    "texts": _of_rules(records.texts),
    "no claim of safety": _of_rules(records.claims),
    "places and needs": _of_rules(records.places),
    "settings": _of_rules(records.settings),
    "examples of both kinds": _of_rules(records.examples),
    "examples come out, fixes mend": _outcomes,
    "plain findings": _findings,
    "same in any order": _order,
    "same alone and among others": _among_others,
    "same in any process": _process,
    "same from bytes and from a mapping": _bytes,
    "leaves what it is handed": _untouched,
    "does nothing but judge": _nothing_else,
    "in time": _time,
    "report formats": formats,
}
"""What a pack is asked, by what a test of it is called; each names everything that is wrong."""
