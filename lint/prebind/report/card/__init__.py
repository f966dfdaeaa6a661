"""The bench and field card of one setup: the steps that it needs and no others, in their order.

What must be seen is worked out from the signal path; what the inspection left open comes first.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from attrs import evolve

from prebind.report.card import failsafe, flaps, motors, routine, states, throws
from prebind.report.card.bench import Bench
from prebind.report.card.directions import command_steps, correction_steps
from prebind.report.card.names import care_for
from prebind.report.card.rotors import rotor_steps
from prebind.report.card.routine import make_safe
from prebind.report.card.steps import UNSETTLED, Card, Section, Seen, Step
from prebind.report.card.unsettled import open_steps, sign_step
from prebind.report.inspection_json import relative
from prebind.report.telling import many, worded

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.inspect.finding import Report
    from prebind.path import Path

__all__ = ["DEFERS", "Card", "Section", "Seen", "Step", "card"]

DEFERS = (
    "The law where you fly, the site’s rules, the makers’ instructions and an experienced "
    "instructor come first; this card replaces none of them. What must be seen is worked out from "
    "what someone wrote down. If you see anything else, stop, find out why, and begin again. A "
    "ticked card does not say that the model is safe to fly: a person decides."
)
"""At the head of every card."""

OTHER_WAY = "Then each stick the other way: every surface goes the other way."
"""Below the steps of the command direction."""


def card(report: Report) -> Card:
    """The card for an inspected document.  Raises ValueError for one that is broken."""
    path, document = report.path, report.document
    if path is None or document is None:
        raise ValueError(f"{report.path_name} is not a sound setup; there is no card for it")
    sections = tuple(_sections(report, path))
    setup = path.setup
    facts = [("Setup", relative(report.path_name)), ("Airframe", setup.model.airframe)]
    if setup.transmitter.stick_mode is not None:
        facts.append(("Stick mode", str(setup.transmitter.stick_mode)))
    if setup.receiver is not None and setup.receiver.name:
        facts.append(("Receiver", setup.receiver.name))
    facts.append(("Digest", document.digest[:12]))
    return Card(
        setup.model.name, relative(report.path_name), tuple(facts), _faults(report), sections
    )


def _faults(report: Report) -> str:
    failed = [f for f in report.findings if f.kind == "fail" and f.waived is None]
    said = []
    if failed:
        words = Counter[str](found.word for found in failed)
        rules = ", ".join(dict.fromkeys(found.rule for found in failed))
        said.append(
            f"The inspection found {many(len(failed), 'fault')} ({worded(words)}): {rules}. First "
            "set that right; the steps that it makes wrong are marked."
        )
    if report.problems:
        said.append(f"Not every rule was run: {many(len(report.problems), 'problem')}.")
    return " ".join(said)


_ORDER = (
    ("Before power", routine.before_power, ""),
    ("Range of controls", routine.range_of_controls, ""),
    ("Command direction", command_steps, OTHER_WAY),
    ("Flaps, brakes, gear", flaps.flap_steps, ""),
    ("Correction direction, by hand", correction_steps, ""),
    ("Selectors", states.state_steps, ""),
    ("Recovery", states.recovery_steps, ""),
    ("Throttle cut", motors.cut_steps, ""),
    ("Low throttle", motors.low_steps, ""),
    ("Failsafe", failsafe.failsafe_steps, ""),
    ("Throws", throws.throw_steps, throws.MEASURED),
    ("Supply", routine.supply, ""),
    ("Range check", routine.range_check, ""),
    ("At the field", routine.field, ""),
)
"""The order of the trade."""


def _sections(report: Report, path: Path) -> Iterator[Section]:
    bench = Bench(path, care_for(path), report.findings, [])
    made = ((name, tuple(make(bench)), note) for name, make, note in _ORDER)
    told = [Section(name, _wanted(path, steps), note) for name, steps, note in made if steps]
    off = tuple(make_safe(bench))
    first = _wanted(path, (*open_steps(bench), *rotor_steps(bench), *sign_step(bench)))
    if any(step.caution for step in first):
        first, off = (*off, *first), ()
    if first:
        yield Section(UNSETTLED, first)
    yield evolve(told[0], steps=(*off, *told[0].steps))
    yield from told[1:]


def _wanted(path: Path, steps: tuple[Step, ...]) -> tuple[Step, ...]:
    """The steps, of which none proves what nobody wants to have signed off."""
    return tuple(
        evolve(step, proves=tuple(check for check in step.proves if check in path.wanted))
        for step in steps
    )
