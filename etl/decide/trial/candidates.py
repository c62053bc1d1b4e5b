"""Where a side-by-side trial of two contrasting constructions would pay, and which two."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

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
    verdicts: Mapping[str, bool] = MappingProxyType({}),
) -> Contrast | str:
    """Choose the most flexible and the stiffest, heaviest construction that may serve a place.

    Parameters
    ----------
    catalogue : sequence of Candidate
    duty : Duty
    derating : mapping of alloy to its derating table
    verdicts : mapping of construction to bool
        From trials that were decided for such places: True where it was adopted, which then
        stands against the one furthest from it; False where it was dropped, which stands for
        nothing more.

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
        and verdicts.get(item.construction, True)
    ]
    if len(able) < 2:
        said = next((words for _, words in judged if words), "no stiffness and mass known")
        if any(item.construction in verdicts for item in catalogue):
            said = "decided by a trial"
        return f"fewer than two constructions of the catalogue suit this place ({said})"
    flexible, stiff = _extremes(able, verdicts)
    ratio = (stiff.bending_stiffness_n_m2 or 0.0) / (flexible.bending_stiffness_n_m2 or 1.0)
    if ratio < LEAST_STIFFNESS_RATIO:
        return f"the constructions that suit differ only {ratio:.1f}-fold in stiffness"
    mass = (stiff.mass_kg_per_m or 0.0) / (flexible.mass_kg_per_m or 1.0)
    return Contrast(
        flexible.construction, stiff.construction, _why(flexible, "most flexible", verdicts),
        _why(stiff, "stiffest", verdicts), ratio, mass,
    )


def _extremes(
    able: Sequence[Candidate], verdicts: Mapping[str, bool]
) -> tuple[Candidate, Candidate]:
    """Return the flexible and the stiff arm; one that was adopted before is always an arm."""
    ranked = sorted(able, key=lambda item: (*_heft(item), item.construction))
    adopted = next((item for item in ranked if verdicts.get(item.construction)), None)
    if adopted is None:
        return ranked[0], ranked[-1]
    own = _heft(adopted)[0]
    reach = {end: max(_heft(end)[0] / own, own / _heft(end)[0]) for end in (ranked[0], ranked[-1])}
    other = ranked[0] if reach[ranked[0]] >= reach[ranked[-1]] else ranked[-1]
    return (other, adopted) if _heft(other) <= _heft(adopted) else (adopted, other)


def _why(item: Candidate, end: str, verdicts: Mapping[str, bool]) -> str:
    """Say what speaks for an arm."""
    lead = "adopted by a trial" if verdicts.get(item.construction) else f"{end} that suits"
    return f"{lead}: {item.bending_stiffness_n_m2:g} N m², {item.mass_kg_per_m:g} kg/m"


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
