"""Which mutants there are of a file: small wrong changes, one at a time.

The operators are cosmic-ray's, as far as they change what is computed, and some of our own in the
same form.  Of cosmic-ray's, those are left out that crash at once on any number (bits of a float)
or that change no result (`==` to `is`, a decorator that only keeps results).

No behaviour, so never changed: texts of a rule's record, docstrings, annotations, type aliases,
`__all__`, imports, what only type checkers read, and a rule's examples, which are tests.
"""

from __future__ import annotations

import ast
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import parso
from cosmic_ray.ast import get_ast
from cosmic_ray.operators import provider
from cosmic_ray.operators.operator import Operator

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from parso.tree import NodeOrLeaf

    Place = tuple[int, int]  # line from 1, column from 0, in characters

_FAMILIES = {
    "ReplaceBinaryOperator": ("Add", "Sub", "Mul", "Div"),
    "ReplaceComparisonOperator": ("Lt", "LtE", "Gt", "GtE"),
}
"""cosmic-ray's operators that turn one sign into another, between the signs that are used here."""

_ALONE = (
    "ReplaceBinaryOperator_FloorDiv_Div",
    "ReplaceBinaryOperator_Mod_Mul",
    "ReplaceBinaryOperator_Pow_Mul",
    "ReplaceBinaryOperator_BitOr_BitAnd",
    "ReplaceBinaryOperator_BitAnd_BitOr",
    "ReplaceComparisonOperator_Eq_NotEq",
    "ReplaceComparisonOperator_NotEq_Eq",
    "ReplaceComparisonOperator_Is_IsNot",
    "ReplaceComparisonOperator_IsNot_Is",
    "ReplaceUnaryOperator_Delete_USub",
    "ReplaceUnaryOperator_Delete_Not",
    "AddNot",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceBreakWithContinue",
    "ReplaceContinueWithBreak",
    "ExceptionReplacer",
    "NumberReplacer",
    "ZeroIterationForLoop",
)

_TEXTS = ("title", "safety", "remedy", "bench", "source", "since", "why", "examples")
"""Arguments that are texts for people."""

_SWAPPED = (
    ("min", "max"),
    ("any", "all"),
    ("low", "high"),
    ("lower", "upper"),
    ("low_us", "high_us"),
    ("low_percent", "high_percent"),
    ("low_deg", "high_deg"),
    ("start", "stop"),
    ("first", "last"),
)


class SwapName(Operator):  # type: ignore[misc]
    """Takes the one name for the other of a pair: the smallest for the largest, low for high."""

    _other = dict(_SWAPPED) | {b: a for a, b in _SWAPPED}

    def mutation_positions(self, node):  # type: ignore[no-untyped-def]
        if node.type == "name" and node.value in self._other and not _defines(node):
            yield node.start_pos, node.end_pos

    def mutate(self, node, index):  # type: ignore[no-untyped-def]  # noqa: ARG002
        node.value = self._other[node.value]
        return node

    @classmethod
    def examples(cls):  # type: ignore[no-untyped-def]
        return ()


class NegateMembership(Operator):  # type: ignore[misc]
    """`in` to `not in`, and back."""

    def mutation_positions(self, node):  # type: ignore[no-untyped-def]
        if node.type == "comparison":
            for sign in self._signs(node):
                yield sign.start_pos, sign.end_pos

    def mutate(self, node, index):  # type: ignore[no-untyped-def]
        sign = self._signs(node)[index]
        other = " in" if sign.get_code().split() == ["not", "in"] else " not in"
        node.children[node.children.index(sign)] = parso.parse(other)
        return node

    @staticmethod
    def _signs(node):  # type: ignore[no-untyped-def]
        signs = node.children[1::2]
        return [it for it in signs if it.get_code().split() in (["in"], ["not", "in"])]

    @classmethod
    def examples(cls):  # type: ignore[no-untyped-def]
        return ()


class NegateFilter(Operator):  # type: ignore[misc]
    """The condition of a comprehension, the other way round."""

    def mutation_positions(self, node):  # type: ignore[no-untyped-def]
        if node.type == "comp_if":
            yield node.children[1].start_pos, node.children[1].end_pos

    def mutate(self, node, index):  # type: ignore[no-untyped-def]  # noqa: ARG002
        node.children[1] = parso.parse(f" (not ({node.children[1].get_code()}))")
        return node

    @classmethod
    def examples(cls):  # type: ignore[no-untyped-def]
        return ()


def _defines(node) -> bool:  # type: ignore[no-untyped-def]
    """Whether a name stands where it is given: a parameter, a target, `name=` in a call."""
    above = node.parent
    if above.type in ("argument", "param") and above.children[0] is node:
        return above.type == "param" or len(above.children) > 1
    return bool(node.is_definition())


class Mutant(NamedTuple):
    """One change of one file: which operator, at which node of the file's tree."""

    file: Path
    operator: type[Operator]
    place: Place
    node: NodeOrLeaf
    index: int

    def text(self) -> str:
        """The file with the change in it.  Changes the tree, so only one mutant a process."""
        root, above = self.node.get_root_node(), self.node.parent
        where = above.children.index(self.node)
        above.children[where] = self.operator().mutate(self.node, self.index)
        return str(root.get_code())


