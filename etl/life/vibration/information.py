"""Second derivatives of the likelihood on vibration: small matrices a place, added up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import special

from etl.life.vibration.likelihood import Block
from etl.life.vibration.parts import Parts

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def information(block: Block, parts: Parts, *, is_complete: bool) -> Floats:
    """Return the negative matrix of second derivatives over some places.

    Parameters
    ----------
    block : Block
    parts : Parts
    is_complete : bool
        As if the points of the places were known.

    Returns
    -------
    ndarray, shape (n_seen, n_seen)

    Notes
    -----
    Louis (1982): the mean over the points of the information, less the spread over the points of
    the gradient. A pair touches few parameters, a place those of its pairs: products are taken of
    these alone and added to where they belong.
    """
    factor = block.factor(parts)
    found = _of_lives(block, parts, factor)
    if block.terms.has_places:
        _add_places(found, block, parts, factor)
    if is_complete or np.isinf(parts.nu):
        return found
    b = parts.shape[block.pairs.construction][:, None]
    hazard, slope = parts.hazard, parts.slope(b)
    pull, n = block.spread(factor), block.pairs.n_failures[:, None]
    total = block.pairs.sum_log_age[:, None]
    score = _Scores(block, b * (pull * hazard - n),
                    n + b * (total - n * parts.mu) - pull * slope,
                    _place_scores(block, parts, factor))
    pulled = _Scores(block, -b * hazard, slope, [])
    fall = parts.share * factor / (parts.nu + parts.place_hazard)
    for n_pairs in np.unique(block.sizes):
        mine = np.flatnonzero(block.sizes == n_pairs)
        share = parts.share[mine][:, None, :]
        index, rows = score.of(mine, n_pairs)
        weighted = rows * share
        mean = weighted.sum(axis=2)
        matrix = mean[:, :, None] * mean[:, None, :] - weighted @ rows.transpose(0, 2, 1)
        _scatter(found, index, matrix)
        index, rows = pulled.of(mine, n_pairs)
        _scatter(found, index, -(rows * fall[mine][:, None, :]) @ rows.transpose(0, 2, 1))
    return found


class _Scores:
    """Derivatives at every point of every place, by the parameters that the place touches."""

    def __init__(
        self, block: Block, by_life: Floats, by_shape: Floats, places: list[tuple[Ints, Floats]]
    ) -> None:
        """Hold derivatives by log life and log shape per pair, and those by what is of places."""
        terms, seen, self.first = block.terms, block.seen, block.first
        k, c = terms.n_constructions, block.pairs.construction
        self.pair_index = np.stack([c, c + k, c + 2 * k], axis=1)
        self.pairs = np.stack([by_life, -by_life * block.velocity, by_shape], axis=1)
        every = np.ones(seen.group.size, np.int64)
        place = [(3 * k + seen.group, block.by_place(by_life))]
        place += [((terms.n_effects + number) * every, block.by_place(by_life * column))
                  for number, column in enumerate(seen.columns)]
        place += places
        self.place_index = np.stack([index for index, _ in place], axis=1)
        self.places = np.stack([values for _, values in place], axis=1)

    def of(self, mine: Ints, n_pairs: int) -> tuple[Ints, Floats]:
        """Return parameters and derivatives of places with as many pairs each.

        Returns
        -------
        index, rows
            Shapes (n, n_entries) and (n, n_entries, n_nodes).
        """
        at = self.first[mine][:, None] + np.arange(n_pairs)
        index = self.pair_index[at].reshape(mine.size, -1)
        rows = self.pairs[at].reshape(mine.size, index.shape[1], -1)
        return (np.concatenate([index, self.place_index[mine]], axis=1),
                np.concatenate([rows, self.places[mine]], axis=1))


def _scatter(found: Floats, index: Ints, matrix: Floats) -> None:
    """Add one matrix a place to where its parameters stand."""
    size = found.shape[0]
    at = index[:, :, None] * size + index[:, None, :]
    found += np.bincount(at.ravel(), matrix.ravel(), size * size).reshape(size, size)


def _place_scores(block: Block, parts: Parts, factor: Floats) -> list[tuple[Ints, Floats]]:
    """Return parameters and derivatives of what is of places, each per place and node."""
    if not block.terms.has_places:
        return []
    seen, first = block.seen, block.terms.n_life
    every, n = np.ones(seen.group.size, np.int64), block.terms.n_groups
    level = parts.off / parts.place_sd
    return [
        (first + seen.group, level),
        ((first + n) * every, seen.design[:, -1:] * level),
        ((first + n + 1) * every, parts.off**2 - 1.0),
        ((first + n + 2) * every, parts.error - seen.n_readings),
        ((first + n + 3) * every, block.by_nu(parts, factor)),
    ]


def _of_lives(block: Block, parts: Parts, factor: Floats) -> Floats:
    """Return the information on lives with points known and factors held."""
    terms, pairs, seen = block.terms, block.pairs, block.seen
    b, n = parts.shape[pairs.construction][:, None], pairs.n_failures[:, None]
    share, pull = block.spread(parts.share), block.spread(parts.share * factor)
    hazard, slope = parts.hazard, parts.slope(b)
    zero, one, two = (values[:, None] for values in pairs.moments(parts.shape, 2))
    curve = slope + b**2 * parts.power * (two - 2.0 * parts.mu * one + parts.mu**2 * zero)
    off = pairs.sum_log_age[:, None] - n * parts.mu
    cross = b * (n * share - pull * (hazard + slope))
    rows = np.stack([np.ones_like(share), -block.velocity, np.ones_like(share), *seen.columns],
                    axis=1)
    matrix = np.empty((pairs.size, rows.shape[1] + 1, rows.shape[1] + 1))
    matrix[:, :-1, :-1] = (rows * (b**2 * pull * hazard)[:, None, :]) @ rows.transpose(0, 2, 1)
    matrix[:, :-1, -1] = matrix[:, -1, :-1] = np.einsum("pkn,pn->pk", rows, cross)
    matrix[:, -1, -1] = (pull * curve - share * b * off).sum(axis=1)
    k, c = terms.n_constructions, pairs.construction
    common = np.broadcast_to(terms.n_effects + np.arange(len(seen.columns)),
                             (pairs.size, len(seen.columns)))
    index = np.column_stack([c, c + k, 3 * k + seen.group[block.number], common, c + 2 * k])
    found = np.zeros((terms.n_seen, terms.n_seen))
    _scatter(found, index, matrix)
    return found


def _add_places(found: Floats, block: Block, parts: Parts, factor: Floats) -> None:
    """Add what the points say of velocities, readings and the concentration."""
    k, seen, share = block.terms.n_life, block.seen, parts.share
    nu, total, n, size = parts.nu, parts.place_hazard, block.n_failures, seen.design.shape[1]
    found[k:k + size, k:k + size] += seen.design.T @ seen.design / parts.place_sd**2
    cross = 2.0 * seen.design.T @ (share * parts.off).sum(axis=1) / parts.place_sd
    found[k:k + size, k + size] += cross
    found[k + size, k:k + size] += cross
    found[k + size, k + size] += 2.0 * float((share * parts.off**2).sum())
    found[k + size + 1, k + size + 1] += 2.0 * float((share * parts.error).sum())
    at = k + size + 2
    trigamma = block.of_counts(special.polygamma, nu, 1) - special.polygamma(1, nu)
    curve = block.by_nu(parts, factor) + nu * (
        nu * trigamma + 1.0 - nu / (nu + total) - nu * (total - n) / (nu + total) ** 2)
    found[at, at] -= float((share * curve).sum())
    b = parts.shape[block.pairs.construction][:, None]
    weight = block.spread(share * nu * (total - n) / (nu + total) ** 2)
    scores = _Scores(block, -weight * b * parts.hazard, weight * parts.slope(b), [])
    cross = np.bincount(scores.pair_index.ravel(), scores.pairs.sum(axis=2).ravel(), k)
    cross += np.bincount(scores.place_index.ravel(), scores.places.sum(axis=2).ravel(), k)
    found[at, :k] += cross
    found[:k, at] += cross
