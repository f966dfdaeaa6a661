"""Everything a sum of terms can be, over all positions of the controls that drive and choose them.

A term is a cubic of one control, chosen by the positions of others.  Terms that share a control
form a component; components are independent, so their ranges add.  Within a component the controls
that several terms share are enumerated; for a fixed value of those, a control that touches one term
is tried with that term alone.  Terms of one source count as one where all that one hangs on the
other does too.  Nothing is sampled.
"""

from __future__ import annotations

from collections import Counter
from itertools import combinations, pairwise, product
from math import nextafter, prod
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from prebind.path.conditions import Cell, Cells
from prebind.path.cubic import Cubics, roots
from prebind.path.facts import NotChecked, Position, fact
from prebind.record import record

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

Witness = Any
"""Control positions: a dict, or a sequence of witnesses of which the later ones count."""

Piece = tuple[float, float, bool, bool, Witness, Witness]
"""(low, high, low attained, high attained, witness of low, witness of high).

Between the two witnesses, moved in a straight line, every value between low and high is passed.
"""

End = tuple[float, bool, Witness]
"""(value, whether it is attained, witness)."""

SAME = 1e-9
"""Values this close, in percent, are one value spelt differently by floating point."""


@record
class Term:
    """`choose` gives the cubic that holds where the controls stand in the given cells."""

    source: str | None
    deps: frozenset[str]
    choose: Callable[[Cells], Cubics]

    @fact
    def chosen(self) -> tuple[tuple[str, ...], dict[tuple[Position, ...], Cubics]]:
        """Its dependencies, and the cubics by where those stand; filled as they are asked for."""
        return tuple(self.deps), {}


Varying = tuple[Term, tuple[str, ...]]
"""A term, and the controls that it hangs on and that are not held, in order of their names."""


@record
class Span:
    """What one component adds: its extremes, and its pieces where they are all known."""

    low: End
    high: End
    pieces: tuple[Piece, ...] | None


def flat(witness: Witness) -> dict[str, Position]:
    """One dict of all control positions that a witness is made of, the last word last."""
    found: dict[str, Position] = {}
    stack = [witness]
    while stack:
        top = stack.pop()
        if isinstance(top, dict):
            found.update(top)
        else:
            stack.extend(reversed(top))
    return found


def between(
    start: Mapping[str, Position],
    end: Mapping[str, Position],
    evaluate: Callable[[Mapping[str, Position]], float],
    target: float,
    share: float = 0.5,
) -> dict[str, Position]:
    """Positions on the straight line from one witness to another that give a value between theirs.

    `evaluate` gives the value, less than the target at the start; `share` is a first guess.
    """
    near, far = 0.0, 1.0
    best = dict(start)
    for _ in range(200):
        best = {
            control: position
            if isinstance(position, str) or isinstance(end.get(control, position), str)
            else position + share * (float(end.get(control, position)) - position)
            for control, position in start.items()
        }
        value = evaluate(best)
        if abs(value - target) <= SAME or share in (near, far):
            break
        if value < target:
            near = share
        else:
            far = share
        share = (near + far) / 2
    return best


def spans_of(
    terms: Iterable[Term], cells: Mapping[str, tuple[Cell, ...]], bound: int
) -> tuple[Span, ...]:
    """The independent components of a sum, each with its extremes in percent.

    `cells` gives each control's cells; one cell alone pins it.  Raises NotChecked where a component
    needs more than `bound` cells.
    """
    pinned = {control: of[0] for control, of in cells.items() if len(of) == 1}
    level = 0.0
    free: list[Varying] = []
    for term in terms:
        variables = {control for control in term.deps if len(cells[control]) > 1}
        source = term.source
        if source is not None and (source not in pinned or not pinned[source].point):
            variables.add(source)
        if variables:
            free.append((term, tuple(sorted(variables))))  # no witness may depend on hashes
        else:
            at = 0.0 if source is None else pinned[source].value
            level += term.choose(pinned)(at)
    still: End = (level, True, {})
    spans = [Span(still, still, ((level, level, True, True, {}, {}),))]
    spans += [_component(group, cells, pinned, bound) for group in _components(free)]
    return tuple(spans)


def _components(
    terms: Sequence[Varying],
) -> list[list[Varying]]:
    """Terms grouped so that no control appears in two groups."""
    groups: list[tuple[set[str], list[Varying]]] = []
    for term in terms:
        controls = set(term[1])
        members = [term]
        apart = []
        for group in groups:
            if group[0].isdisjoint(controls):
                apart.append(group)
            else:
                controls |= group[0]
                members = group[1] + members
        groups = [*apart, (controls, members)]
    return [members for _, members in groups]


