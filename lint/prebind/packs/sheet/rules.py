"""From a sheet without faults to rules like any other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.document.wording import any_of
from prebind.packs.sheet.laid import pointer, text
from prebind.packs.sheet.verdict import HOLDS, MOST_STEPS, Judge, Plans, Steps, TooMuch
from prebind.packs.sheet.words import required, short, told
from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Example,
    Fail,
    Fails,
    Open,
    Passes,
    Rule,
    Settings,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from prebind.packs.sheet.laid import Kind, Text, Unknown
    from prebind.packs.sheet.verdict import Breach, Schema, Verdict
    from prebind.path import Path

    Json = dict[str, Any]

_MOST_TOLD = 20
"""How many places of one setup a rule tells of one by one."""
_MOST_AT_ONE = 3

_KINDS: tuple[Kind, ...] = ("document", "trace")


def rules(sheet: Json) -> tuple[Rule, ...]:
    """The rules of a sheet whose references have been linked."""
    plans = Plans()
    return tuple(_rule(entry, sheet["pack"]["version"], plans) for entry in sheet["rules"])


def _rule(entry: Json, version: str, plans: Plans) -> Rule:
    def judge(place: Path, path: Path, settings: Settings) -> Answer:  # noqa: ARG001
        return _Laying(entry, path, plans).answer()

    judge.__doc__ = entry["why"]
    return Rule(
        id=entry["id"],
        word=entry["word"],
        title=entry["title"],
        judge=judge,
        each="setup",
        needs=(),
        safety=entry["safety"],
        remedy=entry["remedy"],
        bench=entry["bench"],
        source=entry["source"],
        settings={},
        examples=lambda: map(_example, entry["examples"]),
        since=entry.get("since", version),
    )


def _example(entry: Json) -> Example:
    patch, why, start = tuple(entry["patch"]), entry["why"], entry.get("start", "trainer")
    if entry["outcome"] == "fail":
        return Fails(patch, why, start, entry["at"], tuple(entry.get("says", ())), None)
    return Passes(patch, why, start, entry["outcome"])


class _Laying:
    """One rule laid against one path."""

    def __init__(self, entry: Json, path: Path, plans: Plans) -> None:
        self._entry = entry
        self._path = path
        self._plans = plans
        self._steps = Steps()

    def answer(self) -> Answer:
        try:
            return self._answer()
        except TooMuch:
            return Open(
                f"This is not checked: the rule and this setup together take more than "
                f"{MOST_STEPS:,} comparisons."
            )

    def _answer(self) -> Answer:
        when = self._when()
        if when.holds is False:
            return NOT_APPLICABLE
        if when.holds is None:
            return _open("Whether this rule applies is not known", when.unknowns)
        laid = list(self._laid("require"))
        if all(verdict.holds for _, verdict in laid):
            return PASS
        return list(self._found(laid))

    def _when(self) -> Verdict:
        """Once the document says no, the trace is not asked."""
        open_ = HOLDS
        for _, verdict in self._laid("when"):
            if verdict.holds is False:
                return verdict
            open_ = open_ if open_.holds is None else verdict
        return open_

    def _laid(self, part: str) -> Iterator[tuple[Text, Verdict]]:
        asked: dict[Kind, Schema] = self._entry.get(part, {})
        for kind in _KINDS:
            if kind in asked:
                against = text(self._path, kind)
                yield against, Judge(against, self._plans, self._steps).whole(asked[kind])

    def _found(self, laid: list[tuple[Text, Verdict]]) -> Iterator[Fail | Open]:
        """A finding for each place of the setup that is concerned, up to a bound."""
        broken = [(place, laid_on) for laid_on in laid for place in _places(*laid_on)]
        first, beyond = broken[:_MOST_TOLD], broken[_MOST_TOLD:]
        for (at, breaches), (against, _) in first:
            yield self._fail(at, breaches, against)
        if beyond:
            more = "1 more place" if len(beyond) == 1 else f"{len(beyond)} more places"
            message = f"{self._sentence}: so it is at {more}, of which this is the first."
            yield Fail(message, beyond[0][0][0])
        unknowns = [unknown for _, verdict in laid for unknown in verdict.unknowns]
        if unknowns:
            yield _open("Whether this holds is not known", unknowns)

    def _fail(self, at: str, breaches: list[Breach], against: Text) -> Fail:
        said = list(dict.fromkeys(told(breaches[:_MOST_AT_ONE], against)))
        more = len(breaches) - _MOST_AT_ONE
        rest = [f"and {more} more like it"] if more > 0 else []
        message = f"{self._sentence}: {'; '.join(said + rest)}."
        return Fail(message, at, _evidence(against, breaches[0]))

    @property
    def _sentence(self) -> str:
        return str(self._entry["message"]).rstrip(".")


def _places(against: Text, verdict: Verdict) -> Iterable[tuple[str, list[Breach]]]:
    """The breaches by the place in the setup that they are about, in order."""
    places: dict[str, list[Breach]] = {}
    for breach in verdict.breaches:
        places.setdefault(against.at(breach.way), []).append(breach)
    return places.items()


def _evidence(against: Text, breach: Breach) -> Json:
    controls = against.controls(breach.way)
    case = {} if controls is None else {"controls": controls}
    where = "place" if against.kind == "document" else "trace"
    broken = {} if breach.keyword == "false" else {breach.keyword: required(breach)}
    return {**case, where: pointer(breach.way), "value": short(breach.value), **broken}


def _open(sentence: str, unknowns: Sequence[Unknown]) -> Open:
    messages = list(dict.fromkeys(unknown.message for unknown in unknowns))
    settles = dict.fromkeys(key for unknown in unknowns for key in unknown.settles)
    more = len(messages) - _MOST_AT_ONE
    rest = [f"{more} more"] if more > 0 else []
    said = any_of([*messages[:_MOST_AT_ONE], *rest], "and")
    return Open(f"{sentence}: {said}.", tuple(settles)[:_MOST_TOLD], unknowns[0].at)
