"""Digests: the canonical form, what each check proves key by key, and that spelling is nothing."""

from __future__ import annotations

import json
import re
import struct
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

import prebind
from prebind.path.digest import canonical
from prebind.path.proofs import CHECKS, tenth
from prebind.testing import clean, patched
from prebind_schemas import schema_text, templates

if TYPE_CHECKING:
    from collections.abc import Iterator

VECTORS = Path(__file__).parents[1] / "data" / "canonical-json"
TABLES = (Path(__file__).parent / "digests.md").read_text(encoding="utf-8")


def path_of(document: dict[str, Any]) -> prebind.Path:
    found = prebind.read(document)
    assert isinstance(found, prebind.Document), found
    return prebind.trace(found.setup)


def digests(document: dict[str, Any]) -> dict[str, str | None]:
    path = path_of(document)
    return {check: path.digest(check) for check in CHECKS}


# --- the canonical form ---------------------------------------------------------------------


@pytest.mark.parametrize("name", ["arrays", "french", "structures", "unicode", "values", "weird"])
def test_canonical_form(name: str) -> None:
    """RFC 8785, the reference implementation's vectors: sdist rfc8785 0.1.4, test/assets."""
    given = json.loads((VECTORS / "input" / f"{name}.json").read_text(encoding="utf-8"))
    expected = bytes.fromhex((VECTORS / "outhex" / f"{name}.txt").read_text(encoding="ascii"))
    assert canonical(given) == expected


# RFC 8785, appendix B: IEEE 754 bits and the number's text; as in sdist rfc8785 0.1.4, test_impl.py
NUMBERS = [
    ("0000000000000000", "0"),
    ("8000000000000000", "0"),
    ("0000000000000001", "5e-324"),
    ("8000000000000001", "-5e-324"),
    ("7fefffffffffffff", "1.7976931348623157e+308"),
    ("ffefffffffffffff", "-1.7976931348623157e+308"),
    ("4340000000000000", "9007199254740992"),
    ("c340000000000000", "-9007199254740992"),
    ("4430000000000000", "295147905179352830000"),
    ("44b52d02c7e14af5", "9.999999999999997e+22"),
    ("44b52d02c7e14af6", "1e+23"),
    ("44b52d02c7e14af7", "1.0000000000000001e+23"),
    ("444b1ae4d6e2ef4e", "999999999999999700000"),
    ("444b1ae4d6e2ef4f", "999999999999999900000"),
    ("444b1ae4d6e2ef50", "1e+21"),
    ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
    ("3eb0c6f7a0b5ed8d", "0.000001"),
    ("41b3de4355555553", "333333333.3333332"),
    ("41b3de4355555554", "333333333.33333325"),
    ("41b3de4355555555", "333333333.3333333"),
    ("41b3de4355555556", "333333333.3333334"),
    ("41b3de4355555557", "333333333.33333343"),
    ("becbf647612f3696", "-0.0000033333333333333333"),
    ("43143ff3c1cb0959", "1424953923781206.2"),
]


@pytest.mark.parametrize(("bits", "text"), NUMBERS)
def test_canonical_numbers(bits: str, text: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical([number]) == f"[{text}]".encode()


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(1 - 2**53, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.decimals(-(10**6), 10**6, places=1).map(float)
    | st.text()
    | st.sampled_from(["1.0,", 'a"1.0]', "x\\", "-0.0", ".0}", "\x7f", "1e5"]),
    lambda part: st.lists(part) | st.dictionaries(st.text(), part),
    max_leaves=20,
)


@given(JSON)
def test_canonical_as_the_reference_library_has_it(value: Any) -> None:
    assert canonical(value) == rfc8785.dumps(value)


# --- what a digest is -----------------------------------------------------------------------


def test_over_the_check_and_its_facts() -> None:
    path = path_of(clean())
    for check, proof in CHECKS.items():
        whole = canonical({"check": check, "facts": proof.facts(path)})
        assert path.digest(check) == sha256(whole).hexdigest()


def test_no_two_checks_share_one() -> None:
    found = digests(clean())
    assert None not in found.values()
    assert len(set(found.values())) == len(CHECKS)


LASTING = {
    "control-direction": "09a1b2dfc5ff",
    "correction-direction": "005253864d70",
    "throws": "df89f95ba5da",
    "states": "78fc76d4f50a",
    "recovery": "4cf271628761",
    "failsafe": "380292cf71e5",
    "balance": "1cec754b0a77",
    "range": "e47f1da0472a",
}


def test_a_digest_lasts() -> None:
    """If one changes here, so do all that people have: say in the changelog that they are stale."""
    assert {check: digest[:12] for check, digest in digests(clean()).items() if digest} == LASTING


def test_what_is_no_check() -> None:
    with pytest.raises(KeyError):
        path_of(clean()).digest("flight")


def test_every_check_of_the_schema() -> None:
    schema = json.loads(schema_text("setup"))
    assert set(CHECKS) == set(schema["$defs"]["sign_off"]["properties"]["check"]["enum"])


ALL = set(CHECKS)
WANTED = {
    "trainer": ALL,
    "wing": ALL,
    "plain": ALL - {"correction-direction", "states", "recovery"},
    "glow": ALL - {"correction-direction", "states", "recovery"},
    "glider": ALL - {"correction-direction", "states", "recovery"},
    "helicopter": ALL - {"recovery"},
    "multirotor": ALL - {"throws"},
}


@pytest.mark.parametrize("name", templates())
def test_what_each_model_wants(name: str) -> None:
    path = path_of(clean(name))
    assert set(path.wanted) == WANTED[name]
    assert {check for check in CHECKS if path.digest(check)} == WANTED[name]


def test_nothing_to_prove_without_a_receiver() -> None:
    document = clean("plain")
    del document["receiver"], document["servos"], document["speed_controls"]
    assert path_of(document).wanted == ("balance",)


def test_the_latest_sign_off_counts() -> None:
    entries = [
        {"check": "range", "by": by, "on": on, "digest": "0"}
        for by, on in (
            ("a", "2026-03-01"),
            ("b", "2026-04-01"),
            ("c", "2026-04-01"),
            ("d", "2025-01-01"),
        )
    ]
    path = path_of({**clean(), "sign_offs": entries})
    found = path.sign_off("range")
    assert found is not None
    assert (found.by, found.at) == ("c", "/sign_offs/2")
    assert path.sign_off("balance") is None


@pytest.mark.parametrize(("centre_us", "stale"), [(1500.04, False), (1500.06, True)])
def test_to_a_tenth_of_a_microsecond(centre_us: float, stale: bool) -> None:
    document = clean()
    del document["transmitter"]["output"]["steps"]
    before = digests(document)
    document["receiver"]["outputs"][2]["centre_us"] = centre_us
    after = digests(document)
    assert (before["failsafe"] != after["failsafe"]) is stale
    assert (before["throws"] != after["throws"]) is stale


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (1500.04, "1500.0"),
        (1500.06, "1500.1"),
        (-0.04, "0.0"),  # zero has no sign
        (-0.06, "-0.1"),
        (0.3 - 0.1 - 0.15, "0.1"),  # a half but for floating point, which makes it 0.04999999…
        (0.05, "0.1"),
        (0.0499996, "0.1"),  # within half a millionth of a half
        (0.0499994, "0.0"),
    ],
)
def test_a_tenth(value: float, told: str) -> None:
    assert repr(tenth(value)) == told


