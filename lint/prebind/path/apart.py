"""How far the demands of two channels can come apart as one control moves, at most.

Terms on the same controls are taken together, so that what both channels have alike cancels; each
such bundle is taken where it does most by itself.  So nothing is multiplied out, and what is told
is a bound: no situation is beyond it, but none need reach it.
"""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, NamedTuple

from prebind.path.cubic import sum_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from prebind.path.channel import ChannelPath
    from prebind.path.conditions import Cell
    from prebind.path.cubic import Cubics
    from prebind.path.sums import Term


class Bundle(NamedTuple):
    """Terms of two channels that hang on the same controls and are driven by the same one."""

    source: str | None
    controls: tuple[str, ...]
    terms: tuple[list[Term], list[Term]]


class Apart(NamedTuple):
    """The greatest change of each demand, in percent, and of the difference of both, weighted."""

    first: float = 0.0
    second: float = 0.0
    difference: float = 0.0


def apart(
    first: ChannelPath, second: ChannelPath, weights: tuple[float, float], still: Collection[str]
) -> dict[str, Apart]:
    """By control, as it moves and all others stand anywhere, but those in `still` at rest.

    The difference is `weights[0]` times the first demand less `weights[1]` times the second.  A
    control that is left out moves neither.  Overrides are not looked at.
    """
    found: dict[str, Apart] = {}
    for bundle in _bundles(first, second):
        cells = [_cells(control, (first, second), still) for control in bundle.controls]
        here = _ranges(bundle, weights, cells)
        for control in bundle.controls:
            before = found.get(control, Apart())
            found[control] = Apart(*(a + b for a, b in zip(before, here, strict=True)))
    return found


def _bundles(first: ChannelPath, second: ChannelPath) -> Iterable[Bundle]:
    found: dict[tuple[str | None, frozenset[str]], Bundle] = {}
    for place, channel in enumerate((first, second)):
        for term in channel.terms():
            controls = term.deps if term.source is None else term.deps | {term.source}
            bundle = Bundle(term.source, tuple(sorted(controls)), ([], []))
            found.setdefault((term.source, term.deps), bundle).terms[place].append(term)
    return found.values()


def _cells(
    control: str, channels: Iterable[ChannelPath], still: Collection[str]
) -> tuple[Cell, ...]:
    """Where it can be: stretches on which no condition of either channel changes."""
    cuts: list[float] = []
    for channel in channels:
        path = channel.path
        cuts += channel.cuts().get(control, ())
    if control in still:
        return (path.conditions.held(control, path.control(control).rest),)
    return path.conditions.cells(control, cuts)


def _ranges(
    bundle: Bundle, weights: tuple[float, float], cells: Iterable[tuple[Cell, ...]]
) -> Apart:
    ends: tuple[list[float], list[float], list[float]] = ([], [], [])
    tried: dict[tuple[float, ...], list[list[Cubics]]] = {}  # most come down to few rates
    for combination in product(*cells):
        at = dict(zip(bundle.controls, combination, strict=True))
        low, high = (at[bundle.source].lo, at[bundle.source].hi) if bundle.source else (0.0, 0.0)
        chosen = [[term.choose(at) for term in terms] for terms in bundle.terms]
        alike = (low, high, *(id(cubics) for its in chosen for cubics in its))
        if alike in tried:
            continue
        tried[alike] = chosen
        first, second = (sum_of(its) for its in chosen)
        difference = first.scaled(weights[0]).minus(second.scaled(weights[1]))
        for its, cubics in zip(ends, (first, second, difference), strict=True):
            its += (end[0] for end in cubics.ends(low, high))
    return Apart(*(max(its) - min(its) for its in ends))
