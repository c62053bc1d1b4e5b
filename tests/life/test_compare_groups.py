"""Two groups of lives: published log-rank values, other libraries, identities, coverage."""

import numpy as np
import pytest
from lifelines.statistics import logrank_test
from numpy.testing import assert_allclose
from scipy import optimize, stats

from etl.errors import FitError
from etl.life.compare_groups import life_ratio, shape_ratio
from etl.life.curves import exposure_curves
from etl.life.likelihood_ratio import Groups, law_tests
from etl.life.log_rank import (
    AT_RISK,
    EARLY,
    LATE,
    ROOT_AT_RISK,
    SURVIVAL,
    log_rank,
    log_ranks,
    stated_age,
)
from etl.life.weibull import log_likelihood
from tests.life.strata_maker import make_lives
from tests.published.lives_data import published


def two_groups(name):
    """Return group 0/1, entry, low, high, count of a published data set."""
    lives = published(name)
    group = (lives.group == sorted(set(lives.group))[0]).astype(int)
    return group, lives.entry, lives.low, lives.high, lives.count


@pytest.mark.parametrize(("name", "chi_square", "tolerance"), [
    pytest.param("remission_6mp", 16.8, 0.05,
                 id="ETH Zurich seminar slides, as quoted by the lifelines test suite"),
    pytest.param("remission_6mp", 16.792941, 1e-6, id="computed here, lifelines and SciPy agree"),
    pytest.param("bland_altman", 7.49659416854, 1e-10,
                 id="R survdiff on Bland and Altman 2004, as quoted by the SciPy test suite"),
])
def test_log_rank_matches_published(name, chi_square, tolerance):
    found = log_rank(*two_groups(name), 0, 1)
    assert_allclose(found.chi_square, [chi_square], atol=tolerance)


def test_log_rank_p_value_bland_altman_by_r_survdiff():
    found = log_rank(*two_groups("bland_altman"), 0, 1)
    assert_allclose(found.p_value, [0.006181578637], rtol=1e-9)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of pandas, inside lifelines
@pytest.mark.parametrize("seed", range(5))
def test_log_rank_agrees_with_scipy_and_lifelines_on_tied_censored_lives(seed):
    group, _, low, high, _, _ = make_lives(seed, 2, 60)
    low = np.ceil(low / 200.0)
    failed = np.isfinite(high)
    found = log_rank(group, 0.0, low, np.where(failed, low, np.inf), 1.0, 0, 1)
    sides = [stats.CensoredData(low[(group == k) & failed], right=low[(group == k) & ~failed])
             for k in (0, 1)]
    other = stats.logrank(*sides)
    assert_allclose([found.statistic[0], found.p_value[0]], [other.statistic, other.pvalue])
    third = logrank_test(low[group == 0], low[group == 1], failed[group == 0], failed[group == 1])
    assert_allclose(found.chi_square, [third.test_statistic])


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of pandas, inside lifelines
@pytest.mark.parametrize(("weight", "theirs"), [
    (AT_RISK, {"weightings": "wilcoxon"}), (ROOT_AT_RISK, {"weightings": "tarone-ware"}),
    (SURVIVAL, {"weightings": "peto"}),
    (EARLY, {"weightings": "fleming-harrington", "p": 1, "q": 0}),
    (LATE, {"weightings": "fleming-harrington", "q": 1, "p": 0})])
def test_weighted_log_rank_agrees_with_lifelines_on_tied_censored_lives(weight, theirs):
    group, _, low, high, _, _ = make_lives(7, 2, 80)
    low = np.ceil(low / 200.0)
    failed = np.isfinite(high)
    found = log_rank(group, 0.0, low, np.where(failed, low, np.inf), 1.0, 0, 1, weight)
    other = logrank_test(low[group == 0], low[group == 1], failed[group == 0], failed[group == 1],
                         **theirs)
    assert_allclose(found.chi_square, [other.test_statistic])