def _component(
    terms: Sequence[Varying],
    cells: Mapping[str, tuple[Cell, ...]],
    pinned: Cells,
    bound: int,
) -> Span:
    uses = Counter(control for _, variables in terms for control in variables)
    named = [control for control, count in uses.items() if count > 1]
    terms = _bundled(terms)
    meet = Counter(control for _, variables in terms for control in variables)
    shared = [control for control in named if meet[control] > 1]
    left = bound
    spans = []
    if prod(len(cells[control]) for control in shared) > bound:
        raise _beyond(uses, cells)
    within = _Within(terms, named, shared, cells, pinned, bound)
    for chosen in product(*(range(len(cells[control])) for control in shared)):
        left -= within.cost
        if left < 0:
            raise _beyond(uses, cells)
        span = within(chosen)
        if span is not None:
            spans.append(span)
    return _union(spans)


def _bundled(terms: Iterable[Varying]) -> list[Varying]:
    """Terms of one source as one, where all that one hangs on the other does too.

    What only these share is then tried with them alone.
    """
    found: list[Varying] = []
    for term, controls in terms:
        for place, (other, its) in enumerate(found):
            if other.source == term.source and {*its, *controls} in ({*its}, {*controls}):
                found[place] = _together(other, term), max(its, controls, key=len)
                break
        else:
            found.append((term, controls))
    return found


def _together(one: Term, other: Term) -> Term:
    made: dict[tuple[int, int], tuple[Cubics, Cubics, Cubics]] = {}

    def choose(cells: Cells) -> Cubics:
        first, second = one.choose(cells), other.choose(cells)
        key = id(first), id(second)
        if key not in made:
            made[key] = first.plus(second), first, second  # kept, so that an id stays theirs
        return made[key][0]

    return Term(one.source, one.deps | other.deps, choose)


def _beyond(uses: Mapping[str, int], cells: Mapping[str, tuple[Cell, ...]]) -> NotChecked:
    controls = tuple(sorted(uses))
    count = prod(len(cells[control]) for control in controls)
    named = ", ".join(f"“{control}”" for control in controls)
    return NotChecked(
        f"not checked: {len(controls)} controls meet here in {count:,} combinations ({named})",
        controls,
        count,
    )


Option = tuple[Cubics, Witness]
"""One of the cubics that a term can be on a control, and the positions that choose it."""


def _at(places: list[int]) -> Callable[[tuple[int, ...]], object]:
    """What takes these out of a combination."""
    return itemgetter(*places) if places else lambda _: None


