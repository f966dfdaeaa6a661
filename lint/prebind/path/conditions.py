"""Controls, the cells their movement falls into, and the conditions that choose between them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from prebind.path.facts import NotKnown, Position
from prebind.record import record

if TYPE_CHECKING:
    from prebind.document.model import Condition, Control, Phase, Setup, When

CONTINUOUS = frozenset({"stick", "slider", "knob"})


@record
class Cell:
    """A position of a switch, or a stretch of a continuous control on which no condition changes.

    `position` stands for the whole cell where a condition is asked; `lo` to `hi` in percent.
    """

    position: Position
    value: float
    lo: float
    hi: float
    lo_closed: bool = True
    hi_closed: bool = True

    @property
    def point(self) -> bool:
        return self.lo == self.hi

    def holds(self, value: float) -> bool:
        above = self.lo < value or (self.lo == value and self.lo_closed)
        return above and (value < self.hi or (value == self.hi and self.hi_closed))


Cells = Mapping[str, Cell]


def point_cell(position: Position, value: float) -> Cell:
    return Cell(position, value, value, value)


def positions_of(control: Control) -> tuple[str, ...]:
    """A switch's or button's positions in order; none for a continuous control."""
    if control.kind == "button":
        return control.positions or ("released", "pressed")
    return control.positions or ()


def values_of(control: Control) -> tuple[float, ...]:
    """The percentage of each position, evenly spaced from −100 to +100 where none is given."""
    if control.values is not None:
        return control.values
    count = len(positions_of(control))
    return tuple(-100 + 200 * i / (count - 1) for i in range(count))


class Conditions:
    """Every `when` of one setup: what it depends on, and whether it holds."""

    def __init__(self, setup: Setup) -> None:
        self.controls = setup.transmitter.controls
        self.phases = setup.phases
        self._phase_at = {phase.name: i for i, phase in enumerate(setup.phases)}
        self._positions: dict[str, dict[Position, Cell]] = {}
        self._on: dict[tuple[object, ...], Phase | None] = {}
        self._asked: dict[tuple[str, ...] | None, tuple[tuple[Phase, ...], list[str]]] = {}

    def atoms(self, when: When) -> Iterable[Condition]:
        """The conditions on controls that a `when` comes down to, phases resolved.

        Raises NotKnown where it names a control, position or phase that does not exist.
        """
        for condition in when:
            if condition.phase is not None:
                yield from self._phase_atoms(condition.phase)
                continue
            control = self.controls.get(condition.control or "")
            if control is None:
                raise NotKnown(
                    f"a condition names the control “{condition.control}”, which does not exist",
                    (f"/transmitter/controls/{escape(condition.control or '')}",),
                )
            strange = set(condition.positions or ()) - set(positions_of(control))
            if strange:
                raise NotKnown(
                    f"a condition names the position “{min(strange)}” of “{condition.control}”, "
                    "which does not exist",
                    (f"/transmitter/controls/{escape(condition.control or '')}/positions",),
                )
            yield condition

    def _phase_atoms(self, names: tuple[str, ...]) -> Iterable[Condition]:
        strange = [name for name in names if name not in self._phase_at]
        if strange:
            raise NotKnown(
                f"a condition names the phase “{strange[0]}”, which does not exist", ("/phases",)
            )
        last = max(self._phase_at[name] for name in names)
        for phase in self.phases[: last + 1]:
            yield from self.atoms(phase.when)

    def depends(self, when: When) -> frozenset[str]:
        if not when:
            return frozenset()
        return frozenset(atom.control for atom in self.atoms(when) if atom.control)

    def holds(self, when: When, cells: Cells) -> bool:
        """Whether all conditions hold; `cells` must say where each control concerned stands."""
        for condition in when:
            if condition.phase is not None:
                phase = self.phase(cells, condition.phase)
                if phase is None or phase.name not in condition.phase:
                    return False
                continue
            cell = cells[condition.control or ""]
            if condition.positions is not None:
                if cell.position not in condition.positions:
                    return False
            elif condition.above_percent is not None:
                if not cell.value > condition.above_percent:
                    return False
            elif condition.below_percent is not None and not cell.value < condition.below_percent:
                return False
        return True

    def phase(self, cells: Cells, among: tuple[str, ...] | None = None) -> Phase | None:
        """The phase that is on, looking no further than the last of `among`."""
        asked = self._asked.get(among)
        if asked is None:
            asked = self._asked[among] = self._concerned(among)
        phases, controls = asked
        key = (len(phases), *[cells[control].position for control in controls])
        if key not in self._on:
            on = (phase for phase in phases if self.holds(phase.when, cells))
            self._on[key] = next(on, None)
        return self._on[key]

    def _concerned(self, among: tuple[str, ...] | None) -> tuple[tuple[Phase, ...], list[str]]:
        """The phases up to the last of `among`, and the controls that decide between them."""
        count = len(self.phases)
        if among is not None:
            count = 1 + max([self._phase_at[name] for name in among])
        phases = self.phases[:count]
        return phases, [*self.depends(tuple(it for phase in phases for it in phase.when))]

    def cells(self, control_id: str, thresholds: Iterable[float] = ()) -> tuple[Cell, ...]:
        """All the cells of a control; thresholds in percent split a continuous one."""
        control = self.controls.get(control_id)
        if control is None:
            raise NotKnown(
                f"the control “{control_id}” does not exist",
                (f"/transmitter/controls/{escape(control_id)}",),
            )
        if control.kind not in CONTINUOUS:
            return tuple(self._standing(control_id, control).values())
        cuts = sorted({t for t in thresholds if -100 <= t <= 100})
        if not cuts:
            return _WHOLE
        found: list[Cell] = []
        left = -100.0
        for cut in cuts:
            if cut > left:
                middle = (left + cut) / 2
                found.append(Cell(middle, middle, left, cut, not found, False))
            found.append(point_cell(cut, cut))
            left = cut
        if left < 100:
            middle = (left + 100) / 2
            found.append(Cell(middle, middle, left, 100.0, False, True))
        return tuple(found)

    def held(self, control_id: str, position: Position | Cell) -> Cell:
        """The cell of a control that stands at one position, a name or a percentage.

        Raises NotKnown for a position that the control does not have.
        """
        if isinstance(position, Cell):
            return position
        known = self._positions.get(control_id)
        if known is not None and position in known:
            return known[position]
        control = self.controls.get(control_id)
        if control is None:
            raise NotKnown(f"there is no control “{control_id}”", ("/transmitter/controls",))
        if isinstance(position, str):
            if control.kind not in CONTINUOUS:
                cell = self._standing(control_id, control).get(position)
                if cell is not None:
                    return cell
            raise NotKnown(
                f"the control “{control_id}” has no position “{position}”",
                (f"/transmitter/controls/{escape(control_id)}/positions",),
            )
        return point_cell(position, position)

    def _standing(self, control_id: str, control: Control) -> dict[Position, Cell]:
        """The cells of a switch or button, by position in its order."""
        found = self._positions.get(control_id)
        if found is None:
            values = zip(positions_of(control), values_of(control), strict=True)
            found = {position: point_cell(position, value) for position, value in values}
            self._positions[control_id] = found
        return found


_WHOLE = (Cell(0.0, 0.0, -100.0, 100.0),)


def escape(key: str) -> str:
    """A key as a reference token of a JSON Pointer (RFC 6901, 3)."""
    return key.replace("~", "~0").replace("/", "~1")
