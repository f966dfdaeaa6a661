"""The smallest set of changes that makes every sign right.

Each sign of the signal path is a product, so a change either flips it or leaves it:

- reversing a channel at the transmitter flips the commands that it carries;
- so does the sign of a mix's rates, for the one axis that it brings;
- reversing an output of the receiver flips the direct command and the correction there;
- the axis's sense flips its corrections;
- the sign with which the receiver gives an axis to a port flips its correction there and, where
  the receiver mixes, its direct command.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from prebind.record import Record, field, record
from prebind.rule import Fix, NotChecked, NotKnown
from prebind_rules.mixing._sources import control_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from prebind import AxisPath, ChannelPath, DirectionPath, Path, PortPath
    from prebind.model import Mix

Judged = TypeVar("Judged")

MOST_CHANGES = 6
"""A longer list is no help at the bench: better to begin again at the linkages."""

AFTERWARDS = "Then, propeller off, prove command and correction of every surface by hand again."


@record
class Change(Record):
    """A value that flips signs: where it stands, how to say it, and the JSON Patch for it."""

    at: str
    text: str = field(eq=False)
    operation: dict[str, Any] = field(eq=False)


@record
class Sign(Record):
    """A sign of one axis, and the changes that flip it; none where no change can mend it."""

    wrong: bool
    changes: tuple[Change, ...]

    def settled_by(self, made: Iterable[Change]) -> bool:
        return len(set(self.changes) & set(made)) % 2 == self.wrong


def arrival(axis: AxisPath) -> Sign | None:
    """The direction in which an axis's channel arrives, against the one that is expected."""
    expected = axis.expected.direction or 1
    signs = {sign * expected: controls for sign, controls in axis.direction.items()}
    return _of_several(signs, _of_command(axis.channel, axis.stick))


def direct(direction: DirectionPath) -> Sign | None:
    """The direct command; None where it never counts, or the control is dead."""
    if not direction.selectable_direct:
        return None
    axis, port = direction.axis_path, direction.port
    signs = direction.direct
    if axis is not None and port.mixed:
        command = _of_command(axis.channel, axis.stick)
        return _of_several(signs, (*command, _at_output(port), _at_port_sign(axis, port)))
    command = _of_command(port.channel, stick_of(direction))
    return _of_several(signs, (*command, _at_output(port)))


def correction(direction: DirectionPath) -> Sign | None:
    """The stabiliser's correction; None without a stabiliser."""
    axis, port = direction.axis_path, direction.port
    if axis is None or direction.correction is None:
        return None
    changes = (_at_output(port), _at_sense(axis), _at_port_sign(axis, port))
    return Sign(direction.correction < 0, changes)


def stick_of(direction: DirectionPath) -> str:
    """The stick whose command reaches the port."""
    controls = direction.port.channel.controls
    for stick in direction.path.sticks(direction.axis):
        if stick in controls:
            return stick
    axis = direction.axis_path
    return axis.stick if axis is not None else direction.path.stick(direction.axis)


def smallest(path: Path, start: Sign) -> tuple[Change, ...]:
    """The fewest changes that make `start` right with every known sign that hangs on it.

    In the order of the document; empty where no set of up to `MOST_CHANGES` does.
    """
    signs = _connected(start, _known_signs(path))
    for size in range(1, MOST_CHANGES + 1):
        found = _search(signs, (), size)
        if found:
            return tuple(sorted(found, key=_in_document))
    return ()


def place(made: Iterable[Change], wrong: Iterable[Sign], otherwise: str) -> str:
    """The first value changed for one of these signs; `otherwise` where no change mends them."""
    flips = {change for sign in wrong for change in sign.changes}
    return next((change.at for change in made if change in flips), otherwise)


def remedy(made: tuple[Change, ...]) -> str | None:
    """The changes as a sentence for the bench; None leaves the rule's own remedy."""
    if not made:
        return None
    text = "; ".join(change.text for change in made)
    return f"{text[0].upper()}{text[1:]}. {AFTERWARDS}"


def fix(made: tuple[Change, ...]) -> Fix | None:
    return Fix("decide", tuple(change.operation for change in made)) if made else None


