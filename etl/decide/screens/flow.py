"""Flow: speed, published speeds to compare with, modes of the corrugations, lock-in and whistling.

Published speeds differ almost twentyfold for one case; they are shown side by side and none is a
failure speed. The Strouhal bands are remembered, not confirmed: bands to look at, no verdict.
"""

from __future__ import annotations

import math

FOOT = 0.3048
INCH_MM = 25.4
STROUHAL = (0.1, 0.2, 0.3)
"""Low, middle and high value for corrugation tips, from memory, not confirmed."""
WHISTLE_STROUHAL = (0.3, 0.6)
"""For corrugated pipes in gas, from memory, not confirmed."""


def speed_m_s(flow_m3_h: float, bore_mm: float) -> float:
    """Return the mean speed in a bore."""
    return flow_m3_h / 3600.0 / (math.pi / 4.0 * (bore_mm * 1e-3) ** 2)


def published_speed_m_s(
    bore_mm: float, per_inch_ft_s: float, up_to_inch: float, beyond_ft_s: float
) -> float:
    """Return a published speed that grows with the bore up to a size and is fixed beyond it.

    Parameters
    ----------
    bore_mm : float
        Nominal bore.
    per_inch_ft_s, up_to_inch : float
        Slope, and the size up to which it holds; 0 for a speed that does not depend on size.
    beyond_ft_s : float

    Notes
    -----
    The step down at the largest size stands in the source (EJMA, 9th ed., 4.10: speeds above
    which a liner is asked for in expansion joints).
    """
    inches = bore_mm / INCH_MM
    speed = per_inch_ft_s * inches if inches <= up_to_inch * (1.0 + 1e-9) else beyond_ft_s
    return speed * FOOT


def axial_mode_hz(
    n_corrugations: int, axial_spring_n_mm: float, half_mass_kg: float, mode: int
) -> float:
    """Return an axial frequency of a row of corrugations held at both ends.

    Parameters
    ----------
    n_corrugations : int
    axial_spring_n_mm : float
        Axial stiffness of the whole row.
    half_mass_kg : float
        Half a corrugation, metal and fluid.
    mode : int
        From 1.

    Notes
    -----
    Uniform chain of 2 n - 1 masses and 2 n springs, derived.
    """
    spring = 2.0 * n_corrugations * axial_spring_n_mm * 1e3
    angle = math.pi * (2 * n_corrugations - mode) / (2.0 * n_corrugations)
    return (math.sqrt(spring / half_mass_kg) / (2.0 * math.pi)
            * math.sqrt(2.0 * (1.0 + math.cos(angle))))


def lock_in_speeds_m_s(frequency_hz: float, tip_width_mm: float) -> tuple[float, float, float]:
    """Return the lowest, middle and highest speed at which shed vortices meet a mode.

    References
    ----------
    Form after Gerlach, J. Eng. Ind. 94 (1972); `STROUHAL` from memory.
    """
    low, middle, high = (frequency_hz * tip_width_mm * 1e-3 / value for value in STROUHAL[::-1])
    return low, middle, high


def whistle_band_hz(speed: float, cavity_mm: float) -> tuple[float, float]:
    """Return the band of tones that corrugations make in a gas.

    Parameters
    ----------
    speed : float, m/s
    cavity_mm : float
        Width of the cavity and radius of its upstream edge.
    """
    low, high = (value * speed / (cavity_mm * 1e-3) for value in WHISTLE_STROUHAL)
    return low, high
