"""How well the Weibull fits the lives of each stratum: distances, and how chance scatters them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from etl.life.fit import StrataFit, fit_strata
from etl.life.plotting import PlotPoints, plot_points, rank_regression
from etl.life.simulate import SeenLives, Watching, simulated, watching_of
from etl.life.streams import Streams

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

N_FIRST, N_MORE = 19, 80
"""Sets of lives simulated for each stratum, and more for those where few lie farther off."""
ENOUGH_BEYOND = 3
"""Simulated sets farther off than the lives in hand, from which on the fit is not in question."""
ROWS_AT_ONCE = 1_000_000


@dataclass(frozen=True)
class Departure:
    """How far lives lie from a Weibull distribution, arrays of shape (n_strata,), NaN if unknown.

    Attributes
    ----------
    anderson_darling : ndarray
        Squared distance between product-limit and fitted share failed, with more weight at both
        ends, over the ages watched.
    correlation : ndarray
        Of log age and median rank on the scale on which a Weibull is a straight line.
    """

    anderson_darling: Floats
    correlation: Floats


@dataclass(frozen=True)
class Goodness:
    """Departures of the lives in hand, with the chance of greater ones under the fit.

    Attributes
    ----------
    departure : Departure
    anderson_darling_p, correlation_p : ndarray, shape (n_strata,)
        Share of simulated sets of lives that lie as far off or farther, the lives in hand among
        them; NaN where nothing was simulated.
    n_simulated : ndarray of int, shape (n_strata,)
    """

    departure: Departure
    anderson_darling_p: Floats
    correlation_p: Floats
    n_simulated: Ints


def departure_of(lives: SeenLives, fit: StrataFit) -> Departure:
    """Measure how far lives lie from their fit.

    Parameters
    ----------
    lives : SeenLives
        Every failure a row of its own.
    fit : StrataFit

    Returns
    -------
    Departure

    Notes
    -----
    Anderson and Darling's integral is taken from age 0 to the greatest age watched, and to the
    end of the distribution where no life was watched beyond the last failure; for complete lives
    it is the textbook statistic. A life found failed stands at the middle of its interval.
    """
    n = fit.shape.size
    points = plot_points(lives.stratum, lives.entry, lives.low, lives.high, lives.count, n)
    line = rank_regression(points, n)
    with np.errstate(invalid="ignore"):
        correlation = np.sqrt(line.shape_y_on_x / line.shape_x_on_y)
    return Departure(_anderson_darling(lives, fit, points), correlation)


def _anderson_darling(lives: SeenLives, fit: StrataFit, points: PlotPoints) -> Floats:
    """Return the statistic of each stratum."""
    n = fit.shape.size
    oldest = np.zeros(n)
    np.maximum.at(oldest, lives.stratum, lives.end)
    key = np.concatenate([points.stratum, np.arange(n)])
    age = np.concatenate([points.age, np.maximum(oldest, 1e-300)])
    order = np.lexsort((np.r_[np.zeros(points.age.size), np.ones(n)], age, key))
    key, age = key[order], age[order]
    left = np.concatenate([points.survival, np.full(n, np.nan)])[order]
    with np.errstate(over="ignore", invalid="ignore"):
        spent = (age / fit.characteristic_life[key]) ** fit.shape[key]
    first = np.ones(key.size, np.bool_)
    first[1:] = key[1:] != key[:-1]
    last = np.append(first[1:], True)
    # a piece ends at each point: the share still running is that of the point before
    running = np.where(first, 1.0, np.append(1.0, left[:-1]))
    is_over = last & (running <= 0.0)
    pieces = _piece(np.where(is_over, np.inf, spent), running) - np.where(
        first, 0.0, _piece(np.append(0.0, spent[:-1]), running))
    n_lives = np.bincount(lives.stratum, lives.count, n)
    total = n_lives * np.bincount(key, pieces, n)
    return np.where(fit.has_estimate, total, np.nan)


def _piece(spent: Floats, running: Floats) -> Floats:
    """Return the integral of ``(c - F)^2 / (F (1 - F))`` up to F, less its value at F = 0.

    ``spent`` is the accumulated hazard ``-log(1 - F)``; ``running`` is ``1 - c``. Terms without
    limit at an end have weight 0 there.
    """
    gone = 1.0 - running
    share = -np.expm1(-spent)
    return np.asarray(special.xlogy(gone * gone, share) + np.where(
        running > 0.0, running * running, 0.0) * np.where(np.isinf(spent), 0.0, spent) - share)


def goodness_of_fit(
    lives: SeenLives, fit: StrataFit, is_wanted: Bools, streams: Streams
) -> Goodness:
    """Judge each wanted fit against lives simulated from it.

    Parameters
    ----------
    lives : SeenLives
    fit : StrataFit
        Their fit.
    is_wanted : ndarray of bool, shape (n_strata,)
        Strata to simulate; those without an estimate are left out.
    streams : Streams

    Returns
    -------
    Goodness

    Notes
    -----
    Sets of lives are drawn from the fit under the watching in hand, fitted in their turn, and
    measured: both statistics depend on the watching, so tables for complete lives do not apply.
    Strata of which several of the first sets lie farther off are left at that. Where most lives
    found failed were looked at at the same ages, their middles pile up as simulated ones do not,
    and the stratum is not judged.

    References
    ----------
    Sequential simulation of p-values: Besag and Clifford (1991), Biometrika 78 (from memory).
    """
    n = fit.shape.size
    each = lives.one_by_one()
    found = departure_of(each, fit)
    watching = watching_of(lives, n)
    beyond = np.zeros((2, n))
    n_sets = np.zeros(n)
    wanted = is_wanted & fit.has_estimate & np.isfinite(found.correlation) & ~_is_read_out(each, n)
    for n_replicates in (N_FIRST, N_MORE):
        _count_beyond(watching.of(wanted), fit, found, n_replicates, streams, beyond, n_sets)
        wanted = wanted & (beyond.min(axis=0) < ENOUGH_BEYOND)
        if not wanted.any():
            break
    share = np.where(n_sets > 0.0, (1.0 + beyond) / (1.0 + n_sets), np.nan)
    return Goodness(found, share[0], share[1], n_sets.astype(np.intp))


def _is_read_out(lives: SeenLives, n_strata: int) -> Bools:
    """Return where fewer than half of the lives found failed have looks of their own."""
    spans = lives.only(np.flatnonzero(lives.is_failed & (lives.high > lives.low)))
    own = np.unique(np.stack([spans.stratum, spans.low, spans.high]), axis=1)[0].astype(np.intp)
    return np.asarray(2 * np.bincount(own, minlength=n_strata)
                      < np.bincount(spans.stratum, minlength=n_strata))


def _count_beyond(
    watching: Watching, fit: StrataFit, found: Departure, n_replicates: int,
    streams: Streams, beyond: Floats, n_sets: Floats,
) -> None:
    """Add the simulated sets that lie as far off or farther, and all that have an estimate."""
    n = watching.n_strata
    block = max(1, ROWS_AT_ONCE // max(1, watching.failed.low.size + watching.held.low.size))
    for start in range(0, n_replicates, block):
        size = min(block, n_replicates - start)
        drawn = simulated(watching, fit.shape, fit.characteristic_life, size, streams)
        again = fit_strata(drawn.stratum, drawn.entry, drawn.low, drawn.high, drawn.count,
                           size * n)
        there = departure_of(drawn, again)
        distance = there.anderson_darling.reshape(size, n)
        correlation = there.correlation.reshape(size, n)
        is_known = np.isfinite(distance) & np.isfinite(correlation)
        beyond[0] += np.sum(is_known & (distance >= found.anderson_darling), axis=0)
        beyond[1] += np.sum(is_known & (correlation <= found.correlation), axis=0)
        n_sets += np.sum(is_known, axis=0)
