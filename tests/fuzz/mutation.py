"""Making near-valid texts out of valid ones: a few things in one are changed, the rest stays.

Most changes stay plausible, so that they get past the schema: a value that stood under the same key
elsewhere, a number near a bound, a name that is there.  Some are hostile.
"""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from copy import deepcopy
from random import Random
from typing import Any

from prebind_schemas import schema_text

Load = Callable[[bytes], Any]
Dump = Callable[[Any, Random], str]


class Raw(str):
    """Stands in a tree where something is written that is no value."""

    __slots__ = ()


HOSTILE_TEXTS = [
    "",
    " ",
    "x" * 200,
    "x" * 201,
    "x" * 5000,
    "\x00\x1b[2J\x07\x9b1m",
    "\u202egnp.\u2066",
    "\u2028\u2029\ufeff\ufffe\x85",
    "é" * 40 + "e\u0301" * 40,
    "🛩" * 50,
    "</style><script>alert(1)</script>",
    '" onmouseover="alert(1)" x="',
    "]]>--><!--",
    "| a | b |\n|---|---|\n# c\n",
    "[a](javascript:alert(1)) `b` <b> **c** ![d](e)",
    "{{ 7 * 7 }}{% raw %}{0.__class__}{x!r}",
    "%s%n%(x)s$HOME",
    "::error::x\r\n::set-output name=a::b",
    "../../../etc/passwd",
    "/dev/zero",
    "~1~0/a/b#c?d",
    "2026-13-45",
    "9999-12-31",
    "x-a",
    "x-",
    "0",
    "-0",
    "１２",
    "İıſK",
]
ODD_TEXT = [
    "NaN",
    "-Infinity",
    "1e999",
    "-1e-999",
    "1" * 39,
    "1" * 41,
    "0." + "3" * 60,
    "01",
    "1.",
    "'a'",
    '"\\ud800"',
    '"\\udc00\\ud800"',
    '"\\ud83d\\ude00"',
    '"\\u0000"',
    '"a\nb"',
    '"\\x"',
    "tru",
    "//",
    "/* */",
    "",
    ",",
    "[" * 70 + "]" * 70,
    '{"a":' * 63 + "1" + "}" * 63,
]
NUMBERS: list[Any] = [
    0,
    -0.0,
    1,
    -1,
    2,
    3,
    0.5,
    99.999999999,
    100.00000000000001,
    1e-9,
    5e-324,
    1e-308,
    1e15,
    1e16,
    9007199254740993,
    1e308,
    -1e308,
    10**20,
    2**63,
    2**64,
    0.1 + 0.2,
]


def loaded(data: bytes) -> Any:
    return json.loads(data)


def dumped(tree: Any, random: Random) -> str:
    """A tree as JSON in one of several layouts."""
    text = _written(tree)
    if random.random() < 0.5:
        return text
    try:
        plain = json.loads(text)
    except (ValueError, RecursionError):
        return text
    laid = json.dumps(
        plain, indent=random.choice([None, 1, 2, "\t"]), ensure_ascii=random.random() < 0.5
    )
    return laid.replace("\n", random.choice(["\n", "\n", "\r\n", "\r"]))


def _wrapped(brackets: str, parts: Iterable[str]) -> str:
    return f"{brackets[0]}{', '.join(parts)}{brackets[1]}"


def _written(tree: Any) -> str:
    if isinstance(tree, Raw):
        return str(tree)
    if isinstance(tree, dict):
        return _wrapped("{}", (f"{json.dumps(k)}: {_written(v)}" for k, v in tree.items()))
    if isinstance(tree, list):
        return _wrapped("[]", map(_written, tree))
    return json.dumps(tree)


def toml_loaded(data: bytes) -> Any:
    return tomllib.loads(data.decode())


def toml_dumped(tree: Any, random: Random) -> str:
    """A tree as TOML: tables of the first two levels under their own heads, or all inline."""
    inline = random.random() < 0.3
    lines, heads = [], []
    for key, value in tree.items():
        if isinstance(value, dict) and not inline:
            for name, table in value.items():
                if isinstance(table, dict):
                    heads.append(f"[{_toml(key)}.{_toml(name)}]")
                    heads += [f"{_toml(k)} = {_toml(v)}" for k, v in table.items()]
                else:
                    lines.append(f"{_toml(key)}.{_toml(name)} = {_toml(table)}")
        else:
            lines.append(f"{_toml(key)} = {_toml(value)}")
    return "\n".join([*lines, *heads]) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, dict):
        return _wrapped("{}", (f"{_toml(k)} = {_toml(v)}" for k, v in value.items()))
    if isinstance(value, list):
        return _wrapped("[]", map(_toml, value))
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return json.dumps(value, default=str)