class _Within:
    """The sum where the shared controls stand in one cell each; None where it is as once before.

    What a term can be there hangs on the shared controls that bear on it alone, so it is worked out
    once for each of their cells, not for each combination of all.
    """

    def __init__(
        self,
        terms: Sequence[Varying],
        named: Sequence[str],
        shared: Sequence[str],
        cells: Mapping[str, tuple[Cell, ...]],
        pinned: Cells,
        bound: int,
    ) -> None:
        # Witnesses name these first, and in this order; a bundle says where its own stand.
        self._named = {control: cells[control][0].position for control in named}
        self._shared = shared
        self._places = {control: place for place, control in enumerate(shared)}
        self._cells = cells
        self._pinned = pinned
        self._bound = bound
        self._terms = [
            (
                term,
                _at([place for place, control in enumerate(shared) if control in variables]),
                [c for c in variables if c not in shared and c not in pinned],
            )
            for term, variables in terms
        ]
        self.cost = sum(prod(len(cells[c]) for c in private) for _, _, private in self._terms)
        self._known: dict[tuple[int, object], Span | list[Option]] = {}
        self._alike: dict[tuple[int, bool, float], Span | list[Option]] = {}
        self._on_one: dict[tuple[int, ...], Span] = {}
        self._summed: set[tuple[int, ...]] = set()

    def __call__(self, chosen: tuple[int, ...]) -> Span | None:
        """`chosen` has the place of each shared control's cell among its cells."""
        spans: list[Span] = []
        by_source: dict[str, list[list[Option]]] = {}
        for index, (term, its, private) in enumerate(self._terms):
            bearing = index, its(chosen)
            found = self._known.get(bearing)
            if found is None:
                here = {**self._pinned, **self._chosen(chosen)}
                found = self._known[bearing] = self._alternatives(index, term, private, here)
            if isinstance(found, Span):
                spans.append(found)
            else:
                by_source.setdefault(str(term.source), []).append(found)
        for source, lists in by_source.items():
            place = self._places.get(source)
            cell = self._pinned[source] if place is None else self._cells[source][chosen[place]]
            key = (id(cell), *map(id, lists))
            if key not in self._on_one:
                self._on_one[key] = _on_one_control(source, lists, cell, self._bound)
            spans.append(self._on_one[key])
        alike = tuple(map(id, spans))
        if alike in self._summed:
            return None
        self._summed.add(alike)
        stand = {control: cell.position for control, cell in self._chosen(chosen).items()}
        at_shared = {**self._named, **stand}
        low: End = (0.0, True, at_shared)
        high: End = (0.0, True, at_shared)
        for span in spans:
            low, high = _plus(low, span.low), _plus(high, span.high)
        sums = added(spans, self._bound)
        pieces = None if sums is None else tuple(_with(piece, at_shared) for piece in sums)
        return Span(low, high, pieces)

    def _chosen(self, chosen: tuple[int, ...]) -> dict[str, Cell]:
        its = zip(self._shared, chosen, strict=True)
        return {control: self._cells[control][place] for control, place in its}

    def _alternatives(
        self, index: int, term: Term, private: Sequence[str], here: Cells
    ) -> Span | list[Option]:
        """All that a term can add there, or what it can be on a control that others share."""
        source = term.source
        pieces: list[Piece] = []
        options: dict[int, Option] = {}
        for combination in product(*(self._cells[control] for control in private)):
            chosen = dict(zip(private, combination, strict=True))
            at = {**here, **chosen}
            cubics = term.choose(at)
            witness = {
                control: cell.position
                for control, cell in chosen.items()
                if control != source or cell.point
            }
            cell = at[source] if source is not None else _NOWHERE
            if cell.point:
                number = cubics(cell.value)
                pieces.append((number, number, True, True, witness, witness))
            elif source in chosen:
                pieces.append(_stretch(cubics, str(source), cell, witness))
            else:
                options.setdefault(id(cubics), (cubics, witness))
        found = list(options.values()) if options else _of(pieces)
        if private:
            return found
        # No other control has a say, so what is the same is the same to the last witness.
        same = pieces[0][0] if pieces else next(iter(options))
        return self._alike.setdefault((index, bool(options), same), found)


_NOWHERE = Cell("", 0.0, 0.0, 0.0)


def _with(piece: Piece, witness: Witness) -> Piece:
    lo, hi, lo_closed, hi_closed, at_lo, at_hi = piece
    return lo, hi, lo_closed, hi_closed, (witness, at_lo), (witness, at_hi)


def _plus(a: End, b: End) -> End:
    return a[0] + b[0], a[1] and b[1], (a[2], b[2])


def _stretch(cubics: Cubics, source: str, cell: Cell, witness: Witness) -> Piece:
    """What a control passes through on one stretch of its movement."""
    least, greatest = cubics.ends(cell.lo, cell.hi, cell.lo_closed, cell.hi_closed)
    return (
        least[0],
        greatest[0],
        least[2],
        greatest[2],
        (witness, {source: beside(least[1], least[2], cell)}),
        (witness, {source: beside(greatest[1], greatest[2], cell)}),
    )


def beside(u: float, attained: bool, cell: Cell) -> float:
    """The position itself or, for an open end, the next representable one inside the cell."""
    return u if attained else nextafter(u, cell.hi if u == cell.lo else cell.lo)


def _on_one_control(source: str, lists: list[list[Option]], cell: Cell, bound: int) -> Span:
    """Several terms on one continuous control, each with alternatives of its own.

    For a fixed position of the control every term takes its best alternative by itself, so the
    extremes come from the envelopes of the alternatives, not from all their combinations.
    """
    count = prod(len(options) for options in lists)
    meets_at_zero = cell.holds(0.0) and all(
        abs(cubics(0.0) - options[0][0](0.0)) <= SAME for options in lists for cubics, _ in options
    )
    if count <= 64 or (count <= bound and not meets_at_zero):
        pieces = []
        for combination in product(*lists):
            total = combination[0][0]
            for cubics, _ in combination[1:]:
                total = total.plus(cubics)
            pieces.append(_stretch(total, source, cell, [w for _, w in combination]))
        return _of(pieces)
    low = _best(source, lists, cell, least=True)
    high = _best(source, lists, cell, least=False)
    if not meets_at_zero:
        return Span(low, high, None)
    # All combinations agree where the control stands at 0: the union of their ranges has no hole.
    level = sum(options[0][0](0.0) for options in lists)
    zero = {source: 0.0}
    return Span(
        low,
        high,
        (
            (low[0], level, low[1], True, low[2], (low[2], zero)),
            (level, high[0], True, high[1], (high[2], zero), high[2]),
        ),
    )


