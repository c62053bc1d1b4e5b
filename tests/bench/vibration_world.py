"""Invented worlds with known truth: hoses that vibrate, places that differ, readings that err."""

from dataclasses import dataclass

import numpy as np

from etl.life.vibration.data import VibrationData
from etl.life.vibration.resonance import resonance

DAYS = 365.25
PLANNED_DAYS = 6 * DAYS
"""Mean age at which a hose is taken out for other reasons, whatever its state."""


@dataclass(frozen=True)
class World:
    """What is planted; velocities relative to 8 mm/s, lives in days."""

    n_places: int = 1000
    n_constructions: int = 40
    n_groups: int = 4
    years: float = 8.0
    history_years: float = 0.0
    measured: float = 0.5
    error_sd: float = 0.3
    nu: float = 3.0
    k: float = 1.8
    life: float = 5000.0
    shape: float = 1.8
    exponent: float = 2.2
    stiff_on: str = "nobody"
    stiff_slope: float = 0.0
    bend: float = 0.0
    velocity_sd: float = 0.6
    dated: float = 0.0
    """Share of places whose installation dates go back to their first hose."""
    keep_share: float = 0.6
    """Chance that a place takes the same construction again."""


@dataclass(frozen=True)
class Truth:
    a: np.ndarray
    m: np.ndarray
    b: np.ndarray
    y: np.ndarray
    z: np.ndarray
    g: np.ndarray
    world: World

    def log_life(self, c, y, rho):
        return (self.a[c] - self.m[c] * y - self.world.k * resonance(rho)
                - self.world.bend * np.maximum(y - np.log(13 / 8), 0.0))

    def log_b10(self, c, y, rho):
        """Tenth percentile over places, the frequency error of places unknown."""
        # By brute force: Gauss points straddle the peak of a resonance.
        at = np.linspace(-6.0, 6.0, 601)
        weight = np.exp(-0.5 * at**2)
        weight = weight / weight.sum()
        mu = self.log_life(np.asarray(c)[..., None], np.asarray(y)[..., None],
                           np.asarray(rho)[..., None] - 0.15 * at)
        nu, b = self.world.nu, self.b[c][..., None]
        low, high = np.full(np.shape(c), -5.0), np.full(np.shape(c), 25.0)
        for _ in range(60):
            mid = (low + high) / 2
            alive = ((1 + np.exp(b * (mid[..., None] - mu)) / nu) ** -nu * weight).sum(-1)
            low, high = np.where(alive > 0.9, mid, low), np.where(alive > 0.9, high, mid)
        return (low + high) / 2


def make(world: World, seed: int) -> tuple[VibrationData, Truth]:
    """Simulate whole histories of places and cut them at the start and end of the records."""
    rng = np.random.default_rng([seed, 77])
    n, n_c = world.n_places, world.n_constructions
    stiffness = rng.normal(0.0, 0.6, n_c)
    a = np.log(world.life) + 0.4 * rng.normal(size=n_c) + world.stiff_slope * stiffness
    m = world.exponent + 0.5 * rng.normal(size=n_c)
    b = world.shape * np.exp(0.12 * rng.normal(size=n_c))
    group = rng.integers(0, world.n_groups, n)
    y = rng.normal(0.0, 0.4, world.n_groups)[group] + world.velocity_sd * rng.normal(size=n)
    z = rng.gamma(world.nu, 1 / world.nu, n)
    g = rng.normal(0.0, 0.15, n)
    rho = rng.normal(0.0, 0.7, (n, 1)) + 0.3 * rng.normal(size=(1, n_c))
    popular = rng.pareto(1.1, n_c) + 0.05
    choice = np.tile(np.log(popular), (n, 1))
    if world.stiff_on != "nobody":
        driver = y if world.stiff_on == "velocity" else np.log(z)
        driver = driver / driver.std()
        choice = choice + 1.5 * np.outer(driver, stiffness / 0.6)
    share = np.exp(choice - choice.max(axis=1, keepdims=True))
    share /= share.sum(axis=1, keepdims=True)
    truth = Truth(a, m, b, y, z, g, world)
    lives = _lives(world, truth, rho, share, rng)
    is_read = rng.random(n) < world.measured
    times = np.where(is_read, rng.integers(1, 4, n), 0)
    reading_place = np.repeat(np.arange(n), times)
    reading = y[reading_place] + world.error_sd * rng.normal(size=reading_place.size)
    data = VibrationData(
        **lives, count=np.ones(lives["place"].size), group=group, covariates=np.zeros((n, 0)),
        log_frequency_ratio=rho, stiffness=stiffness, reading_place=reading_place,
        reading=reading)
    return data, truth


