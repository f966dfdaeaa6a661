"""What is written down and not worked out: the entries by which what a setup does is judged.

Names, notes and reasons are left out; they have no effect.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from attrs import fields, has

from prebind.path.facts import NotKnown

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from prebind.document.model import Receiver
    from prebind.path import Path
    from prebind.path.control import ControlPath

    Entries = Iterator[tuple[str, "Entry"]]


class Entry(NamedTuple):
    """`at` is its JSON Pointer; a key whose value is None is not recorded."""

    at: str
    keys: Mapping[str, Any]


def recorded(path: Path) -> dict[str, Entry]:
    """Entries by what they are called; what is left out and has a default is that."""
    found: dict[str, Entry] = {}
    for about, entry in _entries(path):
        name = about
        while name in found:
            name = f"{name} again"
        found[name] = entry
    return found


def _entries(path: Path) -> Entries:
    setup = path.setup
    radio = setup.transmitter
    yield "setup", Entry("", {"region": setup.region})
    yield "model", Entry("/model", plain(setup.model, "name"))
    its = plain(radio, "controls", "output", "start_checks")
    checks = None if radio.start_checks is None else sorted(radio.start_checks)
    yield "transmitter", Entry("/transmitter", {**its, "start_checks": checks})
    for control in path.controls.values():
        if control.jobs:
            yield f"control “{control.id}”", Entry(control.at, _control(control))
    for channel in setup.channels:
        keys = ("function", "side", "slow_s", "trim_range_percent")
        its = {key: getattr(channel, key) for key in keys}
        yield f"channel {channel.channel}", Entry(channel.at, its)
    for override in setup.overrides:
        yield f"override “{override.name}”", Entry(override.at, {"purpose": override.purpose})
    if setup.receiver is not None:
        yield from _receiver(path, setup.receiver)
    yield from _parts(path)
    if setup.power is not None:
        for name in ("receiver_supply", "flight_pack"):
            part = getattr(setup.power, name)
            if part is not None:
                yield name.replace("_", " "), Entry(f"/power/{name}", plain(part))


def _control(control: ControlPath) -> Mapping[str, Any]:
    return {
        "kind": control.entry.kind,
        "positions": list(control.positions) or None,
        "sprung": control.sprung,
        "axis": control.axis,
    }


def _receiver(path: Path, receiver: Receiver) -> Entries:
    failsafe, stabiliser = receiver.failsafe, receiver.stabiliser
    yield "receiver", Entry("/receiver", plain(receiver, "outputs", "failsafe", "stabiliser"))
    if failsafe is not None:
        at = "/receiver/failsafe"
        yield "failsafe", Entry(at, {"stored": failsafe.stored, "delay_s": failsafe.delay_s})
        for selector, state in failsafe.intended_states.items():
            yield f"failsafe of “{selector}”", Entry(at, {"intended_state": state})
    for axis in path.axes:
        its = plain(axis.entry, "axis", "ports")
        its |= {f"expects {key}": value for key, value in plain(axis.expected).items()}
        yield f"stabilised {axis.axis}", Entry(axis.at, its)
    for entry in stabiliser.selectors if stabiliser is not None else ():
        its = {"channel": entry.channel, "purpose": entry.purpose}
        yield f"selector “{entry.name}”", Entry(entry.at, its)


def _parts(path: Path) -> Entries:
    """What is plugged into ports, and what servos move."""
    for servo in path.servos:
        try:
            surface = servo.surface
        except NotKnown:
            surface = None
        moves = "" if surface is None else f" of “{surface.id}”"
        about = f"servo on port {servo.entry.port}{moves}"
        yield about, Entry(servo.at, plain(servo.entry, "port", "y_lead", "surface"))
    for motor in path.motors:
        about = f"{motor.kind} on port {motor.entry.port}"
        yield about, Entry(motor.at, plain(motor.entry, "port"))
    for surface in path.setup.surfaces or ():
        yield f"surface “{surface.id}”", Entry(surface.at, plain(surface, "id"))


def plain(entry: Any, *without: str) -> dict[str, Any]:
    """Every key of an entry and of those inside it, as plain values; texts of reasons left out."""
    found: dict[str, Any] = {}
    for name, value in shallow(entry, *without, "on_purpose").items():
        if has(type(value)):
            found |= {f"{name} {key}": inside for key, inside in plain(value).items()}
        else:
            found[name] = list(value) if isinstance(value, tuple) else value
    return found


def shallow(entry: Any, *without: str) -> dict[str, Any]:
    """What an entry of the model says, key by key."""
    names = [field.name for field in fields(type(entry)) if field.eq and field.name not in without]
    return {name: getattr(entry, name) for name in names}
