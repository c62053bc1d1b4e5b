"""Which constructions of the catalogue may serve a place at all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True)
class Duty:
    """What a place asks of a hose; None where the register does not say."""

    dn: float | None
    pressure_bar: float | None
    temperature_c: float | None
    bend_radius_mm: float | None


@dataclass(frozen=True)
class Candidate:
    """One construction at one nominal size, from the catalogue."""

    construction: str
    dn: float | None
    core_alloy: str | None
    rated_pressure_bar: float | None
    min_bend_radius_dynamic_mm: float | None
    bending_stiffness_n_m2: float | None
    mass_kg_per_m: float | None


def derated_pressure_bar(
    rated_bar: float, factors: Sequence[tuple[float, float]], temperature_c: float
) -> float | None:
    """Return the pressure rating that is left at a temperature.

    Parameters
    ----------
    rated_bar : float
        Rating at 20 degC.
    factors : sequence of (degC, share)
        Rising temperatures of the alloy's derating table.
    temperature_c : float

    Returns
    -------
    float or None
        None above the last entry: the table says nothing there, so neither do we.

    Notes
    -----
    Linear between entries; below the first entry the share is 1 at most. The interpolation rule
    is ours, the table is the caller's.
    """
    if temperature_c <= factors[0][0]:
        return rated_bar * min(1.0, factors[0][1])
    for (low, share_low), (high, share_high) in pairwise(factors):
        if temperature_c <= high:
            share = share_low + (share_high - share_low) * (temperature_c - low) / (high - low)
            return rated_bar * share
    return None


def objection(
    candidate: Candidate, duty: Duty, derating: Mapping[str, Sequence[tuple[float, float]]]
) -> str | None:
    """Say why a construction may not serve a place, or None when nothing recorded speaks against.

    Parameters
    ----------
    candidate : Candidate
    duty : Duty
    derating : mapping of alloy to its table
        See `derated_pressure_bar`.

    Returns
    -------
    str or None
        Plain words; a missing rating or an alloy without a table is an objection, not a pass.
    """
    if candidate.dn is not None and duty.dn is not None and candidate.dn != duty.dn:
        return f"made for DN {candidate.dn:g}, the place has DN {duty.dn:g}"
    return _pressure_objection(candidate, duty, derating) or _bend_objection(candidate, duty)


def _pressure_objection(
    candidate: Candidate, duty: Duty, derating: Mapping[str, Sequence[tuple[float, float]]]
) -> str | None:
    """Compare the duty with the rating that is left at its temperature."""
    if duty.pressure_bar is None or duty.temperature_c is None:
        return "the register does not give the place's pressure and temperature"
    if candidate.rated_pressure_bar is None:
        return "no pressure rating in the catalogue"
    factors = derating.get(candidate.core_alloy or "")
    if factors is None:
        return f"no derating table for alloy {candidate.core_alloy or 'not recorded'}"
    left = derated_pressure_bar(candidate.rated_pressure_bar, factors, duty.temperature_c)
    if left is None:
        return f"{duty.temperature_c:g} degC is above the alloy's derating table"
    if left < duty.pressure_bar:
        return (f"rated {left:.0f} bar at {duty.temperature_c:g} degC, "
                f"the place runs at {duty.pressure_bar:g} bar")
    return None


def _bend_objection(candidate: Candidate, duty: Duty) -> str | None:
    """Compare the bend of the place with what the hose allows in motion."""
    if duty.bend_radius_mm is None or candidate.min_bend_radius_dynamic_mm is None:
        return None
    if candidate.min_bend_radius_dynamic_mm > duty.bend_radius_mm:
        return (f"needs a bend radius of {candidate.min_bend_radius_dynamic_mm:g} mm in motion, "
                f"the place has {duty.bend_radius_mm:g} mm")
    return None
