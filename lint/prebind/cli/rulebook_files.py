"""Files that `prebind rulebook` writes: the pages of the rulebook, and the skeleton of a rule."""

from __future__ import annotations

import os
from contextlib import ExitStack
from errno import EEXIST
from pathlib import Path
from typing import TYPE_CHECKING

from prebind.cli.output import whole_file
from prebind.report.rulebook_markdown import WRITTEN

if TYPE_CHECKING:
    from collections.abc import Mapping

    from prebind.report.rulebook_skeleton import Skeleton


def write_pages(folder: str, pages: Mapping[str, str]) -> list[str]:
    """Writes all pages or none; the pages of an earlier time that are not among them.

    Raises OSError where a page cannot be written, or where another file stands in its place.
    """
    home = Path(folder)
    home.mkdir(parents=True, exist_ok=True)
    for name in pages:
        if (home / name).exists() and not _is_page(home / name):
            said = "this is no page of the rulebook, so nothing was written; name another folder"
            raise FileExistsError(EEXIST, said, str(home / name))
    with ExitStack() as stack:
        for name, text in pages.items():
            sheet = stack.enter_context(whole_file(str(home / name)))
            sheet.out.write(text)
            sheet.out.flush()  # what does not fit on the disk fails before any page is replaced
    return sorted(
        str(file) for file in home.glob("*.md") if file.name not in pages and _is_page(file)
    )


def _is_page(file: Path) -> bool:
    try:
        with file.open(encoding="utf-8", errors="replace") as page:
            return page.readline().rstrip("\n") == WRITTEN
    except OSError:
        return False


def write_new(skeleton: Skeleton) -> None:
    """Writes it into the working folder.  Raises OSError, also where the file is there."""
    try:
        out = open(skeleton.file, "x", encoding="utf-8", newline="\n")  # noqa: PTH123, SIM115
    except FileExistsError as error:
        said = "this file is there already, and stays as it is"
        raise FileExistsError(EEXIST, said, skeleton.file) from error
    try:
        with out:
            out.write(skeleton.text)
    except BaseException:
        os.unlink(skeleton.file)  # noqa: PTH108
        raise
