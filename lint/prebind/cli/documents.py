"""What the command needs of each document, made in this process or in several."""

from __future__ import annotations

import gc
from io import StringIO
from itertools import chain, islice
from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.cli.output import spare
from prebind.cli.sources import STANDARD_INPUT, Source, entries, standard_input
from prebind.format import InSteps
from prebind.inspect.finding import Report
from prebind.inspect.inspector import to_send
from prebind.inspect.nearest import Under
from prebind.problem import Problem
from prebind.record import evolve
from prebind.report.inspection_json import relative

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Iterable, Iterator, Sequence

    from prebind.cli.cache import Cache
    from prebind.cli.processes import Lost
    from prebind.format import Run, Sheet
    from prebind.inspect.baseline import Baseline
    from prebind.inspect.inspector import Inspector
    from prebind.inspect.nearest import Nearest
    from prebind.report.timing_text import Timed

FEW = 32
"""With fewer documents than these it takes longer to start processes than they save."""

MANY = 100
"""Documents after which what outlived some of them is looked through too."""

_LOST = (
    "the process that inspected this setup {why}, so nothing of it was checked. Inspect it alone; "
    "if that does not come to its end either, leave out packs (--without-pack) until it does, and "
    "tell whoever wrote the last one"
)


class Task(NamedTuple):
    """A document to inspect, or why there is none.

    `position` counts from 1 where only a part is inspected; `data` what was on standard input.
    """

    found: Source | Problem
    position: int | None
    data: bytes | None


class Inspected(NamedTuple):
    """What the command needs of one document, or, where `document` is false, of what is around it.

    `around`: what is wrong with settings and packs in force; `read`: the files that the report is
    about; `pieces`: what each writer makes of it.
    """

    document: bool
    around: tuple[Problem, ...]
    problems: tuple[Problem, ...]
    grounds: bool
    read: tuple[str, ...]
    pieces: tuple[Any, ...]
    timed: Timed | None


class Writer:
    """A format's writer; where it crashes, the error notes which format of which pack that is.

    It travels to another process as one begun anew, to make pieces there.
    """

    def __init__(self, run: Run, name: str, sheet: Sheet) -> None:
        pack = next(
            pack for pack in run.inspector.packs if name in (it.name for it in pack.formats)
        )
        self._note = f"the report format “{name}” of {pack.label}"
        self._begun = (run, name, sheet._replace(out=StringIO()))
        self._writer: Any = self._noted(run.inspector.formats[name].begin, sheet, run)

    def __reduce__(self) -> tuple[type[Writer], tuple[Run, str, Sheet]]:
        return Writer, self._begun

    @property
    def in_steps(self) -> bool:
        return isinstance(self._writer, InSteps)

    @property
    def look(self) -> tuple[str, Sheet]:
        """What is written, and the sheet that it goes on, all but the place."""
        return self._begun[1:]

    def piece(self, report: Report) -> Any:
        """What can be made of a report beforehand: the report itself where nothing can."""
        return self._noted(self._writer.piece, report) if self.in_steps else report

    def add(self, piece: Any) -> None:
        self._noted(self._writer.add if self.in_steps else self._writer.document, piece)

    def end(self, problems: Sequence[Problem]) -> None:
        self._noted(self._writer.end, problems)

    def _noted(self, call: Callable[..., Any], *given: object) -> Any:
        try:
            return call(*given)
        except Exception as error:
            error.add_note(self._note)
            raise


