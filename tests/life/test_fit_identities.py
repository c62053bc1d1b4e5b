"""What must not change, and what must change in step."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from etl.life.bounds import likelihood_ratio_bounds, normal_bounds
from etl.life.fit import fit_arranged, fit_strata
from etl.life.strata import arrange_strata
from tests.life.strata_maker import make_lives

KINDS = [pytest.param(0.0, 0.0, id="suspended"), pytest.param(0.3, 0.0, id="late"),
         pytest.param(0.3, 0.4, id="late and interval")]


@pytest.mark.parametrize(("late", "interval"), KINDS)
@pytest.mark.parametrize("factor", [24.0, 1 / 365.25, 1e-6, 1e7])
def test_unit_scales_the_life_alone(late, interval, factor):
    stratum, entry, low, high, count, n = make_lives(1, 40, 25, late, interval)
    one = fit_strata(stratum, entry, low, high, count, n)
    other = fit_strata(stratum, entry * factor, low * factor, high * factor, count, n)
    assert one.status == other.status
    ok = one.has_estimate
    assert_allclose(other.shape[ok], one.shape[ok], rtol=1e-9)
    assert_allclose(other.characteristic_life[ok], one.characteristic_life[ok] * factor, rtol=1e-9)
    shift = one.n_failures[ok] * np.log(factor)
    assert_allclose(other.log_likelihood[ok], one.log_likelihood[ok] - shift, rtol=1e-9)


@pytest.mark.parametrize(("late", "interval"), KINDS)
def test_order_of_rows_and_names_of_strata_do_not_matter(late, interval):
    stratum, entry, low, high, count, n = make_lives(2, 30, 25, late, interval)
    order = np.random.default_rng(5).permutation(stratum.size)
    name = np.random.default_rng(6).permutation(n)
    one = fit_strata(stratum, entry, low, high, count, n)
    other = fit_strata(name[stratum[order]], entry[order], low[order], high[order], count[order], n)
    assert_allclose(other.shape[name], one.shape, rtol=1e-9)
    assert_allclose(other.characteristic_life[name], one.characteristic_life, rtol=1e-9)


@pytest.mark.parametrize(("late", "interval"), KINDS)
def test_a_count_is_that_many_rows(late, interval):
    stratum, entry, low, high, _, n = make_lives(3, 20, 20, late, interval)
    times = np.random.default_rng(7).integers(1, 5, stratum.size)
    one = fit_strata(stratum, entry, low, high, times, n)
    rows = np.repeat(np.arange(stratum.size), times)
    other = fit_strata(stratum[rows], entry[rows], low[rows], high[rows], 1.0, n)
    assert_allclose(one.shape, other.shape, rtol=1e-9)
    assert_allclose(one.log_likelihood, other.log_likelihood, rtol=1e-9)
    assert_allclose(one.n_suspensions, other.n_suspensions)


def test_a_stratum_in_company_is_as_it_is_alone():
    lives = make_lives(4, 25, 30, 0.2, 0.3)
    fit = fit_strata(*lives)
    stratum, *columns, _ = lives
    for k in (0, 7, 24):
        rows = stratum == k
        alone = fit_strata(np.zeros(rows.sum(), int), *(column[rows] for column in columns), 1)
        assert_allclose(alone.shape, fit.shape[k], rtol=1e-9)


def test_a_large_stratum_takes_the_same_path():
    stratum, entry, low, high, count, _ = make_lives(5, 1, 150_000, shapes=(2.0, 2.1))
    fit = fit_strata(stratum, entry, low, high, count, 1)
    failed = np.isfinite(high)
    x = np.log(low)
    b = fit.shape[0]
    power = np.exp(b * (x - x.max()))
    assert 1.0 / b + x[failed].mean() == pytest.approx((x * power).sum() / power.sum(), rel=1e-9)


@pytest.mark.parametrize(("late", "interval"), KINDS)
def test_bounds_enclose_the_estimate_and_widen_with_confidence(late, interval):
    strata = arrange_strata(*make_lives(6, 30, 25, late, interval))
    fit = fit_arranged(strata)
    for method in (lambda c: likelihood_ratio_bounds(strata, fit, c),
                   lambda c: normal_bounds(fit, c)):
        inner = None
        for confidence in (0.5, 0.8, 0.9, 0.99):
            outer = method(confidence)
            assert np.all(outer.shape.lower < fit.shape)
            assert np.all(fit.characteristic_life < outer.characteristic_life.upper)
            if inner is not None:
                for figure in ("shape", "characteristic_life", "b_life"):
                    assert np.all(getattr(outer, figure).lower < getattr(inner, figure).lower)
                    assert np.all(getattr(outer, figure).upper > getattr(inner, figure).upper)
            inner = outer


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(st.floats(1e-3, 1e6), st.floats(0.0, 1.0), st.sampled_from("fsi"),
                       st.integers(1, 3)), min_size=1, max_size=12),
)
def test_any_lives_end_in_a_stated_outcome(rows):
    age = np.array([row[0] for row in rows])
    entry = np.array([row[0] * row[1] if row[1] > 0.6 and row[1] < 1.0 else 0.0 for row in rows])
    kind = np.array([row[2] for row in rows])
    high = np.where(kind == "s", np.inf, np.where(kind == "i", age * 1.3, age))
    strata = arrange_strata(np.zeros(age.size, int), entry, age, high,
                            np.array([float(row[3]) for row in rows]), 1)
    fit = fit_arranged(strata)
    assert fit.has_estimate[0] == np.isfinite(fit.shape[0]) == np.isfinite(fit.log_likelihood[0])
    if fit.has_estimate[0]:
        assert abs(fit.score[0]) < 1e-6
        bounds = likelihood_ratio_bounds(strata, fit)
        assert not np.isnan(bounds.b_life.lower[0, 0])
        assert bounds.shape.lower[0] <= fit.shape[0] <= bounds.shape.upper[0]
