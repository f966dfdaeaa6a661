"""Whether a schema holds: yes, no, or not known, and where.

The language is the part of JSON Schema 2020-12 that `sheet.schema.json` allows, references already
followed.  Conditions on one value are jsonschema-rs's; what puts them together is done here, since
what is not known makes a third answer (Kleene's logic).  Where all is known the two agree.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from prebind.packs.sheet.conditions import MOST_CHARACTERS, Conditions, fits
from prebind.packs.sheet.laid import Unknown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from prebind.document.wording import Path as Way
    from prebind.packs.sheet.laid import Text

    _Look = tuple[type[Any], Callable[["Judge", Any, Any, Way], "Verdict"]]

Schema = dict[str, Any] | bool

MOST_STEPS = 100_000
"""How many steps one rule may take over one setup: each a schema laid against a value, or a
character looked at for a pattern."""

NOTES = frozenset({"title", "description", "$comment"})
"""Keywords that ask for nothing, as do all that begin with `x-`."""


class TooMuch(Exception):
    """The sheet and the setup together are beyond the bound."""


class Breach(NamedTuple):
    """A place that breaks a schema, and by which of its keywords.

    `key` is a key that is missing there, or has a wrong name.
    """

    way: Way
    keyword: str
    schema: Schema
    value: Any
    key: str | None = None


class Verdict(NamedTuple):
    """Broken where there is a breach; else not known where something unknown decides."""

    breaches: Sequence[Breach] = ()
    unknowns: Sequence[Unknown] = ()

    @property
    def holds(self) -> bool | None:
        """None: not known."""
        if self.breaches:
            return False
        return None if self.unknowns else True


HOLDS = Verdict()


class Plan(NamedTuple):
    """What a schema asks for: conditions on the value itself, and looks at what is in it."""

    conditions: Conditions
    looks: Sequence[_Look]


class Plans:
    """The plans of the schemas of one sheet, each made when it is first asked for."""

    def __init__(self) -> None:
        # By the identity of the schema, which the sheet keeps.
        self._made: dict[int, Plan | None] = {}

    def of(self, schema: dict[str, Any]) -> Plan | None:
        """None for a schema that asks for nothing."""
        if id(schema) not in self._made:
            looks = [_LOOKS[keyword] for keyword in schema if keyword in _LOOKS]
            self._made[id(schema)] = Plan(Conditions(schema), looks) if _asks(schema) else None
        return self._made[id(schema)]


class Steps:
    """How many are left of those that one rule may take over one setup."""

    def __init__(self, left: int = MOST_STEPS) -> None:
        self._left = left

    def spend(self, steps: int) -> None:
        """Raises TooMuch once there are none left."""
        self._left -= steps
        if self._left < 0:
            raise TooMuch


class Judge:
    """Lays schemas against one text.  Raises TooMuch beyond the bound."""

    def __init__(self, text: Text, plans: Plans, steps: Steps) -> None:
        self._text = text
        self._plans = plans
        self._spend = steps.spend

    def whole(self, schema: Schema) -> Verdict:
        return self._judge(schema, self._text.value, ())

    def _spend_on(self, value: Any) -> None:
        """For a look at all that is in a value."""
        waiting = [value]
        while waiting:
            self._spend(1)
            inner = waiting.pop()
            if isinstance(inner, dict | list):
                waiting += inner.values() if isinstance(inner, dict) else inner
            elif isinstance(inner, str):
                self._spend(len(inner) // 100)

    def _judge(self, schema: Schema, value: Any, way: Way) -> Verdict:
        self._spend(1)
        plan = None if isinstance(schema, bool) else self._plans.of(schema)
        if plan is None and schema is not False:
            return HOLDS
        if value is None or value == []:
            unknown = self._text.unsettled(way, value)
            if unknown is not None:
                return Verdict(unknowns=(unknown,))
        if plan is None:
            return Verdict((Breach(way, "false", schema, value),))
        if plan.conditions.whole:
            self._spend_on(value)
        broken = plan.conditions.broken(value)
        found = [Verdict([Breach(way, keyword, schema, value) for keyword in broken])]
        found += [
            look(self, schema, value, way) for of, look in plan.looks if isinstance(value, of)
        ]
        return _all(found)

    # Of texts

    def _pattern(self, schema: Any, value: str, way: Way) -> Verdict:
        if len(value) > MOST_CHARACTERS:
            message = f"{self._text.place(way)} is too long to be looked at"
            return Verdict(unknowns=(Unknown(message, self._text.at(way)),))
        self._spend(len(value))
        if fits(schema["pattern"], value):
            return HOLDS
        return Verdict((Breach(way, "pattern", schema, value),))

    # Of lists

    def _prefix_items(self, schema: Any, value: list[Any], way: Way) -> Verdict:
        pairs = enumerate(zip(schema["prefixItems"], value, strict=False))
        return _all(self._judge(each, entry, (*way, i)) for i, (each, entry) in pairs)

    def _items(self, schema: Any, value: list[Any], way: Way) -> Verdict:
        each, start = schema["items"], len(schema.get("prefixItems", ()))
        return _all(self._judge(each, value[i], (*way, i)) for i in range(start, len(value)))

    def _contains(self, schema: Any, value: list[Any], way: Way) -> Verdict:
        least, most = schema.get("minContains", 1), schema.get("maxContains", len(value))
        each = [self._judge(schema["contains"], entry, (*way, i)) for i, entry in enumerate(value)]
        surely = sum(verdict.holds is True for verdict in each)
        perhaps = sum(verdict.holds is not False for verdict in each)
        if perhaps < least:
            return Verdict((Breach(way, "contains", schema, value),))
        if surely > most:
            return Verdict((Breach(way, "maxContains", schema, value),))
        if surely >= least and perhaps <= most:
            return HOLDS
        return _open(each)

    # Of objects

    def _properties(self, schema: Any, value: dict[str, Any], way: Way) -> Verdict:
        return _all(
            self._judge(each, value[key], (*way, key))
            if key in value
            else self._left_out(each, value, key, way)
            for key, each in schema["properties"].items()
        )

    def _left_out(self, schema: Schema, owner: dict[str, Any], key: str, way: Way) -> Verdict:
        if schema is False or not _asks(schema):
            return HOLDS
        unknown = self._text.left_out(way, owner, key)
        return HOLDS if unknown is None else Verdict(unknowns=(unknown,))

    def _required(self, schema: Any, value: dict[str, Any], way: Way) -> Verdict:
        found = []
        for key in schema["required"]:
            if key in value:
                continue
            unknown = self._text.left_out(way, value, key)
            if unknown is None:
                found.append(Verdict((Breach(way, "required", schema, value, key),)))
            else:
                found.append(Verdict(unknowns=(unknown,)))
        return _all(found)

    def _pattern_properties(self, schema: Any, value: dict[str, Any], way: Way) -> Verdict:
        return _all(
            self._judge(each, inner, (*way, key))
            for pattern, each in schema["patternProperties"].items()
            for key, inner in value.items()
            if self._fits(pattern, key)
        )

    def _additional_properties(self, schema: Any, value: dict[str, Any], way: Way) -> Verdict:
        named, patterns = schema.get("properties", {}), schema.get("patternProperties", {})
        each = schema["additionalProperties"]
        return _all(
            self._judge(each, inner, (*way, key))
            for key, inner in value.items()
            if key not in named and not any(self._fits(pattern, key) for pattern in patterns)
        )

    def _property_names(self, schema: Any, value: dict[str, Any], way: Way) -> Verdict:
        each = schema["propertyNames"]
        return Verdict(
            [
                Breach((*way, key), "propertyNames", each, key, key)
                for key in value
                if self._judge(each, key, (*way, key)).holds is False
            ]
        )

    def _fits(self, pattern: str, key: str) -> bool:
        self._spend(1 + min(len(key), MOST_CHARACTERS))
        return fits(pattern, key[:MOST_CHARACTERS])

    # Of any value

    def _all_of(self, schema: Any, value: Any, way: Way) -> Verdict:
        return _all(self._judge(each, value, way) for each in schema["allOf"])

    def _any_of(self, schema: Any, value: Any, way: Way) -> Verdict:
        each = []
        for branch in schema["anyOf"]:
            each.append(self._judge(branch, value, way))
            if each[-1].holds:
                return HOLDS
        if any(verdict.holds is None for verdict in each):
            return _open(each)
        return _nearest(each, Breach(way, "anyOf", schema, value))

    def _one_of(self, schema: Any, value: Any, way: Way) -> Verdict:
        each = [self._judge(branch, value, way) for branch in schema["oneOf"]]
        surely = sum(verdict.holds is True for verdict in each)
        perhaps = sum(verdict.holds is not False for verdict in each)
        if surely > 1:
            return Verdict((Breach(way, "oneOf", schema, value),))
        if perhaps == 0:
            return _nearest(each, Breach(way, "anyOf", {"anyOf": schema["oneOf"]}, value))
        return HOLDS if surely == perhaps else _open(each)

    def _not(self, schema: Any, value: Any, way: Way) -> Verdict:
        inner = self._judge(schema["not"], value, way)
        if inner.holds:
            return Verdict((Breach(way, "not", schema, value),))
        return HOLDS if inner.holds is False else _open([inner])

    def _if(self, schema: Any, value: Any, way: Way) -> Verdict:
        asked = self._judge(schema["if"], value, way)
        ways = [self._judge(schema.get(key, True), value, way) for key in _BRANCHES[asked.holds]]
        if asked.holds is not None:
            return ways[0]
        if ways[0].holds is ways[1].holds is not None:
            return _all(ways)
        return _open([asked, *ways])


_BRANCHES: Mapping[bool | None, Sequence[str]] = {
    True: ("then",),
    False: ("else",),
    None: ("then", "else"),
}
_LOOKS: Mapping[str, _Look] = {
    "pattern": (str, Judge._pattern),
    "prefixItems": (list, Judge._prefix_items),
    "items": (list, Judge._items),
    "contains": (list, Judge._contains),
    "properties": (dict, Judge._properties),
    "required": (dict, Judge._required),
    "patternProperties": (dict, Judge._pattern_properties),
    "additionalProperties": (dict, Judge._additional_properties),
    "propertyNames": (dict, Judge._property_names),
    "allOf": (object, Judge._all_of),
    "anyOf": (object, Judge._any_of),
    "oneOf": (object, Judge._one_of),
    "not": (object, Judge._not),
    "if": (object, Judge._if),
}


def _asks(schema: Schema) -> bool:
    """Whether a schema asks for anything of a value that is there."""
    if isinstance(schema, bool):
        return not schema
    return any(key not in NOTES and not key.startswith("x-") for key in schema)


def _all(verdicts: Iterable[Verdict]) -> Verdict:
    breaches: list[Breach] = []
    unknowns: list[Unknown] = []
    for verdict in verdicts:
        breaches += verdict.breaches
        unknowns += verdict.unknowns
    return Verdict(breaches, unknowns) if breaches or unknowns else HOLDS


def _open(verdicts: Iterable[Verdict]) -> Verdict:
    """Not known, because of those verdicts that are not."""
    return Verdict(unknowns=[it for v in verdicts if v.holds is None for it in v.unknowns])


def _nearest(verdicts: Sequence[Verdict], here: Breach) -> Verdict:
    """Of branches that all fail, the one that was followed furthest; of those, the nearest miss."""

    def depth(verdict: Verdict) -> int:
        return max(len(breach.way) for breach in verdict.breaches)

    best = max(verdicts, key=lambda verdict: (depth(verdict), -len(verdict.breaches)))
    return best if depth(best) > len(here.way) else Verdict((here,))
