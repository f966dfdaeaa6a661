"""The inspector: set up once, then called for one document after another."""

from __future__ import annotations

from copy import copy
from pathlib import Path as FilePath
from time import strftime
from typing import TYPE_CHECKING, Any

from attrs import field, frozen

from prebind.inspect.engine import Bound, run
from prebind.inspect.finding import Report
from prebind.inspect.packs import Pack, load
from prebind.inspect.settings import meant
from prebind.inspect.waivers import RULES as WAIVER_RULES
from prebind.problem import Problem
from prebind.rule import WORDS, Rule, Word

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from concurrent.futures import Executor

MEBIBYTE = 1024 * 1024


def _today() -> str:
    return strftime("%Y-%m-%d")


@frozen
class Configuration:
    """What an inspection may be told.

    `families` keeps only these families, `leave_out` drops rules or families; `words` and `numbers`
    replace a rule's signal word and settings, by rule id.  `limit_bytes` bounds a document's size,
    `combinations` what one fact may cost.  `today`, an ISO 8601 date, is the day on which waivers
    must hold; left out, the one on which the configuration is made.
    """

    families: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    words: Mapping[str, Word] = field(factory=dict)
    numbers: Mapping[str, Mapping[str, Any]] = field(factory=dict)
    limit_bytes: int = 4 * MEBIBYTE
    combinations: int = 100_000
    today: str = field(factory=_today)


class Inspector:
    """Holds the rules of all installed packs.  Safe to keep, and to share between threads.

    Raises ValueError for a configuration that names a rule, family, word or setting that does not
    exist: a misspelt name must not leave a check out.
    """

    def __init__(self, configuration: Configuration | None = None) -> None:
        self.packs: tuple[Pack, ...]
        self.problems: tuple[Problem, ...]
        installed, self.problems = load()
        self.packs = (*installed, _own_pack())
        self.rules: dict[str, Rule] = {rule.id: rule for pack in self.packs for rule in pack.rules}
        self._configure(configuration or Configuration())

    def configured(self, configuration: Configuration) -> Inspector:
        """Another one with the same packs.  Raises ValueError as for a new one."""
        other = copy(self)
        other._configure(configuration)
        return other

    def _configure(self, configuration: Configuration) -> None:
        self._check(configuration)
        self.configuration = configuration
        self._bound = tuple(self._binding())
        self.not_run = tuple(sorted(self.rules.keys() - {b.rule.id for b in self._bound}))

    def _check(self, asked: Configuration) -> None:
        families = {rule.family for rule in self.rules.values()}
        for name in asked.families:
            self._known(name, families, "family of rules")
        for name in asked.leave_out:
            self._known(name, families | self.rules.keys(), "rule or family")
        for name in (*asked.words, *asked.numbers):
            self._known(name, self.rules.keys(), "rule")
        for name, word in asked.words.items():
            self._known(word, WORDS, f"signal word for “{name}”")
        for name, numbers in asked.numbers.items():
            for key in numbers:
                self._known(key, self.rules[name].settings.keys(), f"setting of “{name}”")

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
                label = f"{pack.distribution} {pack.version}"
                yield Bound(rule, numbers, asked.words.get(rule.id), label)

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
        from prebind.path import Path

        document = read(data, path=path, root=root, limit_bytes=self.configuration.limit_bytes)
        if isinstance(document, list):
            return Report(path, None, problems=tuple(document), not_run=self.not_run)
        signal_path = Path(document.setup, self.configuration.combinations)
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
        )

    def inspect_file(self, path: str | FilePath, root: FilePath | None = None) -> Report:
        """The report on one file; a file that cannot be read is a problem in it."""
        file = FilePath(path)
        try:
            with file.open("rb") as stream:
                data = stream.read(self.configuration.limit_bytes + 1)
        except OSError as error:
            reason = error.strerror or type(error).__name__
            problem = Problem(file.as_posix(), f"cannot be read: {reason}")
            return Report(file.as_posix(), None, problems=(problem,), not_run=self.not_run)
        return self.inspect(data, path=file.as_posix(), root=root or file.parent)

    def inspect_files(
        self, paths: Iterable[str | FilePath], executor: Executor | None = None
    ) -> Iterator[Report]:
        """The reports in the order of the paths, whatever finishes first.

        `executor` is any `concurrent.futures` executor; without one the files are read in turn.
        """
        if executor is None:
            yield from map(self.inspect_file, paths)
        else:
            yield from executor.map(self.inspect_file, paths)


def _own_pack() -> Pack:
    from prebind import __version__

    return Pack("waivers", "prebind", __version__, WAIVER_RULES)
