"""Under which settings a document is inspected: `prebind.toml`, the nearest one upward from it."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, NamedTuple

from prebind.inspect.settings import NAME, Settings, read
from prebind.record import evolve

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.inspect.inspector import Configuration, Inspector
    from prebind.problem import Problem


class Under(NamedTuple):
    """An inspector, and what a settings file says that is in force in it, if there is one."""

    inspector: Inspector
    settings: Settings | None = None


class Nearest:
    """Finds the settings of documents.  Each folder is looked into once, each file read once.

    `inspector` has the packs that count for all, `asked` is what the command line asks for, and
    `ground_at` whether it also says what grounds.  `only` names the one settings file that counts.
    """

    def __init__(
        self,
        inspector: Inspector,
        only: str | None = None,
        asked: Configuration | None = None,
        *,
        ground_at: bool = False,
    ) -> None:
        self._base = inspector
        self._asked = asked or inspector.configuration
        self._ground_at = ground_at
        self.plain = inspector.configured(self._asked, strict=False)
        self._found: dict[str, Under | list[Problem]] = {}
        self._only = None if only is None else self._read(only)

    def of(self, path: str) -> Under | list[Problem]:
        """What holds for a document (`-` stands in the working folder), or what is wrong there.

        The same object for the same file.
        """
        if self._only is not None:
            return self._only
        folder = os.path.dirname(os.path.abspath(path))  # noqa: PTH100, PTH120 - links stay
        passed: list[str] = []
        while folder not in self._found:
            passed.append(folder)
            file = os.path.join(folder, NAME)  # noqa: PTH118
            above = os.path.dirname(folder)  # noqa: PTH120
            if os.path.lexists(file):
                self._found[folder] = self._read(_shown(file))
            elif above == folder:
                self._found[folder] = Under(self.plain)
            else:
                folder = above
        found = self._found[folder]
        self._found.update(dict.fromkeys(passed, found))
        return found

    def of_any(self, paths: Iterable[str]) -> list[Inspector]:
        """The inspectors for some documents and folders, and the one without settings."""
        found = [self.of(f"{path}/*" if os.path.isdir(path) else path) for path in paths]  # noqa: PTH112
        return [self.plain, *(it.inspector for it in found if isinstance(it, Under))]

    def _read(self, file: str) -> Under | list[Problem]:
        found = read(file, self._base)
        if isinstance(found, list):
            return found
        settings = found.settings.without(
            ground_at=self._ground_at, leave_out=bool(self._asked.leave_out)
        )
        inspector = found.inspector
        asked = evolve(
            inspector.configuration, families=self._asked.families, leave_out=self._asked.leave_out
        )
        return Under(inspector.configured(settings.over(asked), strict=False), settings)


def _shown(file: str) -> str:
    try:
        return os.path.relpath(file)
    except ValueError:  # another drive
        return file
