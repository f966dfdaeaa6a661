"""Packs of rules and report formats: which there are, each loaded by itself, and which count.

A pack that cannot be loaded is a problem that names it; all the others are in force.
"""

from __future__ import annotations

import os
import warnings
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from prebind.format import Format
from prebind.packs.installed import EntryPoint, entry_points
from prebind.problem import Problem
from prebind.record import Record, evolve, record
from prebind.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from types import ModuleType

    Handed = tuple[tuple[Rule, ...], tuple[Format, ...], tuple[str, ...]]

__all__ = ["SHEET", "Pack", "Refused", "Shelf", "load"]

SHEET = ".rules.json"
"""How the name of a rule sheet's file ends."""

Origin = Literal["installed", "sheet", "file"]
UNVERSIONED = "unversioned"
_HANDS_OVER = {"prebind_rules": (Rule, "rule"), "prebind_report_formats": (Format, "report format")}


@record
class Pack:
    """A pack: where it came from, and what it hands over.

    `where` is the distribution of an installed one, else the file as it was named.  `notes` are of
    no consequence yet: hooks used in a way that is to go.
    """

    name: str
    version: str
    origin: Origin
    where: str
    rules: tuple[Rule, ...] = ()
    formats: tuple[Format, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """What findings and problems call it: its distribution, or its own name; the version."""
        return f"{self.where if self.origin == 'installed' else self.name} {self.version}"


@record
class Refused(Record):
    """A pack that was found and is not in force, because that was asked for."""

    name: str
    version: str
    origin: Origin
    where: str


class Tried(NamedTuple):
    """A pack that was found, and what is wrong with it if it could not be loaded."""

    pack: Pack
    problems: tuple[Problem, ...] = ()


class Shelf:
    """The packs in force.

    Where two have a rule of one id, or a report format of one name, the first keeps it, prebind's
    own before all others, and a problem names both.
    """

    def __init__(self, tried: Iterable[Tried], without: Iterable[str]) -> None:
        self._tried = tuple(tried)
        self._without = frozenset(without)
        packs: list[Pack] = []
        refused: list[Refused] = []
        problems: list[Problem] = []
        rules: dict[str, str] = {}
        formats: dict[str, str] = {}
        for pack, wrong in self._tried:
            if self._without & {pack.name, pack.where}:
                refused.append(Refused(pack.name, pack.version, pack.origin, pack.where))
            elif wrong:
                problems += wrong
            else:
                own_rules, twice = _own(pack, "rule", _by_name(pack.rules, "id"), rules)
                own_formats, more = _own(
                    pack, "report format", _by_name(pack.formats, "name"), formats
                )
                problems += [*twice, *more]
                packs.append(evolve(pack, rules=own_rules, formats=own_formats))
        self.packs = tuple(packs)
        self.refused = tuple(refused)
        self.problems = tuple(problems)

    def and_files(self, files: Iterable[str], *, trust: bool, without: Iterable[str]) -> Shelf:
        """Another one, with the packs of some files too; what is loaded already stays loaded."""
        without = self._without | frozenset(without)
        there = {pack.where for pack, _ in self._tried}
        more = [_from_file(file, trust, without) for file in files if file not in there]
        return Shelf((*self._tried, *more), without)


def load(files: Iterable[str] = (), *, trust: bool = False, without: Iterable[str] = ()) -> Shelf:
    """Every installed pack, then those of some files, each loaded by itself.

    A file `*.py` is loaded only with `trust`, as that runs its code; every other file is read as a
    rule sheet.  `without` names packs, or where they come from; those are not loaded.
    """
    names = frozenset(without)
    installed = Shelf([_installed(entry, names) for entry in entry_points()], names)
    return installed.and_files(files, trust=trust, without=names)


def _installed(entry: EntryPoint, without: frozenset[str]) -> Tried:
    pack = Pack(entry.name, entry.version, "installed", entry.distribution)
    return Tried(pack) if without & {pack.name, pack.where} else _loaded(pack, entry.load)


def _from_file(file: str, trust: bool, without: frozenset[str]) -> Tried:
    """A sheet may be read before it is refused; a program may not."""
    if not file.endswith(".py"):
        return _sheet(file)
    from prebind.packs.python_file import load

    pack = Pack(_name(file, ".py"), UNVERSIONED, "file", file)
    if without & {pack.name, file}:
        return Tried(pack)
    if not trust:
        message = (
            f"this pack is a program, and was not run: --trust-packs runs it, "
            f"--without-pack {pack.name} does without it"
        )
        return Tried(pack, (Problem(file, message, pack=pack.label),))
    return _loaded(pack, lambda: load(file))


def _sheet(file: str) -> Tried:
    from prebind.document.contents import contents
    from prebind.packs.sheet import LIMIT_BYTES, read

    unread = Pack(_name(file, SHEET), UNVERSIONED, "sheet", file)
    try:
        data = contents(file, LIMIT_BYTES + 1)
    except OSError as error:
        message = f"the rule sheet cannot be read: {error.strerror}"
        return Tried(unread, (Problem(file, message, pack=unread.label),))
    found = read(file, data)
    return Tried(found) if isinstance(found, Pack) else Tried(unread, tuple(found))


def _name(file: str, ending: str) -> str:
    return file.replace(os.sep, "/").rpartition("/")[2].removesuffix(ending)


def _loaded(pack: Pack, load: Callable[[], object]) -> Tried:
    """The pack with all that it hands over; whatever goes wrong there is a problem of its own."""
    try:
        plugin = load()
        version = pack.version
        if pack.origin == "file":
            version = str(getattr(plugin, "__version__", version))
        rules, formats, notes = _handed(plugin)
        return Tried(evolve(pack, version=version, rules=rules, formats=formats, notes=notes))
    except (Exception, SystemExit) as error:
        return Tried(pack, (_unloaded(pack, error),))


def _unloaded(pack: Pack, error: BaseException) -> Problem:
    from traceback import format_exception

    place: tuple[int | None, int | None] = (None, None)
    said = " ".join(str(error).split())
    if isinstance(error, SyntaxError) and error.filename == pack.where:
        place, said = (error.lineno, error.offset), error.msg
    what = f"{type(error).__name__}: {said}" if said else type(error).__name__
    return Problem(
        pack.where,
        f"the pack “{pack.name}” cannot be loaded: {what}",
        *place,
        pack=pack.label,
        traceback="".join(format_exception(error)),
    )


def _handed(plugin: object, specifications: ModuleType | None = None, **more: object) -> Handed:
    """What a pack hands over, through the hooks that every pack implements.

    A hook without a mark takes no arguments and is called as it is, without pluggy, which takes
    longer to import than a document takes.  `more` are arguments that these specifications have
    beside today's.  Raises whatever the pack raises, TypeError for what is no rule or no format,
    and ValueError where there is nothing.
    """
    its = {name: getattr(plugin, name, None) for name in _HANDS_OVER}
    handed = {name: [hook()] for name, hook in its.items() if callable(hook) and not _marked(hook)}
    notes: tuple[str, ...] = ()
    if any(_marked(getattr(plugin, name, None)) for name in dir(plugin)):
        by_mark, notes = _through_pluggy(plugin, specifications, more)
        handed = {**by_mark, **handed}
    rules, formats = (_all(handed.get(name, ()), *what) for name, what in _HANDS_OVER.items())
    if not (rules or formats):
        raise ValueError(
            "it hands over no rule and no report format; "
            f"a hook is a function, {' or '.join(_HANDS_OVER)}"
        )
    return rules, formats, notes


def _marked(hook: object) -> bool:
    return hasattr(hook, "prebind_impl")  # where pluggy's marker for this project leaves its word


def _through_pluggy(
    plugin: object, specifications: ModuleType | None, more: Mapping[str, object]
) -> tuple[dict[str, list[Iterable[object]]], tuple[str, ...]]:
    import pluggy

    from prebind import hooks

    manager = pluggy.PluginManager(hooks.PROJECT)
    manager.add_hookspecs(specifications or hooks)
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always", DeprecationWarning)
        manager.register(plugin)
    manager.check_pending()
    given = {"hooks": hooks.HOOKS, **more}
    handed = {name: getattr(manager.hook, name)(**given) for name in _HANDS_OVER}
    return handed, tuple(dict.fromkeys(str(one.message) for one in said))


def _all(handed: Iterable[Iterable[object]], kind: type, what: str) -> tuple[Any, ...]:
    found = [it for its in handed for it in its]
    for it in found:
        if not isinstance(it, kind):
            raise TypeError(f"{it!r} is not a {what}")
    return tuple(sorted(found, key=lambda it: it.id if isinstance(it, Rule) else it.name))


def _own(
    pack: Pack, kind: str, handed: Mapping[str, list[Any]], owners: dict[str, str]
) -> tuple[tuple[Any, ...], list[Problem]]:
    """What no earlier pack has under its name, and a problem for each name that is taken."""
    kept, problems = [], []
    for name, its in handed.items():
        if name not in owners:
            kept.append(its[0])
        if name in owners or len(its) > 1:
            owner = owners.get(name, pack.label)
            message = f"the {kind} “{name}” of {pack.label} is also in {owner}; the first counts"
            rule = name if kind == "rule" else None
            problems.append(Problem(pack.where, message, rule=rule, pack=pack.label))
        owners.setdefault(name, pack.label)
    return tuple(kept), problems


def _by_name(handed: Iterable[Any], name: str) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = {}
    for it in handed:
        found.setdefault(getattr(it, name), []).append(it)
    return found
