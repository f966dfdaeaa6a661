"""A rule sheet that says as little as one may, around a schema that is to be tried."""

from __future__ import annotations

from typing import Any


def sheet(schema: Any, **more: Any) -> dict[str, Any]:
    """One rule, `club/test`: the setup must fit the schema.  `more` stands beside the rules."""
    rule = {
        "id": "club/test",
        "word": "notice",
        "title": "A title",
        "why": "Why.",
        "require": {"document": schema},
        "message": "A message",
        "safety": "Safety.",
        "remedy": "Remedy.",
        "bench": "Bench.",
        "source": "invented",
        "examples": [
            {"outcome": "fail", "why": "One.", "patch": [], "at": ""},
            {"outcome": "pass", "why": "Another.", "patch": []},
        ],
    }
    pack = {"name": "club", "version": "1"}
    return {"format": "rule-sheet/1", "pack": pack, "rules": [rule], **more}
