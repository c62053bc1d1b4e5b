"""Joint draws of the regression of life on vibration: the common currency of what is said of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.data import VibrationData
from etl.life.vibration.fit import VibrationFit
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.terms import FIRST_SPREAD, SPREAD_WEIGHT, Spread, Terms

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WARM_UP, BETWEEN = 100, 4
"""Steps of the spreads before the first draw, and from draw to draw."""
STEP = 0.35
"""Standard deviation of a step, in the log of a spread."""


@dataclass(frozen=True)
class VibrationDraws:
    """Joint draws.

    Attributes
    ----------
    terms : Terms
    theta : ndarray, shape (n_draws, terms.size)
    """

    terms: Terms
    theta: Floats

    @property
    def exponent(self) -> Floats:
        """Exponent of each construction, shape (n_draws, n_constructions)."""
        return self.terms.split(self.theta)[1]

    @property
    def shape(self) -> Floats:
        """Shape of each construction, shape (n_draws, n_constructions)."""
        return np.asarray(np.exp(self.terms.split(self.theta)[2]), np.float64)

    @property
    def nu(self) -> Floats:
        """Concentration of the factor of a place, shape (n_draws,)."""
        return np.asarray(np.exp(np.clip(self.common("log_nu"), -3.0, 8.0)), np.float64)

    def common(self, name: str) -> Floats:
        """Return a parameter common to the fleet, shape (n_draws,)."""
        return self.theta[:, self.terms.at(name)]


class Parabola:
    """The posterior given spreads, the likelihood taken as quadratic at the mode."""

    def __init__(self, fit: VibrationFit) -> None:
        """Hold the likelihood of a fit."""
        self.prior, self.theta, k = fit.prior, fit.theta, fit.terms.n_seen
        self.rest = fit.prior.rest(fit.theta)
        self.information = np.zeros((fit.terms.size, fit.terms.size))
        # Where next to nothing is known the surface may bend the wrong way: flat is then closest.
        bends, ways = np.linalg.eigh(fit.information)
        self.information[:k, :k] = (ways * np.maximum(bends, 0.0)) @ ways.T
        # At the mode the likelihood pulls as hard as the prior, the other way.
        self.score = self.prior.rows.T @ (self.prior.precision(fit.spread) * self.rest)

    def at(self, log_spread: Floats) -> tuple[float, Floats, Floats]:
        """Return log density of the spreads, centre of the parameters, and Cholesky factor."""
        weight = self.prior.precision(Spread(*(float(x) for x in np.exp(log_spread))))
        matrix = self.information + (self.prior.rows.T * weight) @ self.prior.rows
        slope = self.score - self.prior.rows.T @ (weight * self.rest)
        factor = np.asarray(np.linalg.cholesky(matrix), np.float64)
        inner = np.linalg.solve(factor, slope)
        value = 0.5 * float(inner @ inner) - 0.5 * float(weight @ self.rest**2)
        value += 0.5 * float(np.log(weight).sum()) - float(np.log(np.diag(factor)).sum())
        # Scaled inverse chi-square law of each variance, as a density of its log.
        square = (FIRST_SPREAD.as_array() / np.exp(log_spread)) ** 2
        value -= 0.5 * SPREAD_WEIGHT * float((2.0 * log_spread + square).sum())
        return value, self.theta + np.linalg.solve(factor.T, inner), factor


def draw_vibration(fit: VibrationFit, n_draws: int, seed: int) -> VibrationDraws:
    """Draw the parameters jointly.

    Parameters
    ----------
    fit : VibrationFit
    n_draws : int
    seed : int

    Returns
    -------
    VibrationDraws

    Notes
    -----
    Laplace's approximation of the likelihood; the spreads of constructions and classes by
    Metropolis steps on their marginal posterior under it, so that spreads that are little known
    widen what rests on them.
    """
    rng = np.random.default_rng([seed, 57])
    parabola = Parabola(fit)
    at = np.log(fit.spread.as_array())
    here = parabola.at(at)
    theta = np.empty((n_draws, fit.terms.size))
    for number in range(-WARM_UP, n_draws * BETWEEN):
        offered = at + STEP * rng.standard_normal(at.size)
        there = parabola.at(offered)
        if np.log(rng.random()) < there[0] - here[0]:
            at, here = offered, there
        if number >= 0 and number % BETWEEN == 0:
            noise = rng.standard_normal(fit.terms.size)
            theta[number // BETWEEN] = here[1] + np.linalg.solve(here[2].T, noise)
    return VibrationDraws(fit.terms, theta)


@dataclass(frozen=True)
class PlaceDraws:
    """What is not known of places, drawn together with the parameters.

    Attributes
    ----------
    velocity, frequency, factor : ndarray, shape (n_draws, n_places)
        Log velocity, error of the log natural frequency, and factor on the hazard.
    expected : ndarray, shape (n_draws, n_pairs)
        Failures that each pair of place and construction should have had.
    """

    velocity: Floats
    frequency: Floats
    factor: Floats
    expected: Floats


def draw_places(
    data: VibrationData, fit: VibrationFit, draws: VibrationDraws, seed: int
) -> PlaceDraws:
    """Draw velocity, frequency error and factor of every place given each draw of parameters.

    Parameters
    ----------
    data : VibrationData
    fit : VibrationFit
    draws : VibrationDraws
    seed : int

    Returns
    -------
    PlaceDraws
    """
    rng = np.random.default_rng([seed, 58])
    marginal = Marginal(fit.terms, data, fit.pairs, fit.nodes)
    n, every = draws.theta.shape[0], np.arange(data.n_places)
    found = PlaceDraws(*(np.empty((n, size)) for size in (*[every.size] * 3, fit.pairs.size)))
    n_failures = np.bincount(fit.pairs.place, fit.pairs.n_failures, every.size)
    at = np.arange(fit.pairs.size)
    for number in range(n):
        blocks = marginal.evaluate(draws.theta[number])
        share, hazard, total = (np.concatenate([getattr(parts, name) for parts in blocks])
                                for name in ("share", "hazard", "place_hazard"))
        nu = blocks[0].nu
        cut = rng.random(every.size)[:, None]
        chosen = np.minimum((share.cumsum(axis=1) < cut).sum(axis=1), share.shape[1] - 1)
        found.velocity[number] = fit.nodes.velocity[every, chosen]
        found.frequency[number] = fit.nodes.frequency[every, chosen]
        found.factor[number] = rng.gamma(nu + n_failures) / (
            nu + total[every, chosen])
        found.expected[number] = hazard[at, chosen[fit.pairs.place]] * found.factor[
            number, fit.pairs.place]
    return found
