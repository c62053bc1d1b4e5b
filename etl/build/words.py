"""Reasons in plain words, as they are published beside the figures."""

from __future__ import annotations

import numpy as np

LIKELY = 0.25
"""Chance of failing within 90 days from which on it is worth a word."""



def number(value: float) -> str:
    """Return a small count as a person would say it.

    Examples
    --------
    >>> number(2.13), number(0.04), number(31.4), number(0.0)
    ('2.1', 'less than 0.1', '31', 'none')
    """
    if value <= 0:
        return "none"
    if value < 0.1:
        return "less than 0.1"
    return f"{value:.1f}" if value < 10 else f"{value:.0f}"


def rank_reason(
    seen: int, expected: float, *, is_falling: bool, chance_90_days: float, has_hose: bool
) -> str:
    """Say why a place stands where it stands in the ranking.

    Parameters
    ----------
    seen : int
        Failures at the place.
    expected : float
        Failures that like places would have had in the same time in service.
    is_falling : bool
        Lives at the place get shorter, beyond chance.
    chance_90_days : float
        Chance that the present hose fails within 90 days.
    has_hose : bool

    Returns
    -------
    str
    """
    count = f"{seen} failed" if seen else "no failure"
    words = f"{count} where {number(expected)} {'was' if expected < 1 else 'were'} expected"
    if is_falling:
        words += "; lives falling"
    if not has_hose:
        return f"{words}; no hose in service"
    if chance_90_days >= LIKELY:
        words += f"; {chance_90_days:.0%} chance of failing within 90 days"
    return words


def fit_note(n_unknown: int, longest: float, characteristic_life: float | None) -> str | None:
    """Say what a reader of a fit must know before using it.

    Parameters
    ----------
    n_unknown : int
        Failures of the cell whose mechanism nobody concluded.
    longest : float, days
        Oldest life of the cell.
    characteristic_life : float or None, days

    Returns
    -------
    str or None
    """
    notes = []
    if n_unknown:
        notes.append(
            f"{n_unknown} failures of this kind of hose have no concluded mechanism: the pooled "
            "figures share them out, the stand-alone ones count them as suspensions"
        )
    if characteristic_life is not None and characteristic_life > 3.0 * longest:
        notes.append("extrapolated: no hose has reached a third of the characteristic life")
    return "; ".join(notes) or None


def hazard_words(value: object) -> list[str]:
    """Return the hazards of a place as words; none where the register is silent."""
    return [str(item) for item in value] if isinstance(value, list | np.ndarray) else []
