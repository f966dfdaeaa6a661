"""The picture of a direction: the way from the stick, or from a turn, to the surface.

Each way is a line on two rails: on the one a pulse grows, or the model turns right, nose up or nose
right; on the other the opposite.  Where something turns the sign, the line changes rails.
"""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from attrs import frozen

from prebind.path.facts import NotChecked, NotKnown
from prebind.report.pictures.ruler import shortened
from prebind.report.wording import clean, where

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from prebind.path.channel import ChannelPath
    from prebind.path.direction import AxisPath, DirectionPath
    from prebind.path.facts import Controls

    Json = Mapping[str, Any]
    Signs = dict[int, Controls]

T = TypeVar("T")

Name = Literal["command", "target", "correction"]

_TOP = 44  # px: below the heads of the ways
_LINE = 16  # px: a line of text
_GAP = 14  # px: from row to row
_RAIL = 10  # px: from the middle of a way to either rail
_WAY = 60  # px: from way to way
_SIGNS = 25  # on a line of text beside the ways
_RESULT = 58  # px

_TURNS = {
    "roll": ("rolls right", "rolls left"),
    "pitch": ("turns nose up", "turns nose down"),
    "yaw": ("turns nose right", "turns nose left"),
}
_STICK = {"roll": "to the right", "pitch": "back", "yaw": "to the right"}
_RESULTS = {1: "right way", -1: "WRONG way", 0: "dead", None: "not known"}


@frozen
class Row:
    """Something on the way: what it does to the sign of each way that it concerns.

    A factor of 0 or None ends a way there: nothing moves, or it is not known.  `reverses`: it is
    set, or built, the other way round than as it comes.
    """

    heading: str
    text: str
    factors: Mapping[Name, int | None]
    reverses: bool = False


@frozen
class Step:
    """A row in its place; `lines` are its text, broken to fit beside the ways."""

    row: Row
    lines: list[str]
    y: int
    height: int


@frozen
class Node:
    """Where a row acts on a way, in px."""

    x: int
    y: int
    reverses: bool


@frozen
class Way:
    """One way, drawn as far as it is known.

    `signs` after each row that it passes, of which `begins` is the first; `result` is 1 right, −1
    wrong, 0 dead, None not known.
    """

    name: Name
    x: int
    begins: int
    signs: list[int]
    result: int | None
    points: list[tuple[int, int]]
    nodes: list[Node]

    @property
    def said(self) -> str:
        return _RESULTS[self.result]


@frozen
class DirectionPicture:
    axis: str
    port: int
    surface: str
    height: int
    result_y: int
    rails: tuple[int, int]
    steps: list[Step]
    ways: list[Way]
    notes: list[str]

    @property
    def title(self) -> str:
        return f"{self.axis.capitalize()} on port {self.port}: {self.surface}"

    @property
    def words(self) -> str:
        """The whole picture, for whoever hears it."""
        results = (f"{way.name.capitalize()}: {way.said}." for way in self.ways)
        rows = (f"{step.row.heading}: {step.row.text}." for step in self.steps)
        return " ".join((*results, *rows, *self.notes))


