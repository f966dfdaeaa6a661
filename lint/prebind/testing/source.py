"""The pack that a test is about: loaded as an inspection loads it."""

from __future__ import annotations

import os
from types import ModuleType
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from prebind.packs import Pack
    from prebind.problem import Problem

Source = ModuleType | str | os.PathLike[str]
"""A pack: its module or the name under which it is installed, or a file's path."""

FILES = (".json", ".py")
"""How the names of files that are packs end."""


class Loaded(NamedTuple):
    """A pack, and what is wrong with what it hands over."""

    pack: Pack
    problems: tuple[Problem, ...]


def named(source: Source) -> str:
    """The name or the absolute path that stands for a pack in any process.

    Raises ValueError for a module that is no installed pack.
    """
    if isinstance(source, ModuleType):
        return _installed_as(source.__name__)
    name = os.fspath(source)
    return os.path.abspath(name) if name.endswith(FILES) else name  # noqa: PTH100


def loaded(name: str) -> Loaded:
    """The pack of a name or path.  Raises ValueError where it cannot be loaded, with the reason."""
    from prebind.packs import load

    file = name.endswith(FILES)
    shelf = load([name] if file else (), trust=True)
    places = {name} if file else {name, *_distributions(name)}
    problems = tuple(problem for problem in shelf.problems if problem.path in places)
    found = [pack for pack in shelf.packs if name in (pack.name, pack.where)]
    if len(found) == 1:
        return Loaded(found[0], problems)
    if found:
        names = ", ".join(pack.name for pack in found)
        raise ValueError(f"“{name}” has several packs: name one of {names}")
    reasons = [f"{problem.path}: {problem.message}" for problem in problems]
    raise ValueError("; ".join(reasons) or f"no pack “{name}” is installed")


def _installed_as(module: str) -> str:
    from prebind.packs.installed import entry_points

    for entry in entry_points():
        if entry.target.partition(":")[0] == module:
            return entry.name
    raise ValueError(
        f"the module {module} is no installed pack: install its distribution (an editable "
        "installation will do), or give the file's path"
    )


def _distributions(name: str) -> set[str]:
    from prebind.packs.installed import entry_points

    return {entry.distribution for entry in entry_points() if entry.name == name}
