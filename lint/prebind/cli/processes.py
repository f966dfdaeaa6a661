"""Work shared out to processes: results in the order of the tasks, and none lost with a process.

An executor of the standard library loses all its work with one process, and cannot end one that
hangs.  Here each process has one task at a time, so it is known whose fault its end is.
"""

from __future__ import annotations

import os
import signal
import sys
from collections import deque
from contextlib import contextmanager, suppress
from itertools import count
from multiprocessing import get_context
from multiprocessing.connection import wait
from pickle import dumps, loads
from threading import active_count
from time import monotonic
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from multiprocessing.connection import Connection
    from multiprocessing.context import BaseContext

SECONDS = 60.0
"""How long one task may take.  A rule that takes ten seconds is a problem already."""

_AHEAD = 16  # results a process that may wait for a slower one before them
_TICK_S = 0.25
_TRIES = 2  # a process can also be ended by others, as when memory runs out

Task = TypeVar("Task")
Result = TypeVar("Result")


class Lost(NamedTuple):
    """What there is in place of a result: how the process that worked on it ended."""

    why: str


class _Crash(NamedTuple):
    """What the work raised; `where` is the traceback there."""

    error: Exception
    where: str


class _Given(NamedTuple, Generic[Task]):
    """A task with its place in the order, and how often it was begun."""

    number: int
    task: Task
    tries: int = 0


class _There(Exception):
    """Where in another process an error was raised."""

    def __str__(self) -> str:
        return f"\n{self.args[0]}"


def shared_out(
    work: Callable[[Task], Result],
    tasks: Iterable[Task],
    processes: int,
    *,
    seconds: float,
    method: str | None = None,
) -> Iterator[tuple[Task, Result | Lost]]:
    """Each task with its result, in the order of the tasks, a bounded number of them ahead.

    A task at which its process dies twice, or that takes longer than `seconds`, is `Lost`; what
    `work` raises is raised when its turn comes.  `work`, tasks and results can be pickled.  No
    process is left, however this ends.
    """
    pool = _Pool(work, tasks, processes, seconds, get_context(method or _method()))
    try:
        yield from pool.results()
    finally:
        pool.end()


def _method() -> str:
    """A fork is fast and finds all that is loaded; it is safe where there is nothing but this."""
    forks = hasattr(os, "fork") and sys.platform != "darwin"
    return "fork" if forks and active_count() == 1 else "spawn"


