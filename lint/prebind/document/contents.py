"""The bytes of a file that somebody names, who may mean harm: never an endless wait or read."""

from __future__ import annotations

import os
import stat
from errno import EINVAL


def contents(path: str | os.PathLike[str], at_most: int) -> bytes:
    """Its first bytes.  Raises OSError where it cannot be read, or is a pipe or a device."""
    with open(path, "rb", opener=_opened) as stream:
        if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
            raise OSError(EINVAL, "this is not an ordinary file")
        return stream.read(at_most)


def _opened(path: str, flags: int) -> int:
    """Without waiting for the other end of a pipe."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
