"""The setup document as frozen attrs classes.

Names, units and defaults are those of the document format `model-setup/1`; the unit stands in the
name (`_us`, `_percent`, `_mm`, …).  `None` always means *not recorded*.  Every entry of a list
knows its own place: `at` is its JSON Pointer (RFC 6901) in the resolved document.
"""

from __future__ import annotations

from typing import Any, Literal

from attrs import field, frozen

Percent = float
Pair = tuple[float, float]


def _place() -> Any:
    """The entry's JSON Pointer, set once after structuring; no part of what the entry says."""
    return field(default="", init=False, eq=False, repr=False)


@frozen
class LowHigh:
    """A scale in percent for the side below centre and the side above it."""

    low: Percent = 100.0
    high: Percent = 100.0


@frozen
class Condition:
    """One condition of a `when`: a position, a threshold (strict), or a phase."""

    control: str | None = None
    positions: tuple[str, ...] | None = None
    above_percent: Percent | None = None
    below_percent: Percent | None = None
    phase: tuple[str, ...] | None = None


When = tuple[Condition, ...]


@frozen
class Wing:
    span_mm: float | None = None
    area_dm2: float | None = None


@frozen
class Propulsion:
    kind: Literal["electric", "glow", "petrol", "turbine", "none"] | None = None
    motors: int = 1


@frozen
class Model:
    name: str
    airframe: Literal["aeroplane", "glider", "flying-wing", "helicopter", "multirotor"]
    tail: Literal["conventional", "v-tail", "inverted-v-tail", "canard", "none"] = "conventional"
    mass_g: float | None = None
    wing: Wing | None = None
    propulsion: Propulsion | None = None
    max_speed_m_s: float | None = None


@frozen
class Output:
    """What the transmitter's scale means in pulses.

    `steps`: how many distinct values there are from −limit to +limit.
    """

    centre_us: float = 1500.0
    us_per_percent: float = 4.0
    limit_percent: Percent = 150.0
    steps: int | None = None
    native: dict[str, int] = field(factory=dict)
    order: tuple[str, str, str] = ("reverse", "travel", "subtrim")


@frozen
class Control:
    kind: Literal["stick", "slider", "knob", "switch", "button"]
    positions: tuple[str, ...] | None = None
    values: tuple[Percent, ...] | None = None
    sprung: bool | None = None
    axis: Literal["roll", "pitch", "yaw", "thrust"] | None = None
    on_purpose: str | None = None
    at: str = _place()


@frozen
class Transmitter:
    channels: int
    controls: dict[str, Control]
    name: str | None = None
    stick_mode: int | None = None
    output: Output = Output()
    start_checks: tuple[str, ...] | None = None


@frozen
class Rate:
    rate_percent: Percent = 100.0
    expo_percent: Percent = 0.0
    when: When = ()


@frozen
class Curve:
    points: tuple[Pair, ...]
    when: When = ()


@frozen
class Trim:
    percent: Percent
    when: When = ()


@frozen
class Channel:
    channel: int
    function: str
    side: str | int | None = None
    control: str | None = None
    reversed: bool = False
    travel_percent: LowHigh = LowHigh()
    subtrim_percent: Percent = 0.0
    trim_percent: tuple[Trim, ...] = ()
    trim_range_percent: Percent | None = None
    rates: tuple[Rate, ...] | None = None
    curves: tuple[Curve, ...] | None = None
    slow_s: float | None = None
    at: str = _place()


@frozen
class Input:
    id: str
    control: str
    rates: tuple[Rate, ...] | None = None
    curves: tuple[Curve, ...] | None = None
    trim_percent: tuple[Trim, ...] = ()
    at: str = _place()


@frozen
class Phase:
    name: str
    when: When = ()
    at: str = _place()


@frozen
class Source:
    """Where a mix takes its value from: exactly one of the three is given."""

    channel: int | None = None
    input: str | None = None
    control: str | None = None


@frozen
class Mix:
    name: str
    source: Source
    to: int
    rate_percent: LowHigh
    offset_percent: Percent = 0.0
    when: When = ()
    at: str = _place()


@frozen
class Override:
    name: str
    purpose: Literal["throttle-cut", "throttle-hold", "other"]
    channel: int
    demand_percent: Percent
    when: When
    acts: Literal["last", "before-mixes"] = "last"
    release: Literal["at-low", "at-once"] | None = None
    at: str = _place()


@frozen
class Port:
    """One output of the receiver, and what the receiver does to it after the stabiliser."""

    port: int
    channel: int
    reversed: bool = False
    travel_percent: LowHigh = LowHigh()
    centre_us: float | None = None
    limit_us: Pair | None = None
    at: str = _place()


@frozen
class FailsafeChannel:
    channel: int
    action: Literal["preset", "hold", "no-pulses"]
    output_percent: Percent | None = None
    on_purpose: str | None = None
    at: str = _place()


@frozen
class Failsafe:
    stored: Literal["at-bind", "by-menu", "in-transmitter"]
    channels: tuple[FailsafeChannel, ...]
    delay_s: float | None = None
    intended_states: dict[str, str] = field(factory=dict)


@frozen
class AxisPort:
    port: int
    sign: int = 1


