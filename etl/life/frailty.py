"""Service points against their peers: rates that differ, shrunk as far as the fleet warrants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special, stats

from etl.life.streams import Streams

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

SAME_FOR_ALL = np.inf
"""Concentration when places show no difference beyond chance."""

TEST_LEVEL = 0.01
"""Differences between places are taken as real only when chance makes them this rarely."""

PRONE_FROM = 1.5
"""A place is called failure-prone when it fails at least half as fast again as its peers."""

LOG_RANGE = (np.log(0.05), np.log(1e4))


@dataclass(frozen=True)
class PlaceRates:
    """Rate of each place relative to its peers.

    Attributes
    ----------
    concentration : float
        Gamma concentration of rates in the fleet: their variance is 1 / concentration; infinite
        when no difference beyond chance shows.
    p_value : float
        Chance of differences like these if all places were alike.
    rate, lower, upper : ndarray, shape (n_places,)
        Shrunken observed over expected, and its bounds.
    prone_probability : ndarray, shape (n_places,)
        Chance that the place fails at least `PRONE_FROM` times as fast as its peers.
    is_prone : ndarray of bool, shape (n_places,)
        Flagged: the false-alarm share of the whole flagged set stays below the stated one.
    """

    concentration: float
    p_value: float
    rate: Floats
    lower: Floats
    upper: Floats
    prone_probability: Floats
    is_prone: NDArray[np.bool_]


def log_marginal(
    concentration: float, seen: Floats, expected: Floats, weight: Floats | None = None
) -> float:
    """Return the log-likelihood of a gamma concentration, up to a constant.

    Parameters
    ----------
    concentration : float
        > 0; infinite for "all alike".
    seen, expected : ndarray, shape (n_places,)
    weight : ndarray, shape (n_places,), optional
        Places that each entry stands for.

    Returns
    -------
    float
    """
    nu = concentration
    count = np.ones(seen.shape) if weight is None else weight
    if np.isinf(nu):
        return float(-(count @ expected))
    terms = (
        special.gammaln(nu + seen) - special.gammaln(nu) + nu * np.log(nu)
        - (nu + seen) * np.log(nu + expected)
    )
    return float(count @ terms)


def fit_concentration(
    seen: Floats, expected: Floats, n_places: Floats | None = None
) -> tuple[float, float]:
    """Estimate how far places differ, and test whether they do.

    Parameters
    ----------
    seen, expected : ndarray, shape (n,)
        Failures, and failures expected under the fleet's law.
    n_places : ndarray, shape (n,), optional
        Places that each entry stands for; 1 if left.

    Returns
    -------
    concentration, p_value : float
        The concentration is infinite when the p-value exceeds `TEST_LEVEL`.

    Notes
    -----
    Given its rate z, a place's likelihood is z ** seen * exp(-z * expected) however observation
    stopped; with z gamma of mean 1 the marginal is negative binomial. The likelihood ratio
    against "all alike" is half chi-square with one degree of freedom, the parameter lying at the
    edge.
    """
    kept = expected > 0
    count = np.ones(seen.shape) if n_places is None else n_places
    if count[kept].sum() < 3:
        return SAME_FOR_ALL, 1.0
    groups, inverse = np.unique(
        np.column_stack([seen[kept], np.round(expected[kept], 6)]), axis=0, return_inverse=True
    )
    weight = np.bincount(inverse.ravel(), count[kept]).astype(np.float64)

    o, e = groups[:, 0], groups[:, 1]

    def loss(log_nu: float) -> float:
        return -log_marginal(float(np.exp(log_nu)), o, e, weight)

    best = optimize.minimize_scalar(loss, bounds=LOG_RANGE, method="bounded",
                                    options={"xatol": 1e-7})
    ratio = max(0.0, 2.0 * (-float(best.fun) - log_marginal(SAME_FOR_ALL, o, e, weight)))
    p_value = 0.5 * float(stats.chi2.sf(ratio, 1)) if ratio > 0 else 0.5
    return (float(np.exp(best.x)) if p_value <= TEST_LEVEL else SAME_FOR_ALL), p_value


def place_rates(
    seen: Floats, expected: Floats, *, false_share: float, confidence: float = 0.90
) -> PlaceRates:
    """Compare each service point with its peers.

    Parameters
    ----------
    seen, expected : ndarray, shape (n_places,)
    false_share : float
        Largest share of false alarms in the flagged set.
    confidence : float
        Content of the bounds.

    Returns
    -------
    PlaceRates
        Without detectable differences every rate is 1 and nothing is flagged.

    Notes
    -----
    z | data is gamma (nu + seen, nu + expected). Places are flagged in order of
    P(z > `PRONE_FROM`) while the mean of 1 - P over the flagged set stays below `false_share`
    (Bayesian false-discovery rule).
    """
    nu, p_value = fit_concentration(seen, expected)
    n = seen.size
    if np.isinf(nu):
        one = np.ones(n)
        return PlaceRates(nu, p_value, one, one, one, np.zeros(n), np.zeros(n, bool))
    rate, lower, upper, chance = shrunken_rates(seen, expected, nu, confidence)
    order = np.argsort(-chance, kind="stable")
    running = np.cumsum(1.0 - chance[order]) / np.arange(1, n + 1)
    allowed = np.flatnonzero(running <= false_share)
    prone = np.zeros(n, bool)
    if allowed.size:
        prone[order[: allowed[-1] + 1]] = True
    return PlaceRates(nu, p_value, rate, lower, upper, chance, prone)


def shrunken_rates(
    seen: Floats, expected: Floats, concentration: float, confidence: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return rate, lower and upper bound, and the chance of `PRONE_FROM`, of each place.

    Parameters
    ----------
    seen, expected : ndarray, shape (n_places,)
    concentration : float
        From `fit_concentration`; where it is infinite, every rate is 1.
    confidence : float

    Returns
    -------
    tuple of ndarray, each shape (n_places,)
    """
    if np.isinf(concentration):
        one = np.ones(seen.size)
        return one, one, one, np.zeros(seen.size)
    a, b = concentration + seen, concentration + expected
    tail = (1.0 - confidence) / 2.0
    return (a / b, special.gammaincinv(a, tail) / b, special.gammaincinv(a, 1.0 - tail) / b,
            special.gammaincc(a, b * PRONE_FROM))


