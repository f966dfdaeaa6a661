"""One port listed twice, or two things plugged into one without a Y lead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Fix, Settings, fails, passes, put, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import Path
    from prebind.model import Port, Servo, SpeedControl
    from prebind.rule import Example, Outcome


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/receiver/outputs/4/port", 2),
        why="Both ailerons' outputs say port 2.",
        at="/receiver/outputs/1/port",
        says=["Port 2", "twice"],
    )
    yield fails(
        replace("/servos/1/port", 2),
        why="Both aileron servos stand on port 2, and no Y lead is recorded.",
        at="/servos/0/port",
        says=["Port 2", "2 servos"],
    )
    yield fails(
        replace("/servos/3/port", 1),
        why="The rudder servo stands on the speed control's port.",
        at="/servos/3/port",
        says=["Port 1", "a servo", "a speed control"],
    )
    yield passes(
        put("/servos/0/y_lead", True),
        replace("/servos/1/port", 2),
        put("/servos/1/y_lead", True),
        why="Both aileron servos on port 2, joined by a Y lead.",
    )
    yield passes(
        replace("/receiver/outputs/4/channel", 3),
        why="Two ports may carry one channel; no port stands twice.",
    )


@rule(
    "conflicts/port-shared",
    word="warning",
    title="One port listed twice, or two things plugged into one without a Y lead",
    each="setup",
    safety="What is really plugged in where cannot be told, so a surface or the motor may answer "
    "to the wrong control. Follow each lead with the propeller off before switching on.",
    remedy="Give each its own port. Where a Y lead joins two servos, record it on both.",
    bench="Follow each lead from the receiver to what it drives.",
    source="common practice, no source",
    examples=_examples,
)
def port_shared(setup: Path, path: Path, settings: Settings) -> Answer:
    """A port is one plug with one pulse.

    Listed twice, it is not known which channel it carries.  Two servos fit one port only with a
    Y lead, and then move together.
    """
    return [*_listed_twice(path), *_plugged_twice(path)] or PASS


def _listed_twice(path: Path) -> Iterator[Outcome]:
    receiver = path.setup.receiver
    listed: dict[int, list[Port]] = {}
    for output in receiver.outputs if receiver else ():
        listed.setdefault(output.port, []).append(output)
    for number, outputs in listed.items():
        if len(outputs) == 1:
            continue
        channels = [output.channel for output in outputs]
        times = "twice" if len(outputs) == 2 else f"{len(outputs)} times"
        yield Fail(
            f"Port {number} stands {times} in the list of outputs, with "
            f"{' and '.join(f'channel {channel}' for channel in dict.fromkeys(channels))}.",
            at=f"{outputs[0].at}/port",
            evidence={"port": number, "channels": channels},
        )


def _plugged_twice(path: Path) -> Iterator[Outcome]:
    servos: dict[int, list[Servo]] = {}
    speed_controls: dict[int, list[SpeedControl]] = {}
    for servo in path.setup.servos or ():
        servos.setdefault(servo.port, []).append(servo)
    for control in path.setup.speed_controls or ():
        speed_controls.setdefault(control.port, []).append(control)
    for number, here in servos.items():
        others = speed_controls.get(number, [])
        bare = [servo for servo in here if not servo.y_lead]
        if bare and len(here) + len(others) > 1:
            yield _crowded(number, here, bare, others)


def _crowded(
    number: int, servos: list[Servo], bare: list[Servo], speed_controls: list[SpeedControl]
) -> Fail:
    count = "a servo" if len(servos) == 1 else f"{len(servos)} servos"
    also = " and a speed control" if speed_controls else ""
    y_leads = tuple(put(f"{servo.at}/y_lead", True) for servo in bare)
    return Fail(
        f"Port {number} has {count}{also} on it, and no Y lead is recorded.",
        at=f"{servos[0].at}/port",
        evidence={
            "port": number,
            "servos": len(servos),
            "speed_controls": len(speed_controls),
            "without_y_lead": len(bare),
        },
        fix=None if speed_controls else Fix("decide", y_leads),
    )
