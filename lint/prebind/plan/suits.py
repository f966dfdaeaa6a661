"""Which control will do for which job, and in which bands a selector's states then lie.

What a position puts out is asked of the signal path, of a setup that has nothing but that channel.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any

from attrs import frozen

from prebind.document.model import (
    Band,
    Channel,
    Control,
    Model,
    Output,
    Receiver,
    Selector,
    Setup,
    Stabiliser,
    State,
    Transmitter,
)
from prebind.path import Path
from prebind.plan.needs import PURPOSE_FUNCTION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from prebind.path.selector import Selected
    from prebind.plan import wishes
    from prebind.plan.needs import Job, Selection
    from prebind.plan.wishes import Grip, Radio

MARGIN_US = 25.0
"""The least distance of a position's pulse from the edge of its band.  Common practice, no source.

The default of the rule `bands/thin-margin`."""

_CONTROL = "it"


@frozen
class Layout:
    """Where a selector's states lie when it is on a certain control.

    `bands`: for each state, from the lowest pulse up, its band as the setup document writes it.
    `positions`: for each position of the control, the place in `bands`; empty where it has none.
    """

    bands: tuple[Mapping[str, Any], ...]
    positions: tuple[int, ...]


def suits(job: Job, grip: Grip, radio: Radio, receiver: wishes.Receiver | None) -> bool:
    """Whether a job can be put on a control."""
    control = grip.control
    if "stick" in job.kinds:
        return control.kind == "stick" and control.axis == job.axis
    if control.kind == "stick":
        return False
    if grip.continuous:
        fits = "continuous" in job.kinds
    elif grip.sprung:
        fits = "sprung" in job.kinds and len(grip.positions) == 2
    else:
        fits = "switch" in job.kinds and len(grip.positions) >= job.positions
    if not fits or job.selection is None:
        return fits
    edges = receiver.edges_percent if receiver is not None else None
    return layout(job.selection, control, radio.output, edges) is not None


def layout(
    selection: Selection,
    control: Control,
    output: Output,
    edges: tuple[float, ...] | None = None,
) -> Layout | None:
    """The bands that give every state a place on this control with the margin, or None.

    `edges`: where the receiver splits the range, if that cannot be changed.
    """
    native = tuple(sorted(output.native.items()))
    bands = tuple(_written(state.band) for state in selection.states) if selection.fixed else None
    return _layout(
        len(selection.states),
        PURPOSE_FUNCTION[selection.purpose],
        bands,
        control,
        _Plain(output.centre_us, output.us_per_percent, output.limit_percent, output.steps, native),
        edges,
    )


@frozen
class _Plain:
    """A radio's scale as something that can be looked up."""

    centre_us: float
    us_per_percent: float
    limit_percent: float
    steps: int | None
    native: tuple[tuple[str, int], ...]

    @property
    def output(self) -> Output:
        return Output(
            self.centre_us, self.us_per_percent, self.limit_percent, self.steps, dict(self.native)
        )


def _written(band: Mapping[str, Any] | None) -> tuple[str, float, float]:
    assert band is not None
    unit = "us" if "us" in band else "percent"
    low, high = band[unit]
    return unit, float(low), float(high)


@lru_cache(4096)
def _layout(
    count: int,
    function: str,
    fixed: tuple[tuple[str, float, float], ...] | None,
    control: Control,
    plain: _Plain,
    edges: tuple[float, ...] | None,
) -> Layout | None:
    output = plain.output
    if fixed is not None:
        return _found(fixed, function, control, output)
    best: tuple[float, Layout] | None = None
    for bands in _proposals(count, function, control, output, edges):
        layout = _found(bands, function, control, output)
        if layout is None:
            continue
        margin = min(_margins(_selected(bands, function, control, output)), default=MARGIN_US)
        if best is None or margin > best[0] + 1e-9:
            best = margin, layout
    return best[1] if best else None


def _proposals(
    count: int,
    function: str,
    control: Control,
    output: Output,
    edges: tuple[float, ...] | None,
) -> list[tuple[tuple[str, float, float], ...]]:
    """Ways to cut the range into as many bands as there are states."""
    limit = output.limit_percent
    if edges is not None:
        inner = [list(cut) for cut in combinations(sorted(edges), count - 1)]
    elif control.kind in ("slider", "knob"):
        inner = [[round(-100 + 200 * i / count, 3) for i in range(1, count)]]
    else:
        percents = sorted(it.percent for it in _standing(function, control, output))
        between = [round((low + high) / 2, 3) for low, high in pairwise(percents)]
        inner = [list(cut) for cut in combinations(between, count - 1)]
    return [
        tuple(("percent", low, high) for low, high in pairwise([-limit, *cuts, limit]))
        for cuts in inner
    ]


def _found(
    bands: Sequence[tuple[str, float, float]], function: str, control: Control, output: Output
) -> Layout | None:
    """The layout, where every position selects one state with the margin, and all are selected."""
    found = _selected(bands, function, control, output)
    if any(len(it.states) != 1 for it in found):
        return None
    if {it.states[0] for it in found} != {str(i) for i in range(len(bands))}:
        return None
    if any(margin < MARGIN_US for margin in _margins(found)):
        return None
    written = tuple({unit: [low, high]} for unit, low, high in bands)
    if control.kind in ("slider", "knob"):
        return Layout(written, ())
    return Layout(written, tuple(int(it.states[0]) for it in found))


def _margins(found: Sequence[Selected]) -> list[float]:
    return [it.margin_us for it in found if it.margin_us is not None]


def _standing(function: str, control: Control, output: Output) -> tuple[Selected, ...]:
    """What each position puts out."""
    limit = output.limit_percent
    return _selected((("percent", -limit, limit),), function, control, output)


def _selected(
    bands: Sequence[tuple[str, float, float]], function: str, control: Control, output: Output
) -> tuple[Selected, ...]:
    states = tuple(
        State(str(i), "other", Band(**{unit: (low, high)}))
        for i, (unit, low, high) in enumerate(bands)
    )
    setup = Setup(
        Model("-", "aeroplane"),
        Transmitter(1, {_CONTROL: control}, output=output),
        (Channel(1, function, control=_CONTROL),),
        receiver=Receiver(1, (), stabiliser=Stabiliser((), (Selector("-", "other", 1, states),))),
    )
    return Path(setup).selectors[0].positions
