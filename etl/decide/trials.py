"""Where a side-by-side trial of two contrasting constructions would pay, and which two."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from etl.decide.eligibility import Candidate, Duty, objection

TRIAL_MECHANISMS = ("vib_fatigue", "flow_vib", "braid_wear", "bend_fatigue", "unknown")
"""Mechanisms whose cure by another construction cannot be told beforehand."""

LEAST_STIFFNESS_RATIO = 1.5
"""Below this the two arms would not be a contrast (common practice, no source)."""


@dataclass(frozen=True)
class Contrast:
    """The two arms of a trial and what speaks for them.

    Attributes
    ----------
    flexible, stiff : str
        Constructions.
    flexible_reason, stiff_reason : str
    stiffness_ratio, mass_ratio : float
        Stiff arm over flexible arm.
    """

    flexible: str
    stiff: str
    flexible_reason: str
    stiff_reason: str
    stiffness_ratio: float
    mass_ratio: float


def contrasting_pair(
    catalogue: Sequence[Candidate],
    duty: Duty,
    derating: Mapping[str, Sequence[tuple[float, float]]],
) -> Contrast | str:
    """Choose the most flexible and the stiffest, heaviest construction that may serve a place.

    Parameters
    ----------
    catalogue : sequence of Candidate
    duty : Duty
    derating : mapping of alloy to its derating table

    Returns
    -------
    Contrast or str
        Words saying why there is no pair, when there is none.

    Notes
    -----
    Nobody knows beforehand in which direction the cure lies, so the arms lie as far apart as the
    catalogue allows; both must meet the full duty.
    """
    judged = [(item, objection(item, duty, derating)) for item in catalogue]
    able = [
        item for item, words in judged
        if words is None and item.bending_stiffness_n_m2 and item.mass_kg_per_m
    ]
    if len(able) < 2:
        said = next((words for _, words in judged if words), "no stiffness and mass known")
        return f"fewer than two constructions of the catalogue suit this place ({said})"
    flexible = min(able, key=lambda item: (*_heft(item), item.construction))
    stiff = max(able, key=lambda item: (*_heft(item), item.construction))
    ratio = (stiff.bending_stiffness_n_m2 or 0.0) / (flexible.bending_stiffness_n_m2 or 1.0)
    if ratio < LEAST_STIFFNESS_RATIO:
        return f"the constructions that suit differ only {ratio:.1f}-fold in stiffness"
    mass = (stiff.mass_kg_per_m or 0.0) / (flexible.mass_kg_per_m or 1.0)
    return Contrast(
        flexible.construction, stiff.construction,
        f"most flexible that suits: {flexible.bending_stiffness_n_m2:g} N m², "
        f"{flexible.mass_kg_per_m:g} kg/m",
        f"stiffest that suits: {stiff.bending_stiffness_n_m2:g} N m², {stiff.mass_kg_per_m:g} kg/m",
        ratio, mass,
    )


def _heft(item: Candidate) -> tuple[float, float]:
    """Order by stiffness first, mass second."""
    return item.bending_stiffness_n_m2 or 0.0, item.mass_kg_per_m or 0.0


def months_to_failures(expected_per_month: float, wanted: int) -> float:
    """Return how many months a trial needs until so many failures are expected in all.

    Parameters
    ----------
    expected_per_month : float
        Failures expected a month over all places of the trial.
    wanted : int
        Failures wanted.

    Returns
    -------
    float
        Infinite when none is expected.

    Examples
    --------
    >>> months_to_failures(0.5, 10)
    20.0
    """
    return wanted / expected_per_month if expected_per_month > 0 else math.inf


def cautions(hazards: Sequence[str]) -> str:
    """Return what must hold before a trial at a place with these hazards."""
    base = "A qualified person confirms rating, bend, ends and alloy against the medium."
    if hazards:
        return (f"{base} Hazardous service ({', '.join(hazards)}): planned removal instead of "
                "running to failure, and approval by the site's management of change.")
    return base
