"""What is read from a fit, as logs with their standard errors: the scale on which bounds are made.

On these scales, which have no ends, estimates are nearly normal and no bound is impossible.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from etl.life.fit import StrataFit

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class LogFigures:
    """Estimates and standard errors, arrays of shape (n_strata, n_figures).

    The figures are log shape, log characteristic life, log mean life, then the log of each age by
    which a fraction has failed, then the log of the hazard accumulated to each age.
    """

    value: Floats
    error: Floats


def log_figures(
    fit: StrataFit, fractions: Sequence[float] = (), ages: Floats | None = None
) -> LogFigures:
    """Return the log of each figure and its standard error.

    Parameters
    ----------
    fit : StrataFit
    fractions : sequence of float
        Fractions failed, in 0..1.
    ages : ndarray, shape (n_strata, n_ages) or (n_ages,), optional
        > 0.

    Returns
    -------
    LogFigures
        NaN for a stratum without an estimate.

    Notes
    -----
    Variances are the inverse of the observed information in log shape and log life, carried over
    by the first derivatives of each figure.
    """
    u, m = np.log(fit.shape), np.log(fit.characteristic_life)
    power = 1.0 / fit.shape
    one, nothing = np.ones(u.size), np.zeros(u.size)
    # each figure: value, slope in log shape, slope in log life
    figures = [(u, one, nothing), (m, nothing, one),
               (m + special.gammaln(1.0 + power), -power * special.digamma(1.0 + power), one)]
    for fraction in fractions:
        pull = float(np.log(-np.log1p(-fraction))) * power
        figures.append((m + pull, -pull, one))
    if ages is not None:
        for age in np.broadcast_to(ages, (u.size, ages.shape[-1])).T:
            z = fit.shape * (np.log(age) - m)
            figures.append((z, z, -fit.shape))
    value, by_u, by_m = (np.stack([figure[i] for figure in figures], axis=1) for i in range(3))
    a, c, e = (fit.information[:, i, j][:, None] for i, j in ((0, 0), (0, 1), (1, 1)))
    variance = (e * by_u**2 - 2.0 * c * by_u * by_m + a * by_m**2) / (a * e - c * c)
    return LogFigures(value, np.sqrt(variance))
