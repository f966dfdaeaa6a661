"""A setup as git has it, with its shared parts: the last version that was committed.

git only hands over objects that it has: nothing that the repository configures is run, no filter,
hook or helper, and nothing is fetched.
"""

from __future__ import annotations

import os
from contextlib import contextmanager
from pathlib import Path
from posixpath import dirname, join, normpath
from typing import TYPE_CHECKING, NamedTuple

from prebind.document.parse import Unreadable, parse_object
from prebind.document.parts import SECTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

REVISION = "HEAD"

_QUIET = tuple(
    part
    for setting in ("core.fsmonitor=false", f"core.hooksPath={os.devnull}", "protocol.allow=never")
    for part in ("-c", setting)
)
_ABOUT_A_REPOSITORY = (
    "GIT_DIR",
    "GIT_WORK_TREE",
    "GIT_INDEX_FILE",
    "GIT_PREFIX",
    "GIT_COMMON_DIR",
    "GIT_NAMESPACE",
    "GIT_OBJECT_DIRECTORY",
    "GIT_ALTERNATE_OBJECT_DIRECTORIES",
)
"""What a hook of another repository would have us take for this one's."""

_LINK = b"120000"
_LINKS = 8  # that lead from one to the next


class NotCommitted(Exception):
    """There is no committed version to be had; the message says why."""


class Committed(NamedTuple):
    """`file` is a copy of the setup, its shared parts beside it; they may not leave `root`.

    `top` stands for the top of the repository.
    """

    file: Path
    root: Path
    top: Path

    def named(self, path: str) -> str | None:
        """What a report calls a file of the committed version; None for any other."""
        if not Path(path).is_relative_to(self.top):
            return None
        return f"{REVISION}:{Path(path).relative_to(self.top).as_posix()}"


@contextmanager
def committed(setup: str, root: Path, limit_bytes: int) -> Iterator[Committed]:
    """The committed version of a setup, as long as it is wanted.

    `root` is the folder that its shared parts may not leave.  Raises NotCommitted.
    """
    from tempfile import TemporaryDirectory

    top, name = _place(setup)
    data = _blob(top, name, limit_bytes)
    if data is None:
        raise NotCommitted("it is not committed yet, so there is nothing to compare it with")
    with TemporaryDirectory(prefix="prebind-") as made:
        copy = Path(os.path.realpath(made))
        _write(copy / name, data)
        for part in _parts(name, data, limit_bytes):
            content = _blob(top, part, limit_bytes)
            if content is not None:
                _write(copy / part, content)
        inside = Path(os.path.realpath(root))
        kept = copy / inside.relative_to(top) if inside.is_relative_to(top) else copy
        yield Committed(copy / name, kept, copy)


def _place(setup: str) -> tuple[Path, str]:
    """The folder at the top of the repository, and the setup's path from there, with slashes."""
    folder = Path(os.path.realpath(Path(setup).parent))
    shown = _git(folder, "rev-parse", "--show-toplevel")
    top = Path(os.path.realpath(os.fsdecode(shown.removesuffix(b"\n"))))
    if not folder.is_relative_to(top):
        raise NotCommitted(f"the repository says that its files lie in {top}, where this does not")
    try:
        _git(top, "rev-parse", "--verify", f"{REVISION}^{{commit}}")
    except NotCommitted:
        raise NotCommitted("nothing is committed yet in this repository") from None
    return top, (folder / Path(setup).name).relative_to(top).as_posix()


def _parts(name: str, data: bytes, limit_bytes: int) -> Iterator[str]:
    """The paths of shared parts, from the top; what is wrong with them is for the reader to say."""
    try:
        sections = parse_object(data, limit_bytes)
    except Unreadable:
        return
    for section in SECTIONS:
        part = sections.get(section)
        wanted = part.get("from") if isinstance(part, dict) else None
        found = _from(name, wanted) if isinstance(wanted, str) else None
        if found is not None:
            yield found


def _from(name: str, wanted: str) -> str | None:
    """A path as seen from a file, from the top; None where it leads out."""
    found = normpath(join(dirname(name), wanted))
    inside = not found.startswith(("/", "..")) and not set(found) & {"\0", "\\"}
    return found if inside and found != "." else None


def _blob(top: Path, name: str, limit_bytes: int) -> bytes | None:
    """A committed file, links followed; None where there is none."""
    for _ in range(_LINKS):
        listed = _git(top, "ls-tree", "-z", "-l", REVISION, "--", name)
        mode, kind, identity, size = listed.partition(b"\t")[0].split() or [b""] * 4
        if kind != b"blob":
            return None
        if int(size) > limit_bytes:
            raise NotCommitted(f"{name}, as committed, is larger than {limit_bytes:,} bytes")
        content = _git(top, "cat-file", "blob", identity.decode("ascii"))
        if mode != _LINK:
            return content
        target = _from(name, os.fsdecode(content))
        if target is None:
            return None
        name = target
    return None


def _write(file: Path, content: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(content)


def _git(folder: Path, *arguments: str) -> bytes:
    """What git prints.  Raises NotCommitted where it does not do it."""
    from subprocess import DEVNULL, run

    environment = {key: it for key, it in os.environ.items() if key not in _ABOUT_A_REPOSITORY}
    quiet = {"LC_ALL": "C", "GIT_NO_LAZY_FETCH": "1", "GIT_OPTIONAL_LOCKS": "0"}
    command = ["git", "--literal-pathspecs", *_QUIET, "-C", str(folder), *arguments]
    try:
        done = run(
            command,
            stdin=DEVNULL,
            capture_output=True,
            env={**environment, **quiet},
            check=False,
        )
    except FileNotFoundError:
        raise NotCommitted("git is not installed here, or not found") from None
    if done.returncode:
        raise NotCommitted(_why(done.stderr.decode("utf-8", "replace")))
    return done.stdout


def _why(said: str) -> str:
    if "not a git repository" in said:
        return "it lies in no git repository, so there is no committed version"
    first = said.strip().partition("\n")[0].removeprefix("fatal: ")
    return f"git does not hand over the committed version: {first}"
