"""Installed packs: entry points of the group `prebind`, in whatever is installed.

The standard library's own look-up reads the metadata of every distribution; here only the small
`entry_points.txt` files are read, which is most of the difference between a slow and a quick start.
"""

from __future__ import annotations

import sys
from os import scandir
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

GROUP = "prebind"
OURS = "prebind"
"""The distribution whose packs come first, so that no other takes the place of their rules."""


class EntryPoint(NamedTuple):
    """`target` is what implements the hooks: a module, or `module:attribute`."""

    name: str
    target: str
    distribution: str
    version: str

    def load(self) -> object:
        """What the target names.  Raises whatever importing it raises."""
        from importlib import import_module

        module, _, attributes = self.target.partition(":")
        found: object = import_module(module)
        for attribute in filter(None, attributes.split(".")):
            found = getattr(found, attribute)
        return found


def entry_points() -> list[EntryPoint]:
    """Every entry point of the group on `sys.path`, the first of each distribution and name."""
    found: dict[tuple[str, str], EntryPoint] = {}
    for folder in sys.path:
        for entry in _in_folder(folder or "."):
            found.setdefault((entry.distribution, entry.name), entry)
    return sorted(found.values(), key=lambda e: (e.distribution != OURS, e.distribution, e.name))


def _in_folder(folder: str) -> Iterator[EntryPoint]:
    try:
        with scandir(folder) as entries:
            infos = sorted(e.path for e in entries if e.name.endswith(".dist-info"))
    except OSError:
        return
    for info in infos:
        try:
            with open(f"{info}/entry_points.txt", encoding="utf-8") as file:  # noqa: PTH123
                text = file.read()
        except (OSError, UnicodeDecodeError):
            continue
        if f"[{GROUP}]" in text:
            name, _, version = info.rpartition("/")[2][: -len(".dist-info")].partition("-")
            distribution = name.replace("_", "-")  # as a package index shows it
            for name, target in _listed(text):
                yield EntryPoint(name, target, distribution, version)


def _listed(text: str) -> Iterator[tuple[str, str]]:
    inside = False
    for line in text.splitlines():
        if line.startswith("["):
            inside = line.strip() == f"[{GROUP}]"
        elif inside and "=" in line:
            name, _, target = line.partition("=")
            yield name.strip(), target.partition("[")[0].replace(" ", "")
