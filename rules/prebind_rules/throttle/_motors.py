"""What the rules about motors share: which are judged together, which is worst, and the words."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Any

from prebind.record import Record, record
from prebind.rule import NotChecked, NotKnown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from prebind import MotorPath, MotorState, Path
    from prebind.model import FailsafeChannel, Override

_ORDER = ("stopped", "idling", "running", "full")


def is_cut(override: Override) -> bool:
    """Whether a person trusts this override to keep a motor still."""
    return override.purpose in ("throttle-cut", "throttle-hold")


def motors_on(path: Path, channel: int) -> tuple[MotorPath, ...]:
    """The motors on ports whose own channel this is."""
    ports = {port.number for port in path.ports if port.entry.channel == channel}
    return tuple(motor for motor in path.motors if motor.entry.port in ports)


def stands_for(motor: MotorPath, path: Path) -> bool:
    """Whether this motor is the first on its channel, and is judged for all of them.

    One wrong value on a channel that drives four motors is one finding, not four.
    """
    return motors_on(path, motor.channel.number)[0].at == motor.at


@record
class Pulse(Record):
    """What a motor gets, in µs, its state there, and the control positions that lead to it."""

    motor: MotorPath
    state: str
    us: float
    controls: Mapping[str, str | float]
    attained: bool

    @property
    def margin_us(self) -> float:
        """How far the pulse lies inside those that stop the motor; negative outside."""
        return min(self.motor.stop_us - self.us, self.us - self._stopped_from_us)

    @property
    def _stopped_from_us(self) -> float:
        """The lowest pulse that stops the motor: only a reversible speed control has one."""
        stopped_us = getattr(self.motor.entry, "stopped_us", None)
        return stopped_us[0] if stopped_us else -inf

    @property
    def port(self) -> str:
        """The port in words, saying so where only its own channel is judged."""
        mixed = " (its own channel alone: the receiver mixes)" if self.motor.judged_alone else ""
        return f"port {self.motor.entry.port}{mixed}"

    def where(self, control: str = "") -> str:
        """Where the controls but this one stand, in words: ` (cut-switch at run)`."""
        others = ", ".join(
            f"{name} at {at if isinstance(at, str) else f'{round(at, 1):g} %'}"
            for name, at in self.controls.items()
            if name != control
        )
        return f" ({others})" if others else ""

    def against(self, may_idle: bool) -> str:
        """The pulse set against the motor's own limits: `30 µs above the 1150 µs at which …`."""
        stop_us, kind = self.motor.stop_us, self.motor.kind
        idle = getattr(self.motor.entry, "idle_us", None)
        if may_idle and idle and self.us > idle[1]:
            over = round(self.us - idle[1], 1)
            return f"{over:g} µs above the {idle[1]:g} µs up to which the engine idles"
        if may_idle and idle:
            return f"between the {stop_us:g} µs that stop the engine and its idle at {idle[0]:g} µs"
        if self.us >= stop_us:
            over = round(self.us - stop_us, 1)
            return f"{over:g} µs above the {stop_us:g} µs at which the {kind} stops"
        low = self._stopped_from_us
        return f"{round(low - self.us, 1):g} µs below the {low:g} µs at which the {kind} stops"

    def evidence(self) -> dict[str, Any]:
        return {
            "controls": dict(self.controls),
            "port": self.motor.entry.port,
            "us": round(self.us, 1),
            "stop_us": self.motor.stop_us,
            "margin_us": round(self.margin_us, 1),
            "state": self.state,
            "attained": self.attained,
        }


def pulse(motor: MotorPath, state: MotorState | None) -> Pulse | None:
    """The pulse of a state; None where there is no such situation, or no pulse in it."""
    if state is None or state.us is None:
        return None
    return Pulse(motor, state.state, state.us, state.controls, state.attained)


def at_preset(path: Path, entry: FailsafeChannel) -> list[Pulse]:
    """What each motor on a preset channel gets when the link is lost."""
    motors = motors_on(path, entry.channel) if entry.action == "preset" else ()
    pulses = ((motor, motor.port.us(path.preset_us(entry))) for motor in motors)
    return [Pulse(motor, motor.state(us), us, {}, True) for motor, us in pulses]


def worst(pulses: Iterable[Pulse]) -> Pulse | None:
    return max(pulses, key=lambda p: (_ORDER.index(p.state), -p.margin_us), default=None)


def unsafe(
    motors: Iterable[MotorPath],
    ask: Callable[[MotorPath], MotorState | None],
    safe: Callable[[MotorPath], frozenset[str]],
) -> Pulse | None:
    """The worst pulse that leaves a motor in a state that is not safe, if there is one.

    Raises NotKnown or NotChecked only where no other motor has settled the case.
    """
    found: list[Pulse] = []
    unknown: NotKnown | NotChecked | None = None
    for motor in motors:
        try:
            got = pulse(motor, ask(motor))
        except (NotKnown, NotChecked) as missing:
            unknown = missing
            continue
        if got is not None and got.state not in safe(motor):
            found.append(got)
    if unknown is not None and not found:
        raise unknown
    return worst(found)


def safe_low(motor: MotorPath) -> frozenset[str]:
    """The states that are safe with the stick low: an engine may idle."""
    return motor.safe_low


def safe_under(override: Override) -> Callable[[MotorPath], frozenset[str]]:
    """The states that are safe under a cut: stopped alone; under a hold an engine may idle."""
    if override.purpose == "throttle-hold":
        return safe_low
    return lambda _: frozenset({"stopped"})