def _nodes(tree: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    yield key, tree
    if isinstance(tree, dict):
        for name, inner in tree.items():
            yield from _nodes(inner, name)
    elif isinstance(tree, list):
        for inner in tree:
            yield from _nodes(inner, f"{key}[]")


def _places(tree: Any, key: str = "") -> Iterator[tuple[Any, Any, str]]:
    """(container, key or index, what the value is called) of everything but the top."""
    items = (
        tree.items()
        if isinstance(tree, dict)
        else enumerate(tree)
        if isinstance(tree, list)
        else ()
    )
    for step, inner in items:
        name = step if isinstance(step, str) else f"{key}[]"
        yield tree, step, name
        yield from _places(inner, name)


class Mutator:
    """Changes texts of one kind; `seeds` are what it takes values from.

    `below` keeps to one member of the top.
    """

    def __init__(
        self,
        seeds: Iterable[bytes],
        *,
        schema: str = "setup",
        load: Load = loaded,
        dump: Dump = dumped,
        below: str | None = None,
    ) -> None:
        self._load, self._dump, self._below = load, dump, below
        self._pool: dict[str, list[Any]] = {}
        for seed in seeds:
            try:
                tree = load(seed)
            except (ValueError, RecursionError):
                continue
            for key, value in _nodes(tree):
                self._pool.setdefault(key, []).append(value)
        self._words, self._numbers = _of_schema(schema)

    def mutated(self, data: bytes, random: Random) -> bytes:
        try:
            tree = self._load(data)
        except (ValueError, RecursionError):
            return scrambled(data, random)
        top = tree.get(self._below) if self._below and isinstance(tree, dict) else tree
        for _ in range(1 + min(7, int(random.expovariate(0.6)))):
            self._change(top, random)
        text = self._dump(tree, random)
        out = text.encode("utf-8", "surrogatepass")
        return scrambled(out, random) if random.random() < 0.06 else out

    def _change(self, tree: Any, random: Random) -> None:
        places = list(_places(tree))
        if not places:
            return
        box, step, name = random.choice(places)
        random.choices(*zip(*_WAYS, strict=True))[0](self, box, step, name, tree, random)

    # Ways to change one place

    def _from_elsewhere(self, box: Any, step: Any, name: str, _: Any, random: Random) -> None:
        if name in self._pool:
            box[step] = deepcopy(random.choice(self._pool[name]))

    def _one_more(self, box: Any, step: Any, name: str, _: Any, random: Random) -> None:
        inner = box[step]
        like = random.choice(self._pool.get(name, [inner]))
        if isinstance(inner, dict) and isinstance(like, dict) and like.keys() - inner.keys():
            key = random.choice(sorted(like.keys() - inner.keys()))
            inner[key] = deepcopy(like[key])
        elif isinstance(inner, list) and isinstance(like, list) and like:
            inner.insert(random.randint(0, len(inner)), deepcopy(random.choice(like)))

    def _gone(self, box: Any, step: Any, *_: Any) -> None:
        del box[step]

    def _again(self, box: Any, step: Any, name: str, tree: Any, random: Random) -> None:
        """Twice, in another order, or where something of the same name stands."""
        if isinstance(box, list) and random.random() < 0.7:
            box.insert(random.randint(0, len(box)), deepcopy(box[step]))
        elif isinstance(box, list):
            random.shuffle(box)
        else:
            others = [(b, s) for b, s, n in _places(tree) if n == name]
            other, at = random.choice(others)
            box[step], other[at] = deepcopy(other[at]), deepcopy(box[step])

    def _number(self, box: Any, step: Any, name: str, tree: Any, random: Random) -> None:
        value = box[step]
        if isinstance(value, bool) or not isinstance(value, int | float):
            if isinstance(value, bool):
                box[step] = not value
            else:
                self._from_elsewhere(box, step, name, tree, random)
            return
        near = [
            value + 1,
            value - 1,
            -value,
            value * 2,
            value / 2,
            math.nextafter(value, math.inf) if abs(value) < 1e300 else value,
            float(value) if abs(value) < 1e300 else value,
            round(random.uniform(-150, 150), random.randint(0, 3)),
        ]
        bounds = [*self._numbers, *NUMBERS]
        box[step] = random.choice(near) if random.random() < 0.6 else random.choice(bounds)

    def _name(self, box: Any, step: Any, _: str, tree: Any, random: Random) -> None:
        texts = sorted({v for _, v in _nodes(tree) if isinstance(v, str)})
        kinds = [texts or [""], self._words, HOSTILE_TEXTS]
        box[step] = random.choice(random.choices(kinds, [5, 2, 2])[0])

    def _everywhere(self, box: Any, step: Any, _: str, tree: Any, random: Random) -> None:
        """One name by another, wherever it stands, keys too: references still hold."""
        old = step if isinstance(step, str) and random.random() < 0.5 else box[step]
        if isinstance(old, str):
            new = random.choice(HOSTILE_TEXTS)
            for inner, at, _name in list(_places(tree)):
                if at in (inner if isinstance(inner, dict) else ()) and inner[at] == old:
                    inner[at] = new
                if at == old and isinstance(inner, dict) and new not in inner:
                    inner[new] = inner.pop(at)

    def _other_type(self, box: Any, step: Any, _: str, tree: Any, random: Random) -> None:
        values = [None, True, False, 0, -1.5, "a", [], {}, [[]], {"a": {}}, [None] * 3]
        box[step] = random.choice([*values, deepcopy(tree)])

    def _odd(self, box: Any, step: Any, _: str, __: Any, random: Random) -> None:
        twice = _wrapped("{}", ['"a": 1', f'"a": {_written(box[step])}'])
        box[step] = Raw(random.choice([random.choice(ODD_TEXT), twice]))

    def _many(self, box: Any, step: Any, _: str, __: Any, random: Random) -> None:
        inner, times = box[step], random.choice([5, 20, 60, 300])
        if isinstance(inner, list) and inner:
            box[step] = [deepcopy(random.choice(inner)) for _ in range(times)]
            for i, entry in enumerate(box[step]):
                _renumbered(entry, i)
        elif isinstance(inner, dict) and inner:
            for i in range(times):
                name, value = random.choice(list(inner.items()))
                inner[f"{name} {i}"] = deepcopy(value)

    def _crowd(self, _: Any, __: Any, ___: str, tree: Any, random: Random) -> None:
        """More switches in a setup, each with a say in some channel: what counts combinations."""
        try:
            controls = tree["transmitter"]["controls"]
            channels = [entry["channel"] for entry in tree["channels"]]
            mixes = tree.setdefault("mixes", [])
            names = [f"more {len(controls) + i}" for i in range(random.randint(1, 9))]
            for name in names:
                positions = ["a", "b", "c", "d"][: random.randint(2, 4)]
                controls[name] = {"kind": "switch", "positions": positions}
            to, one = random.choice(channels), random.random() < 0.7
            for name in names:
                low, high = random.choice([(1, 1), (-3, 5), (100, -100), (0.1, 33)])
                mix = {"name": f"mix of {name}", "to": to if one else random.choice(channels)}
                mix |= {"from": {"control": name}, "rate_percent": {"low": low, "high": high}}
                if random.random() < 0.3:
                    asked = random.choice([*controls])
                    mix["when"] = [{"control": asked, "positions": ["a"]}]
                mixes.append(mix)
        except (TypeError, LookupError, AttributeError):
            return  # no setup, or no longer one

    def _key(self, box: Any, step: Any, _: str, __: Any, random: Random) -> None:
        if isinstance(box, dict):
            keys = [*self._pool, *HOSTILE_TEXTS, "x-note", "__proto__", "from", str(step)[:-1]]
            box[random.choice(keys)] = box.pop(step)


_WAYS: Sequence[tuple[Any, int]] = [
    (Mutator._from_elsewhere, 24),
    (Mutator._one_more, 16),
    (Mutator._gone, 8),
    (Mutator._again, 10),
    (Mutator._number, 24),
    (Mutator._name, 10),
    (Mutator._everywhere, 4),
    (Mutator._other_type, 2),
    (Mutator._odd, 2),
    (Mutator._many, 2),
    (Mutator._key, 2),
    (Mutator._crowd, 3),
]


def _renumbered(entry: Any, number: int) -> None:
    """Gives an entry of a list a name or number of its own."""
    for key in ("channel", "port", "name", "id", "state"):
        if isinstance(entry, dict) and key in entry:
            entry[key] = number + 1 if isinstance(entry[key], int) else f"{entry[key]} {number}"
            return


def _of_schema(name: str) -> tuple[list[str], list[Any]]:
    words, numbers = set(), set()
    for key, value in _nodes(json.loads(schema_text(name))):
        if key in ("enum[]", "const") and isinstance(value, str):
            words.add(value)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            numbers.add(value)
    return sorted(words), sorted(numbers)


_TOKENS = [b"{", b"}", b"[", b"]", b",", b":", b'"', b"\\", b"\\u", b"null", b"1e9", b"//", b"\r"]
_TOKENS += [
    b"\xef\xbb\xbf",
    b"\xff\xfe",
    b"\x00",
    b"\xed\xa0\x80",
    b"\xc0",
    b"-",
    b"=",
    b"\n",
    b"#",
]


def scrambled(data: bytes, random: Random) -> bytes:
    """Some bytes changed, whatever they mean."""
    out = bytearray(data)
    for _ in range(random.randint(1, 4)):
        at = random.randint(0, len(out))
        way = random.randrange(6)
        if way == 0:
            del out[at : at + random.choice([1, 1, 1, 5, 200])]
        elif way == 1:
            out[at:at] = random.choice(_TOKENS)
        elif way == 2 and at < len(out):
            out[at] = random.randrange(256)
        elif way == 3:
            out[at:at] = out[at : at + random.choice([1, 10, 100])]
        elif way == 4:
            out[at:] = b"" if random.random() < 0.2 else out[at:]
        else:
            out[:0] = random.choice([b"\xef\xbb\xbf", b" ", b"\n", b""])
    return bytes(out)
