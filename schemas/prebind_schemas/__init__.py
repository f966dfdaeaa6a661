"""The JSON Schemas (2020-12) of the documents that prebind reads and writes."""

from __future__ import annotations

from pathlib import Path

__all__ = ["schema_text"]

_FOLDER = Path(__file__).parent


def schema_text(name: str) -> str:
    """The text of one schema, `setup`, `inspection` or `trace`, as JSON.

    Raises FileNotFoundError for a name that has no schema.
    """
    return (_FOLDER / f"{name}.schema.json").read_text(encoding="utf-8")
