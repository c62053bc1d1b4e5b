"""Exposure curves against plain sums, and fits read from them against exact fits."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize

from etl.errors import FitError
from etl.life.curves import evaluate, exposure_curves, merge
from etl.life.fit import fit_strata
from tests.life.strata_maker import make_lives


def curves_of(lives, n_cells=None, cell=None):
    stratum, entry, low, _, count, n = lives
    return exposure_curves(stratum if cell is None else cell, low, entry, count, n_cells or n)


def plain(lives, k, u, centre):
    """Log S0 with both derivatives in log shape, by plain sums."""
    stratum, entry, low, _, count, _ = lives
    rows = (stratum == k) & (low > entry)
    late = rows & (entry > 0)
    b = np.exp(u)
    y, w = np.log(low[rows]) - centre, count[rows]
    ye, we = np.log(entry[late]) - centre, count[late]
    s = [(w * y**p * np.exp(b * y)).sum() - (we * ye**p * np.exp(b * ye)).sum() for p in range(3)]
    q = s[1] / s[0]
    return np.log(s[0]), b * q, b * q + b * b * (s[2] / s[0] - q * q)


@pytest.mark.parametrize("late", [0.0, 0.4], ids=["from new", "some late"])
def test_evaluate_matches_plain_sums(late):
    lives = make_lives(21, 8, 100, late=late)
    curves = curves_of(lives)
    for k in range(8):
        for u in np.log([0.2, 0.71, 1.0, 1.9, 3.3, 6.0, 11.0]):
            value, slope, curvature = evaluate(curves, k, u)
            expected = plain(lives, k, u, curves.centre[k])
            assert value == pytest.approx(expected[0], abs=5e-9)
            assert slope == pytest.approx(expected[1], abs=1e-7)
            assert curvature == pytest.approx(expected[2], abs=1e-5)


@pytest.mark.parametrize("late", [0.0, 0.3])
def test_shape_read_from_the_curve_is_the_exact_one(late):
    lives = make_lives(22, 60, 100, late=late)
    fit, curves = fit_strata(*lives), curves_of(lives)
    stratum, _, low, high, _, _ = lives
    for k in range(60):
        failed = (stratum == k) & np.isfinite(high)
        mean = np.log(low[failed]).mean() - curves.centre[k]

        def score(u, k=k, mean=mean):
            return 1.0 + np.exp(u) * mean - evaluate(curves, k, u)[1]

        middle = np.log(fit.shape[k])
        found = optimize.brentq(score, middle - 0.3, middle + 0.3, xtol=1e-13)
        assert found == pytest.approx(middle, abs=2e-8)


def test_merged_cells_are_the_cell_of_all_lives():
    lives = make_lives(23, 40, 30, late=0.3)
    stratum = lives[0]
    group = np.arange(40) % 7
    group[5] = -1
    merged = merge(curves_of(lives), group, 8)
    keep = group[stratum] >= 0
    pooled = exposure_curves(group[stratum][keep], lives[2][keep], lives[1][keep], lives[4][keep],
                             8)
    for name in ("s0", "s1", "s2", "centre"):
        assert_allclose(getattr(merged, name), getattr(pooled, name), rtol=1e-11)
    assert merged.is_empty.tolist() == [False] * 7 + [True]


def test_counts_are_repeated_rows():
    one = exposure_curves([0, 0], [5.0, 9.0], [0.0, 2.0], [3, 2], 1)
    other = exposure_curves([0] * 5, [5.0] * 3 + [9.0] * 2, [0.0] * 3 + [2.0] * 2, [1] * 5, 1)
    assert_allclose(one.s2, other.s2, rtol=1e-13)


def test_rows_without_exposure_add_nothing_and_an_empty_cell_is_quiet():
    curves = exposure_curves([0, 0, 1], [4.0, 0.0, 3.0], [0.0, 0.0, 3.0], [1, 1, 1], 3)
    assert curves.is_empty.tolist() == [False, True, True]
    value, slope, curvature = evaluate(curves, [0, 1, 2], 0.5)
    assert value.tolist() == [0.0, -np.inf, -np.inf]
    assert slope[1:].tolist() == curvature[1:].tolist() == [0.0, 0.0]


def test_beyond_the_ladder_the_curve_goes_on_smoothly():
    curves = curves_of(make_lives(24, 1, 50))
    for edge in (curves.log_shape_nodes[0], curves.log_shape_nodes[-1]):
        inside, outside = evaluate(curves, 0, edge - 1e-9), evaluate(curves, 0, edge + 1e-9)
        assert_allclose(inside[:2], outside[:2], rtol=1e-6)
    far = evaluate(curves, 0, [-20.0, 20.0])
    assert np.isfinite(far).all()


def test_a_life_longer_than_the_greatest_power_does_not_overflow():
    curves = exposure_curves([0, 0], [1e-3, 1e7], [0.0, 0.0], [1, 1], 1)
    assert np.isfinite(curves.s2).all()
    assert evaluate(curves, 0, np.log(30.0))[0] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("cell", "age", "entry", "count", "message"), [
    ([0], [-1.0], [0.0], [1.0], "age must be >= 0 and finite, got -1.0 at index 0"),
    ([0], [1.0], [np.nan], [1.0], "entry must be >= 0"),
    ([0], [1.0], [0.0, 0.0], [1.0], "entry must have one value a row"),
    ([3], [1.0], [0.0], [1.0], "group numbers must lie in 0 to 1"),
])
def test_impossible_rows_are_named(cell, age, entry, count, message):
    with pytest.raises(FitError, match=message):
        exposure_curves(cell, age, entry, count, 2)


def test_merge_wants_a_group_for_each_cell():
    with pytest.raises(FitError, match="one group a cell is wanted"):
        merge(exposure_curves([0], [1.0], [0.0], [1.0], 2), [0], 1)
