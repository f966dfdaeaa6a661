"""What a card is made of: sections in the order of the trade, steps, and what must be seen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from attrs import frozen

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind.report.pictures.model import ModelPicture

UNSETTLED = "Left open: settle first"
"""The heading of the steps that settle what the inspection left open."""


MOTOR = "motor on port "
"""How one of several motors is called."""


@frozen
class Seen:
    """Something that must be seen.  `does` is what this setup does instead, where that differs."""

    what: str
    must: str
    does: str = ""


@frozen
class Step:
    """One thing to do, with what must then be seen.

    `at` is the JSON Pointer of what it is about.  `each` names the states in which it is done, each
    with a box of its own.  `proves` names checks of `sign_offs`, `fill` the keys to write down
    afterwards: a step that has some settles what the inspection left open.  `rules` fail here.
    `caution` is empty where nothing is handled.
    """

    at: str
    do: str
    see: tuple[Seen, ...] = ()
    caution: str = ""
    each: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    fill: tuple[str, ...] = ()
    note: str = ""
    rules: tuple[str, ...] = ()
    picture: ModelPicture | None = None

    @property
    def wrong(self) -> bool:
        """Whether what this setup does is known to differ from what must be seen."""
        return any(seen.does for seen in self.see)


@frozen
class Section:
    """`note` holds for all of its steps."""

    name: str
    steps: tuple[Step, ...]
    note: str = ""

    @property
    def proves(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(check for step in self.steps for check in step.proves))


@frozen
class Card:
    """`facts` are (name, text) of the head; `faults` says in a sentence what failed, if anything.

    `file` is the document's name in reports.
    """

    model: str
    file: str
    facts: tuple[tuple[str, str], ...]
    faults: str
    sections: tuple[Section, ...]

    @property
    def steps(self) -> tuple[Step, ...]:
        return tuple(step for section in self.sections for step in section.steps)

    @property
    def proves(self) -> tuple[str, ...]:
        """Every check of `sign_offs` that the card proves, in the order of its sections."""
        open_last = sorted(self.sections, key=lambda section: section.name == UNSETTLED)
        return tuple(dict.fromkeys(check for section in open_last for check in section.proves))


def grouped(seen: Iterable[Seen]) -> tuple[Seen, ...]:
    """Things of which the same is seen, named together."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in seen:
        found.setdefault((one.must, one.does), []).append(one.what)
    return tuple(Seen(_together(names), must, does) for (must, does), names in found.items())


def _together(names: list[str]) -> str:
    """`motors on ports 1 and 7` for those that have no other name."""
    ports = [name.removeprefix(MOTOR) for name in names if name.startswith(MOTOR)]
    if len(ports) > 1 and len(ports) == len(names):
        return f"motors on ports {listed(ports)}"
    return listed(names)


def listed(names: Iterable[str], last: str = "and") -> str:
    """`a, b and c`, each once."""
    every = list(dict.fromkeys(names))
    return f" {last} ".join(filter(None, (", ".join(every[:-1]), *every[-1:])))


def sentence(text: str) -> str:
    """With a capital letter, and one full stop."""
    shown = text.strip()
    return f"{shown[:1].upper()}{shown[1:].rstrip('.')}."
