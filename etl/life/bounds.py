"""Bounds of fitted lives: likelihood ratio and normal approximation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from etl.errors import FitError
from etl.life.contour import Contour, Figure, contour_of
from etl.life.fit import StrataFit
from etl.life.log_figures import log_figures
from etl.life.strata import Strata

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Bounds:
    """Lower and upper bounds: NaN without an estimate, 0 or inf at an open end."""

    lower: Floats
    upper: Floats


@dataclass(frozen=True)
class LifeBounds:
    """Bounds of each stratum.

    Attributes
    ----------
    shape, characteristic_life : Bounds, arrays of shape (n_strata,)
    b_life : Bounds, arrays of shape (n_strata, n_fractions)
    """

    shape: Bounds
    characteristic_life: Bounds
    b_life: Bounds


def likelihood_ratio_bounds(
    strata: Strata, fit: StrataFit, confidence: float = 0.90, fractions: Sequence[float] = (0.10,)
) -> LifeBounds:
    """Bound shape and lives by how far the likelihood falls from its peak.

    Parameters
    ----------
    strata : Strata
        The lives that were fitted.
    fit : StrataFit
    confidence : float
        Content of the two-sided bounds, in 0..1.
    fractions : sequence of float
        Fractions failed for which the age is bounded; 0.10 for B10.

    Returns
    -------
    LifeBounds

    Raises
    ------
    FitError
        A confidence or fraction is not between 0 and 1.

    Notes
    -----
    A value belongs to the bounds while the greatest log-likelihood with it held fixed stays
    within half the chi-square quantile (one degree of freedom) of the peak. The age by which a
    fraction has failed is extreme on that contour where the likelihood is level in the shape at
    fixed age; that point is found by root finding along the contour.

    References
    ----------
    Profile likelihood as in Meeker and Escobar (1998), Statistical Methods for Reliability Data
    (from memory; figures are checked in tests/published).
    """
    check_fractions(confidence, *fractions)
    contour = contour_of(strata, fit, confidence)
    which, scale, n = contour.surface.strata, contour.surface.scale, strata.n_strata
    shape = Bounds(*(spread(n, which, np.exp(end) * scale) for end in (contour.low, contour.high)))
    lives = []
    for fraction in (-np.expm1(-1.0), *fractions):
        figure = _age_failed(contour, float(np.log(-np.log1p(-fraction))))
        with np.errstate(over="ignore"):
            lives.append(Bounds(*(
                spread(n, which, np.exp(contour.extreme(figure, side))) for side in (-1.0, 1.0))))
    return LifeBounds(shape, lives[0], stacked(lives[1:], n))


def normal_bounds(
    fit: StrataFit, confidence: float = 0.90, fractions: Sequence[float] = (0.10,)
) -> LifeBounds:
    """Bound shape and lives by a normal approximation of their logs.

    Parameters
    ----------
    fit : StrataFit
    confidence : float
        Content of the two-sided bounds, in 0..1.
    fractions : sequence of float
        Fractions failed for which the age is bounded.

    Returns
    -------
    LifeBounds

    Notes
    -----
    Variances are the inverse of the observed information. With few failures these bounds are too
    tight; they are there for comparison with textbooks.

    Examples
    --------
    >>> from etl.life.fit import fit_strata
    >>> failed = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]
    >>> fit = fit_strata([0] * 20, 0.0, failed + [500.0] * 10, failed + [np.inf] * 10, 1.0, 1)
    >>> bounds = normal_bounds(fit, 0.95)
    >>> bounds.shape.lower.round(3).tolist(), bounds.shape.upper.round(3).tolist()
    ([0.971], [3.049])
    """
    check_fractions(confidence, *fractions)
    reach = float(stats.norm.ppf(0.5 + 0.5 * confidence))
    figures = log_figures(fit, fractions)
    with np.errstate(over="ignore"):
        lower, upper = (np.exp(figures.value + side * reach * figures.error)
                        for side in (-1.0, 1.0))
    return LifeBounds(Bounds(lower[:, 0], upper[:, 0]), Bounds(lower[:, 1], upper[:, 1]),
                      Bounds(lower[:, 3:], upper[:, 3:]))


def _age_failed(contour: Contour, offset: float) -> Figure:
    """Return the log age at which the log of the accumulated hazard is ``offset``."""
    scale, centre = contour.surface.scale, contour.surface.centre
    return Figure(lambda cut, x, k: (offset - x) / cut.b / scale[k] + centre[k],
                  lambda cut, x, k: x - offset)


def spread(n_strata: int, which: Ints, values: Floats) -> Floats:
    """Return values of some strata among all, NaN for the others."""
    result = np.full(n_strata, np.nan)
    result[which] = values
    return result


def stacked(parts: list[Bounds], n_strata: int) -> Bounds:
    """Return bounds side by side, shape (n_strata, n_parts)."""
    if not parts:
        return Bounds(np.zeros((n_strata, 0)), np.zeros((n_strata, 0)))
    return Bounds(np.stack([part.lower for part in parts], axis=1),
                  np.stack([part.upper for part in parts], axis=1))


def check_fractions(*values: float) -> None:
    """Raise `FitError` unless every value lies between 0 and 1."""
    wrong = [value for value in values if not 0.0 < value < 1.0]
    if wrong:
        raise FitError(
            f"bounds: confidence and fractions must lie between 0 and 1, got {wrong[0]} "
            f"({len(wrong)} of {len(values)}). Write 90 % as 0.90."
        )