def direction_picture(direction: DirectionPath, trace: Json) -> DirectionPicture:
    """`trace` is the direction's entry in the trace."""
    facts = _Facts(direction, trace)
    steps = list(_steps(list(_rows(facts))))
    ways = [_way(facts, name, _WAY // 2 + _WAY * i, steps) for i, name in enumerate(facts.names)]
    end = steps[-1].y + steps[-1].height
    servo = direction.servo
    return DirectionPicture(
        direction.axis,
        direction.port_number,
        (servo.entry.surface if servo is not None else None) or "no surface recorded",
        end + _RESULT,
        end + 8,
        (_TOP - 8, end),
        steps,
        ways,
        [*_counting(direction, facts.names), *facts.notes],
    )


class _Facts:
    """One direction's facts, None where they are not known, and notes that say why."""

    def __init__(self, direction: DirectionPath, trace: Json) -> None:
        self.direction = direction
        self.names = _names(direction)
        self.notes: list[str] = []
        self.phys = self._ask(lambda: direction.phys)
        self.output = self._ask(lambda: -1 if direction.port.entry.reversed else 1)
        self.mixed = self.output is not None and direction.port.mixed
        self.channel = self._ask(self._commanding)
        self.stick = self._ask(lambda: _stick(direction, self.channel))
        self.command = self._ask(lambda: direction.command)
        self.target = self._ask(lambda: direction.target) if "target" in self.names else None
        self.results: dict[Name, int | None] = {
            "command": _result(trace["direct"], self.command, self.phys),
            "target": _result(trace["target"], self.target),
            "correction": trace["correction"],
        }
        self._two_ways()

    def _ask(self, fact: Callable[[], T]) -> T | None:
        try:
            return fact()
        except NotKnown as reason:
            self._note(f"{clean(reason.message)}.{f' {reason.bench}' if reason.bench else ''}")
        except NotChecked as reason:
            self._note(f"{clean(reason.message)}.")
        return None

    def _note(self, text: str) -> None:
        text = f"{text[:1].upper()}{text[1:]}"
        if text not in self.notes:
            self.notes.append(text)

    def _two_ways(self) -> None:
        if self.command is not None and {1, -1} <= self.command.keys() and self.arriving:
            shown, other = self.command[self.arriving], self.command[-self.arriving]
            self._note(
                f"Shown with {where(shown) or 'every control at rest'}; the command goes the other "
                f"way with {where(other) or 'every control at rest'}."
            )

    def _commanding(self) -> ChannelPath:
        """The channel that brings the command to this port."""
        axis = self.direction.axis_path
        return axis.channel if axis is not None and self.mixed else self.direction.port.channel

    @property
    def arriving(self) -> int | None:
        """The command's sign at the port, before the output: the one that the trace judges."""
        direct = self.results["command"]
        if direct is None or self.phys is None or self.output is None:
            return _judged(self.command)
        return direct * self.output * self.phys

    @property
    def sign(self) -> int:
        """The sign by which the stabiliser mixes the command into the port."""
        return self.direction.sign if self.mixed else 1

    @property
    def expected(self) -> int:
        axis = self.direction.axis_path
        return (axis.expected.direction or 1) if axis is not None else 1

    @property
    def target_beside(self) -> bool:
        """Whether the target comes by another channel than the command, or only it is known."""
        axis = self.direction.axis_path
        if axis is None or self.channel is None or self.command is None:
            return True
        return axis.entry.channel != self.channel.number


def _names(direction: DirectionPath) -> tuple[Name, ...]:
    """The ways that there are: a target only where some state may drive to one."""
    if direction.axis_path is None:
        return ("command",)
    if direction.path.flight_modes and not any(direction.target_counts.values()):
        return ("command", "correction")
    return ("command", "target", "correction")


def _judged(signs: Signs | None) -> int | None:
    """The sign that counts: any −1 is wrong; 0 where nothing moves anywhere."""
    return None if signs is None else next((sign for sign in (-1, 1) if sign in signs), 0)


def _result(traced: int | None, signs: Signs | None, phys: int | None = 1) -> int | None:
    if traced is None and signs is not None and phys is not None:
        return _judged(signs)
    return traced


# Rows


def _rows(facts: _Facts) -> Iterator[Row]:
    yield from _sending(facts)
    if facts.direction.axis_path is not None:
        yield from _stabilising(facts, facts.direction.axis_path)
    yield _output(facts)
    yield _surface(facts)


def _sending(facts: _Facts) -> Iterator[Row]:
    """From the stick to the air."""
    direction, channel, arriving = facts.direction, facts.channel, facts.arriving
    both: tuple[Name, ...] = ("command",)
    if "target" in facts.names and not facts.target_beside:
        both = ("command", "target")
    stick = f"“{shortened(facts.stick)}”" if facts.stick is not None else "the pilot’s stick"
    yield Row("Stick", f"{stick} {_STICK[direction.axis]}", dict.fromkeys(both, 1))
    if channel is None or not arriving:
        text = "dead: nothing moves" if arriving == 0 else "not known"
        yield Row("Transmitter", text, dict.fromkeys(both, arriving))
        return
    sent = arriving * facts.sign
    name = f"channel {channel.number}"
    if sent != channel.direction:
        yield Row(
            "Curves and mixes", f"they turn {name} round", dict.fromkeys(both, -1), reverses=True
        )
    if channel.scale.native < 0:
        text = f"this radio sends {shortened(channel.function, 20)} the other way round"
        yield Row("Native direction", text, dict.fromkeys(both, -1), reverses=True)
    yield _reversing("Transmitter", name, channel.entry.reversed, both)


def _reversing(heading: str, name: str, reverses: bool, ways: Sequence[Name]) -> Row:
    factors = dict.fromkeys(ways, -1 if reverses else 1)
    return Row(heading, f"{name}: {'REVERSED' if reverses else 'not reversed'}", factors, reverses)


def _stick(direction: DirectionPath, channel: ChannelPath | None) -> str | None:
    """The control that the command begins with."""
    sticks = direction.path.sticks(direction.axis)
    controls = channel.controls if channel is not None else ()
    return next((stick for stick in sticks if stick in controls), next(iter(sticks), None))


def _stabilising(facts: _Facts, axis: AxisPath) -> Iterator[Row]:
    if facts.mixed and facts.command is not None:
        text = f"the stabiliser mixes it into the port, sign {facts.sign:+d}"
        yield Row("Command", text, {"command": facts.sign}, facts.sign < 0)
    if "target" in facts.names:
        yield _targeting(facts, axis)
    way = (-1 if axis.entry.sense == "reversed" else 1) * facts.direction.sign
    text = (
        f"as the model {_turns(facts, 1)}, the stabiliser pushes against it: sense "
        f"{axis.entry.sense}, sign {facts.direction.sign:+d}"
    )
    yield Row("Correction", text, {"correction": -way}, way < 0)


def _targeting(facts: _Facts, axis: AxisPath) -> Row:
    text = f"the stabiliser expects direction {facts.expected:+d}"
    if not facts.target_beside:
        return Row("Target", text, {"target": facts.expected}, facts.expected < 0)
    arriving = facts.results["target"]
    if not arriving:
        return Row("Target", f"channel {axis.entry.channel}: not known", {"target": arriving})
    sent = arriving * facts.expected
    text = f"channel {axis.entry.channel} comes in direction {sent:+d}, {text.split(' ', 2)[2]}"
    return Row("Target", text, {"target": arriving}, arriving < 0)


def _output(facts: _Facts) -> Row:
    name, ways = f"port {facts.direction.port_number}", _to_surface(facts)
    if facts.output is None:
        return Row("Receiver output", f"{name}: not known", dict.fromkeys(ways, None))
    return _reversing("Receiver output", name, facts.output < 0, ways)


def _surface(facts: _Facts) -> Row:
    ways, servo = _to_surface(facts), facts.direction.servo
    if facts.phys is None or servo is None:
        return Row("Servo and surface", "not known", dict.fromkeys(ways, None))
    moves = clean(servo.entry.increasing_pulse).replace("-", " ")
    text = f"a growing pulse moves {moves}: the model {_turns(facts, facts.phys)}"
    return Row("Servo and surface", text, dict.fromkeys(ways, facts.phys))


def _to_surface(facts: _Facts) -> list[Name]:
    return [name for name in facts.names if name != "target"]


def _turns(facts: _Facts, sign: int) -> str:
    return _TURNS[facts.direction.axis][0 if sign > 0 else 1]


def _counting(direction: DirectionPath, names: Sequence[Name]) -> Iterator[str]:
    """In which states the signs count, where states decide that."""
    if direction.axis_path is None:
        return
    for name, direct in direction.direct_counts.items():
        said = f"In “{clean(name)}” the command counts in {_listed(direct)}"
        target = direction.target_counts.get(name, [])
        yield f"{said}, the target in {_listed(target)}." if "target" in names else f"{said}."


def _listed(states: Sequence[str]) -> str:
    return ", ".join(map(clean, states)) or "no state"


# Drawing


def _steps(rows: Sequence[Row]) -> Iterator[Step]:
    y = _TOP
    for row in rows:
        lines = wrap(row.text, _SIGNS, break_long_words=True)
        height = _LINE * (len(lines) + 1) + _GAP
        yield Step(row, lines, y, height)
        y += height


def _way(facts: _Facts, name: Name, x: int, steps: Sequence[Step]) -> Way:
    """The way from its first row to its last, or to where it is not known any more."""
    own = [i for i, step in enumerate(steps) if name in step.row.factors]
    begins, ends = own[0], own[-1]
    sign, signs = 1, list[int]()
    points: list[tuple[int, int]] = []
    nodes: list[Node] = []
    for step in steps[begins : ends + 1]:
        factor = step.row.factors.get(name, 1)
        before, top, bottom = x + _rail(sign), step.y, step.y + step.height
        points.append((before, top + 6))
        if not factor:
            break
        sign *= factor
        after = x + _rail(sign)
        points.append((after, bottom - 6))
        signs.append(sign)
        if name in step.row.factors:
            nodes.append(Node((before + after) // 2, (top + bottom) // 2, step.row.reverses))
    return Way(name, x, begins, signs, facts.results[name], points, nodes)


def _rail(sign: int) -> int:
    return -_RAIL if sign > 0 else _RAIL
