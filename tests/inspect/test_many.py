"""Many documents: any executor gives the reports of one process, in order, a few at a time."""

from __future__ import annotations

from concurrent.futures import Future, ProcessPoolExecutor, ThreadPoolExecutor
from io import StringIO
from multiprocessing import get_context
from pickle import dumps, loads
from typing import TYPE_CHECKING, Any

import pytest
from tests.benchmarks.generate import write

from prebind import Configuration, Inspector
from prebind.format import Run, Sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from prebind.inspect.finding import Report

CONFIGURATION = Configuration(
    families=("throttle", "failsafe", "regions", "reversal"),
    leave_out=("failsafe/slow",),
    words={"throttle/no-cut": "notice"},
    region="eu",
    today="2026-06-01",
)
INSPECTOR = Inspector(CONFIGURATION)
FORMATS = ("json", "text", "sarif", "junit", "markdown", "html")


@pytest.fixture(scope="module")
def paths(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """Clean, faulty and broken ones, and one that is not there."""
    folder = tmp_path_factory.mktemp("many")
    return [*write(folder, 40, seed=12), folder / "nowhere.setup.json"]


def told(reports: Iterable[Report]) -> dict[str, str]:
    """What every format writes; HTML needs the signal path, SARIF the texts, JUnit the packs."""
    sheets = {name: StringIO() for name in FORMATS}
    run = Run(INSPECTOR)
    writers = [INSPECTOR.formats[name].begin(Sheet(out), run) for name, out in sheets.items()]
    problems = []
    for report in reports:
        problems += report.problems
        for writer in writers:
            writer.document(report)
    for writer in writers:
        writer.end(problems)
    return {name: out.getvalue() for name, out in sheets.items()}


@pytest.fixture(scope="module")
def expected(paths: list[Path]) -> dict[str, str]:
    return told(INSPECTOR.inspect_files(paths))


def test_threads(paths: list[Path], expected: dict[str, str]) -> None:
    with ThreadPoolExecutor(3) as pool:
        assert told(INSPECTOR.inspect_files(paths, pool, ahead=5)) == expected


def test_processes_that_begin_with_nothing(paths: list[Path], expected: dict[str, str]) -> None:
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        assert told(INSPECTOR.inspect_files(paths, executor=pool)) == expected


def test_dask_in_processes(paths: list[Path], expected: dict[str, str]) -> None:
    from distributed import Client, LocalCluster

    with (
        LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        Client(cluster) as client,
    ):
        reports = INSPECTOR.inspect_files(paths, executor=client.get_executor())
        assert told(reports) == expected


def test_an_inspector_travels_as_its_configuration() -> None:
    there = loads(dumps(INSPECTOR))
    assert there.configuration == CONFIGURATION
    assert there.not_run == INSPECTOR.not_run
    assert loads(dumps(INSPECTOR)) is there  # set up once


class Backwards:
    """An executor that does nothing until a result is asked for, then the latest first."""

    def __init__(self) -> None:
        self.most = 0
        self._calls: list[tuple[Future[Report], Callable[[], Report]]] = []

    def submit(self, call: Callable[..., Report], *given: object) -> Future[Report]:
        future = Lazy(self)
        self._calls.append((future, lambda: call(*given)))
        self.most = max(self.most, len(self._calls))
        return future

    def work(self) -> None:
        while self._calls:
            future, call = self._calls.pop()
            if future.set_running_or_notify_cancel():
                future.set_result(call())


class Lazy(Future):  # type: ignore[type-arg]
    def __init__(self, pool: Backwards) -> None:
        super().__init__()
        self._pool = pool

    def result(self, timeout: float | None = None) -> Report:
        self._pool.work()
        found: Report = super().result(timeout)
        return found


def test_the_order_is_that_of_the_paths_whatever_finishes_first(paths: list[Path]) -> None:
    reports = INSPECTOR.inspect_files(paths, Backwards(), ahead=7)  # type: ignore[arg-type]
    assert [report.path_name for report in reports] == [path.as_posix() for path in paths]


def test_no_more_are_under_way_than_asked_for(paths: list[Path]) -> None:
    taken = 0

    def counted() -> Iterator[Path]:
        nonlocal taken
        for path in paths:
            taken += 1
            yield path

    pool = Backwards()
    reports = INSPECTOR.inspect_files(counted(), pool, ahead=4)  # type: ignore[arg-type]
    for done, _ in enumerate(reports, start=1):
        assert taken - done < 4
    assert pool.most == 4
    assert taken == len(paths)


def test_who_takes_no_more_lets_the_rest_go(paths: list[Path]) -> None:
    class Kept(ThreadPoolExecutor):
        def submit(self, *given: Any, **more: Any) -> Future[Any]:
            futures.append(super().submit(*given, **more))
            return futures[-1]

    futures: list[Future[Any]] = []
    with Kept(1) as pool:
        reports = INSPECTOR.inspect_files(paths, pool, ahead=30)
        next(reports)
        reports.close()  # type: ignore[attr-defined]
    assert len(futures) == 30
    assert futures[-1].cancelled()
