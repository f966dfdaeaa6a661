"""Mutation testing of the rules and of the signal path: would a test notice a small wrong change?

    python -m tests.mutation rules
    python -m tests.mutation path --sample 400 --seed 1

It changes one thing at a time in a warm process and runs what could notice it (`trying.py`), as a
run of its own for each would take hours: the examples of the rules that the file serves, the kept
verdicts over the generated documents, and the tests that call the changed function.  `mutants.py`
says what is changed, and what is not: no texts, types, examples.  Without a mutant everything must
be green first.  A test has timed out that takes over five times its processor time and 5 s.  Of the
tests that call a function those beyond `ENOUGH` are not run, so the share is a lower bound.

`survivors.txt` keeps the survivors that no test can notice, with the reason; those are told apart.
`__init__.py` of the rules is left out, since it has run before a mutant is laid.

It needs cosmic-ray for its operators.  That brings much that is not used here, so by hand:
`pip install --no-deps cosmic-ray==8.7.0 parso==0.8.7`.  It forks, so it runs on Unix alone.
"""

from __future__ import annotations

import json
import os
import random
import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections import Counter
from math import sqrt
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, TextIO

os.environ["CI"] = "true"  # Hypothesis takes the same examples for every mutant

import pytest
from tests.mutation.mutants import function_at, mutants
from tests.mutation.survivors import Survivor, kept
from tests.mutation.trying import ROOT, RULES, Tried, Trying

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.mutation.mutants import Mutant

AREAS = {
    "rules": (RULES, ("tests/rules", "tests/test_fleet.py")),
    "path": (
        ROOT / "lint" / "prebind" / "path",
        (
            "tests/path",
            "tests/rules/test_sign_offs.py",
            "tests/cli/test_trace.py",
            "tests/report/test_trace.py",
            "tests/report/test_card.py",
            "tests/cli/test_sign.py",
        ),
    ),
}
"""What is changed, and the tests that could notice beside the kept verdicts."""


class Count:
    """Hears what came of each mutant; tells it, and keeps it as a line of JSON if asked to."""

    def __init__(self, whole: int, out: TextIO | None) -> None:
        self._whole = whole
        self._out = out
        self._known = {it[:4] for it in kept()}
        self._started = perf_counter()
        self.found: Counter[str] = Counter()
        self.left: list[Survivor] = []

    def __call__(self, tried: Tried) -> None:
        where = function_at(tried.mutant.file, tried.mutant.place)
        file = str(tried.mutant.file.relative_to(ROOT))
        change = Survivor(file, where[0] if where else "-", tried.was, tried.now, tried.by)
        what = tried.what
        if what == "survived" and change[:4] in self._known:
            what = "equivalent"
        elif what not in ("killed", "no Python"):
            self.left.append(change)
        self.found[what] += 1
        if self._out is not None:
            line = {"what": what, **change._asdict(), "place": tried.mutant.place}
            line |= {"operator": tried.mutant.operator.__name__, "seconds": tried.seconds}
            print(json.dumps(line, ensure_ascii=False), file=self._out, flush=True)
        done = self.found.total()
        if done % 100 == 0:
            took = (perf_counter() - self._started) / 60
            print(f"{done} of {self._whole}, {took:.0f} min: {self._told()}", flush=True)

    def _told(self) -> str:
        return ", ".join(f"{number} {what}" for what, number in sorted(self.found.items()))

    def tell(self, *, sampled: bool) -> None:
        killed = self.found["killed"] + self.found["timed out"]
        asked = killed + self.found["survived"] + self.found["equivalent"]
        print(
            "\n".join(f"{it.file}  {it.function}\n  - {it.was}\n  + {it.now}" for it in self.left)
        )
        print(f"{self._told()}, in {(perf_counter() - self._started) / 60:.0f} min")
        print(f"killed: {_share(killed, asked, sampled=sampled)} of all")
        rest = asked - self.found["equivalent"]
        print(f"killed: {_share(killed, rest, sampled=sampled)} of those that can be noticed")


def _share(part: int, whole: int, *, sampled: bool) -> str:
    """A share in percent, with Wilson's interval of 95 % where it stands for more."""
    if not whole:
        return "none"
    share, z = part / whole, 1.96
    told = f"{part} of {whole}, {100 * share:.1f} %"
    if not sampled:
        return told
    middle = (share + z * z / (2 * whole)) / (1 + z * z / whole)
    half = z * sqrt(share * (1 - share) / whole + (z / (2 * whole)) ** 2) / (1 + z * z / whole)
    return f"{told} ({100 * (middle - half):.1f} to {100 * (middle + half):.1f} %)"


def _wanted(home: Path, only: list[str]) -> list[Mutant]:
    files = sorted(home.rglob("*.py"))
    if only:
        files = [it for it in files if any(text in str(it.relative_to(ROOT)) for text in only)]
    return [
        it for file in files if home != RULES or file.name != "__init__.py" for it in mutants(file)
    ]


def _stands(it: Mutant) -> tuple[str, str, int, str]:
    """File, operator, column and line: they hold while other lines change."""
    line = it.file.read_text(encoding="utf-8").splitlines()[it.place[0] - 1].strip()
    return str(it.file.relative_to(ROOT)), it.operator.__name__, it.place[1], line


def _left(file: Path) -> Iterator[tuple[str, str, int, str]]:
    """Where the survivors of an earlier run stand."""
    for line in file.read_text(encoding="utf-8").splitlines():
        it = json.loads(line)
        if it["what"] not in ("killed", "no Python"):
            yield it["file"], it["operator"], it["place"][1], it["was"]


def main(given: list[str]) -> int:
    parser = ArgumentParser(
        "python -m tests.mutation", description=__doc__, formatter_class=RawDescriptionHelpFormatter
    )
    parser.add_argument("area", choices=AREAS)
    parser.add_argument("--sample", type=int, metavar="N", help="so many of them, at random")
    parser.add_argument("--seed", type=int, default=1, help="which sample")
    parser.add_argument(
        "--only", action="append", metavar="TEXT", help="files with this in their path; repeatable"
    )
    parser.add_argument(
        "--again", type=Path, metavar="FILE", help="those that FILE has as survivors"
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="a line of JSON for each")
    asked = parser.parse_args(given)
    home, tests = AREAS[asked.area]
    chosen = _wanted(home, asked.only or [])
    print(f"{len(chosen)} mutants", flush=True)
    if asked.again is not None:
        again = set(_left(asked.again))
        chosen = [it for it in chosen if _stands(it) in again]
    sampled = asked.sample is not None and asked.sample < len(chosen)
    if sampled:
        chosen = random.Random(asked.seed).sample(chosen, asked.sample)
    out = asked.out.open("w", encoding="utf-8") if asked.out is not None else None
    count = Count(len(chosen), out)
    options = ["-n0", "-s", "-p", "no:cacheprovider", "--no-header"]
    code = pytest.main(
        [*options, *(str(ROOT / it) for it in tests)], plugins=[Trying(home, chosen, count)]
    )
    if count.found.total() != len(chosen):
        print("it did not come to its end")
        return int(code) or 1
    count.tell(sampled=sampled)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
