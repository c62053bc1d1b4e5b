"""What the stock of a part must cover: its service level, its lead time, its demand until then."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.float64]

SLICE_EDGES = np.array([0.0, 0.15, 0.35, 0.55, 0.75, 0.88, 0.95, 0.98, 0.995, 1.0])
"""Finer towards the late deliveries, because they decide a high service level."""

DAYS_A_MONTH = 365.25 / 12.0

HURTS = frozenset({"toxic", "flammable", "asphyxiant", "cryogenic"})
"""Hazards that set the highest service level: a place waiting for its hose is no option."""


@dataclass(frozen=True)
class ServiceLevel:
    """The stated chance of no shortage, and what set it.

    Attributes
    ----------
    level : float
    reason : str
    least : int
        Stock to keep whatever the demand: 1 where waiting for a hose can hurt someone.
    """

    level: float
    reason: str
    least: int = 0


def service_level(
    hazards: Collection[str],
    downtime_cost_per_hour: float,
    *,
    ordinary: float,
    costly: float,
    hazardous: float,
    costly_from: float,
) -> ServiceLevel:
    """Choose the service level of a part from the places that use it.

    Parameters
    ----------
    hazards : collection of str
        Hazards of all places that use the part.
    downtime_cost_per_hour : float
        The dearest hour of downtime among those places, reporting currency; NaN when unknown.
    ordinary, costly, hazardous : float
        Levels, 0..1.
    costly_from : float
        Cost of an hour from which on `costly` holds.

    Returns
    -------
    ServiceLevel
    """
    danger = sorted(HURTS.intersection(hazards))
    if danger:
        return ServiceLevel(hazardous, f"{', '.join(danger)} service", least=1)
    if downtime_cost_per_hour >= costly_from:
        return ServiceLevel(costly, "an hour of downtime is costly")
    return ServiceLevel(ordinary, "ordinary service")


def lead_time_slices(mean_days: float, sd_days: float) -> tuple[Floats, Floats]:
    """Cut a gamma-distributed lead time into slices, each standing at its conditional mean.

    Parameters
    ----------
    mean_days, sd_days : float
        Must be >= 0; a spread of 0 gives one slice.

    Returns
    -------
    days, weights : ndarray
        The weighted mean of `days` is exactly `mean_days`.

    Notes
    -----
    Mean of a slice = mean x (G(b; k + 1) - G(a; k + 1)) / (G(b; k) - G(a; k)), G the regularised
    incomplete gamma function and k the gamma shape (partial expectation of the gamma law).

    Examples
    --------
    >>> days, weights = lead_time_slices(60.0, 20.0)
    >>> round(float(days @ weights), 9)
    60.0
    """
    if mean_days <= 0 or sd_days <= 0:
        return np.array([max(mean_days, 0.0)]), np.array([1.0])
    shape = (mean_days / sd_days) ** 2
    edges = special.gammaincinv(shape, SLICE_EDGES)
    weights = np.diff(SLICE_EDGES)
    return mean_days * np.diff(special.gammainc(shape + 1.0, edges)) / weights, weights


def lead_time_quantile(mean_days: float, sd_days: float, probability: float) -> float:
    """Return the wait that a gamma-distributed lead time stays at or below so often.

    Examples
    --------
    >>> round(lead_time_quantile(60.0, 21.0, 0.95), 1), lead_time_quantile(60.0, 0.0, 0.95)
    (98.2, 60.0)
    """
    if mean_days <= 0 or sd_days <= 0:
        return max(mean_days, 0.0)
    shape = (mean_days / sd_days) ** 2
    return float(special.gammaincinv(shape, probability)) * mean_days / shape


def demand_at(cumulative: Floats, days: Floats, like_month: int = -1) -> Floats:
    """Read a cumulative monthly table at any number of days.

    Parameters
    ----------
    cumulative : ndarray, shape (n_draws, n_months)
        Mean or variance of demand within 1, 2, ... months.
    days : ndarray, shape (n_days,)
    like_month : int
        Month of the table, counted from 0, at whose rate it goes on beyond its end.

    Returns
    -------
    ndarray, shape (n_draws, n_days)
        Linear within a month.
    """
    table = np.concatenate([np.zeros((cumulative.shape[0], 1)), cumulative], axis=1)
    n_months = cumulative.shape[1]
    at = days / DAYS_A_MONTH
    low = np.minimum(np.floor(at).astype(np.int64), n_months - 1)
    step = table[:, low + 1] - table[:, low]
    rate = np.diff(table)[:, like_month, None]
    inside = table[:, low] + step * (np.minimum(at, n_months) - low)
    return np.asarray(inside + rate * np.maximum(at - n_months, 0.0))
