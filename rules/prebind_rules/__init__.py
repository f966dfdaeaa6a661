"""The built-in rules: a folder a family, a file a rule, named as its id.

The core finds this package through the entry-point group `prebind`, like anyone's pack.
"""

from __future__ import annotations

from importlib import import_module
from os import scandir
from typing import TYPE_CHECKING

from prebind.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator


def prebind_rules() -> Iterator[Rule]:
    """Every rule in every family's folder; a file whose name begins with `_` is no rule."""
    for family in _names(__path__[0], folders=True):
        for name in _names(f"{__path__[0]}/{family}", folders=False):
            module = import_module(f"{__name__}.{family}.{name}")
            yield next(value for value in vars(module).values() if isinstance(value, Rule))


def _names(folder: str, *, folders: bool) -> list[str]:
    with scandir(folder) as entries:
        return sorted(
            entry.name.removesuffix(".py")
            for entry in entries
            if not entry.name.startswith("_")
            and (entry.is_dir() if folders else entry.name.endswith(".py"))
        )
