"""The constraints of one model on one transmitter, and what each preference loses.

Hands (jobs on controls) and lines (channels and ports) meet only in which wishes are granted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from attrs import frozen

from prebind.plan import solver
from prebind.plan.prefer import on_control, orders, with_order
from prebind.plan.suits import suits

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ortools.sat.python.cp_model import CpSolver

    from prebind.plan.needs import Decision, Job, Line, Needs, Selection
    from prebind.plan.wishes import Radio

SPARE_CHANNELS = 2
"""How many are wanted, as by default in the rule `capacity/spare`."""


@frozen(eq=False)
class Assignment:
    """What one model gets on one transmitter.

    `controls`: job → control; `channels`: line → channel; `ports`: line → ports; `orders`: selector
    → its states, from the lowest pulse up.  `dropped`: wishes left out where there was no room.
    `losses`: preference → what it loses.
    """

    needs: Needs
    radio: Radio
    controls: Mapping[str, str]
    channels: Mapping[str, int]
    ports: Mapping[str, tuple[int, ...]]
    orders: Mapping[str, tuple[str, ...]]
    dropped: tuple[str, ...]
    losses: Mapping[str, int]


class Program:
    """`granted`: wish → whether; `holds`: decision → whether; `loss`: preference → an expression.

    `usual`: role → the fleet's control for it.  `hands`, `lines`: which half of the constraints is
    wanted.  Raises NotInstalled.
    """

    def __init__(
        self,
        needs: Needs,
        radio: Radio,
        usual: Mapping[str, str] | None = None,
        *,
        hands: bool = True,
        lines: bool = True,
    ) -> None:
        self.needs = needs
        self.radio = radio
        self.cp = cp = solver.model()
        self.granted = {entry.id: cp.new_bool_var("") for entry in needs.entries}
        self.holds = {decision.id: cp.new_bool_var("") for decision in needs.decisions}
        self.loss: dict[str, Any] = {}
        self._usual = usual or {}
        self._on: dict[str, dict[str, Any]] = {}
        self._at: dict[str, dict[int, Any]] = {}
        self._plugged: dict[str, dict[int, Any]] = {}
        self._order: dict[str, list[tuple[tuple[str, ...], Any]]] = {}
        if hands:
            self._hands()
        if lines:
            self._lines()
        for entry in needs.entries:
            if entry.if_room:
                self._lose("kept-if-room", 1 - self.granted[entry.id])

    def grant_all(self, dropped: Iterable[str] | None = None) -> None:
        """Grants everything and lets everything decided hold.

        What may be left out is free, unless `dropped` says what is left out.
        """
        left_out = None if dropped is None else set(dropped)
        for entry in self.needs.entries:
            if left_out is not None:
                self.cp.add(self.granted[entry.id] == int(entry.id not in left_out))
            elif not entry.if_room:
                self.cp.add(self.granted[entry.id] == 1)
        for held in self.holds.values():
            self.cp.add(held == 1)

    def total(self, weights: Mapping[str, int]) -> Any:
        return sum(weights[name] * loss for name, loss in self.loss.items())

    def _lose(self, preference: str, amount: Any) -> None:
        self.loss[preference] = self.loss.get(preference, 0) + amount

    # Hands

    def _hands(self) -> None:
        cp, needs = self.cp, self.needs
        for job in needs.jobs:
            on = self._on[job.id] = {
                grip.id: cp.new_bool_var("")
                for grip in self.radio.grips.values()
                if suits(job, grip, self.radio, needs.receiver)
            }
            wanted = self._wanted(job)
            cp.add(sum(on.values()) == wanted)
            for name, var in on.items():
                for preference, amount in on_control(job, name, needs, self.radio, self._usual):
                    self._lose(preference, amount * var)
            if job.selection is not None:
                self._lie(job.selection, wanted)
            for decision in needs.decisions_on(job):
                beside = [var for name, var in on.items() if name != decision.control]
                if decision.control not in on:
                    beside = [wanted]
                for var in beside:
                    cp.add_at_most_one(var, self.holds[decision.id])
        for grip in self.radio.grips:
            cp.add_at_most_one(on[grip] for on in self._on.values() if grip in on)

    def _wanted(self, job: Job) -> Any:
        asking = [self.granted[entry] for entry in job.entries]
        if len(asking) == 1:
            return asking[0]
        wanted = self.cp.new_bool_var("")
        self.cp.add_max_equality(wanted, asking)
        return wanted

    def _lie(self, selection: Selection, wanted: Any) -> None:
        """Which way round the states lie."""
        today = self.needs.order_today(selection)
        found = [(order, self.cp.new_bool_var("")) for order in orders(selection, today)]
        self.cp.add(sum(var for _, var in found) == wanted)
        self._order[selection.name] = found
        for order, var in found:
            for preference in with_order(selection, order, today):
                self._lose(preference, 1 * var)

    # Lines

    def _lines(self) -> None:
        cp, needs = self.cp, self.needs
        numbers = range(1, min(self.radio.channels, needs.inputs) + 1)
        for line in needs.lines:
            granted = self.granted[line.entry]
            at = {n: cp.new_bool_var("") for n in numbers if needs.may_have(line, n)}
            self._at[line.id] = at
            cp.add(sum(at.values()) == granted)
            self._plug(line, granted)
            today = needs.today.channels.get(line.id) if needs.today else None
            if today in at:
                self._lose("few-changes", granted - at[today])
        for number in numbers:
            cp.add_at_most_one(at[number] for at in self._at.values() if number in at)
        for port in needs.ports:
            cp.add_at_most_one(it[port] for it in self._plugged.values() if port in it)
        for decision in needs.decisions:
            self._decide_line(decision)
        self._spare()

    def _plug(self, line: Line, granted: Any) -> None:
        plugged = {port: self.cp.new_bool_var("") for port in self.needs.ports_for(line)}
        self._plugged[line.id] = plugged
        self.cp.add(sum(plugged.values()) == line.servos * granted)
        for port, var in plugged.items():
            fixed = self.needs.ports[port]
            if fixed is not None:
                there = self._at[line.id].get(fixed)
                self.cp.add(var <= there if there is not None else var == 0)

    def _decide_line(self, decision: Decision) -> None:
        line = next((it for it in self.needs.lines if it.id == decision.what), None)
        if line is None:
            return
        held, granted = self.holds[decision.id], self.granted[line.entry]
        if decision.channel is not None:
            there = self._at[line.id].get(decision.channel)
            self.cp.add(granted + held <= 1 + (0 if there is None else there))
        if decision.port is not None:
            there = self._plugged[line.id].get(decision.port)
            self.cp.add(granted + held <= 1 + (0 if there is None else there))

    def _spare(self) -> None:
        most = self.radio.channels - SPARE_CHANNELS
        if len(self.needs.lines) > most:
            missing = self.cp.new_int_var(0, SPARE_CHANNELS, "")
            used = sum(self.granted[line.entry] for line in self.needs.lines)
            self.cp.add_max_equality(missing, [0, used - most])
            self._lose("spare-channels", 1 * missing)

    # What was found

    def in_order(self) -> list[Any]:
        """The choices in the order in which equal answers are told apart: the first wish on the
        first control, channel and port that it can have, then the second.
        """
        found: list[Any] = []
        tables: tuple[Mapping[str, Mapping[Any, Any]], ...] = (self._on, self._at, self._plugged)
        for table in tables:
            for row in table.values():
                found += row.values()
        for options in self._order.values():
            found += (var for _, var in options)
        return found

    def assignment(self, found: CpSolver) -> Assignment:
        chosen = found.boolean_value
        return Assignment(
            self.needs,
            self.radio,
            {job: name for job, on in self._on.items() for name, var in on.items() if chosen(var)},
            {line: n for line, at in self._at.items() for n, var in at.items() if chosen(var)},
            {
                line: tuple(port for port, var in of.items() if chosen(var))
                for line, of in self._plugged.items()
            },
            {
                name: order
                for name, options in self._order.items()
                for order, var in options
                if chosen(var)
            },
            tuple(entry for entry, var in self.granted.items() if not chosen(var)),
            {preference: found.value(of) for preference, of in self.loss.items()},
        )
