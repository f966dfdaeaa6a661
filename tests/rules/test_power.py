"""Power: the physics against outside sources, and what a missing current means."""

from __future__ import annotations

from math import acos, cos, log, pi, radians, sin
from typing import TYPE_CHECKING, Any

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from prebind import Finding, Inspector, trace
from prebind.model import Wire
from prebind.testing import clean, inspected
from prebind_rules.power._hinge import SEA_LEVEL_KG_M3, hinge_moment_nm, moment_per_radian
from prebind_rules.power.continuous import continuous_current
from prebind_rules.power.peak import peak_current
from prebind_rules.power.wire import diameter_mm, ohm, voltage_drop

if TYPE_CHECKING:
    from collections.abc import Callable

SUPPLY = "/power/receiver_supply"


def found(document: dict[str, Any], rule: str, kind: str = "fail") -> list[Finding]:
    report = Inspector().inspect(document)
    assert report.problems == ()
    return [f for f in report.findings if f.rule == rule and f.kind == kind]


class TestWire:
    @pytest.mark.parametrize("gauge", range(10, 28))
    def test_thickness_of_wire_sizes(self, gauge: int) -> None:
        # PyPI fluids, t_from_gauge(schedule="AWG"), in m.  Its table has four decimals of an inch:
        # for thinner wires than AWG 27 its last digit is coarser than 0.3 %.
        from fluids import t_from_gauge

        thickness_mm = 1000 * t_from_gauge(gauge, schedule="AWG")
        assert diameter_mm(gauge) == pytest.approx(thickness_mm, rel=0.003)

    @pytest.mark.parametrize(
        ("gauge", "ohm_per_1000_ft"), [(20, 10.15), (22, 16.14), (24, 25.67), (26, 40.81)]
    )
    def test_resistance_of_wire_sizes(self, gauge: int, ohm_per_1000_ft: float) -> None:
        # Table of copper wire to ASTM B258, Ω per 1000 ft at 20 °C; a foot is 304.8 mm.
        out_and_back = Wire(gauge_awg=gauge, length_mm=304_800 / 2)
        assert ohm(out_and_back) == pytest.approx(ohm_per_1000_ft, rel=0.003)

    def test_resistance_of_the_size_that_is_defined(self) -> None:
        # AWG 36 is 0.127 mm thick by definition (ASTM B258); 0.017241 Ω mm²/m (IEC 60028), and
        # 0.5 m of wire is 1 m there and back.
        expected = 0.017241 / (pi / 4 * 0.127**2)
        assert ohm(Wire(gauge_awg=36, length_mm=500)) == pytest.approx(expected, rel=1e-6)

    def test_a_battery_is_judged_empty(self) -> None:
        document = clean("glow")
        document["power"]["receiver_supply"]["wire"]["length_mm"] = 600
        (fail,) = found(document, "power/wire")
        # Two of six servos stalled: 2 × 1.6 A + 4 × 0.4 A; 52.96 Ω/km (AWG 22) over 1.2 m; 5.6 V.
        assert fail.evidence["ampere"] == pytest.approx(4.8)
        assert fail.evidence["drop_v"] == pytest.approx(4.8 * 0.05296 * 1.2, abs=0.001)
        assert fail.evidence["percent"] == pytest.approx(100 * 4.8 * 0.05296 * 1.2 / 5.6, abs=0.01)
        assert (fail.at, fail.word) == (f"{SUPPLY}/wire/gauge_awg", "caution")
        told = {key: fail.evidence[key] for key in ("ohm", "drop_v", "percent")}
        assert told == {"ohm": 0.0636, "drop_v": 0.305, "percent": 5.45}


@pytest.mark.parametrize("large", ["low", "high"])
def test_the_larger_throw_of_two_sides_decides(large: str) -> None:
    document = clean()
    del document["transmitter"]["output"]["steps"]
    document["model"]["max_speed_m_s"] = 90
    document["channels"][2]["travel_percent"] = {"low": 30, "high": 30, large: 100}
    finding = next(f for f in found(document, "power/servo-weak") if f.at.startswith("/servos/2/"))
    path = trace(Inspector().inspect(document).setup)
    servo = next(it for it in path.servos if it.at == "/servos/2")
    full = abs(servo.deflection(1100 if large == "low" else 1900))
    assert finding.evidence["deflection_deg"] == pytest.approx(full, abs=0.06)


