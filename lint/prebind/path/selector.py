"""One selector of the receiver: which state each reachable value selects, and by what margin."""

from __future__ import annotations

import itertools
from math import inf, prod
from typing import TYPE_CHECKING

from prebind.path.facts import Closed, fact
from prebind.path.scale import half_step_us, pulse
from prebind.path.sums import cases
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.document.model import Selector, State
    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.conditions import Cell
    from prebind.path.facts import Controls, Position
    from prebind.path.port import Action


DEAR = 20
"""How many cells' worth of work it is to say what one combination selects, and how safely."""

TIE = 1e-9
"""Band ends that lie exactly a tolerance apart may miss it by floating point, in µs."""


@record
class BandUs:
    """A state's band in µs, both ends its own as written."""

    state: State
    low_us: float
    high_us: float


@record
class Claim:
    """The pulses that count for a state: its band, with equality and shared ends settled."""

    state: str
    low: float
    high: float
    high_closed: bool

    def holds(self, us: float) -> bool:
        return self.low <= us and (us <= self.high if self.high_closed else us < self.high)


@record
class Selected:
    """What one combination of positions selects, or one stretch of a continuous control.

    A point has low and high equal; `margin_us` is None in a gap, an overlap, or on a stretch.
    """

    controls: Controls
    low_percent: float
    high_percent: float
    low_us: float
    high_us: float
    states: tuple[str, ...]
    margin_us: float | None

    @property
    def us(self) -> float:
        return self.low_us

    @property
    def percent(self) -> float:
        return self.low_percent

    @property
    def point(self) -> bool:
        return self.low_us == self.high_us


@record
class SelectorFailsafe:
    """The selector's part of the failsafe.

    A preset has `us`, `percent`, `states` and a margin; hold has every state it can be held in.
    """

    action: Action | None
    us: float | None = None
    percent: float | None = None
    states: tuple[str, ...] | None = None
    margin_us: float | None = None


