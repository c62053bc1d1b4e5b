"""Invented fleets in which a quarter of all removals bear no reason, and forecasts for them."""

from __future__ import annotations

import numpy as np

from etl.decide.unknown_reasons import failed_share, failures_factor
from etl.life.cell_law import CellLaw
from etl.life.fit import fit_strata
from etl.life.renewal import DAYS_A_MONTH, forecast_places

FAILS, LEAVES = (2.2, 1400.0), (1.3, 2200.0)
"""Shape and characteristic life, days, of failing and of being taken out unfailed."""
NOW, YEAR = 3650.0, 12 * DAYS_A_MONTH
MISSING = 0.25


def forecast_and_truth(seed: int, n: int = 3000) -> tuple[float, float, float]:
    """Return the year's failures forecast as recorded, the same times the factor, and the truth."""
    rng = np.random.default_rng(seed)
    begin = rng.uniform(0.0, 365.0, n)
    age, is_failed, present = [], [], np.zeros(n)
    came = 0
    while (begin < NOW + YEAR).any():
        fails, leaves = (b[1] * rng.weibull(b[0], n) for b in (FAILS, LEAVES))
        first, failed = np.minimum(fails, leaves), fails < leaves
        end = begin + first
        inside = end < NOW
        age.append(first[inside])
        is_failed.append(failed[inside])
        running = (begin < NOW) & ~inside
        present[running] = NOW - begin[running]
        came += int((failed & (end >= NOW) & (end < NOW + YEAR)).sum())
        begin = end
    ages, failed = np.concatenate(age), np.concatenate(is_failed)
    known = rng.random(ages.size) >= MISSING
    fit = [_fit(np.r_[ages, present], np.r_[is_end, np.zeros(n, bool)])
           for is_end in (known & failed, ~(known & failed))]
    law = CellLaw(np.full((1, 1), fit[0][0], np.float32),
                  np.full((1, 1), np.log(fit[0][1]), np.float32),
                  removal=(fit[1][0], float(np.log(fit[1][1]))))
    told = sum(float(block.expected[:, 0, -1].sum()) for block in forecast_places(
        law, np.arange(n), present, np.ones((n, 1), np.float32)))
    missing = ages[~known]
    n_failed, n_unfailed = float((known & failed).sum()), float((known & ~failed).sum())
    one = np.ones(missing.size)
    stated = n_unfailed / (n_unfailed + missing.size)
    share = failed_share(_hazard(fit[0], missing), stated * _hazard(fit[1], missing), one,
                         n_failed, n_unfailed)
    return told, told * failures_factor(share, one, n_failed), float(came)


def _fit(age: np.ndarray, is_end: np.ndarray) -> tuple[float, float]:
    found = fit_strata(np.zeros(age.size, int), np.zeros(age.size), age,
                       np.where(is_end, age, np.inf), np.ones(age.size), 1)
    return float(found.shape[0]), float(found.characteristic_life[0])


def _hazard(law: tuple[float, float], age: np.ndarray) -> np.ndarray:
    return law[0] / law[1] * (age / law[1]) ** (law[0] - 1.0)


def biases(seeds: range, n: int = 3000) -> tuple[float, float]:
    """Return forecast over truth, less one: unknown as suspensions, and shared out."""
    alone, shared, came = np.array([forecast_and_truth(seed, n) for seed in seeds]).sum(axis=0)
    return alone / came - 1.0, shared / came - 1.0
