"""Parts of a whole: every name in exactly one of them, the same on every machine."""

from __future__ import annotations

from unicodedata import normalize

from hypothesis import given
from hypothesis import strategies as st

from prebind.inspect.part import Part

NAMES = st.lists(st.text(min_size=1), max_size=40)


@given(NAMES, st.integers(1, 12))
def test_every_name_is_in_exactly_one_part(names: list[str], of: int) -> None:
    parts = [Part(number, of) for number in range(1, of + 1)]
    for name in names:
        assert [part.has(name) for part in parts].count(True) == 1
    assert {part.entries for part in parts} == {len(names)}
    assert len({part.listing for part in parts}) == 1


@given(NAMES, NAMES)
def test_only_the_same_names_in_the_same_order_have_a_listing(
    names: list[str], others: list[str]
) -> None:
    one, other = Part(1, 3), Part(2, 3)
    for name in names:
        one.has(name)
    for name in others:
        other.has(name)
    alike = [normalize("NFC", it) for it in names] == [normalize("NFC", it) for it in others]
    assert (one.listing == other.listing) == alike


def test_it_is_the_digest_that_any_machine_works_out() -> None:
    """`printf hangar/knot.setup.json | sha256sum` ends in …f663, of dunlin.setup.json in …7a76."""
    assert Part(0x663 % 8 + 1, 8).has("hangar/knot.setup.json")
    assert Part(0xA76 % 8 + 1, 8).has("dunlin.setup.json")


def test_a_name_is_in_the_same_part_however_its_letters_are_composed() -> None:
    for of in range(2, 9):
        parts = [Part(number, of) for number in range(1, of + 1)]
        one = [part.has("h\u00fctte/m\u00f6we.setup.json") for part in parts]
        assert one == [part.has("hu\u0308tte/mo\u0308we.setup.json") for part in parts]


def test_half_a_surrogate_pair_is_a_name_too() -> None:
    """Python's names of files whose bytes are no text."""
    assert Part(1, 1).has("\udcff.setup.json")


def test_parts_are_about_as_large() -> None:
    parts = [Part(number, 8) for number in range(1, 9)]
    sizes = [sum(part.has(f"{n:05}.setup.json") for n in range(8000)) for part in parts]
    assert sum(sizes) == 8000
    assert all(900 < size < 1100 for size in sizes)
