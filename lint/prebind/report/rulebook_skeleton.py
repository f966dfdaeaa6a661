"""The skeleton of a rule, to begin one's own from: whole, with examples that come out."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

from prebind.report.wording import paragraph

if TYPE_CHECKING:
    from collections.abc import Iterator

_ID = "club/my-rule"
_NAME = "my_rule"
_FAMILY = "club"

_LONGEST = 30  # characters of a family's or a rule's name, for lines that fit a page
_PART = re.compile("[a-z0-9]+(-[a-z0-9]+)*")


class Skeleton(NamedTuple):
    """A file's name and what is in it."""

    file: str
    text: str


def wrong_with(rule: str) -> str:
    """What keeps a text from being a rule's id; empty where nothing does."""
    family, slash, name = rule.partition("/")
    for part in (family, name):
        if not slash or not _PART.fullmatch(part):
            return (
                "an id is family/name, each of small letters, digits and single hyphens, such as "
                f"{_ID}"
            )
        if len(part) > _LONGEST:
            return f"“{part}” has {len(part)} characters, more than {_LONGEST}"
    return ""


def python(rule: str) -> Skeleton:
    """A Python pack of one rule."""
    text = _read(f"{_NAME}.py")
    name = _identifier(rule.partition("/")[2], text)
    made = text.replace(_ID, rule).replace(_NAME, name)
    return Skeleton(f"{name}.py", made)


def sheet(rule: str) -> Skeleton:
    """A rule sheet of one rule."""
    family = rule.partition("/")[0]
    text = _read(f"{_FAMILY}.rules.json")
    made = text.replace(_ID, rule).replace(f'"{_FAMILY}"', f'"{family}"')
    return Skeleton(f"{family}.rules.json", made)


def _read(file: str) -> str:
    from pathlib import Path

    return (Path(__file__).parent / "skeleton" / file).read_text(encoding="utf-8")


def _identifier(name: str, text: str) -> str:
    """A name for a function and a file that hides no other: none of Python's, none in the text."""
    import builtins
    import sys

    taken = {*dir(builtins), *sys.stdlib_module_names, *_names(text)} - {_NAME}
    made = name.replace("-", "_")
    return made if made.isidentifier() and made not in taken else f"rule_{made}"


def _names(text: str) -> Iterator[str]:
    """Every name and keyword in the text of a program."""
    from io import StringIO
    from tokenize import NAME, generate_tokens

    return (it.string for it in generate_tokens(StringIO(text).readline) if it.type == NAME)


def next_steps(made: Skeleton, width: int) -> Iterator[str]:
    """What to do with the file."""
    trust = " --trust-packs" if made.file.endswith(".py") else ""
    yield paragraph(
        f"{made.file} is written: one rule, whole, with examples that come out. It looks for expo "
        "beyond a limit; make it look for what your club wants.",
        width,
    )
    steps = (
        ("Change the examples, then the rest, and try them until they come out:", "rulebook --try"),
        ("Put it in force for one inspection:", "inspect --pack"),
    )
    for text, command in steps:
        yield paragraph(text, width, "\n  ", "  ")
        yield f"      prebind {command} {made.file}{trust}\n"
    yield paragraph(
        "Put it in force for every setup below a folder, in its prebind.toml:", width, "\n  ", "  "
    )
    yield f'      packs = ["{made.file}"]\n'
    if trust:
        yield paragraph(
            "A Python file is a program: prebind runs it only with --trust-packs. Leave that off "
            "where others can change the file.",
            width,
            "\n  ",
            "  ",
        )
