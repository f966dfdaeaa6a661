"""Finding rule packs: entry points of the group `prebind`, in whatever is installed.

The standard library's own look-up reads the metadata of every distribution; here only the small
`entry_points.txt` files are read, which is most of the difference between a slow and a quick start.
"""

from __future__ import annotations

import sys
from importlib import import_module
from os import scandir
from typing import TYPE_CHECKING, Any

from attrs import frozen

from prebind.problem import Problem
from prebind.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import ModuleType

GROUP = "prebind"


@frozen
class Pack:
    """An installed pack: the entry point's name, its distribution, version and rules."""

    name: str
    distribution: str
    version: str
    rules: tuple[Rule, ...]


@frozen
class EntryPoint:
    name: str
    module: str
    distribution: str
    version: str


def entry_points() -> list[EntryPoint]:
    """Every entry point of the group on `sys.path`, the first of each distribution and name."""
    found: dict[tuple[str, str], EntryPoint] = {}
    for folder in sys.path:
        for entry in _in_folder(folder or "."):
            found.setdefault((entry.distribution, entry.name), entry)
    return sorted(found.values(), key=lambda e: (e.name != "builtin", e.distribution, e.name))


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
        except OSError:
            continue
        if f"[{GROUP}]" in text:
            distribution, _, version = info.rpartition("/")[2][: -len(".dist-info")].partition("-")
            for name, module in _listed(text):
                yield EntryPoint(name, module, distribution, version)


def _listed(text: str) -> Iterator[tuple[str, str]]:
    inside = False
    for line in text.splitlines():
        if line.startswith("["):
            inside = line.strip() == f"[{GROUP}]"
        elif inside and "=" in line:
            name, _, module = line.partition("=")
            yield name.strip(), module.strip()


def load() -> tuple[tuple[Pack, ...], tuple[Problem, ...]]:
    """All packs that can be loaded, and one problem for each that cannot."""
    packs: list[Pack] = []
    problems: list[Problem] = []
    owners: dict[str, str] = {}
    for entry in entry_points():
        try:
            rules = _rules(import_module(entry.module))
        except Exception as error:
            message = f"the rule pack cannot be loaded: {type(error).__name__}: {error}"
            problems.append(Problem(entry.distribution, message, pack=_label(entry)))
            continue
        for rule in rules:
            if rule.id in owners:
                message = f"the rule “{rule.id}” is also in {owners[rule.id]}; this one is not run"
                problems.append(
                    Problem(entry.distribution, message, rule=rule.id, pack=_label(entry))
                )
        kept = tuple(rule for rule in rules if rule.id not in owners)
        owners.update({rule.id: _label(entry) for rule in kept})
        packs.append(Pack(entry.name, entry.distribution, entry.version, kept))
    return tuple(packs), tuple(problems)


def _label(entry: EntryPoint) -> str:
    return f"{entry.distribution} {entry.version}"


def _rules(module: ModuleType) -> tuple[Rule, ...]:
    """What a pack hands over, through the hook that every pack implements."""
    import pluggy

    from prebind import hooks

    manager = pluggy.PluginManager(hooks.PROJECT)
    manager.add_hookspecs(hooks)
    manager.register(module)
    handed: list[Any] = [rule for rules in manager.hook.prebind_rules() for rule in rules]
    for rule in handed:
        if not isinstance(rule, Rule):
            raise TypeError(f"{rule!r} is not a rule")
    return tuple(sorted(handed, key=lambda rule: rule.id))
