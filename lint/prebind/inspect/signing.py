"""Sign-offs: how every check by hand stands, and writing them into a document's text."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from prebind.path.proofs import CHECKS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind.document.model import SignOff
    from prebind.path import Path
    from prebind.rule import Operation

State = Literal["signed off", "stale", "missing", "nothing to prove"]


class Standing(NamedTuple):
    """One check: its sign-off that counts, if there is one, and whether that still holds."""

    check: str
    state: State
    sign_off: SignOff | None


def standings(path: Path) -> list[Standing]:
    """Every check that the setup wants, then those signed off with nothing left to prove."""
    wanted = [_standing(path, check) for check in CHECKS if check in path.wanted]
    rest = [_standing(path, check) for check in CHECKS if check not in path.wanted]
    return [*wanted, *(one for one in rest if one.sign_off is not None)]


def _standing(path: Path, check: str) -> Standing:
    sign_off = path.sign_off(check)
    if check not in path.wanted:
        return Standing(check, "nothing to prove", sign_off)
    if sign_off is None:
        return Standing(check, "missing", None)
    fits = sign_off.digest == path.digest(check)
    return Standing(check, "signed off" if fits else "stale", sign_off)


def signing(path: Path, checks: Iterable[str], by: str, on: str) -> list[Operation]:
    """The JSON Patch (RFC 6902) that signs some wanted checks off, one entry a check.

    An entry that is there is changed where it stands; of several for one check the one that counts
    stays.
    """
    entries = [
        {"check": check, "by": by, "on": on, "digest": path.digest(check)} for check in checks
    ]
    there = path.setup.sign_offs
    if there is None:
        return [{"op": "add", "path": "/sign_offs", "value": entries}]
    patch: list[Operation] = []
    gone: list[SignOff] = []
    for entry in entries:
        kept = path.sign_off(str(entry["check"]))
        if kept is None:
            patch.append({"op": "add", "path": "/sign_offs/-", "value": entry})
            continue
        patch += _changes(kept, entry)
        gone += [it for it in there if it.check == kept.check and it.at != kept.at]
    return patch + [{"op": "remove", "path": it.at} for it in reversed(there) if it in gone]


def _changes(kept: SignOff, entry: dict[str, str | None]) -> Iterator[Operation]:
    for key, value in entry.items():
        if getattr(kept, key) != value:
            yield {"op": "replace", "path": f"{kept.at}/{key}", "value": value}
