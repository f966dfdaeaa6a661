"""From the resolved document to the model.

The schema has said yes: nothing is checked here.  Keys that begin with `x-` fall out below the top
level, as the model has no room for them.
"""

from __future__ import annotations

from functools import cache
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Any, Literal, Union, get_args, get_origin

from cattrs import Converter
from cattrs.gen import make_dict_structure_fn, override

from prebind.document import model
from prebind.document.positions import escape

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from cattrs import BaseConverter

    Hook = Callable[[Any, Any], Any]

_set = object.__setattr__  # the entries are frozen for everyone else
# Sections that are lists of entries with a place.
_LISTS = (
    "channels",
    "inputs",
    "phases",
    "mixes",
    "overrides",
    "servos",
    "speed_controls",
    "surfaces",
    "sign_offs",
    "waivers",
)


def structure(data: dict[str, Any]) -> model.Setup:
    """The model of a resolved document that has passed the schema."""
    setup: model.Setup = _converter().structure(data, model.Setup)
    setup.extra.update((key, value) for key, value in data.items() if key.startswith("x-"))
    _place(setup)
    return setup


# Places


def _place(setup: model.Setup) -> None:
    for name in _LISTS:
        _number(f"/{name}", getattr(setup, name))
    for name, control in setup.transmitter.controls.items():
        _set(control, "at", f"/transmitter/controls/{escape(name)}")
    if setup.engine:
        _set(setup.engine, "at", "/engine")
    if setup.receiver:
        _place_receiver(setup.receiver)


def _place_receiver(receiver: model.Receiver) -> None:
    _number("/receiver/outputs", receiver.outputs)
    if receiver.failsafe:
        _number("/receiver/failsafe/channels", receiver.failsafe.channels)
    if receiver.stabiliser:
        _number("/receiver/stabiliser/axes", receiver.stabiliser.axes)
        _number("/receiver/stabiliser/selectors", receiver.stabiliser.selectors)
        for selector in receiver.stabiliser.selectors:
            _number(f"{selector.at}/states", selector.states)


def _number(pointer: str, entries: Iterable[object] | None) -> None:
    for index, entry in enumerate(entries or ()):
        _set(entry, "at", f"{pointer}/{index}")


# Kinds of value


@cache
def _converter() -> Converter:
    """Hooks for the kinds of value in the model; of those for one type the last is asked first."""
    converter = Converter(detailed_validation=False)
    for plain in (str, bool):
        converter.register_structure_hook(plain, _as_it_is)
    for number in (int, float):
        converter.register_structure_hook(number, _as(number))
    converter.register_structure_hook(model.AxisPort, _axis_port)
    converter.register_structure_hook_func(_is_literal, _as_it_is)
    converter.register_structure_hook_factory(_is_union, _union)
    converter.register_structure_hook_factory(_is_named, _named)
    converter.register_structure_hook_factory(_is_tuple, _tuple)
    converter.register_structure_hook_factory(_is_trims, _trims)
    converter.register_structure_hook(
        model.Mix, make_dict_structure_fn(model.Mix, converter, source=override(rename="from"))
    )
    converter.register_structure_hook(
        model.Waiver, make_dict_structure_fn(model.Waiver, converter, pointer=override(rename="at"))
    )
    return converter


def _is_literal(kind: Any) -> bool:
    return get_origin(kind) is Literal


def _is_union(kind: Any) -> bool:
    return get_origin(kind) in (Union, UnionType)  # with a Literal in it, it is the former


def _is_named(kind: Any) -> bool:
    """Entries under names of the document's own; not `native`, where `x-` begins a function."""
    return get_origin(kind) is dict and kind != dict[str, int]


def _is_tuple(kind: Any) -> bool:
    return get_origin(kind) is tuple


def _is_trims(kind: Any) -> bool:
    return bool(kind == tuple[model.Trim, ...])


def _as_it_is(value: Any, _: Any) -> Any:
    return value


def _as(kind: type[int] | type[float]) -> Hook:
    """JSON makes no difference between 5 and 5.0."""
    return lambda value, _: kind(value)


def _axis_port(value: Any, _: Any) -> model.AxisPort:
    if isinstance(value, dict):
        return model.AxisPort(int(value["port"]), int(value.get("sign", 1)))
    return model.AxisPort(int(value))


def _named(kind: Any, converter: BaseConverter) -> Hook:
    each = get_args(kind)[1]
    hook = converter.get_structure_hook(each)
    return lambda values, _: {
        name: hook(value, each) for name, value in values.items() if not name.startswith("x-")
    }


def _tuple(kind: Any, converter: BaseConverter) -> Hook:
    """Of any length and one kind, or a pair of one kind."""
    each = get_args(kind)[0]
    if each in (int, float, str):
        return lambda values, _: tuple(map(each, values))
    hook = converter.get_structure_hook(each)
    return lambda values, _: tuple([hook(value, each) for value in values])


def _trims(kind: Any, converter: BaseConverter) -> Hook:
    several = _tuple(kind, converter)

    def hook(value: Any, _: Any) -> tuple[model.Trim, ...]:
        if isinstance(value, list):
            return several(value, _)  # type: ignore[no-any-return]
        return (model.Trim(float(value)),)

    return hook


def _union(kind: Any, converter: BaseConverter) -> Hook:
    """A kind that may be left out, a text or a number, a number or a pair; null never comes."""
    kinds = [it for it in get_args(kind) if it is not NoneType]
    hooks = [converter.get_structure_hook(it) for it in kinds]
    if len(hooks) == 1:
        return hooks[0]
    number = next(hook for it, hook in zip(kinds, hooks, strict=True) if it in (int, float))
    other = next(hook for it, hook in zip(kinds, hooks, strict=True) if it not in (int, float))
    return lambda value, _: (number if isinstance(value, int | float) else other)(value, _)
