"""Putting a mutant in the place of the real code, in a running process.

That is what makes a mutant cheap: nothing is imported or collected again.  In a function's body it
is the function's code that is exchanged, wherever the function is held.  What stands at the top of
a module is computed once more from the changed text, and what came out otherwise is exchanged: a
constant, a default, what a rule's record says.
"""

from __future__ import annotations

import gc
import sys
from types import CodeType, FunctionType, ModuleType
from typing import TYPE_CHECKING, Any

import attrs
from tests.mutation.mutants import function_at

from prebind.rule import Rule

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.mutation.mutants import Mutant

Functions = dict[tuple[str, str, int], list[FunctionType]]


def functions() -> Functions:
    """Every function there is in the process, by file, name and line."""
    found: Functions = {}
    for it in gc.get_objects():
        if isinstance(it, FunctionType):
            code = it.__code__
            key = (code.co_filename, code.co_qualname, code.co_firstlineno)
            found.setdefault(key, []).append(it)
    return found


def lay(mutant: Mutant, text: str, known: Functions) -> None:
    """Exchanges the code.  Raises LookupError where nothing can be exchanged."""
    code = compile(text, str(mutant.file), "exec", dont_inherit=True)
    where = function_at(mutant.file, mutant.place)
    if where is None:
        _lay_top(_module(str(mutant.file)), code)
        return
    name, line = where
    held = known.get((str(mutant.file), name, line))
    new = next((it for it in _codes(code) if (it.co_qualname, it.co_firstlineno) == where), None)
    if not held or new is None:
        raise LookupError(f"no function {name} at line {line}")
    for function in held:
        function.__code__ = new


def _codes(code: CodeType) -> Iterator[CodeType]:
    for it in code.co_consts:
        if isinstance(it, CodeType):
            yield it
            yield from _codes(it)


def _module(file: str) -> ModuleType:
    return next(it for it in [*sys.modules.values()] if getattr(it, "__file__", None) == file)


def _lay_top(module: ModuleType, code: CodeType) -> None:
    fresh = ModuleType(module.__name__)
    fresh.__file__ = module.__file__
    fresh.__package__ = module.__package__
    if hasattr(module, "__path__"):
        fresh.__path__ = module.__path__
    exec(code, vars(fresh))
    laid = False
    for name, new in vars(fresh).items():
        old = vars(module).get(name)
        if not name.startswith("__") and old is not None and _own(new, module):
            laid |= _lay_value(name, old, new)
    if not laid:
        raise LookupError("nothing came out otherwise")


def _own(value: Any, module: ModuleType) -> bool:
    """Whether a value is not only imported there."""
    of = getattr(value, "__module__", module.__name__)
    return isinstance(value, Rule) or (of == module.__name__ and not isinstance(value, ModuleType))


def _lay_value(name: str, old: Any, new: Any) -> bool:
    """Whether there was anything to exchange."""
    if isinstance(old, FunctionType):
        changed = (old.__defaults__, old.__kwdefaults__) != (new.__defaults__, new.__kwdefaults__)
        old.__defaults__, old.__kwdefaults__ = new.__defaults__, new.__kwdefaults__
        return changed
    if isinstance(old, Rule):
        told = {"word", "each", "needs", "settings"} & set(vars(old))
        differs = [key for key in told if _differ(vars(old)[key], vars(new)[key])]
        vars(old).update({key: vars(new)[key] for key in differs})
        return bool(differs)
    if isinstance(old, type):
        return _lay_class(old, new)
    return _differ(old, new) and _exchange(name, old, new)


def _exchange(name: str, old: Any, new: Any) -> bool:
    """Puts a constant in the place of another: in every module, and in what was made with it."""
    if isinstance(old, dict) and isinstance(new, dict) and old.keys() == new.keys():
        for key, value in new.items():
            if _differ(old[key], value):
                _exchange("", old[key], value)
                old[key] = value
        return True
    if not isinstance(old, str | int | float | type(None)):  # those are shared by everybody
        gc.unfreeze()
        holders = [it for it in gc.get_referrers(old) if isinstance(it, dict)]
        for holder in holders:
            holder.update({key: new for key, value in holder.items() if value is old})
        return True
    for module in [*sys.modules.values()]:
        if module.__name__.startswith("prebind") and vars(module).get(name) is old:
            vars(module)[name] = new
    return True


def _lay_class(old: type, new: type) -> bool:
    """Defaults of methods and of fields."""
    laid = False
    for name, method in vars(new).items():
        if name == "__init__" and attrs.has(old):
            continue
        # `__new__`, which has the defaults of a named tuple, is a static method.
        held, function = (getattr(it, "__func__", it) for it in (vars(old).get(name), method))
        if isinstance(held, FunctionType) and isinstance(function, FunctionType):
            laid |= _lay_value(name, held, function)
    if attrs.has(old) and _defaults(old) != _defaults(new):
        for name in ("__attrs_attrs__", "__fields__", "__init__"):
            if name in vars(new):
                setattr(old, name, vars(new)[name])
        laid = True
    return laid


def _defaults(kind: type) -> list[str]:
    return [repr(it.default) for it in attrs.fields(kind)]


def _differ(old: Any, new: Any) -> bool:
    return bool(old != new) or repr(old) != repr(new)
