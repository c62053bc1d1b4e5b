"""Measured vibration: lines for steel pipe to compare with, and what shaking does to a hose.

No line here is a limit for a hose: they were made for pipe, rest on experience, and serve to rank
places. Levels belong to the fixed pipe at the end of the hose.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.stats import rankdata

END_CURVATURE = 28.17535
"""Curvature at a fixed end times length squared over the amplitude at mid-span, first mode of a
beam fixed at both ends (derived)."""


def line_mm_s(
    frequency_hz: ArrayLike, offset: float, slope: float
) -> NDArray[np.float64]:
    """Return a line of vibration velocity over frequency, straight on double logarithmic paper.

    Parameters
    ----------
    frequency_hz : array_like
    offset, slope : float
        ``log10 v = (log10 f + offset) / slope``.

    Returns
    -------
    ndarray, mm/s rms

    References
    ----------
    Energy Institute (2008); constants from two public code files.
    """
    return np.asarray(10.0 ** ((np.log10(np.asarray(frequency_hz, np.float64)) + offset) / slope))


def velocity_mm_s(peak_mm: float, frequency_hz: float) -> float:
    """Return the rms velocity of a sine of given peak displacement."""
    return math.sqrt(2.0) * math.pi * frequency_hz * peak_mm


def radius_from_shaking_mm(amplitude_mm: float, length_mm: float) -> float:
    """Return the smallest bend radius that a first mode of given mid-span amplitude makes."""
    return length_mm**2 / (END_CURVATURE * amplitude_mm)


def stroke_per_corrugation_mm(radius_mm: float, pitch_mm: float, outside_mm: float) -> float:
    """Return how far one corrugation opens at the outer fibre when bent to a radius."""
    return pitch_mm * outside_mm / (2.0 * radius_mm)


def cycles(frequency_hz: float, hours: float) -> float:
    """Return the cycles of so many hours of running."""
    return 3600.0 * frequency_hz * hours


def minutes_to_cycles(n_cycles: float, frequency_hz: float) -> float:
    """Return how soon vibration reaches the cycles of a flex test."""
    return n_cycles / frequency_hz / 60.0


def rank_from_highest(share_of_line: ArrayLike) -> NDArray[np.int64]:
    """Return the rank of each place by its velocity over a line, 1 the highest, ties alike."""
    return np.asarray(rankdata(-np.asarray(share_of_line, np.float64), method="min"), np.int64)
