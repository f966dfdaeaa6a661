"""What every part of a card is made from: the signal path, the findings, and what stayed open."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from attrs import evolve, frozen

from prebind.path.facts import LinkageFault, NotChecked, NotKnown
from prebind.report.card.steps import sentence

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from prebind.inspect.finding import Finding
    from prebind.path import Path
    from prebind.report.card.names import Care
    from prebind.report.card.steps import Step

Part = TypeVar("Part")
Fact = TypeVar("Fact")


def known(fact: Callable[[Part], Fact], part: Part) -> Fact | None:
    """A fact of something, or None where there is none, for whatever reason."""
    try:
        return fact(part)
    except (NotKnown, NotChecked, LinkageFault):
        return None


@frozen(eq=False)
class Bench:
    """One setup on the bench.  `unsettled` gathers the steps that settle what is not known."""

    path: Path
    care: Care
    findings: tuple[Finding, ...]
    unsettled: list[Step]

    def ask(self, fact: Callable[[Part], Fact], part: Part, step: Step) -> Fact | None:
        """A fact of something; None where it is not known, which makes `step` one that settles it.

        One beyond the bound is None without a step: no key settles it.  Raises LinkageFault.
        """
        try:
            return fact(part)
        except NotKnown as reason:
            self.settle(step, reason)
        except NotChecked:
            pass
        return None

    def settle(self, step: Step, reason: NotKnown) -> None:
        """One step for each set of keys: the first says it best."""
        if all(reason.settles != asked.fill for asked in self.unsettled):
            note = f"{sentence(reason.message)} {step.note}".strip()
            self.unsettled.append(evolve(step, fill=reason.settles, note=note))

    def rules(
        self, family: str, about: Callable[[Finding], bool] = lambda _: True
    ) -> tuple[str, ...]:
        """The rules of a family that fail where `about` holds."""
        found: Iterable[Finding] = (f for f in self.findings if f.kind == "fail")
        its = (f for f in found if f.rule.partition("/")[0] == family)
        return tuple(dict.fromkeys(f.rule for f in its if about(f)))
