"""A switch, button, knob or slider does two jobs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    Settings,
    fails,
    passes,
    put,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable

    from prebind import ControlPath, Job, Path, Position
    from prebind.model import Mix, Override, When
    from prebind.rule import Example

VITAL_PURPOSES = frozenset({"throttle-cut", "throttle-hold"})
VITAL_FUNCTIONS = frozenset({"arm", "recovery"})


def _examples() -> Iterable[Example]:
    flap = put("/channels/-", {"channel": 7, "function": "flap", "control": "rate-switch"})
    yield fails(
        flap,
        why="The flaps were put on the switch that already chooses the rates.",
        at="/transmitter/controls/rate-switch",
        says=["“rate-switch”", "2 jobs", "channel 7 (flap)", "rates"],
        word="caution",
    )
    yield fails(
        replace("/overrides/0/when/0", {"control": "rate-switch", "positions": ["soft"]}),
        put("/transmitter/controls/rate-switch/on_purpose", "Soft rates come with a still motor."),
        why="Throttle cut shares with the rates: whatever was meant, nothing may come with a cut.",
        at="/transmitter/controls/rate-switch",
        says=["“rate-switch”", "rates", "throttle cut"],
        word="warning",
    )
    yield fails(
        replace("/channels/4/control", "recovery-button"),
        why="The flight mode was put on the recovery button.",
        at="/transmitter/controls/recovery-button",
        says=["channel 5 (flight-mode)", "channel 6 (recovery)"],
        word="warning",
    )
    yield passes(
        flap,
        put("/transmitter/controls/rate-switch/on_purpose", "Landing: flaps out, soft rates."),
        why="Rates and flaps share a switch on purpose.",
    )
    yield passes(
        put("/channels/-", {"channel": 7, "function": "flap", "side": "left"}),
        put("/channels/-", {"channel": 8, "function": "flap", "side": "right"}),
        put("/transmitter/controls/flap-slider", {"kind": "slider"}),
        put("/channels/6/control", "flap-slider"),
        put("/channels/7/control", "flap-slider"),
        why="Both flaps on one slider are one job.",
    )
    yield passes(
        put(
            "/phases",
            [
                {"name": "still", "when": [{"control": "cut-switch", "positions": ["cut"]}]},
                {"name": "flight"},
            ],
        ),
        replace("/channels/2/rates/0/when", [{"phase": ["flight"]}]),
        replace("/overrides/0/when", [{"phase": ["still"]}]),
        why="The switch chooses the phase; cut and rates depend on the phase, so it is one job.",
    )


@rule(
    "conflicts/control-shared",
    word="caution",
    title="A control does two jobs",
    each="controls",
    safety="The hand that wants the one gets the other too: a motor that starts with the rates, a "
    "recovery that comes with the flaps. Give throttle cut, hold, arming and recovery a control "
    "that does nothing else, and prove it with the propeller off.",
    remedy="Move one of the jobs to a control of its own. If both are meant, and neither is "
    "throttle cut, throttle hold, arming or recovery, say why under the control's on_purpose.",
    bench="With the propeller off, go through the control's positions and note all that changes.",
    source="common practice, no source",
    examples=_examples,
)
def control_shared(control: ControlPath, path: Path, settings: Settings) -> Answer:
    """No switch should do two jobs unless somebody decided that it should.

    Channels of one function are one job, rates, curves and trims together one, and all that
    depends on the phase is one with choosing it.  So are a cut of several motors, and the same mix
    to left and right.  A mix, rate or curve on the channel that the control drives belongs to that
    channel.  Sticks are not judged.
    """
    if control.entry.kind == "stick":
        return NOT_APPLICABLE
    jobs = _merged(control, path)
    vital = any(_vital(job, path) for same in jobs for job in same)
    if len(jobs) < 2 or (control.entry.on_purpose and not vital):
        return PASS
    texts = [_text(same) for same in jobs]
    return Fail(
        f"“{control.id}” does {len(jobs)} jobs: it {'; it '.join(texts)}.",
        word="warning" if vital else "caution",
        evidence={
            "control": control.id,
            "jobs": texts,
            **_table(jobs, control, path),
        },
    )


def _merged(control: ControlPath, path: Path) -> list[list[Job]]:
    """The jobs, each with all that belongs to it."""
    own = {job.channel for job in control.jobs if job.kind == "channel"}
    own_inputs = tuple(f"{i.at}/" for i in path.setup.inputs if i.control == control.id)
    phases = [job.when for job in control.jobs if job.kind == "phase"]
    jobs: dict[Hashable, list[Job]] = {}
    for job in control.jobs:
        shapes = job.kind in {"rates", "trim"}
        if (shapes and job.channel in own) or job.at.startswith(own_inputs or "-"):
            continue
        if job.kind == "mix" and {job.channel, _mix(job, path).source.channel} & own:
            continue
        key = "phase" if job.when is not None and job.when in phases else _key(job, path)
        jobs.setdefault(key, []).append(job)
    return list(jobs.values())


def _key(job: Job, path: Path) -> Hashable:
    """What makes two namings one job: the same function, and for mixes the same work."""
    if job.kind == "channel":
        return "channel", _function(job.channel, path)
    if job.kind == "mix":
        mix = _mix(job, path)
        return "mix", mix.source, mix.when, _function(mix.to, path)
    if job.kind == "override":
        override = _override(job, path)
        if override.purpose in VITAL_PURPOSES:
            return "override", override.purpose, _function(override.channel, path)
        return "override", override.at
    return "phase" if job.kind == "phase" else "shapes"


def _vital(job: Job, path: Path) -> bool:
    """Whether it is throttle cut or hold, arming or recovery, or a phase that one depends on."""
    if job.kind == "phase":
        named = {condition.control for condition in job.when or ()}
        return any(
            override.purpose in VITAL_PURPOSES
            and any(condition.phase for condition in override.when)
            and named & set(path.depends(override.when))
            for override in path.setup.overrides
        )
    if job.kind == "override" and _override(job, path).purpose in VITAL_PURPOSES:
        return True
    return job.kind in {"channel", "override"} and (
        _function(job.channel, path) in VITAL_FUNCTIONS
        or any(
            selector.entry.purpose == "recovery" and selector.entry.channel == job.channel
            for selector in path.selectors
        )
    )


def _text(same: list[Job]) -> str:
    """One job in words: its verb once, then all that it does."""
    verb = same[0].text.partition(" ")[0]
    parts = dict.fromkeys(job.text.removeprefix(f"{verb} ") for job in same)
    return f"{verb} {' and '.join(parts)}"


def _table(jobs: list[list[Job]], control: ControlPath, path: Path) -> dict[str, str]:
    """What each position, or each end and the rest, does to every job."""
    table = {}
    for position in control.positions or (control.low, control.rest, control.high):
        effects = [_effect(job, position, control, path) for same in jobs for job in same]
        name = position if isinstance(position, str) else f"{position:g} %"
        table[f"at {name}"] = "; ".join(dict.fromkeys(effects))
    return table


def _effect(job: Job, position: Position, control: ControlPath, path: Path) -> str:
    if job.kind == "phase":
        return f"phase “{path.phase({control.id: position}) or 'none'}”"
    if job.when is None:
        stages = path.situation({control.id: position}).channels.get(job.channel or 0)
        percent = "an unknown value" if stages is None else f"{round(stages.output_percent, 1):g} %"
        return f"channel {job.channel} at {percent}"
    return f"{job.text}: {'on' if _holds(job.when, position, control) else 'off'}"


def _holds(when: When, position: Position, control: ControlPath) -> bool:
    """Whether this position does its part, whatever the other controls do."""
    value = control.value(position)
    return all(
        (c.positions is None or position in c.positions)
        and (c.above_percent is None or value > c.above_percent)
        and (c.below_percent is None or value < c.below_percent)
        for c in when
        if c.control == control.id
    )


def _function(number: int | None, path: Path) -> Hashable:
    """The channel's function; where nothing makes the channel, its number."""
    return next((c.function for c in path.setup.channels if c.channel == number), number)


def _mix(job: Job, path: Path) -> Mix:
    return next(mix for mix in path.setup.mixes if job.at.startswith(f"{mix.at}/"))


def _override(job: Job, path: Path) -> Override:
    return next(entry for entry in path.setup.overrides if job.at.startswith(f"{entry.at}/"))
