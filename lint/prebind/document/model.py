"""The setup document as frozen classes.

Names, units and defaults are those of the document format `model-setup/1`; the unit stands in the
name (`_us`, `_percent`, `_mm`, …).  `None` always means *not recorded*.  Every entry of a list
knows its own place: `at` is its JSON Pointer (RFC 6901) in the resolved document.

Annotations are kinds here and no text, as what makes entries asks for them.
"""

from collections.abc import Mapping
from typing import Any, Literal, NoReturn

from prebind.record import Record, field, record

Percent = float
Pair = tuple[float, float]


class Named(dict[str, Any]):
    """Entries under names of the document's own, which cannot be written over: rules share them."""

    def _closed(self, *_: object, **__: object) -> NoReturn:
        raise TypeError("what a setup says cannot be changed")

    __setitem__ = __delitem__ = __ior__ = _closed
    clear = pop = popitem = setdefault = update = _closed

    def __reduce__(self) -> "tuple[type[Named], tuple[dict[str, Any]]]":
        return Named, (dict(self),)  # a copy is made whole, not entry by entry


def _place() -> Any:
    """The entry's JSON Pointer, set once after structuring; no part of what the entry says."""
    return field(default="", init=False, eq=False, repr=False)


@record
class LowHigh(Record):
    """A scale in percent for the side below centre and the side above it."""

    low: Percent = 100.0
    high: Percent = 100.0


@record
class Condition(Record):
    """One condition of a `when`: a position, a threshold (strict), or a phase."""

    control: str | None = None
    positions: tuple[str, ...] | None = None
    above_percent: Percent | None = None
    below_percent: Percent | None = None
    phase: tuple[str, ...] | None = None


When = tuple[Condition, ...]


@record
class Wing(Record):
    span_mm: float | None = None
    area_dm2: float | None = None


@record
class Propulsion(Record):
    kind: Literal["electric", "glow", "petrol", "turbine", "none"] | None = None
    motors: int = 1


@record
class Model(Record):
    name: str
    airframe: Literal["aeroplane", "glider", "flying-wing", "helicopter", "multirotor"]
    tail: Literal["conventional", "v-tail", "inverted-v-tail", "canard", "none"] = "conventional"
    mass_g: float | None = None
    wing: Wing | None = None
    propulsion: Propulsion | None = None
    max_speed_m_s: float | None = None


@record
class Output(Record):
    """What the transmitter's scale means in pulses.

    `steps`: how many distinct values there are from −limit to +limit.
    """

    centre_us: float = 1500.0
    us_per_percent: float = 4.0
    limit_percent: Percent = 150.0
    steps: int | None = None
    native: Mapping[str, int] = field(factory=Named)
    order: tuple[str, str, str] = ("reverse", "travel", "subtrim")


@record
class Control(Record):
    kind: Literal["stick", "slider", "knob", "switch", "button"]
    positions: tuple[str, ...] | None = None
    values: tuple[Percent, ...] | None = None
    sprung: bool | None = None
    axis: Literal["roll", "pitch", "yaw", "thrust"] | None = None
    on_purpose: str | None = None
    at: str = _place()


@record
class Transmitter(Record):
    channels: int
    controls: Mapping[str, Control]
    name: str | None = None
    stick_mode: int | None = None
    output: Output = Output()
    start_checks: tuple[str, ...] | None = None


@record
class Rate(Record):
    rate_percent: Percent = 100.0
    expo_percent: Percent = 0.0
    when: When = ()


@record
class Curve(Record):
    points: tuple[Pair, ...]
    when: When = ()


@record
class Trim(Record):
    percent: Percent
    when: When = ()


@record
class Channel(Record):
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


@record
class Input(Record):
    id: str
    control: str
    rates: tuple[Rate, ...] | None = None
    curves: tuple[Curve, ...] | None = None
    trim_percent: tuple[Trim, ...] = ()
    at: str = _place()


@record
class Phase(Record):
    name: str
    when: When = ()
    at: str = _place()


@record
class Source(Record):
    """Where a mix takes its value from: exactly one of the three is given."""

    channel: int | None = None
    input: str | None = None
    control: str | None = None


@record
class Mix(Record):
    name: str
    source: Source
    to: int
    rate_percent: LowHigh
    offset_percent: Percent = 0.0
    when: When = ()
    at: str = _place()


@record
class Override(Record):
    name: str
    purpose: Literal["throttle-cut", "throttle-hold", "other"]
    channel: int
    demand_percent: Percent
    when: When
    acts: Literal["last", "before-mixes"] = "last"
    release: Literal["at-low", "at-once"] | None = None
    at: str = _place()


