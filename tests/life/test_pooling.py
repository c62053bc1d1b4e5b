"""Partial pooling: honest where data are few, out of the way where they are many."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.life.competing import (
    AT_CHARACTERISTIC_LIFE,
    all_cause_b_life,
    cumulative_incidence,
)
from etl.life.curves import exposure_curves
from etl.life.fit import fit_strata
from etl.life.pooling.data import PoolingData
from etl.life.pooling.pool import pool_strata

TENTH = np.log(-np.log(0.9))


def world(seed, n_classes=6, n_constructions=5, n_mechanisms=3, n_lives=(4, 120), masked=0.0,
          between=0.0):
    """Simulate a fleet whose strata differ by class, construction and mechanism."""
    rng = np.random.default_rng(seed)
    n_cells = n_classes * n_constructions
    size = rng.integers(*n_lives, n_cells)
    kind = np.repeat(np.arange(n_classes), n_constructions)
    hose = np.tile(np.arange(n_constructions), n_classes)
    def effect(n, spread):
        return rng.normal(0, spread, n)
    u = (np.log(2) + effect(n_mechanisms, 0.25) + effect(n_classes, 0.1)[kind][:, None]
         + rng.normal(0, 0.15, (n_cells, n_mechanisms)))
    m = (np.log(2000) + effect(n_mechanisms, 0.5) + effect(n_classes, 0.35)[kind][:, None]
         + effect(n_constructions, 0.3)[hose][:, None] + rng.normal(0, 0.25, u.shape))
    cell = np.repeat(np.arange(n_cells), size)
    lives = np.exp(m[cell]) * rng.weibull(1.0, (cell.size, n_mechanisms)) ** (1 / np.exp(u[cell]))
    age, cause, end = lives.min(1), lives.argmin(1), rng.uniform(200, 3000, cell.size)
    failed, age = age <= end, np.minimum(age, end)
    spanned = failed & (rng.random(cell.size) < between)
    hidden = failed & (rng.random(cell.size) < masked)
    low = np.where(spanned, np.floor(age / 150) * 150, age)
    high = np.where(spanned, low + 150, age)
    curves = exposure_curves(cell, (low + high) / 2, np.zeros(cell.size), 1.0 + 0 * age, n_cells)
    stratum_cell = np.repeat(np.arange(n_cells), n_mechanisms)
    stratum = cell * n_mechanisms + cause
    exact = failed & ~spanned & ~hidden
    k = stratum_cell.size
    data = PoolingData(
        curves, stratum_cell,
        (kind[stratum_cell], hose[stratum_cell], np.tile(np.arange(n_mechanisms), n_cells)),
        np.bincount(stratum[exact], minlength=k).astype(float),
        np.bincount(stratum[exact], weights=np.log(age[exact]), minlength=k),
        cell[failed & ~spanned & hidden], age[failed & ~spanned & hidden], cell[spanned],
        np.where(hidden, -1, stratum)[spanned], low[spanned], high[spanned],
    )
    return data, u.ravel(), m.ravel()


@pytest.mark.parametrize(("masked", "between"), [(0.0, 0.0), (0.3, 0.0), (0.2, 0.3)])
def test_ranges_cover_the_truth_at_about_their_stated_share(masked, between):
    inside = []
    for seed in range(3):
        data, u, m = world(seed, masked=masked, between=between)
        draws = pool_strata(data, n_draws=120, seed=seed)
        b10 = draws.log_life + TENTH / np.exp(draws.log_shape)
        low, high = np.quantile(b10, [0.05, 0.95], axis=0)
        truth = m + TENTH / np.exp(u)
        inside.append((low <= truth) & (truth <= high))
    assert np.mean(inside) == pytest.approx(0.90, abs=0.06)  # 270 correlated strata


def test_same_data_and_seed_give_the_same_draws_to_the_bit():
    data, _, _ = world(1, n_classes=3, n_constructions=2)
    one, other = (pool_strata(data, n_draws=20, seed=4) for _ in range(2))
    assert np.array_equal(one.log_life, other.log_life)
    assert not np.array_equal(one.log_life, pool_strata(data, n_draws=20, seed=5).log_life)


def test_many_failures_are_left_alone():
    rng = np.random.default_rng(2)
    age = 700.0 * rng.weibull(2.5, 6000)
    cell = np.zeros(6000, int)
    data = PoolingData(
        exposure_curves(cell, age, 0 * age, 1 + 0 * age, 1), np.array([0]),
        (np.array([0]), np.array([0]), np.array([0])), np.array([6000.0]),
        np.array([np.log(age).sum()]), *(np.zeros(0, int), np.zeros(0)),
        *(np.zeros(0, int), np.zeros(0, int), np.zeros(0), np.zeros(0)),
    )
    draws = pool_strata(data, n_draws=200, seed=1)
    fit = fit_strata(cell, 0.0, age, age, 1.0, 1)
    assert_allclose(np.median(np.exp(draws.log_shape)), fit.shape[0], rtol=0.01)
    assert_allclose(np.median(np.exp(draws.log_life)), fit.characteristic_life[0], rtol=0.01)
    assert draws.own_data_share[0] > 0.95


def test_no_failure_at_all_gives_a_wide_answer_beyond_the_time_watched():
    n = 200
    cell = np.repeat([0, 1], n // 2)
    age = np.full(n, 500.0)
    data = PoolingData(
        exposure_curves(cell, age, 0 * age, 1 + 0 * age, 2), np.array([0, 1]),
        (np.array([0, 1]), np.array([0, 0]), np.array([0, 0])), np.zeros(2), np.zeros(2),
        *(np.zeros(0, int), np.zeros(0)),
        *(np.zeros(0, int), np.zeros(0, int), np.zeros(0), np.zeros(0)),
    )
    draws = pool_strata(data, n_draws=200, seed=1)
    low, high = np.quantile(draws.log_life[:, 0], [0.05, 0.95])
    assert np.exp(low) > 500.0
    assert high - low > 1.0


def test_no_strata_is_no_error():
    none, ints = np.zeros(0), np.zeros(0, int)
    data = PoolingData(exposure_curves(ints, none, none, none, 0), ints, (ints, ints, ints), none,
                       none, ints, none, ints, ints, none, none)
    assert pool_strata(data, n_draws=5, seed=1).log_shape.shape == (5, 0)


def test_cumulative_incidences_and_survival_add_up_to_one():
    u, m = np.log([[1.3, 2.5, 0.8]]), np.log([[900.0, 1200.0, 5000.0]])
    age = np.array([0.0, 50.0, 400.0, 1500.0, 4000.0])
    chance = cumulative_incidence(u, m, age).sum(axis=-1)[0]
    hazard = ((age / np.exp(m).T) ** np.exp(u).T).sum(axis=0)
    assert_allclose(chance + np.exp(-hazard), 1.0, atol=1e-6)


@pytest.mark.parametrize("fraction", [0.01, 0.10, AT_CHARACTERISTIC_LIFE])
def test_all_cause_life_is_where_the_summed_hazard_says(fraction):
    rng = np.random.default_rng(3)
    u, m = rng.normal(0.7, 0.3, (20, 6)), rng.normal(7.0, 0.5, (20, 6))
    cell = np.array([0, 0, 0, 1, 1, 2])
    found = all_cause_b_life(u, m, cell, 3, fraction)
    for draw in range(20):
        each = (found[draw, cell] / np.exp(m[draw])) ** np.exp(u[draw])
        assert_allclose(np.bincount(cell, each), -np.log1p(-fraction), rtol=1e-9)
