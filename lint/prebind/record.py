"""Frozen classes that attrs knows, made without attrs.

attrs takes longer to import than many a short run takes in all, and writes and compiles code for
each class.  A record is what `attrs.frozen` makes: fields from annotations, a default or a `field`
each.  Its `__init__` is compiled once some entries have been made, and attrs itself is imported
when somebody asks it about the class: `attrs.fields`, `attrs.asdict`, a converter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Callable

    import attrs

__all__ = ["Field", "Record", "evolve", "field", "fields", "record"]

_NOTHING: Any = object()
_FEW = 16
"""Entries of a class that take less time, in all, than it takes to compile an `__init__`."""


class Field(NamedTuple):
    """One field of a record: its annotation as written, and what it is where nobody says."""

    name: str = ""
    annotation: Any = None
    default: Any = _NOTHING
    factory: Callable[[], Any] | None = None
    init: bool = True
    eq: bool = True
    repr: bool = True

    @property
    def needed(self) -> bool:
        """Whether an entry cannot be without it."""
        return self.default is _NOTHING and self.factory is None


class Record:
    """Records of one class are equal where their fields are."""

    def __eq__(self, other: object) -> bool:
        return self._said() == other._said() if isinstance(other, type(self)) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._said())

    def __repr__(self) -> str:
        shown = [it.name for it in fields(type(self)) if it.repr]
        said = ", ".join(f"{name}={getattr(self, name)!r}" for name in shown)
        return f"{type(self).__name__}({said})"

    def _said(self) -> tuple[object, ...]:
        return tuple(getattr(self, it.name) for it in fields(type(self)) if it.eq)


def fields(kind: type) -> tuple[Field, ...]:
    """The fields of a record, in their order; none of a class that is no record."""
    found: tuple[Field, ...] = getattr(kind, "__fields__", ())
    return found


if TYPE_CHECKING:
    from attrs import evolve, field
    from attrs import frozen as record
else:

    def field(**told):
        """One field, told as attrs is told: `default`, `factory`, `init`, `eq`, `repr`."""
        return Field(**told)

    def record(kind):
        """Makes a class a record."""
        own = vars(kind)
        found = {it.name: it for it in fields(kind)}
        for name, annotation in own.get("__annotations__", {}).items():
            said = own.get(name, _NOTHING)
            if said is not _NOTHING:
                delattr(kind, name)
            it = said if isinstance(said, Field) else Field(default=said)
            found[name] = it._replace(name=name, annotation=annotation)
        kind.__fields__ = tuple(found.values())
        kind.__match_args__ = tuple(it.name for it in kind.__fields__ if it.init)
        kind.__attrs_attrs__ = _Attributes()
        kind.__init__ = _first(kind)
        kind.__setattr__ = kind.__delattr__ = _frozen
        return kind

    def evolve(entry, /, **changes):
        """A copy in which some fields are others."""
        for it in fields(type(entry)):
            if it.init:
                changes.setdefault(it.name, getattr(entry, it.name))
        return type(entry)(**changes)


def _first(kind: type) -> Callable[..., None]:
    """An `__init__` for the first few entries; then it puts a compiled one in its own place.

    So it does where something is wrong, for Python's own words about it.
    """
    its = fields(kind)
    names = [it.name for it in its if it.init]
    known = set(names)
    needed = {it.name for it in its if it.init and it.needed}
    left = _FEW

    def first(entry: object, /, *given: object, **named: object) -> None:
        nonlocal left
        left -= 1
        told = {**dict(zip(names, given, strict=False)), **named}
        right = len(told) == len(given) + len(named) and needed <= told.keys() <= known
        if left < 0 or not right:
            kind.__init__ = _init(its)  # type: ignore[misc]
            kind.__init__(entry, *given, **named)  # type: ignore[misc]
            return
        said = entry.__dict__
        for it in its:
            if it.name in told:
                said[it.name] = told[it.name]
            else:
                said[it.name] = it.default if it.factory is None else it.factory()

    return first


def _init(its: tuple[Field, ...]) -> Callable[..., None]:
    heads, lines = [], []
    for it in its:
        value = it.name if it.init else f"its[{it.name!r}].default"
        head = it.name
        if it.factory is not None:
            made = f"its[{it.name!r}].factory()"
            value = f"{made} if {it.name} is NOTHING else {it.name}" if it.init else made
            head += "=NOTHING"
        elif not it.needed:
            head += f"=its[{it.name!r}].default"
        if it.init:
            heads.append(head)
        lines.append(f"    said[{it.name!r}] = {value}")
    text = "\n".join([f"def __init__({', '.join(['self', *heads])}):", "    said = self.__dict__"])
    room: dict[str, Any] = {"its": {it.name: it for it in its}, "NOTHING": _NOTHING}
    exec("\n".join([text, *lines]), room)
    init: Callable[..., None] = room["__init__"]
    return init


def _frozen(entry: object, name: str, *_: object) -> None:
    raise AttributeError(f"{name!r} of a {type(entry).__name__} cannot be changed")


class _Attributes:
    """What attrs looks for in a class of its own, worked out when it looks."""

    def __get__(self, _: object, kind: type) -> tuple[attrs.Attribute[Any], ...]:
        import attrs

        def told(it: Field) -> Any:
            default = attrs.NOTHING if it.needed else it.default
            if it.factory is not None:
                default = attrs.Factory(it.factory)
            return attrs.field(
                default=default, init=it.init, eq=it.eq, repr=it.repr, type=it.annotation
            )

        twin = attrs.make_class(kind.__name__, {it.name: told(it) for it in fields(kind)})
        made: tuple[attrs.Attribute[Any], ...] = attrs.fields(twin)
        kind.__attrs_attrs__ = made  # type: ignore[attr-defined]
        return made
