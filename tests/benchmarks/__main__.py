"""Measures prebind beside a schema checker and the least that such work can cost.

    python -m tests.benchmarks            a quarter of an hour
    python -m tests.benchmarks --quick    a minute, to see that it works
    python -m tests.benchmarks --growth   up to 100,000 documents too

Prints a Markdown table: take the ratios, not the times.  prebind is built from this checkout, and
check-jsonschema comes from the package index, each into a temporary environment of its own.
"""

from __future__ import annotations

import os
import platform
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from tests.benchmarks.bench import Bench
from tests.benchmarks.installed import CHECKOUT, install
from tests.benchmarks.measure import told
from tests.benchmarks.table import Group, markdown

ABOUT = """\
Floor: `python -c pass`; where documents are read, jiter and jsonschema-rs in a loop.  Schema check:
check-jsonschema; warm, what it is made of.  Processor: what all processes computed; where that is
much less than the time of one process, the machine was busy, and its ratios are the better ones.
Peak: the largest process.  Half of many documents hold mistakes, so that there is something to
report; prebind writes it as JSON to a file.
"""


class Scope(NamedTuple):
    """How many documents, and how many rounds of what takes less than a second."""

    many: tuple[int, ...] = (1_000, 10_000)
    growth: tuple[int, ...] = ()
    rounds: int = 21

    def rounds_of(self, count: int) -> int:
        return min(self.rounds, 5, max(1, 30_000 // count))


QUICK = Scope(many=(200,), rounds=3)
GROWTH = (100, 1_000, 10_000, 100_000)


def _measure(bench: Bench, scope: Scope) -> list[Group]:
    bench.write_single()
    groups = [bench.cold(scope.rounds), *bench.warm(scope.rounds)]
    for count in sorted({*scope.many, *scope.growth}):
        bench.write_many(count)
        for processes in (1, 2):
            if count in scope.many:
                groups.append(bench.many(count, scope.rounds_of(count), processes))
                if processes == 1:
                    groups.append(bench.again(count, scope.rounds_of(count)))
            if count in scope.growth:
                groups.append(bench.growth(count, scope.rounds_of(count), processes))
    return groups


def _machine() -> str:
    cores = len(os.sched_getaffinity(0))
    python = f"{platform.python_implementation()} {platform.python_version()}"
    load = os.getloadavg()[1]
    return f"{platform.system()}, {cores} cores, {python}; load {load:.1f} over five minutes."


def main() -> None:
    asked = ArgumentParser(description=__doc__, formatter_class=RawDescriptionHelpFormatter)
    asked.add_argument("--quick", action="store_true")
    asked.add_argument("--growth", action="store_true")
    given = asked.parse_args()
    scope = QUICK if given.quick else Scope()
    if given.growth:
        scope = scope._replace(growth=GROWTH)
    with TemporaryDirectory() as name:
        folder = Path(name)
        told("building")
        ours = install(folder / "ours", str(CHECKOUT))
        theirs = install(folder / "theirs", "check-jsonschema")
        groups = _measure(Bench(folder, ours, theirs), scope)
    print(markdown(groups), ABOUT, _machine(), sep="\n")


if __name__ == "__main__":
    main()
