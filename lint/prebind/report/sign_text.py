"""How the checks by hand of one setup stand, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.report.telling import place
from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from prebind.format import Sheet
    from prebind.inspect.finding import Finding, Report
    from prebind.inspect.signing import Standing

PROVES = {
    "control-direction": "every control moves its surface the right way",
    "correction-direction": "the stabiliser pushes every surface against the turn",
    "throws": "every surface goes as far as it is meant to",
    "states": "every switch position selects the state that is written down",
    "recovery": "recovery comes when it is asked for, and lets go again",
    "failsafe": "motor, surfaces and modes do what they should when the link is lost",
    "balance": "the model balances where it should, ready to fly",
    "range": "the link holds at reduced power, with the motor running too",
}
"""What each check by hand proves."""

CAUTION = (
    "A sign-off says that a person proved this on the model. It does not say that the model is "
    "safe to fly: a person decides. Propeller off and model restrained for every check that does "
    "not need it running. The law where you fly, the site's rules, the makers' instructions and an "
    "experienced instructor come first."
)

_COLOURS = {"signed off": "32", "stale": "31", "missing": "31"}


def title(report: Report, sheet: Sheet) -> str:
    assert report.setup is not None
    text = f"“{clean(report.setup.model.name)}”, {clean(report.path_name)}"
    return f"{text}\n{'=' * min(len(text), sheet.width)}\n\n"


def standings_text(standings: Sequence[Standing], path: str, sheet: Sheet) -> Iterator[str]:
    """A check a paragraph: how it stands, by whom and when, what it proves.  Then what to do."""
    checks = max(len(one.check) for one in standings) + 2
    states = max(len(one.state) for one in standings) + 2
    for one in standings:
        state = f"{one.state:<{states}}"
        head = f"{one.check:<{checks}}{state}"
        signed = one.sign_off
        who = f"{clean(signed.by)} on {clean(signed.on)}: " if signed is not None else ""
        text = paragraph(f"{who}{PROVES[one.check]}", sheet.width, head, " " * len(head))
        colour = _COLOURS.get(one.state) if sheet.colour else None
        yield text.replace(state, f"\x1b[{colour}m{state}\x1b[0m", 1) if colour else text
    for said in (*_to_do(standings, path), CAUTION):
        yield f"\n{paragraph(said, sheet.width)}"


def _to_do(standings: Sequence[Standing], path: str) -> Iterator[str]:
    left = {one.state for one in standings}
    over = [one.check for one in standings if one.state == "nothing to prove"]
    if "stale" in left:
        yield "Stale: the setup has changed since in what was proved then. Prove it anew."
    if left & {"stale", "missing"}:
        yield (
            "Prove each on the model, then sign it off: "
            f"prebind sign {clean(path)} --check NAME --by WHO"
        )
    if over:
        yield (
            f"Nothing is left here that {' or '.join(over)} would prove: take it out of "
            "`sign_offs`."
        )


def finding_line(report: Report, found: Finding) -> str:
    """A finding in a form of the GNU coding standards, ending in a line feed."""
    at = report.place(found)
    where = "" if at is None else f"{place(at.file, at.line, at.column)}: "
    return f"{where}{found.word}: {found.rule}: {clean(found.message)}\n"
