"""Where reports go: the terminal, a pipe, or a file that is written whole or not at all."""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from errno import EEXIST
from pathlib import Path
from typing import TYPE_CHECKING

from prebind.format import Sheet

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from contextlib import ExitStack

    from prebind.cli.options import Wanted

_WIDTH = 100  # characters, where no terminal says how wide it is


def sheet_for(wanted: Wanted, stack: ExitStack, plain: bool) -> Sheet:
    """The sheet that a report goes on; `stack` closes it.

    Raises OSError where a file cannot be written.
    """
    if wanted.file is None:
        return on_output(plain)
    return stack.enter_context(whole_file(wanted.file))


def on_output(plain: bool) -> Sheet:
    """Standard output as it is: coloured and as wide as its terminal, or a pipe."""
    shown = sys.stdout.isatty()
    return Sheet(sys.stdout, width(), shown and not plain and _colours(), shown)


def width() -> int:
    """Characters on a line: as COLUMNS says, else as the terminal does."""
    said = os.environ.get("COLUMNS", "")
    if said.isascii() and said.isdigit() and int(said) > 0:
        return int(said)
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns or _WIDTH
    except (OSError, ValueError):
        return _WIDTH


def _colours() -> bool:
    """See https://no-color.org for the variable; any value that is not empty counts."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return os.name != "nt" or "WT_SESSION" in os.environ or "TERM" in os.environ


@contextmanager
def whole_file(path: str) -> Iterator[Sheet]:
    """A sheet that becomes the file at the end, and leaves nothing behind if that is not reached.

    Raises OSError where the file cannot be written.
    """
    target = Path(os.path.realpath(path))
    if target.exists() and not target.is_file():  # a device or a pipe
        with target.open("w", encoding="utf-8") as out:
            yield Sheet(out, _WIDTH)
        return
    draft = target.with_name(f"{target.name}.{os.getpid()}.part")
    try:
        out = draft.open("x", encoding="utf-8", newline="\n")
    except OSError as error:
        raise type(error)(error.errno, error.strerror, path) from None
    try:
        with out:
            yield Sheet(out, _WIDTH)
            out.flush()
            os.fsync(out.fileno())
        draft.replace(target)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise


def files_there(wanted: Iterable[Wanted]) -> frozenset[str]:
    """The files that reports would take the place of."""
    files = [one.file for one in wanted if one.file is not None]
    return frozenset(os.path.realpath(file) for file in files if Path(file).is_file())


def spare(taken: frozenset[str], read: Iterable[str]) -> None:
    """Raises OSError before a report takes the place of a file that it reports on."""
    for name in read if taken else ():
        if os.path.realpath(name) in taken:
            raise FileExistsError(
                EEXIST, "a report would take the place of a file it is about", name
            )