def _moment_by_integration(chord_ratio: float) -> float:
    """b₂ from the thin aerofoil's load along the flap, for one radian at no incidence.

    The vortex sheet of a thin aerofoil with a deflected flap, with the Fourier series summed.
    """
    hinge = 2 * chord_ratio - 1  # its cosine
    phi = acos(hinge)

    def moment(theta: float) -> float:
        bend = log(abs(sin((theta + phi) / 2) / sin((theta - phi) / 2))) / pi
        load = 4 * ((1 - phi / pi) * (1 + cos(theta)) / sin(theta) + bend)
        arm = (hinge - cos(theta)) / 2
        return load * arm * sin(theta) / 2

    area, _ = quad(moment, phi, pi, limit=200)
    return -area / chord_ratio**2


class TestHingeMoment:
    @pytest.mark.parametrize(
        ("chord_ratio", "moment"),
        [(0.10, -0.8842), (0.20, -0.9229), (0.25, -0.9436), (0.30, -0.9654), (0.40, -1.0127)],
    )
    def test_coefficient_of_a_thin_aerofoil_flap(self, chord_ratio: float, moment: float) -> None:
        # Glauert, R&M 1095; Houghton and Carpenter, 4.57.
        assert moment_per_radian(chord_ratio) == pytest.approx(moment, abs=5e-5)

    @pytest.mark.parametrize("chord_ratio", [0.10, 0.25, 0.40, 0.75])
    def test_coefficient_by_integration(self, chord_ratio: float) -> None:
        expected = _moment_by_integration(chord_ratio)
        assert moment_per_radian(chord_ratio) == pytest.approx(expected, rel=1e-6)

    def test_moment_by_hand(self) -> None:
        # −0.9436 × 25° × ½ × 1.225 kg/m³ × (30 m/s)² × 0.025 m² × 0.05 m, the first to more digits.
        expected = -_moment_by_integration(0.25) * radians(25) * 0.5 * 1.225 * 30**2 * 0.025 * 0.05
        assert expected == pytest.approx(0.2837, abs=5e-5)
        assert hinge_moment_nm(250, 50, 25, 30, 0.25) == pytest.approx(expected, rel=1e-6)

    def test_density_at_sea_level(self) -> None:
        # ISO 2533, as in PyPI ambiance.
        from ambiance import Atmosphere

        assert Atmosphere(0).density[0] == pytest.approx(SEA_LEVEL_KG_M3, rel=1e-6)


def _deflection_deg(turned_deg: float) -> float:
    """The elevator of the trainer: arm 9 mm, horn 15 mm, 70 mm apart, both upright at neutral.

    The pushrod keeps its length: solved as it stands, not in closed form.
    """

    def tips(arm_deg: float, horn_deg: float) -> float:
        across = 70 + 15 * cos(radians(horn_deg)) - 9 * cos(radians(arm_deg))
        up = 15 * sin(radians(horn_deg)) - 9 * sin(radians(arm_deg))
        return (across**2 + up**2) ** 0.5

    rod = tips(90, 90)
    return brentq(lambda horn: tips(90 + turned_deg, horn) - rod, 30, 150) - 90


