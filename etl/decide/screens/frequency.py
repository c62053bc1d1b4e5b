"""Lateral natural frequency of a straight hose, and how near an excitation it lies.

Beam theory with a stiffness taken from a test. Friction in the braid makes stiffness depend on
amplitude, pressure changes it, short hoses are ruled by shear: expect 30 % either way on the
stiffness, 14 to 16 % on the frequency. A bent or looped hose has no simple formula. What is
measured as installed, filled and pressurised, goes first. Customary distances from an excitation:
20 % for a measured frequency (API 618, from memory), 30 % for one calculated from a measured
stiffness; from a catalogue no verdict at all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.optimize import brentq

EIGENVALUES = {"pinned": math.pi, "fixed and pinned": 3.92660231, "fixed": 4.73004074,
               "free at one end": 1.87510407}
"""First roots of the frequency equations of a uniform beam, any textbook of vibration."""
STIFFNESS_ERROR = 0.30
"""Of a stiffness from a simple test, either way (common practice, no source)."""


def water_mass_kg_m(density_kg_m3: float, area_mm2: float) -> float:
    """Return the mass of the fluid per metre; distorted corrugations carry more."""
    return density_kg_m3 * area_mm2 * 1e-6


def stiffness_n_m2(spring_n_mm: float, length_mm: float, ends: str) -> float:
    """Return the bending stiffness from a lateral pull.

    Parameters
    ----------
    spring_n_mm : float
        Force over deflection, at service pressure and small amplitude.
    length_mm : float
    ends : str
        ``"guided"`` (both ends kept parallel) or ``"free at one end"``.
    """
    share = {"guided": 12.0, "free at one end": 3.0}[ends]
    return spring_n_mm * 1e3 * (length_mm * 1e-3) ** 3 / share


def natural_frequency_hz(
    stiffness: float, mass_kg_m: float, length_mm: float, ends: str = "fixed"
) -> float:
    """Return the first lateral frequency without axial force.

    Parameters
    ----------
    stiffness : float, N m2
    mass_kg_m : float
        Hose and what is in it: filled, draining and empty are different states.
    length_mm : float
        Live length.
    ends : str
        A key of `EIGENVALUES`.
    """
    length = length_mm * 1e-3
    return EIGENVALUES[ends] ** 2 / (2.0 * math.pi * length**2) * math.sqrt(stiffness / mass_kg_m)


def buckling_load_n(stiffness: float, length_mm: float) -> float:
    """Return Euler's load of the hose with pinned ends."""
    return math.pi**2 * stiffness / (length_mm * 1e-3) ** 2


def frequency_under_tension_hz(
    stiffness: float, mass_kg_m: float, length_mm: float, tension_n: float, ends: str = "fixed"
) -> float:
    """Return the first lateral frequency with an axial force.

    Parameters
    ----------
    stiffness, mass_kg_m, length_mm
        As in `natural_frequency_hz`.
    tension_n : float
        Wall tension less pressure times area less `flow_term_n`; negative where the braid is
        slack. A braid that carries the whole end load leaves it at 0.
    ends : str
        ``"pinned"`` or ``"fixed"``.

    Returns
    -------
    float
        0 at and below the buckling load.

    Notes
    -----
    Root of the frequency equation of a uniform beam under tension, from memory; exact for the
    beam, not for the hose.
    """
    length = length_mm * 1e-3
    scale = math.sqrt(stiffness / mass_kg_m) / length**2
    half = tension_n * length**2 / (2.0 * stiffness)
    pinned_load = buckling_load_n(stiffness, length_mm)
    if tension_n <= -pinned_load * (4.0 if ends == "fixed" else 1.0):
        return 0.0
    if ends == "pinned":
        free = math.pi**2
        return scale * free * math.sqrt(1.0 + tension_n / pinned_load) / (2.0 * math.pi)

    def equation(omega: float) -> float:
        root = math.hypot(half, omega)
        a, b = math.sqrt(root + half), math.sqrt(max(root - half, 0.0))
        # Divided by cosh so that long tensioned beams do not overflow.
        return (2.0 * omega * (1.0 / math.cosh(a) - math.cos(b))
                + 2.0 * half * math.tanh(a) * math.sin(b))

    guess = EIGENVALUES["fixed"] ** 2 * math.sqrt(max(1.0 + tension_n / (4.0 * pinned_load), 1e-6))
    steps = np.linspace(1e-6 * guess, 1.6 * guess, 400)
    signs = np.sign([equation(value) for value in steps])
    at = int(np.flatnonzero(signs[1:] != signs[:-1])[0])
    omega = float(brentq(equation, steps[at], steps[at + 1], xtol=1e-12, rtol=1e-12))
    return scale * omega / (2.0 * math.pi)


def flow_term_n(density_kg_m3: float, area_mm2: float, speed_m_s: float) -> float:
    """Return the loss of tension through the flow itself (theory of pipes conveying fluid)."""
    return density_kg_m3 * area_mm2 * 1e-6 * speed_m_s**2


def frequency_error() -> tuple[float, float]:
    """Return the relative error of the frequency, up and down, that `STIFFNESS_ERROR` makes."""
    return math.sqrt(1.0 + STIFFNESS_ERROR) - 1.0, math.sqrt(1.0 - STIFFNESS_ERROR) - 1.0


def margin(natural_hz: float, excitation_hz: float) -> float:
    """Return the distance of a natural frequency from an excitation, as a share of the latter."""
    return abs(natural_hz - excitation_hz) / excitation_hz


def amplification(ratio: float, damping: float) -> float:
    """Return the amplitude over the static one (one degree of freedom, any textbook).

    Parameters
    ----------
    ratio : float
        Excitation over natural frequency.
    damping : float
        Share of critical; no value for hoses was found.
    """
    return 1.0 / math.hypot(1.0 - ratio**2, 2.0 * damping * ratio)


def excitation_orders_hz(speed_rpm: float, n_vanes: int) -> dict[str, float]:
    """Return what a machine excites: running speed, twice that, vane or plunger pass, twice that.

    Parameters
    ----------
    speed_rpm : float
        Actual, not synchronous, speed; a variable drive needs its whole band.
    n_vanes : int
        Vanes, lobes or plungers.
    """
    once = speed_rpm / 60.0
    return {"running speed": once, "twice running speed": 2.0 * once,
            "vane pass": n_vanes * once, "twice vane pass": 2.0 * n_vanes * once}


def nearest_excitation(natural_hz: float, excitations: Sequence[float]) -> tuple[float, float]:
    """Return the nearest excitation and the margin to it."""
    near = min(excitations, key=lambda value: (margin(natural_hz, value), value))
    return near, margin(natural_hz, near)
