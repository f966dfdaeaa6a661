"""What stands in the cells of tables: numbers with their units, positions, states, and unknowns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from prebind.report.wording import clean, paragraph

if TYPE_CHECKING:
    from prebind.path import Path

UNKNOWN = "?"
NOTHING = "-"

NOTE = (
    "Worked out from what is written down; the model itself may differ. Prove it on the bench, "
    "propeller off and model restrained."
)
"""Below every trace."""


def title(path: Path, name: str, width: int) -> str:
    text = f"“{clean(path.setup.model.name)}”, {clean(name)}"
    return f"{paragraph(text, width)}{'=' * min(len(text), width)}\n"


def heading(text: str, width: int) -> str:
    return f"\n{paragraph(text, width)}\n"


def position(at: str | float | None) -> str:
    """Where a control stands."""
    if at is None:
        return NOTHING
    return at if isinstance(at, str) else percent(at)


def word(value: str | None, missing: str = UNKNOWN) -> str:
    return missing if value is None else value


def states(found: list[str] | None) -> str:
    """The states that a value selects."""
    if found is None:
        return UNKNOWN
    if not found:
        return "none: a gap"
    return found[0] if len(found) == 1 else f"{' and '.join(found)}: an overlap"


def percent(value: Any) -> str:
    """One value, or a stretch of them."""
    return _with_unit(value, "%")


def us(value: Any) -> str:
    """One pulse, or a stretch of them."""
    return _with_unit(value, "µs")


def deg(value: float | None) -> str:
    return UNKNOWN if value is None else f"{round(value, 1) + 0.0:+.1f}°"


def _with_unit(value: Any, unit: str) -> str:
    if value is None:
        return UNKNOWN
    if isinstance(value, list):
        return f"{_tenths(value[0])} to {_tenths(value[1])} {unit}"
    return f"{_tenths(value)} {unit}"


def _tenths(value: float) -> str:
    """Always one decimal place, so that columns of numbers line up."""
    return f"{round(value, 1) + 0.0:.1f}"
