"""Bend geometry: length for an offset or a loop, radius of an offset. Blind to vibration.

Radii are measured to the centre line. Published methods differ in what they hold fixed: here the
distance between the ends may shorten (trade form, read second-hand; agrees with a guided beam).
"""

from __future__ import annotations

import math

EXPANSION_PER_K = 16.5e-6
"""Of austenitic steel, from memory."""


def length_for_offset_mm(radius_mm: float, offset_mm: float) -> float:
    """Return the live length for an offset to one side with parallel ends.

    Parameters
    ----------
    radius_mm : float
        Smallest radius allowed, in motion if it moves.
    offset_mm : float
        To one side; the whole travel where it moves to both.
    """
    return math.sqrt(6.0 * radius_mm * offset_mm + offset_mm**2)


def span_for_offset_mm(radius_mm: float, offset_mm: float) -> float:
    """Return the distance between the ends along the pipe for an offset to one side."""
    return math.sqrt(6.0 * radius_mm * offset_mm)


def radius_of_offset_mm(span_mm: float, offset_mm: float) -> float:
    """Return the smallest radius, at the ends, of an offset with parallel ends.

    Parameters
    ----------
    span_mm : float
        Distance between the ends along the pipe.
    offset_mm : float
        Offset, or amplitude of shaking: half a millimetre passes every bend check.
    """
    return span_mm**2 / (6.0 * offset_mm)


def shortest_length_for_offset_mm(radius_mm: float, offset_mm: float) -> float:
    """Return the length of two equal arcs that make the offset: geometry's lower bound."""
    return 2.0 * radius_mm * math.acos(1.0 - offset_mm / (2.0 * radius_mm))


def loop_across_mm(radius_mm: float, travel_mm: float) -> tuple[float, float, float]:
    """Return length and heights of a U-loop whose legs move across each other.

    Returns
    -------
    tuple of float
        Live length, height with the legs closest, height with the legs widest apart. One trade
        table prints a lower height for the widest legs than geometry supports.
    """
    return (4.0 * radius_mm + 1.57 * travel_mm, 1.43 * radius_mm + 0.785 * travel_mm,
            1.43 * radius_mm + 0.5 * travel_mm)


def loop_along_mm(radius_mm: float, travel_mm: float) -> tuple[float, float]:
    """Return length and height of a U-loop one of whose legs moves lengthwise."""
    return 4.0 * radius_mm + travel_mm / 2.0, 1.43 * radius_mm + travel_mm / 2.0


def length_for_angle_mm(radius_mm: float, angle_deg: float) -> float:
    """Return the live length of an even bend."""
    return math.pi * radius_mm * angle_deg / 180.0


def thermal_growth_mm(length_m: float, rise_k: float) -> float:
    """Return how much an austenitic pipe grows."""
    return EXPANSION_PER_K * length_m * rise_k * 1000.0