class TestServoWeak:
    def test_torque_through_the_linkage_by_virtual_work(self) -> None:
        document = clean()
        del document["transmitter"]["output"]["steps"]
        document["servos"][2]["torque_ncm"] = 5
        (fail,) = found(document, "power/servo-weak")
        # ±100 % is ±400 µs, ±40° of the arm; the harder end counts.
        needed = []
        for turned in (-40, 40):
            leverage = (_deflection_deg(turned + 0.01) - _deflection_deg(turned - 0.01)) / 0.02
            moment = hinge_moment_nm(210, 50, _deflection_deg(turned), 24, 0.25)
            needed.append(100 * moment * leverage)
        assert (fail.at, fail.word) == ("/servos/2/torque_ncm", "warning")
        assert fail.evidence["needed_ncm"] == pytest.approx(max(needed), abs=0.006)
        assert fail.evidence["deflection_deg"] == pytest.approx(_deflection_deg(40), abs=0.06)

    def test_two_servos_share_one_surface(self) -> None:
        document = clean()
        document["servos"][2]["torque_ncm"] = 5
        document["receiver"]["outputs"].append({"port": 6, "channel": 3})
        document["servos"].append({**document["servos"][2], "port": 6, "torque_ncm": 3})
        (fail,) = found(document, "power/servo-weak")
        assert fail.at == "/servos/4/torque_ncm"
        assert fail.evidence["needed_ncm"] == pytest.approx(7.3 / 2, abs=0.05)

    def test_what_is_missing_is_named(self) -> None:
        document = clean()
        del document["model"]["max_speed_m_s"]
        del document["servos"][3]["linkage"]
        opens = found(document, "power/servo-weak", "open")
        assert {f.at: f.settles for f in opens} == {
            "/servos/0": ("/model/max_speed_m_s",),
            "/servos/1": ("/model/max_speed_m_s",),
            "/servos/2": ("/model/max_speed_m_s",),
            "/servos/3": ("/model/max_speed_m_s", "/servos/3/linkage"),
        }

    def test_a_surface_has_up_to_the_whole_chord(
        self, refused: Callable[[str, str, float], bool]
    ) -> None:
        ratios = (0.009, 0.01, 1, 1.01)
        asked = [refused("power/servo-weak", "chord_ratio", ratio) for ratio in ratios]
        assert asked == [True, False, False, True]

    def test_a_wheel_has_no_load_of_the_air(self) -> None:
        document = clean("glow")
        document["servos"][5]["torque_ncm"] = 0.1
        assert found(document, "power/servo-weak") == []


class TestCurrents:
    def test_a_helicopters_swashplate_stalls_together(self) -> None:
        document = clean("helicopter")
        document["power"]["receiver_supply"]["peak_a"] = 8.5
        (fail,) = found(document, "power/peak")
        assert fail.evidence == {"ampere": 8.8, "peak_a": 8.5, "stalled": 4}  # 4 × 2.2 A
        document["model"]["airframe"] = "aeroplane"
        assert found(document, "power/peak") == []  # 2 × 2.2 A + 2 × 0.55 A

    def test_a_fifth_servo_of_a_helicopter_works_on(self) -> None:
        document = clean("helicopter")
        document["receiver"]["outputs"].append({"port": 6, "channel": 4})
        document["servos"].append({"port": 6, "stall_a": 2, "idle_a": 0.02})
        document["power"]["receiver_supply"]["peak_a"] = 9
        (fail,) = inspected(peak_current, document).findings
        # 4 × 2.2 A, and a quarter of 2 A.
        assert fail.evidence == {"ampere": 9.3, "peak_a": 9, "stalled": 4}

    def test_an_unknown_current_only_adds(self) -> None:
        document = clean()
        del document["servos"][1]["stall_a"]
        (unknown,) = found(document, "power/peak", "open")
        assert unknown.settles == ("/servos/1/stall_a",)
        document["power"]["receiver_supply"]["peak_a"] = 2.4  # 2 × 1.1 A + 0.275 A are known
        (fail,) = found(document, "power/peak")
        assert fail.evidence["ampere"] == pytest.approx(2.475)

    def test_the_club_chooses_how_many_stall(self) -> None:
        document = clean()
        document["power"]["receiver_supply"]["peak_a"] = 4.3
        assert inspected(peak_current, document).outcomes["fail"] == 0
        assert inspected(peak_current, document, stalled=4).outcomes["fail"] == 1  # 4 × 1.1 A
        document["power"]["receiver_supply"]["continuous_a"] = 2
        assert inspected(continuous_current, document, share=0.5).outcomes["fail"] == 1  # 2.2 A

    def test_a_current_is_told_to_a_millionth_of_an_ampere(self) -> None:
        document = clean()
        document["power"]["receiver_supply"]["peak_a"] = 2
        (fail,) = inspected(peak_current, document, share=1 / 3).findings
        assert fail.evidence["ampere"] == 2.933333  # 2 × 1.1 A and a third of as much

    @pytest.mark.parametrize("key", ["stalled", "stalled_helicopter"])
    def test_servos_are_counted_in_whole_ones(
        self, key: str, refused: Callable[[str, str, float], bool]
    ) -> None:
        assert not refused("power/peak", key, 3)
        assert refused("power/peak", key, 2.5)

    def test_what_draws_nothing_drops_nothing(self) -> None:
        document = clean()
        for servo in document["servos"]:
            servo["stall_a"] = 0
        assert inspected(voltage_drop, document, share_percent=0).outcomes["fail"] == 0

    @pytest.mark.parametrize("key", ["peak_a", "continuous_a", "wire"])
    def test_a_supply_that_does_not_say(self, key: str) -> None:
        document = clean()
        del document["power"]["receiver_supply"][key]
        rule = {"peak_a": "peak", "continuous_a": "continuous", "wire": "wire"}[key]
        (unknown,) = found(document, f"power/{rule}", "open")
        assert unknown.settles == (f"{SUPPLY}/{key}",)


