"""Pressure and temperature: rating needed, thrust, surge. The rating sheet rules."""

from __future__ import annotations

import math

BAR = 1e5
"""Pascal."""


def rating_needed_bar(pressure_bar: float, share_left: float) -> float:
    """Return the rating at 20 degC that leaves a pressure allowed at temperature.

    Parameters
    ----------
    pressure_bar : float
        Highest pressure in service.
    share_left : float
        Share of the 20 degC rating left at the highest temperature, see
        `etl.decide.eligibility.derated_pressure_bar`.

    Examples
    --------
    >>> round(rating_needed_bar(20.0, 0.54), 2)
    37.04
    """
    return pressure_bar / share_left


def effective_diameter_mm(inside_mm: float, outside_mm: float) -> float:
    """Return the mean of inside and outside diameter of the corrugations.

    References
    ----------
    Convention of the EJMA standards, from memory.
    """
    return (inside_mm + outside_mm) / 2.0


def effective_area_mm2(inside_mm: float, outside_mm: float) -> float:
    """Return the area on which the pressure acts along the hose."""
    return math.pi / 4.0 * effective_diameter_mm(inside_mm, outside_mm) ** 2


def thrust_n(pressure_bar: float, area_mm2: float) -> float:
    """Return the end load from pressure: carried by the braid, by anchors where it is slack."""
    return pressure_bar * BAR * area_mm2 * 1e-6


def surge_bar(density_kg_m3: float, sound_m_s: float, change_m_s: float) -> float:
    """Return the rise of pressure when the flow changes suddenly.

    Parameters
    ----------
    density_kg_m3 : float
    sound_m_s : float
        Speed of sound in the filled hose; its give lowers it.
    change_m_s : float

    References
    ----------
    Joukowsky, any textbook of hydraulics.
    """
    return density_kg_m3 * sound_m_s * change_m_s / BAR
