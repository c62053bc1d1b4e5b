"""Steps to the top of the posterior of the regression on vibration, points of places at rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from etl.life.vibration.marginal import Marginal
from etl.life.vibration.steps import damped_step, newton_step
from etl.life.vibration.terms import Prior, Spread, Terms

Floats = NDArray[np.float64]

ROUGH = 150_000
"""Pairs times points from which on the matrix of the early rounds looks at part of the places."""
LONGEST_STEP = 1.0
ENOUGH = 1e-4
"""Gain in log posterior below which a step is not worth taking."""


class Climber:
    """Parameters under way on a likelihood and a prior."""

    terms: Terms
    prior: Prior
    spread: Spread
    marginal: Marginal
    theta: Floats

    def level(self, theta: Floats) -> tuple[float, Floats]:
        """Return the log posterior up to a constant, and its gradient."""
        rest, weight = self.prior.rest(theta), self.prior.precision(self.spread)
        value, seen = self.marginal.value_and_gradient(theta)
        slope = -self.prior.rows.T @ (weight * rest)
        slope[:self.terms.n_seen] += seen
        return value - 0.5 * float(weight @ rest**2), slope

    def second_derivatives(self, *, is_exact: bool = False) -> Floats:
        """Return the matrix of the posterior; of a large fleet from part of it unless exact."""
        step = 1 if is_exact else max(1, round(self.marginal.size / ROUGH))
        part = self.marginal.thinned(step) if step > 1 else self.marginal
        prior = (self.prior.rows.T * self.prior.precision(self.spread)) @ self.prior.rows
        k = self.terms.n_seen
        for is_complete in (False, True):
            full = prior.copy()
            full[:k, :k] += step * part.information(
                self.theta, is_complete=is_complete)
            if newton_step(full, np.zeros(full.shape[0])) is not None:
                break
        return full

    def climb(self, full: Floats, n: int) -> float:
        """Take steps along one matrix and return the gain that the last one promised."""
        gain, (value, slope) = np.inf, self.level(self.theta)
        for _ in range(n):
            step = damped_step(full, slope)
            gain = float(step @ slope)
            step *= min(1.0, LONGEST_STEP / max(float(np.abs(step).max()), 1e-300))
            there = self.level(self.theta + step)
            while there[0] < value and np.abs(step).max() > 1e-9:
                step = step / 2.0
                there = self.level(self.theta + step)
            self.theta, (value, slope) = self.theta + step, there
            if gain < ENOUGH:
                break
        return gain
