"""Product-limit and rank positions, rank regression, and second opinions of a library.

The library ``reliability`` is called here and nowhere else, inside functions, because importing
it takes seconds and draws in a plotting library. It is given times divided by their mean and told
to search without derivatives: its other searches stop early, without a word, on heavily
suspended lives.
"""

from __future__ import annotations

import os
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from etl.errors import FitError
from etl.life.product_limit import at_risk_before, product_limit, running_sum

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class PlotPoints:
    """One point for each row that holds a failure, by stratum and age.

    Attributes
    ----------
    stratum : ndarray of int, shape (n_points,)
    age : ndarray, shape (n_points,)
        Age at failure; the middle of an interval as far as it lies beyond the entry.
    is_interval : ndarray of bool, shape (n_points,)
    adjusted_rank : ndarray, shape (n_points,)
        Rank among all lives of the stratum, suspensions taken into account.
    failure_probability : ndarray, shape (n_points,)
        Median rank, by Benard's approximation.
    survival : ndarray, shape (n_points,)
        Product-limit (Kaplan-Meier) estimate just after the age.
    survival_error : ndarray, shape (n_points,)
        Its standard error by Greenwood's sum.
    """

    stratum: Ints
    age: Floats
    is_interval: Bools
    adjusted_rank: Floats
    failure_probability: Floats
    survival: Floats
    survival_error: Floats


def plot_points(
    stratum: ArrayLike, entry: ArrayLike, low: ArrayLike, high: ArrayLike, count: ArrayLike,
    n_strata: int,
) -> PlotPoints:
    """Return the points of a probability plot of each stratum.

    Parameters
    ----------
    stratum, entry, low, high, count, n_strata
        As in `etl.life.fit.fit_strata`. A row with a count above 1 gives one point, at the rank
        of its last life; repeat the row to see every rank.

    Returns
    -------
    PlotPoints

    Notes
    -----
    A failure comes before a suspension of the same age. With ``n`` lives at risk, a failure
    leaves ``n / (n + 1)`` of the distance of the adjusted rank from ``N + 1``; Benard's median
    rank is ``(rank - 0.3) / (N + 0.4)``. Lives that entered late are at risk from then on, which
    extends both estimates; ``N`` then counts all lives, and no rank goes beyond it.

    References
    ----------
    Johnson's adjusted ranks and Benard's approximation as in the weibulltools vignette "Life Data
    Analysis Part I"; Kaplan-Meier as in NIST/SEMATECH e-Handbook, section 8.2.1.5.

    Examples
    --------
    >>> points = plot_points([0] * 3, 0.0, [10.0, 20.0, 30.0], [10.0, np.inf, 30.0], 1.0, 1)
    >>> points.adjusted_rank.tolist(), points.survival.round(4).tolist()
    ([1.0, 2.5], [0.6667, 0.0])
    """
    key = np.asarray(stratum, np.intp)
    starts, lows, highs, counts = (
        np.broadcast_to(np.asarray(column, np.float64), key.shape)
        for column in (entry, low, high, count))
    failed, lows = np.isfinite(highs), np.maximum(lows, starts)
    age = np.where(failed, 0.5 * (lows + np.where(failed, highs, 0.0)), lows)
    at_risk, order = at_risk_before(key, starts, age, failed, counts)
    key, age, failed, counts = key[order], age[order], failed[order], counts[order]
    left = np.where(failed, (at_risk - counts + 1.0) / (at_risk + 1.0), 1.0)
    n_lives = np.bincount(key, counts, n_strata)[key]
    distance = np.exp(running_sum(key, np.log(np.maximum(left, 1e-300))))
    rank = np.minimum((n_lives + 1.0) * (1.0 - distance), n_lives)
    survival, error = product_limit(key, age, failed, counts, at_risk)
    point = np.flatnonzero(failed)
    spans = (highs > lows)[order]
    return PlotPoints(
        key[point], age[point], spans[point], rank[point],
        (rank[point] - 0.3) / (n_lives[point] + 0.4), survival[point], error[point],
    )