def operators() -> Iterator[type[Operator]]:
    for family, signs in _FAMILIES.items():
        for one in signs:
            yield from (provider._OPERATORS[f"{family}_{one}_{to}"] for to in signs if to != one)
    yield from (provider._OPERATORS[name] for name in _ALONE)
    yield from (SwapName, NegateMembership, NegateFilter)


def mutants(file: Path) -> Iterator[Mutant]:
    """Every mutant of a file, in the order of the operators."""
    text = file.read_text(encoding="utf-8")
    nodes = list(_walked(get_ast(text)))[1:]
    idle = list(_no_behaviour(text))
    for operator in operators():
        told = operator()
        found = ((node, *it) for node in nodes for it in enumerate(told.mutation_positions(node)))
        for node, index, (place, _) in found:
            if not _told_digits(node) and not any(start <= place < end for start, end in idle):
                yield Mutant(file, operator, place, node, index)


def change(text: str, changed: str) -> tuple[str, str]:
    """The first line that differs, as it was and as it is."""
    pairs = zip(text.splitlines(), changed.splitlines(), strict=False)
    was, now = next(pair for pair in pairs if pair[0] != pair[1])
    return was.strip(), now.strip()


def function_at(file: Path, place: Place) -> tuple[str, int] | None:
    """The outermost function or method in whose body a place is: its name and first line."""
    for name, line, start, end in _functions(file):
        if start <= place < end:
            return name, line
    return None


@cache
def _functions(file: Path) -> list[tuple[str, int, Place, Place]]:
    text = file.read_text(encoding="utf-8")
    tree, lines = ast.parse(text), text.splitlines()
    inside = [(f"{it.name}.", it.body) for it in tree.body if isinstance(it, ast.ClassDef)]
    return [
        (f"{prefix}{it.name}", _first_line(it), *_span(it.body[0], it.body[-1], lines))
        for prefix, body in [("", tree.body), *inside]
        for it in body
        if isinstance(it, ast.FunctionDef)
    ]


def _first_line(it: ast.FunctionDef) -> int:
    """As code objects count it, from the first decorator on."""
    return min([it.lineno, *(decorator.lineno for decorator in it.decorator_list)])


def _told_digits(node) -> bool:  # type: ignore[no-untyped-def]
    """Whether a number says to how many digits a message tells another."""
    above = node.parent
    if node.type != "number" or above is None or above.type != "arglist":
        return False
    called = above.parent.get_previous_sibling()
    told = called is not None and called.type == "name" and called.value == "round"
    return told and node is above.children[-1] and node.search_ancestor("fstring") is not None


def _walked(node):  # type: ignore[no-untyped-def]
    yield node
    for child in getattr(node, "children", ()):
        yield from _walked(child)


def _no_behaviour(text: str) -> list[tuple[Place, Place]]:
    lines, tree = text.splitlines(), ast.parse(text)
    aliases = [it for it in tree.body if isinstance(it, ast.Assign) and _is_alias(it)]
    found = [_span(it, it, lines) for it in aliases]
    for node in ast.walk(tree):
        match node:
            case ast.Import() | ast.ImportFrom() | ast.FunctionDef(name="_examples"):
                found.append(_span(node, node, lines))
            case ast.If(test=ast.Name(id="TYPE_CHECKING")):
                found.append(_span(node, node.body[-1], lines))
            case ast.FunctionDef(returns=ast.expr() as told):
                found.append(_span(told, told, lines))
            case ast.arg(annotation=ast.expr() as told) | ast.AnnAssign(annotation=told):
                found.append(_span(told, told, lines))
            case ast.keyword(arg=name, value=told) if name in _TEXTS:
                found.append(_span(told, told, lines))
    return found + [_span(it, it, lines) for it in _only_for(found, tree, lines)]


def _only_for(
    idle: list[tuple[Place, Place]], tree: ast.Module, lines: list[str]
) -> list[ast.stmt]:
    """What is only used there, as a function that makes parts of examples."""
    used = {
        node.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Name)
        and not any(start <= _span(node, node, lines)[0] < end for start, end in idle)
    }
    made = (it for it in tree.body if isinstance(it, ast.FunctionDef) and it.name[0] == "_")
    return (
        [it for it in made if it.name not in used and idle] if "@rule(" in "\n".join(lines) else []
    )


def _is_alias(it: ast.Assign) -> bool:
    """`Row = tuple[int, ...] | None`, and `__all__`."""
    name = it.targets[0]
    if not isinstance(name, ast.Name):
        return False
    types = isinstance(it.value, ast.Subscript | ast.BinOp) and not any(
        isinstance(inside, ast.Call) for inside in ast.walk(it.value)
    )
    return name.id == "__all__" or (types and name.id[0].isupper() and not name.id.isupper())


def _span(
    first: ast.stmt | ast.expr, last: ast.stmt | ast.expr, lines: list[str]
) -> tuple[Place, Place]:
    """Where something begins and ends, in characters: `ast` counts bytes."""
    assert last.end_lineno is not None
    assert last.end_col_offset is not None
    start = len(lines[first.lineno - 1].encode()[: first.col_offset].decode())
    end = len(lines[last.end_lineno - 1].encode()[: last.end_col_offset].decode())
    return (first.lineno, start), (last.end_lineno, end)
