"""Runs one command, and prints its exit code, seconds, seconds of processor and peak memory.

    python -I -S stopwatch.py COMMAND ...

What the command writes to standard error, it writes to this one's.

A process of its own, and a small one, since the peak of a new process begins with that of whoever
started it.  The peak is in bytes, and that of the largest process where the command starts others.
"""

import os
import sys
from time import perf_counter

UNREAD = [(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)]
UNIT = 1 if sys.platform == "darwin" else 1024


def main() -> None:
    command = sys.argv[1:]
    started = perf_counter()
    child = os.posix_spawn(command[0], command, os.environ, file_actions=UNREAD)
    status, used = os.wait4(child, 0)[1:]
    seconds = perf_counter() - started
    code = os.waitstatus_to_exitcode(status)
    print(code, seconds, used.ru_utime + used.ru_stime, used.ru_maxrss * UNIT)


if __name__ == "__main__":
    main()
