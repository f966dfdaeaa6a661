"""Something that wants proof by hand is not signed off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    Open,
    Settings,
    fails,
    passes,
    put,
    remove,
    rule,
)
from prebind_rules.sign_offs._checks import DONE, WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example, Operation


def _proven(*checks: str) -> Operation:
    entry = {"by": "Ada Sandpiper", "on": "2026-03-01", "digest": "0" * 64}
    return put("/sign_offs", [{"check": check, **entry} for check in checks])


def _examples() -> Iterable[Example]:
    yield fails(
        _proven(*(check for check in WORDS if check != "correction-direction")),
        why="Nobody has turned the model by hand to see the stabiliser push against it.",
        at="/sign_offs",
        says=["correction-direction", "not signed off"],
    )
    yield fails(
        _proven(*(check for check in WORDS if check != "range")),
        why="Nobody has walked away from it.",
        at="/sign_offs",
        word="caution",
        says=["range"],
    )
    yield passes(
        _proven(*WORDS),
        why="Everything is signed off; whether that still holds is another question.",
    )
    yield passes(
        _proven("control-direction", "throws", "failsafe", "balance", "range"),
        remove("/receiver/stabiliser"),
        why="Without a stabiliser there is no correction, no state and no recovery to prove.",
    )
    yield passes(
        why="Whether anything was proved by hand is not recorded.",
        outcome="open",
    )


@rule(
    "sign-offs/missing",
    word="warning",
    title="A check by hand is not signed off",
    each="setup",
    needs=("receiver",),
    safety="What a setup says and what the model does are two things, and only a check by hand "
    "tells the one from the other. Do it, propeller off and model restrained, before the model "
    "flies.",
    remedy="Do the check on the model, then record it: prebind sign SETUP --check NAME --by WHO.",
    bench="Do each of these checks on the model, propeller off and model restrained; `prebind sign "
    "SETUP` lists them and says what each proves.",
    source="common practice, no source",
    examples=_examples,
)
def missing(place: Path, path: Path, settings: Settings) -> Answer:
    """What cannot be read off a setup must be seen on the model, once, by somebody.

    Which checks there are depends on the model: one without a stabiliser has no correction to
    prove.  Without the section nobody knows; with it, what it leaves out was not done.
    """
    if path.setup.sign_offs is None:
        return Open(
            f"Nothing is recorded of checks by hand; this setup wants {', '.join(path.wanted)}.",
            ("/sign_offs",),
        )
    left = [check for check in path.wanted if path.sign_off(check) is None]
    return [_fail(check) for check in left] or PASS


def _fail(check: str) -> Fail:
    return Fail(
        f"The check “{check}” is not signed off.",
        at=f"/sign_offs/{check}",
        evidence={"check": check},
        word=WORDS[check],
        remedy=f"{DONE[check]} Then: prebind sign SETUP --check {check} --by WHO.",
    )