def test_weights_find_the_difference_where_it_lies():
    """Both alike to age 500; from then on one group hardly fails."""
    rng = np.random.default_rng(8)
    plain, late = rng.exponential(600.0, (2, 400))
    late = np.where(late > 500.0, 500.0 + 4.0 * (late - 500.0), late)
    age = np.minimum(np.r_[plain, late], 2500.0)
    high = np.where(age < 2500.0, age, np.inf)
    one, two = log_ranks(np.repeat([0, 1], 400), 0.0, age, high, 1.0, 0, 1, (EARLY, LATE))
    assert two.statistic[0] > one.statistic[0] + 3.0


def slow_log_rank(entry, age, failed, is_first):
    """Return the signed statistic from the definition, life by life."""
    gap = variance = 0.0
    for t in sorted(set(age[failed])):
        at_risk = (entry < t) & (t <= age)
        n, n1 = at_risk.sum(), (at_risk & is_first).sum()
        died = failed & (age == t)
        d, d1 = died.sum(), (died & is_first).sum()
        gap += d1 - d * n1 / n
        if n > 1:
            variance += d * (n1 / n) * (1 - n1 / n) * (n - d) / (n - 1)
    return gap / np.sqrt(variance)


@pytest.mark.parametrize("seed", range(4))
def test_log_rank_with_late_entries_agrees_with_the_definition(seed):
    group, entry, low, high, _, _ = make_lives(seed, 2, 50, late=0.5)
    entry, low = np.floor(entry / 100.0), np.ceil(low / 100.0)
    failed = np.isfinite(high)
    found = log_rank(group, entry, low, np.where(failed, low, np.inf), 1.0, 0, 1)
    assert_allclose(found.statistic, [slow_log_rank(entry, low, failed, group == 0)])
    late_as_new = log_rank(group, 0.0, low, np.where(failed, low, np.inf), 1.0, 0, 1)
    assert abs(late_as_new.statistic[0] - found.statistic[0]) > 1e-3


def test_counts_stand_for_lives_and_a_found_failure_for_the_middle_of_its_interval():
    group, _, low, high, _, _ = make_lives(3, 2, 30, interval=0.5)
    twice = log_rank(np.tile(group, 2), 0.0, np.tile(low, 2), np.tile(high, 2), 1.0, 0, 1)
    assert_allclose(log_rank(group, 0.0, low, high, 2.0, 0, 1).statistic, twice.statistic)
    middle, failed = stated_age(low, high), np.isfinite(high)
    assert np.any(failed & (middle > low) & (middle < high))
    exact = log_rank(group, 0.0, middle, np.where(failed, middle, np.inf), 1.0, 0, 1)
    assert_allclose(log_rank(group, 0.0, low, high, 1.0, 0, 1).statistic, exact.statistic)


def test_many_pairs_at_once_are_the_pairs_one_by_one():
    lives = make_lives(11, 5, 40, late=0.3)[:5]
    one, two = np.triu_indices(5, 1)
    together = log_rank(*lives, one, two)
    for k, (a, b) in enumerate(zip(one, two, strict=True)):
        mine = np.isin(lives[0], (a, b))
        alone = log_rank(*(column[mine] for column in lives), a, b)
        assert_allclose(together.statistic[k], alone.statistic[0])
    assert_allclose(log_rank(*lives, two, one).statistic, -together.statistic)


def test_groups_never_at_risk_together_have_no_test():
    found = log_rank([0, 1], [0.0, 50.0], [10.0, 60.0], [10.0, 60.0], 1.0, 0, 1)
    assert np.isnan(found.statistic[0])
    assert np.isnan(log_rank([0, 1], 0.0, [5.0, 9.0], [np.inf, np.inf], 1.0, 0, 1).p_value[0])


