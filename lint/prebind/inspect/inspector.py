"""The inspector: set up once, then called for one document after another."""

from __future__ import annotations

from collections import deque
from functools import lru_cache
from pathlib import Path as FilePath
from time import strftime
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from prebind.document.contents import contents
from prebind.inspect.engine import Bound, run
from prebind.inspect.finding import Report
from prebind.inspect.settings import instead, meant
from prebind.packs import load
from prebind.packs.installed import OURS
from prebind.problem import Problem
from prebind.record import Record, evolve, field, record
from prebind.rule import WORDS, Rule, Word

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from concurrent.futures import Executor, Future

    from prebind.document import Document
    from prebind.format import Format
    from prebind.packs import Pack, Refused
    from prebind.path import Path

MEBIBYTE = 1024 * 1024


def _today() -> str:
    return strftime("%Y-%m-%d")


@record
class Configuration(Record):
    """What an inspection may be told.

    `families` keeps only these families, `leave_out` drops rules or families; `words` and `numbers`
    replace a rule's signal word and settings, by rule id.  `region` says whose published rules a
    document is reminded of that names no region itself.  `packs` are files, rule sheets or Python
    packs, the latter loaded only with `trust_packs`, as that runs their code; `without_packs` names
    packs that do not count.  `limit_bytes` bounds a document's size, `combinations` what one fact
    may cost, `rule_seconds` how long one rule may take over one document before that is a problem;
    a rule of a pack that is a program, and not prebind's own, is stopped then.  `today`, an
    ISO 8601 date, is the day on which waivers must hold; left out, the one on which the
    configuration is made.
    """

    families: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    words: Mapping[str, Word] = field(factory=dict)
    numbers: Mapping[str, Mapping[str, Any]] = field(factory=dict)
    region: Literal["us", "eu", "uk"] | None = None
    packs: tuple[str, ...] = ()
    trust_packs: bool = False
    without_packs: tuple[str, ...] = ()
    limit_bytes: int = 4 * MEBIBYTE
    combinations: int = 100_000
    rule_seconds: float = 10.0
    today: str = field(factory=_today)