class Documents:
    """Inspects documents, each under the settings nearest to it, against the earlier report."""

    def __init__(
        self,
        nearest: Nearest,
        run: Run,
        writers: Sequence[Writer],
        since: Baseline | None,
        timing: bool,
        cache: Cache | None = None,
    ) -> None:
        self._nearest = nearest
        self._run = run
        self._writers = writers
        self._since = since
        self._timing = timing
        self._cache = cache
        self._count = 0

    def inspected(
        self, paths: Iterable[str], jobs: int, taken: frozenset[str]
    ) -> Generator[Inspected]:
        """One for each document, and one for each settings file or pack that is broken.

        Raises OSError where a document stands in one of the files `taken`.
        """
        told = set(self._nearest.plain.problems)
        for inspected in self._shared_out(self._tasks(paths, taken), jobs):
            by_file: dict[str, list[Problem]] = {}
            for problem in inspected.around:
                if problem not in told:
                    told.add(problem)
                    by_file.setdefault(problem.path, []).append(problem)
            for file, its in by_file.items():
                about = Report(file, None, problems=tuple(its))
                yield self._of(about)._replace(document=False)
            yield inspected

    def _tasks(self, paths: Iterable[str], taken: frozenset[str]) -> Iterator[Task]:
        part, limit = self._run.part, self._nearest.plain.configuration.limit_bytes
        for name, found in entries(paths):
            spare(taken, [found.path])
            if part is not None and not part.has(name):
                continue
            data = standard_input(limit) if found.path == STANDARD_INPUT else None
            yield Task(found, None if part is None else part.entries, data)

    def _shared_out(self, tasks: Iterator[Task], jobs: int) -> Iterator[Inspected]:
        first = list(islice(tasks, FEW)) if jobs > 1 else []
        whole = chain(first, tasks)
        if len(first) < FEW:
            yield from map(self.inspect, whole)
            return
        from prebind.cli.processes import SECONDS, Lost, shared_out

        for task, found in shared_out(self.inspect_to_send, whole, jobs, seconds=SECONDS):
            if isinstance(found, Lost):
                yield self._lost(task, found)
            else:
                yield self._received(task, found)

    # One document

    def inspect(self, task: Task) -> Inspected:
        if isinstance(task.found, Problem):
            return self._without(task, task.found)
        under, around = self._under(task.found.path)
        cache = self._cache if task.data is None else None
        answer = cache.find(under, task.found, task.position) if cache is not None else None
        if answer is not None:
            return Inspected(True, around, (), answer.grounds, answer.read, answer.pieces, None)
        if not gc.isenabled():
            self._tidy()
        report = _report(under.inspector, task.found, task.data)
        report = evolve(report, settings=under.settings, position=task.position)
        if self._since is not None:
            report = self._since.compared(report, relative)
        inspected = self._of(report, around)
        if cache is not None:
            cache.keep(under, report, inspected.grounds, inspected.read, inspected.pieces)
        return inspected

    def _tidy(self) -> None:
        """Frees the signal path of the last document, whose parts hold each other.

        What was there before the first is never looked through, and what is there since seldom.
        """
        if self._count == 0:
            gc.freeze()
        else:
            gc.collect(1 if self._count % MANY else 2)
        self._count += 1

    def _without(self, task: Task, problem: Problem) -> Inspected:
        """Where a document could not be read, or worse."""
        return self._of(Report(problem.path, None, problems=(problem,), position=task.position))

    def _under(self, path: str) -> tuple[Under, tuple[Problem, ...]]:
        """What holds for a document, as if broken settings were not there, and what is wrong."""
        under = self._nearest.of(path)
        if isinstance(under, list):
            return Under(self._nearest.plain), tuple(under)
        common = self._nearest.plain.problems
        return under, tuple(it for it in under.inspector.problems if it not in common)

    def _of(self, report: Report, around: tuple[Problem, ...] = ()) -> Inspected:
        return Inspected(
            True,
            around,
            report.problems,
            report.grounds(self._run.ground_at, self._run.complete),
            tuple(_read(report)),
            tuple(writer.piece(report) for writer in self._writers),
            self._timed(report),
        )

    def _timed(self, report: Report) -> Timed | None:
        if not self._timing:
            return None
        from prebind.report.timing_text import timed

        return timed(report)

    # From process to process

    def inspect_to_send(self, task: Task) -> Inspected:
        found = self.inspect(task)
        pieces = (to_send(it) if isinstance(it, Report) else it for it in found.pieces)
        return found._replace(pieces=tuple(pieces))

    def _received(self, task: Task, found: Inspected) -> Inspected:
        if not any(isinstance(it, Report) for it in found.pieces):
            return found
        inspector = self._under(task.found.path)[0].inspector
        pieces = (inspector.received(it) if isinstance(it, Report) else it for it in found.pieces)
        return found._replace(pieces=tuple(pieces))

    def _lost(self, task: Task, lost: Lost) -> Inspected:
        path = task.found.path
        found = self._without(task, Problem(path, _LOST.format(why=lost.why)))
        return found._replace(around=self._under(path)[1])


def _report(inspector: Inspector, source: Source, data: bytes | None) -> Report:
    if data is None:
        return inspector.inspect_file(source.path, source.root)
    return inspector.inspect(data, path=STANDARD_INPUT)


def _read(report: Report) -> Iterator[str]:
    """Every file that a report is about."""
    yield report.path_name
    if report.settings is not None:
        yield report.settings.file
    if report.document is not None:
        yield from (source.name for source in report.document.sources)
