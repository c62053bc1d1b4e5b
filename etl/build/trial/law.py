"""The law that a trial is measured by: lives of its class as known before it began."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from etl.build.lives import sums
from etl.decide.trial.simulate import FixedLaw
from etl.life.fit import fit_strata
from etl.life.frailty import place_rates
from etl.settings import Settings

Floats = NDArray[np.float64]

IF_NOTHING_FAILED = 0.5
"""Failures credited to a class without one, so that a constant rate can stand for its law."""


@dataclass(frozen=True)
class KnownBefore:
    """What was known before the start.

    Attributes
    ----------
    law : FixedLaw
        Of all constructions of the class together, so that it cannot depend on the coins.
    rate : dict
        Service point to the multiplier of its hazard; places without lives have 1.
    """

    law: FixedLaw
    rate: dict[str, float]


def known_before(stays: pd.DataFrame, start: dt.date, settings: Settings) -> KnownBefore:
    """Fit the lives of a class as they stood on a day.

    Parameters
    ----------
    stays : DataFrame
        Of one class, as from `etl.build.trial.register.stays_of`.
    start : date
        Hoses fitted on it or later count for nothing; those running then are suspended then.
    settings : Settings

    Returns
    -------
    KnownBefore
    """
    day = pd.Timestamp(start)
    mine = stays[stays["is_fitted"] & (stays["installed_on"] < day)]
    is_over = (mine["removed_on"] <= day).to_numpy(np.bool_)
    entry, low = (mine[name].to_numpy(np.float64) for name in ("entry", "low"))
    high = mine["high"].fillna(np.inf).to_numpy(np.float64)
    at_start = mine["carried"].to_numpy(np.float64) + (
        (day - mine["installed_on"]).dt.days.to_numpy(np.float64))
    low, high = np.where(is_over, low, at_start), np.where(is_over, high, np.inf)
    kept = low > entry
    entry, low, high = entry[kept], low[kept], high[kept]
    law = _law(entry, low, high)
    is_failure = np.isfinite(high)
    end = np.where(is_failure, (low + np.where(is_failure, high, 0.0)) / 2.0, low)
    passed = (end / law.life_days) ** law.shape - (entry / law.life_days) ** law.shape
    places, at = np.unique(mine["service_point"].to_numpy()[kept].astype(str), return_inverse=True)
    seen = sums(at, is_failure.astype(np.float64), places.size)
    expected = sums(at, passed, places.size)
    if places.size < 2:
        return KnownBefore(law, {})
    rates = place_rates(seen, expected, false_share=settings.flag_false_share,
                        confidence=settings.confidence)
    return KnownBefore(law, dict(zip(places.tolist(), rates.rate.tolist(), strict=True)))


def _law(entry: Floats, low: Floats, high: Floats) -> FixedLaw:
    """Fit a Weibull law; a constant rate where there are too few failures for a shape."""
    if low.size:
        fit = fit_strata(np.zeros(low.size, np.int64), entry, low, high, 1.0, 1)
        if np.isfinite(fit.shape[0]) and np.isfinite(fit.characteristic_life[0]):
            return FixedLaw(float(fit.shape[0]), float(fit.characteristic_life[0]))
    days = float((low - entry).sum()) if low.size else 0.0
    failures = max(float(np.isfinite(high).sum()), IF_NOTHING_FAILED)
    return FixedLaw(1.0, max(days, 365.25) / failures)