class TestVolts:
    def test_every_servo_is_judged(self) -> None:
        document = clean()
        document["power"]["receiver_supply"]["volts"] = 7.4
        document["servos"][1]["volts"] = [4.8, 8.4]
        del document["servos"][2]["volts"]
        fails = found(document, "power/volts")
        assert [f.at for f in fails] == ["/servos/0/volts", "/servos/3/volts"]
        assert fails[0].evidence == {
            "port": 2,
            "volts": 7.4,
            "lowest_volts": 4.8,
            "highest_volts": 6.0,
        }
        (unknown,) = found(document, "power/volts", "open")
        assert (unknown.at, unknown.settles) == ("/servos/2", ("/servos/2/volts",))

    @pytest.mark.parametrize(
        ("volts", "told"),
        [
            (7.4, "gives 7.4 V, above the 6 V"),
            ([5.6, 8.4], "gives 8.4 V when full, above the 6 V"),
            (4.5, "gives 4.5 V, below the 4.8 V"),
            ([4.4, 5.8], "gives 4.4 V when empty, below the 4.8 V"),
        ],
    )
    def test_a_battery_is_judged_full_and_empty(
        self, volts: float | list[float], told: str
    ) -> None:
        document = clean()
        source = "battery" if isinstance(volts, list) else "bec"
        document["power"]["receiver_supply"].update(source=source, volts=volts)
        fails = found(document, "power/volts")
        assert [f.message.partition(told)[1] for f in fails] == [told] * 4

    def test_without_a_supply_the_pack_is_still_judged(self) -> None:
        document = clean()
        del document["power"]["receiver_supply"]
        document["power"]["flight_pack"]["cells"] = 2
        (fail,) = found(document, "power/volts")
        assert (fail.at, fail.evidence["cells"]) == ("/speed_controls/0/cells", 2)
        opens = found(document, "power/volts", "open")
        assert [f.settles for f in opens] == [(SUPPLY,)] * 4


class TestAlarm:
    def test_only_an_electric_model_flies_on_a_pack(self) -> None:
        document = clean("glow")
        document["power"]["flight_pack"] = {"chemistry": "nimh", "cells": 6}
        assert found(document, "power/alarm") == []
        document = clean()
        del document["power"]["flight_pack"]
        (unknown,) = found(document, "power/alarm", "open")
        assert unknown.settles == ("/power/flight_pack",)

    def test_a_multirotor_falls(self) -> None:
        document = clean("multirotor")
        document["power"]["flight_pack"]["warning_v_per_cell"] = 3.4
        (fail,) = found(document, "power/alarm")
        assert fail.word == "warning"
        assert fail.evidence == {"warning_v_per_cell": 3.4, "lowest_v_per_cell": 3.5}
