"""How long rules and packs took, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.report.telling import many
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.inspect.finding import Report

_NOTE = (
    "A fact of the signal path counts for the rule that is the first to ask for it. Reading the "
    "documents and writing the reports are not in these times."
)


class _Slowest(NamedTuple):
    seconds: float
    path: str


class Timed(NamedTuple):
    """How long each rule took over one document: its id, its pack, seconds."""

    path: str
    rules: tuple[tuple[str, str, float], ...]


def timed(report: Report) -> Timed | None:
    """None for a broken document, which no rule was run on."""
    if report.document is None:
        return None
    labels = {rule.id: pack.label for pack in report.packs for rule in pack.rules}
    its = ((rule, labels[rule], seconds) for rule, seconds in report.seconds.items())
    return Timed(report.path_name, tuple(its))


class Timing:
    """Adds up how long each rule took, document by document."""

    def __init__(self) -> None:
        self._documents = 0
        self._total: dict[str, float] = {}
        self._slowest: dict[str, _Slowest] = {}
        self._packs: dict[str, str] = {}

    def add(self, one: Timed | None) -> None:
        if one is None:
            return
        self._documents += 1
        for rule, label, seconds in one.rules:
            self._packs[rule] = label
            self._total[rule] = self._total.get(rule, 0.0) + seconds
            last = _Slowest(seconds, one.path)
            self._slowest[rule] = max(self._slowest.get(rule, last), last)

    def text(self, width: int) -> Iterator[str]:
        """A table of packs and one of rules, the slowest first; the last line says what is in it.

        Times are milliseconds: in all, for a document on average, and for the slowest one.
        """
        packs: dict[str, float] = {}
        for rule, seconds in self._total.items():
            label = self._packs[rule]
            packs[label] = packs.get(label, 0.0) + seconds
        yield f"Time in ms over {many(self._documents, 'document')}:\n"
        yield f"{'in all':>10} {'average':>9} {'slowest':>9}\n"
        for label, seconds in sorted(packs.items(), key=lambda it: -it[1]):
            yield f"{self._times(seconds)} {'':>9}  all rules of {clean(label)}\n"
        for rule, seconds in sorted(self._total.items(), key=lambda it: -it[1]):
            slowest, path = self._slowest[rule]
            where = f"  {clean(path)}" if self._documents > 1 else ""
            yield f"{self._times(seconds)} {slowest * 1000:>9.3f}  {clean(rule)}{where}\n"
        yield paragraph(_NOTE, width)

    def _times(self, seconds: float) -> str:
        return f"{seconds * 1000:>10.3f} {seconds * 1000 / self._documents:>9.3f}"
