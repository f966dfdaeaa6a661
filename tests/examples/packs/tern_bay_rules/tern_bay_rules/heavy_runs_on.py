"""A heavy model's motor does not stop soon after the link is lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import (
    NOT_APPLICABLE,
    PASS,
    Answer,
    Fail,
    NotKnown,
    Open,
    Outcome,
    Setting,
    Settings,
    fails,
    passes,
    remove,
    replace,
    rule,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from prebind import MotorPath, Path
    from prebind.rule import Example

MASS = "/model/mass_g"
KIND = "/model/propulsion/kind"
DELAY = "/receiver/failsafe/delay_s"
PRESET = "/receiver/failsafe/channels/0/output_percent"


def _examples() -> Iterable[Example]:
    heavy = replace(MASS, 9000)
    yield fails(
        heavy,
        replace(DELAY, 1.5),
        why="Nine kilograms fly on for a second and a half.",
        at=DELAY,
        says=["9 kg", "1.5 s", "1 s"],
    )
    yield fails(
        heavy,
        replace(PRESET, 0),
        why="The motor of nine kilograms goes to half power when the link is lost.",
        at="/speed_controls/0",
        says=["9 kg", "port 1", "running"],
    )
    yield fails(
        heavy,
        remove("/receiver/failsafe/channels/0"),
        why="Nothing is set for the throttle.",
        at="/speed_controls/0",
        says=["9 kg", "port 1", "no preset"],
    )
    yield passes(heavy, why="It stops after one second, which is soon enough.")
    yield passes(
        replace(MASS, 7000),
        replace(DELAY, 2),
        why="Seven kilograms are not above seven.",
        outcome="notApplicable",
    )
    yield passes(
        heavy,
        replace(KIND, "none"),
        why="A heavy glider without a motor.",
        outcome="notApplicable",
    )
    yield passes(remove(MASS), why="Nobody has weighed the model.", outcome="open")
    yield passes(heavy, remove(DELAY), why="Nobody has timed the failsafe.", outcome="open")


@rule(
    "tern-bay-rules/heavy-runs-on",
    word="danger",
    title="A heavy model's motor runs on after the link is lost",
    each="setup",
    safety="A heavy model under power that nobody controls goes through a fence, and through who "
    "stands behind it. Fly it only where everyone stands well clear.",
    remedy="Set the failsafe so that the motor stops, and its delay to one second or less.",
    bench="Propeller off, model held down: run the motor slowly, switch the radio off, and time "
    "with a watch until it stops.",
    source="field rules of the invented Tern Bay Model Flying Club",
    settings={
        "heavy_g": Setting(7000, "mass above which a model counts as heavy, in grams"),
        "longest_s": Setting(1, "longest delay from the loss of the link, in seconds"),
    },
    examples=_examples,
    since="2026.1",
)
def heavy_runs_on(_place: Path, path: Path, settings: Settings) -> Answer:
    """The energy of what flies on grows with its mass; so does the harm.

    The club's field has a path beside it.
    """
    model = path.setup.model
    mass, kind = model.mass_g, model.propulsion.kind if model.propulsion else None
    if kind == "none" or (mass is not None and mass <= settings["heavy_g"]):
        return NOT_APPLICABLE
    if mass is None or kind is None:
        return Open("How heavy the model is, or what drives it, is not recorded.", (MASS, KIND))
    heavy = f"At {mass / 1000:g} kg"
    return [_delay(path, heavy, settings["longest_s"]), *_motors(path, heavy)]


def _delay(path: Path, heavy: str, longest: float) -> Outcome:
    receiver = path.setup.receiver
    delay = receiver.failsafe.delay_s if receiver and receiver.failsafe else None
    if delay is None:
        return Open("How long the failsafe waits is not recorded.", (DELAY,))
    if delay <= longest:
        return PASS
    return Fail(
        f"{heavy} the failsafe must act within {longest:g} s; it waits {delay:g} s.",
        at=DELAY,
        evidence={"delay_s": delay, "longest_s": longest},
    )


def _motors(path: Path, heavy: str) -> Iterator[Outcome]:
    for motor in path.motors:
        try:
            yield _stops(motor, heavy)
        except NotKnown as reason:
            yield Open(reason.message, reason.settles, motor.at)


def _stops(motor: MotorPath, heavy: str) -> Outcome:
    found, action = motor.failsafe, motor.port_failsafe.action
    if found is None and action == "no-pulses":
        return Open("What the motor does without pulses is not recorded.", at=motor.at)
    if found is not None and found.state == "stopped":
        return PASS
    state = "is given no preset" if found is None else f"is {found.state}"
    return Fail(
        f"{heavy} the failsafe must stop the motor; the one on port {motor.entry.port} {state}.",
        at=motor.at,
        evidence={"action": action} if found is None else {"state": found.state, "us": found.us},
    )
