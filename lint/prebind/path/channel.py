"""One channel of the transmitter: its terms, and everything it can put out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.path import cubic
from prebind.path.apart import apart
from prebind.path.facts import Closed, Controls, NotChecked, NotKnown, Position, fact
from prebind.path.reach import Reach, Sum
from prebind.path.response import Response
from prebind.path.scale import Scale, pulse, scale_of
from prebind.path.shape import Shape, trim_in
from prebind.path.sums import Span, Term, Witness, cases, spans_of
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from prebind.document.model import Channel, Mix, Output, Override, When
    from prebind.path import Path
    from prebind.path.apart import Apart
    from prebind.path.conditions import Cell, Cells
    from prebind.path.cubic import Cubics
    from prebind.path.motor import MotorPath


@record
class Stages:
    """One channel in one situation, in percent and µs.

    Signal path: shape is after step 1, mixed after 3, demand after 5, unlimited after 7,
    output_percent after 9, us after 10.  `exact_us` is without steps: a receiver's sum of several
    channels is taken before rounding.
    """

    shape: float
    mixed: float
    demand: float
    unlimited: float
    output_percent: float
    us: float
    exact_us: float
    clipped_percent: float


@record
class Built:
    """A channel's parts: the driven shape, mixes and trim as terms, and what they depend on."""

    shape: Term | None
    mixes: tuple[Term, ...]
    trim: Term | None
    thresholds: Mapping[str, tuple[float, ...]]
    controls: tuple[str, ...]
    override_controls: tuple[str, ...]


