"""Reasons in plain words, as they are published beside the figures."""

from __future__ import annotations

import datetime as dt

import numpy as np

from etl.decide.next_step import DANGEROUS
from etl.decide.words import percent

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
        words += f"; {percent(chance_90_days)} chance of failing within 90 days"
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
            f"{n_unknown:,} {'failure' if n_unknown == 1 else 'failures'} of this kind of hose "
            f"{'has' if n_unknown == 1 else 'have'} no concluded mechanism: the pooled figures "
            "share out such failures, the stand-alone ones count them as suspensions"
        )
    return "; ".join(filter(None, [*notes, clock_note(longest, characteristic_life)])) or None


def clock_note(longest: float, characteristic_life: float | None) -> str | None:
    """Say that a fit reaches beyond its lives, whatever clock they are counted by.

    Parameters
    ----------
    longest : float
        Oldest life of the cell.
    characteristic_life : float or None
        In the same unit; None or missing where there is no estimate.

    Returns
    -------
    str or None

    Examples
    --------
    >>> clock_note(100.0, 301.0)
    'extrapolated: no hose has reached a third of the characteristic life'
    """
    if characteristic_life is None or not characteristic_life > 3.0 * longest:
        return None
    return "extrapolated: no hose has reached a third of the characteristic life"


def day_words(day: dt.date) -> str:
    """Return a day in words.

    Examples
    --------
    >>> day_words(dt.date(2026, 11, 2))
    '2 Nov 2026'
    """
    months = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()
    return f"{day.day} {months[day.month - 1]} {day.year}"


def hazard_words(value: object) -> list[str]:
    """Return the hazards of a place as words; none where the register is silent."""
    return [str(item) for item in value] if isinstance(value, list | np.ndarray) else []


def age_reason(
    verdict: str, age: float, flat_from: float, flat_to: float, required: float, required_by: str,
    *, is_required: bool, pays: bool, hazards: list[str],
) -> str:
    """Say why a hose is to be changed at an age, or why no age is set.

    Parameters
    ----------
    verdict : str
        Why no preventive age pays; not used where one does.
    age, flat_from, flat_to : float, days
        Preventive age, and the ages that keep nine tenths of its saving.
    required : float, days
        Interval by the site's rules; NaN where there is none.
    required_by : str
        The hazard or class that the rule is for.
    is_required : bool
        The interval is the earlier one.
    pays : bool
        A preventive age pays.
    hazards : list of str

    Returns
    -------
    str

    Examples
    --------
    >>> nan = float("nan")
    >>> age_reason("", 912.3, 830.0, 1221.0, nan, "", is_required=False, pays=True, hazards=[])
    'changing at 912 days costs least; any age from 830 to 1,221 days costs about the same'
    >>> age_reason("", 412.3, 330.0, 521.0, 365.0, "toxic", is_required=True, pays=True, hazards=[])
    'the site requires a change within 365 days (toxic); cost alone would say 412 days'
    >>> age_reason("no saving", nan, nan, nan, nan, "", is_required=False, pays=False,
    ...            hazards=["toxic"])
    'no preventive age pays: no saving; toxic service is not run to failure: keep its interval'
    """
    if is_required:
        words = f"the site requires a change within {required:,.0f} days ({required_by})"
        return words + (f"; cost alone would say {age:,.0f} days" if pays else "")
    if pays:
        flat = (f"any age from {flat_from:,.0f} to {flat_to:,.0f} days" if np.isfinite(flat_to)
                else f"any age from {flat_from:,.0f} days on")
        return f"changing at {age:,.0f} days costs least; {flat} costs about the same"
    words = f"no preventive age pays: {verdict}"
    danger = [hazard for hazard in hazards if hazard in DANGEROUS]
    if danger:
        words += f"; {', '.join(danger)} service is not run to failure: keep its interval"
    return words