def test_log_rank_keeps_its_level_when_both_groups_are_alike():
    rng = np.random.default_rng(5)
    p_values = []
    for _ in range(500):
        age, stop = rng.weibull(2.0, 60), rng.uniform(0.3, 1.5, 60)
        high = np.where(age <= stop, age, np.inf)
        p_values.append(log_rank(np.arange(60) % 2, 0.0, np.minimum(age, stop), high, 1.0,
                                 0, 1).p_value[0])
    assert 0.06 < np.mean(np.array(p_values) < 0.10) < 0.14


def test_columns_of_unlike_length_are_refused():
    with pytest.raises(FitError, match="one group from 0 up"):
        log_rank([0, 1, 1], 0.0, [5.0, 9.0], [5.0, 9.0], 1.0, 0, 1)
    with pytest.raises(FitError, match="same draws"):
        life_ratio(np.zeros((3, 2)), np.zeros((3, 1)))


def arranged(group, entry, low, high, count, n):
    age, failed = stated_age(low, high), np.isfinite(high)
    weight = np.where(failed, count, 0.0)
    return Groups(exposure_curves(group, age, entry, count, n), np.arange(n),
                  np.bincount(group, weight, n), np.bincount(group, weight * np.log(age), n))


def direct_tests(group, entry, low, high, count):
    """Return the three statistics by a general optimiser on the likelihood written out."""
    age, failed = stated_age(low, high), np.isfinite(high)
    ends = np.where(failed, age, np.inf)

    def best(laws):
        def loss(x):
            total = 0.0
            for k, (shape, life) in enumerate(laws):
                mine = group == k
                total -= log_likelihood(np.exp(x[shape]), np.exp(x[life]), entry[mine], age[mine],
                                        ends[mine], count[mine])
            return total

        n = 1 + max(max(law) for law in laws)
        start = np.where(np.isin(np.arange(n), [law[0] for law in laws]), 0.5, np.log(age.mean()))
        options = {"xatol": 1e-10, "fatol": 1e-12, "maxiter": 9000, "maxfev": 9000}
        first = optimize.minimize(loss, start, method="Nelder-Mead", options=options)
        return -optimize.minimize(loss, first.x, method="Nelder-Mead", options=options).fun

    one_law, one_shape, own = (best(laws) for laws in (
        ((0, 1), (0, 1)), ((0, 1), (0, 2)), ((0, 1), (2, 3))))
    return 2 * (own - one_law), 2 * (one_shape - one_law), 2 * (own - one_shape)


@pytest.mark.parametrize("lives", [
    pytest.param(two_groups("remission_6mp"), id="remission"),
    pytest.param(two_groups("bland_altman"), id="two groups of patients"),
    pytest.param(make_lives(7, 2, 40, late=0.4)[:5], id="late entries"),
    pytest.param(make_lives(9, 2, 25, interval=0.5)[:5], id="found failed"),
])
def test_likelihood_ratios_agree_with_a_general_optimiser(lives):
    found = law_tests(arranged(*lives, 2), 0, 1)
    got = [part.statistic[0] for part in (found.law, found.life, found.shape)]
    assert_allclose(got, direct_tests(*lives), atol=2e-6)
    assert_allclose(found.law.p_value, stats.chi2.sf(got[0], 2))
    assert_allclose(got[0], got[1] + got[2], atol=1e-9)


def test_common_shape_of_remission_matches_venables_and_ripley_from_memory():
    """MASS, survival chapter, Weibull regression of the gehan data: log sigma -0.312."""
    found = law_tests(arranged(*two_groups("remission_6mp"), 2), 0, 1)
    assert_allclose(-np.log(found.common_shape), [-0.312], atol=5e-4)


def test_a_group_without_failures_has_no_shape_to_compare_but_a_life():
    group = np.repeat([0, 1], 20)
    low = np.concatenate([np.full(20, 50.0), np.arange(1.0, 21.0)])
    high = np.where(group == 0, np.inf, low)
    found = law_tests(arranged(group, np.zeros(40), low, high, np.ones(40), 2), [0, 1], [1, 0])
    assert np.isnan(found.shape.p_value).all()
    assert np.isnan(found.law.p_value).all()
    assert (found.life.p_value < 1e-6).all()


