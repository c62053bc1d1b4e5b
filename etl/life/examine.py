"""Is the Weibull the law of these lives? Its fit, a later start, and two populations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.compare_distributions import corrected_akaike
from etl.life.fit import StrataFit, fit_strata
from etl.life.gather import gathered, sampled
from etl.life.goodness import Goodness, goodness_of_fit
from etl.life.mixture import MixtureFits, fit_mixture, gain_p_value
from etl.life.simulate import SeenLives
from etl.life.streams import Streams
from etl.life.three_parameter import ThreeParameterFits, fit_three_parameter

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAST_FAILURES_TO_JUDGE = 10
"""Failures below which no law can be told from another."""
POOR_FIT = 0.10
"""p-value of either distance, up to which two populations are looked for."""
MOST_FAILURES = 150
"""Failures of a stratum that distances and populations are judged by: a random draw, where there
are more. Thousands would find the least oddity out, which no decision turns on."""
N_GROUPS = 40
"""Rows that the suspensions of a stratum become, to save time."""


@dataclass(frozen=True)
class Examination:
    """What is found in each stratum, arrays of shape (n_strata,), NaN where nothing is.

    Attributes
    ----------
    goodness : Goodness
    three : ThreeParameterFits
    aicc_three_parameter : ndarray
        Corrected Akaike criterion of the fit with a location.
    mixture : MixtureFits
        Looked for only where the Weibull fits poorly.
    mixture_p : ndarray
        How often chance makes so great a gain by a second population.
    """

    goodness: Goodness
    three: ThreeParameterFits
    aicc_three_parameter: Floats
    mixture: MixtureFits
    mixture_p: Floats


def examine(
    lives: SeenLives, fit: StrataFit, seed: int, names: Sequence[str]
) -> Examination:
    """Examine every stratum with enough failures.

    Parameters
    ----------
    lives : SeenLives
        In any order; the order changes the simulated p-values within their scatter.
    fit : StrataFit
        Their fit.
    seed : int
    names : sequence of str, one a stratum
        With the seed they start the random numbers of each stratum, so that its figures move
        with its own lives alone.

    Returns
    -------
    Examination

    Notes
    -----
    Suspensions are gathered into a few rows first, and lives are measured against their fit as
    gathered.
    """
    n = fit.shape.size
    n_failures = fit.n_failures + fit.n_intervals
    is_judged = fit.has_estimate & (n_failures >= LEAST_FAILURES_TO_JUDGE)
    streams = Streams(seed, names)
    few = gathered(sampled(lives, n_failures, MOST_FAILURES, streams), n, N_GROUPS)
    goodness = goodness_of_fit(few, _fitted(few, n), is_judged, streams)
    is_poor = np.fmin(goodness.anderson_darling_p, goodness.correlation_p) <= POOR_FIT
    mixture = fit_mixture(few, n, is_judged & is_poor)
    every = gathered(lives, n, N_GROUPS)
    again = _fitted(every, n)
    three = fit_three_parameter(every, again, is_judged)
    n_lives = n_failures + fit.n_suspensions
    # gathering moves both likelihoods alike: only the gain is carried over
    gain = three.log_likelihood - again.log_likelihood
    aicc = corrected_akaike(fit.log_likelihood + gain, 3, n_lives)
    return Examination(goodness, three, aicc, mixture, gain_p_value(mixture.gain))


def _fitted(lives: SeenLives, n_strata: int) -> StrataFit:
    """Return the fit of lives."""
    return fit_strata(lives.stratum, lives.entry, lives.low, lives.high, lives.count, n_strata)
