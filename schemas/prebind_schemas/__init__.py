"""The JSON Schemas (2020-12) of the documents that prebind reads and writes, and clean setups."""

from __future__ import annotations

from pathlib import Path

__all__ = ["schema_text", "template_text", "templates"]

_FOLDER = Path(__file__).parent


def schema_text(name: str) -> str:
    """The text of one schema as JSON.

    `setup`, `wishes`, `settings` and `sheet` are read; `inspection`, `trace`, `comparison` and
    `plan` are written.
    Raises FileNotFoundError for a name that has no schema.
    """
    return (_FOLDER / f"{name}.schema.json").read_text(encoding="utf-8")


def templates() -> list[str]:
    """The names of the clean setups, one for each kind of model."""
    names = (_FOLDER / "templates").glob("*.setup.json")
    return sorted(file.name.removesuffix(".setup.json") for file in names)


def template_text(name: str) -> str:
    """The text of one clean setup, as JSON.  Raises FileNotFoundError for an unknown name."""
    return (_FOLDER / "templates" / f"{name}.setup.json").read_text(encoding="utf-8")
