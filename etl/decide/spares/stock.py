"""How many of a part to hold and to order, and whether an order can still come in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from etl.decide.spares.law import DemandLaw, demand_law, mixture
from etl.decide.spares.need import DAYS_A_MONTH, demand_at

Floats = NDArray[np.float64]

NONE = np.zeros(0)
"""No planned change ahead."""
WASTE_CHANCE = 0.10
"""Chance that a spare outlives its shelf life from which on it is not laid in (our choice)."""


@dataclass(frozen=True)
class StockAdvice:
    """The stock that meets a service level, and what it gives.

    Attributes
    ----------
    stock_level : int
    reorder_point : int
        Order when on hand plus on order has fallen to this.
    level_met : float
        Chance of no shortage with that stock.
    share_served : float
        Share of demands met at once.
    """

    stock_level: int
    reorder_point: int
    level_met: float
    share_served: float


def demand_over(
    mean: Floats, variance: Floats, days: Floats, day_weights: Floats | None = None,
    certain: Floats = NONE,
) -> DemandLaw:
    """Return the law of demand over a span, itself uncertain or not.

    Parameters
    ----------
    mean, variance : ndarray, shape (n_draws, n_months)
        Cumulative demand of the part, one row a draw.
    days : ndarray, shape (n_slices,)
    day_weights : ndarray, shape (n_slices,), optional
        Adding up to 1; equal when left out.
    certain : ndarray, shape (n_planned,), days
        Days by which one hose each is used for certain; they are in ``mean`` as well.

    Returns
    -------
    DemandLaw
        Quantiles of this mixture are never added up from its parts.

    Notes
    -----
    What is certain is a whole number on each day: only the rest scatters as a count of its mean
    and variance. A count that is to hold both has too short an upper end.
    """
    share = np.full(days.size, 1.0 / days.size) if day_weights is None else day_weights
    ends = DAYS_A_MONTH * np.arange(mean.shape[1] + 1)
    sure = np.searchsorted(np.sort(certain), days, side="right")
    due = np.searchsorted(np.sort(certain), ends, side="right")
    # Beyond the table demand goes on as in the last month in which nothing is planned.
    like_month = int(max(np.flatnonzero(np.diff(due) == 0), default=-1))
    rest = np.maximum(demand_at(np.maximum(mean - due[1:], 0.0), days, like_month), 0.0)
    variance_at = np.maximum(demand_at(variance, days, like_month), 0.0)
    weights = np.broadcast_to(share / mean.shape[0], rest.shape)
    laws = []
    for number in np.unique(sure):
        mine = sure == number
        part = float(share[mine].sum())
        laws.append((part, demand_law(rest[:, mine].ravel(), variance_at[:, mine].ravel(),
                                      weights[:, mine].ravel() / part).beside(int(number))))
    return mixture(laws)


def stock_advice(
    law: DemandLaw, level: float, *, least: int = 0, most: int | None = None
) -> StockAdvice:
    """Find the smallest stock that meets a service level.

    Parameters
    ----------
    law : DemandLaw
        Demand over review plus lead time.
    level : float
        Chance of no shortage, 0..1.
    least : int
        Stock that is kept whatever the level says: 1 where a place cannot wait.
    most : int, optional
        Stock beyond which spares would outlive their shelf life; `least` stands above it.

    Returns
    -------
    StockAdvice
    """
    stock = law.level(level)
    if most is not None:
        stock = min(stock, most)
    stock = max(stock, least)
    return StockAdvice(stock, stock - 1, law.at_most(stock), law.share_served(stock))


def shelf_cap(law: DemandLaw) -> int:
    """Return the largest stock that is likely used up within the shelf life.

    Parameters
    ----------
    law : DemandLaw
        Demand over the shelf life.

    Returns
    -------
    int
        Largest n with P(demand < n) at most `WASTE_CHANCE`.
    """
    return int(np.searchsorted(law.cumulative, WASTE_CHANCE, side="right"))


def order_quantity(stock_level: int, position: int, minimum_order: int) -> int:
    """Return how many to order now.

    Parameters
    ----------
    stock_level : int
        From `stock_advice`.
    position : int
        On hand plus on order.
    minimum_order : int

    Returns
    -------
    int
        0 when the position meets the level.

    Examples
    --------
    >>> order_quantity(5, 3, 4), order_quantity(5, 5, 4)
    (4, 0)
    """
    short = stock_level - position
    return max(short, minimum_order) if short > 0 else 0


def shortage_before_delivery(
    mean: Floats, variance: Floats, on_hand: int, receipts: Sequence[tuple[float, int]],
    lead_days: Floats, lead_weights: Floats, certain: Floats = NONE,
) -> float:
    """Return the chance of running out before an order placed now can arrive.

    Parameters
    ----------
    mean, variance : ndarray, shape (n_draws, n_months)
    on_hand : int
    receipts : sequence of (days from now, number)
        What is on order already.
    lead_days, lead_weights : ndarray, shape (n_slices,)
        Of an order placed now.
    certain : ndarray, days
        As of `demand_over`.

    Returns
    -------
    float
        The worst of the chances just before each delivery and over the lead time; a lower bound
        of the chance of running out at any time, close to it where one of them rules.
    """
    lead = float(lead_days @ lead_weights)
    there = on_hand
    worst = 0.0
    for day, number in sorted(receipts):
        if day >= lead:
            break
        if day > 0:
            law = demand_over(mean, variance, np.array([day]), certain=certain)
            worst = max(worst, 1.0 - law.at_most(there))
        there += number
    law = demand_over(mean, variance, lead_days, lead_weights, certain)
    return max(worst, 1.0 - law.at_most(there))


def days_covered(
    mean: Floats, variance: Floats, on_hand: int, receipts: Sequence[tuple[float, int]],
    level: float, certain: Floats = NONE,
) -> float:
    """Return for how many days the stock keeps the service level without another order.

    Parameters
    ----------
    mean, variance : ndarray, shape (n_draws, n_months)
    on_hand : int
    receipts : sequence of (days from now, number)
        What is on order already.
    level : float
        Chance of no shortage, 0..1.
    certain : ndarray, days
        As of `demand_over`.

    Returns
    -------
    float
        The first day from which on demand since now is covered less surely than `level`;
        infinite where that does not happen within the months of the table.

    Notes
    -----
    Between two deliveries the chance only falls, so its crossing is bisected there to a day.
    """
    end = mean.shape[1] * DAYS_A_MONTH

    def chance(day: float, there: int) -> float:
        return demand_over(mean, variance, np.array([day]), certain=certain).at_most(there)

    begin, there = 0.0, on_hand
    for day, number in [*sorted(receipts), (end, 0)]:
        until = min(max(day, begin), end)
        if until > begin and chance(until, there) < level:
            low, high = begin, until
            while high - low > 1.0:
                middle = (low + high) / 2.0
                low, high = (middle, high) if chance(middle, there) >= level else (low, middle)
            return low
        begin, there = until, there + number
    return np.inf


def level_with_stand_in(
    own: DemandLaw, level: float, stand_in: DemandLaw, stand_in_stock: int
) -> int:
    """Return the stock that meets a level when what another part can spare counts too.

    Parameters
    ----------
    own, stand_in : DemandLaw
        Demands taken as independent; the other part serves its own places first.
    level : float
    stand_in_stock : int

    Returns
    -------
    int
        Smallest s with P(own demand <= s + (stand_in_stock - its demand)+) at least `level`.
    """
    mass = np.diff(stand_in.cumulative[: stand_in_stock + 1], prepend=0.0)
    spare = stand_in_stock - np.arange(mass.size)
    none_left = 1.0 - float(mass.sum())
    for stock in range(own.level(level) + 1):
        met = none_left * own.at_most(stock) + sum(
            float(m) * own.at_most(stock + int(s)) for m, s in zip(mass, spare, strict=True))
        if met >= level - 1e-12:
            return stock
    return own.level(level)


def budget_quantiles(
    mean: Floats, variance: Floats, probabilities: Sequence[float]
) -> list[float]:
    """Return amounts that the money spent stays at or below so often.

    Parameters
    ----------
    mean, variance : ndarray, shape (n_draws,)
        Of the money of all parts together, in each draw.
    probabilities : sequence of float

    Returns
    -------
    list of float
        Quantiles of the mixture over draws of normal amounts, at least 0.
    """
    sd = np.sqrt(np.maximum(variance, 1e-12))
    low, high = float((mean - 9.0 * sd).min()), float((mean + 9.0 * sd).max())

    def gap(amount: float, wanted: float) -> float:
        return float(special.ndtr((amount - mean) / sd).mean()) - wanted

    return [max(0.0, float(optimize.brentq(gap, low, high, args=(p,)))) for p in probabilities]
