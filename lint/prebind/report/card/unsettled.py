"""The steps that settle what the inspection left open: first on the card, each with its key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.card.steps import Step, listed, sentence
from prebind.report.telling import many

if TYPE_CHECKING:
    from collections.abc import Iterator

    from prebind.inspect.finding import Finding
    from prebind.report.card.bench import Bench

SIGN_OFFS = "/sign_offs"
_MANY = 4  # rules named one by one
_FEW = 2  # checks by hand that one key may stand for


def open_steps(bench: Bench) -> Iterator[Step]:
    """What the card could not work out, then the inspection's open findings, each key once."""
    yield from bench.unsettled
    settled = {key for step in bench.unsettled for key in step.fill}
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for found in bench.findings:
        if found.kind != "open" or found.waived is not None or _by_signing(found):
            continue
        if not found.settles or not settled.issuperset(found.settles):
            groups.setdefault(found.settles, []).append(found)
    for settles, findings in groups.items():
        sections = bool(settles) and all(key.count("/") == 1 for key in settles)
        if sections or len({found.bench for found in findings}) > _FEW:
            yield _write_down(settles, findings)
        else:
            yield from _single(bench, settles, findings)


def _by_signing(found: Finding) -> bool:
    return bool(found.settles) and all(key.startswith(SIGN_OFFS) for key in found.settles)


def _write_down(settles: tuple[str, ...], findings: list[Finding]) -> Step:
    """A whole section is missing, or what much hangs on: no check by hand makes up for it."""
    rules = list(dict.fromkeys(found.rule for found in findings))
    more = [f"{len(rules) - _MANY} more"] if len(rules) > _MANY else []
    return Step(
        findings[0].at,
        f"{sentence(findings[0].message)} Look at model and radio, write that down rightly, and "
        "make this card anew",
        fill=settles,
        note=f"Rules that wait for it: {listed([*rules[:_MANY], *more])}.",
    )


def _single(bench: Bench, settles: tuple[str, ...], findings: list[Finding]) -> Iterator[Step]:
    """A check by hand for each different one that the rules name."""
    for by_hand in dict.fromkeys(found.bench for found in findings):
        first = next(found for found in findings if found.bench == by_hand)
        yield Step(
            first.at,
            f"{sentence(first.message)} {sentence(by_hand) if by_hand else ''}".rstrip(". "),
            caution=bench.care.held,
            fill=settles,
        )


def sign_step(bench: Bench) -> Iterator[Step]:
    """What was never signed off is settled by proving it on this card, and recording that."""
    unsigned = [f for f in bench.findings if f.kind == "open" and _by_signing(f)]
    if unsigned:
        yield Step(
            unsigned[0].at,
            f"{many(len(bench.path.wanted), 'check')} to sign off: prove each where it is named "
            "below",
            fill=(SIGN_OFFS,),
        )
