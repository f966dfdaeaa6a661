"""What a control's movement is made into before mixes: curves, rates and expo, an input's trim."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.path import cubic

if TYPE_CHECKING:
    from collections.abc import Sequence

    from prebind.document.model import Curve, Rate, Trim, When
    from prebind.path.conditions import Cells, Conditions
    from prebind.path.cubic import Cubics


class Shape:
    """The first curve that holds, else the first rate that holds, else 100 % without expo."""

    def __init__(
        self,
        conditions: Conditions,
        curves: Sequence[Curve] | None,
        rates: Sequence[Rate] | None,
        trims: Sequence[Trim] = (),
    ) -> None:
        self._conditions = conditions
        self._choices: list[tuple[When, Cubics]] = [
            *((c.when, cubic.straight_lines(c.points)) for c in curves or ()),
            *((r.when, cubic.rate_and_expo(r.rate_percent, r.expo_percent)) for r in rates or ()),
        ]
        self._default = not any(not when for when, _ in self._choices)
        self._trims = trims
        self._made: dict[tuple[int, float], Cubics] = {}

    @property
    def whens(self) -> list[When]:
        return [when for when, _ in self._choices] + [trim.when for trim in self._trims]

    def choose(self, cells: Cells) -> Cubics:
        chosen = cubic.AS_IT_STANDS
        for when, cubics in self._choices:
            if not when or self._conditions.holds(when, cells):
                chosen = cubics
                break
        trim = trim_in(self._conditions, self._trims, cells)
        if not trim:
            return chosen
        key = (id(chosen), trim)
        if key not in self._made:
            self._made[key] = chosen.shifted(trim)
        return self._made[key]

    def none_holds(self, cells: Cells) -> bool:
        """Whether rates are recorded and neither they nor a curve hold here."""
        return not any(self._conditions.holds(when, cells) for when, _ in self._choices)

    @property
    def may_lack_rate(self) -> bool:
        """Whether something is recorded, but nothing that always holds."""
        return bool(self._choices) and self._default


def trim_in(conditions: Conditions, trims: Sequence[Trim], cells: Cells) -> float:
    """The first trim that holds, in percent; 0 where none does."""
    for trim in trims:
        if not trim.when or conditions.holds(trim.when, cells):
            return trim.percent
    return 0.0
