"""Exposure moved from the middle of an interval to an age within it: as if laid out anew."""

import numpy as np
from numpy.testing import assert_allclose

from etl.life.curves import evaluate, exposure_curves
from etl.life.pooling.data import PoolingData
from etl.life.pooling.exposure import IntervalExposure

N_CELLS = 4


def fleet(rng, interval_cell, n_other):
    """Return data with some interval failures, and the lives that its curves were made of."""
    cell = np.concatenate([interval_cell, rng.integers(0, N_CELLS, n_other)])
    low = rng.uniform(1.0, 900.0, cell.size)
    high = low + rng.uniform(1.0, 300.0, cell.size)
    entry = np.where(rng.random(cell.size) < 0.3, 0.9 * low, 0.0)
    n = interval_cell.size
    age = np.concatenate([(0.5 * (low + high))[:n], low[n:]])
    stratum = np.arange(N_CELLS)
    none = np.zeros(N_CELLS)
    data = PoolingData(
        exposure_curves(cell, age, entry, np.ones(cell.size), N_CELLS), stratum,
        (stratum, stratum, stratum), none, none, np.zeros(0, int), np.zeros(0), interval_cell,
        np.full(n, -1), low[:n], high[:n])
    return data, cell, age, entry


def expect_the_same(data, cell, age, entry, drawn):
    age = np.concatenate([drawn, age[drawn.size:]])
    curves = exposure_curves(cell, age, entry, np.ones(cell.size), N_CELLS)
    reader = IntervalExposure(data).reader(np.log(drawn))
    for u in np.linspace(-3.0, 4.5, 60):
        at = np.full(N_CELLS, u)
        value, slope, _ = evaluate(curves, np.arange(N_CELLS), at)
        # centres differ where the drawn age is the oldest: compare at one life
        shift = np.exp(u) * (curves.centre - data.curves.centre)
        found, found_slope = reader.read(at)
        kept = np.isfinite(value)
        assert_allclose(found[kept], (value + shift)[kept], atol=1e-5 * np.exp(max(u, 0.0)))
        assert_allclose(found_slope[kept], (slope + shift)[kept], atol=1e-4 * np.exp(max(u, 0.0)))


def test_curves_follow_the_ages_that_are_drawn():
    rng = np.random.default_rng(3)
    data, *lives = fleet(rng, np.array([2, 0, 0, 2, 0]), 60)
    for share in (0.0, 0.3, 1.0):
        drawn = data.interval_low + share * (data.interval_high - data.interval_low)
        expect_the_same(data, *lives, drawn)


def test_a_cell_with_nothing_but_intervals_keeps_no_trace_of_their_middles():
    rng = np.random.default_rng(4)
    data, *lives = fleet(rng, np.array([1, 1, 3]), 0)
    expect_the_same(data, *lives, data.interval_low * 1.0001)
    expect_the_same(data, *lives, data.interval_high)


def test_cells_without_intervals_are_read_as_before():
    rng = np.random.default_rng(5)
    data, *_ = fleet(rng, np.array([1]), 40)
    reader = IntervalExposure(data).reader(np.log(data.interval_high))
    at = np.full(N_CELLS, 0.7)
    moved, before = reader.read(at)[0], data.reader.read(at)[0]
    assert moved[1] > before[1]
    assert np.array_equal(np.delete(moved, 1), np.delete(before, 1))
