"""What the formats of setup and trace say of their own keys: which there are, and what one that is
left out means.
"""

from __future__ import annotations

from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

from prebind.document.schema import whole

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    Node = Mapping[str, Any]

MISSING = object()

_SAYS_ITSELF = frozenset(
    {
        "above_percent",
        "arming",
        "at",
        "axis",
        "below_percent",
        "channel",
        "control",
        "curves",
        "direction",
        "input",
        "limit_us",
        "name",
        "on_purpose",
        "output_percent",
        "percent",
        "phase",
        "positions",
        "rates",
        "region",
        "slow_s",
        "stabiliser",
        "steps",
        "stop_below_us",
        "stopped_us",
        "us",
        "values",
    }
)
"""Keys that a setup leaves out to say that there is none: a channel that only mixes drive has no
`control`, a band in percent no `us`, a radio that does not round no `steps`."""

_INSTEAD = {
    "up": {"left", "right"},
    "down": {"left", "right"},
    "left": {"up", "down"},
    "right": {"up", "down"},
    "engine": {"speed_controls"},
    "speed_controls": {"engine"},
}
"""Keys that there are none of where one of others stands."""


class Shape:
    """What a format says may stand at one place."""

    def __init__(self, node: Node, defs: Node) -> None:
        self._node = _resolved(node, defs)
        self._defs = defs

    @property
    def default(self) -> Any:
        """What counts where the key is left out; MISSING where there is no default."""
        return self._node.get("default", MISSING)

    @cached_property
    def keys(self) -> dict[str, Shape]:
        """The keys that an object here may have besides those that begin with `x-`."""
        return {
            key: Shape(inner, self._defs)
            for node in self._branches()
            for key, inner in node.get("properties", {}).items()
        }

    @cached_property
    def named(self) -> Shape | None:
        """What stands under names of the document's own, as ids of controls are."""
        return self._first("additionalProperties")

    @cached_property
    def entry(self) -> Shape | None:
        """What an entry of a list here is."""
        return self._first("items")

    @cached_property
    def closed(self) -> bool:
        """Whether an object here has no other keys than `keys`, and those that begin with `x-`."""
        return bool(self.keys) and self.named is None

    @cached_property
    def words(self) -> frozenset[str]:
        """The words that a text here may be, besides those that begin with `x-`; empty: any."""
        return frozenset(
            word
            for node in self._branches()
            for word in (*node.get("enum", ()), node.get("const"))
            if isinstance(word, str)
        )

    def inside(self, step: str | int) -> Shape | None:
        """What stands under a key, or at a number; None where the format does not say."""
        if isinstance(step, int):
            return self.entry
        if step in self.keys:
            return self.keys[step]
        return None if step.startswith("x-") else self.named

    def _branches(self) -> Iterator[Node]:
        yield self._node
        for branch in self._node.get("anyOf", ()):
            yield _resolved(branch, self._defs)

    def _first(self, keyword: str) -> Shape | None:
        found = (node[keyword] for node in self._branches() if isinstance(node.get(keyword), dict))
        inner = next(found, None)
        return None if inner is None else Shape(inner, self._defs)


@cache
def setup() -> Shape:
    schema = whole("setup")
    return Shape(schema, schema["$defs"])


@cache
def trace() -> Shape:
    defs = whole("trace")["$defs"]
    return Shape(defs["trace"], defs)


def _resolved(node: Node, defs: Node) -> Node:
    """With its reference laid under it; a part that may be shared as it is once it is laid in."""
    while "$ref" in node:
        name = node["$ref"].rpartition("/")[2]
        node = {**defs[name], **{key: it for key, it in node.items() if key != "$ref"}}
    if "from" in node.get("if", {}).get("required", ()):
        return _resolved({**node["else"], "default": node.get("default", MISSING)}, defs)
    return node


def filled(value: Any, shape: Shape | None) -> Any:
    """A setup, or a part of one, with the defaults of the format written in."""
    if shape is None:
        return value
    if isinstance(value, list):
        return [filled(inner, shape.entry) for inner in value]
    if not isinstance(value, dict):
        return value
    full = {key: filled(inner, shape.inside(key)) for key, inner in value.items()}
    for key, inside in shape.keys.items():
        if key not in full and inside.default is not MISSING:
            full[key] = filled(inside.default, inside)
    return full


def known(shape: Shape | None, owner: Mapping[str, Any], key: str) -> bool:
    """Whether it is known what an object is that leaves this key out.

    It is where the key is none of the format's own, or leaving it out says that there is none.
    """
    if shape is None or key not in shape.keys or key in _SAYS_ITSELF:
        return True
    return bool(_INSTEAD.get(key, set()) & owner.keys())