def prone_from_chance(chance: Floats, n_places: Floats, false_share: float) -> float:
    """Return the least chance of `PRONE_FROM` at which a place is flagged.

    Parameters
    ----------
    chance : ndarray, shape (n,)
        From `shrunken_rates`.
    n_places : ndarray, shape (n,)
        Places that each entry stands for.
    false_share : float

    Returns
    -------
    float
        Infinite where nothing is flagged. The rule is that of `place_rates`, alike places being
        flagged together or not at all.
    """
    levels, inverse = np.unique(-chance, return_inverse=True)
    weight = np.bincount(inverse.ravel(), n_places)
    allowed = np.flatnonzero(np.cumsum(weight * (1.0 + levels)) <= false_share * np.cumsum(weight))
    return float(-levels[allowed[-1]]) if allowed.size and levels[allowed[-1]] < 0.0 else np.inf


def rate_draws(
    seen: Floats, expected: Floats, concentration: float, n_draws: int, seed: int,
    names: Sequence[str],
) -> Singles:
    """Draw the rate of each place, from numbers of its own, so that other places do not move it.

    Parameters
    ----------
    seen, expected : ndarray, shape (n_places,)
    concentration : float
        From `fit_concentration`.
    n_draws, seed : int
    names : sequence of str
        Of the places; a place's numbers go by its name.

    Returns
    -------
    ndarray, shape (n_places, n_draws)
        All 1 when places do not differ.
    """
    if np.isinf(concentration):
        return np.ones((seen.size, n_draws), np.float32)
    streams, draws = Streams(seed, names), np.empty((seen.size, n_draws), np.float32)
    for place, (shape, rate) in enumerate(zip(concentration + seen, concentration + expected,
                                              strict=True)):
        draws[place] = streams.stream("rate", place).standard_gamma(shape, n_draws) / rate
    return draws
