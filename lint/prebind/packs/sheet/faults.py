"""What is wrong with a sheet that `sheet.schema.json` lets pass."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.document.wording import any_of, fault, nearest, place, quoted, shown
from prebind.packs.sheet.conditions import fits
from prebind.packs.sheet.language import inside, referred, roots, schemas
from prebind.packs.sheet.names import unknown

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.document.fault import Fault
    from prebind.document.wording import Path as Way

Json = dict[str, Any]

MOST_SCHEMAS = 5000
"""How many schemas a sheet may have, each reference counted with all that it leads to."""
MOST_LEVELS = 100
"""How deep they may stand within each other, references followed."""

_NEEDS = {
    "then": "if",
    "else": "if",
    "minContains": "contains",
    "maxContains": "contains",
}
_NO_PATTERN = (
    "which cannot be used: a pattern has no look-around and no back-references, and is small also "
    "with its repeats written out"
)


class Size(NamedTuple):
    schemas: int
    levels: int


def faults(sheet: Json) -> Iterator[Fault]:
    """What is wrong with its rules, then with their schemas.

    Size is looked at only where references are sound, and keys only where the size is.
    """
    yield from _rules(sheet)
    found = [*_references(sheet), *_cycles(sheet), *_conditions(sheet)]
    yield from found or [*_sizes(sheet)] or unknown(sheet)


def _rules(sheet: Json) -> Iterator[Fault]:
    """Ids that stand twice, and examples that show only one side."""
    ids: dict[str, int] = {}
    for i, rule in enumerate(sheet["rules"]):
        at: Way = ("rules", i, "id")
        first = ids.setdefault(rule["id"], i)
        if first < i:
            message = f"{place(sheet, at)} is that of entry {first + 1} too; give each its own"
            yield fault(at, message)
        at = ("rules", i, "examples")
        outcomes = {example["outcome"] for example in rule["examples"]}
        for outcome in sorted({"fail", "pass"} - outcomes):
            message = f"{place(sheet, at)} must have one whose outcome is {quoted(outcome)}; add it"
            yield fault(at, message)


# References


def _references(sheet: Json) -> Iterator[Fault]:
    defs = sheet.get("$defs", {})
    for way, schema in schemas(sheet):
        name = referred(schema)
        if name is not None and name not in defs:
            meant = nearest(name, list(defs))
            rest = f"; did you mean {quoted(meant)}?" if meant else ""
            at = (*way, "$ref")
            message = f"{place(sheet, at)} refers to {quoted(name)}, which is not in `$defs`{rest}"
            yield fault(at, message)


def _cycles(sheet: Json) -> Iterator[Fault]:
    """Names that lead back to themselves."""
    defs = sheet.get("$defs", {})
    left = _sorted(defs)[1]
    for name, targets in left.items():
        if name in _reached(targets, left):
            on = any_of(sorted(map(quoted, targets)), "and")
            message = (
                f"{quoted(name)} in `$defs` leads back to itself, through its reference to {on}; "
                "write out what is meant without it"
            )
            yield fault(("$defs", name), message, key=True)


def _sorted(defs: Json) -> tuple[list[str], dict[str, set[str]]]:
    """The names in `$defs`, each after those that it refers to; and those on or behind a cycle."""
    left = {name: _targets(schema) & defs.keys() for name, schema in defs.items()}
    order: list[str] = []
    while done := [name for name, targets in left.items() if not targets]:
        order += done
        left = {name: targets - set(done) for name, targets in left.items() if targets}
    return order, left


def _targets(schema: Any) -> set[str]:
    """The names that a schema refers to, in whatever is in it."""
    found: set[str | None] = set()
    waiting = [schema]
    while waiting:
        inner = waiting.pop()
        if isinstance(inner, dict):
            found.add(referred(inner))
            waiting += [it for _, it in inside(inner)]
    return {name for name in found if name is not None}


def _reached(start: set[str], targets: Mapping[str, set[str]]) -> set[str]:
    found: set[str] = set()
    waiting = list(start)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += targets[name]
    return found


# Conditions


def _conditions(sheet: Json) -> Iterator[Fault]:
    """Patterns that cannot be used, and keywords that ask for nothing where they stand."""
    for way, schema in schemas(sheet):
        if "pattern" in schema and not _is_pattern(schema["pattern"]):
            at = (*way, "pattern")
            yield fault(at, f"{place(sheet, at)} is {shown(schema['pattern'])}, {_NO_PATTERN}")
        for pattern in schema.get("patternProperties", ()):
            if not _is_pattern(pattern):
                at = (*way, "patternProperties")
                message = f"a key of {place(sheet, at)} is {shown(pattern)}, {_NO_PATTERN}"
                yield fault((*at, pattern), message, key=True)
        for keyword, needed in _NEEDS.items():
            if keyword in schema and needed not in schema:
                at = (*way, keyword)
                message = f"{place(sheet, at)} asks for nothing without {quoted(needed)} beside it"
                yield fault(at, message, key=True)


def _is_pattern(pattern: str) -> bool:
    try:
        fits(pattern, "")
    except ValueError:
        return False
    return True


# Size


def _sizes(sheet: Json) -> Iterator[Fault]:
    defs = sheet.get("$defs", {})
    sizes: dict[str, Size] = {}
    for name in _sorted(defs)[0]:
        sizes[name] = _size(defs[name], sizes)
    count = 0
    for way, schema, _ in roots(sheet):
        size = _size(schema, sizes)
        if size.levels > MOST_LEVELS:
            message = (
                f"{place(sheet, way)} goes more than {MOST_LEVELS} schemas deep, counting what its "
                "references lead to; nest less"
            )
            yield fault(way, message)
        if count <= MOST_SCHEMAS < count + size.schemas:
            message = (
                f"{place(sheet, way)} takes the sheet beyond {MOST_SCHEMAS:,} schemas, counting "
                "what each reference leads to; ask for less, or put rules into a second sheet"
            )
            yield fault(way, message)
        count += size.schemas


def _size(schema: Any, sizes: Mapping[str, Size]) -> Size:
    if not isinstance(schema, dict):
        return Size(1, 1)
    inner = [_size(it, sizes) for _, it in inside(schema)]
    name = referred(schema)
    if name is not None:
        inner.append(sizes[name])
    count = 1 + len(schema.get("enum", ())) + sum(size.schemas for size in inner)
    levels = 1 + max((size.levels for size in inner), default=0)
    return Size(min(count, MOST_SCHEMAS + 1), min(levels, MOST_LEVELS + 1))