def _lives(world, truth, rho, share, rng):
    """Run every place from its first hose to the end of the records, one hose after another."""
    n = world.n_places
    start = world.history_years * DAYS * rng.uniform(0.75, 1.0, n)
    end = start + world.years * DAYS
    now, c = np.zeros(n), _pick(share, rng)
    columns = {name: [] for name in ("place", "construction", "entry", "low", "failure", "rival")}
    # Drawn apart, so that the same seed makes the same lives whatever is dated.
    dated = np.random.default_rng(n).random(n) < world.dated
    going = np.arange(n)
    while going.size:
        mu = truth.log_life(c[going], truth.y[going], rho[going, c[going]] - truth.g[going])
        age = np.exp(mu + np.log(rng.exponential(size=going.size) / truth.z[going])
                     / truth.b[c[going]])
        # Not put up to a day: many short lives put up to one would bend every law.
        age = np.maximum(age, 1e-3)
        planned = rng.exponential(PLANNED_DAYS, going.size)
        stop = now[going] + np.minimum(age, planned)
        is_early = stop <= start[going]
        seen = ~is_early | dated[going]
        shown, is_early = going[seen], is_early[seen]
        out = np.minimum(stop[seen], end[shown]) - now[shown]
        columns["place"].append(shown)
        columns["construction"].append(c[shown])
        columns["entry"].append(np.where(
            dated[shown], 0.0, np.maximum(start[shown] - now[shown], 0.0)))
        columns["low"].append(out)
        failed = ((age <= planned)[seen] & (stop[seen] <= end[shown])).astype(float)
        # Before the records a hose is known to have been replaced, not why.
        columns["failure"].append(np.where(is_early, 0.5, failed))
        columns["rival"].append(np.where(is_early, 1.0 / PLANNED_DAYS, 0.0))
        now[going] = stop
        again = rng.random(n) < world.keep_share
        c = np.where(again, c, _pick(share, rng))
        going = going[stop < end[going]]
    found = {name: np.concatenate(parts) for name, parts in columns.items()}
    found["high"] = np.where(found["failure"] > 0, found["low"], np.inf)
    keep = found["low"] > found["entry"]
    return {name: values[keep] for name, values in found.items()}


def _pick(share, rng):
    total = share.cumsum(axis=1)
    return np.minimum((rng.random((share.shape[0], 1)) > total).sum(axis=1), share.shape[1] - 1)


def plain_world(n: int, n_constructions: int, seed: int, *, is_truncated: bool):
    """Return lives at known velocities with a second covariate, for plain regression."""
    rng = np.random.default_rng([seed, 78])
    c = rng.integers(0, n_constructions, n)
    velocity, flow = rng.normal(0.0, 0.6, n), rng.normal(0.0, 0.4, n)
    mu = np.log(900.0) + 0.1 * c - 1.7 * velocity - 0.3 * flow
    entry = np.where(rng.random(n) < 0.33, rng.uniform(50.0, 600.0, n), 0.0) * is_truncated
    passed = (entry / np.exp(mu)) ** 1.6
    age = np.exp(mu) * (passed + rng.exponential(size=n)) ** (1 / 1.6)
    stop = entry + rng.uniform(100.0, 2500.0, n)
    failed = (age <= stop).astype(float)
    end = np.minimum(age, stop)
    data = VibrationData(
        np.arange(n), c, entry, end, np.where(failed > 0, end, np.inf), failed, np.ones(n),
        np.zeros(n, np.int64), flow[:, None], np.full((n, n_constructions), np.nan),
        np.zeros(n_constructions), np.zeros(0, np.int64), np.zeros(0), np.zeros(n))
    return data, velocity, flow
