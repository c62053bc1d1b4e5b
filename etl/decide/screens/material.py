"""Material: fatigue of bellows at low cycles, and resistance of alloys to pitting."""

from __future__ import annotations

import math

FATIGUE_NUMERATOR, FATIGUE_OFFSET, FATIGUE_POWER = 1.86e6, 54_000.0, 3.4
"""EJMA, 10th ed.: unreinforced austenitic bellows as formed, psi; from a public calculation
sheet."""
CHROMIUM_EQUIVALENT = (1.0, 3.3, 16.0)
"""Of chromium, molybdenum and nitrogen; common formula, from memory."""


def bellows_fatigue_cycles(stress_psi: float) -> float:
    """Return the cycles of an unreinforced bellows at low cycles; not for vibration.

    Parameters
    ----------
    stress_psi : float
        Total stress range.

    Returns
    -------
    float
        Infinite where the formula gives no end.
    """
    if stress_psi <= FATIGUE_OFFSET:
        return math.inf
    return float((FATIGUE_NUMERATOR / (stress_psi - FATIGUE_OFFSET)) ** FATIGUE_POWER)


def pitting_number(chromium: float, molybdenum: float, nitrogen: float) -> float:
    """Return the number by which alloys are ranked against pitting.

    Parameters
    ----------
    chromium, molybdenum, nitrogen : float
        Percent by mass.
    """
    shares = zip(CHROMIUM_EQUIVALENT, (chromium, molybdenum, nitrogen), strict=True)
    return sum(weight * percent for weight, percent in shares)
