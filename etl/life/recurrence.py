"""Replacements that recur at a place: mean cumulative function and tests for a trend."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from etl.errors import FitError

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

MIN_EVENTS = 4
"""Fewer events than this carry no trend worth a word (our choice)."""


@dataclass(frozen=True)
class MeanCumulative:
    """Mean number of events a place by age, with pointwise bounds.

    Attributes
    ----------
    age : ndarray, shape (n_ages,)
        Ages at which an event happened, rising.
    n_at_risk : ndarray of int, shape (n_ages,)
        Places under observation at that age.
    n_events : ndarray of int, shape (n_ages,)
    mean, standard_error, lower, upper : ndarray, shape (n_ages,)
    """

    age: Floats
    n_at_risk: Ints
    n_events: Ints
    mean: Floats
    standard_error: Floats
    lower: Floats
    upper: Floats


@dataclass(frozen=True)
class Trend:
    """Outcome of a test against "no trend".

    Attributes
    ----------
    statistic : float
        Above 0: events come faster and faster; below 0: slower. NaN with too few events.
    p_value : float
        Two-sided; NaN with too few events.
    n_events : int
        Events that entered the test.
    """

    statistic: float
    p_value: float
    n_events: int


def mean_cumulative_function(
    unit: ArrayLike, event_age: ArrayLike, end_age: ArrayLike, *,
    start_age: ArrayLike = 0.0, confidence: float = 0.90, most_ages: int | None = None,
) -> MeanCumulative:
    """Estimate the mean number of events a place has had by each age.

    Parameters
    ----------
    unit : array_like of int, shape (n_events,)
        Place of each event, 0 .. n_units - 1.
    event_age : array_like, shape (n_events,)
        Age of the place at each event, within its time under observation.
    end_age : array_like, shape (n_units,)
        Age up to which each place was observed; one that ends at an age still counts there.
    start_age : array_like, shape (n_units,) or one number
        Age from which each place was observed.
    confidence : float
        Content of the two-sided bounds.
    most_ages : int or None
        Report no more than so many ages, picked evenly among those with events; None for all.

    Returns
    -------
    MeanCumulative

    Raises
    ------
    FitError
        A unit number is out of range, or an event lies outside its unit's observation.

    Notes
    -----
    Sum of events over places at risk. The variance is taken between places, so it holds whether
    or not the events of a place are independent. Bounds are symmetric in the log, which keeps
    them above 0.

    References
    ----------
    Nelson, W. (1995), Confidence limits for recurrence data, Technometrics 37, 147-157, and
    Lawless, J. F. and Nadeau, C. (1995), Technometrics 37, 158-168 (variance between units).

    Examples
    --------
    >>> curve = mean_cumulative_function([0, 0, 1], [10.0, 20.0, 20.0], [30.0, 25.0])
    >>> curve.mean.tolist()
    [0.5, 1.5]
    """
    who, at, start, end = check_events(unit, event_age, start_age, end_age)
    ages, step = np.unique(at, return_inverse=True)
    n_events = np.bincount(step, minlength=ages.size)
    n_at_risk = (
        np.searchsorted(np.sort(start), ages, side="left")
        - np.searchsorted(np.sort(end), ages, side="left")
    )
    kept = np.arange(ages.size)
    if most_ages is not None and ages.size > most_ages:
        kept = np.unique(np.linspace(0, ages.size - 1, most_ages).round().astype(np.intp))
    variance = _variance(who, at, (start, end), n_at_risk[step], ages[kept])
    mean = np.cumsum(n_events / n_at_risk)[kept]
    ages, n_at_risk, n_events = ages[kept], n_at_risk[kept], n_events[kept]
    error = np.sqrt(variance)
    reach = float(special.ndtri(0.5 + 0.5 * confidence)) * error / mean
    return MeanCumulative(
        ages, n_at_risk, n_events, mean, error, mean * np.exp(-reach), mean * np.exp(reach)
    )


def _variance(
    who: Ints, at: Floats, watched: tuple[Floats, Floats], n_at_risk: Ints, ages: Floats
) -> Floats:
    """Return the variance of the mean at each age: squared departures of the places, summed.

    A place departs by its own events, each over the places at risk, less what the mean place
    had while this one was watched.
    """
    order = np.argsort(at, kind="stable")
    who, at, weight = who[order], at[order], 1.0 / n_at_risk[order]
    steps = np.concatenate([[0.0], np.cumsum(weight**2)])  # of the mean place, over n again

    def so_far(age: Floats) -> Floats:
        return np.asarray(steps[np.searchsorted(at, age, side="right")])

    start, end = watched
    before, after = so_far(start), so_far(end)
    variance = np.empty(ages.size)
    last = np.searchsorted(at, ages, side="right")
    for k in range(ages.size):
        own = np.bincount(who[:last[k]], weight[:last[k]], end.size)
        now = steps[last[k]]
        departure = own - (np.minimum(after, now) - np.minimum(before, now))
        variance[k] = departure @ departure
    return variance


def laplace_trend(
    unit: ArrayLike, event_age: ArrayLike, end_age: ArrayLike, *, start_age: ArrayLike = 0.0
) -> Trend:
    """Test whether events come at a steady rate, pooled over places.

    Parameters
    ----------
    unit, event_age, end_age, start_age
        As in `mean_cumulative_function`; observation must not have been ended by an event.

    Returns
    -------
    Trend

    Raises
    ------
    FitError
        As in `mean_cumulative_function`.

    Notes
    -----
    Without a trend, event ages of a Poisson process are uniform over the time observed; the
    statistic is their standardised mean. Hoses that wear out are more regular than that, so the
    test errs on the quiet side for them.

    References
    ----------
    Laplace's test as in Ascher, H. and Feingold, H. (1984), Repairable Systems Reliability
    (from memory).
    """
    who, at, start, end = check_events(unit, event_age, start_age, end_age)
    if at.size < MIN_EVENTS:
        return Trend(np.nan, np.nan, int(at.size))
    middle, width = 0.5 * (start + end)[who], (end - start)[who]
    statistic = float((at - middle).sum() / np.sqrt((width**2).sum() / 12.0))
    return Trend(statistic, float(2.0 * special.ndtr(-abs(statistic))), int(at.size))


def gap_trend(event_age: ArrayLike, end_age: float) -> Trend:
    """Test one place for a trend without supposing that its events are Poisson.

    Parameters
    ----------
    event_age : array_like, shape (n_events,)
    end_age : float
        Age up to which the place was observed, from 0.

    Returns
    -------
    Trend

    Notes
    -----
    Laplace's statistic divided by the coefficient of variation of the gaps between events: right
    for renewals by any one law of life.

    References
    ----------
    Lewis, P. A. W. and Robinson, D. W. (1974), Testing for a monotone trend in a modulated
    renewal process (from memory).
    """
    at = np.sort(np.asarray(event_age, np.float64))
    plain = laplace_trend(np.zeros(at.size, np.intp), at, [end_age])
    gaps = np.diff(at, prepend=0.0)
    spread = float(gaps.std(ddof=1)) if at.size >= MIN_EVENTS else 0.0
    if spread <= 0.0:
        return Trend(np.nan, np.nan, int(at.size))
    statistic = plain.statistic * float(gaps.mean()) / spread
    return Trend(statistic, float(2.0 * special.ndtr(-abs(statistic))), int(at.size))


def check_events(
    unit: ArrayLike, event_age: ArrayLike, start_age: ArrayLike, end_age: ArrayLike
) -> tuple[Ints, Floats, Floats, Floats]:
    """Return unit, event age, start and end as arrays, or say which event cannot be.

    Raises
    ------
    FitError
        A unit number is out of range, or an event lies outside its unit's observation.
    """
    who, at = np.asarray(unit, np.intp), np.asarray(event_age, np.float64)
    end = np.atleast_1d(np.asarray(end_age, np.float64))
    start = np.array(np.broadcast_to(np.asarray(start_age, np.float64), end.shape))
    if who.shape != at.shape or who.ndim != 1:
        raise FitError(
            f"recurrence: one unit an event is wanted, found {who.shape} and {at.shape}. "
            "Give columns of one length."
        )
    if who.size and (who.min() < 0 or who.max() >= end.size):
        raise FitError(
            f"recurrence: units must lie in 0 to {end.size - 1}, found {who.min()} to "
            f"{who.max()}. Give an end age for every unit."
        )
    wrong = ~((start[who] < at) & (at <= end[who]))
    if bool(wrong.any()):
        raise FitError(
            f"recurrence: an event must lie after the start and not after the end of its unit's "
            f"observation, got age {at[np.argmax(wrong)]} at index {int(np.argmax(wrong))} "
            f"({int(wrong.sum())} of {at.size} events). Leave such events out."
        )
    return who, at, start, end
