"""Random lives of many strata, from known shapes and lives."""

import numpy as np


def make_lives(seed, n_strata, n_lives, late=0.0, interval=0.0, shapes=(0.7, 4.0)):
    """Return stratum, entry, low, high, count and n_strata."""
    rng = np.random.default_rng(seed)
    n = n_strata * n_lives
    stratum = np.repeat(np.arange(n_strata), n_lives)
    shape = np.repeat(rng.uniform(*shapes, n_strata), n_lives)
    life = np.repeat(rng.uniform(100.0, 5000.0, n_strata), n_lives)
    entry = np.where(rng.random(n) < late, life * rng.uniform(0.0, 1.0, n), 0.0)
    age = life * (rng.exponential(size=n) + (entry / life) ** shape) ** (1.0 / shape)
    stop = entry + life * rng.uniform(0.1, 1.5, n)
    failed = age <= stop
    low = np.where(failed, age, stop)
    high = np.where(failed, age, np.inf)
    seen = failed & (rng.random(n) < interval)
    step = 0.2 * life
    opened = np.floor(age / step) * step
    low = np.where(seen, np.maximum(opened, entry), low)
    high = np.where(seen, opened + step, high)
    return stratum, entry, low, high, np.ones(n), n_strata
