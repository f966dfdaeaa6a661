"""A long run by coverage: inputs that reach code which none reached before are changed further.

    pip install atheris
    PREBIND_FUZZ_MINUTES=60 python -m tests.fuzz.guided reader

The same targets, changes, bounds and folder as `python -m tests.fuzz`.
"""

from __future__ import annotations

import os
import sys
from random import Random
from time import monotonic
from typing import TYPE_CHECKING

import atheris  # type: ignore[import-not-found]

if TYPE_CHECKING:
    from tests.fuzz.__main__ import Run

MOST_BYTES = 200_000


def by_coverage(run: Run, seed: int, end: float) -> None:
    from tests.fuzz.__main__ import STUCK_SECONDS
    from tests.fuzz.targets import TARGETS

    target = TARGETS[run.name]
    mutator = target.mutator()
    corpus = run.out / f"{run.name}.corpus"
    corpus.mkdir(exist_ok=True)
    for number, data in enumerate(target.seeds()):
        (corpus / f"seed-{number:04}").write_bytes(data)

    def change(data: bytes, most: int, number: int) -> bytes:
        return mutator.mutated(bytes(data), Random(number))[:most]

    def one(data: bytes) -> None:
        if monotonic() > end:
            run.tell()
            os._exit(0)
        run.one(bytes(data))

    options = [f"-max_len={MOST_BYTES}", f"-seed={seed + 1}", f"-artifact_prefix={run.out}/"]
    # Its own clock is for what our bound on processor time cannot end; 0 would mean 1 s to it.
    options += ["-rss_limit_mb=0", f"-timeout={10 * STUCK_SECONDS}"]
    atheris.Setup([sys.argv[0], str(corpus), *options], one, custom_mutator=change)
    atheris.Fuzz()


if __name__ == "__main__":
    # Modules that are first used in the run must be counted too: the hook stays until its end.
    with atheris.instrument_imports(include=["prebind", "prebind_rules"]):
        from tests.fuzz.__main__ import main

        main(sys.argv[1:], by_coverage)
