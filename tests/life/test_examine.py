"""Which law the lives follow, told together; and that fewer rows tell the same."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from etl.life.compare_distributions import corrected_akaike
from etl.life.examine import MOST_FAILURES, examine
from etl.life.fit import fit_strata
from etl.life.gather import gathered, sampled
from etl.life.simulate import SeenLives
from etl.life.streams import Streams
from etl.life.three_parameter import fit_three_parameter
from tests.life.strata_maker import make_lives


def fitted(lives, n):
    return fit_strata(lives.stratum, lives.entry, lives.low, lives.high, lives.count, n)


@pytest.mark.parametrize("late", [0.0, 0.3])
def test_gathered_suspensions_keep_counts_and_nearly_the_fit(late):
    lives = SeenLives(*make_lives(91, 6, 600, late, 0.2)[:5])
    few = gathered(lives, 6, 40)
    assert few.low.size < 0.8 * lives.low.size
    held, whole = ~few.is_failed, ~lives.is_failed & (lives.low > lives.entry)
    assert np.bincount(few.stratum[held]).max() <= 80
    assert_allclose(np.bincount(few.stratum[held], few.count[held], 6),
                    np.bincount(lives.stratum[whole], minlength=6))
    assert np.all(few.low[~few.is_failed] > few.entry[~few.is_failed])
    one, two = fitted(lives, 6), fitted(few, 6)
    assert_allclose(two.shape, one.shape, rtol=5e-3)
    assert_allclose(two.characteristic_life, one.characteristic_life, rtol=1e-2)


def test_suspensions_of_few_rows_stay_as_they_are():
    lives = SeenLives(*make_lives(92, 2, 30)[:5])
    few = gathered(lives, 2, 40)
    order, other = (np.lexsort((part.low, part.stratum)) for part in (lives, few))
    assert_allclose(few.low[other], lives.low[order])
    assert_array_equal(few.high[other], lives.high[order])


def test_great_strata_are_thinned_to_so_many_failures_on_average():
    lives = SeenLives(*make_lives(93, 3, 2000)[:5])
    n_failures = np.bincount(lives.stratum, lives.is_failed, 3)
    some = sampled(lives, n_failures, 100.0, Streams(1, list("abc")))
    left = np.bincount(some.stratum, some.is_failed, 3)
    assert np.all(np.abs(left - 100.0) < 40.0)
    share = np.bincount(some.stratum, some.count) / 2000.0
    assert_allclose(share, 100.0 / n_failures, rtol=0.15)
    whole = sampled(lives, n_failures, 1e9, Streams(1, list("abc")))
    assert whole.low.size == lives.low.size


def test_an_examination_tells_one_law_from_two_and_from_a_later_start():
    rng = np.random.default_rng(94)
    n = 120
    plain = 1000.0 * rng.weibull(2.0, n)
    later = 800.0 + 300.0 * rng.weibull(1.3, n)
    two = np.where(rng.random(n) < 0.3, 40.0 * rng.weibull(1.0, n), 1500.0 * rng.weibull(4.0, n))
    few = 1000.0 * rng.weibull(2.0, n)
    ages = np.concatenate([plain, later, two, few])
    stratum = np.repeat(np.arange(4), n)
    high = np.where((stratum == 3) & (np.arange(4 * n) % n > 5), np.inf, ages)
    lives = SeenLives(stratum, np.zeros(4 * n), ages, high, np.ones(4 * n))
    fit = fitted(lives, 4)
    found = examine(lives, fit, 7, list("abcd"))
    poor = found.goodness.anderson_darling_p
    assert poor[0] > 0.1
    assert max(poor[1], poor[2]) <= 0.05
    assert np.isnan(poor[3])
    assert found.three.outcome[1] == "estimate"
    assert found.three.location[1] == pytest.approx(800.0, abs=15.0)
    weibull = corrected_akaike(fit.log_likelihood, 2, np.full(4, float(n)))
    assert found.aicc_three_parameter[1] < weibull[1] - 10.0
    assert found.mixture_p[2] < 0.001
    assert found.mixture.share_early[2] == pytest.approx(0.3, abs=0.1)
    assert not found.mixture_p[0] <= 0.05
    assert np.isnan(found.mixture_p[3])
    again = examine(lives, fit, 7, list("abcd"))
    assert_array_equal(again.goodness.anderson_darling_p, poor)


def test_thousands_of_failures_are_judged_by_some_and_located_by_all():
    rng = np.random.default_rng(95)
    ages = 300.0 + 900.0 * rng.weibull(1.6, 3000)
    lives = SeenLives(np.zeros(3000, int), np.zeros(3000), ages, ages, np.ones(3000))
    fit = fitted(lives, 1)
    found = examine(lives, fit, 1, ["a"])
    alone = fit_three_parameter(lives, fit)
    assert_allclose(found.three.location, alone.location)
    # the distance grows with the number of lives: so many times smaller by the draw
    assert found.goodness.departure.anderson_darling[0] < 6.0 * MOST_FAILURES / 100
