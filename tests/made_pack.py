"""A pack made up for a test, beside the installed ones or in their place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import prebind.inspect.inspector
from prebind.packs import Pack, Shelf, Tried, load

if TYPE_CHECKING:
    import pytest

    from prebind.rule import Rule


def with_rules(monkeypatch: pytest.MonkeyPatch, *rules: Rule, alone: bool = False) -> None:
    """Every inspector made from now on has these rules, of the pack `made-pack 2.0`."""
    made = Tried(Pack("made", "2.0", "installed", "made-pack", rules))

    def loading(*files: Any, **asked: Any) -> Shelf:
        there = [] if alone else [Tried(pack) for pack in load(*files, **asked).packs]
        return Shelf([*there, made], ())

    monkeypatch.setattr(prebind.inspect.inspector, "load", loading)
