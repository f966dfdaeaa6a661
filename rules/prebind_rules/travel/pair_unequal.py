"""Left and right of one function move by different amounts."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Place,
    Setting,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)
from prebind_rules.travel._scales import first_in_document, port_scales
from prebind_rules.travel._strokes import edge_up, own_controls, stroke, up_and_down

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import Path, ServoPath
    from prebind.rule import Example


class _Difference(NamedTuple):
    """How far left and right go one way, in µs, over the whole stick."""

    left_us: float
    right_us: float
    way: str
    stick: str

    @property
    def part(self) -> float:
        """The difference as a part of the larger, in percent."""
        larger = max(self.left_us, self.right_us)
        return 100 * abs(self.left_us - self.right_us) / larger if larger else 0.0


_IN_PAIRS = ("aileron", "flaperon", "elevator", "rudder", "elevon", "v-tail")


def _pairs(path: Path) -> Iterator[Place]:
    """Servos left and right whose surfaces have the same function, in document order.

    Then each servo of a surface that there is not: whose other side it may be, nobody knows.
    """
    surfaces = {surface.id: surface for surface in path.setup.surfaces or ()}
    sides: dict[tuple[str, str], list[ServoPath]] = {}
    for servo in path.servos:
        surface = surfaces.get(servo.entry.surface or "")
        if surface and surface.function in _IN_PAIRS and surface.side in ("left", "right"):
            sides.setdefault((surface.function, surface.side), []).append(servo)
    for function in dict.fromkeys(function for function, _ in sides):
        lefts, rights = sides.get((function, "left"), []), sides.get((function, "right"), [])
        for left, right in zip(lefts, rights, strict=False):
            first = min(left, right, key=path.servos.index)
            yield Place(first.at, (function, left, right))
    for servo in path.servos:
        if (servo.entry.surface or "") not in {"", *surfaces}:
            yield Place(servo.at, ("", servo, servo))


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/channels/2/travel_percent", {"low": 100, "high": 80}),
        start="glider",
        why="The left aileron goes 320 µs down, the right one 240 µs.",
        at="/channels/1/travel_percent",
        says=("aileron", "down", "320", "240"),
    )
    yield fails(
        put("/receiver/outputs/4/travel_percent", {"low": 80, "high": 80}),
        why="Both ailerons are on one channel, and the output of the left one takes 80 % of it.",
        at="/receiver/outputs/4/travel_percent",
        says=("aileron", "400", "320"),
    )
    yield passes(
        replace("/channels/2/travel_percent", {"low": 100, "high": 66}),
        start="glider",
        why="264 µs against 240 µs: 9.1 % of the larger.",
    )
    yield passes(
        put("/receiver/outputs/4/travel_percent", {"low": 80, "high": 80}),
        put("/surfaces/1/on_purpose", "The left wing has the longer aileron."),
        why="Meant so, and the reason is written down.",
    )
    yield passes(
        put("/receiver/outputs/4/travel_percent", {"low": 80, "high": 80}),
        replace("/servos/1/surface", "aileron-lft"),
        why="A letter is missing: which surface is the other side of the right aileron?",
        outcome="open",
    )


@rule(
    "travel/pair-unequal",
    word="caution",
    title="Left and right of one function move by different amounts",
    each=_pairs,
    needs=("receiver", "servos", "surfaces"),
    safety=(
        "A model whose left and right surfaces move unequally answers differently to each side, "
        "and rolls or swings when it is meant to pitch. Match both sides before the first flight."
    ),
    remedy=(
        "Make travel, sub-trim and mixes of the two sides alike, or, where the linkages differ and "
        "the surfaces do move equally, say so with `on_purpose` on the surface."
    ),
    bench=(
        "Propeller off. Move the stick to each end and measure the deflection of both surfaces, "
        "up against up and down against down."
    ),
    source="common practice, no source",
    settings={
        "difference_percent": Setting(
            10.0, "allowed difference, in % of the larger of the two", least=0
        )
    },
    examples=_examples,
)
def pair_unequal(place: Place, path: Path, settings: Settings) -> Answer:
    """Differential is fine: up may differ from down, as long as left does as right does.

    Compared are the pulses, so two sides of one linkage with different pulses move differently.
    Which pair a servo is of whose surface has a wrong name nobody knows, and that stays open.
    """
    function, left, right = place.entry
    if any(servo.surface and servo.surface.on_purpose for servo in (left, right)):
        return PASS
    differences = list(_differences(function, left, right, path))
    if not differences:
        return NOT_APPLICABLE
    worst = max(differences, key=lambda difference: difference.part)
    if worst.part <= settings["difference_percent"] + 0.001:
        return PASS
    side = 1 if worst.way in ("up", "left") else -1
    return Fail(
        f"With {worst.stick} at its end the left {function} goes {round(worst.left_us, 1):g} µs "
        f"{worst.way} and the right one {round(worst.right_us, 1):g} µs: "
        f"{round(worst.part, 1):g} % apart.",
        at=_cause(left, right, side, worst.stick, path) or place.at,
        evidence={
            "stick": worst.stick,
            "left_us": round(worst.left_us, 1),
            "right_us": round(worst.right_us, 1),
            "difference_percent": round(worst.part, 1),
        },
    )


def _differences(
    function: str, left: ServoPath, right: ServoPath, path: Path
) -> Iterator[_Difference]:
    ways = ("left", "right") if function == "rudder" else ("up", "down")
    channels = (*left.port.channels, *right.port.channels)
    for stick in dict.fromkeys(own_controls(function, channels, path)):
        on_left, on_right = stroke(left.port, stick, path), stroke(right.port, stick, path)
        if on_left and on_right and any(low < high for low, high in (on_left, on_right)):
            sides = zip(up_and_down(left, on_left), up_and_down(right, on_right), strict=True)
            both = zip(sides, ways, strict=True)
            yield from (_Difference(*both_us, way, stick) for both_us, way in both)


def _cause(left: ServoPath, right: ServoPath, side: int, stick: str, path: Path) -> str | None:
    """The first setting, in document order, in which the two sides differ."""
    ours, theirs = (
        {s.at: s.on(side * edge_up(servo)) for s in port_scales(servo.port, path, stick)}
        for servo in (left, right)
    )
    odd = [
        at
        for one, other in ((ours, theirs), (theirs, ours))
        for at, percent in one.items()
        if percent != 100 and percent not in other.values()
    ]
    return first_in_document([*odd, *_subtrims(left, right)])


def _subtrims(*servos: ServoPath) -> Iterator[str]:
    for servo in servos:
        for channel in servo.port.channels:
            if channel.entry.subtrim_percent:
                yield f"{channel.at}/subtrim_percent"
