"""What was measured as one Markdown table."""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from tests.benchmarks.measure import Ran

HEAD = (
    "measured",
    "by",
    "median",
    "minimum",
    "÷ floor",
    "÷ schema check",
    "processor",
    "documents/s",
    "peak MiB",
    "runs",
)
MEBIBYTE = 1024 * 1024


class Group(NamedTuple):
    """What was measured in turn: the runs of each.

    Where they are `compared`, the floor's come first and the schema check's second.  `documents` is
    how many one run read.
    """

    measured: str
    ran: Mapping[str, Sequence[Ran]]
    documents: int = 1
    compared: bool = True


def markdown(groups: Iterable[Group]) -> str:
    rows = [HEAD, ("---", "---", *["--:"] * (len(HEAD) - 2))]
    rows += [row for group in groups for row in _rows(group)]
    return "".join(f"| {' | '.join(row)} |\n" for row in rows)


def _rows(group: Group) -> Iterator[tuple[str, ...]]:
    medians = {name: median(run.seconds for run in runs) for name, runs in group.ran.items()}
    floor, check = [*medians.values()][:2] if group.compared else (None, None)
    for name, runs in group.ran.items():
        middle = medians[name]
        peaks = [run.peak for run in runs if run.peak is not None]
        yield (
            group.measured,
            name,
            _time(middle),
            _time(min(run.seconds for run in runs)),
            _ratio(middle, floor),
            _ratio(middle, check),
            _time(median(run.processor for run in runs)),
            f"{group.documents / middle:,.0f}" if group.documents > 1 else "",
            f"{max(peaks) / MEBIBYTE:.1f}" if peaks else "",
            str(len(runs)),
        )


def _ratio(seconds: float, to: float | None) -> str:
    return "" if to is None else _digits(seconds / to)


def _time(seconds: float) -> str:
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if seconds >= size:
            return f"{_digits(seconds / size)} {unit}"
    return f"{_digits(seconds / 1e-6)} µs"


def _digits(value: float) -> str:
    """Three that count, as no run is more exact."""
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"
