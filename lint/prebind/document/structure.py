"""From the resolved document to the model.

The schema has said yes: nothing is checked here.  Keys that begin with `x-` fall out below the top
level, as the model has no room for them.

A maker is put together for each kind of value that the model's annotations name, when that is first
met.  A converter that writes and compiles code for each class takes longer to start than most runs
take in all.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Any, Union, get_args, get_origin

from prebind.document import model
from prebind.document.positions import escape
from prebind.record import fields

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    Make = Callable[[Any], Any]

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
KEYS: dict[tuple[type, str], str] = {(model.Mix, "source"): "from", (model.Waiver, "pointer"): "at"}
"""Keys that have another name in the model."""

_OWN = ("at", "extra", "data")
"""What an entry knows beside its keys."""


def structure(data: dict[str, Any]) -> model.Setup:
    """The model of a resolved document that has passed the schema."""
    setup: model.Setup = _entry(model.Setup)(data)
    extra = {key: value for key, value in data.items() if key.startswith("x-")}
    _set(setup, "extra", model.Named(extra))
    _set(setup, "data", data)
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


# Makers


@cache
def _entry(kind: type) -> Make:
    """Makes entries of a record.  A key that is left out takes the class's default."""
    defaults: dict[str, Any] = {}
    fresh: list[tuple[str, Callable[[], Any]]] = []
    keys: dict[str, tuple[str, Make | None]] = {}
    for it in fields(kind):
        if it.factory is not None:
            fresh.append((it.name, it.factory))
        elif not it.needed:
            defaults[it.name] = it.default
        if it.name not in _OWN:
            keys[KEYS.get((kind, it.name), it.name)] = it.name, _maker(it.annotation)

    def make(data: dict[str, Any]) -> Any:
        entry: Any = object.__new__(kind)
        said = entry.__dict__
        said.update(defaults)
        for key, value in data.items():
            if key in keys:
                name, value_of = keys[key]
                said[name] = value if value_of is None else value_of(value)
        for name, factory in fresh:
            if name not in said:
                said[name] = factory()
        return entry

    return make


@cache
def _maker(kind: Any) -> Make | None:
    """Makes values of an annotated kind; None where the value stays as it is."""
    if kind in (int, float):  # JSON makes no difference between 5 and 5.0
        return kind  # type: ignore[no-any-return]
    if kind == tuple[model.Trim, ...]:
        return _trims
    if kind is model.AxisPort:
        return _axis_port
    origin = get_origin(kind)
    if origin in (Union, UnionType):  # with a Literal in it, it is the former
        return _one_of([_maker(it) for it in get_args(kind) if it is not NoneType])
    if origin is tuple:
        return _tuple(_maker(get_args(kind)[0]))
    if origin is Mapping:
        return _named(kind)
    return _entry(kind) if fields(kind) else None


def _one_of(makers: list[Make | None]) -> Make | None:
    """A kind that may be left out, a text or a number, a number or a pair; null never comes."""
    if len(makers) == 1:
        return makers[0]
    number = next(make for make in makers if make in (int, float))
    other = next(make for make in makers if make not in (int, float))

    def make(value: Any) -> Any:
        if isinstance(value, int | float):
            return number(value)
        return value if other is None else other(value)

    return make


def _tuple(each: Make | None) -> Make:
    """Of any length and one kind, or a pair of one kind."""
    return tuple if each is None else lambda values: tuple(map(each, values))


def _named(kind: Any) -> Make:
    """Entries under names of the document's own; in `native` `x-` begins a function, no note."""
    each = _maker(get_args(kind)[1])
    notes = "x-" if kind != Mapping[str, int] else "\0"

    def make(values: dict[str, Any]) -> model.Named:
        return model.Named(
            {
                name: value if each is None else each(value)
                for name, value in values.items()
                if not name.startswith(notes)
            }
        )

    return make


def _axis_port(value: Any) -> model.AxisPort:
    if isinstance(value, dict):
        return model.AxisPort(int(value["port"]), int(value.get("sign", 1)))
    return model.AxisPort(int(value))


def _trims(value: Any) -> tuple[model.Trim, ...]:
    if isinstance(value, list):
        return tuple(map(_entry(model.Trim), value))
    return (model.Trim(float(value)),)