class _Pool(Generic[Task, Result]):
    def __init__(
        self,
        work: Callable[[Task], Result],
        tasks: Iterable[Task],
        processes: int,
        seconds: float,
        context: BaseContext,
    ) -> None:
        self._work = work
        self._fresh = map(_Given, count(), tasks)
        self._again: deque[_Given[Task]] = deque()
        self._most = processes
        self._seconds = seconds
        self._context: Any = context  # its types do not say that it makes processes
        self._workers: list[_Worker[Task]] = []
        self._taken = 0
        self._done: dict[int, tuple[Task, Result | Lost | _Crash]] = {}

    def results(self) -> Iterator[tuple[Task, Result | Lost]]:
        for turn in count():
            self._hand_out(turn)
            while turn not in self._done:
                if not any(worker.given for worker in self._workers):
                    return
                self._collect()
                self._hand_out(turn)
            task, result = self._done.pop(turn)
            if isinstance(result, _Crash):
                raise result.error from _There(result.where)
            yield task, result

    def end(self) -> None:
        for worker in self._workers:
            worker.kill()

    def _hand_out(self, turn: int) -> None:
        """Gives every free process a task, as far ahead of this turn as is allowed."""
        while True:
            free = next((worker for worker in self._workers if worker.given is None), None)
            if free is None and len(self._workers) == self._most:
                return
            given = self._next(turn)
            if given is None:
                return
            (free or self._start()).take(given)

    def _start(self) -> _Worker[Task]:
        try:
            self._workers.append(_Worker(self._context, self._work))
        except OSError as error:
            message = f"no more processes can be started ({error.strerror}); ask for fewer"
            raise OSError(error.errno, message, "--jobs") from None
        return self._workers[-1]

    def _next(self, turn: int) -> _Given[Task] | None:
        if self._again:
            return self._again.popleft()
        if self._taken >= turn + _AHEAD * self._most:
            return None
        given = next(self._fresh, None)
        self._taken += given is not None
        return given

    def _collect(self) -> None:
        """Waits until there is something, and takes what there is."""
        busy = {worker.pipe: worker for worker in self._workers if worker.given is not None}
        began = monotonic()
        ready = wait(list(busy), _TICK_S)
        waited = min(monotonic() - began, _TICK_S)  # not while this process itself was stopped
        for pipe, worker in busy.items():
            worker.seconds += waited
            if pipe in ready:
                self._receive(worker)
            elif worker.seconds > self._seconds:
                self._bury(worker, f"took longer than {self._seconds:g} s and was ended")

    def _receive(self, worker: _Worker[Task]) -> None:
        given = worker.given
        assert given is not None  # only busy ones are listened to
        try:
            result = worker.answer()
        except (EOFError, OSError):
            if given.tries + 1 == _TRIES:
                self._bury(worker, f"died ({worker.ended()})")
            else:
                self._again.append(given._replace(tries=given.tries + 1))
                self._dismiss(worker)
            return
        self._done[given.number] = (given.task, result)
        worker.given = None

    def _bury(self, worker: _Worker[Task], why: str) -> None:
        assert worker.given is not None
        self._done[worker.given.number] = (worker.given.task, Lost(why))
        self._dismiss(worker)

    def _dismiss(self, worker: _Worker[Task]) -> None:
        worker.kill()
        self._workers.remove(worker)


class _Worker(Generic[Task]):
    """A process, the task that it has, and how many seconds it has had it."""

    def __init__(self, context: Any, work: Callable[[Task], object]) -> None:
        self.given: _Given[Task] | None = None
        self.seconds = 0.0
        self.pipe, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(work, theirs, self.pipe), daemon=True)
        try:
            with _without_interrupts():
                self._process.start()
        finally:
            theirs.close()

    def take(self, given: _Given[Task]) -> None:
        self.given, self.seconds = given, 0.0
        with suppress(OSError):  # it is dead, which shows when its answer is awaited
            self.pipe.send_bytes(dumps(given.task))

    def answer(self) -> Any:
        """Raises EOFError or OSError where the process has ended."""
        return loads(self.pipe.recv_bytes())

    def ended(self) -> str:
        """How the process did, which has left already."""
        self._process.join(_TICK_S)
        code = self._process.exitcode
        if code is None:
            return "it closed its connection"
        if code >= 0:
            return f"exit code {code}"
        return f"signal {-code}: {signal.strsignal(-code)}"

    def kill(self) -> None:
        self._process.kill()
        self._process.join()
        self.pipe.close()


@contextmanager
def _without_interrupts() -> Iterator[None]:
    """Holds an interrupt back; a process that is started meanwhile never sees one."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


# In the other process


def _serve(work: Callable[[Any], object], pipe: Connection, theirs: Connection) -> None:
    """Answers until nobody asks any more."""
    theirs.close()  # else it would never hear that nobody asks
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where interrupts cannot be held back
    with suppress(EOFError, OSError):
        while True:
            pipe.send_bytes(_answer(work, loads(pipe.recv_bytes())))


def _answer(work: Callable[[Any], object], task: object) -> bytes:
    try:
        return dumps(work(task))
    except Exception as error:
        return _crash(error)


def _crash(error: Exception) -> bytes:
    from traceback import format_exception

    where = "".join(format_exception(error))
    try:
        told = dumps(_Crash(error, where))
        loads(told)
    except Exception:  # an error that cannot be sent
        stand_in = RuntimeError(f"{type(error).__name__}: {error}")
        for note in getattr(error, "__notes__", ()):
            stand_in.add_note(note)
        told = dumps(_Crash(stand_in, where))
    return told
