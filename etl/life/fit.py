"""Exact maximum likelihood of the two-parameter Weibull distribution, all strata at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from etl.life.exposure import Exposure
from etl.life.fit_interval import solve_joint
from etl.life.fit_profile import solve_profile
from etl.life.status import FEW_FAILURES_BELOW, STATUSES, Status
from etl.life.strata import Strata, arrange_strata

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class StrataFit:
    """Fits of many strata. Estimates are NaN where `has_estimate` is False, and only there.

    Attributes
    ----------
    n_failures, n_intervals, n_suspensions, n_unobserved : ndarray, shape (n_strata,)
        Lives by kind, counted with their weights; ``n_unobserved`` are suspensions seen for no
        time, which are in none of the others.
    status_code : ndarray of int, shape (n_strata,)
        Position in `etl.life.status.STATUSES`.
    shape : ndarray, shape (n_strata,), no unit
    characteristic_life : ndarray, shape (n_strata,), the unit of the ages
    log_likelihood : ndarray, shape (n_strata,)
    score : ndarray, shape (n_strata,)
        Slope of the log-likelihood per failed life in log shape at the estimate: about 0.
    information : ndarray, shape (n_strata, 2, 2)
        Negative second derivatives of the log-likelihood in (log shape, log characteristic life).
    """

    n_failures: Floats
    n_intervals: Floats
    n_suspensions: Floats
    n_unobserved: Floats
    status_code: NDArray[np.int8]
    shape: Floats
    characteristic_life: Floats
    log_likelihood: Floats
    score: Floats
    information: Floats

    @property
    def has_estimate(self) -> Bools:
        """Strata with a finite estimate, shape (n_strata,)."""
        return _HAS_ESTIMATE[self.status_code]

    @property
    def status(self) -> list[Status]:
        """Outcome of each stratum."""
        return [STATUSES[code] for code in self.status_code.tolist()]


_CODE = {status: code for code, status in enumerate(STATUSES)}
_HAS_ESTIMATE = np.array([s in (Status.OK, Status.FEW_FAILURES) for s in STATUSES])


def fit_strata(
    stratum: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    n_strata: int,
) -> StrataFit:
    """Fit a two-parameter Weibull distribution to the lives of each stratum.

    Parameters
    ----------
    stratum : array_like of int, shape (n,)
        0 .. n_strata - 1, in any order.
    entry : array_like of float, shape (n,) or one number
        Age at entry, >= 0: the life is known only because it lasted so long. 0 for "from new".
    low, high : array_like of float, shape (n,)
        Age at the end, any unit of time. Equal: failed at that age. ``high`` infinite: a
        suspension (right-censored) at ``low``. Otherwise: failed after ``low``, not after ``high``.
    count : array_like of float, shape (n,) or one number
        Lives that a row stands for, > 0; fractions allowed.
    n_strata : int

    Returns
    -------
    StrataFit

    Raises
    ------
    FitError
        An age is negative or not a number, a failure is not after 0 and its entry, an interval
        ends before it begins, a count is not positive, a stratum is outside, or lengths differ.

    Notes
    -----
    Survival is ``exp(-(t / characteristic_life) ** shape)``; a life that entered late is
    conditional on survival to its entry age. Strata of exact failures and suspensions are solved
    in the shape alone, strata with interval lives in both parameters. A stratum without a finite
    estimate gets a status and no number: the last point of a search is never passed off as one.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 8.4.1.3 (the example below).

    Examples
    --------
    >>> failed = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
    >>> fit = fit_strata([0] * 20, 0.0, failed + [500.0] * 10, failed + [np.inf] * 10, 1.0, 1)
    >>> fit.status[0].value, fit.shape.round(4).tolist(), fit.characteristic_life.round(2).tolist()
    ('ok', [1.7208], [606.53])
    """
    return fit_arranged(arrange_strata(stratum, entry, low, high, count, n_strata))


def fit_arranged(strata: Strata) -> StrataFit:
    """Fit strata that are checked and laid out already; see `fit_strata`."""
    code = _first_status(strata)
    shape, log_life, value, score = (np.full(strata.n_strata, np.nan) for _ in range(4))
    information = np.full((strata.n_strata, 2, 2), np.nan)
    parts = (shape, log_life, value, score, information)
    solvable = _HAS_ESTIMATE[code]
    _fit_without_intervals(strata, solvable & (strata.n_intervals == 0.0), code, parts)
    _fit_with_intervals(strata, solvable & (strata.n_intervals > 0.0), code, parts)
    failed = ~_HAS_ESTIMATE[code]
    for part in parts:
        part[failed] = np.nan
    return StrataFit(
        strata.n_failures, strata.n_intervals, strata.n_suspensions, strata.n_unobserved, code,
        shape, np.exp(log_life), value, score, information,
    )


def _first_status(strata: Strata) -> NDArray[np.int8]:
    """Return the outcome as far as counts and extremes of the ages decide it."""
    events = strata.n_failures + strata.n_intervals
    code = np.full(strata.n_strata, _CODE[Status.OK], np.int8)
    code[events < FEW_FAILURES_BELOW] = _CODE[Status.FEW_FAILURES]
    # All mass at one age agrees with every life: no finite shape does better.
    above = strata.greatest_low > strata.least_high
    touches = strata.greatest_low == strata.least_high
    open_top = ~above & ~(touches & (strata.n_failures == 0.0) & strata.is_late)
    code[open_top] = _CODE[Status.SHAPE_NOT_ESTIMABLE]
    code[events == 0.0] = _CODE[Status.NO_FAILURES]
    code[events + strata.n_suspensions == 0.0] = _CODE[Status.NO_LIVES]
    return code


def _fit_without_intervals(
    strata: Strata, wanted: Bools, code: NDArray[np.int8],
    parts: tuple[Floats, Floats, Floats, Floats, Floats],
) -> None:
    """Fill in the strata of exact failures and suspensions."""
    if not bool(wanted.any()):
        return
    which = slice(None) if bool(wanted.all()) else np.flatnonzero(wanted)
    rows = _exposure_of(strata, wanted)
    r, centre = strata.n_failures[which], strata.centre[which]
    mean = strata.sum_log_failure[which] / r
    solved = solve_profile(rows, mean, strata.is_late[which])
    shape, log_life, value, score, information = parts
    u, b = solved.log_shape, np.exp(solved.log_shape)
    with np.errstate(invalid="ignore"):  # strata at an edge are blanked by the caller
        m = (solved.log_s0 - np.log(r)) / b
        shape[which], log_life[which], score[which] = b, m + centre, solved.score
        # density of each failure: log(b / t) + b (log t - m), here centred; H adds up to r
        value[which] = r * (u - b * m + (b - 1.0) * mean - centre - 1.0)
        offset = solved.q1 - m
        rbb = r * b * b
        information[which, 0, 0] = rbb * (solved.spread + offset * offset) + r
        information[which, 0, 1] = information[which, 1, 0] = -rbb * offset
        information[which, 1, 1] = rbb
    low = solved.is_low | ~np.isfinite(m)
    late = strata.is_all_late[which]
    if bool(late.any()):
        low |= late & (_edge_log_likelihood(strata, which) >= value[which])
    outcome = np.where(low, _CODE[Status.NO_FINITE_ESTIMATE], code[which])
    code[which] = np.where(solved.is_high, _CODE[Status.SHAPE_NOT_ESTIMABLE], outcome)


def _edge_log_likelihood(strata: Strata, which: Ints | slice) -> Floats:
    """Return the limit of the log-likelihood at shape 0 where every life entered late.

    There the hazard tends to ``rate / age``: exposure is the sum of ``log(age / entry)``.
    """
    runs, weight = strata.exposure_runs, strata.exposure_weight
    total = np.full(strata.n_strata, np.nan)
    total[runs.keys] = runs.sum(strata.exposure if weight is None else strata.exposure * weight)
    r = strata.n_failures[which]
    time = total[which]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(r * (np.log(r / time) - 1.0) - strata.sum_log_failure[which]
                          - r * strata.centre[which])


def _exposure_of(strata: Strata, wanted: Bools) -> Exposure:
    """Return the exposure rows of the wanted strata."""
    rows = Exposure(strata.exposure, strata.exposure_weight, strata.exposure_runs)
    keep = wanted[strata.exposure_runs.keys]
    return rows if bool(keep.all()) else rows.only(keep)


def _fit_with_intervals(
    strata: Strata, wanted: Bools, code: NDArray[np.int8],
    parts: tuple[Floats, Floats, Floats, Floats, Floats],
) -> None:
    """Fill in the strata that hold interval lives."""
    if not bool(wanted.any()):
        return
    which = np.flatnonzero(wanted)
    solved = solve_joint(strata, which)
    shape, log_life, value, score, information = parts
    shape[which], log_life[which] = np.exp(solved.log_shape), solved.log_life
    events = strata.n_failures[which] + strata.n_intervals[which]
    value[which], score[which] = solved.log_likelihood, solved.score / events
    information[which] = solved.information
    code[which[solved.is_high]] = _CODE[Status.SHAPE_NOT_ESTIMABLE]
    code[which[solved.is_low]] = _CODE[Status.NO_FINITE_ESTIMATE]