class SelectorPath(Closed):
    """One entry of `/receiver/stabiliser/selectors`."""

    def __init__(self, path: Path, entry: Selector) -> None:
        self.path = path
        self.entry = entry
        self.name = entry.name
        self.at = entry.at

    @fact
    def channel(self) -> ChannelPath:
        return self.path.channel(self.entry.channel, f"{self.at}/channel")

    @fact
    def controls(self) -> tuple[str, ...]:
        """Its own controls: its channel's, and those in conditions of overrides on that channel."""
        channel = self.channel
        own = set(channel.built.override_controls)
        if channel.control is not None:
            own.add(channel.control)
        return tuple(c for c in self.path.conditions.controls if c in own)

    def state(self, name: str) -> State:
        return next(s for s in self.entry.states if s.state == name)

    def control_positions(self) -> int | None:
        """How many combinations its own controls have; None where one is continuous."""
        own = [self.path.control(control) for control in self.controls]
        if any(control.continuous for control in own):
            return None
        return prod(len(control.positions) for control in own)

    # Bands

    @fact
    def bands(self) -> tuple[BandUs, ...]:
        """Bands in µs in document order; a percent band is read on the transmitter's scale."""
        output = self.path.setup.transmitter.output
        found = []
        for state in self.entry.states:
            if state.band.us is not None:
                low, high = state.band.us
            else:
                low, high = (pulse(output, p) for p in state.band.percent or (0, 0))
            found.append(BandUs(state, low, high))
        return tuple(found)

    @fact
    def claims(self) -> tuple[Claim, ...]:
        """Where each state counts.  An end within the tolerance of another band's start is shared,
        and a value there belongs to the upper band.
        """
        tolerance = self.path.tolerance_us
        found = []
        for band in self.bands:
            high, closed = band.high_us + tolerance, True
            for above in self.bands:
                between = above.low_us - band.high_us
                if (
                    above is not band
                    and above.high_us > band.high_us
                    and (-tolerance - TIE <= between <= 2 * tolerance + TIE)
                ):
                    high, closed = above.low_us - tolerance, False
            found.append(Claim(band.state.state, band.low_us - tolerance, high, closed))
        return tuple(found)

    def states_at(self, us: float) -> tuple[str, ...]:
        """The states that claim a pulse: none in a gap, several in an overlap."""
        return tuple(claim.state for claim in self.claims if claim.holds(us))

    def margin_at(self, us: float) -> float | None:
        """Distance in µs to the nearest edge beyond which something else begins, less half a step.

        Edges at or beyond the transmitter's limits do not count.  None in a gap or an overlap, and
        where nothing else is in reach.
        """
        if len(self.states_at(us)) != 1 or not self._edges:
            return None
        nearest = min(abs(edge - us) for edge in self._edges)
        return max(0.0, nearest - half_step_us(self.path.setup.transmitter.output))

    @fact
    def _edges(self) -> list[float]:
        """Every edge within the transmitter's limits; beyond each another state begins, or none."""
        low, high = self.path.limit_us
        edges = {edge for band in self.bands for edge in (band.low_us, band.high_us)}
        return [edge for edge in edges if low < edge < high]

    # What can happen

    @fact
    def positions(self) -> tuple[Selected, ...]:
        """Every combination of the controls that influence the channel, in the controls' order.

        A continuous control gives one entry for each stretch of one state.  Raises NotChecked
        beyond the bound.
        """
        return self.positions_where({})

    def positions_where(self, fix: Controls) -> tuple[Selected, ...]:
        """The same with some controls held."""
        channel = self.channel
        cells = channel.cells(fix)
        found: list[Selected] = []
        for case in cases(channel.controls, cells, self.path.bound // DEAR):
            found += self._selected(channel, case)
        return tuple(found)

    def _selected(self, channel: ChannelPath, case: dict[str, Cell]) -> Iterator[Selected]:
        where: dict[str, Position] = {control: cell.position for control, cell in case.items()}
        if all(cell.point for cell in case.values()):
            stages = channel.stages(where)
            us, percent = stages.us, stages.output_percent
            margin = self._margin(channel, where, us)
            yield Selected(where, percent, percent, us, us, self.states_at(us), margin)
            return
        reach = channel.reach_where(case)  # type: ignore[arg-type]
        assert reach is not None  # the case itself is possible
        output = self.path.setup.transmitter.output
        for low, high, states in self._stretches(reach.low.us, reach.high.us):
            met = reach.met(low, high)
            if met is None:
                continue
            point = low == high
            yield Selected(
                {**where, **met[1]},
                (low - output.centre_us) / output.us_per_percent,
                (high - output.centre_us) / output.us_per_percent,
                low,
                high,
                states,
                self._margin(channel, {**where, **met[1]}, low) if point else None,
            )

    def _margin(
        self, channel: ChannelPath, where: Mapping[str, Position], us: float
    ) -> float | None:
        """The margin, unless a continuous control is on its way through this value."""
        here = channel.stages(where).unlimited
        beside = (
            {**where, control: min(max(at + nudge, -100.0), 100.0)}
            for control, at in where.items()
            if not isinstance(at, str)
            for nudge in (-1e-6, 1e-6)
        )
        if any(channel.stages(other).unlimited != here for other in beside):
            return None
        return self.margin_at(us)

    def _stretches(self, low: float, high: float) -> Iterator[tuple[float, float, tuple[str, ...]]]:
        """A range of pulses cut where the states change, which may be at an end itself."""
        edges = {low, high}
        edges.update(e for c in self.claims for e in (c.low, c.high) if low < e < high)
        start, states = low, self.states_at(low)
        for left, right in (*itertools.pairwise(sorted(edges)), (high, high)):
            then = self.states_at((left + right) / 2)
            if then != states:
                yield start, left, states
                start, states = left, then
        yield start, high, states

    @fact
    def reached(self) -> dict[str, Controls]:
        """State → positions that select it, for every state that something reachable selects.

        Raises NotChecked where membership is beyond the bound.
        """
        reach = self.channel.reach
        found: dict[str, Controls] = {}
        for claim in self.claims:
            met = reach.met(claim.low, claim.high, True, claim.high_closed)
            if met is not None:
                found[claim.state] = met[1]
        return found

    @fact
    def gap(self) -> tuple[float, Controls] | None:
        """A reachable pulse that no state claims, with its positions; None if there is none."""
        reach = self.channel.reach
        edge, edge_closed = -inf, False
        for claim in sorted(self.claims, key=lambda c: c.low):
            if claim.low > edge:
                met = reach.met(edge, claim.low, not edge_closed, False)
                if met is not None:
                    return met
            if (claim.high, claim.high_closed) > (edge, edge_closed):
                edge, edge_closed = claim.high, claim.high_closed
        return reach.met(edge, inf, not edge_closed, False)

    def claimed_by_both(self, one: str, other: str) -> tuple[float, float] | None:
        """The pulses that two states both claim, reachable or not; None where they do not meet."""
        a, b = (next(c for c in self.claims if c.state == name) for name in (one, other))
        low = max(a.low, b.low)
        high = min(a.high, b.high)
        return (low, high) if low < high else None  # an end that two share is the upper one's

    def overlap(self, one: str, other: str) -> tuple[float, Controls] | None:
        """A reachable pulse that two states both claim, with its positions, or None."""
        both = self.claimed_by_both(one, other)
        if both is None:
            return None
        a, b = (next(c for c in self.claims if c.state == name) for name in (one, other))
        closed = min((a.high, a.high_closed), (b.high, b.high_closed))[1]
        return self.channel.reach.met(both[0], both[1], True, closed)

    @fact
    def failsafe(self) -> SelectorFailsafe:
        """Raises NotKnown where the failsafe is not recorded."""
        entry = self.path.failsafe_entry(self.entry.channel)
        if entry is None:
            return SelectorFailsafe(None)
        if entry.action == "preset":
            us = self.path.preset_us(entry)
            return SelectorFailsafe(
                "preset", us, entry.output_percent, self.states_at(us), self.margin_at(us)
            )
        if entry.action == "hold":
            return SelectorFailsafe("hold", states=tuple(self.reached))
        return SelectorFailsafe("no-pulses")
