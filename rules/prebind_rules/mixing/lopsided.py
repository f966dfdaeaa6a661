"""mixing/lopsided"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from prebind.rule import (
    PASS,
    Answer,
    Fail,
    NotChecked,
    Open,
    Outcome,
    Place,
    Setting,
    Settings,
    fails,
    passes,
    put,
    rule,
)
from prebind_rules.mixing import _lean, _sources
from prebind_rules.mixing._at_most import at_most_us
from prebind_rules.mixing._way import rises

if TYPE_CHECKING:
    from prebind import ControlPath, Path, ServoPath


def _mix(source: str, to: int, percent: float) -> dict[str, object]:
    return {
        "name": f"{source} to channel {to}",
        "from": {"control": source},
        "to": to,
        "rate_percent": {"low": percent, "high": percent},
    }


@rule(
    "mixing/lopsided",
    word="warning",
    title="Flap, throttle or a switch moves left and right unequally",
    each=_lean.pairs,
    needs=("receiver", "servos", "surfaces"),
    settings={
        "most_percent": Setting(10, "greatest difference of left and right, % of full", least=0)
    },
    safety=(
        "A model that rolls by itself when flaps, brakes or throttle move is lost near the ground, "
        "where they are used. Propeller off, move each of them and look at both sides, before the "
        "first flight and after every change of a mix."
    ),
    remedy="Give both sides the same movement, or take the mix out; then look at both again.",
    bench=(
        "Propeller off, sticks for roll and yaw centred: move every other control through its "
        "whole range, in every flight phase, and see left and right move alike."
    ),
    source="common practice, no source",
    examples=lambda: [
        fails(
            put("/mixes", [_mix("throttle-stick", 2, 15)]),
            why="Throttle was mixed to the ailerons instead of the elevator.",
            at="/mixes/0/rate_percent",
            says=("throttle-stick", "aileron-left", "aileron-right", "120 µs", "60 %"),
            start="plain",
        ),
        fails(
            put(
                "/channels/1/trim_percent",
                [
                    {"percent": 6, "when": [{"control": "cut-switch", "positions": ["cut"]}]},
                ],
            ),
            why="A switch brings its own aileron trim.",
            at="/channels/1/trim_percent",
            says=("cut-switch", "24 µs", "12 %"),
            start="plain",
        ),
        fails(
            put("/receiver/outputs/6/reversed", False),
            why="One flap's output lost its reversing: one flap goes down, the other one up.",
            at="/receiver/outputs/6/reversed",
            says=("flap-left goes 400 µs up", "flap-right goes 400 µs down"),
            start="glider",
        ),
        passes(
            why="Both flaps go down, one of them over a reversed output.",
            start="glider",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 3, 15)]),
            why="The same mix, into the elevator.",
            start="plain",
        ),
        passes(
            put("/mixes", [_mix("throttle-stick", 2, 2.5)]),
            why="10 % of full apart between the ends, just within the limit.",
            start="plain",
        ),
        passes(
            put("/mixes", [_mix("roll-stick", 2, 15)]),
            why="The roll stick is there to move the two sides apart.",
            start="plain",
        ),
    ],
)
def lopsided(place: Place, path: Path, settings: Settings) -> Answer:
    """Flaps, airbrakes, throttle and flight phases may move ailerons, elevons or a tail along, both
    sides alike. Where one side moves more than the other, the model rolls or turns although neither
    was commanded: most often one mix of a pair that was forgotten or entered with another rate.
    """
    pair = place.entry
    full_us = 100 * path.setup.transmitter.output.us_per_percent
    least_us: float = settings["most_percent"] * full_us / 100
    bounds = cache(lambda: at_most_us(pair, _lean.commanding(path), path))

    def close(control: str) -> bool:
        return bounds()(control) <= least_us

    found: list[Outcome] = []
    for control in _lean.movers(pair, path):
        try:
            lean = _lean.worst(control, pair, path, close)
        except NotChecked as beyond:
            found.append(Open(beyond.message))
            continue
        percent = round(100 * lean.apart_us / full_us, 6)
        if percent > settings["most_percent"]:
            found.append(_finding(control, lean, percent, pair, path))
    return found or PASS


def _finding(
    control: ControlPath, lean: _lean.Lean, percent: float, pair: _lean.Pair, path: Path
) -> Fail:
    left, right = pair
    return Fail(
        f"As {control.id} goes from {_said(lean.start)} to {_said(lean.end)}, "
        f"{_moved(left, lean.left_us)} and {_moved(right, lean.right_us)}: "
        f"{round(percent, 1):g} % of full apart.",
        at=_cause(control.id, lean, pair, path),
        evidence={
            "controls": {**lean.others, control.id: lean.end},
            "from": lean.start,
            "left_us": lean.left_us,
            "right_us": lean.right_us,
            "percent": percent,
        },
    )


def _said(position: _lean.Position) -> str:
    return position if isinstance(position, str) else f"{position:g} %"


def _moved(servo: ServoPath, us: float) -> str:
    if not us:
        return f"{servo.entry.surface} stays"
    up, down = (
        ("open", "shut") if servo.entry.increasing_pulse in ("opens", "closes") else ("up", "down")
    )
    return f"{servo.entry.surface} goes {abs(us):.0f} µs {up if us > 0 else down}"


def _cause(name: str, lean: _lean.Lean, pair: _lean.Pair, path: Path) -> str:
    """The value that brings the movement: a mix, a trim, the channel's travel, or the output.

    Where the two go opposite ways one of them goes wrong, with a mix the one that goes up as the
    control rises: a flap or a droop goes down.
    """
    opposite = lean.left_us * lean.right_us < 0
    blamed = pair[lean.left_us < 0 :][:1] if opposite else pair
    channels = _lean.channels_of(blamed)
    numbers = {channel.number for channel in channels}
    for mix in path.setup.mixes:
        asked = {*path.depends(mix.when), _sources.control_of(mix, path)}
        if mix.to in numbers and name in asked:
            return f"{mix.at}/rate_percent"
    for channel in channels:
        if any(name in path.depends(trim.when) for trim in channel.entry.trim_percent):
            return f"{channel.at}/trim_percent"
    if pair[0].port.channel is not pair[1].port.channel:
        return f"{channels[0].at}/travel_percent"
    if not opposite:
        return f"{pair[0].port.at}/travel_percent"
    turned = (f"{servo.port.at}/reversed" for servo in pair if _against(servo))
    return next(turned, "/receiver/stabiliser/axes")  # the receiver gives it another sign


def _against(servo: ServoPath) -> bool:
    """Whether it goes against its function as the demand rises: a flap goes down, others up."""
    surface = servo.surface
    return rises(servo) != (-1 if surface is not None and surface.function == "flap" else 1)
