"""Putting a new text in place of a document, whole or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
from errno import EACCES, EBUSY, EXDEV
from pathlib import Path
from stat import S_IMODE

from prebind.cli.output import whole_file


def replace_text(path: str, before: bytes, after: str, root: Path) -> None:
    """Puts the text in place of the bytes that were read, in the file that a link leads to.

    Raises OSError where that cannot be done, the file lies outside `root`, or is no longer what was
    read.
    """
    target = Path(os.path.realpath(path))
    if not target.is_relative_to(os.path.realpath(root)):
        message = "the link leads out of the folder that is worked on; name the file"
        raise OSError(EXDEV, message, path)
    if not os.access(target, os.W_OK):
        raise PermissionError(EACCES, "the file is protected against writing", path)
    with whole_file(path) as sheet:
        _keep_rights(target, sheet.out.name)
        sheet.out.write(after)
        sheet.out.flush()
        os.fsync(sheet.out.fileno())  # so that hardly a moment passes after the last look
        if target.read_bytes() != before:
            raise OSError(EBUSY, "someone changed the file meanwhile; run this again", path)


def _keep_rights(target: Path, draft: str) -> None:
    there = target.stat()
    if hasattr(os, "chown"):
        with suppress(PermissionError):  # only the superuser can give a file away
            os.chown(draft, there.st_uid, there.st_gid)
    Path(draft).chmod(S_IMODE(there.st_mode))
