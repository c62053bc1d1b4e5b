"""Invented fleets whose failures come on record late, and forecasts from what is on record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from etl.build.forecast import late_frame
from etl.build.late_records import MOST_MONTHS, late_forecasts, watched_lives
from etl.build.lives import Lives
from etl.build.removals import Removal
from etl.build.strata import Strata
from etl.build.track.laws import Present
from etl.life.fit import fit_strata
from etl.life.pooling.pool import PooledDraws
from etl.life.renewal import DAYS_A_MONTH
from etl.life.reporting_delay import recorded_share, watched_rows

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
    is_open, is_removed : ndarray of bool
        Of the lives: still running on record; taken out unfailed.
    """

    lives: Lives
    present: Present
    delay: np.ndarray
    watched: np.ndarray
    came: np.ndarray
    n_missing: int
    is_open: np.ndarray
    is_removed: np.ndarray


def world(
    seed: int, n: int, mean_months: float = 2.0, *, is_leaky: bool = False,
    habit_months: float = np.inf,
) -> World:
    """Simulate a fleet; delays are gamma of shape 0.7 (their form is our choice).

    A leaky record holds every failure that had happened, whenever it came on record. With a habit,
    hoses are taken out unfailed too, after so many months with shape 2, and on record as late.
    """
    rng = np.random.default_rng(seed)
    start = rng.uniform(0.0, 12.0, n)
    life = rng.weibull(SHAPE, (n, 60)) * LIFE / DAYS_A_MONTH
    failing = np.ones(life.shape, bool)
    if np.isfinite(habit_months):
        out = habit_months * rng.weibull(2.0, life.shape)
        failing, life = life <= out, np.minimum(life, out)
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
    is_failed = np.r_[failing[chain], np.zeros(n, bool)]
    lives = Lives(
        cell=np.zeros(low.size, int), entry=np.zeros(low.size), low=low,
        high=np.where(is_failed, low, np.inf), mechanism=np.where(is_failed, 0, -1), place=place,
        count=np.ones(low.size), cell_class=np.zeros(1, int), cell_construction=np.zeros(1, int),
        classes=("class",), constructions=("kind",), mechanisms=("any",),
        places=tuple(f"P{at}" for at in range(n)))
    recent = is_known & (month >= NOW - 24)
    return World(
        lives, Present(np.zeros(n, int), age), (seen - month)[recent], NOW - 1 - month[recent],
        np.array([((failed >= NOW) & (failed < NOW + span) & failing).sum() for span in SPANS]),
        int(((failed < NOW) & failing)[np.arange(n), n_known].sum()),
        is_open, ~is_open & ~is_failed)


def share_of(made: World) -> np.ndarray:
    """Return the share of failures on record by month, as far as the record tells."""
    return recorded_share(made.delay, made.watched, most=MOST_MONTHS)


def habit_of(made: World, share: np.ndarray) -> Removal:
    """Estimate the habit of taking hoses out, as `etl.build.removals` does."""
    if not made.is_removed.any():
        return None
    lives = made.lives
    row, low, count = watched_rows(lives.entry, lives.low, lives.count, made.is_open, share)
    high = np.where(made.is_removed[row], low, np.inf)
    fit = fit_strata(np.zeros(row.size, int), lives.entry[row], low, high, count, 1)
    return float(fit.shape[0]), float(np.log(fit.characteristic_life[0]))


def forecasts(
    made: World, *, is_corrected: bool, share: np.ndarray | None = None
) -> tuple[np.ndarray, float]:
    """Return failures forecast within the spans, and hoses on record thought to have failed.

    A share that is given stands in for what the record tells.
    """
    if share is None:
        share = share_of(made) if is_corrected else ONE
    lives = watched_lives(made.lives, made.present, share)
    fit = fit_strata(lives.cell, lives.entry, lives.low, lives.high, lives.count, 1)
    draws = PooledDraws(
        np.log(fit.shape, dtype=np.float32)[None], np.log(
            fit.characteristic_life, dtype=np.float32)[None], ONE, ONE, np.eye(2))
    strata = Strata(np.zeros(1, int), np.zeros(1, int), ("any",))
    rate = np.ones((made.present.age.size, 1), np.float32)
    total, missing = np.zeros(4), 0.0
    for block, late in late_forecasts(
            draws, strata, made.present, rate, [habit_of(made, share)], share):
        total += block.expected[:, 0, SPANS - 1].sum(axis=0, dtype=float)
        missing += float(late.sum())
    return total, missing


def is_told(seed: int, n: int) -> bool:
    """Whether the 90 % range of hoses that failed without being on record holds their number."""
    made = world(seed, n)
    told = forecasts(made, is_corrected=True)[1]
    chance = told / n  # of one hose: the count scatters less than a Poisson count
    row = late_frame(np.array([told]), np.array([told * (1.0 - chance)]), ONE, 0.90).iloc[0]
    return bool(row["late_failures_lower"] <= made.n_missing <= row["late_failures_upper"])


def biases(
    seeds: range, n: int, *, is_corrected: bool, mean_months: float = 2.0, is_leaky: bool = False,
    habit_months: float = np.inf, share: np.ndarray | None = None,
) -> np.ndarray:
    """Return forecast over outcome, less one, within the spans; all worlds together."""
    told, came = np.zeros(4), np.zeros(4)
    for seed in seeds:
        made = world(seed, n, mean_months, is_leaky=is_leaky, habit_months=habit_months)
        told += forecasts(made, is_corrected=is_corrected, share=share)[0]
        came += made.came
    return told / came - 1.0
