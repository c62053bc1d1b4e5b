"""Invented fleets whose failures come on record late, and forecasts from what is on record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from etl.build.late_records import MOST_MONTHS, late_forecasts, watched_lives
from etl.build.lives import Lives
from etl.build.strata import Strata
from etl.build.track.laws import Present
from etl.life.fit import fit_strata
from etl.life.pooling.pool import PooledDraws
from etl.life.renewal import DAYS_A_MONTH
from etl.life.reporting_delay import recorded_share

SHAPE, LIFE = 2.0, 45.0 * DAYS_A_MONTH
NOW = 100
"""Months from the first hoses to the month end of the forecast."""
SPANS = np.array([1, 3, 6, 12])
ONE = np.ones(1)


@dataclass(frozen=True)
class World:
    """What is on record at a month end, and what is true.

    Attributes
    ----------
    lives : Lives
    present : Present
    delay, watched : ndarray of int
        Of the failures of the last 24 months on record.
    came : ndarray, shape (4,)
        Failures within 1, 3, 6 and 12 months.
    n_missing : int
        Places whose hose on record has failed.
    """

    lives: Lives
    present: Present
    delay: np.ndarray
    watched: np.ndarray
    came: np.ndarray
    n_missing: int


def world(seed: int, n: int, mean_months: float = 2.0, *, is_leaky: bool = False) -> World:
    """Simulate a fleet; delays are gamma of shape 0.7 (their form is our choice).

    A leaky record holds every failure that had happened, whenever it came on record.
    """
    rng = np.random.default_rng(seed)
    start = rng.uniform(0.0, 12.0, n)
    life = rng.weibull(SHAPE, (n, 60)) * LIFE / DAYS_A_MONTH
    failed = start[:, None] + np.cumsum(life, axis=1)
    late = rng.gamma(0.7, mean_months / 0.7, failed.shape) if mean_months else 0.0 * failed
    month, seen = np.floor(failed).astype(int), np.floor(failed + late).astype(int)
    is_known = (failed < NOW) & ((seen < NOW) | is_leaky)
    # A hose whose failure is not on record hides its successors.
    chain = np.cumprod(is_known, axis=1).astype(bool)
    n_known = chain.sum(axis=1)
    begin = np.where(n_known > 0, failed[np.arange(n), np.maximum(n_known, 1) - 1], start)
    age = (NOW - begin) * DAYS_A_MONTH
    place = np.r_[np.repeat(np.arange(n), n_known), np.arange(n)]
    low = np.r_[life[chain] * DAYS_A_MONTH, age]
    is_open = np.arange(low.size) >= chain.sum()
    lives = Lives(
        cell=np.zeros(low.size, int), entry=np.zeros(low.size), low=low,
        high=np.where(is_open, np.inf, low), mechanism=np.where(is_open, -1, 0), place=place,
        count=np.ones(low.size), cell_class=np.zeros(1, int), cell_construction=np.zeros(1, int),
        classes=("class",), constructions=("kind",), mechanisms=("any",),
        places=tuple(f"P{at}" for at in range(n)))
    recent = is_known & (month >= NOW - 24)
    return World(
        lives, Present(np.zeros(n, int), age), (seen - month)[recent], NOW - 1 - month[recent],
        np.array([((failed >= NOW) & (failed < NOW + span)).sum() for span in SPANS]),
        int(((failed < NOW).sum(axis=1) > n_known).sum()))


def forecasts(made: World, *, is_corrected: bool) -> tuple[np.ndarray, float]:
    """Return failures forecast within the spans, and hoses on record thought to have failed."""
    share = recorded_share(made.delay, made.watched, most=MOST_MONTHS) if is_corrected else ONE
    lives = watched_lives(made.lives, made.present, share)
    fit = fit_strata(lives.cell, lives.entry, lives.low, lives.high, lives.count, 1)
    draws = PooledDraws(
        np.log(fit.shape, dtype=np.float32)[None], np.log(
            fit.characteristic_life, dtype=np.float32)[None], ONE, ONE, np.eye(2))
    strata = Strata(np.zeros(1, int), np.zeros(1, int), ("any",))
    rate = np.ones((made.present.age.size, 1), np.float32)
    total, missing = np.zeros(4), 0.0
    for block, late in late_forecasts(draws, strata, made.present, rate, [None], share):
        total += block.expected[:, 0, SPANS - 1].sum(axis=0, dtype=float)
        missing += float(late.sum())
    return total, missing


def biases(
    seeds: range, n: int, *, is_corrected: bool, mean_months: float = 2.0, is_leaky: bool = False
) -> np.ndarray:
    """Return forecast over outcome, less one, within the spans; all worlds together."""
    told, came = np.zeros(4), np.zeros(4)
    for seed in seeds:
        made = world(seed, n, mean_months, is_leaky=is_leaky)
        told += forecasts(made, is_corrected=is_corrected)[0]
        came += made.came
    return told / came - 1.0