def _best(source: str, lists: list[list[Option]], cell: Cell, *, least: bool) -> End:
    edges = {cell.lo, cell.hi}
    for options in lists:
        for (f, _), (g, _) in combinations(options, 2):
            for segment in f.minus(g).segments:
                edges.update(u for u in (segment[0], *roots(segment)) if cell.lo < u < cell.hi)
    ordered = sorted(edges)
    sign = -1 if least else 1
    best: End | None = None
    for a, b in pairwise(ordered):
        middle = (a + b) / 2
        chosen = [max(options, key=lambda o: sign * o[0](middle)) for options in lists]
        total = chosen[0][0]
        for cubics, _ in chosen[1:]:
            total = total.plus(cubics)
        ends = total.ends(a, b, a != cell.lo or cell.lo_closed, b != cell.hi or cell.hi_closed)
        value, u, attained = ends[0 if least else 1]
        if best is None or sign * value > sign * best[0] or (value == best[0] and attained):
            witness = [w for _, w in chosen] + [{source: beside(u, attained, cell)}]
            best = (value, attained, witness)
    assert best is not None  # a stretch has two ends
    return best


def _of(pieces: list[Piece]) -> Span:
    low = lowest((piece[0], piece[2], piece[4]) for piece in pieces)
    high = highest((piece[1], piece[3], piece[5]) for piece in pieces)
    return Span(low, high, tuple(tidy(pieces)))


def lowest(ends: Iterable[End]) -> End:
    """The lowest end; of ends that are one value but for floating point, an attained one."""
    return _outermost(ends, -1)


def highest(ends: Iterable[End]) -> End:
    return _outermost(ends, 1)


def _outermost(ends: Iterable[End], sign: int) -> End:
    best: End | None = None
    for end in ends:
        gain = 1.0 if best is None else sign * (end[0] - best[0])
        if gain > SAME or (gain > -SAME and best is not None and end[1] and not best[1]):
            best = end
    assert best is not None  # nobody asks for the end of nothing
    return best


def _union(spans: list[Span]) -> Span:
    if len(spans) == 1:
        return spans[0]
    low = lowest(span.low for span in spans)
    high = highest(span.high for span in spans)
    if any(span.pieces is None for span in spans):
        return Span(low, high, None)
    return Span(low, high, tuple(tidy([piece for span in spans for piece in span.pieces or ()])))


def tidy(pieces: list[Piece]) -> list[Piece]:
    """Sorted, without the pieces that lie within another one."""
    if len(pieces) == 1:
        return pieces
    pieces.sort(key=lambda p: (p[0], not p[2], -p[1], not p[3]))
    kept: list[Piece] = [pieces[0]]
    for piece in pieces[1:]:
        top = kept[-1]
        if piece[1] < top[1] or (piece[1] == top[1] and (top[3] or not piece[3])):
            continue
        if piece[0] == piece[1] and piece[1] - top[1] <= SAME and top[3]:
            continue
        kept.append(piece)
    return kept


def added(parts: Sequence[Span], bound: int) -> list[Piece] | None:
    """Every sum of one value from each part; None where they are beyond the bound."""
    total: list[Piece] = [(0.0, 0.0, True, True, {}, {})]
    left = bound
    for part in parts:
        left -= len(total) * len(part.pieces or ())
        if part.pieces is None or left < 0:
            return None
        total = tidy(
            [
                (
                    a[0] + b[0],
                    a[1] + b[1],
                    a[2] and b[2],
                    a[3] and b[3],
                    (a[4], b[4]),
                    (a[5], b[5]),
                )
                for a in total
                for b in part.pieces
            ]
        )
    return total


def cases(
    controls: Sequence[str], cells: Mapping[str, tuple[Cell, ...]], bound: int
) -> Iterator[dict[str, Cell]]:
    """Every joint cell of some controls.  Raises NotChecked beyond the bound."""
    if prod(len(cells[control]) for control in controls) > bound:
        raise _beyond(dict.fromkeys(controls, 1), cells)
    for combination in product(*(cells[control] for control in controls)):
        yield dict(zip(controls, combination, strict=True))
