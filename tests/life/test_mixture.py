"""Two populations: a search by scipy, what chance does with one, and populations put in."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import optimize, stats

from etl.life.fit import fit_strata
from etl.life.mixture import fit_mixture, gain_p_value
from etl.life.simulate import SeenLives
from etl.life.weibull import log_likelihood_terms


def drawn(seed, n_sets, n_lives, early=0.0, shapes=(1.2, 3.5), scales=(150.0, 2000.0),
          stop=(500.0, 4000.0), interval=0.0):
    """Return sets of lives of two populations, one where ``early`` is 0."""
    rng = np.random.default_rng(seed)
    size = n_sets * n_lives
    first = rng.random(size) < early
    age = np.where(first, scales[0], scales[1]) * rng.exponential(size=size) ** (
        1.0 / np.where(first, shapes[0], shapes[1]))
    end = rng.uniform(*stop, size)
    seen = age <= end
    low = np.where(seen, age, end)
    high = np.where(seen, age, np.inf)
    found = seen & (rng.random(size) < interval)
    low = np.where(found, np.maximum(age - 60.0, 0.0), low)
    high = np.where(found, age + 40.0, high)
    return SeenLives(np.repeat(np.arange(n_sets), n_lives), np.zeros(size), low, high,
                     np.ones(size))


@pytest.mark.parametrize("interval", [0.0, 0.5])
def test_no_search_in_five_parameters_gets_higher(interval):
    lives = drawn(4, 4, 90, 0.3, interval=interval)
    found = fit_mixture(lives, 4, np.ones(4, bool))
    middle = lives.end
    lives = SeenLives(lives.stratum, lives.entry, middle,
                      np.where(lives.is_failed, middle, np.inf), lives.count)
    one = fit_strata(lives.stratum, 0.0, lives.low, lives.high, 1.0, 4)

    def cost(theta, k):
        mine = lives.stratum == k
        a, b = lives.low[mine], lives.high[mine]
        share = 1.0 / (1.0 + np.exp(-theta[0]))
        laws = [(part, stats.weibull_min(np.exp(theta[i]), scale=np.exp(theta[i + 2])))
                for part, i in ((share, 1), (1.0 - share, 2))]
        held = np.isinf(b)
        with np.errstate(all="ignore"):
            value = (np.log(sum(p * law.pdf(a[~held]) for p, law in laws)).sum()
                     + np.log(sum(p * law.sf(a[held]) for p, law in laws)).sum())
        return -value if np.isfinite(value) else 1e9

    for k in range(4):
        share = found.share_early[k]
        theta = np.r_[np.log(share / (1 - share)), np.log(found.shape[k]),
                      np.log(found.characteristic_life[k])]
        top = one.log_likelihood[k] + 0.5 * found.gain[k]
        assert -cost(theta, k) == pytest.approx(top, abs=1e-6)
        near = optimize.minimize(cost, theta, (k,), method="Nelder-Mead",
                                 options={"maxiter": 6000, "xatol": 1e-6, "fatol": 1e-8})
        assert -near.fun <= top + 0.02


def test_two_populations_are_found_with_their_shares():
    lives = drawn(5, 20, 200, 0.25)
    found = fit_mixture(lives, 20, np.ones(20, bool))
    assert np.all(gain_p_value(found.gain) < 0.01)
    assert_allclose(np.median(found.share_early), 0.25, atol=0.04)
    assert_allclose(np.median(found.characteristic_life, axis=0), [150.0, 2000.0], rtol=0.15)
    assert_allclose(np.median(found.shape, axis=0), [1.2, 3.5], rtol=0.2)
    assert np.all(found.characteristic_life[:, 0] < found.characteristic_life[:, 1])


@pytest.mark.parametrize("stop", [(1e9, 2e9), (0.0, 3300.0)])
def test_chance_makes_great_gains_of_one_population_as_seldom_as_said(stop):
    lives = drawn(6, 300, 60, 0.0, (1.0, 2.0), stop=stop)
    gain = fit_mixture(lives, 300, np.ones(300, bool)).gain
    p = gain_p_value(gain[np.isfinite(gain)])
    assert p.size > 280
    for level in (0.05, 0.1, 0.2):
        assert abs(np.mean(p <= level) - level) < 3.5 * np.sqrt(level * (1 - level) / p.size)


def test_few_failures_late_entries_and_strata_not_wanted_have_no_answer():
    lives = drawn(7, 3, 100, 0.3)
    entry = np.where(lives.stratum == 1, 0.5 * lives.low, 0.0)
    few = np.where((lives.stratum == 2) & (np.arange(300) % 100 > 15), np.inf, lives.high)
    lives = SeenLives(lives.stratum, entry, lives.low, few, lives.count)
    found = fit_mixture(lives, 3, np.array([True, True, True]))
    assert np.isnan(found.gain).tolist() == [False, True, True]
    assert found.n_failures[1] == 0.0
    none = fit_mixture(lives, 3, np.array([False, True, True]))
    assert np.isnan(none.gain).all()
    assert np.isnan(gain_p_value(none.gain)).all()


def test_rows_of_several_lives_count_as_that_many():
    lives = drawn(8, 1, 60, 0.3)
    twice = SeenLives(*(np.tile(column, 2) for column in (
        lives.stratum, lives.entry, lives.low, lives.high, lives.count)))
    heavy = SeenLives(lives.stratum, lives.entry, lives.low, lives.high, 2.0 * lives.count)
    one, two = (fit_mixture(part, 1, np.ones(1, bool)) for part in (twice, heavy))
    assert_allclose(one.gain, two.gain, rtol=1e-3)


def test_lives_far_from_a_law_are_impossible_and_not_unknown():
    with np.errstate(all="raise", under="ignore", over="ignore"):
        terms = log_likelihood_terms([800.0, 2.0], [1.0, 1.0], 0.0, [1e3, 1e3], [1e3, 1e3])
    assert terms[0] == -np.inf
    assert terms[1] == pytest.approx(stats.weibull_min.logpdf(1e3, 2.0))  # SciPy
