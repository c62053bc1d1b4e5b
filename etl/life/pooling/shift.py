"""Move a level of a factor together with all of its strata, so that sparse fleets mix well."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

State = tuple[Floats, Floats]
"""Log-likelihood of each stratum, shape (n_strata,), and its slope, shape (n_strata, 2)."""


class LevelShift:
    """Shifts of the levels of one factor.

    Where strata say little, a stratum sits where its level's effect puts it and the effect where
    its strata sit, so that moving them in turn hardly moves them at all. Here each level and its
    strata take one common step, proposed from a normal approximation of what the strata's data
    say of it: one Newton step from where they stand, plus noise of the matching size.

    Parameters
    ----------
    level : ndarray of int, shape (n_strata,)
        Level of each stratum.
    n_levels : int
    information : ndarray, shape (n_strata, 2, 2)
        Information of each stratum's data on (log shape, log life), positive semi-definite.
    """

    def __init__(self, level: Ints, n_levels: int, information: Floats) -> None:
        """Add up the information of each level's strata."""
        self._level, self._n = level, n_levels
        self._information = np.stack([
            np.stack([self._sum(information[:, i, j]) for j in range(2)], axis=-1)
            for i in range(2)
        ], axis=-2)

    def move(
        self, y: Floats, effect: Floats, variance: Floats, now: State,
        state: Callable[[Floats], State], rng: np.random.Generator,
    ) -> tuple[Floats, Floats, State]:
        """Propose one step a level and accept or refuse each.

        Parameters
        ----------
        y : ndarray, shape (n_strata, 2)
        effect : ndarray, shape (n_levels, 2)
        variance : ndarray, shape (2,)
            Prior variance of the effects.
        now : State
            At ``y``.
        state : callable
            Returns the state elsewhere, in arrays of its own.
        rng : Generator

        Returns
        -------
        y, effect, now
            After the step.
        """
        precision = self._information + np.diag(1.0 / variance)
        half: Floats = np.asarray(np.linalg.cholesky(precision), np.float64)
        ahead = self._newton(half, now[1], effect, variance)
        noise = rng.standard_normal((self._n, 2))
        step = ahead + np.linalg.solve(half.transpose(0, 2, 1), noise[..., None])[..., 0]
        moved, shifted = y + step[self._level], effect + step
        then = state(moved)
        back = self._newton(half, then[1], shifted, variance)
        way = np.einsum("lji,lj->li", half, -step - back)
        gain = (
            self._sum(then[0] - now[0]) - 0.5 * ((shifted**2 - effect**2) / variance).sum(axis=1)
            + 0.5 * (noise**2).sum(axis=1) - 0.5 * (way**2).sum(axis=1)
        )
        taken = np.log(rng.random(self._n)) < gain
        stay = np.flatnonzero(~taken[self._level])
        for fresh, old in ((moved, y), (then[0], now[0]), (then[1], now[1])):
            fresh[stay] = old[stay]
        return moved, np.where(taken[:, None], shifted, effect), then

    def _newton(self, half: Floats, slope: Floats, effect: Floats, variance: Floats) -> Floats:
        """Return the Newton step of each level's log posterior."""
        pull = np.stack([self._sum(slope[:, i]) for i in range(2)], axis=-1) - effect / variance
        near = np.linalg.solve(half, pull[..., None])
        return np.asarray(np.linalg.solve(half.transpose(0, 2, 1), near)[..., 0])

    def _sum(self, values: Floats) -> Floats:
        return np.asarray(np.bincount(self._level, weights=values, minlength=self._n), np.float64)
