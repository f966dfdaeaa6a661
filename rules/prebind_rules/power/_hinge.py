"""The air's moment on a deflected surface."""

from __future__ import annotations

from math import acos, cos, pi, radians, sin

SEA_LEVEL_KG_M3 = 1.225
"""Density of the standard atmosphere at sea level, ISO 2533."""


def moment_per_radian(chord_ratio: float) -> float:
    """b₂: the hinge moment's coefficient by deflection, of a flap of a thin aerofoil.

    `chord_ratio` is the flap's chord over the whole, between 0 and 1.  Negative: the air pushes
    the flap back.  Glauert, R&M 1095.
    """
    phi = acos(2 * chord_ratio - 1)
    terms = (
        (1 - cos(2 * phi)) - 2 * (pi - phi) ** 2 * (1 - 2 * cos(phi)) + 4 * (pi - phi) * sin(phi)
    )
    return -terms / (4 * pi * chord_ratio**2)


def hinge_moment_nm(
    area_cm2: float, chord_mm: float, deflection_deg: float, speed_m_s: float, chord_ratio: float
) -> float:
    """The moment in N m with which the air pushes a deflected surface back, at sea level."""
    pressure_pa = 0.5 * SEA_LEVEL_KG_M3 * speed_m_s**2
    coefficient = moment_per_radian(chord_ratio) * radians(abs(deflection_deg))
    return abs(coefficient) * pressure_pa * (area_cm2 / 1e4) * (chord_mm / 1e3)