@record
class Port(Record):
    """One output of the receiver, and what the receiver does to it after the stabiliser."""

    port: int
    channel: int
    reversed: bool = False
    travel_percent: LowHigh = LowHigh()
    centre_us: float | None = None
    limit_us: Pair | None = None
    at: str = _place()


@record
class FailsafeChannel(Record):
    channel: int
    action: Literal["preset", "hold", "no-pulses"]
    output_percent: Percent | None = None
    on_purpose: str | None = None
    at: str = _place()


@record
class Failsafe(Record):
    stored: Literal["at-bind", "by-menu", "in-transmitter"]
    channels: tuple[FailsafeChannel, ...]
    delay_s: float | None = None
    intended_states: Mapping[str, str] = field(factory=Named)


@record
class AxisPort(Record):
    port: int
    sign: int = 1


@record
class Axis(Record):
    axis: Literal["roll", "pitch", "yaw"]
    channel: int
    ports: tuple[AxisPort, ...]
    sense: Literal["normal", "reversed"]
    gain_percent: Percent | None = None
    at: str = _place()


@record
class Expected(Record):
    """How the stabiliser wants an axis's channel to arrive."""

    direction: int | None = None
    low_us: float | None = None
    centre_us: float | None = None
    high_us: float | None = None


@record
class Band(Record):
    """Both ends belong to it; exactly one of the two is given."""

    percent: Pair | None = None
    us: Pair | None = None


@record
class State(Record):
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


@record
class Selector(Record):
    name: str
    purpose: Literal["flight-mode", "recovery", "gain", "other"]
    channel: int
    states: tuple[State, ...]
    at: str = _place()


@record
class Stabiliser(Record):
    axes: tuple[Axis, ...] = ()
    selectors: tuple[Selector, ...] = ()
    mixing: Literal["none", "elevon", "v-tail", "flaperon", "swashplate", "motors"] = "none"
    mix_percent: Percent = 100.0
    mix_limit_percent: Percent | None = None
    expects: Mapping[str, Expected] = field(factory=Named)


@record
class Receiver(Record):
    inputs: int
    outputs: tuple[Port, ...]
    name: str | None = None
    frame_ms: float | None = None
    failsafe: Failsafe | None = None
    stabiliser: Stabiliser | None = None


@record
class Linkage(Record):
    """A planar four-bar: servo arm, horn, and the base line from shaft to hinge line."""

    arm_mm: float
    horn_mm: float
    base_mm: float
    arm_at_neutral_deg: float = 90.0
    horn_at_neutral_deg: float = 90.0


@record
class Servo(Record):
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


@record
class SpeedControl(Record):
    port: int
    full_above_us: float
    stop_below_us: float | None = None
    stopped_us: Pair | None = None
    arm_below_us: float | None = None
    on_signal_loss: Literal["stops", "holds", "unknown"] | None = None
    cells: tuple[int, int] | None = None
    at: str = _place()


@record
class Engine(Record):
    port: int
    idle_us: Pair
    stop_below_us: float
    at: str = _place()


@record
class Throw(Record):
    """Wanted deflection in degrees, by the way the edge goes."""

    up: float | None = None
    down: float | None = None
    left: float | None = None
    right: float | None = None


@record
class Surface(Record):
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


@record
class Wire(Record):
    gauge_awg: float
    length_mm: float


@record
class Supply(Record):
    """`volts`: one number, or (empty, full) for a battery."""

    source: Literal["bec", "battery"]
    volts: float | Pair
    continuous_a: float | None = None
    peak_a: float | None = None
    wire: Wire | None = None


@record
class FlightPack(Record):
    chemistry: Literal["lipo", "liion", "life", "nimh"]
    cells: int
    capacity_mah: float | None = None
    warning_v_per_cell: float | None = None


@record
class Power(Record):
    receiver_supply: Supply | None = None
    flight_pack: FlightPack | None = None


@record
class SignOff(Record):
    check: str
    by: str
    on: str
    digest: str
    at: str = _place()


@record
class Waiver(Record):
    rule: str
    reason: str
    by: str
    until: str
    pointer: str | None = None
    at: str = _place()


@record
class Setup(Record):
    """One model's setup, shared parts laid in.  Sections that the document leaves out are `None`.

    `extra` holds the document's own `x-` keys of the top level; `data` is the whole resolved
    document, deeper ones included, as it was read.
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
    extra: Mapping[str, Any] = field(factory=Named)
    data: dict[str, Any] = field(factory=dict, init=False, eq=False, repr=False)
