"""Two groups of lives against published tests and one-factor regressions; ids name the source."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from etl.life.curves import exposure_curves
from etl.life.fixed_shape import life_at_shape
from etl.life.likelihood_ratio import Groups, law_tests
from etl.life.log_rank import AT_RISK, EARLY, ROOT_AT_RISK, SURVIVAL, log_rank
from etl.life.strata import arrange_strata
from etl.life.weibull import log_likelihood
from tests.published.lives_data import published

SURVREG = "R package survival, tests/testreg.Rout.save, survreg on six rows"
KLEINBAUM = "Kleinbaum and Klein 2012, Survival Analysis, as quoted by the lifelines test suite"
GEHAN = "Venables and Ripley, MASS, survival chapter, gehan (from memory)"


def lives_of(name, first, second):
    """Return lives of two groups, numbered 0 and 1, as columns."""
    lives = published(name)
    lives = lives.only(np.isin(lives.group, (first, second)))
    return (lives.group == second).astype(int), lives.entry, lives.low, lives.high, lives.count


@pytest.mark.parametrize(("name", "groups", "chi_square", "tolerance"), [
    pytest.param("aml", ("maintained", "nonmaintained"), 3.4, 0.05,
                 id="R package survival, tests/difftest.Rout.save, aml"),
    pytest.param("aml", ("maintained", "nonmaintained"), 3.396388699, 1e-9,
                 id="computed here on aml"),
    pytest.param("two_small_groups", ("no censoring 0", "no censoring 1"), 0.254237, 1e-6,
                 id="R survdiff, as quoted by the lifelines test suite, no censoring"),
    pytest.param("two_small_groups", ("censored 0", "censored 1"), 0.384615, 1e-6,
                 id="R survdiff, as quoted by the lifelines test suite, censored"),
])
def test_log_rank(name, groups, chi_square, tolerance):
    found = log_rank(*lives_of(name, *groups), 0, 1)
    assert found.chi_square[0] == pytest.approx(chi_square, abs=tolerance)


@pytest.mark.parametrize(("weight", "chi_square"), [
    pytest.param(AT_RISK, 13.457852, id=f"{KLEINBAUM}, Wilcoxon"),
    pytest.param(ROOT_AT_RISK, 15.123575, id=f"{KLEINBAUM}, Tarone-Ware"),
    pytest.param(SURVIVAL, 14.084139, id=f"{KLEINBAUM}, Peto"),
    pytest.param(EARLY, 14.457151, id="computed here, weight of survival to just before"),
])
def test_weighted_log_rank(weight, chi_square):
    found = log_rank(*lives_of("remission_6mp", "placebo", "6-MP"), 0, 1, weight)
    assert found.chi_square[0] == pytest.approx(chi_square, abs=2e-6)


@pytest.mark.parametrize("expected", [
    pytest.param([10.69, 7.31], id="R package survival, tests/difftest.Rout.save, aml")])
def test_expected_failures_of_the_log_rank(expected):
    """A failure with no life of the other group at risk is expected with certainty; we leave it."""
    lives = lives_of("aml", "maintained", "nonmaintained")
    for k, value in enumerate(expected):
        found = log_rank(*lives, k, 1 - k)
        alone = np.sum((lives[0] == k) & np.isfinite(lives[3])) - found.observed[0]
        assert found.expected[0] + alone == pytest.approx(value, abs=0.005)


def with_one_shape(name, first, second):
    """Return log lives at the common shape, the shape, and the tests of two groups."""
    group, entry, low, high, count = lives_of(name, first, second)
    failed = np.where(np.isfinite(high), count, 0.0)
    tests = law_tests(Groups(exposure_curves(group, low, entry, count, 2), np.arange(2),
                             np.bincount(group, failed, 2),
                             np.bincount(group, failed * np.log(low), 2)), 0, 1)
    shape = float(tests.common_shape[0])
    return np.log(lives_at(name, first, second, shape)), shape, tests


def lives_at(name, first, second, shape):
    return life_at_shape(arrange_strata(*lives_of(name, first, second), 2), shape).estimate


def likelihood(name, first, second, shape, lives):
    group, *columns = lives_of(name, first, second)
    return sum(log_likelihood(shape, lives[k], *(column[group == k] for column in columns))
               for k in (0, 1))


@pytest.mark.parametrize(("name", "groups", "intercept", "effect", "log_scale", "tolerance"), [
    pytest.param("six_rows", ("0", "1"), 2.2373335, -0.7442249, np.log(0.4563163), 1e-6,
                 id=f"{SURVREG}, Weibull"),
    pytest.param("remission_6mp", ("placebo", "6-MP"), 2.248, 1.267, -0.312, 1e-3, id=GEHAN),
])
def test_one_shape_and_two_lives(name, groups, intercept, effect, log_scale, tolerance):
    life, shape, _ = with_one_shape(name, *groups)
    assert_allclose([life[0], life[1] - life[0], -np.log(shape)], [intercept, effect, log_scale],
                    atol=tolerance)


@pytest.mark.parametrize(("statistic", "p_value"), [
    pytest.param(2.22, 0.136, id=f"{SURVREG}, Weibull, test of the factor")])
def test_factor_under_a_common_shape(statistic, p_value):
    tests = with_one_shape("six_rows", "0", "1")[2]
    assert tests.life.statistic[0] == pytest.approx(statistic, abs=0.005)
    assert tests.life.p_value[0] == pytest.approx(p_value, abs=6e-4)


@pytest.mark.parametrize(("name", "groups", "value", "tolerance"), [
    pytest.param("six_rows", ("0", "1"), -10.3, 0.05, id=f"{SURVREG}, log likelihood"),
    pytest.param("remission_6mp", ("placebo", "6-MP"), -106.57949, 1e-4,
                 id=f"{GEHAN}, -106.6; more digits computed here"),
])
def test_log_likelihood_of_one_shape_and_two_lives(name, groups, value, tolerance):
    life, shape, _ = with_one_shape(name, *groups)
    assert likelihood(name, *groups, shape, np.exp(life)) == pytest.approx(value, abs=tolerance)


@pytest.mark.parametrize("value", [
    pytest.param(-11.4, id=f"{SURVREG}, log likelihood without the factor")])
def test_log_likelihood_of_one_law(value):
    life, shape, tests = with_one_shape("six_rows", "0", "1")
    whole = likelihood("six_rows", "0", "1", shape, np.exp(life))
    assert whole - 0.5 * tests.life.statistic[0] == pytest.approx(value, abs=0.05)


@pytest.mark.parametrize(("intercept", "effect", "statistic", "p_value"), [
    pytest.param(2.442347, -1.056053, 1.07, 0.302, id=f"{SURVREG}, exponential")])
def test_exponential_lives(intercept, effect, statistic, p_value):
    life = lives_at("six_rows", "0", "1", 1.0)
    assert_allclose([np.log(life[0]), np.log(life[1] / life[0])], [intercept, effect], atol=1e-6)
    group, *columns = lives_of("six_rows", "0", "1")
    same = life_at_shape(arrange_strata(0 * group, *columns, 1), 1.0).estimate[0]
    gain = 2.0 * (likelihood("six_rows", "0", "1", 1.0, life)
                  - likelihood("six_rows", "0", "1", 1.0, [same, same]))
    assert gain == pytest.approx(statistic, abs=0.005)
    assert stats.chi2.sf(gain, 1) == pytest.approx(p_value, abs=6e-4)