def with_twins(made: tuple[Change, ...], axis: str, path: Path) -> tuple[Change, ...]:
    """Where a mix is turned, those of the axis's other backward sides too.

    One half of a pair turned alone would set left against right.
    """
    if not any(change.at.startswith("/mixes/") for change in made):
        return made
    sides = [known(direct, other) for other in path.directions if other.axis == axis]
    twins = [smallest(path, side) for side in sides if side and side.wrong]
    every = {change.at: change for changes in (made, *twins) for change in changes}
    return tuple(sorted(every.values(), key=_in_document))


def known(sign: Callable[[Judged], Sign | None], judged: Judged) -> Sign | None:
    """A sign, or None where the document does not settle it."""
    try:
        return sign(judged)
    except (NotKnown, NotChecked):
        return None


def _search(signs: list[Sign], made: tuple[Change, ...], left: int) -> tuple[Change, ...] | None:
    unsettled = next((sign for sign in signs if not sign.settled_by(made)), None)
    if unsettled is None:
        return made
    if left == 0:
        return None
    # An odd number of its changes is still missing, so one of them is in every solution.
    for change in unsettled.changes:
        if change in made:
            continue
        found = _search(signs, (*made, change), left - 1)
        if found is not None:
            return found
    return None


def _known_signs(path: Path) -> list[Sign]:
    signs = [known(arrival, axis) for axis in path.axes]
    for direction in path.directions:
        signs += (known(direct, direction), known(correction, direction))
    return [sign for sign in signs if sign is not None]


def _connected(start: Sign, signs: list[Sign]) -> list[Sign]:
    """The signs that share a change with `start`, directly or through others."""
    flips = set(start.changes)
    while True:
        joined = [sign for sign in signs if flips & set(sign.changes)]
        wider = flips.union(*(sign.changes for sign in joined))
        if wider == flips:
            return [start, *joined]
        flips = wider


def _of_several(signs: Mapping[int, Any], changes: tuple[Change, ...]) -> Sign | None:
    """One sign of those that occur; both at once are no matter of reversing."""
    if -1 in signs and 1 in signs:
        return Sign(True, ())
    if -1 in signs or 1 in signs:
        return Sign(-1 in signs, changes)
    return None


def _in_document(change: Change) -> list[str]:
    return [part.zfill(4) for part in change.at.split("/")]


def _on(value: bool) -> str:
    return "on" if value else "off"


def _at_transmitter(channel: ChannelPath) -> Change:
    at, wanted = f"{channel.at}/reversed", not channel.entry.reversed
    text = f"switch reversing of channel {channel.number} {_on(wanted)} at the transmitter"
    return Change(at, text, {"op": "add", "path": at, "value": wanted})


def _of_command(channel: ChannelPath, stick: str) -> tuple[Change, ...]:
    """What flips a stick's command in a channel: its reversing, or the one mix that brings it."""
    reversing = _at_transmitter(channel)
    mixes = [mix for mix in channel.mixes if control_of(mix, channel.path) == stick]
    if channel.control == stick or len(mixes) != 1:
        return (reversing,)
    return (reversing, _at_mix(mixes[0]))


def _at_mix(mix: Mix) -> Change:
    at, rate = f"{mix.at}/rate_percent", mix.rate_percent
    wanted = {"low": 0 - rate.low, "high": 0 - rate.high}
    text = f"turn the rates of the mix “{mix.name}” to {wanted['low']:g} and {wanted['high']:g} %"
    return Change(at, text, {"op": "replace", "path": at, "value": wanted})


def _at_output(port: PortPath) -> Change:
    at, wanted = f"{port.at}/reversed", not port.entry.reversed
    text = f"switch reversing of output {port.number} {_on(wanted)} at the receiver"
    return Change(at, text, {"op": "add", "path": at, "value": wanted})


def _at_sense(axis: AxisPath) -> Change:
    at = f"{axis.at}/sense"
    wanted = "normal" if axis.entry.sense == "reversed" else "reversed"
    text = f"set the stabiliser's sense on {axis.axis} to {wanted}"
    return Change(at, text, {"op": "replace", "path": at, "value": wanted})


def _at_port_sign(axis: AxisPath, port: PortPath) -> Change:
    index, entry = next((i, e) for i, e in enumerate(axis.entry.ports) if e.port == port.number)
    at, wanted = f"{axis.at}/ports/{index}", -entry.sign
    text = f"give port {port.number} the {axis.axis} axis with the sign {wanted:+d}"
    value = {"port": port.number, "sign": wanted}
    return Change(at, text, {"op": "replace", "path": at, "value": value})
