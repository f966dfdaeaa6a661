"""The wire from the supply drops too much voltage at peak."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

from prebind.rule import PASS, Answer, Fail, Open, Setting, Settings, fails, passes, replace, rule
from prebind_rules.power._current import PEAK, SUPPLY, peak, supply_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from prebind import Path
    from prebind.model import Wire
    from prebind.rule import Example

COPPER_OHM_MM2_PER_M = 0.017241
"""Annealed copper at 20 °C, IEC 60028."""


def diameter_mm(gauge_awg: float) -> float:
    """Diameter of a round wire of an AWG size, ASTM B258."""
    ratio: float = 92 ** ((36 - gauge_awg) / 39)
    return 0.127 * ratio


def ohm(wire: Wire) -> float:
    """Resistance of a copper wire at 20 °C, out and return."""
    area_mm2 = pi / 4 * diameter_mm(wire.gauge_awg) ** 2
    return COPPER_OHM_MM2_PER_M * 2 * (wire.length_mm / 1000) / area_mm2


def _examples() -> Iterable[Example]:
    yield fails(
        replace("/power/receiver_supply/wire", {"gauge_awg": 28, "length_mm": 250}),
        why="A thin extension of 250 mm: 0.5 m there and back, 0.106 Ω, at 2.75 A.",
        at="/power/receiver_supply/wire/gauge_awg",
        says=["2.75 A", "0.29 V", "5.9 %", "28"],
    )
    yield fails(
        replace("/power/receiver_supply/wire/length_mm", 900),
        why="The receiver sits in the tail: 1.8 m of wire there and back.",
        at="/power/receiver_supply/wire/gauge_awg",
        says=["900 mm", "0.26 V", "5.2 %"],
    )
    yield passes(
        replace("/power/receiver_supply/wire/length_mm", 850),
        why="A little shorter: 1.7 m there and back drop 4.95 % of 5 V.",
    )
    yield passes(
        replace("/power/receiver_supply/wire", {"gauge_awg": 20, "length_mm": 900}),
        why="As long, and two sizes thicker.",
    )


@rule(
    "power/wire",
    word="caution",
    title="The wire from the supply drops too much voltage at peak",
    each="setup",
    needs=("servos", "power"),
    safety="When several servos pull at once the receiver's voltage falls, and servos grow slow "
    "and weak just when they are needed. Fit a thicker or shorter wire before the model flies.",
    remedy="Use a thicker wire (a smaller AWG number), a shorter one, or feed the receiver over "
    "two leads.",
    bench="With the propeller off, move all sticks together and measure the voltage at the "
    "receiver and at the supply: compare them.",
    source="ASTM B258 (wire sizes), IEC 60028 (copper); the share is common practice, no source",
    settings={
        "share_percent": Setting(5, "largest drop, in percent of the supply's volts", least=0),
        **PEAK,
    },
    examples=_examples,
)
def voltage_drop(place: Path, path: Path, settings: Settings) -> Answer:
    """A wire is a resistance, and the current flows through it twice: out and back.

    The drop grows with the current, so it is largest when the servos pull hardest.  A battery is
    judged empty, where a drop counts most.
    """
    supply = supply_of(path.setup)
    if supply.wire is None:
        return Open("The wire from the supply is not recorded.", (f"{SUPPLY}/wire",))
    volts = supply.volts[0] if isinstance(supply.volts, tuple) else supply.volts
    draw = peak(path.setup, settings)
    drop = draw.ampere * ohm(supply.wire)
    percent = 100 * drop / volts
    if percent > settings["share_percent"]:
        return Fail(
            f"At {round(draw.ampere, 2):g} A the supply's wire, AWG {supply.wire.gauge_awg:g} and "
            f"{supply.wire.length_mm:g} mm long, drops {drop:.2g} V out and back, "
            f"{percent:.1f} % of {volts:g} V.",
            at=f"{SUPPLY}/wire/gauge_awg",
            evidence={
                "ampere": draw.ampere,
                "ohm": round(ohm(supply.wire), 4),
                "drop_v": round(drop, 3),
                "percent": round(percent, 2),
            },
        )
    if draw.unknown:
        return Open("Not every servo's stall current is recorded.", draw.unknown)
    return PASS
