"""What a rule is, and what it may answer.  Public: rule packs import from here.

A rule is one function with its record beside it::

    @rule(
        "bands/gap",
        word="warning",
        title="A switch position selects no state",
        each="selectors",
        needs=("stabiliser",),
        safety="…", remedy="…", bench="…", source="common practice, no source",
        examples=lambda: [Fails(...), Passes(...)],
    )
    def gap(selector: SelectorPath, path: Path, settings: Settings) -> Answer:
        '''Why this matters, in a few sentences: the rulebook prints it.'''
        ...
        return PASS

The function judges one place at a time and answers with an outcome; the engine walks the places,
guards each call, and turns `NotKnown` and `NotChecked`, raised by the signal path, into *open*.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any, Literal, get_args

from prebind.path.facts import (
    AXES_OF,
    PRIMARY,
    Controls,
    LinkageFault,
    NotChecked,
    NotKnown,
    Position,
)
from prebind.record import Record, field, record

if TYPE_CHECKING:
    from prebind.path import Path

__all__ = [
    "AXES_OF",
    "NOT_APPLICABLE",
    "PASS",
    "PRIMARY",
    "WORDS",
    "Answer",
    "Cause",
    "Controls",
    "Example",
    "Fail",
    "Fails",
    "Fix",
    "LinkageFault",
    "NotApplicable",
    "NotChecked",
    "NotKnown",
    "Open",
    "Operation",
    "Outcome",
    "Pass",
    "Passes",
    "Place",
    "Position",
    "Review",
    "Rule",
    "Setting",
    "Settings",
    "Word",
    "fails",
    "passes",
    "put",
    "remove",
    "replace",
    "rule",
    "spoken",
]

Word = Literal["danger", "warning", "caution", "notice"]
WORDS: tuple[Word, ...] = ("danger", "warning", "caution", "notice")
"""Signal words of ANSI Z535.6, worst first."""

Settings = Mapping[str, Any]
"""A rule's numbers (and lists) in force, by name."""

Operation = dict[str, Any]
"""One operation of a JSON Patch (RFC 6902)."""


@record
class Fix(Record):
    """A change of the document that mends it; `safe` leaves the documented intention as it is."""

    applies: Literal["safe", "decide"]
    patch: tuple[Operation, ...]


@record
class Cause(Record):
    """The finding that this one follows from: its rule, and its place as a JSON Pointer."""

    rule: str
    at: str


@record
class Pass(Record):
    """Looked at, and nothing is wrong."""

    at: str | None = None


@record
class NotApplicable(Record):
    """There is nothing here for this rule to judge."""


@record
class Fail(Record):
    """Something is wrong.

    `message` is one sentence with the numbers in it; `at` the JSON Pointer of the value that the
    remedy changes (left out: the place that was judged); `evidence` what led to the finding:
    control positions, percent, µs, states, margins.  `word`, `safety` and `remedy` replace the
    rule's own.
    """

    message: str
    at: str | None = None
    evidence: Mapping[str, Any] = field(factory=dict)
    word: Word | None = None
    safety: str | None = None
    remedy: str | None = None
    fix: Fix | None = None
    because: Cause | None = None


@record
class Open(Record):
    """Information is missing: `settles` names keys (JSON Pointers), `bench` the check by hand."""

    message: str
    settles: tuple[str, ...] = ()
    at: str | None = None
    bench: str | None = None
    evidence: Mapping[str, Any] = field(factory=dict)


@record
class Review(Record):
    """A person must judge."""

    message: str
    at: str | None = None
    evidence: Mapping[str, Any] = field(factory=dict)
    remedy: str | None = None


PASS = Pass()
NOT_APPLICABLE = NotApplicable()

Outcome = Pass | NotApplicable | Fail | Open | Review
Answer = Outcome | Iterable[Outcome]
"""One outcome for the place that was judged, or several that each name their own place."""


@record
class Setting(Record):
    """A number of a rule that a club may change: its default and what it means, with its unit.

    A list keeps its length.  `count`: only whole numbers from 0 up make sense; `least` and `most`:
    only numbers from and up to these.
    """

    default: Any
    meaning: str
    count: bool = False
    least: float | None = None
    most: float | None = None


@record
class Example(Record):
    """A JSON Patch on a clean setup, `start`, and what the rule must answer there."""

    patch: tuple[Operation, ...]
    why: str
    start: str


@record
class Fails(Example):
    """The rule must fail at `at` with `word`, and its message must contain each of `says`."""

    at: str
    says: tuple[str, ...]
    word: Word | None


@record
class Passes(Example):
    """The rule must run and not fail anywhere; `outcome` names what it must answer instead."""

    outcome: Literal["pass", "open", "review", "notApplicable"]


