"""Work in several processes: the order holds, and nothing is lost but what cannot be had."""

from __future__ import annotations

import os
import signal
import time
from functools import partial
from itertools import count
from typing import TYPE_CHECKING, Any, NoReturn

import pytest

from prebind.cli import processes
from prebind.cli.processes import Lost

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

METHODS = [
    pytest.param("fork", marks=pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork")),
    "spawn",
]
pytestmark = pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")


shared_out = partial(processes.shared_out, seconds=60)


def doubled(number: int) -> int:
    return 2 * number


def slow_first(number: int) -> int:
    if number == 0:
        time.sleep(0.5)
    return number


def dies(number: int) -> int:
    if number % 7 == 3:
        os._exit(9)
    if number % 7 == 5:
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def dies_once(folder: Path, number: int) -> int:
    try:
        (folder / str(number)).touch(exist_ok=False)
    except FileExistsError:
        return number
    os._exit(1)


def hangs(number: int) -> int:
    while number == 4:
        time.sleep(1)
    return number


class Odd(Exception):
    """Cannot be made from what it says, so it cannot be sent."""

    def __init__(self, one: int, other: int) -> None:
        super().__init__(f"{one} and {other}")
        self.add_note("a note")


def raises(kind: str, number: int) -> int:
    if number == 5:
        raise LookupError("five") if kind == "plain" else Odd(2, 3)
    return number


def cannot_be_sent(number: int) -> Any:
    return lambda: number


def numbers(found: Iterator[tuple[int, Any]]) -> list[tuple[int, Any]]:
    return list(found)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("tasks", [0, 1, 3, 200])
def test_results_come_in_the_order_of_the_tasks(method: str, tasks: int) -> None:
    found = shared_out(doubled, range(tasks), 3, method=method)
    assert numbers(found) == [(number, 2 * number) for number in range(tasks)]


def test_what_is_slow_holds_back_no_other_up_to_the_bound() -> None:
    """All that is allowed ahead is taken while the first is under way, and no more."""
    taken = 0

    def counted() -> Iterator[int]:
        nonlocal taken
        for taken in count(1):
            yield taken - 1

    found = shared_out(slow_first, counted(), 2)
    assert next(found) == (0, 0)
    assert taken == 2 * 16
    for number, (task, result) in enumerate(found, start=1):
        assert (task, result) == (number, number)
        assert taken <= number + 1 + 2 * 16
        if number == 300:
            break
    found.close()  # type: ignore[attr-defined]


@pytest.mark.parametrize("method", METHODS)
def test_a_task_that_kills_its_process_is_lost_and_no_other(method: str) -> None:
    found = numbers(shared_out(dies, range(22), 2, method=method))
    assert [task for task, _ in found] == list(range(22))
    for task, result in found:
        match task % 7:
            case 3:
                assert result == Lost("died (exit code 9)")
            case 5:
                assert isinstance(result, Lost)
                assert result.why.startswith(f"died (signal {int(signal.SIGKILL)}: ")
            case _:
                assert result == task


def test_a_task_whose_process_died_by_chance_is_done_again(tmp_path: Path) -> None:
    found = numbers(shared_out(partial(dies_once, tmp_path), range(9), 3))
    assert found == [(number, number) for number in range(9)]


def test_a_task_that_hangs_is_ended() -> None:
    began = time.monotonic()
    found = numbers(shared_out(hangs, range(9), 2, seconds=0.6))
    assert time.monotonic() - began < 10
    assert found[4] == (4, Lost("took longer than 0.6 s and was ended"))
    assert [it for it in found if it[0] != 4] == [(n, n) for n in range(9) if n != 4]


def test_while_this_process_itself_is_stopped_no_time_counts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As when somebody stops the run at a terminal, and lets it go on an hour later."""
    hours = count(0, 3600)
    monkeypatch.setattr(processes, "monotonic", lambda: next(hours))
    assert numbers(shared_out(slow_first, range(3), 2)) == [(0, 0), (1, 1), (2, 2)]


def test_what_the_work_raises_is_raised_in_its_turn() -> None:
    found = shared_out(partial(raises, "plain"), range(30), 3)
    assert [next(found) for _ in range(5)] == [(number, number) for number in range(5)]
    with pytest.raises(LookupError, match="five") as caught:
        next(found)
    assert "in raises" in str(caught.value.__cause__)


def test_an_error_that_cannot_be_sent_is_told_by_another() -> None:
    with pytest.raises(RuntimeError, match="Odd: 2 and 3") as caught:
        numbers(shared_out(partial(raises, "odd"), range(30), 3))
    assert caught.value.__notes__ == ["a note"]


def test_a_result_that_cannot_be_sent_is_an_error() -> None:
    with pytest.raises(Exception, match="pickle"):
        numbers(shared_out(cannot_be_sent, range(3), 2))


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def own_pid(number: int) -> int:
    time.sleep(30 if number > 1 else 0.1)
    return os.getpid()


@pytest.mark.skipif(os.name == "nt", reason="asks for processes as POSIX does")
def test_no_process_is_left_when_nobody_asks_any_more() -> None:
    found = shared_out(own_pid, range(9), 2)
    pids = {next(found)[1], next(found)[1]}
    began = time.monotonic()
    found.close()  # type: ignore[attr-defined]
    assert time.monotonic() - began < 5
    assert len(pids) == 2
    assert not any(map(alive, pids))


def stops(count: int) -> Iterator[int]:
    yield from range(count)
    raise KeyboardInterrupt


def test_an_interrupt_ends_everything() -> None:
    with pytest.raises(KeyboardInterrupt):
        numbers(shared_out(doubled, stops(5), 2))


def refuse(*_: object) -> NoReturn:
    raise BlockingIOError(11, "Resource temporarily unavailable")


def test_no_more_processes_to_be_had(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("multiprocessing.context.SpawnProcess.start", refuse)
    with pytest.raises(OSError, match="no more processes can be started"):
        numbers(shared_out(doubled, range(3), 2, method="spawn"))