@frozen
class Axis:
    axis: Literal["roll", "pitch", "yaw"]
    channel: int
    ports: tuple[AxisPort, ...]
    sense: Literal["normal", "reversed"]
    gain_percent: Percent | None = None
    at: str = _place()


@frozen
class Expected:
    """How the stabiliser wants an axis's channel to arrive."""

    direction: int | None = None
    low_us: float | None = None
    centre_us: float | None = None
    high_us: float | None = None


@frozen
class Band:
    """Both ends belong to it; exactly one of the two is given."""

    percent: Pair | None = None
    us: Pair | None = None


@frozen
class State:
    state: str
    behaviour: Literal[
        "off",
        "rate-damping",
        "attitude-limit",
        "self-level",
        "heading-hold",
        "recovery",
        "other",
    ]
    band: Band
    at: str = _place()


@frozen
class Selector:
    name: str
    purpose: Literal["flight-mode", "recovery", "gain", "other"]
    channel: int
    states: tuple[State, ...]
    at: str = _place()


@frozen
class Stabiliser:
    axes: tuple[Axis, ...] = ()
    selectors: tuple[Selector, ...] = ()
    mixing: Literal["none", "elevon", "v-tail", "flaperon", "swashplate", "motors"] = "none"
    mix_percent: Percent = 100.0
    mix_limit_percent: Percent | None = None
    expects: dict[str, Expected] = field(factory=dict)


@frozen
class Receiver:
    inputs: int
    outputs: tuple[Port, ...]
    name: str | None = None
    frame_ms: float | None = None
    failsafe: Failsafe | None = None
    stabiliser: Stabiliser | None = None


@frozen
class Linkage:
    """A planar four-bar: servo arm, horn, and the base line from shaft to hinge line."""

    arm_mm: float
    horn_mm: float
    base_mm: float
    arm_at_neutral_deg: float = 90.0
    horn_at_neutral_deg: float = 90.0


@frozen
class Servo:
    port: int
    y_lead: bool = False
    surface: str | None = None
    increasing_pulse: str | None = None
    kind: Literal["digital", "analogue"] | None = None
    pulse_us: Pair | None = None
    centre_us: float | None = None
    max_rate_hz: float | None = None
    volts: Pair | None = None
    stall_a: float | None = None
    idle_a: float | None = None
    torque_ncm: float | None = None
    degrees_per_us: float | None = None
    linkage: Linkage | None = None
    at: str = _place()


@frozen
class SpeedControl:
    port: int
    full_above_us: float
    stop_below_us: float | None = None
    stopped_us: Pair | None = None
    arm_below_us: float | None = None
    on_signal_loss: Literal["stops", "holds", "unknown"] | None = None
    cells: tuple[int, int] | None = None
    at: str = _place()


@frozen
class Engine:
    port: int
    idle_us: Pair
    stop_below_us: float
    at: str = _place()


@frozen
class Throw:
    """Wanted deflection in degrees, by the way the edge goes."""

    up: float | None = None
    down: float | None = None
    left: float | None = None
    right: float | None = None


@frozen
class Surface:
    id: str
    function: str
    side: str | int | None = None
    throw_deg: Throw | None = None
    tolerance_deg: float = 2.0
    area_cm2: float | None = None
    chord_mm: float | None = None
    span_mm: float | None = None
    on_purpose: str | None = None
    at: str = _place()


@frozen
class Wire:
    gauge_awg: float
    length_mm: float


@frozen
class Supply:
    """`volts`: one number, or (empty, full) for a battery."""

    source: Literal["bec", "battery"]
    volts: float | Pair
    continuous_a: float | None = None
    peak_a: float | None = None
    wire: Wire | None = None


@frozen
class FlightPack:
    chemistry: Literal["lipo", "liion", "life", "nimh"]
    cells: int
    capacity_mah: float | None = None
    warning_v_per_cell: float | None = None


@frozen
class Power:
    receiver_supply: Supply | None = None
    flight_pack: FlightPack | None = None


@frozen
class SignOff:
    check: str
    by: str
    on: str
    digest: str
    at: str = _place()


@frozen
class Waiver:
    rule: str
    reason: str
    by: str
    until: str
    pointer: str | None = None
    at: str = _place()


@frozen
class Setup:
    """One model's setup, shared parts laid in.  Sections that the document leaves out are `None`.

    `extra` holds the document's own `x-` keys of the top level; deeper ones stay in the raw one.
    """

    model: Model
    transmitter: Transmitter
    channels: tuple[Channel, ...]
    inputs: tuple[Input, ...] = ()
    phases: tuple[Phase, ...] = ()
    mixes: tuple[Mix, ...] = ()
    overrides: tuple[Override, ...] = ()
    receiver: Receiver | None = None
    servos: tuple[Servo, ...] | None = None
    speed_controls: tuple[SpeedControl, ...] | None = None
    engine: Engine | None = None
    surfaces: tuple[Surface, ...] | None = None
    power: Power | None = None
    sign_offs: tuple[SignOff, ...] | None = None
    waivers: tuple[Waiver, ...] = ()
    region: Literal["us", "eu", "uk"] | None = None
    extra: dict[str, Any] = field(factory=dict)
