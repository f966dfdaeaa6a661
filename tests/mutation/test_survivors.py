"""The kept survivors name only what there is, and each says why it is one."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from tests.mutation.survivors import kept

ROOT = Path(__file__).parent.parent.parent


def functions(text: str) -> dict[str, str]:
    """The text of every function by its name, those of classes too, and of the whole as `-`."""
    tree = ast.parse(text)
    inside = [(f"{it.name}.", it.body) for it in tree.body if isinstance(it, ast.ClassDef)]
    return {"-": text} | {
        f"{prefix}{it.name}": ast.get_source_segment(text, it) or ""
        for prefix, body in [("", tree.body), *inside]
        for it in body
        if isinstance(it, ast.FunctionDef)
    }


@pytest.mark.parametrize("file", sorted({it.file for it in kept()}))
def test_what_survivors_name_is_there(file: str) -> None:
    there = functions((ROOT / file).read_text(encoding="utf-8"))
    for it in kept():
        if it.file == file:
            lines = {line.strip() for line in there[it.function].splitlines()}
            assert it.was in lines, f"{it.function} has no line {it.was!r}"


def test_each_is_named_once_and_has_a_reason() -> None:
    changes = [it[:4] for it in kept()]
    assert changes == sorted(set(changes))
    assert all(it.was != it.now and len(it.why) > 15 for it in kept())
