"""From bytes to wishes that can be planned with, or everything that is wrong with them."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from attrs import field, frozen

from prebind.document.positions import Place, Source, split
from prebind.plan.needs import Needs, Today, wished
from prebind.plan.wishes import structure
from prebind.problem import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.document import Document
    from prebind.document.fault import Fault
    from prebind.plan.wishes import Json, Wishes

LIMIT_BYTES = 4 * 1024 * 1024
_OUTSIDE = "is outside the folder of the wishes, from which alone setups are read"


@frozen(eq=False)
class Asked:
    """Wishes that are sound: what every model needs, and the place of each pointer."""

    path: str
    wishes: Wishes
    needs: tuple[Needs, ...]
    read_files: tuple[str, ...]
    _source: Source = field(repr=False)

    def locate(self, pointer: str) -> Place:
        """Where a wish is written; behind a `#` stands what has no place of its own."""
        return self._source.place(split(pointer.partition("#")[0]))


def read(data: bytes, *, path: str = "-", root: FilePath | None = None) -> Asked | list[Problem]:
    """The wishes in a text.

    `path` names it in messages, and its folder is where paths of setups begin; `root` is the folder
    that they may not leave, without which none are read.  Never raises on bad input.
    """
    from prebind.document.parse import Unreadable, parse_object
    from prebind.document.schema import check
    from prebind.plan.sound import faults

    try:
        plain = parse_object(data, LIMIT_BYTES)
    except Unreadable as error:
        return [Problem(path, error.message, error.line, error.column)]
    source = Source(path, data)
    found = check(plain, "wishes")
    if found:
        return [_problem(fault, source) for fault in found]
    wishes = structure(plain)
    found = faults(wishes)
    setups, problems = _setups(wishes, FilePath(path).parent, root, source)
    if found or problems:
        return [*(_problem(fault, source) for fault in found), *problems]
    return Asked(
        path,
        wishes,
        tuple(_needs(wishes, setups)),
        tuple(it.path for it in setups.values()),
        source,
    )


def _problem(fault: Fault, source: Source) -> Problem:
    place = source.place(split(fault.at), key=fault.key)
    return Problem(source.name, fault.message, place.line, place.column)


def _needs(wishes: Wishes, setups: dict[str, Document]) -> Iterator[Needs]:
    from prebind.path import Path
    from prebind.plan.observed import observed

    for i, model in enumerate(wishes.models):
        at = f"/models/{i}"
        if "setup" in model:
            yield observed(Path(setups[f"{at}/setup"].setup), at)
            continue
        known = setups.get(f"{at}/today")
        today = _today(observed(Path(known.setup))) if known is not None else None
        yield wished(model, at, wishes.receivers[model["receiver"]], today)


def _today(needs: Needs) -> Today | None:
    """The same by role: the wishes do not know what a control is called in the setup."""
    today = needs.today
    if today is None:
        return None
    controls = {job.role: today.controls[job.id] for job in needs.jobs}
    return Today(controls, today.channels, today.orders)


def _setups(
    wishes: Wishes, folder: FilePath, root: FilePath | None, source: Source
) -> tuple[dict[str, Document], list[Problem]]:
    """Every setup that the wishes name, by the pointer of its name."""
    found: dict[str, Document] = {}
    problems: list[Problem] = []
    for pointer, name in _named(wishes.models):
        opened = _open(folder / name, root)
        if isinstance(opened, str):
            place = source.place(split(pointer))
            message = f"“{name}” {opened}"
            problems.append(Problem(source.name, message, place.line, place.column))
        elif isinstance(opened, list):
            problems += opened
        else:
            found[pointer] = opened
    return found, problems


def _named(models: tuple[Json, ...]) -> Iterator[tuple[str, str]]:
    for i, model in enumerate(models):
        for key in ("setup", "today"):
            if key in model:
                yield f"/models/{i}/{key}", model[key]


def _open(file: FilePath, root: FilePath | None) -> Document | list[Problem] | str:
    from prebind.document import read as read_setup
    from prebind.document.contents import contents

    if root is None or not file.resolve().is_relative_to(root.resolve()):
        return _OUTSIDE
    try:
        data = contents(file, LIMIT_BYTES + 1)
    except OSError as error:
        return f"cannot be read: {error.strerror}"
    return read_setup(data, path=file.as_posix(), root=root)
