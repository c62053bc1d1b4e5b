"""The quick reader of exposure says what the curves say."""

import numpy as np
from numpy.testing import assert_allclose

from etl.life.curves import evaluate, exposure_curves
from etl.life.pooling.reader import NOTHING, CurveReader


def test_reader_agrees_with_the_curves_inside_and_beyond_the_ladder():
    rng = np.random.default_rng(1)
    n_cells, n = 30, 2000
    age = 900.0 * rng.weibull(1.5, n)
    entry = np.where(rng.random(n) < 0.3, age * rng.random(n), 0.0)
    curves = exposure_curves(rng.integers(0, n_cells, n), age, entry, np.ones(n), n_cells)
    cell = np.repeat(np.arange(n_cells), 40)
    u = rng.uniform(-3.5, 5.0, cell.size)
    value, slope, _ = evaluate(curves, cell, u)
    found, found_slope = CurveReader(curves, cell).read(u)
    assert_allclose(found, value, atol=3e-7)
    assert_allclose(found_slope, slope, atol=3e-5)


def test_a_cell_without_exposure_has_no_hazard():
    curves = exposure_curves([0], [5.0], [0.0], [1.0], 2)
    value, slope = CurveReader(curves, np.array([1, 1])).read(np.array([0.5, 9.0]))
    assert_allclose(value, NOTHING)
    assert_allclose(slope, 0.0, atol=1e-3)
    assert not np.exp(value).any()
