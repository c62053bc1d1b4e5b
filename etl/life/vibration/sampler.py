"""Joint draws of the regression of life on vibration from its posterior itself.

At the mode the posterior leans: readings err, so a steep law and a wide error of the readings go
together, and the parabola there misses the steeper half. Walks over the likelihood, with what is
unknown of places integrated, have no such lean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.data import VibrationData
from etl.life.vibration.draws import Parabola, VibrationDraws
from etl.life.vibration.fit import VibrationFit
from etl.life.vibration.marginal import Marginal
from etl.life.vibration.terms import FIRST_SPREAD, SPREAD_WEIGHT, Spread
from etl.life.vibration.unknown_ends import UnknownEnds

Floats = NDArray[np.float64]

WARM_UP = 80
"""Walks before the first draw, in which the step finds its length."""
STEPS = 4
"""Steps of a walk."""
FIRST_STEP, JITTER = 0.45, 0.2
"""Length of a step, in standard deviations of the parabola, and how much it varies."""
ACCEPTED, PACE = 0.80, 0.15
"""Share of walks to be taken, and how fast the length follows."""


class Walker:
    """A point of the posterior under way, whitened by the parabola at the mode."""

    def __init__(self, data: VibrationData, fit: VibrationFit) -> None:
        """Stand at the mode."""
        self.ends = UnknownEnds(data, fit.terms, fit.pairs, fit.nodes)
        self.marginal = Marginal(fit.terms, data, self.ends.pairs, fit.nodes)
        self.prior, self.spread, self.theta = fit.prior, fit.spread, fit.theta
        self.n_seen = fit.terms.n_seen
        weight = self.prior.precision(fit.spread)
        matrix = Parabola(fit).information + (self.prior.rows.T * weight) @ self.prior.rows
        self.whitened = np.linalg.inv(np.linalg.cholesky(matrix)).T
        self.seen = self._seen(self.theta)

    def _seen(self, theta: Floats) -> tuple[float, Floats]:
        """Return log-likelihood and gradient; minus infinity where it is no number."""
        value, slope = self.marginal.value_and_gradient(theta)
        if not np.isfinite(value):
            return -np.inf, np.zeros(self.n_seen)
        return value, slope

    def _posterior(self, theta: Floats, seen: tuple[float, Floats]) -> tuple[float, Floats]:
        weight, rest = self.prior.precision(self.spread), self.prior.rest(theta)
        slope = -self.prior.rows.T @ (weight * rest)
        slope[:self.n_seen] += seen[1]
        return seen[0] - 0.5 * float(weight @ rest**2), slope

    def walk(self, length: float, rng: np.random.Generator) -> float:
        """Take or refuse one walk at given spreads; return the chance with which it was taken."""
        theta, seen = self.theta, self.seen
        value, slope = self._posterior(theta, seen)
        speed = rng.standard_normal(theta.size)
        before = value - 0.5 * float(speed @ speed)
        length *= rng.uniform(1.0 - JITTER, 1.0 + JITTER)
        speed = speed + 0.5 * length * (self.whitened.T @ slope)
        for step in range(STEPS):
            theta = theta + length * (self.whitened @ speed)
            seen = self._seen(theta)
            value, slope = self._posterior(theta, seen)
            half = 0.5 if step == STEPS - 1 else 1.0
            speed = speed + half * length * (self.whitened.T @ slope)
        gain = value - 0.5 * float(speed @ speed) - before
        chance = float(np.exp(min(gain, 0.0))) if np.isfinite(gain) else 0.0
        if rng.random() < chance:
            self.theta, self.seen = theta, seen
        return chance

    def reconsider(self, rng: np.random.Generator) -> None:
        """Draw what took out the hoses of unknown end, if there are any."""
        if self.ends.has_any:
            self.ends.draw(self.theta, rng)
            self.marginal.recount()
            self.seen = self._seen(self.theta)

    def respread(self, rng: np.random.Generator) -> None:
        """Draw the spreads of constructions and classes given their effects."""
        rest, found = self.prior.rest(self.theta), []
        for number, centre in enumerate(FIRST_SPREAD.as_array()):
            mine = self.prior.kind == number
            total = float((rest[mine] ** 2).sum()) + SPREAD_WEIGHT * centre**2
            found.append(float(np.sqrt(total / rng.chisquare(mine.sum() + SPREAD_WEIGHT))))
        self.spread = Spread(*found)


@dataclass(frozen=True)
class Sampled:
    """Draws, and how many independent ones they are worth.

    Attributes
    ----------
    draws : VibrationDraws
    effective : ndarray, shape (terms.size,)
    """

    draws: VibrationDraws
    effective: Floats


def sample_vibration(data: VibrationData, fit: VibrationFit, n_draws: int, seed: int) -> Sampled:
    """Draw the parameters jointly from their posterior.

    Parameters
    ----------
    data : VibrationData
    fit : VibrationFit
        Of the same data.
    n_draws : int
    seed : int

    Returns
    -------
    Sampled

    Notes
    -----
    Hamiltonian walks (Neal 2011) on the likelihood with velocity, frequency error and factor of
    every place integrated, whitened by the parabola at the mode; after each walk spreads by scaled
    inverse chi-square given their effects, and what took out hoses of unknown end.
    """
    rng = np.random.default_rng([seed, 59])
    walker = Walker(data, fit)
    theta, length = np.empty((n_draws, fit.terms.size)), FIRST_STEP
    for number in range(-WARM_UP, n_draws):
        chance = walker.walk(length, rng)
        if number < 0:
            length *= float(np.exp(PACE * (chance - ACCEPTED)))
        else:
            theta[number] = walker.theta
        walker.respread(rng)
        walker.reconsider(rng)
    return Sampled(VibrationDraws(fit.terms, theta), effective_size(theta))


def effective_size(draws: Floats) -> Floats:
    """Return the number of independent draws that a chain is worth.

    Parameters
    ----------
    draws : ndarray, shape (n_draws, n)

    Returns
    -------
    ndarray, shape (n,)
        At most the number of draws.

    Notes
    -----
    Sums of neighbouring autocorrelations up to the first below nought (Geyer 1992).
    """
    n, apart = draws.shape[0], draws - draws.mean(axis=0)
    wave = np.abs(np.fft.rfft(apart, 2 * n, axis=0)) ** 2
    lag = np.fft.irfft(wave, axis=0)[:n]
    lag = lag / np.maximum(lag[0], 1e-300)
    pairs = lag[:n - n % 2].reshape(-1, 2, draws.shape[1]).sum(axis=1)
    going = np.logical_and.accumulate(pairs > 0.0, axis=0)
    return np.asarray(n / np.maximum(2.0 * (pairs * going).sum(axis=0) - 1.0, 1.0), np.float64)