@dataclass(frozen=True)
class RankRegression:
    """Straight lines through the points of a probability plot, arrays of shape (n_strata,).

    NaN where a stratum has fewer than two different failure ages.

    Attributes
    ----------
    shape_x_on_y, characteristic_life_x_on_y : ndarray
        Log age regressed on the plotting position.
    shape_y_on_x, characteristic_life_y_on_x : ndarray
        The plotting position regressed on log age.
    """

    shape_x_on_y: Floats
    characteristic_life_x_on_y: Floats
    shape_y_on_x: Floats
    characteristic_life_y_on_x: Floats


def rank_regression(points: PlotPoints, n_strata: int) -> RankRegression:
    """Fit straight lines to the Weibull plot of each stratum, both ways.

    Parameters
    ----------
    points : PlotPoints
    n_strata : int

    Returns
    -------
    RankRegression

    References
    ----------
    weibulltools vignette "Life Data Analysis Part II" (X on Y); Murthy, Xie and Jiang (2004),
    Weibull Models, Table 16.10 (Y on X).
    """
    key = points.stratum
    x, y = np.log(points.age), np.log(-np.log1p(-points.failure_probability))
    n = np.bincount(key, minlength=n_strata).astype(np.float64)

    def mean(values: Floats) -> Floats:
        total = np.bincount(key, values, n_strata)
        return np.asarray(np.divide(total, n, out=np.full(n_strata, np.nan), where=n > 0.0))

    x_mean, y_mean = mean(x), mean(y)
    dx, dy = x - x_mean[key], y - y_mean[key]
    xx, xy, yy = mean(dx * dx), mean(dx * dy), mean(dy * dy)
    usable = xx > 1e-24 * (1.0 + x_mean * x_mean)
    one = np.where(usable, xy, 1.0)
    first = np.where(usable, yy / one, np.nan)
    second = np.where(usable, one / np.where(usable, xx, 1.0), np.nan)
    return RankRegression(
        first, np.exp(x_mean - y_mean / first), second, np.exp(x_mean - y_mean / second))


def library_fit(
    failures: ArrayLike, suspensions: ArrayLike = (), method: str = "MLE"
) -> tuple[float, float]:
    """Return shape and characteristic life as the library ``reliability`` finds them.

    Parameters
    ----------
    failures, suspensions : array_like of float
        Ages, > 0. Late entries and intervals are beyond it.
    method : str
        ``"MLE"``, ``"RRX"`` or ``"RRY"``.

    Returns
    -------
    shape, characteristic_life : float

    Raises
    ------
    FitError
        There are fewer than two different failure ages.
    """
    failed, held = np.asarray(failures, np.float64), np.asarray(suspensions, np.float64)
    if np.unique(failed).size < 2:
        raise FitError(
            f"library_fit: at least 2 different failure ages are needed, found "
            f"{np.unique(failed).size}. Use fit_strata, which says what can be said."
        )
    scale = float(np.mean(np.concatenate([failed, held])))
    fitters = _library()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = fitters.Fit_Weibull_2P(
            failures=failed / scale, right_censored=held / scale if held.size else None,
            method=method, optimizer="nelder-mead" if method == "MLE" else None,
            show_probability_plot=False, print_results=False)
    return float(found.beta), float(found.alpha) * scale


def median_rank(rank: ArrayLike, n_lives: ArrayLike) -> Floats:
    """Return exact median ranks, for comparison with Benard's approximation.

    Parameters
    ----------
    rank, n_lives : array_like of float

    Returns
    -------
    ndarray, 0..1

    Examples
    --------
    >>> median_rank([1.0, 5.0], 10).round(4).tolist()
    [0.067, 0.4517]
    """
    i, n = np.asarray(rank, np.float64), np.asarray(n_lives, np.float64)
    return np.asarray(stats.beta.median(i, n - i + 1.0))


def _library() -> Any:
    """Import the fitters of ``reliability`` without a window system."""
    os.environ.setdefault("MPLBACKEND", "Agg")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from reliability import Fitters
    return Fitters
