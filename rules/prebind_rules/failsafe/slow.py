"""The failsafe acts too late."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Open, Setting, Settings, fails, passes, replace, rule

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.rule import Example

DELAY = "/receiver/failsafe/delay_s"


def _examples() -> Iterable[Example]:
    yield fails(
        replace(DELAY, 2.5),
        why="A receiver that waits for two and a half seconds.",
        at=DELAY,
        says=["2.5 s", "2 s"],
    )
    yield fails(
        replace(DELAY, 10),
        start="glow",
        why="Ten seconds at full throttle are 280 m at this model's speed.",
        at=DELAY,
        says=["10 s", "2 s", "280 m"],
    )
    yield passes(replace(DELAY, 2), why="Exactly two seconds.")
    yield passes(replace(DELAY, 0), why="It acts at once.")


@rule(
    "failsafe/slow",
    word="caution",
    title="The failsafe acts too late",
    each="setup",
    needs=("failsafe",),
    safety="Until it acts the model flies on with its last commands, motor included, and nobody "
    "controls it. Fly with room for that, and shorten the delay.",
    remedy="Set a shorter delay in the receiver, where it can be set.",
    bench="Propeller off, model held down: run the motor slowly, switch the radio off, and time "
    "with a watch until it stops.",
    source="MAAC (a turbine shuts down within 2 s of signal loss); associations differ",
    settings={
        "longest_s": Setting(2, "longest delay from the loss of the link, in seconds", least=0)
    },
    examples=_examples,
)
def slow(place: Path, path: Path, settings: Settings) -> Answer:
    """A model covers its own speed in metres each second that the failsafe waits.

    Bodies that set a limit name two or three seconds.
    """
    receiver = path.setup.receiver
    delay = receiver.failsafe.delay_s if receiver and receiver.failsafe else None
    if delay is None:
        return Open("How long the failsafe waits is not recorded.", (DELAY,))
    longest = settings["longest_s"]
    if delay <= longest:
        return PASS
    speed = path.setup.model.max_speed_m_s
    far = f": at {speed:g} m/s the model flies {speed * delay:.0f} m in that time" if speed else ""
    return Fail(
        f"The failsafe acts {delay:g} s after the link is lost, later than {longest:g} s{far}.",
        at=DELAY,
        evidence={"delay_s": delay, "longest_s": longest},
    )
