"""Records are what attrs would have made of the same class; attrs is asked, as the reference."""

from __future__ import annotations

import pickle
from typing import Any

import attrs
import pytest

from prebind.record import _FEW, Record, _first, evolve, field, record


@record
class Horn(Record):
    """A record with every kind of field."""

    hole: int
    length_mm: float = 12.0
    names: dict[str, int] = field(factory=dict)
    at: str = field(default="", init=False, eq=False, repr=False)
    note: str = field(default="none", repr=False)
    seen: list[int] = field(factory=list, init=False)
    mark: str = field(default="", eq=False)


@record
class Longer(Horn):
    more: int = 3


@pytest.fixture(params=["first", "compiled"], autouse=True)
def made(request: pytest.FixtureRequest) -> None:
    """Whatever holds of the first entries of a class holds of those after them."""
    for kind in (Horn, Longer):
        kind.__init__ = first = _first(kind)  # type: ignore[method-assign]
        if request.param == "compiled":
            for _ in range(_FEW + 1):
                kind(1)
        assert (kind.__init__ is first) is (request.param == "first")


Twin: Any = attrs.make_class(
    "Horn",
    {
        "hole": attrs.field(),
        "length_mm": attrs.field(default=12.0),
        "names": attrs.field(factory=dict),
        "at": attrs.field(default="", init=False, eq=False, repr=False),
        "note": attrs.field(default="none", repr=False),
        "seen": attrs.field(factory=list, init=False),
        "mark": attrs.field(default="", eq=False),
    },
    frozen=True,
)
GIVEN: list[tuple[tuple[Any, ...], dict[str, Any]]] = [
    ((1,), {}),
    ((1, 9.5), {}),
    ((1, 9.5, {"a": 1}), {"note": "bent"}),
    ((), {"hole": 2, "mark": "x"}),
    ((), {"names": {"b": 2}, "hole": 3}),
]
WRONG: list[tuple[tuple[Any, ...], dict[str, Any]]] = [
    ((), {}),
    ((1,), {"at": "/x"}),
    ((1,), {"hole": 2}),
    ((1,), {"colour": 2}),
    ((1, 2, {}, "n", "m", "too many"), {}),
]


@pytest.mark.parametrize(("given", "named"), GIVEN)
def test_an_entry_is_as_attrs_makes_it(given: tuple[Any, ...], named: dict[str, Any]) -> None:
    ours, theirs = Horn(*given, **named), Twin(*given, **named)
    assert vars(ours) == attrs.asdict(theirs)
    assert repr(ours) == repr(theirs)
    assert attrs.asdict(ours) == attrs.asdict(theirs)
    assert attrs.evolve(ours, hole=7) == evolve(ours, hole=7) == Horn(**{**_said(ours), "hole": 7})


def _said(horn: Horn) -> dict[str, Any]:
    return {name: getattr(horn, name) for name in ("hole", "length_mm", "names", "note", "mark")}


@pytest.mark.parametrize(("given", "named"), WRONG)
def test_what_attrs_refuses_is_refused(given: tuple[Any, ...], named: dict[str, Any]) -> None:
    for kind in (Twin, Horn):
        with pytest.raises(TypeError):
            kind(*given, **named)


def test_what_counts_as_equal() -> None:
    """The reference's own hash is of no use with a dict in it, so equality is what is compared."""
    for kind in (Horn, Twin):
        assert kind(1) == kind(1, mark="another")
        assert kind(1) != kind(2)
        assert kind(1) != (1, 12.0, {}, "none", [])


def test_attrs_knows_it() -> None:
    assert attrs.has(Horn)
    ours, theirs = attrs.fields(Horn), attrs.fields(Twin)
    assert ours.__class__.__name__ == theirs.__class__.__name__
    alike = ("name", "default", "init", "eq", "repr", "kw_only")
    for one, other in zip(ours, theirs, strict=True):
        assert [getattr(one, it) for it in alike] == [getattr(other, it) for it in alike]
    assert ours.hole.type == "int"
    assert attrs.fields(Horn) is ours


def test_what_comes_from_another_record_comes_first() -> None:
    assert repr(Longer(1, more=4)).endswith("more=4)")
    assert Longer(5).length_mm == 12.0
    assert [it.name for it in attrs.fields(Longer)][-2:] == ["mark", "more"]
    assert Longer(1) != Longer(1, more=4)


def test_an_entry_cannot_be_changed() -> None:
    horn = Horn(1)
    for change in (lambda: setattr(horn, "hole", 2), lambda: delattr(horn, "hole")):
        with pytest.raises(AttributeError, match="hole"):
            change()
    with pytest.raises(AttributeError):
        horn.unheard_of = 1  # type: ignore[attr-defined]


def test_defaults_are_made_anew() -> None:
    assert Horn(1).names is not Horn(1).names


def test_an_entry_travels() -> None:
    assert pickle.loads(pickle.dumps(Horn(1, names={"a": 1}))) == Horn(1, names={"a": 1})
