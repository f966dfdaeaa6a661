"""A long run: `PREBIND_FUZZ_MINUTES=60 python -m tests.fuzz document mend`, from the top folder.

Without targets: all of them, the time shared out.  What breaks something is made small and written
to the folder `PREBIND_FUZZ_FOUND` (left out: a new one for this run).  Another `PREBIND_FUZZ_SEED`
takes another way.  `python -m tests.fuzz.guided` goes by coverage.

Each target runs in a process of its own, with its memory and the time for one input bounded.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from random import Random
from time import monotonic, process_time
from traceback import print_exc

from tests.fuzz.reducing import reduced
from tests.fuzz.targets import TARGETS, Breach, heaviest, slowest

MINUTES = float(os.environ.get("PREBIND_FUZZ_MINUTES", "1"))
SEED = int(os.environ.get("PREBIND_FUZZ_SEED", "0"))
STUCK_SECONDS = 60
"""Of the processor: an input that takes longer ends the process."""

MEMORY_BYTES = 3 * 1024**3
GROWN_KIB = 96 * 1024
"""More than this for one input is a breach."""


def breach_of(name: str, data: bytes) -> tuple[str, str] | None:
    """What an input breaks: a name for it, by which two are the same, and more words."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    try:
        TARGETS[name].run(data)
    except Breach as breach:
        return breach.kind, str(breach)
    except (Exception, SystemExit) as error:
        trace = error.__traceback__
        frames = []
        while trace is not None:
            code = trace.tb_frame.f_code
            frames.append(f"{Path(code.co_filename).name}:{trace.tb_lineno} {code.co_name}")
            trace = trace.tb_next
        return f"{type(error).__name__} in {frames[-1]}", f"{error} / {' / '.join(frames[-5:])}"
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    return ("memory", f"{grown // 1024} MiB more") if grown > GROWN_KIB else None


class Run:
    """One target in this process: inputs one after another, and what came of them."""

    def __init__(self, name: str, out: Path) -> None:
        self.name = name
        self.out = out
        self._known = {file.read_text(encoding="utf-8") for file in out.glob("*.kind")}
        self._last = out / f"{name}.last"
        self._count = 0
        self._met: Counter[str] = Counter()
        self._told = 0.0

    def one(self, data: bytes) -> None:
        self._last.write_bytes(data)
        signal.setitimer(signal.ITIMER_PROF, STUCK_SECONDS)
        found = breach_of(self.name, data)
        signal.setitimer(signal.ITIMER_PROF, 0)
        self._count += 1
        if found is not None:
            self._met[found[0]] += 1
            if found[0] not in self._known:
                self._known.add(found[0])
                self._keep(data, *found)
        if monotonic() - self._told > 10:
            self.tell()

    def _keep(self, data: bytes, kind: str, words: str) -> None:
        def same(smaller: bytes) -> bool:
            found = breach_of(self.name, smaller)
            return found is not None and found[0] == kind

        number = len(list(self.out.glob("*.kind")))
        stem = self.out / f"{self.name}-{number:03}"
        stem.with_suffix(".kind").write_text(kind, encoding="utf-8")
        stem.with_suffix(".whole").write_bytes(data)
        print(f"{self.name}: {kind}\n    {words}\n    {stem}", flush=True)
        if kind != "memory":
            stem.with_suffix(".input").write_bytes(reduced(data, same))

    def tell(self) -> None:
        self._told = monotonic()
        told = {
            "inputs": self._count,
            "seconds": round(process_time(), 1),
            "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
            "slowest": {what: round(took, 3) for what, took in slowest.items()},
            "slowest rules": {
                rule: round(took, 3)
                for rule, (took, _) in sorted(heaviest.items(), key=lambda it: -it[1][0])[:8]
            },
            "breaches": dict(self._met),
        }
        (self.out / f"{self.name}.{os.getpid()}.json").write_text(
            json.dumps(told), encoding="utf-8"
        )


Way = Callable[[Run, int, float], None]
"""Runs inputs, with a seed, up to an end."""


def at_random(run: Run, seed: int, end: float) -> None:
    random = Random(f"{run.name} {seed}")
    target = TARGETS[run.name]
    seeds, mutator = target.seeds(), target.mutator()
    if seed == SEED:
        for data in seeds:
            run.one(data)
    while monotonic() < end:
        longest = [data for _, data in heaviest.values()]
        data = random.choice(longest if longest and random.random() < 0.4 else seeds)
        run.one(mutator.mutated(data, random))
    run.tell()


def child(name: str, out: Path, seed: int, end: float, way: Way) -> int:
    pid = os.fork()
    if pid:
        return os.waitpid(pid, 0)[1]
    code = 1
    try:
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        way(Run(name, out), seed, end)
        code = 0
    except BaseException:
        print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def whole(name: str, out: Path, minutes: float, way: Way) -> None:
    end, seed = monotonic() + minutes * 60, SEED
    while monotonic() < end:
        status = child(name, out, seed, end, way)
        if status == 0:
            return
        seed += 1
        why = f"ended by {signal.Signals(os.WTERMSIG(status)).name}" if status & 127 else "crashed"
        kept = out / f"{name}-{why.replace(' ', '-')}-{seed}.whole"
        kept.write_bytes((out / f"{name}.last").read_bytes())
        print(f"{name}: the process {why}\n    {kept}", flush=True)


def main(given: list[str], way: Way = at_random) -> None:
    names = given or list(TARGETS)
    out = Path(os.environ.get("PREBIND_FUZZ_FOUND") or tempfile.mkdtemp(prefix="prebind-fuzz-"))
    out.mkdir(parents=True, exist_ok=True)
    print(f"what is found goes to {out}", flush=True)
    for name in names:
        whole(name, out, MINUTES / len(names), way)
        for file in sorted(out.glob(f"{name}.*.json")):
            print(name, file.read_text(encoding="utf-8"), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
