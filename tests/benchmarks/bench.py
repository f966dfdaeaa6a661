"""What is measured: whole programs, one document at a time, and many documents."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks.generate import ordinary, write
from tests.benchmarks.heavy import heavy
from tests.benchmarks.installed import CHECKOUT, Environment
from tests.benchmarks.measure import Command, Ran, environment, in_turn, told
from tests.benchmarks.table import Group

SCHEMA = str(CHECKOUT / "schemas" / "prebind_schemas" / "setup.schema.json")
FLOOR = str(Path(__file__).with_name("floor.py"))
WARM = str(Path(__file__).with_name("warm.py"))
ORDINARY, HEAVY = "ordinary.setup.json", "heavy.setup.json"
UNSOUND = 123
"""What xargs ends with where a program that it called ends with 1, here for unsound documents."""


class Bench(NamedTuple):
    """The folder to work in, and the two environments."""

    folder: Path
    ours: Environment
    theirs: Environment

    def cold(self, rounds: int) -> Group:
        """Whole programs, each started for one document."""
        commands = {
            "python -c pass": Command((self.ours.program("python"), "-c", "pass")),
            "check-jsonschema": Command((*self._check(), ORDINARY)),
            "prebind inspect": Command((self.ours.program("prebind"), "inspect", ORDINARY)),
            "prebind rulebook": Command((self.ours.program("prebind"), "rulebook")),
        }
        return Group("cold, one document", in_turn(commands, rounds, self.folder, "cold"))

    def warm(self, rounds: int) -> list[Group]:
        """In a process that has read documents before."""
        told("warm")
        said = subprocess.run(
            [self.ours.program("python"), "-I", WARM, str(rounds), SCHEMA, ORDINARY, HEAVY],
            cwd=self.folder,
            env=environment(),
            stdout=subprocess.PIPE,
            check=True,
        ).stdout
        return [
            Group(
                f"warm, {document.partition('.')[0]} document",
                {way: [Ran(*took) for took in runs] for way, runs in by.items()},
            )
            for document, by in json.loads(said).items()
        ]

    def many(self, count: int, rounds: int, processes: int) -> Group:
        """All documents below a folder; what takes files one by one is called as xargs would."""
        commands = {
            "jiter + jsonschema-rs": self._xargs(
                (self.ours.program("python"), "-I", FLOOR, SCHEMA), count, processes
            ),
            "check-jsonschema": self._xargs(self._check(), count, processes, code=UNSOUND),
            "prebind inspect": self._inspect(count, processes),
        }
        what = f"{count:,} documents, {_processes(processes)}"
        ran = in_turn(commands, rounds, self.folder, what)
        self._all_reported(count)
        return Group(what, ran, count)

    def again(self, count: int, rounds: int) -> Group:
        """The same documents once more, with what an earlier run kept.

        Nothing is kept while prebind has been installed for less than a minute.
        """
        words = self._inspect(count, 1).words
        command = Command(tuple(word for word in words if word != "--no-cache"), code=2)
        what = f"{count:,} documents again, one process"
        in_turn({"prebind inspect": command}, 1, self.folder, f"{what}: what is kept")
        ran = in_turn({"prebind inspect": command}, rounds, self.folder, what)
        return Group(what, ran, count, compared=False)

    def growth(self, count: int, rounds: int, processes: int) -> Group:
        what = f"growth, {count:,} documents, {_processes(processes)}"
        commands = {"prebind inspect": self._inspect(count, processes)}
        ran = in_turn(commands, rounds, self.folder, what)
        return Group(what, ran, count, compared=False)

    def write_single(self) -> None:
        """The two documents that are measured by themselves."""
        (self.folder / ORDINARY).write_bytes(ordinary())
        (self.folder / HEAVY).write_bytes(heavy())

    def write_many(self, count: int) -> None:
        """The documents of a folder, and their names for xargs.

        An ordinary one stands for each that is not UTF-8: check-jsonschema crashes there, and all
        that come after it go unread.
        """
        told(f"writing {count:,} documents")
        paths = write(self.folder / str(count), count)
        instead = ordinary()
        for path in paths:
            try:
                path.read_bytes().decode()
            except UnicodeDecodeError:
                path.write_bytes(instead)
        names = (str(path.relative_to(self.folder)) for path in paths)
        (self.folder / f"{count}.names").write_text("\0".join(names), encoding="utf-8")

    def _check(self) -> tuple[str, ...]:
        return (self.theirs.program("check-jsonschema"), "--schemafile", SCHEMA)

    def _inspect(self, count: int, processes: int) -> Command:
        told_to = ("--report", f"json={count}.json", "--jobs", str(processes), "--no-cache")
        return Command((self.ours.program("prebind"), "inspect", str(count), *told_to), code=2)

    def _all_reported(self, count: int) -> None:
        """Who leaves documents out is quick."""
        report = (self.folder / f"{count}.json").read_bytes()
        names = (self.folder / f"{count}.names").read_bytes().split(b"\0")
        missing = set(names) - set(re.findall(rb'"path": "([^"]+)"', report))
        if missing:
            raise RuntimeError(f"{len(missing)} of {count} documents are not in the report")

    @staticmethod
    def _xargs(words: tuple[str, ...], count: int, processes: int, code: int = 0) -> Command:
        most = -(-count // processes)
        call = f'exec xargs -0 -P {processes} -n {most} "$@" <{count}.names'
        return Command(("/bin/sh", "-c", call, "xargs", *words), code)


def _processes(number: int) -> str:
    return "one process" if number == 1 else f"{number} processes"
