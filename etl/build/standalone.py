"""Every stratum fitted on its own hoses alone: the view without pooling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.build.lives import Lives
from etl.build.strata import Strata
from etl.life.examine import MOST_FAILURES, examine
from etl.life.fit import StrataFit
from etl.life.simulate import SeenLives

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Rows:
    """Lives laid out for fitting: once for each mechanism, once more with any failure counting.

    Attributes
    ----------
    stratum : ndarray of int, shape (n,)
        0 .. n_strata - 1 as in `Strata`; then one for each cell, in which any failure counts.
    entry, low, high, count : ndarray, shape (n,)
    n_strata : int
    """

    stratum: Ints
    entry: Floats
    low: Floats
    high: Floats
    count: Floats
    n_strata: int


def standalone_rows(lives: Lives, strata: Strata) -> Rows:
    """Lay out the lives for the stand-alone fits.

    Parameters
    ----------
    lives : Lives
    strata : Strata

    Returns
    -------
    Rows

    Notes
    -----
    For one mechanism, a failure by another one, or by an unknown one, is a suspension at the
    last age at which the hose was known to run.
    """
    number = strata.number(lives.n_cells)
    parts: list[tuple[Ints, Floats, Floats, Floats, Floats]] = []
    for code in range(len(strata.names)):
        stratum = number[lives.cell, code]
        own = lives.mechanism == (code if code < len(strata.names) - 1 else -2)
        keep = stratum >= 0
        high = np.where(own & lives.is_failure, lives.high, np.inf)
        parts.append(
            (stratum[keep], lives.entry[keep], lives.low[keep], high[keep], lives.count[keep])
        )
    parts.append((strata.n_strata + lives.cell, lives.entry, lives.low, lives.high, lives.count))
    stacked = [np.concatenate(column) for column in zip(*parts, strict=True)]
    # A suspension at its own entry age, or at age 0, says nothing: an interval that opens there.
    seen = np.isfinite(stacked[3]) | (stacked[2] > stacked[1])
    stratum, entry, low, high, count = (column[seen] for column in stacked)
    return Rows(stratum, entry, low, high, count, strata.n_strata + lives.n_cells)


@dataclass(frozen=True)
class FitChecks:
    """What examining the stand-alone fits found.

    Attributes
    ----------
    outcomes : list of str
        Of the fit with a location, as in `etl.life.three_parameter.ThreeParameterFits`.
    figures : dict of str to ndarray, each of shape (n_fits,)
        By column name; NaN where there is none.
    """

    outcomes: list[str]
    figures: dict[str, Floats]


def fit_checks(rows: Rows, fit: StrataFit, seed: int, names: Sequence[str]) -> FitChecks:
    """Examine every stand-alone fit with enough failures.

    Parameters
    ----------
    rows : Rows
    fit : StrataFit
        Their fit.
    seed : int
    names : sequence of str, one a fit
        Kind and mechanism: simulated figures of a fit move with its own lives alone.

    Returns
    -------
    FitChecks
    """
    found = examine(SeenLives(rows.stratum.astype(np.intp), rows.entry, rows.low, rows.high,
                              rows.count), fit, seed, names)
    good, three, mixture = found.goodness, found.three, found.mixture
    n_judged = np.minimum(fit.n_failures + fit.n_intervals, MOST_FAILURES)
    return FitChecks(three.outcome, {
        "n_failures_judged": np.where(np.isnan(good.anderson_darling_p), np.nan, n_judged),
        "anderson_darling": good.departure.anderson_darling,
        "anderson_darling_p_value": good.anderson_darling_p,
        "plot_correlation": good.departure.correlation,
        "plot_correlation_p_value": good.correlation_p,
        "three_parameter_location_days": three.location,
        "three_parameter_shape": three.shape,
        "three_parameter_scale_days": three.scale,
        "aicc_three_parameter": found.aicc_three_parameter,
        "mixture_p_value": found.mixture_p,
        "mixture_early_share": mixture.share_early,
        "mixture_early_life_days": mixture.characteristic_life[:, 0],
        "mixture_late_life_days": mixture.characteristic_life[:, 1],
    })
