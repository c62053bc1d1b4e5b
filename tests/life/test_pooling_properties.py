"""Pooling: units and order change nothing, and own data win as they grow."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from etl.life.curves import exposure_curves
from etl.life.fit import fit_strata
from etl.life.pooling.data import PoolingData
from etl.life.pooling.pool import pool_strata

N_CELLS = 12
SHAPE, LIFE = 2.2, 900.0


def fleet(seed, sizes):
    """Return cell, entry, age and failed of lives in cells of the given sizes."""
    rng = np.random.default_rng(seed)
    cell = np.repeat(np.arange(N_CELLS), sizes)
    shape = SHAPE * np.exp(rng.normal(0, 0.15, N_CELLS))[cell]
    life = LIFE * np.exp(rng.normal(0, 0.4, N_CELLS))[cell]
    entry = np.where(rng.random(cell.size) < 0.3, life * rng.random(cell.size) * 0.7, 0.0)
    age = life * ((entry / life) ** shape + rng.exponential(size=cell.size)) ** (1 / shape)
    end = entry + life * rng.uniform(0.2, 1.5, cell.size)
    return cell, entry, np.minimum(age, end), age <= end


def pooled(cell, entry, age, failed, n_draws=40):
    """Return the draws of one mechanism in cells of 4 classes and 3 constructions."""
    numbers = np.arange(N_CELLS)
    ints, floats = np.zeros(0, int), np.zeros(0)
    curves = exposure_curves(cell, age, entry, np.ones(age.size), N_CELLS)
    return pool_strata(PoolingData(
        curves, numbers, (numbers // 3, numbers % 3, np.zeros(N_CELLS, int)),
        np.bincount(cell, failed, N_CELLS), np.bincount(cell, failed * np.log(age), N_CELLS),
        ints, floats, ints, ints, floats, floats), n_draws=n_draws, seed=3)


@pytest.mark.parametrize("factor", [24.0, 1 / 365.25])
def test_unit_of_the_ages_moves_lives_alone(factor):
    cell, entry, age, failed = fleet(1, 25)
    one, two = pooled(cell, entry, age, failed), pooled(cell, entry * factor, age * factor, failed)
    assert_allclose(two.log_shape, one.log_shape, atol=1e-3)
    assert_allclose(two.log_life, one.log_life + np.log(factor), atol=1e-3)
    assert_allclose(two.own_data_share, one.own_data_share, atol=1e-4)


def test_order_of_lives_does_not_matter():
    lives = fleet(2, 25)
    order = np.random.default_rng(5).permutation(lives[0].size)
    one, two = pooled(*lives), pooled(*(column[order] for column in lives))
    assert_allclose(two.log_shape, one.log_shape, atol=1e-3)
    assert_allclose(two.log_life, one.log_life, atol=1e-3)


def test_a_cell_of_its_own_is_left_alone_the_more_it_has_seen():
    """The last cell grows from 10 to 4,000 lives; its fellows keep 20 each."""
    gaps, shares = [], []
    for n in (10, 200, 4_000):
        lives = fleet(4, np.r_[np.full(N_CELLS - 1, 20), n])
        draws = pooled(*lives, n_draws=60)
        cell, entry, age, failed = (column[lives[0] == N_CELLS - 1] for column in lives)
        fit = fit_strata(0 * cell, entry, age, np.where(failed, age, np.inf), 1.0, 1)
        middle = np.median(draws.log_life[:, -1].astype(float)), np.median(draws.log_shape[:, -1])
        gaps.append(np.abs([middle[0] - np.log(fit.characteristic_life[0]),
                            middle[1] - np.log(fit.shape[0])]).max())
        shares.append(draws.own_data_share[-1])
    assert np.all(np.diff(shares) > 0.0)
    assert shares[-1] > 0.98
    assert gaps[-1] < 0.01
    assert gaps[-1] < 0.2 * gaps[0]
