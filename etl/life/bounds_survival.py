"""Bounds of the mean life and of survival to given ages: likelihood ratio and normal."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special, stats

from etl.errors import FitError
from etl.life.bounds import Bounds, check_fractions, spread, stacked
from etl.life.contour import Contour, Figure, contour_of
from etl.life.fit import StrataFit
from etl.life.log_figures import log_figures
from etl.life.strata import Strata

Floats = NDArray[np.float64]


def likelihood_ratio_mean(strata: Strata, fit: StrataFit, confidence: float = 0.90) -> Bounds:
    """Bound the mean life of each stratum by how far the likelihood falls from its peak.

    Parameters
    ----------
    strata : Strata
        The lives that were fitted.
    fit : StrataFit
    confidence : float
        Content of the two-sided bounds, in 0..1.

    Returns
    -------
    Bounds, arrays of shape (n_strata,)

    Raises
    ------
    FitError
        The confidence is not between 0 and 1.

    Notes
    -----
    As in `etl.life.bounds.likelihood_ratio_bounds`. The mean leans on the far end of the
    distribution, which suspended lives leave unseen: few failures give a very wide upper bound.
    """
    check_fractions(confidence)
    contour = contour_of(strata, fit, confidence)
    ends = (contour.extreme(_log_mean(contour), side) for side in (-1.0, 1.0))
    with np.errstate(over="ignore"):
        return Bounds(*(
            spread(strata.n_strata, contour.surface.strata, np.exp(end)) for end in ends))


def likelihood_ratio_survival(
    strata: Strata, fit: StrataFit, ages: ArrayLike, confidence: float = 0.90
) -> Bounds:
    """Bound survival to given ages by how far the likelihood falls from its peak.

    Parameters
    ----------
    strata : Strata
        The lives that were fitted.
    fit : StrataFit
    ages : array_like of float, shape (n_ages,) or (n_strata, n_ages)
        >= 0, the unit of the lives.
    confidence : float
        Content of the two-sided bounds at each age, in 0..1.

    Returns
    -------
    Bounds, arrays of shape (n_strata, n_ages)
        0 and 1 where an end is open.

    Raises
    ------
    FitError
        The confidence is not between 0 and 1, or an age is negative or not a number.

    Notes
    -----
    As in `etl.life.bounds.likelihood_ratio_bounds`. The bounds hold at each age by itself, not
    for the whole curve at once.
    """
    check_fractions(confidence)
    table = checked_ages(ages, strata.n_strata)
    contour = contour_of(strata, fit, confidence)
    which = contour.surface.strata
    columns = []
    for age in table[which].T:
        is_new = age == 0.0
        y = contour.surface.scale * (
            np.log(np.where(is_new, 1.0, age)) - contour.surface.centre)
        figure = _log_hazard(y)
        with np.errstate(over="ignore"):
            ends = (np.exp(-np.exp(-contour.extreme(figure, side))) for side in (-1.0, 1.0))
            columns.append(Bounds(*(
                spread(strata.n_strata, which, np.where(is_new, 1.0, end)) for end in ends)))
    return stacked(columns, strata.n_strata)


def normal_mean(fit: StrataFit, confidence: float = 0.90) -> Bounds:
    """Bound the mean life by a normal approximation of its log.

    Parameters
    ----------
    fit : StrataFit
    confidence : float
        Content of the two-sided bounds, in 0..1.

    Returns
    -------
    Bounds, arrays of shape (n_strata,)

    Notes
    -----
    The variance follows from that of log shape and log life by the first derivatives.
    """
    check_fractions(confidence)
    reach = float(stats.norm.ppf(0.5 + 0.5 * confidence))
    figures = log_figures(fit)
    middle, half = figures.value[:, 2], reach * figures.error[:, 2]
    with np.errstate(over="ignore"):
        return Bounds(np.exp(middle - half), np.exp(middle + half))


def normal_survival(fit: StrataFit, ages: ArrayLike, confidence: float = 0.90) -> Bounds:
    """Bound survival to given ages by a normal approximation of ``log(-log survival)``.

    Parameters
    ----------
    fit : StrataFit
    ages : array_like of float, shape (n_ages,) or (n_strata, n_ages)
        >= 0, the unit of the lives.
    confidence : float
        Content of the two-sided bounds at each age, in 0..1.

    Returns
    -------
    Bounds, arrays of shape (n_strata, n_ages)

    Notes
    -----
    On that scale no bound leaves 0..1.

    References
    ----------
    weibulltools vignette "Life Data Analysis Part III", which uses the same scale.

    Examples
    --------
    >>> from etl.life.fit import fit_strata
    >>> failed = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
    >>> fit = fit_strata([0] * 20, 0.0, failed + [500.0] * 10, failed + [np.inf] * 10, 1.0, 1)
    >>> bounds = normal_survival(fit, [0.0, 200.0])
    >>> bounds.lower.round(3).tolist(), bounds.upper.round(3).tolist()
    ([[1.0, 0.711]], [[1.0, 0.938]])
    """
    check_fractions(confidence)
    table = checked_ages(ages, fit.shape.size)
    is_new = table == 0.0
    reach = float(stats.norm.ppf(0.5 + 0.5 * confidence))
    figures = log_figures(fit, (), np.where(is_new, 1.0, table))
    z, half = figures.value[:, 3:], reach * figures.error[:, 3:]
    with np.errstate(over="ignore"):
        return Bounds(*(np.where(is_new & ~np.isnan(z), 1.0, np.exp(-np.exp(z + move)))
                        for move in (half, -half)))


def _log_mean(contour: Contour) -> Figure:
    """Return the log of the mean life."""
    scale, centre = contour.surface.scale, contour.surface.centre
    return Figure(
        lambda cut, x, k: (-x / cut.b / scale[k] + centre[k]
                           + special.gammaln(1.0 + 1.0 / (cut.b * scale[k]))),
        lambda cut, x, k: x - special.digamma(1.0 + 1.0 / (cut.b * scale[k])))


def _log_hazard(y: Floats) -> Figure:
    """Return minus the log of the hazard accumulated to the ages with scaled logs ``y``."""
    return Figure(lambda cut, x, k: -(cut.b * y[k] + x), lambda cut, x, k: -cut.b * y[k])


def checked_ages(ages: ArrayLike, n_strata: int) -> Floats:
    """Return the ages of each stratum, shape (n_strata, n_ages); `FitError` if one is none."""
    values = np.asarray(ages, np.float64)
    wrong = np.count_nonzero(~((values >= 0.0) & (values < np.inf)))
    if wrong or values.ndim not in (1, 2):
        raise FitError(
            f"bounds of survival: ages must be numbers >= 0 in one or two dimensions, found "
            f"shape {values.shape} with {wrong} that are not. Correct or leave out such ages.")
    return np.broadcast_to(values, (n_strata, values.shape[-1]))