class ChannelPath(Closed):
    """One entry of `/channels`.  Everything computed is computed once, when first asked for.

    Facts raise NotKnown where the entry's control, conditions or mixes name something that does not
    exist or the channel is made twice, and NotChecked beyond the bound on combinations.
    """

    def __init__(self, path: Path, entry: Channel) -> None:
        self.path = path
        self.entry = entry
        self.number = entry.channel
        self.function = entry.function
        self.side = entry.side
        self.output_scale: Output = path.setup.transmitter.output
        self.scale: Scale = scale_of(entry, self.output_scale)
        self._responses: dict[str, Response] = {}
        self._reaches: dict[tuple[object, ...], Reach | None] = {}
        self._stages: dict[tuple[Position, ...], Stages] = {}
        self.at = entry.at

    # What it is made of

    @property
    def direction(self) -> int:
        """Native direction and reversing together: +1 or −1."""
        return self.scale.direction

    @fact
    def control(self) -> str | None:
        """The control that drives it, through its input where there is one."""
        named = self.entry.control
        if named is None or named in self.path.conditions.controls:
            return named
        made = self.path.inputs.get(named)
        if made is None or made.control not in self.path.conditions.controls:
            raise NotKnown(
                f"channel {self.number} is driven by “{made.control if made else named}”, "
                "which does not exist",
                (f"{made.at if made else self.at}/control",),
            )
        return made.control

    @fact
    def mixes(self) -> tuple[Mix, ...]:
        """The mixes that end in this channel."""
        return tuple(mix for mix in self.path.setup.mixes if mix.to == self.number)

    @fact
    def motors(self) -> tuple[MotorPath, ...]:
        """The motors on ports whose own channel this is."""
        ports = {port.number for port in self.path.ports if port.entry.channel == self.number}
        return tuple(motor for motor in self.path.motors if motor.entry.port in ports)

    @fact
    def overrides(self) -> tuple[Override, ...]:
        return tuple(o for o in self.path.setup.overrides if o.channel == self.number)

    @fact
    def shape(self) -> Shape:
        """Step 1: the channel's own shape, or its input's with the input's trim."""
        made = self.path.inputs.get(self.entry.control or "")
        if made is not None:
            return self.path.input_shape(made)
        return Shape(self.path.conditions, self.entry.curves, self.entry.rates)

    @fact
    def built(self) -> Built:
        if self.path.made_twice(self.number):
            raise NotKnown(
                f"channel {self.number} is made by more than one entry of `channels`",
                ("/channels",),
            )
        conditions = self.path.conditions
        shape = self._shape_term(self) if self.control is not None else None
        mixes = tuple(self._mix_term(mix) for mix in self.mixes)
        trim_whens = [trim.when for trim in self.entry.trim_percent]
        trim = None
        if any(t.percent for t in self.entry.trim_percent):
            trim = Term(None, self._depends(trim_whens), self._trim)
        override_whens = [override.when for override in self.overrides]
        override_controls = tuple(sorted(self._depends(override_whens)))
        whens = [*self.shape.whens, *trim_whens, *override_whens]
        whens += [mix.when for mix in self.mixes]
        whens += [when for mix in self.mixes for when in self._source_whens(mix)]
        thresholds: dict[str, tuple[float, ...]] = {}
        for when in whens:
            for atom in conditions.atoms(when):
                for threshold in (atom.above_percent, atom.below_percent):
                    if threshold is not None and atom.control is not None:
                        thresholds[atom.control] = (
                            *thresholds.get(atom.control, ()),
                            threshold,
                        )
        involved = {t.source for t in (shape, *mixes) if t is not None and t.source is not None}
        for term in (shape, trim, *mixes):
            involved |= term.deps if term is not None else frozenset()
        involved.update(override_controls)
        ordered = tuple(c for c in conditions.controls if c in involved)
        return Built(shape, mixes, trim, thresholds, ordered, override_controls)

    @property
    def controls(self) -> tuple[str, ...]:
        """Every control that influences this channel, in the transmitter's order."""
        return self.built.controls

    def _depends(self, whens: Iterable[When]) -> frozenset[str]:
        found: frozenset[str] = frozenset()
        for when in whens:
            found |= self.path.conditions.depends(when)
        return found

    def _shape_term(self, channel: ChannelPath) -> Term:
        shape = channel.shape
        return Term(channel.control, self._depends(shape.whens), shape.choose)

    def _trim(self, cells: Cells) -> Cubics:
        return self.path.number(trim_in(self.path.conditions, self.entry.trim_percent, cells))

    def _source(self, mix: Mix) -> Term | None:
        """What a mix takes its value from; None for a channel that no control drives."""
        source = mix.source
        if source.channel is not None:
            channel = self.path.channel(source.channel)
            return self._shape_term(channel) if channel.control is not None else None
        if source.input is not None:
            made = self.path.inputs.get(source.input)
            if made is None:
                raise NotKnown(
                    f"the mix “{mix.name}” comes from the input “{source.input}”, "
                    "which does not exist",
                    (f"{mix.at}/from/input",),
                )
            if made.control not in self.path.conditions.controls:
                raise NotKnown(
                    f"the input “{made.id}” is on the control “{made.control}”, "
                    "which does not exist",
                    (f"{made.at}/control",),
                )
            shape = self.path.input_shape(made)
            return Term(made.control, self._depends(shape.whens), shape.choose)
        control = source.control or ""
        if control not in self.path.conditions.controls:
            raise NotKnown(
                f"the mix “{mix.name}” comes from the control “{control}”, which does not exist",
                (f"{mix.at}/from/control",),
            )
        return Term(control, frozenset(), lambda _: cubic.AS_IT_STANDS)

    def _source_whens(self, mix: Mix) -> list[When]:
        if mix.source.channel is not None:
            return self.path.channel(mix.source.channel).shape.whens
        if mix.source.input is not None and mix.source.input in self.path.inputs:
            return self.path.input_shape(self.path.inputs[mix.source.input]).whens
        return []

    def _mix_term(self, mix: Mix) -> Term:
        source = self._source(mix)
        holds = self.path.conditions.holds
        low, high = mix.rate_percent.low / 100, mix.rate_percent.high / 100
        made: dict[int, Cubics] = {}

        def choose(cells: Cells) -> Cubics:
            if mix.when and not holds(mix.when, cells):
                return cubic.ZERO
            taken = source.choose(cells) if source is not None else cubic.ZERO
            if id(taken) not in made:
                made[id(taken)] = taken.scaled_by_sign(low, high).shifted(mix.offset_percent)
            return made[id(taken)]

        deps = self.path.conditions.depends(mix.when)
        if source is None:
            return Term(None, deps, choose)
        return Term(source.source, deps | source.deps, choose)

    # What it can put out

    @fact
    def reach(self) -> Reach:
        """Everything reachable, overrides included."""
        found = self.reach_where()
        assert found is not None  # with nothing held, some combination always is possible
        return found

    @fact
    def free(self) -> Reach | None:
        """Everything reachable while no override of this channel holds; None if one always does."""
        return self.reach_where(overrides=False) if self.overrides else self.reach

    @property
    def may_clip(self) -> bool:
        """Whether the limit can cut something off, as far as that can be told: else it may."""
        try:
            return bool(self.reach.cut.percent)
        except NotChecked:
            return True

    def reach_where(
        self,
        fix: Mapping[str, Position] | None = None,
        when: When = (),
        overrides: bool = True,
        trim_percent: float | None = None,
    ) -> Reach | None:
        """Everything reachable with some controls held in `fix` and the conditions `when` holding.

        `overrides=False` leaves out the combinations in which an override of this channel holds;
        `trim_percent` puts the channel's trim there, whatever is recorded.  None where no
        combination satisfies that.
        """
        held = {c: fix[c] for c in self.asked_with(when) if c in fix} if fix else {}
        key = (tuple(held.items()), when, overrides, trim_percent)
        if key not in self._reaches:
            sums = self.sums(held, when, overrides, trim_percent)
            reach = Reach(sums, self.scale, self._us, self.path.bound) if sums else None
            self._reaches[key] = reach
        return self._reaches[key]

    def asked_with(self, when: When) -> Iterable[str]:
        """Every control that matters here: those of the channel, and those of a condition."""
        return (
            (*self.built.controls, *self.path.conditions.depends(when)) if when else self.controls
        )

    def _us(self, controls: Controls) -> float:
        """The pulse at a witness, which leaves out what does not matter there."""
        everywhere = {c: controls.get(c, self.path.control(c).rest) for c in self.controls}
        return self.stages(everywhere).us

    def cuts(self, when: When = ()) -> dict[str, tuple[float, ...]]:
        """Every control that matters, with the thresholds that split its movement, in percent."""
        found = {c: self.built.thresholds.get(c, ()) for c in self.built.controls}
        if not when:
            return found
        for atom in self.path.conditions.atoms(when):
            control = atom.control or ""
            asked = (t for t in (atom.above_percent, atom.below_percent) if t is not None)
            found[control] = (*found.get(control, ()), *asked)
        return found

    def cells(
        self, fix: Mapping[str, Position | Cell], when: When = ()
    ) -> dict[str, tuple[Cell, ...]]:
        """The cells of every control that matters, those in `fix` pinned to one."""
        conditions = self.path.conditions
        if not fix and not when:
            return dict(self._free_cells)
        return {
            control: (conditions.held(control, fix[control]),)
            if control in fix
            else conditions.cells(control, thresholds)
            for control, thresholds in self.cuts(when).items()
        }

    @fact
    def _free_cells(self) -> dict[str, tuple[Cell, ...]]:
        conditions = self.path.conditions
        return {control: conditions.cells(control, at) for control, at in self.cuts().items()}

    def sums(
        self,
        fix: Mapping[str, Position | Cell],
        when: When,
        overrides: bool,
        trim_percent: float | None = None,
    ) -> list[Sum]:
        """The demand as sums of independent spans, one for each case of the overrides."""
        conditions = self.path.conditions
        built = self.built
        cells = self.cells(fix, when)
        asked = dict.fromkeys((*built.override_controls, *conditions.depends(when)))
        known: set[tuple[int, ...]] = set()
        found: list[Sum] = []
        for case in cases(tuple(asked), cells, self.path.bound):
            if when and not conditions.holds(when, case):
                continue
            last = self.override("last", case)
            first = self.override("before-mixes", case)
            if (last or first) and not overrides:
                continue
            # What is as in a case before gives no other sums, and its witnesses come second.
            terms: list[Term] = []
            key: tuple[int, ...] = (id(last),)
            if last is None:
                terms = self.terms(first, trim_percent)
                matter = frozenset().union(*(t.deps | {t.source} for t in terms))
                key = (id(first), *[id(case[c]) for c in asked if c in matter])
            if key in known:
                continue
            known.add(key)
            where = {
                **{c: of[0].position for c, of in cells.items() if len(of) == 1 and of[0].point},
                **{control: cell.position for control, cell in case.items()},
            }
            if last is not None:
                found.append(Sum(_constant(last.demand_percent), where))
                continue
            asked_too = {c for term in terms for c in term.deps if len(cells[c]) == 1}
            where = {**{c: cells[c][0].position for c in sorted(asked_too)}, **where}
            here = {**cells, **{control: (cell,) for control, cell in case.items()}}
            found.append(Sum(spans_of(terms, here, self.path.bound), where))
        return found

    def override(self, acts: str, cells: Cells) -> Override | None:
        for override in self.overrides:
            if override.acts == acts and self.path.conditions.holds(override.when, cells):
                return override
        return None

    def terms(
        self, replaced: Override | None = None, trim_percent: float | None = None
    ) -> list[Term]:
        """What the demand is the sum of, with the shape replaced by an override before mixes."""
        built = self.built
        terms = [*built.mixes]
        if trim_percent is not None:
            terms.append(self._level(trim_percent))
        elif built.trim is not None:
            terms.append(built.trim)
        if replaced is not None:
            terms.append(self._level(replaced.demand_percent))
        elif built.shape is not None:
            terms.append(built.shape)
        return terms

    def _level(self, percent: float) -> Term:
        cubics = self.path.number(percent)
        return Term(None, frozenset(), lambda _: cubics)

    # One situation, and one control

    def stages(self, controls: Controls) -> Stages:
        """Plain forward evaluation; `controls` names every control that influences the channel."""
        key = tuple([controls[c] for c in self.built.controls])
        found = self._stages.get(key)
        if found is None:
            found = self._stages[key] = self._staged(key)
        return found

    def _staged(self, positions: tuple[Position, ...]) -> Stages:
        built = self.built
        where = dict(zip(built.controls, positions, strict=True))
        last = first = None
        if self.overrides:
            cells = self._standing(built.controls, where)
            last = self.override("last", cells)
            first = self.override("before-mixes", cells)
        shape = 0.0 if built.shape is None else self.adds(built.shape, where)
        driven = shape if first is None else first.demand_percent
        mixed = driven + sum([self.adds(mix, where) for mix in built.mixes])
        trim = 0.0 if built.trim is None else self.adds(built.trim, where)
        demand = mixed + trim if last is None else last.demand_percent
        unlimited = self.scale.unlimited(demand)
        percent = self.scale.limited(unlimited)
        limit = self.output_scale.limit_percent
        return Stages(
            shape,
            mixed,
            demand,
            unlimited,
            percent,
            pulse(self.output_scale, percent),
            pulse(self.output_scale, min(max(unlimited, -limit), limit)),
            max(0.0, abs(unlimited) - limit),
        )

    def _standing(self, controls: Iterable[str], where: Controls) -> dict[str, Cell]:
        held = self.path.conditions.held
        return {control: held(control, where[control]) for control in controls}

    def adds(self, term: Term, where: Controls) -> float:
        """What a term adds, in percent, where each control stands at one position."""
        deps, known = term.chosen
        key = tuple([where[control] for control in deps])
        cubics = known.get(key)
        if cubics is None:
            cubics = known[key] = term.choose(self._standing(deps, where))
        if term.source is None:
            return cubics(0.0)
        at = where[term.source]
        if isinstance(at, str):
            at = self.path.conditions.held(term.source, at).value
        return cubics(at)

    def apart(
        self, other: ChannelPath, weights: tuple[float, float], still: Collection[str]
    ) -> dict[str, Apart]:
        """How far its demand and another's can come apart at most, by the control that moves."""
        return apart(self, other, weights, still)

    def output(self, demand: float) -> float:
        """Percent of output for a demand: steps 6 to 9."""
        return self.scale.percent(demand)

    def pulse(self, demand: float) -> float:
        """The pulse in µs for a demand: steps 6 to 10."""
        return self.scale.us(demand)

    def response(self, control: str) -> Response:
        """How the output answers to one control, whatever the others do and no override holds."""
        if control not in self._responses:
            self._responses[control] = Response(self, control)
        return self._responses[control]


def _constant(demand: float) -> tuple[Span, ...]:
    end: tuple[float, bool, Witness] = (demand, True, {})
    return (Span(end, end, ((demand, demand, True, True, {}, {}),)),)
