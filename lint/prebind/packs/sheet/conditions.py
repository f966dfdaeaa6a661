"""Conditions on one value, such as `maximum` and `pattern`, judged by jsonschema-rs.

A pattern is one whose matching takes time in proportion to the text (no look-around, no
back-references), and small once its repeats are written out.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

MOST_CHARACTERS = 2000
"""Texts longer than this are not matched against patterns; no key of a setup has a longer one."""

_KEYWORDS = frozenset(
    {
        "type",
        "const",
        "enum",
        "minimum",
        "maximum",
        "exclusiveMinimum",
        "exclusiveMaximum",
        "minLength",
        "maxLength",
        "minItems",
        "maxItems",
        "uniqueItems",
        "minProperties",
        "maxProperties",
    }
)
_COMPILED_BYTES = 32 * 1024


class Conditions:
    """The conditions of one schema, patterns aside.

    `whole` says that they look at all that is in a value.
    """

    def __init__(self, schema: Mapping[str, Any]) -> None:
        asked = {keyword: value for keyword, value in schema.items() if keyword in _KEYWORDS}
        self._prepared = _prepared(asked) if asked else None
        self.whole = not {"const", "enum", "uniqueItems"}.isdisjoint(asked)

    def broken(self, value: Any) -> Sequence[str]:
        """The keywords that a value breaks."""
        if self._prepared is None:
            return ()
        with _TAMED:
            if self._prepared.is_valid(value):
                return ()
            return [error.kind.name for error in self._prepared.iter_errors(value)]


def fits(pattern: str, text: str) -> bool:
    """Whether a pattern is met with anywhere in a text.  Raises ValueError if it cannot be one."""
    with _TAMED:
        return bool(_matcher(pattern).is_valid(text))


@lru_cache(5000)
def _matcher(pattern: str) -> Any:
    return _prepared({"pattern": pattern})


def _prepared(schema: dict[str, Any]) -> Any:
    from jsonschema_rs import Draft202012Validator, RegexOptions

    options = RegexOptions(size_limit=_COMPILED_BYTES, dfa_size_limit=_COMPILED_BYTES)
    with _TAMED:
        return Draft202012Validator(schema, pattern_options=options)


class _Tamed:
    """A panic in Rust is no Exception, and would end the run: here it becomes a ValueError."""

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: type | None, error: BaseException | None, _: object) -> Literal[False]:
        if kind is not None and kind.__name__ == "PanicException":
            raise ValueError(f"the validator cannot cope with this: {error}") from None
        return False


_TAMED = _Tamed()
