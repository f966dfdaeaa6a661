"""Stopping a rule that takes too long.

In the main thread a timer of the system interrupts it, also while it waits or searches a text by a
pattern, and again and again if it swallows that.  In other threads, and where there is no such
timer or somebody else uses it, a second thread has the rule raise at its next step in Python: one
that waits must first wake, one that searches by a pattern must first have finished, and one that
swallows whatever is raised, round by round, may go on.  Neither can stop what is one long step of
the interpreter itself, as the sum of an endless count.
"""

from __future__ import annotations

import signal
import threading
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import FrameType

T = TypeVar("T")

_AGAIN_S = 0.1
"""A rule that swallows its end has so long to tidy up before it gets it again."""

_AT_ONCE_S = 0.00002
"""After that the timer goes as often as this: as soon as the rule has swallowed it, and so at last
outside of whatever does."""

_SHORTEST_S, _LONGEST_S = 0.001, 1e6


class Stopped(BaseException):
    """Raised inside a rule whose time is up.  No `except Exception` swallows it."""


def within(seconds: float, work: Callable[[], T]) -> T:
    """What the work gives; raises `Stopped` where that takes longer.

    Handlers and timers are as before when it returns or raises.
    """
    bounded = max(_SHORTEST_S, min(seconds, _LONGEST_S))
    return (_by_timer if _timer_is_free() else _by_thread)(bounded, work)


def _timer_is_free() -> bool:
    return (
        hasattr(signal, "setitimer")
        and threading.current_thread() is threading.main_thread()
        and signal.getsignal(signal.SIGALRM) is signal.SIG_DFL
        and signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)
    )


def _guarded(work: Callable[[], T]) -> T:
    """`Stopped` is raised only while this is under way, so that nobody else ever meets it."""
    return work()


def _under_way(frame: FrameType | None) -> bool:
    while frame is not None:
        if frame.f_code is _guarded.__code__:
            return True
        frame = frame.f_back
    return False


def _by_timer(seconds: float, work: Callable[[], T]) -> T:
    before = 0

    def stop(_: int, frame: FrameType | None) -> None:
        nonlocal before
        if _under_way(frame):
            if before == 1:
                signal.setitimer(signal.ITIMER_REAL, _AT_ONCE_S, _AT_ONCE_S)
            before += 1
            raise Stopped

    handler = signal.signal(signal.SIGALRM, stop)
    try:
        signal.setitimer(signal.ITIMER_REAL, seconds, _AGAIN_S)
        return _guarded(work)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, handler)


def _by_thread(seconds: float, work: Callable[[], T]) -> T:
    watch = _Watch(seconds)
    watch.start()
    try:
        try:
            return _guarded(work)
        finally:
            watch.end()
    except Stopped:
        watch.end()  # it may have come while that was going on
        raise


class _Watch(threading.Thread):
    """Looks at the clock for the thread that makes it."""

    def __init__(self, seconds: float) -> None:
        super().__init__(name="prebind watch", daemon=True)
        self._seconds = seconds
        self._watched = threading.get_ident()
        # A bare lock is let go of in one step, which `Stopped` cannot tear apart.
        self._going_on = threading.Lock()
        self._going_on.acquire()

    def run(self) -> None:
        from sys import _current_frames

        wait = self._seconds
        while not self._going_on.acquire(timeout=wait):
            if _under_way(_current_frames().get(self._watched)):
                _raise(self._watched, Stopped)
            wait = _AGAIN_S

    def end(self) -> None:
        """After this nothing is raised any more; to be called once more does no harm."""
        if self._going_on.locked():
            self._going_on.release()
        self.join()
        _raise(self._watched, None)


def _raise(thread: int, what: type[BaseException] | None) -> None:
    """Has another thread raise this at its next step; None takes back what it has not raised."""
    import ctypes

    given = None if what is None else ctypes.py_object(what)
    ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(thread), given)
