"""What a model needs, computed from its setup as it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.path.facts import NotChecked, NotKnown
from prebind.plan.needs import (
    CUT,
    FLIGHT_MODE,
    RECOVERY,
    Entry,
    Job,
    Kind,
    Line,
    Needs,
    Today,
)

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator

    from prebind.path import Path
    from prebind.path.channel import ChannelPath
    from prebind.path.control import ControlPath
    from prebind.path.control import Job as Work

_CUTS = frozenset({"throttle-cut", "throttle-hold"})
_NONE = 999  # inputs of a receiver that is not recorded: as many as there can be


def observed(path: Path, at: str = "") -> Needs:
    """The jobs that its controls do, and the channels that reach an output, axis or selector.

    `at` is where the wishes name the setup.
    """
    jobs = {control.id: _job(control, path, at) for control in _busy(path)}
    lines = tuple(_line(channel, jobs, at) for channel in _reaching(path))
    receiver = path.setup.receiver
    entries = [Entry(_entry(at, job.id), job.text) for job in jobs.values()]
    entries += [Entry(line.entry, line.id) for line in lines if line.job is None]
    return Needs(
        path.setup.model.name,
        at,
        tuple(entries),
        tuple(jobs.values()),
        lines,
        receiver.inputs if receiver is not None else _NONE,
        today=_today(path, jobs, lines),
    )


def _entry(at: str, name: str) -> str:
    return f"{at}#{name}"  # not a place of its own: the wishes name the whole setup


def _busy(path: Path) -> Iterator[ControlPath]:
    return (control for control in path.controls.values() if control.jobs)


def _reaching(path: Path) -> Iterator[ChannelPath]:
    receiver = path.setup.receiver
    if receiver is None:
        yield from path.channels
        return
    taken = {port.entry.channel for port in path.ports}
    taken |= {axis.entry.channel for axis in path.axes}
    taken |= {selector.entry.channel for selector in path.selectors}
    met: set[int] = set()
    for channel in path.channels:
        if channel.number in taken and channel.number not in met:
            met.add(channel.number)
            yield channel


def _line(channel: ChannelPath, jobs: dict[str, Job], at: str) -> Line:
    job = jobs.get(_control_of(channel) or "")
    name = _name(channel)
    entry = _entry(at, job.id if job is not None else name)
    return Line(name, channel.function, channel.side, job.id if job else None, entry)


def _name(channel: ChannelPath) -> str:
    for selector in channel.path.selectors:
        if selector.entry.channel == channel.number:
            return selector.name
    side = "" if channel.side is None else f" {channel.side}"
    return f"{channel.function}{side}"


def _control_of(channel: ChannelPath) -> str | None:
    try:
        return channel.control
    except NotKnown:
        return None


def _job(control: ControlPath, path: Path, at: str) -> Job:
    role = _role(control, path)
    name = control.axis if control.entry.kind == "stick" and control.axis else role
    positions = _positions(control, path)
    return Job(
        control.id,
        name,
        frozenset((_kind(control),)),
        f"{name}, today on {control.id}",
        (_entry(at, control.id),),
        max(positions, 2),
        control.axis if control.entry.kind == "stick" else None,
    )


def _kind(control: ControlPath) -> Kind:
    if control.entry.kind == "stick":
        return "stick"
    if control.continuous:
        return "continuous"
    return "sprung" if control.sprung else "switch"


def _role(control: ControlPath, path: Path) -> str:
    """What the control is for, in the words that wishes use."""
    overrides = {f"{it.at}/when": it for it in path.setup.overrides}
    cut = next((job for job in control.jobs if job.kind == "override"), None)
    if cut is not None and overrides[cut.at].purpose in _CUTS:
        return CUT
    for job in control.jobs:
        if job.kind == "channel" and job.channel is not None:
            return _channel_role(job.channel, path)
    kinds = {job.kind for job in control.jobs}
    if "phase" in kinds:
        return "phases"
    return "rates" if "rates" in kinds else control.id


def _channel_role(number: int, path: Path) -> str:
    for selector in path.selectors:
        if selector.entry.channel == number:
            purpose = selector.entry.purpose
            return purpose if purpose in (FLIGHT_MODE, RECOVERY) else selector.name
    return next(it.function for it in path.channels if it.number == number)


def _positions(control: ControlPath, path: Path) -> int:
    """How many positions differ in what they do: two that do the same need only one."""
    if control.continuous:
        return 2
    return len({_effects(control, position, path) for position in control.positions})


def _effects(control: ControlPath, position: str, path: Path) -> tuple[Hashable, ...]:
    return tuple(_effect(control, job, position, path) for job in control.jobs)


def _effect(control: ControlPath, job: Work, position: str, path: Path) -> Hashable:
    if job.when is not None:
        return tuple(
            position in (it.positions or ()) for it in job.when if it.control == control.id
        )
    selector = next((s for s in path.selectors if s.entry.channel == job.channel), None)
    if job.kind != "channel" or selector is None:
        return control.value(position)
    try:
        found = selector.positions_where({control.id: position})
    except (NotKnown, NotChecked):
        return control.value(position)
    return tuple(it.states for it in found)


def _today(path: Path, jobs: dict[str, Job], lines: tuple[Line, ...]) -> Today:
    numbers = {_name(channel): channel.number for channel in _reaching(path)}
    return Today(
        {job.id: job.id for job in jobs.values()},
        {line.id: numbers[line.id] for line in lines},
        {
            selector.name: tuple(
                band.state.state for band in sorted(selector.bands, key=lambda it: it.low_us)
            )
            for selector in path.selectors
        },
    )
