"""The inspector: set up once, then called for one document after another."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from attrs import field, frozen

from prebind.inspect.engine import Bound, run
from prebind.inspect.finding import Report
from prebind.inspect.packs import Pack, load
from prebind.problem import Problem
from prebind.rule import WORDS, Rule, Word

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from concurrent.futures import Executor

MEBIBYTE = 1024 * 1024


@frozen
class Configuration:
    """What an inspection may be told.

    `families` keeps only these families, `leave_out` drops rules or families; `words` and `numbers`
    replace a rule's signal word and settings, by rule id.  `limit_bytes` bounds a document's size,
    `combinations` what one fact may cost.
    """

    families: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    words: Mapping[str, Word] = field(factory=dict)
    numbers: Mapping[str, Mapping[str, Any]] = field(factory=dict)
    limit_bytes: int = 4 * MEBIBYTE
    combinations: int = 100_000


class Inspector:
    """Holds the rules of all installed packs.  Safe to keep, and to share between threads.

    Raises ValueError for a configuration that names a rule, family, word or setting that does not
    exist: a misspelt name must not leave a check out.
    """

    def __init__(self, configuration: Configuration | None = None) -> None:
        self.configuration = configuration or Configuration()
        self.packs: tuple[Pack, ...]
        self.problems: tuple[Problem, ...]
        self.packs, self.problems = load()
        self.rules: dict[str, Rule] = {rule.id: rule for pack in self.packs for rule in pack.rules}
        self._check(self.configuration)
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
        if name in known:
            return
        from difflib import get_close_matches

        near = get_close_matches(name, list(known), 1)
        hint = f"; did you mean “{near[0]}”?" if near else ""
        raise ValueError(f"“{name}” is not a {what}{hint}")

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
        ran = run(self._bound, signal_path, document.data, path)
        return Report(
            path,
            document,
            tuple(ran.findings),
            tuple(ran.problems),
            ran.outcomes,
            self.not_run,
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
