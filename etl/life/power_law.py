"""Do failures at a place come faster and faster? A power law of the age of the place.

The mean number of failures of a place up to an age is ``scale * age ** shape``, failures between
being independent: shape 1 is a steady rate, above 1 a rising one. Not to be taken for a Weibull
life: this is the rate at which a place goes through hoses, whatever hose sits there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special

from etl.life.bounds import check_fractions
from etl.life.recurrence import MIN_EVENTS, Trend, check_events

Floats = NDArray[np.float64]
LEAST_SHAPE, GREATEST_SHAPE = 1e-3, 1e3
"""Ends of the search for the shape and its bounds."""


@dataclass(frozen=True)
class PowerLaw:
    """Fit of a power law; NaN with too few events or no finite estimate.

    Attributes
    ----------
    shape, shape_lower, shape_upper : float
    scale : float
        Mean events a place up to age 1, as far as one scale fits all places.
    n_events, n_units : int
    """

    shape: float
    shape_lower: float
    shape_upper: float
    scale: float
    n_events: int
    n_units: int


def fit_power_law(
    unit: ArrayLike, event_age: ArrayLike, end_age: ArrayLike, *, start_age: ArrayLike = 0.0,
    confidence: float = 0.90,
) -> PowerLaw:
    """Estimate the shape that all places share, each place at its own rate.

    Parameters
    ----------
    unit, event_age, end_age, start_age
        As in `mean_cumulative_function`; observation must not have been ended by an event.
    confidence : float
        Content of the two-sided bounds of the shape.

    Returns
    -------
    PowerLaw

    Raises
    ------
    FitError
        An event lies outside its unit's observation, or the confidence is not between 0 and 1.

    Notes
    -----
    Maximum likelihood given the number of events of each place, so that places which differ in
    rate do not look like a trend. Where all were watched from age 0, ``sum log(end / age)`` is a
    gamma variable and the bounds are exact; elsewhere they are those of the likelihood ratio.

    References
    ----------
    Crow, L. H. (1975), Reliability analysis for complex, repairable systems, AMSAA Technical
    Report 138 (from memory; figures are checked in tests/life).

    Examples
    --------
    >>> ages = [5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0]
    >>> fit = fit_power_law([0] * 10, ages, [1500.0])
    >>> round(fit.shape, 4), round(fit.shape_lower, 4), round(fit.shape_upper, 4)
    (0.5372, 0.2915, 0.8437)
    """
    check_fractions(confidence)
    who, at, start, end = check_events(unit, event_age, start_age, end_age)
    n, few = at.size, PowerLaw(np.nan, np.nan, np.nan, np.nan, int(at.size), int(end.size))
    if n < MIN_EVENTS:
        return few
    likelihood, slope = _profile(at, start[who], end[who])
    if not (slope(LEAST_SHAPE) > 0.0 > slope(GREATEST_SHAPE)):
        return few
    shape = float(np.exp(optimize.brentq(lambda u: slope(np.exp(u)), np.log(LEAST_SHAPE),
                                         np.log(GREATEST_SHAPE), xtol=1e-12)))
    tail = 0.5 * (1.0 - confidence)
    if bool(np.all(start[who] == 0.0)):
        lower, upper = (shape * float(special.chdtri(2 * n, 1.0 - part)) / (2.0 * n)
                        for part in (tail, 1.0 - tail))
    else:
        level = likelihood(shape) - 0.5 * float(special.chdtri(1, 1.0 - confidence))
        lower, upper = (_crossing(likelihood, level, shape, edge)
                        for edge in (LEAST_SHAPE, GREATEST_SHAPE))
    oldest = float(end.max())
    with np.errstate(divide="ignore"):  # a place that was watched from its first day
        watched = -np.expm1(shape * np.log(start / end)) * np.exp(shape * np.log(end / oldest))
    scale = float(np.exp(np.log(n) - shape * np.log(oldest) - np.log(watched.sum())))
    return PowerLaw(shape, float(lower), float(upper), scale, n, int(end.size))


def total_log_trend(
    unit: ArrayLike, event_age: ArrayLike, end_age: ArrayLike, *, start_age: ArrayLike = 0.0
) -> Trend:
    """Test against a steady rate, best where the rate follows a power of the time watched.

    Parameters
    ----------
    unit, event_age, end_age, start_age
        As in `mean_cumulative_function`; observation must not have been ended by an event.

    Returns
    -------
    Trend
        The statistic is a standard normal deviate of the chi-square, above 0 where events come
        faster and faster.

    Notes
    -----
    At a steady rate, twice the sum of ``log(time watched / time to the event)`` is chi-square
    with two degrees of freedom an event, exactly; small means that events crowd at the end.

    References
    ----------
    MIL-HDBK-189 (1981), Reliability Growth Management (from memory).
    """
    who, at, start, end = check_events(unit, event_age, start_age, end_age)
    n = at.size
    if n < MIN_EVENTS:
        return Trend(np.nan, np.nan, int(n))
    total = total_log((end - start)[who], at - start[who])
    below, above = special.chdtr(2 * n, total), special.chdtrc(2 * n, total)
    deviate = -special.ndtri(below) if below < above else special.ndtri(above)
    return Trend(float(deviate), float(min(1.0, 2.0 * min(below, above))), int(n))


def total_log(watched: Floats, passed: Floats) -> float:
    """Return ``2 sum log(watched / passed)``, the statistic as it is usually printed."""
    return float(2.0 * np.log(watched / passed).sum())


def gap_at_end(
    n_events: int, sum_log: float, end_age: float, confidence: float = 0.90
) -> tuple[float, float, float]:
    """Return the mean time between events at the end of one unit's observation, with bounds.

    Parameters
    ----------
    n_events : int
        At least 2.
    sum_log : float
        Sum of ``log(end_age / event_age)``.
    end_age : float
    confidence : float

    Returns
    -------
    middle, lower, upper : float
        Unit of `end_age`; the upper bound is infinite with too few events for one.

    Notes
    -----
    With the shape freed of its bias, ``(n_events - 1) / sum_log``, and a normal approximation.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, chapter 8, reliability improvement test case
    study.

    Examples
    --------
    >>> [round(value, 2) for value in gap_at_end(10, 18.61404074, 1500.0, 0.80)]
    [310.23, 157.71, 548.56]
    """
    check_fractions(confidence)
    r = float(n_events)
    middle = end_age / (r * (r - 1.0) / sum_log)
    z = float(special.ndtri(0.5 + 0.5 * confidence))
    down = r + z**2 / 4.0 + np.sqrt(r * z**2 / 2.0 + z**4 / 16.0)
    up = r - z * np.sqrt(r / 2.0)
    part = middle * r * (r - 1.0)
    return float(middle), float(part / down**2), float(part / up**2) if up > 0.0 else np.inf


def _profile(
    at: Floats, start: Floats, end: Floats
) -> tuple[Callable[[float], float], Callable[[float], float]]:
    """Return log-likelihood and its slope, given the events of each place, over the shape.

    Ages are over the end of their place's observation, so that no power overflows.
    """
    log_age = float(np.log(at / end).sum())
    first = start / end
    with np.errstate(divide="ignore"):
        log_first = np.where(first > 0.0, np.log(first), 0.0)
    n = at.size

    def likelihood(b: float) -> float:
        return float(n * np.log(b) + b * log_age - np.log1p(-(first**b)).sum())

    def slope(b: float) -> float:
        gone = first**b
        return float(n / b + log_age + (gone * log_first / (1.0 - gone)).sum())

    return likelihood, slope


def _crossing(
    likelihood: Callable[[float], float], level: float, shape: float, edge: float
) -> float:
    """Return the shape towards an edge at which the likelihood falls to a level; NaN if never."""
    if likelihood(edge) > level:
        return np.nan
    return float(np.exp(optimize.brentq(lambda u: likelihood(np.exp(u)) - level, np.log(shape),
                                        np.log(edge), xtol=1e-12)))
