"""Likelihood of the regression of life on vibration, with what is unknown of a place integrated.

Given velocity and frequency error of a place, hazards of its hoses share a gamma factor that is
integrated in closed form; over velocity and frequency error the integral is a sum over points.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse, special

from etl.life.vibration.data import Pairs
from etl.life.vibration.parts import Parts, Seen
from etl.life.vibration.terms import Terms

Floats = NDArray[np.float64]


class Block:
    """Log-likelihood of the parameters and its gradient, over some places at fixed points."""

    def __init__(self, terms: Terms, pairs: Pairs, seen: Seen) -> None:
        """Hold what does not change with the parameters.

        Parameters
        ----------
        terms : Terms
        pairs : Pairs
            Of these places.
        seen : Seen
        """
        self.terms, self.pairs, self.seen = terms, pairs, seen
        first = np.flatnonzero(np.diff(pairs.place, prepend=-1))
        self.first, self.sizes = first, np.diff(np.append(first, pairs.size))
        self.number = np.repeat(np.arange(first.size), self.sizes)
        self._adds = sparse.csr_array(
            (np.ones(pairs.size), np.arange(pairs.size), np.append(first, pairs.size)),
            shape=(first.size, pairs.size))
        self.velocity = seen.velocity[self.number]
        self.recount()

    def recount(self) -> None:
        """Count the failures of each place as its pairs now have them."""
        self.n_failures = np.add.reduceat(self.pairs.n_failures, self.first)[:, None]
        # Counts repeat, gamma functions are dear.
        self._counts, self._count_at = np.unique(self.n_failures[:, 0], return_inverse=True)

    def by_place(self, values: Floats) -> Floats:
        """Add up what is known per pair and point, shape (n_places, n_nodes)."""
        return np.asarray(self._adds @ values, np.float64)

    def spread(self, values: Floats) -> Floats:
        """Repeat what is known per place for its pairs."""
        return np.take(values, self.number, axis=0)

    def of_counts(self, function: Callable[..., Any], nu: float, *before: int) -> Floats:
        """Return a function of concentration and failures for every place, shape (n_places, 1)."""
        return np.asarray(function(*before, nu + self._counts)[self._count_at][:, None])

    def log_life(self, theta: Floats) -> Floats:
        """Return the log characteristic life of each pair at each node."""
        life, exponent, _, group, common = self.terms.split(theta)
        c = self.pairs.construction
        found = (life[c] + self.spread(group[self.seen.group]))[:, None] - (
            exponent[c][:, None] * self.velocity)
        for factor, column in zip(common, self.seen.columns, strict=True):
            found += factor * column
        return np.asarray(found)

    def evaluate(self, theta: Floats) -> tuple[float, Parts]:
        """Return the log-likelihood, readings with lives, and what derivatives need.

        Parameters
        ----------
        theta : ndarray, shape (size,)
        """
        pairs, seen, shape = self.pairs, self.seen, np.exp(self.terms.split(theta)[2])
        b = shape[pairs.construction]
        mu = self.log_life(theta)
        zero, one = pairs.moments(shape, 1)
        power = -b[:, None] * mu
        np.clip(power, -600.0, 600.0, out=power)
        np.exp(power, out=power)
        total = self.by_place(zero[:, None] * power)
        constant = pairs.n_failures * np.log(b) + b * pairs.sum_log_age
        effect, place_sd, error_sd, nu = self.terms.split_places(theta)
        value = self._factor_term(total, nu)
        value -= self.by_place((b * pairs.n_failures)[:, None] * mu)
        value += self.by_place(constant)[:, None]
        value += seen.log_weight
        off, error = np.zeros_like(value), np.zeros_like(value)
        if self.terms.has_places:
            off = (seen.velocity - (seen.design @ effect)[:, None]) / place_sd
            error = seen.squares / error_sd**2
            value -= 0.5 * (off**2 + error)
            value -= np.log(place_sd) + seen.n_readings * np.log(error_sd)
        top = value.max(axis=1, keepdims=True)
        share = np.exp(value - top)
        norm = share @ np.ones((share.shape[1], 1))
        share /= norm
        # Sums of log ages make values comparable with densities of ages.
        found = float((top + np.log(norm)).sum()) - float(pairs.sum_log_age.sum())
        return found, Parts(mu, power, zero, one, shape, total, share, nu, off, error, place_sd)

    def _factor_term(self, total: Floats, nu: float) -> Floats:
        """Return the log of the likelihood with the gamma factor of the place integrated."""
        if np.isinf(nu):
            return -total
        start = self.of_counts(special.gammaln, nu) - special.gammaln(nu) + nu * np.log(nu)
        return np.asarray(start - (nu + self.n_failures) * np.log(nu + total))

    def factor(self, parts: Parts) -> Floats:
        """Return the expected factor of each place at each node."""
        if np.isinf(parts.nu):
            return np.ones_like(parts.place_hazard)
        return np.asarray((parts.nu + self.n_failures) / (parts.nu + parts.place_hazard))

    def by_nu(self, parts: Parts, factor: Floats) -> Floats:
        """Return derivatives by the log concentration, shape (n_places, n_nodes)."""
        nu = parts.nu
        level = self.of_counts(special.digamma, nu) - special.digamma(nu) + np.log(nu) + 1.0
        return np.asarray(nu * (level - np.log(nu + parts.place_hazard) - factor))

    def gradient(self, parts: Parts) -> Floats:
        """Return the gradient, shape (n_seen,)."""
        factor, pairs, seen = self.factor(parts), self.pairs, self.seen
        c, k = pairs.construction, self.terms.n_constructions
        b, n = parts.shape[c], pairs.n_failures
        share = self.spread(parts.share)
        pull = self.spread(parts.share * factor)
        pull *= parts.power
        level, bent = pull @ np.ones(pull.shape[1]), np.einsum("pn,pn->p", pull, parts.mu)
        by_life = b * (parts.zero * level - n)
        by_shape = n + b * (pairs.sum_log_age - n * np.einsum("pn,pn->p", share, parts.mu)) - (
            b * (parts.one * level - parts.zero * bent))

        def along(column: Floats) -> Floats:
            return np.asarray(b * (parts.zero * np.einsum("pn,pn->p", pull, column)
                                   - n * np.einsum("pn,pn->p", share, column)))

        return np.concatenate([
            np.bincount(c, by_life, k),
            np.bincount(c, -along(self.velocity), k),
            np.bincount(c, by_shape, k),
            np.bincount(seen.group[self.number], by_life, self.terms.n_groups),
            [along(column).sum() for column in seen.columns],
            self._place_gradient(parts, factor),
        ])

    def _place_gradient(self, parts: Parts, factor: Floats) -> Floats:
        """Return the gradient by the parameters of places."""
        if not self.terms.has_places:
            return np.empty(0)
        share, seen = parts.share, self.seen
        off, error, by_nu = (np.einsum("pn,pn->p", share, values) for values in (
            parts.off, parts.error, self.by_nu(parts, factor)))
        wide = float(np.einsum("pn,pn,pn->", share, parts.off, parts.off))
        return np.append(seen.design.T @ off / parts.place_sd, [
            wide - share.shape[0], float((error - seen.n_readings[:, 0]).sum()), by_nu.sum()])