def test_a_group_whose_shape_has_no_end_is_not_tested_for_it():
    group, low = np.array([0, 0, 1, 1, 1]), np.array([9.0, 9.0, 2.0, 4.0, 5.0])
    found = law_tests(arranged(group, np.zeros(5), low, low, np.ones(5), 2), 0, 1)
    assert np.isnan(found.shape.p_value[0])
    assert np.isfinite(found.life.p_value[0])


def test_no_failure_at_all_is_no_test():
    inf = np.full(2, np.inf)
    found = law_tests(arranged(np.array([0, 1]), np.zeros(2), np.ones(2), inf, np.ones(2), 2), 0, 1)
    assert np.isnan([found.law.p_value[0], found.life.p_value[0], found.common_shape[0]]).all()


def test_ratio_of_lives_pairs_the_draws():
    rng = np.random.default_rng(2)
    common = rng.normal(0.0, 1.0, (400, 1))
    one = common + rng.normal(0.5, 0.1, (400, 1))
    two = common + rng.normal(0.0, 0.1, (400, 1))
    paired = life_ratio(one, two)
    assert_allclose(paired.middle, np.exp(0.5), rtol=0.03)
    assert_allclose(np.log(paired.upper / paired.lower), 2 * 1.645 * np.hypot(0.1, 0.1), rtol=0.1)
    shuffled = life_ratio(one, two[::-1])
    assert np.log(shuffled.upper / shuffled.lower) > 5 * np.log(paired.upper / paired.lower)


def test_ratio_turns_over_with_the_order_and_never_claims_certainty():
    rng = np.random.default_rng(4)
    one, two = rng.normal(1.0, 0.2, (200, 3)), rng.normal([0.9, -9.0, 9.0], 0.2, (200, 3))
    there, back = life_ratio(one, two), life_ratio(two, one)
    assert_allclose(there.lower * back.upper, 1.0)
    assert_allclose(there.middle * back.middle, 1.0)
    assert_allclose(there.is_longer_probability + back.is_longer_probability, 1.0)
    assert there.is_longer_probability[1] == 200.5 / 201
    assert 0.0 < there.is_longer_probability[2] < 0.01


def test_ratio_without_a_finite_draw_is_none():
    one = np.array([[0.0, np.inf], [1.0, 0.0]])
    found = life_ratio(one, np.zeros((2, 2)))
    assert np.isfinite(found.middle[0])
    assert np.isnan([found.middle[1], found.is_longer_probability[1]]).all()


def test_shape_ratio_holds_the_truth_as_often_as_it_says():
    from etl.life.bounds import likelihood_ratio_bounds
    from etl.life.fit import fit_arranged
    from etl.life.strata import arrange_strata

    rng = np.random.default_rng(6)
    n, shapes = 2 * 600, np.tile([2.0, 1.2], 600)
    stratum = np.repeat(np.arange(n), 12)
    age, stop = rng.weibull(shapes[stratum]), rng.uniform(0.5, 1.5, stratum.size)
    high = np.where(age <= stop, age, np.inf)
    strata = arrange_strata(stratum, 0.0, np.minimum(age, stop), high, 1.0, n)
    fit = fit_arranged(strata)
    bounds = likelihood_ratio_bounds(strata, fit, 0.90).shape
    _, lower, upper = shape_ratio(fit.shape, bounds.lower, bounds.upper,
                                  np.arange(0, n, 2), np.arange(1, n, 2))
    known = np.isfinite(lower)
    held = (lower < 2.0 / 1.2) & (upper > 2.0 / 1.2)
    assert known.sum() > 500
    assert 0.86 < held[known].mean() < 0.94
