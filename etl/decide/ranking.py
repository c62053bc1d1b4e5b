"""Order service points by what they are expected to cost, draw by draw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Draws = NDArray[np.float32]

WORST = 10
"""Length of the list a planner can act on in a month."""


@dataclass(frozen=True)
class Ranking:
    """Service points in order of expected cost.

    Attributes
    ----------
    rank : ndarray of int, shape (n_places,)
        1 = the dearest.
    cost, lower, upper : ndarray, shape (n_places,), reporting currency
        Mean over draws of the expected cost and its bounds; NaN where the cost is unknown.
    worst_ten_probability : ndarray, shape (n_places,)
        Share of draws in which the place is among the ten dearest.
    is_tied_with_first : ndarray of bool, shape (n_places,)
        True where at least one draw in twenty puts the place first.
    """

    rank: NDArray[np.int64]
    cost: Floats
    lower: Floats
    upper: Floats
    worst_ten_probability: Floats
    is_tied_with_first: NDArray[np.bool_]


def rank_places(failures: Draws, unit_cost: Floats, *, confidence: float = 0.90) -> Ranking:
    """Rank service points by the expected cost of their failures.

    Parameters
    ----------
    failures : ndarray, shape (n_places, n_draws)
        Expected failures in the window, one column a draw of the parameters.
    unit_cost : ndarray, shape (n_places,), reporting currency
        Cost of one failure; NaN where unknown.
    confidence : float
        Content of the bounds.

    Returns
    -------
    Ranking

    Notes
    -----
    Places are ranked in every draw, because places share parameters: ranking independent
    estimates would promise more than the data hold. A place of unknown cost takes the mean cost
    of the others for its rank only; its own cost stays unknown. Equal expected costs keep the
    order of the input, which the caller sorts by name.
    """
    n_places, n_draws = failures.shape
    known = np.isfinite(unit_cost)
    stand_in = float(unit_cost[known].mean()) if known.any() else 1.0
    price = np.where(known, unit_cost, stand_in).astype(np.float32)
    costs = failures * price[:, None]
    mean = costs.mean(axis=1, dtype=np.float64)
    order = np.argsort(-mean, kind="stable")
    rank = np.empty(n_places, np.int64)
    rank[order] = np.arange(1, n_places + 1)
    tail = (1.0 - confidence) / 2.0
    lower, upper = (
        np.quantile(costs, [tail, 1.0 - tail], axis=1) if n_places else np.zeros((2, 0))
    )
    worst, first = _share_on_top(costs, n_draws)
    unknown = np.where(known, 0.0, np.nan)
    return Ranking(rank, mean + unknown, lower + unknown, upper + unknown, worst, first >= 0.05)


def _share_on_top(costs: Draws, n_draws: int) -> tuple[Floats, Floats]:
    """Return the share of draws with each place among the ten dearest, and with it first."""
    n_places = costs.shape[0]
    if n_places == 0:
        return np.zeros(0), np.zeros(0)
    cut = min(WORST, n_places)
    top = np.argpartition(-costs, cut - 1, axis=0)[:cut]
    worst = np.bincount(top.ravel(), minlength=n_places) / n_draws
    first = np.bincount(costs.argmax(axis=0), minlength=n_places) / n_draws
    return worst, first