def spoken(controls: Controls) -> str:
    """A witness in plain words: `mode-switch at middle, gain-knob at 40 %`; empty for none."""
    return ", ".join(
        f"{name} at {where}" if isinstance(where, str) else f"{name} at {round(where, 1):g} %"
        for name, where in controls.items()
    )


def fails(
    *patch: Operation,
    why: str,
    at: str,
    says: Iterable[str],
    word: Word | None = None,
    start: str = "trainer",
) -> Fails:
    """An example that must fail.  `start` names the clean setup that the patch is laid on."""
    return Fails(patch, why, start, at, tuple(says), word)


def passes(
    *patch: Operation,
    why: str,
    outcome: Literal["pass", "open", "review", "notApplicable"] = "pass",
    start: str = "trainer",
) -> Passes:
    """An example that must pass: a near miss, or a mistake made harmless by something else."""
    return Passes(patch, why, start, outcome)


def put(pointer: str, value: Any) -> Operation:
    """A JSON Patch operation that sets a member or inserts into a list (`/-` appends)."""
    return {"op": "add", "path": pointer, "value": value}


def replace(pointer: str, value: Any) -> Operation:
    """A JSON Patch operation that replaces an existing value."""
    return {"op": "replace", "path": pointer, "value": value}


def remove(pointer: str) -> Operation:
    """A JSON Patch operation that removes a value."""
    return {"op": "remove", "path": pointer}


@record
class Place(Record):
    """Something to judge that has no class of its own."""

    at: str
    entry: Any = None


Each = Literal[
    "setup",
    "controls",
    "channels",
    "primary-channels",
    "inputs",
    "phases",
    "mixes",
    "overrides",
    "ports",
    "failsafe",
    "axes",
    "selectors",
    "directions",
    "servos",
    "motors",
    "surfaces",
    "waivers",
]
"""What a rule may judge one by one; every place has `at`, its JSON Pointer."""

Need = Literal[
    "receiver",
    "failsafe",
    "stabiliser",
    "servos",
    "surfaces",
    "power",
    "propulsion",
    "motors",
    "electric",
]
"""What a rule may need to be recorded: without it the answer is *open*, or *notApplicable*."""

Places = Each | Callable[["Path"], Iterable[Any]]
Judge = Callable[[Any, "Path", Settings], Answer]


@record
class Rule:
    """A rule with its record.

    `each` says what it judges one by one, `needs` what must be recorded.
    """

    id: str
    word: Word
    title: str
    judge: Judge
    each: Places
    needs: tuple[Need, ...]
    safety: str
    remedy: str
    bench: str
    source: str
    settings: Mapping[str, Setting]
    examples: Callable[[], Iterable[Example]]
    since: str

    @property
    def family(self) -> str:
        return self.id.partition("/")[0]

    @property
    def why(self) -> str:
        """The explanation: the docstring of the function that judges."""
        from inspect import getdoc

        return getdoc(self.judge) or ""

    def defaults(self) -> dict[str, Any]:
        return {name: setting.default for name, setting in self.settings.items()}


def _known(name: object, known: tuple[str, ...], what: str) -> None:
    if name not in known:
        raise ValueError(f"{name!r} is no {what}; known are {', '.join(known)}")


def rule(
    id: str,  # noqa: A002 - the field's own name for it (SARIF 2.1.0, 3.49.3)
    *,
    word: Word,
    title: str,
    each: Places,
    safety: str,
    remedy: str,
    bench: str,
    source: str,
    examples: Callable[[], Iterable[Example]],
    needs: tuple[Need, ...] = (),
    settings: Mapping[str, Setting] | None = None,
    since: str = "0.1.0",
) -> Callable[[Judge], Rule]:
    """Makes a `Rule` of the function below it; the module's docstring shows the shape.

    Raises ValueError for an id, a word, a need or an `each` that there cannot be.
    """
    family, slash, name = id.partition("/")
    for part in (family, name):
        if not (slash and part.replace("-", "a").isalnum() and part.isascii() and part.islower()):
            raise ValueError(f"a rule's id is family/name, of a to z, 0 to 9 and -, not {id!r}")
    _known(word, WORDS, f"signal word for {id}")
    for need in needs:
        _known(need, get_args(Need), f"need for {id}")
    if not callable(each):
        _known(each, get_args(Each), f"`each` for {id}")

    def bind(judge: Judge) -> Rule:
        return Rule(
            id,
            word,
            title,
            judge,
            each,
            needs,
            safety,
            remedy,
            bench,
            source,
            settings or {},
            examples,
            since,
        )

    return bind