# --- key by key -----------------------------------------------------------------------------


class Row(NamedTuple):
    template: str
    pointer: str
    value: Any
    stale: frozenset[str]

    @property
    def name(self) -> str:
        return f"{self.template}{self.pointer}={json.dumps(self.value)[:40]}"


def rows() -> Iterator[Row]:
    template = ""
    for line in TABLES.splitlines():
        if line.startswith("On the template"):
            template = line.split("`")[1]
        if line.startswith("| `/"):
            found = re.fullmatch(r"\| `(.*?)` \| `(.*)` \| (.*?) \| .+ \|", line)
            assert found is not None, line
            stale = [] if found[3] == "nothing" else found[3].split(", ")
            yield Row(template, found[1], json.loads(found[2]), frozenset(stale))


ROWS = list(rows())


def there(document: Any, pointer: str) -> bool:
    try:
        patched(document, [{"op": "remove", "path": pointer}])
    except ValueError:
        return False
    return True


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_key_by_key(row: Row) -> None:
    document = clean(row.template)
    op = "replace" if there(document, row.pointer) else "add"
    changed = patched(document, [{"op": op, "path": row.pointer, "value": row.value}])
    before, after = digests(document), digests(changed)
    assert {check for check in CHECKS if before[check] != after[check]} == row.stale


def keys() -> Iterator[str]:
    """Every key of the schema that has a value of its own; `*` for a number or a name.

    Conditions are the same wherever they stand: their keys are told once.
    """
    schema = json.loads(schema_text("setup"))
    yield from _keys(schema, schema, "", ())


def _keys(schema: Any, node: Any, at: str, seen: tuple[str, ...]) -> Iterator[str]:
    inner = [(node[k], at) for k in ("then", "else") if k in node]
    inner += [(sub, at) for k in ("oneOf", "anyOf", "allOf") for sub in node.get(k, [])]
    inner += [(sub, f"{at}/{key}") for key, sub in node.get("properties", {}).items()]
    inner += [
        (node[k], f"{at}/*")
        for k in ("items", "additionalProperties")
        if isinstance(node.get(k), dict)
    ]
    if "$ref" in node:
        name = node["$ref"].rpartition("/")[2]
        if name not in seen:
            inner.append((schema["$defs"][name], at))
            seen = (*seen, name)
    if not inner and "$ref" not in node:
        yield at
    for sub, where in inner:
        yield from _keys(schema, sub, where, seen)


def shortened(pattern: str) -> str:
    """Without the numbers of a plain list; the axes say the same, and so does every condition."""
    pattern = re.sub(r"/expects/[^/]+", "/expects/*", pattern)
    return re.sub(r"(/\*)+$", "", re.sub(r"^.*/when/\*/", "/when/", pattern))


NAMING = r"^(/transmitter/(controls|output/native)|/receiver/failsafe/intended_states)/[^/]+"


def told(row: Row) -> Iterator[str]:
    """The keys that a row changes: the one that it names, its condition, and those in its value."""
    pattern = re.sub(NAMING, r"\1/*", re.sub(r"/\d+(?=/|$)", "/*", row.pointer))
    when = re.match(r".*/when(?=/)", pattern)
    yield from [when[0]] if when else []
    yield from (shortened(found) for found in _inside(pattern, row.value))


def _inside(pattern: str, value: Any) -> Iterator[str]:
    yield pattern
    if isinstance(value, dict):
        for key, inner in value.items():
            name = "*" if pattern.endswith("/native") else key
            yield from _inside(f"{pattern}/{name}", inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _inside(f"{pattern}/*", inner)


def test_no_key_is_left_out() -> None:
    wanted = {shortened(pattern) for pattern in keys()}
    shared = {"/transmitter/from", "/receiver/from", "/power/from"}  # test_a_shared_part
    left = wanted - {pattern for row in ROWS for pattern in told(row)} - shared
    assert left == set()
