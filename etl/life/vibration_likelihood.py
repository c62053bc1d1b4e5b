"""Likelihood of the regression of life on vibration, with what is unknown of a place integrated.

Given velocity and frequency error of a place, hazards of its hoses share a gamma factor that is
integrated in closed form; over velocity and frequency error the integral is a sum over points.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from etl.life.vibration_data import Pairs, VibrationData
from etl.life.vibration_exposure import exposure_design
from etl.life.vibration_nodes import Nodes
from etl.life.vibration_parts import Parts
from etl.life.vibration_rows import Rows, gram
from etl.life.vibration_terms import Terms

Floats = NDArray[np.float64]


class Marginal:
    """Log-likelihood of the parameters and its derivatives, at fixed points of the places."""

    def __init__(self, terms: Terms, data: VibrationData, pairs: Pairs, nodes: Nodes) -> None:
        """Hold what does not change with the parameters; places without a pair are left out."""
        self.terms, self.pairs, self.nodes, self.data = terms, pairs, nodes, data
        place = pairs.place
        self.group = data.group[place]
        self.velocity = nodes.velocity[place]
        self.columns = terms.columns(
            self.velocity,
            data.log_frequency_ratio[place, pairs.construction][:, None] - nodes.frequency[place],
            np.repeat(data.covariates[place][:, None, :], self.velocity.shape[1], axis=1),
            np.broadcast_to(data.place_stiffness()[place][:, None], self.velocity.shape))
        self.first = np.flatnonzero(np.diff(place, prepend=-1))
        self.sizes = np.diff(np.append(self.first, pairs.size))
        self.place = place[self.first]
        self.n_failures = np.add.reduceat(pairs.n_failures, self.first)[:, None]
        self._see_readings()

    def _see_readings(self) -> None:
        data, at = self.data, self.nodes.velocity[self.place]
        n, one, two = (np.bincount(data.reading_place, weights=data.reading**power,
                                   minlength=data.n_places)[self.place][:, None]
                       for power in (0, 1, 2))
        self.n_readings = n
        self.squares = two - 2.0 * at * one + n * at**2
        self.design = exposure_design(data)[self.place]

    def thinned(self, step: int) -> Marginal:
        """Return the same over every so many places, to see the rough shape of a large fleet."""
        return Marginal(self.terms, self.data, self.pairs.every(step), self.nodes)

    def log_life(self, theta: Floats) -> Floats:
        """Return the log characteristic life of each pair at each node."""
        life, exponent, _, group, common = self.terms.split(theta)
        c = self.pairs.construction
        base = (life[c] + group[self.group])[:, None] - exponent[c][:, None] * self.velocity
        return np.asarray(base + self.columns @ common)

    def evaluate(self, theta: Floats) -> tuple[float, Parts]:
        """Return the log-likelihood, readings with lives, and what derivatives need.

        Parameters
        ----------
        theta : ndarray, shape (size,)
        """
        pairs, shape = self.pairs, np.exp(self.terms.split(theta)[2])
        b = shape[pairs.construction][:, None]
        mu = self.log_life(theta)
        zero, one = pairs.moments(shape, 1)
        power = np.exp(np.clip(-b * mu, -600.0, 600.0))
        hazard = zero[:, None] * power
        slope = b * (one[:, None] * power - mu * hazard)
        seen = pairs.n_failures[:, None] * np.log(b) + b * (
            pairs.sum_log_age[:, None] - pairs.n_failures[:, None] * mu)
        total = np.add.reduceat(hazard, self.first, axis=0)
        effect, place_sd, error_sd, nu = self.terms.split_places(theta)
        value = (np.add.reduceat(seen, self.first, axis=0) + self._factor_term(total, nu)
                 + self.nodes.log_weight[self.place])
        off, error = np.zeros_like(value), np.zeros_like(value)
        if self.terms.has_places:
            off = (self.nodes.velocity[self.place] - (self.design @ effect)[:, None]) / place_sd
            error = self.squares / error_sd**2
            value += -0.5 * (off**2 + error) - np.log(place_sd) - self.n_readings * np.log(error_sd)
        top = value.max(axis=1, keepdims=True)
        share = np.exp(value - top)
        norm = share.sum(axis=1, keepdims=True)
        # Sums of log ages make values comparable with densities of ages.
        found = float((top + np.log(norm)).sum()) - float(pairs.sum_log_age.sum())
        return found, Parts(mu, hazard, slope, shape, total, share / norm, nu, off, error,
                            place_sd)

    def _factor_term(self, total: Floats, nu: float) -> Floats:
        """Return the log of the likelihood with the gamma factor of the place integrated."""
        if np.isinf(nu):
            return -total
        n = self.n_failures
        return np.asarray(special.gammaln(nu + n) - special.gammaln(nu) + nu * np.log(nu)
                          - (nu + n) * np.log(nu + total))

    def _factor(self, parts: Parts) -> Floats:
        """Return the expected factor of each place at each node."""
        if np.isinf(parts.nu):
            return np.ones_like(parts.place_hazard)
        return np.asarray((parts.nu + self.n_failures) / (parts.nu + parts.place_hazard))

    def _spread(self, values: Floats) -> Floats:
        """Repeat what is known per place for its pairs."""
        return np.repeat(values, self.sizes, axis=0)

    def _scores(self, parts: Parts, factor: Floats) -> tuple[Floats, Floats]:
        """Return derivatives by log life and log shape per pair and node."""
        pairs, b = self.pairs, parts.shape[self.pairs.construction][:, None]
        pull = self._spread(factor)
        n, total = pairs.n_failures[:, None], pairs.sum_log_age[:, None]
        by_life = b * (pull * parts.hazard - n)
        by_shape = n + b * (total - n * parts.mu) - pull * parts.slope
        return by_life, by_shape

    def _place_scores(self, parts: Parts, factor: Floats) -> Floats:
        """Return derivatives by the parameters of places, shape (n_places, n_nodes, n)."""
        if not self.terms.has_places:
            return np.empty((*parts.share.shape, 0))
        by_nu = self._by_nu(parts, factor)
        by_mean = self.design[:, None, :] * (parts.off / parts.place_sd)[:, :, None]
        rest = np.stack([parts.off**2 - 1.0, parts.error - self.n_readings, by_nu], axis=-1)
        return np.concatenate([by_mean, rest], axis=-1)

    def _by_nu(self, parts: Parts, factor: Floats) -> Floats:
        """Return derivatives by the log concentration, shape (n_places, n_nodes)."""
        nu, n = parts.nu, self.n_failures
        level = special.digamma(nu + n) - special.digamma(nu) + np.log(nu) + 1.0
        return np.asarray(nu * (level - np.log(nu + parts.place_hazard) - factor))

    def gradient(self, parts: Parts) -> Floats:
        """Return the gradient, shape (n_seen,)."""
        factor, pairs = self._factor(parts), self.pairs
        c, k = pairs.construction, self.terms.n_constructions
        b, n = parts.shape[c], pairs.n_failures
        share = self._spread(parts.share)
        pull = share * self._spread(factor)
        weighted = b[:, None] * (pull * parts.hazard - n[:, None] * share)
        by_shape = n + b * (pairs.sum_log_age - n * np.einsum("pn,pn->p", share, parts.mu)) - (
            np.einsum("pn,pn->p", pull, parts.slope))
        by_life = weighted.sum(axis=1)
        return np.concatenate([
            np.bincount(c, by_life, k),
            np.bincount(c, -np.einsum("pn,pn->p", weighted, self.velocity), k),
            np.bincount(c, by_shape, k),
            np.bincount(self.group, by_life, self.terms.n_groups),
            np.tensordot(weighted, self.columns, 2),
            self._place_gradient(parts, factor),
        ])

    def _place_gradient(self, parts: Parts, factor: Floats) -> Floats:
        """Return the gradient by the parameters of places."""
        if not self.terms.has_places:
            return np.empty(0)
        share = parts.share
        off, error, by_nu = (np.einsum("pn,pn->p", share, values) for values in (
            parts.off, parts.error, self._by_nu(parts, factor)))
        wide = float(np.einsum("pn,pn,pn->", share, parts.off, parts.off))
        return np.append(self.design.T @ off / parts.place_sd, [
            wide - share.shape[0], float((error - self.n_readings[:, 0]).sum()), by_nu.sum()])

    def information(self, parts: Parts, *, is_complete: bool = False) -> Floats:
        """Return the negative matrix of second derivatives, shape (n_seen, n_seen).

        Parameters
        ----------
        parts : Parts
        is_complete : bool
            As if the points of the places were known: larger, and positive far from the mode.

        Notes
        -----
        Louis (1982): the mean over the points of the information, less the spread over the
        points of the gradient.
        """
        factor = self._factor(parts)
        by_life, by_shape = self._scores(parts, factor)
        found = self._life_information(parts, factor)
        if self.terms.has_places:
            self._add_place_information(found, parts, factor)
        if is_complete or np.isinf(parts.nu):
            return found
        b = parts.shape[self.pairs.construction][:, None]
        none = np.zeros((*parts.share.shape, len(self.terms.place_names)))
        hazard = self._by_place(-b * parts.hazard, parts.slope, none)
        fall = factor / (parts.nu + parts.place_hazard)
        found -= gram(hazard, hazard, (parts.share * fall).ravel())
        places = self._place_scores(parts, factor)
        score = self._by_place(by_life, by_shape, places)
        share = self._spread(parts.share)
        mean = self._by_place(
            (share * by_life), (share * by_shape), parts.share[:, :, None] * places,
            is_summed=True)
        found -= gram(score, score, parts.share.ravel())
        found += gram(mean, mean, np.ones(self.first.size))
        return found

    def _life_information(self, parts: Parts, factor: Floats) -> Floats:
        """Return the information on lives with points known and factors held."""
        pairs, b = self.pairs, parts.shape[self.pairs.construction][:, None]
        share, pull = self._spread(parts.share), self._spread(factor)
        zero, one, two = (values[:, None] for values in pairs.moments(parts.shape, 2))
        power = np.exp(np.clip(-b * parts.mu, -600.0, 600.0))
        curve = parts.slope + b**2 * power * (two - 2.0 * parts.mu * one + parts.mu**2 * zero)
        n, total = pairs.n_failures[:, None], pairs.sum_log_age[:, None]
        life_shape = share * (b * n - pull * b * (parts.hazard + parts.slope))
        shape_shape = share * (pull * curve - b * (total - n * parts.mu))
        life = self._rows(np.ones_like(share), np.zeros_like(share))
        shape = self._rows(np.zeros_like(share), np.ones_like(share))
        cross = gram(life, shape, life_shape.ravel())
        return (gram(life, life, (share * pull * b**2 * parts.hazard).ravel()) + cross + cross.T
                + gram(shape, shape, shape_shape.ravel()))

    def _add_place_information(self, found: Floats, parts: Parts, factor: Floats) -> None:
        """Add what the points say of velocities, readings and the concentration."""
        k, nu, total, n = self.terms.n_life, parts.nu, parts.place_hazard, self.n_failures
        share, size = parts.share, self.design.shape[1]
        found[k:k + size, k:k + size] += self.design.T @ self.design / parts.place_sd**2
        cross = 2.0 * self.design.T @ (share * parts.off).sum(axis=1) / parts.place_sd
        found[k:k + size, k + size] += cross
        found[k + size, k:k + size] += cross
        found[k + size, k + size] += 2.0 * float((share * parts.off**2).sum())
        found[k + size + 1, k + size + 1] += 2.0 * float((share * parts.error).sum())
        at = k + size + 2
        score = self._place_scores(parts, factor)[:, :, -1]
        curve = score + nu * (nu * (special.polygamma(1, nu + n) - special.polygamma(1, nu))
                              + 1.0 - nu / (nu + total) - nu * (total - n) / (nu + total) ** 2)
        found[at, at] -= float((share * curve).sum())
        turn = nu * (total - n) / (nu + total) ** 2
        b = parts.shape[self.pairs.construction][:, None]
        weight = self._spread(share * turn)
        cross = self._sums(-weight * b * parts.hazard, weight * parts.slope)
        found[at, :k] += cross
        found[:k, at] += cross

    def _sums(self, by_life: Floats, by_shape: Floats) -> Floats:
        """Return sums of derivatives over pairs and nodes by parameter of lives."""
        rows = self._rows(by_life, by_shape)
        return np.concatenate([np.asarray(rows.matrix.sum(axis=0)).ravel(),
                               rows.dense.sum(axis=0)])[:self.terms.n_life]

    def _rows(self, by_life: Floats, by_shape: Floats) -> Rows:
        """Return one row per pair and node of derivatives by every parameter."""
        c, k = self.pairs.construction[:, None], self.terms.n_constructions
        index = np.broadcast_arrays(c, c + k, c + 2 * k, self.group[:, None] + 3 * k, by_life)[:4]
        value = np.stack([by_life, -by_life * self.velocity, by_shape, by_life], axis=-1)
        none = np.zeros((*by_life.shape, len(self.terms.place_names)))
        dense = np.concatenate([by_life[:, :, None] * self.columns, none], axis=2)
        return Rows(np.stack(index, axis=-1).reshape(-1, 4), value.reshape(-1, 4),
                    dense.reshape(by_life.size, dense.shape[2]), self.terms.n_effects)

    def _by_place(
        self, by_life: Floats, by_shape: Floats, places: Floats, *, is_summed: bool = False
    ) -> Rows:
        """Return one row per place and node, or per place, of derivatives added up."""
        rows, n_nodes = self._rows(by_life, by_shape), by_life.shape[1]
        number = np.repeat(np.arange(self.first.size), self.sizes)[:, None]
        dense = rows.dense.reshape(*by_life.shape, -1)
        if is_summed:
            at = np.broadcast_to(number, by_life.shape)
            dense, places = dense.sum(axis=1, keepdims=True), places.sum(axis=1, keepdims=True)
        else:
            at = number * n_nodes + np.arange(n_nodes)
        total = np.add.reduceat(dense, self.first, axis=0)
        total[:, :, dense.shape[2] - places.shape[2]:] += places
        return rows.summed(at.ravel(), total.shape[0] * total.shape[1],
                           total.reshape(-1, total.shape[2]))
