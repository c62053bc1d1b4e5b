"""Choice in a trial: posterior of the life ratio of two arms, from the failures inside pairs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.float64]

N_NODES = 7
"""Nodes over what still differs between the two places of a pair."""
N_GRID, REACH = 61, 4.5
"""Points of the log rate ratio, and how many prior standard deviations they reach."""


@dataclass(frozen=True)
class Prior:
    """What was believed of the arms before the start.

    Attributes
    ----------
    log_life_ratio, log_life_ratio_sd : float
        Log of life of the second arm over the first: mean and standard deviation.
    shape : float
        Weibull shape by which a ratio of lives becomes a ratio of hazards.
    within_pair_concentration : float
        Gamma concentration of what differs between the two places of a pair.
    """

    log_life_ratio: float
    log_life_ratio_sd: float
    shape: float
    within_pair_concentration: float

    def grid(self, n_points: int = N_GRID) -> Floats:
        """Return log hazard ratios, second over first, around the prior mean."""
        spread = np.linspace(-REACH, REACH, n_points) * self.log_life_ratio_sd
        return np.asarray(-self.shape * (self.log_life_ratio + spread))

    @property
    def within_pair_sd(self) -> float:
        """Standard deviation of the log ratio of the two places of a pair."""
        return float(np.sqrt(2.0 * special.polygamma(1, self.within_pair_concentration)))


@dataclass(frozen=True)
class LifeRatio:
    """Posterior of the life of the second arm over that of the first.

    Attributes
    ----------
    median, lower, upper : ndarray
        Ratio and its range.
    second_longer : ndarray
        Chance that the second arm lasts longer.
    """

    median: Floats
    lower: Floats
    upper: Floats
    second_longer: Floats


def pair_log_likelihood(
    failed_second: Floats, failed: Floats, log_expected_ratio: Floats, prior: Prior,
    grid: Floats, n_nodes: int = N_NODES,
) -> Floats:
    """Return the log likelihood of each pair on the grid, given the pair's failures together.

    Parameters
    ----------
    failed_second, failed : ndarray, shape (..., n_pairs)
    log_expected_ratio : ndarray, shape (..., n_pairs)
        Log of failures expected of the second arm over the first, were the arms alike.
    prior : Prior
    grid : ndarray, shape (n_grid,)
        Log hazard ratios.
    n_nodes : int
        Fewer for the quick simulations of a plan.

    Returns
    -------
    ndarray, shape (..., n_pairs, n_grid)
        Constants in the grid are left out.

    Notes
    -----
    Whatever makes both places of a pair fail more cancels when the pair's total is given. What
    still differs between them is a normal error on the logit, integrated by Gauss-Hermite.
    """
    nodes, weights = np.polynomial.hermite_e.hermegauss(n_nodes)
    second, both = failed_second[..., None], failed[..., None]
    at_grid = log_expected_ratio[..., None] + grid
    total = np.zeros(at_grid.shape)
    for node, weight in zip(nodes, weights / weights.sum(), strict=True):
        logit = at_grid + prior.within_pair_sd * node
        total += weight * np.exp(second * logit - both * np.logaddexp(0.0, logit))
    return np.log(np.maximum(total, 1e-300))


def life_ratio(log_likelihood: Floats, prior: Prior, grid: Floats, confidence: float) -> LifeRatio:
    """Return the posterior of the life ratio from log likelihoods summed over pairs.

    Parameters
    ----------
    log_likelihood : ndarray, shape (..., n_grid)
    prior : Prior
    grid : ndarray, shape (n_grid,)
        From `Prior.grid`.
    confidence : float

    Returns
    -------
    LifeRatio
        Arrays of the leading shape.
    """
    ratio = -grid / prior.shape
    weight = posterior_weights(log_likelihood, prior, grid)
    step = ratio[1] - ratio[0]
    rising = np.cumsum(weight, axis=-1)
    tail = (1.0 - confidence) / 2.0
    lower, median, upper = (
        np.exp(_quantile(rising, ratio, abs(step), level)) for level in (tail, 0.5, 1.0 - tail))
    return LifeRatio(median, lower, upper, second_longer(weight, ratio))


def posterior_weights(log_likelihood: Floats, prior: Prior, grid: Floats) -> Floats:
    """Return the posterior weight of each point of the grid, summing to 1."""
    ratio = -grid / prior.shape
    log_prior = -0.5 * ((ratio - prior.log_life_ratio) / prior.log_life_ratio_sd) ** 2
    value = log_likelihood + log_prior
    weight = np.exp(value - value.max(axis=-1, keepdims=True))
    return np.asarray(weight / weight.sum(axis=-1, keepdims=True))


def second_longer(weight: Floats, ratio: Floats) -> Floats:
    """Return the chance of a log ratio above 0; each point stands for a cell of the grid."""
    step = ratio[1] - ratio[0]
    above = np.clip(ratio / step + 0.5, 0.0, 1.0)
    return np.asarray(weight @ above)


def _quantile(rising: Floats, ratio: Floats, step: float, level: float) -> Floats:
    """Return the log ratio below which a share of the posterior lies."""
    at = np.minimum((rising < level).sum(axis=-1), ratio.size - 1)
    up_to = np.take_along_axis(rising, at[..., None], axis=-1)[..., 0]
    before = np.where(
        at > 0, np.take_along_axis(rising, np.maximum(at - 1, 0)[..., None], axis=-1)[..., 0], 0.0)
    within = (level - before) / np.maximum(up_to - before, 1e-300)
    return np.asarray(ratio[at] + (within - 0.5) * step)
