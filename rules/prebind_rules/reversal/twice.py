"""reversal/twice"""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Cause, Fail, Fix, Settings, fails, passes, put, rule

if TYPE_CHECKING:
    from prebind import ChannelPath, Path, PortPath


@rule(
    "reversal/twice",
    word="notice",
    title="Reversed at the transmitter and again at the receiver",
    each="ports",
    needs=("receiver",),
    safety=(
        "Two reversals that cancel look right on the bench; whoever later takes one of them out, "
        "or copies this memory to another model, flies with the surface backwards. Prove every "
        "direction, propeller off, after each change."
    ),
    remedy=(
        "Take both reversals out, and set the failsafe value and the sub-trim of the channel anew. "
        "On a stabilised axis the correction turns round with the output: set the sense to match, "
        "and prove by hand, propeller off, that the surface works against a tilt."
    ),
    bench="Look up reversing in the transmitter's and in the receiver's menu for this channel.",
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/receiver/outputs/3/reversed", True),
            why="The rudder is reversed at the transmitter already.",
            at="/channels/3/reversed",
            says=("Channel 4", "output 4"),
            start="plain",
        ),
        fails(
            put("/transmitter/output/native", {"rudder": -1}),
            why="The radio sends the rudder the other way round, and the output is reversed too.",
            at="/channels/3",
            says=("Channel 4", "output 4", "by the radio itself"),
        ),
        passes(
            put("/channels/1/reversed", True),
            put("/receiver/outputs/2/reversed", True),
            why="One channel is reversed at the transmitter, another one's output at the receiver.",
            start="plain",
        ),
        passes(
            put("/transmitter/output/native", {"rudder": -1}),
            put("/channels/3/reversed", True),
            why="Reversing makes up for the radio's own direction: only the output turns it round.",
        ),
    ],
)
def twice(port: PortPath, path: Path, settings: Settings) -> Answer:
    """Reversing can stand in two places, and two of them cancel. The surface moves as it should,
    but the setup no longer says what the servo needs; the next one to tidy up either of them turns
    the surface round without noticing. Where the stabiliser was told to expect the channel the
    other way round, nothing cancels.
    """
    if not port.entry.reversed:
        return PASS
    turned = [c for c in port.channels if c.direction < 0 and not _expected(port, c)]
    return [_finding(port, channel, path) for channel in turned] or PASS


def _expected(port: PortPath, channel: ChannelPath) -> bool:
    """Whether the stabiliser was told that this channel arrives the other way round."""
    return any(axis.expected.direction == -1 for axis, _ in port.axes if axis.channel is channel)


def _finding(port: PortPath, channel: ChannelPath, path: Path) -> Fail:
    at = f"{channel.at}/reversed"
    where = "at the transmitter" if channel.entry.reversed else "by the radio itself"
    return Fail(
        f"Channel {channel.number} is turned round {where}, and output {port.number} is reversed "
        "at the receiver, so the two cancel.",
        at=at,
        evidence={"channel": channel.number, "port": port.number},
        fix=_fix(port, channel, path),
        because=Cause("reversal/stabilised-axis", at) if port.axes else None,
    )


def _fix(port: PortPath, channel: ChannelPath, path: Path) -> Fix | None:
    """Both taken out, where not a pulse changes by it: nothing else reads the channel."""
    readers = sum(channel in other.channels for other in path.ports)
    readers += sum(axis.channel is channel for axis in path.axes)
    readers += sum(selector.channel is channel for selector in path.selectors)
    travel = channel.entry.travel_percent
    if readers > 1 or channel.entry.subtrim_percent or travel.low != travel.high:
        return None
    if port.failsafe.action == "preset" and port.failsafe.us != port.centre_us:
        return None
    reversed_at = f"{channel.at}/reversed"
    return Fix(
        "safe",
        (
            {"op": "add", "path": reversed_at, "value": not channel.entry.reversed},
            {"op": "replace", "path": f"{port.at}/reversed", "value": False},
        ),
    )
