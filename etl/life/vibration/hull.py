"""Where the evidence ends: what of a map of velocity and frequency may be shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

REACH = 0.35
"""How far a life speaks for its neighbours, in log velocity and log frequency."""
LEAST_SUPPORT, LEAST_PLACES = 1.0, 3
WIDEST = float(np.exp(2.0))
"""Upper over lower bound of a life beyond which it is no number to plan with."""
NEAR_RESONANCE = 0.30
"""Distance of log frequencies within which a computed natural frequency cannot be trusted."""
MOST_OLD = 0.10
"""Share of lives from before the records, old at their start or ended for no written reason, above
which nothing is said near resonance: ranges there held 85 of 100 where a quarter were old, 80 where
a tenth were old and a quarter unexplained, not 90 (invented worlds)."""
MISFIT = 0.01
"""Chance of failures as oddly spread over velocities below which a construction is left blank."""


@dataclass(frozen=True)
class Support:
    """Evidence around each cell of a map, for one construction.

    Attributes
    ----------
    failures : ndarray, shape (n_cells,)
        The larger of failures seen and expected nearby: a long time without any counts too.
    n_places : ndarray of int, shape (n_cells,)
    """

    failures: Floats
    n_places: Ints


def support(
    cell: tuple[Floats, Floats], pair: tuple[Floats, Floats], seen: Floats, expected: Floats,
    knowledge: Floats, place: Ints,
) -> Support:
    """Add up the evidence around each cell.

    Parameters
    ----------
    cell : tuple of ndarray, shape (n_cells,)
        Log velocity and log frequency of the middle of each cell.
    pair : tuple of ndarray, shape (n_pairs,)
        The same of each place where the construction was used; frequency NaN where unknown: such
        a place is no evidence on a map.
    seen, expected : ndarray, shape (n_pairs,)
        Failures there, and what the model expects.
    knowledge : ndarray, shape (n_pairs,)
        Share of the place's velocity that is known: an unmeasured place counts little.
    place : ndarray of int, shape (n_pairs,)

    Returns
    -------
    Support
    """
    known = np.isfinite(pair[1])
    far = sum(((at[:, None] - of[known]) / REACH) ** 2 for at, of in zip(cell, pair, strict=True))
    kernel = np.exp(-0.5 * np.asarray(far)) * knowledge[known]
    failures = np.maximum(kernel @ seen[known], kernel @ expected[known])
    near = np.asarray(far) <= 1.0
    n_places = np.array([np.unique(place[known][row]).size for row in near], np.int64)
    return Support(np.asarray(failures, np.float64), n_places)


def misfit_p_value(
    group: Ints, seen: Floats, expected: Floats, rng: np.random.Generator
) -> float:
    """Return how often chance alone spreads failures over velocities as oddly as seen.

    Parameters
    ----------
    group : ndarray of int, shape (n_pairs,)
        Band of velocity of each place.
    seen : ndarray, shape (n_pairs,)
    expected : ndarray, shape (n_draws, n_pairs)
        In joint draws.
    rng : Generator

    Returns
    -------
    float

    Notes
    -----
    Posterior predictive: in each draw new Poisson counts by band against the counts seen, by the
    sum of squared distances over the expected (Gelman, Meng & Stern 1996). The expectation has
    seen the failures, so the test errs on the quiet side.
    """
    bands = np.eye(int(group.max(initial=0)) + 1)[group]
    mean = np.maximum(expected @ bands, 1e-9)
    new = rng.poisson(mean)
    own = (((seen @ bands) - mean) ** 2 / mean).sum(axis=1)
    chance = ((new - mean) ** 2 / mean).sum(axis=1)
    return float((chance >= own).mean())
