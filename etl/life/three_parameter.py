"""Weibull distribution that starts at an age: no hose fails before it. All strata at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.fit import StrataFit, fit_strata
from etl.life.simulate import SeenLives

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

LEAST_FAILURES_FOR_THREE = 10
"""Failures below which a third parameter is not offered: it would follow the first failure."""
ESTIMATE = "estimate"
FROM_NEW = "from_new"
NO_FINITE_ESTIMATE = "no_finite_estimate"
NOT_TRIED = "not_tried"

NEAREST = 1e-4
"""Distance from the first failure, as a share of its age, up to which a location is tried."""
N_FIRST, N_INSIDE, N_ROUNDS = 17, 7, 3
"""Locations tried at first, and between neighbours of the best in each later round."""


@dataclass(frozen=True)
class ThreeParameterFits:
    """Fits of each stratum, arrays of shape (n_strata,); NaN where there is no estimate.

    Attributes
    ----------
    outcome : list of str
        ``estimate``; ``from_new``: no location above 0 fits better than 0, and 0 is the location;
        ``no_finite_estimate``: the likelihood grows without end as the location nears the first
        failure; ``not_tried``: fewer than ten failures, or no two-parameter fit.
    location, shape, scale : ndarray
        Ages in the unit of the lives; ``scale`` counts from the location.
    log_likelihood : ndarray
    """

    outcome: list[str]
    location: Floats
    shape: Floats
    scale: Floats
    log_likelihood: Floats


def fit_three_parameter(
    lives: SeenLives, fit: StrataFit, is_wanted: Bools | None = None
) -> ThreeParameterFits:
    """Fit a Weibull distribution with a location >= 0 to each stratum.

    Parameters
    ----------
    lives : SeenLives
    fit : StrataFit
        Their two-parameter fit.
    is_wanted : ndarray of bool, shape (n_strata,), optional
        Strata to fit; all when left out.

    Returns
    -------
    ThreeParameterFits

    Notes
    -----
    With the location fixed, the lives less the location have a two-parameter fit; its greatest
    likelihood is followed over the location. Near the first failure it has no upper end wherever
    the shape falls below 1, so the estimate is the highest peak before that, if there is one and
    it is higher than location 0. A hose does not fail before it is new: locations below 0 are
    not tried.

    References
    ----------
    Lockhart and Stephens (1994), Journal of the Royal Statistical Society B 56(3), 491-500, on
    samples without a finite estimate.
    """
    n = fit.shape.size
    events = fit.n_failures + fit.n_intervals
    wanted = fit.has_estimate & (events >= LEAST_FAILURES_FOR_THREE)
    if is_wanted is not None:
        wanted = wanted & is_wanted
    which = np.flatnonzero(wanted)
    first = _first_failure(lives, n)
    rows = lives.only(np.flatnonzero(wanted[lives.stratum]))
    profile = _Profile(rows, first, which)
    distance = np.tile(np.geomspace(1.0, NEAREST, N_FIRST), (which.size, 1))
    value = profile.log_likelihood(distance)
    peak = _highest_peak(value)
    outcome, found = [NOT_TRIED] * n, (np.full(n, np.nan) for _ in range(4))
    location, shape, scale, top = found
    at_new = value[:, 0]
    for i, k in enumerate(which):
        rises = peak[i] < 0 and value[i, 1] > value[i, 0]
        is_inside = peak[i] > 0 and value[i, peak[i]] > at_new[i]
        outcome[k] = ESTIMATE if is_inside else NO_FINITE_ESTIMATE if rises else FROM_NEW
    inside = np.array([outcome[k] == ESTIMATE for k in which], np.bool_)
    if inside.any():
        best = _refined(_Profile(rows, first, which[inside]), distance[inside], peak[inside])
        location[which[inside]] = first[which[inside]] * (1.0 - best)
    location[[k for k in which if outcome[k] == FROM_NEW]] = 0.0
    last = _shifted(rows, location)
    ended = fit_strata(last.stratum, last.entry, last.low, last.high, last.count, n)
    known = np.isfinite(location)
    shape[known], scale[known] = ended.shape[known], ended.characteristic_life[known]
    top[known] = ended.log_likelihood[known]
    return ThreeParameterFits(outcome, location, shape, scale, top)


class _Profile:
    """Greatest likelihood of some strata at given locations."""

    def __init__(self, lives: SeenLives, first: Floats, which: Ints) -> None:
        """Keep the rows of the strata, numbered anew."""
        place = np.full(first.size, -1)
        place[which] = np.arange(which.size)
        mine = lives.only(np.flatnonzero(place[lives.stratum] >= 0))
        self.lives = SeenLives(place[mine.stratum], mine.entry, mine.low, mine.high, mine.count)
        self.first = first[which]

    def log_likelihood(self, distance: Floats) -> Floats:
        """Return it at locations so far before the first failure, as a share of its age.

        Parameters
        ----------
        distance : ndarray, shape (n_strata, n_locations)

        Returns
        -------
        ndarray, shape (n_strata, n_locations)
            -inf where there is no fit.
        """
        n, size = distance.shape
        lives = self.lives
        key = (lives.stratum[:, None] * size + np.arange(size)).ravel()
        rows = np.repeat(np.arange(lives.low.size), size)
        spread = lives.only(rows)
        location = (self.first[:, None] * (1.0 - distance)).ravel()
        shifted = _shifted(SeenLives(key, spread.entry, spread.low, spread.high, spread.count),
                           location)
        fit = fit_strata(shifted.stratum, shifted.entry, shifted.low, shifted.high,
                         shifted.count, n * size)
        return np.where(np.isnan(fit.log_likelihood), -np.inf, fit.log_likelihood).reshape(n, size)


def _shifted(lives: SeenLives, location: Floats) -> SeenLives:
    """Return lives with ages counted from a location of each stratum."""
    start = np.nan_to_num(location[lives.stratum])
    return SeenLives(lives.stratum, np.maximum(lives.entry - start, 0.0),
                     np.maximum(lives.low - start, 0.0), lives.high - start, lives.count)


def _first_failure(lives: SeenLives, n_strata: int) -> Floats:
    """Return the least age by which a failure is known to have come."""
    first = np.full(n_strata, np.inf)
    failed = lives.is_failed
    np.minimum.at(first, lives.stratum[failed], lives.high[failed])
    return first


def _highest_peak(value: Floats) -> Ints:
    """Return the highest point that stands above both neighbours, -1 if there is none."""
    inner = np.full(value.shape, -np.inf)
    is_peak = (value[:, 1:-1] >= value[:, :-2]) & (value[:, 1:-1] > value[:, 2:])
    inner[:, 1:-1] = np.where(is_peak, value[:, 1:-1], -np.inf)
    best = np.argmax(inner, axis=1)
    return np.where(np.isfinite(inner[np.arange(best.size), best]), best, -1)


def _refined(profile: _Profile, distance: Floats, peak: Ints) -> Floats:
    """Return the distance at the peak between the neighbours of a first guess."""
    row = np.arange(peak.size)
    far, near = np.log(distance[row, peak - 1]), np.log(distance[row, peak + 1])
    middle = np.log(distance[row, peak])
    for _ in range(N_ROUNDS):
        share = np.linspace(0.0, 1.0, N_INSIDE + 2)
        tried = far[:, None] + (near - far)[:, None] * share
        value = profile.log_likelihood(np.exp(tried))
        at = np.clip(np.argmax(value[:, 1:-1], axis=1) + 1, 1, N_INSIDE)
        far, middle, near = (tried[row, at + move] for move in (-1, 0, 1))
        left, top, right = (value[row, at + move] for move in (-1, 0, 1))
    bend = left - 2.0 * top + right
    with np.errstate(divide="ignore", invalid="ignore"):
        move = np.where(bend < 0.0, 0.25 * (near - far) * (left - right) / bend, 0.0)
    return np.asarray(
        np.exp(middle + np.clip(np.nan_to_num(move), near - middle, far - middle)))