class Inspector:
    """Holds the rules of all packs in force.  Safe to keep, and to share between threads.

    A pack that cannot be loaded is one of `problems`.  Raises ValueError for a configuration that
    names a rule, family, word or setting that does not exist: a misspelt name must not leave a
    check out.
    """

    def __init__(self, configuration: Configuration | None = None) -> None:
        asked = configuration or Configuration()
        self._shelf = load(asked.packs, trust=asked.trust_packs, without=asked.without_packs)
        self._configure(asked)

    def configured(self, configuration: Configuration, *, strict: bool = True) -> Inspector:
        """Another one, which loads only packs that this one has not.

        Raises ValueError as for a new one; without `strict`, `families` and `leave_out` may name
        what only other packs have.
        """
        other = Inspector.__new__(Inspector)
        other._shelf = self._shelf
        asked, have = configuration, self.configuration
        if (asked.packs, asked.without_packs) != (have.packs, have.without_packs):
            other._shelf = self._shelf.and_files(
                asked.packs, trust=asked.trust_packs, without=asked.without_packs
            )
        other._configure(configuration, strict)
        return other

    def _configure(self, configuration: Configuration, strict: bool = True) -> None:
        self.rules: dict[str, Rule] = {rule.id: rule for pack in self.packs for rule in pack.rules}
        self._check(configuration, strict)
        self.configuration = configuration
        self._bound = tuple(self._binding())
        self.not_run = tuple(sorted(self.rules.keys() - {b.rule.id for b in self._bound}))

    @property
    def packs(self) -> tuple[Pack, ...]:
        """The packs in force, prebind's own first."""
        return self._shelf.packs

    @property
    def refused(self) -> tuple[Refused, ...]:
        """The packs that were found, and do not count since that was asked for."""
        return self._shelf.refused

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is wrong with packs."""
        return self._shelf.problems

    @property
    def formats(self) -> dict[str, Format]:
        """The report formats of all packs in force, by name."""
        return {it.name: it for pack in self.packs for it in pack.formats}

    @property
    def families(self) -> frozenset[str]:
        return frozenset(rule.family for rule in self.rules.values())

    def _check(self, asked: Configuration, strict: bool) -> None:
        for name in asked.families if strict else ():
            self._known(name, self.families, "family of rules")
        for name in asked.leave_out if strict else ():
            self._known(name, self.families | self.rules.keys(), "rule or family")
        for name in (*asked.words, *asked.numbers):
            self._known(name, self.rules.keys(), "rule")
        for name, word in asked.words.items():
            self._known(word, WORDS, f"signal word for “{name}”")
        for name, numbers in asked.numbers.items():
            for key, value in numbers.items():
                self._known(key, self.rules[name].settings.keys(), f"setting of “{name}”")
                wanted = instead(self.rules[name].settings[key], value)
                if wanted:
                    raise ValueError(f"“{key}” of “{name}” must be {wanted}, not {value!r}")

    @staticmethod
    def _known(name: str, known: Iterable[str], what: str) -> None:
        if name not in known:
            raise ValueError(f"“{name}” is not a {what}{meant(name, known)}")

    def _binding(self) -> Iterator[Bound]:
        asked = self.configuration
        for pack in self.packs:
            for rule in pack.rules:
                if asked.families and rule.family not in asked.families:
                    continue
                if rule.id in asked.leave_out or rule.family in asked.leave_out:
                    continue
                numbers = {**rule.defaults(), **asked.numbers.get(rule.id, {})}
                own = {k: [*n] if isinstance(n, list) else n for k, n in numbers.items()}
                word = asked.words.get(rule.id)
                foreign = pack.origin != "sheet" and pack.where != OURS
                yield Bound(
                    rule, MappingProxyType(own), word, pack.label, asked.rule_seconds, foreign
                )

    def inspect(
        self,
        data: bytes | str | Mapping[str, Any],
        *,
        path: str = "-",
        root: FilePath | None = None,
    ) -> Report:
        """The report on one document; never raises on bad input.

        `data` is the document's bytes or text, or an already parsed mapping.  `path` is what the
        report calls it; shared parts are read from its folder, and never from outside `root`.
        """
        from prebind.document import read

        document = read(data, path=path, root=root, limit_bytes=self.configuration.limit_bytes)
        if isinstance(document, list):
            return self._broken(path, *document)
        signal_path = self._path_of(document)
        ran = run(
            self._bound,
            signal_path,
            document.data,
            path,
            known=self.rules.keys(),
            today=self.configuration.today,
        )
        return Report(
            path,
            document,
            tuple(ran.findings),
            tuple(ran.problems),
            ran.outcomes,
            self.not_run,
            tuple(ran.not_applicable),
            signal_path,
            packs=self.packs,
            seconds=ran.seconds,
        )

    def _path_of(self, document: Document) -> Path:
        from prebind.path import Path

        setup = document.setup
        if setup.region is None and self.configuration.region is not None:
            setup = evolve(setup, region=self.configuration.region)
            object.__setattr__(setup, "data", document.data)  # which `evolve` leaves behind
        return Path(setup, self.configuration.combinations)

    def _broken(self, path: str, *problems: Problem) -> Report:
        return Report(path, None, problems=problems, not_run=self.not_run, packs=self.packs)

    def inspect_file(self, path: str | FilePath, root: FilePath | None = None) -> Report:
        """The report on one file; a file that cannot be read is a problem in it."""
        file = FilePath(path)
        try:
            data = contents(file, self.configuration.limit_bytes + 1)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            problem = Problem(file.as_posix(), f"cannot be read: {reason}")
            return self._broken(file.as_posix(), problem)
        return self.inspect(data, path=file.as_posix(), root=root or file.parent)

    def inspect_files(
        self,
        paths: Iterable[str | FilePath],
        executor: Executor | None = None,
        *,
        ahead: int = 64,
    ) -> Iterator[Report]:
        """The reports in the order of the paths, whatever finishes first.

        `executor` is any `concurrent.futures` executor, of threads, processes or machines that
        read the same files under the same names; without one the files are read in turn.  No more
        than `ahead` documents are under way or waiting to be taken, so memory stays flat.  Raises
        what the executor raises, as BrokenExecutor where it lost a process.
        """
        if executor is None:
            yield from map(self.inspect_file, paths)
            return
        waiting: deque[Future[Report]] = deque()
        try:
            for path in paths:
                waiting.append(executor.submit(self._sent, path))
                if len(waiting) >= ahead:
                    yield self.received(waiting.popleft().result())
            while waiting:
                yield self.received(waiting.popleft().result())
        finally:
            for future in waiting:
                future.cancel()

    def _sent(self, path: str | FilePath) -> Report:
        return to_send(self.inspect_file(path))

    def received(self, report: Report) -> Report:
        """The whole report of one of this inspector's that was made to be sent."""
        path = self._path_of(report.document) if report.document is not None else None
        return evolve(report, path=path, packs=self.packs)

    def __reduce__(self) -> tuple[Callable[[bytes], Inspector], tuple[bytes]]:
        """Rules are functions, so an inspector travels as its configuration."""
        from pickle import dumps

        return _again, (dumps(self.configuration),)


def to_send(report: Report) -> Report:
    """A report without what is large, or made of functions, and can be made again."""
    document = report.document
    bare = evolve(document) if document is not None else None  # without what it worked out
    return evolve(report, document=bare, path=None, packs=())


@lru_cache(maxsize=16)
def _again(configuration: bytes) -> Inspector:
    """The inspector of a pickled configuration, set up once a process."""
    from pickle import loads

    asked: Configuration = loads(configuration)
    whole = Inspector(evolve(asked, families=(), leave_out=()))
    return whole.configured(asked, strict=False)
